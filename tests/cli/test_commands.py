"""The command line says what the acts did, refuses in one line with exit code 1, and shows no traceback."""

from __future__ import annotations

import json
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from invdb.acts.catalogue import NewKitLine, add_kit_line
from invdb.acts.change import seen_of
from invdb.acts.numbers import Thing
from invdb.acts.things import things_by_id
from tests.cli.conftest import Run
from tests.shop import Shop


def booked(run: Run, *more: str) -> str:
    """The tag of a valve just booked in."""
    code, out, err = run("--json", "receive", "PW 1187", "--origin", "new", *more)
    assert code == 0, err
    return str(json.loads(out)["things"][0][1])


CHECKED = ("--right-part", "yes", "--papers-match", "yes", "--damage", "none", "--hazards", "sealed")


def test_from_goods_in_to_the_kit_handed_over_and_back(run: Run, tmp_path: Path) -> None:
    tag = booked(run, "--serial", "W 31", "--paper", "release certificate:RC 77", "--hours", "120.5")
    assert run("accept", tag, "--scope", "flight", "--bin", "B-01-01", *CHECKED)[0] == 0
    code, out, _ = run("pull", "Linnet One", "cylinder 5")
    assert code == 0
    assert tag in out and "SHORT 2 off" in out and "not a release to service" in out
    pdf, book = tmp_path / "pick list.pdf", tmp_path / "pick list.xlsx"
    code, out, err = run("--json", "pull", "L1007", "5", "--reserve", "--pdf", str(pdf), "--xlsx", str(book))
    assert code == 0, err
    number = json.loads(out)["pulls"][0]["number"]
    assert pdf.read_bytes().startswith(b"%PDF") and book.read_bytes().startswith(b"PK")
    assert run("issue", number, "--tag", tag)[0] == 0
    code, _, err = run("cancel", number, "--reason", "wrong cylinder")
    assert (code, err.count("\n")) == (1, 1)
    assert run("return", number, tag, "--state", "untouched", "--bin", "A-01-01")[0] == 0
    assert run("cancel", number, "--reason", "wrong cylinder")[0] == 0
    code, out, _ = run("trace", tag, "--pdf", str(tmp_path / "t.pdf"), "--xlsx", str(tmp_path / "t.xlsx"))
    assert code == 0
    for word in ("Booked in", "Accepted for flight", "Reserved for pull", "A-01-01"):
        assert word in out
    code, out, _ = run("check")
    assert code == 0 and "last hash" in out


def test_stock_is_split_moved_held_cleared_and_an_entry_reversed(run: Run) -> None:
    code, out, _ = run("--json", "receive", "spring", "--origin", "new", "--quantity", "40")
    assert code == 1, "a name is no number"
    code, out, err = run("--json", "find", "valve spring")
    spring = json.loads(out)["found"][0]["headline"]
    code, out, err = run("--json", "receive", spring, "--origin", "new old stock", "--quantity", "40 off")
    assert code == 0, err
    received = json.loads(out)
    batch = received["things"][0][1]
    code, out, err = run(
        "split", batch, "--bin", "Goods in", "--share", "5:unserviceable", "--share", "3:uninspected::A-01-02"
    )
    assert code == 0, err
    assert run("move", batch, "--to", "A-01-01")[0] == 0
    code, out, _ = run("--json", "hold", batch, "--reason", "odd colour")
    hold = str(json.loads(out)["hold"])
    assert run("clear", hold, "--because", "stain")[0] == 0
    assert run("clear", hold, "--because", "again")[0] == 1
    code, _, err = run("reverse", str(received["entry"]), "--reason", "booked twice")
    assert code == 1 and "stands in the way" in err
    assert run("check")[0] == 0


def test_a_batch_that_serves_two_lines_is_issued_and_comes_back_for_both(run: Run, workshop: Shop) -> None:
    with workshop.store.writing() as session:
        line = NewKitLine(workshop.linnet, "cylinder", 4, "inlet springs", workshop.spring, 3)
        add_kit_line(session, line, workshop.by())
        batch = Thing(batch=workshop.batch(session, 20))
        tag = things_by_id(session, [batch])[batch].tag
    assert run("accept", tag, "--scope", "flight", "--override", "known here", *CHECKED)[0] == 0
    code, out, err = run("--json", "pull", "Linnet One", "5", "--reserve")
    assert code == 0, err
    number = json.loads(out)["pulls"][0]["number"]
    assert run("issue", number, "--tag", tag.lower())[0] == 0
    back = ("return", number, tag, "--state", "untouched", "--bin", "A-01-01")
    code, _, err = run(*back, "--quantity", "6")
    assert code == 1 and "not 4 off" in err
    assert run(*back, "--quantity", "4")[0] == 0
    assert run(*back)[0] == 0
    with workshop.store.reading() as session:
        (where,) = things_by_id(session, [batch])[batch].where
        assert (where.name, where.quantity) == ("A-01-01", 20)
    code, _, err = run(*back)
    assert code == 1 and "is out on pull" in err


