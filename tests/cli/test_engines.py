"""The life of an engine from the command line: its log, what goes in and comes out, doubts and papers."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from invdb.acts.by import By
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.pull import issue
from invdb.terms import PaperKind
from tests.cli.conftest import Run
from tests.engine_shop import begin, fitted
from tests.fitted_shop import add_barrel_station, add_mod
from tests.kit_shop import good, reserved, state_of, stock
from tests.shop import TODAY, Shop

SAFETY = "not a release to service"


def said(run: Run, *words: str) -> str:
    """What a command that is done says."""
    code, out, err = run(*words)
    assert code == 0, err
    return out


def refused(run: Run, *words: str) -> str:
    """Why a command is refused, in its one line."""
    code, out, err = run(*words)
    assert (code, out, err.count("\n")) == (1, "", 1), (out, err)
    return err


def fit_valve(shop: Shop, cylinder: str = "1") -> tuple[Thing, str]:
    """A valve fitted in Linnet One, and its tag; the log has begun."""
    with shop.store.writing() as session:
        valve = good(session, shop, shop.valve)
        fitted(session, shop, valve, "exhaust valve", cylinder=cylinder)
    return valve, state_of(shop, valve).tag


def test_a_log_is_begun_kept_asked_about_and_shown(run: Run) -> None:
    assert "run before: at least 300.00 h" in said(
        run, "begin-log", "Linnet One", "--reading", "1000", "--hours", "at least 300"
    )
    assert "Logged 2.50 h of flight and 3 starts of Linnet One to 1002.50 h" in said(
        run, "hours", "L1007", "1002.5", "--starts", "3"
    )
    assert "0.50 h of ground running" in said(run, "hours", "Linnet One", "1003", "--use", "ground running")
    assert "below that" in refused(run, "hours", "Linnet One", "999")
    long_day = ("hours", "Linnet One", "1015")
    assert refused(run, *long_day).endswith("or say that it is so (--sure).\n")
    assert "12.00 h of flight" in said(run, *long_day, "--sure")
    assert "for one at 0.00 h; ran unread between 1.00 h and 4.00 h" in said(
        run, "meter", "Linnet One", "0", "--old", "1015", "--unread", "between 1 and 4"
    )
    shown = said(run, "hours", "Linnet One")
    assert "1002.50 h" in shown and "Its meter reads 0.00 h." in shown and SAFETY in shown
    log = json.loads(said(run, "--json", "hours", "Linnet One"))
    assert [row["reading"] for row in log["rows"]] == [1002_50, 1003_00, 1015_00, 1015_00]
    assert "not one figure" in refused(run, "hours", "Linnet One", "between 1 and 2")


def test_a_pull_is_fitted_and_the_cylinder_stripped_again(run: Run, workshop: Shop) -> None:
    begin(workshop)
    stock(workshop)
    (pull,) = reserved(workshop, "1")
    with workshop.store.writing() as session:
        issue(session, pull.pull, By(workshop.keeper))
    kit = ("fit", "--pull", pull.number, "--reading", "1001")
    assert "flown or run on the ground (--use)" in refused(run, *kit)
    assert "as exhaust valve" in said(run, *kit, "--use", "flight")
    whole = ("strip", "Linnet One", "1", "--all", "--found", "worn", "--reading", "1001")
    assert "life-limited" in refused(run, *whole)
    done = json.loads(said(run, "--json", *whole, "--control", "tag"))
    assert len(done["new_tags"]) == 1 and "to Bench and Scrap drum" in done["said"]
    assert said(run, "check")


def test_pieces_are_fitted_one_by_one_robbed_and_seen_in_the_build(run: Run, workshop: Shop) -> None:
    begin(workshop)
    begin(workshop, workshop.engine_two, reading=None)
    with workshop.store.writing() as session:
        valve = good(session, workshop, workshop.valve)
        springs = good(session, workshop, workshop.spring, quantity=6)
    tag, spring_tag = state_of(workshop, valve).tag, state_of(workshop, springs).tag
    at = ("Linnet One", "1")
    assert "no station 'barrel'" in refused(run, "fit", tag, *at, "barrel", "--reading", "1000")
    said(run, "fit", tag, *at, "exhaust valve", "--reading", "1000")
    assert f"2 off {spring_tag}" in said(
        run, "fit", spring_tag, *at, "exhaust springs", "--quantity", "2", "--reading", "1000"
    )
    shown = said(run, "fitted", "Linnet One")
    assert tag in shown and "head joint: open; wants 1 off" in shown and SAFETY in shown
    assert "came" in said(run, "fitted", "Linnet One", "--against", "2026-03-01")
    assert tag not in said(run, "fitted", "Linnet One", "--believed", "2026-03-01")
    before = said(run, "fitted", "Linnet One", "--on", "2026-03-01")
    assert tag not in before and "as fitted on 2026-03-01" in before
    robbed = said(
        run,
        "rob",
        tag,
        "--for",
        "Linnet Two",
        "--authorised-by",
        "Ada Farrow",
        "--reason",
        "none in stock",
        "--reading",
        "1000",
        "--control",
        "tag",
    )
    assert f"Robbed {tag} from Linnet One, cylinder 1, for Linnet Two" in robbed
    assert "is in no engine" in refused(
        run, "rob", tag, "--for", "Linnet Two", "--authorised-by", "Ada Farrow", "--reason", "again"
    )
    assert f"2 off {spring_tag}" in said(
        run, "strip", spring_tag, "--found", "slack", "--reading", "1000", "--condition", "unserviceable"
    )
    assert run("fit", tag)[0] == 2 and run("fit")[0] == 2


def test_a_piece_goes_into_another_on_the_bench(run: Run, workshop: Shop) -> None:
    with workshop.store.writing() as session:
        add_barrel_station(workshop, session)
        barrel = good(session, workshop, workshop.barrel)
        valve = good(session, workshop, workshop.valve)
    tag, holder = state_of(workshop, valve).tag, state_of(workshop, barrel).tag
    inside = ("fit-inside", tag, holder, "exhaust valve", "--for", "Linnet")
    assert f"Fitted {tag} as the exhaust valve of {holder}" in said(run, *inside)
    assert f"Stripped {tag} from {holder}, found loose" in said(run, "strip", tag, "--found", "loose")


def test_a_build_record_is_taken_over_from_a_file_and_the_rest_presumed(
    run: Run, workshop: Shop, tmp_path: Path
) -> None:
    begin(workshop, workshop.engine_two, reading=None)
    card = tmp_path / "card.csv"
    head = "position,station,part,serial,quantity,hours,starts,tag,inside\n"
    card.write_text(f"{head}2,exhaust valve,PW 1187,A 9,,at least 120,,,\n2,exhaust valve,VX9,,,,,,\n")
    take_over = ("take-over", "Linnet Two", str(card), "--paper", "statement:BR 1")
    assert "VX9" in refused(run, *take_over)
    card.write_text(f"{head}2,exhaust valve,PW 1187,A 9,,at least 120,,,\n")
    (tag,) = json.loads(said(run, "--json", *take_over))["tags"]
    assert tag in said(run, "fitted", "Linnet Two")
    assert "Presumed 3 pieces and batches in Linnet Two" in said(run, "presume", "Linnet Two", "3")
    find = ("identify", "Linnet Two", "3", "exhaust valve", "--found", "seized")
    assert "life-limited" in refused(run, *find, "--part", "PW 1187")
    assert "presumed there until then" in said(run, *find, "--part", "PW 1187", "--control", "tag")
    assert "Nothing is presumed" in refused(run, *find)
    assert "Found nothing at the exhaust springs" in said(
        run, "identify", "Linnet Two", "3", "exhaust springs", "--found", "none there"
    )
    assert said(run, "check")


def test_lives_show_what_is_used_and_left_against_their_limits(run: Run, workshop: Shop) -> None:
    begin(workshop)
    _, tag = fit_valve(workshop)
    said(run, "hours", "Linnet One", "1012.5", "--sure")
    limit = ("limit", "PW 1187", "--starts", "40", "--since", "overhaul", "--source", "leaflet 31")
    number = json.loads(said(run, "--json", *limit))["limit"]
    shown = said(run, "life", "Linnet One")
    assert f"cylinder 1, exhaust valve: {tag}" in shown and SAFETY in shown
    assert "used 12.50 h of 600.00 h since new" in shown and f"(limit {number})" in shown
    assert tag in said(run, "life", "--within-hours", "590")
    assert "It is reset" in said(run, "reset", tag, "--report", "WR 7", "--keep", "months", "--keep", "hours")
    assert "sets such a limit already" in refused(run, *limit)
    said(run, "limit", "--withdraw", str(number), "--because", "superseded")
    assert f"(limit {number})" not in said(run, "life", "Linnet One")
    assert run("limit", "PW 1187")[0] == 2 and run("reset")[0] == 2


def test_an_event_taints_what_is_inside_until_an_inspection_clears_it(run: Run, workshop: Shop) -> None:
    begin(workshop)
    _, tag = fit_valve(workshop)
    done = json.loads(said(run, "--json", "event", "Linnet One", "propeller strike", "--note", "bent"))
    event = str(done["event"])
    listed = said(run, "event", "Linnet One")
    assert f"not cleared: {tag}" in listed and SAFETY in listed
    cleared = ("clear-event", event, tag, "Linnet One", "--inspection", "crack test CT 4")
    assert "licence number" in run(*cleared, who="Ben Hollis")[2]
    assert f"Cleared {tag} and Linnet One" in said(run, *cleared)
    assert "not cleared" not in said(run, "event", "Linnet One")
    assert run("event", "Linnet One", "hail")[0] == 2


def test_orders_of_authorities_and_what_they_allow(run: Run, workshop: Shop) -> None:
    begin(workshop)
    _, tag = fit_valve(workshop)
    with workshop.store.writing() as session:
        add_paper(session, NewPaper(PaperKind.STATEMENT, "AL 9"), workshop.by())
    order = ("directive", "D 7", "--title", "Stems", "--method", "dye", "--effective", "2026-01-05")
    said(run, *order, "--part", "PW 1187", "--within-months", "1")
    assert "overdue" in said(run, "directives", "Linnet One")
    assert f"Complied with directive D 7 on {tag}" in said(run, "comply", "d 7", tag, "--method", "dye")
    assert "overdue" not in said(run, "directives", "Linnet One")
    again = (*order, "--issue", "2", "--part", "PW 1187", "--in-place-of", "D 7")
    assert "Put directive D 7 issue 2" in said(run, *again)
    assert "D 7 issue 2" in refused(run, "comply", "D 9", tag, "--method", "dye")
    assert "Withdrew directive" in said(run, "directive", "D 7", "--withdraw", "none are left")
    allowed = (
        "concession",
        "C 12",
        tag,
        "Linnet One",
        "--over",
        "worn limit",
        "--authority",
        "the Board",
    )
    ends = ("--allows", "stem 0.02 below", "--document", "AL 9", "--hours", "50")
    assert "Took up concession C 12" in said(run, *allowed, *ends)
    assert "no document here" in refused(run, *allowed, *ends[:2], "--document", "AL 8", "--hours", "50")
    assert "50.00 h left" in said(run, "concessions", "Linnet One")
    assert "Withdrew concession C 12" in said(run, "concession", "C 12", "--withdraw", "refused")


def test_a_mod_is_shown_before_it_is_embodied(run: Run, workshop: Shop) -> None:
    with workshop.store.writing() as session:
        add_mod(workshop, session, "M 4")
    assert "Nothing is done yet" in said(run, "mod", "Linnet One", "m 4")
    assert "not embodied" in said(run, "mod", "Linnet One")
    assert "Embodied mod M 4" in said(run, "mod", "Linnet One", "M 4", "--yes")
    assert "on Linnet One already" in refused(run, "mod", "Linnet One", "M 4")
    assert "removed" in said(run, "mod", "Linnet One", "M 4", "--remove", "--yes").casefold()
    assert "The mods are: M 4" in refused(run, "mod", "Linnet One", "M 5")


def test_a_recall_names_every_piece_and_holds_it_with_its_engine(
    run: Run, workshop: Shop, tmp_path: Path
) -> None:
    begin(workshop)
    _, tag = fit_valve(workshop)
    with workshop.store.writing() as session:
        shelved = good(session, workshop, workshop.valve)
    pdf, book = tmp_path / "recall.pdf", tmp_path / "recall.xlsx"
    papers = ("--pdf", str(pdf), "--xlsx", str(book))
    found = said(run, "recall", "--part", "PW 1187")
    assert "fitted in Linnet One" in found and SAFETY in found
    held = said(run, "recall", "--part", "PW 1187", "--hold", "soft stems", *papers)
    assert "Engines on hold: Linnet One" in held and "Taken to the quarantine" in held
    assert pdf.read_bytes().startswith(b"%PDF") and book.read_bytes().startswith(b"PK")
    assert json.loads(said(run, "--json", "recall", tag))["report"]["lines"][0]["tag"] == tag
    assert "Nothing is asked for" in refused(run, "recall")
    assert run("recall", "--part", "PW 1187", *papers)[0] == 2
    assert state_of(workshop, shelved).where[0].name == "Quarantine"


def test_the_status_sheet_goes_to_paper(run: Run, workshop: Shop, tmp_path: Path) -> None:
    begin(workshop)
    _, tag = fit_valve(workshop)
    pdf, book = tmp_path / "status.pdf", tmp_path / "status.xlsx"
    shown = said(run, "status", "Linnet One", "--pdf", str(pdf), "--xlsx", str(book))
    assert tag in shown and "Run in all: 2345.00 h" in shown and SAFETY in shown
    assert pdf.read_bytes().startswith(b"%PDF") and book.read_bytes().startswith(b"PK")
    assert json.loads(said(run, "--json", "status", "Linnet One", "--on", str(TODAY)))["name"] == "Linnet One"
    assert "future" in refused(run, "status", "Linnet One", "--on", "2999-01-01")
    assert "cannot be written" in refused(run, "status", "Linnet One", "--pdf", str(tmp_path / "no" / "s"))


@pytest.mark.parametrize(
    "words",
    [
        ("hours", "Linnet Nine"),
        ("fitted", "Linnet One", "--on", "2999-01-01"),
        ("strip", "T00001-X", "--found", "worn"),
        ("limit", "--hours", "1500", "--for", "Linnett", "--source", "manual"),
        ("fit-inside", "T00001-T", "T00002-R", "guide", "--for", "Linnet"),
    ],
)
def test_what_is_named_wrongly_is_refused_in_one_line(run: Run, words: tuple[str, ...]) -> None:
    assert refused(run, *words)
