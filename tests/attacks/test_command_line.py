"""The command line where its surroundings fail it: terminals, pipes, screens, papers with nowhere to go."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import func, select

from invdb.acts import shop as shop_acts
from invdb.acts.accept import Acceptance, accept
from invdb.acts.goods_in import GoodsIn, ReceivingChecks
from invdb.paper import pick_list
from invdb.records.ledger import LedgerHead
from invdb.records.stock import Batch, Piece, Pull
from invdb.terms import FirmRole, Origin, Refused, Scope
from tests.shop import Shop, sqlite_shop


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as shop:
        yield shop


def typed(
    workshop: Shop, *words: str, stdout: int | None = subprocess.PIPE, **surroundings: str | None
) -> subprocess.CompletedProcess[str]:
    """Type a command as Ada Farrow, in a process of its own; None takes a variable away."""
    variables = {**os.environ, **{name: value for name, value in surroundings.items() if value is not None}}
    for name in (name for name, value in surroundings.items() if value is None):
        variables.pop(name, None)
    return subprocess.run(
        [sys.executable, "-m", "invdb", "--store", workshop.store.where, "--as", "Ada Farrow", *words],
        stdin=subprocess.DEVNULL,
        stdout=stdout,
        stderr=subprocess.PIPE,
        text=True,
        env=variables,
        check=False,
        timeout=60,
    )


def last_entry(workshop: Shop) -> int:
    with workshop.store.reading() as session:
        return session.scalars(select(LedgerHead.number)).one()


def refused_in_one_line(ended: subprocess.CompletedProcess[str], words: str) -> None:
    assert ended.returncode == 1, ended.stderr
    assert words in ended.stderr
    assert ended.stderr.count("\n") == 1 and ended.stderr.endswith(".\n"), ended.stderr


def test_a_terminal_without_the_letters_shows_their_code_points(workshop: Shop) -> None:
    with workshop.store.writing() as session:
        shop_acts.add_firm(session, "Жуков", FirmRole.SUPPLIER, workshop.by())
    for words in (("find", "Жуков"), ("--json", "find", "Жуков"), ("add", "owner", "Жуков")):
        ended = typed(workshop, *words, PYTHONIOENCODING="ascii")
        assert (ended.returncode, ended.stderr) == (0, "")
        assert "\\u0416" in ended.stdout


@pytest.mark.skipif(not Path("/dev/full").is_char_device(), reason="no device that is always full")
def test_an_answer_that_finds_no_room_is_told_and_the_act_stands(workshop: Shop) -> None:
    before = last_entry(workshop)
    with open("/dev/full", "w") as full:
        ended = typed(workshop, "add", "owner", "Tarn Estate", stdout=full.fileno())
    refused_in_one_line(ended, "The answer can't be written")
    assert last_entry(workshop) == before + 1


def test_no_screen_is_said_in_one_line(workshop: Shop) -> None:
    for display in (None, ":99999"):
        ended = typed(workshop, "open", DISPLAY=display, WAYLAND_DISPLAY=None)
        refused_in_one_line(ended, "no screen")


def accepted_valve(workshop: Shop) -> str:
    """The tag of an exhaust valve that may be pulled for the Linnet."""
    with workshop.store.writing() as session:
        (thing, tag) = workshop.book_in(session, workshop.valve, pieces=1).things[0]
        checks = ReceivingChecks("yes", "match", "none", "sealed")
        accept(session, Acceptance((thing,), Scope.FLIGHT, checks, override="Known to us."), workshop.by())
    return tag


def pulls(workshop: Shop) -> int:
    with workshop.store.reading() as session:
        return session.scalars(select(func.count()).select_from(Pull)).one()


@pytest.mark.parametrize("kind", ["--pdf", "--xlsx"])
def test_nothing_is_reserved_when_the_pick_list_has_nowhere_to_go(
    workshop: Shop, tmp_path: Path, kind: str
) -> None:
    accepted_valve(workshop)
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path in (tmp_path / "no folder" / "list", tmp_path, pipe):
        ended = typed(workshop, "pull", "Linnet One", "5", "--reserve", kind, str(path))
        refused_in_one_line(ended, "The sheet cannot be written")
    assert pulls(workshop) == 0
    assert pipe.is_fifo()


def test_a_pick_list_that_fails_after_all_says_which_pull_stands(
    workshop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from invdb.cli import main

    def no_room(*_: object) -> None:
        raise Refused("The disk is full.", "Make room.")

    accepted_valve(workshop)
    monkeypatch.setattr(pick_list, "write_pick_list_pdf", no_room)
    words = ["--store", workshop.store.where, "--as", "Ada Farrow", "pull", "Linnet One", "5", "--reserve"]
    monkeypatch.setattr(sys, "argv", ["invdb", *words, "--pdf", str(tmp_path / "list.pdf")])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 1
    with workshop.store.reading() as session:
        number = session.scalars(select(Pull.number)).one()
    assert capsys.readouterr().err == f"Pull {number} is reserved. The disk is full. Make room.\n"


def test_what_is_given_for_pieces_is_not_dropped_for_a_batch(workshop: Shop) -> None:
    with workshop.store.reading() as session:
        spring = typed(workshop, "--json", "find", "valve spring")
        number = json.loads(spring.stdout)["found"][0]["headline"]
        before = session.scalars(select(func.count()).select_from(Batch)).one()
    for more in (("--serial", "S 1"), ("--hours", "12"), ("--starts", "3")):
        ended = typed(workshop, "receive", number, "--origin", "new", *more)
        refused_in_one_line(ended, "held by batch")
    ended = typed(workshop, "receive", "PW 1187", "--origin", "new", "--maker-batch", "M 4")
    refused_in_one_line(ended, "no maker's batch")
    with workshop.store.reading() as session:
        assert session.scalars(select(func.count()).select_from(Batch)).one() == before


def test_serials_say_how_many_unless_the_quantity_does_and_then_they_agree(workshop: Shop) -> None:
    serials = ("--serial", "S 1", "--serial", "S 2")
    for quantity in ("1", "3"):
        ended = typed(workshop, "receive", "PW 1187", "--origin", "new", "--quantity", quantity, *serials)
        refused_in_one_line(ended, "do not agree")
    refused_in_one_line(
        typed(workshop, "receive", "PW 1187", "--origin", "new", "--quantity", ""), "no quantity"
    )
    assert typed(workshop, "receive", "PW 1187", "--origin", "new", *serials).returncode == 0
    with workshop.store.reading() as session:
        assert session.scalars(select(Piece.serial).order_by(Piece.serial)).all() == ["S 1", "S 2"]


def test_a_share_with_more_behind_it_is_refused(workshop: Shop) -> None:
    with workshop.store.writing() as session:
        goods = GoodsIn(Origin.NEW, workshop.bin_a)
        ((_, tag),) = workshop.book_in(session, workshop.spring, quantity=5, goods=goods).things
    ended = typed(workshop, "split", tag, "--bin", "A-01-01", "--share", "1:unserviceable::A-01-02:B-01-01")
    refused_in_one_line(ended, "no place 'A-01-02:B-01-01'")