def test_check_says_each_difference_in_a_sentence_that_names_the_entry(run: Run, workshop: Shop) -> None:
    with workshop.store.writing() as session:
        entry = seen_of(session, "part", workshop.valve)
    workshop.store.close()
    connection = sqlite3.connect(workshop.store.where)
    connection.execute("UPDATE part SET name = 'Poppet' WHERE house_number LIKE 'VX%'")
    connection.commit()
    connection.close()
    code, out, _ = run("check")
    said = [line for line in out.splitlines() if "Poppet" in line]
    assert code == 1 and len(said) == 1
    assert "Difference(" not in out and said[0].startswith(f"Entry {entry}: ")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("trace", "T00001-X"), "mistyped"),
        (("trace", "blue one"), "shape"),
        (("pull", "Linnet One", "9"), "no position"),
        (("pull", "Linnet Nine", "5"), "The engines are"),
        (("receive", "PW 1187", "--origin", "new", "--quantity", "2.5"), "no fraction"),
        (("receive", "PW 1187", "--origin", "new", "--quantity", "0"), "nothing"),
        (("receive", "PW 1187", "--origin", "new", "--quantity=-3"), "nothing"),
        (("receive", "PW 1187", "--origin", "new", "--quantity", "9999"), "more than one entry takes"),
        (("receive", "PW 1187", "--origin", "new", "--bin", "Z-99"), "no place"),
        (("receive", "PW 1187", "--origin", "new", "--note", "a\x07b"), "control character"),
        (("receive", "PW 1187", "--origin", "new", "--paper", "gossip:1"), "no kind of paper"),
        (("receive", "PW 1187", "--origin", "new", "--paper", "invoice:1:/no/such/file"), "can't be read"),
        (("--on", "2999-01-01", "receive", "PW 1187", "--origin", "new"), "future"),
        (("split", "B00001-Y", "--bin", "Goods in", "--share", "all of it"), "B00001-Y"),
        (("issue", "P00001-Q"), "no pull"),
        (("reverse", "1", "--reason", "x"), "began the store"),
        (("reverse", "99999", "--reason", "x"), "no entry"),
    ],
)
def test_a_refusal_is_one_line_and_exit_code_1(run: Run, words: tuple[str, ...], said: str) -> None:
    code, out, err = run(*words)
    assert (code, out) == (1, "")
    assert said in err and err.count("\n") == 1, err


def test_it_must_be_said_who_acts_when_several_could(run: Run) -> None:
    code, _, err = run("receive", "PW 1187", "--origin", "new", who=None)
    assert code == 1 and "Ada Farrow" in err and "Ben Hollis" in err
    code, _, err = run("receive", "PW 1187", "--origin", "new", who="Nobody")
    assert code == 1 and "Nobody" in err


def test_wrong_usage_is_exit_code_2(run: Run) -> None:
    assert run("recieve")[0] == 2
    assert run("receive", "PW 1187", "--origin", "found in a hedge")[0] == 2
    assert run("pull")[0] == 2


def test_what_is_no_store_of_ours_is_refused(run: Run, tmp_path: Path) -> None:
    text_file = tmp_path / "letter.txt"
    text_file.write_text("Dear sirs")
    other = tmp_path / "other.db"
    sqlite3.connect(other).execute("CREATE TABLE letters (id)").connection.close()
    for where in (
        str(text_file),
        str(other),
        str(tmp_path),
        str(tmp_path / "none"),
        "mysql://x/y",
        "http://x",
    ):
        code, out, err = run("check", where=where)
        assert (code, out, err.count("\n")) == (1, "", 1), err


def test_a_new_store_is_begun_once(run: Run, tmp_path: Path) -> None:
    where = str(tmp_path / "new.invdb")
    begun = ("new", "--name", "Harrowmere", "--person", "Ada Farrow", "--zone", "Europe/London")
    assert run(*begun, where=where, who=None)[0] == 0
    code, _, err = run(*begun, where=where, who=None)
    assert code == 1 and "exists already" in err
    code, _, err = run(
        "new", "--name", "H", "--person", "A", "--zone", "Moon/Tycho", where=where + "2", who=None
    )
    assert code == 1 and "time zone" in err
    assert not Path(where + "2").exists() and list(tmp_path.glob("*.unfinished*")) == []


def test_it_runs_as_a_program_of_its_own(workshop: Shop) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "invdb", "--store", workshop.store.where, "find", "exaust"],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0 and "Exhaust valve" in done.stdout, done.stderr


def test_an_empty_store_is_set_up_from_the_command_line(run: Run, tmp_path: Path) -> None:
    where = str(tmp_path / "new.invdb")
    begun = ("new", "--name", "Harrowmere", "--person", "Ada Farrow", "--licence", "HL 2041")
    assert run(*begun, where=where, who=None)[0] == 0
    for words in (
        ("add", "person", "Ben Hollis"),
        ("add", "firm", "Tarn Grinding Works", "--role", "works", "--town", "Tarn"),
        ("add", "owner", "Dunmere Gliding Club"),
        ("add", "bin", "A-01", "--order", "10"),
        ("add", "family", "vx", "Valves"),
        (
            "add",
            "part",
            "VX",
            "Exhaust valve",
            "--number",
            "PW 1187",
            "--hazard",
            "sodium-filled",
            "--life-limit",
            "600",
        ),
    ):
        code, _, err = run(*words, where=where)
        assert code == 0, err
    code, out, err = run("receive", "PW 1187", "--origin", "new", "--bin", "A-01", where=where)
    assert code == 0 and "sodium-filled" in out, err
    assert run("check", where=where)[0] == 0
    refused: tuple[tuple[tuple[str, ...], str], ...] = (
        (("add", "family", "VX", "Valves again"), "taken"),
        (("add", "family", "V", "Valves"), "two to four"),
        (("add", "bin", "A-01"), "already"),
        (("add", "part", "QQ", "Valve"), "no family QQ"),
        (("add", "part", "VX", "Valve", "--life-limit", "at least 5"), "not one figure"),
        (("add", "part", "VX", "Valve", "--held-as", "batch", "--critical"), "single pieces"),
    )
    for given, said in refused:
        code, out, err = run(*given, where=where)
        assert (code, out) == (1, "") and said in err, err
