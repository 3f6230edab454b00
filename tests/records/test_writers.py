"""Several people at once: the head is locked first, so every act sees the one before and none fails."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier, Event, Thread

import pytest
from sqlalchemy import event, select

from invdb.acts.check import check_store
from invdb.acts.numbers import Thing
from invdb.records.ledger import Entry, LedgerHead
from invdb.records.stock import Piece
from invdb.store import open_store
from invdb.terms import Refused
from tests.shop import TODAY, Shop, postgres_shop, sqlite_shop

PROJECT = Path(__file__).parent.parent.parent


def each_in_a_thread(count: int, work: Callable[[int], object]) -> list[object]:
    """What ``count`` threads gave back that began together; raises what any of them raised."""
    barrier = Barrier(count)

    def begin(number: int) -> object:
        barrier.wait()
        return work(number)

    with ThreadPoolExecutor(count) as pool:
        return [future.result() for future in [pool.submit(begin, number) for number in range(count)]]


def entries_follow_on(shop: Shop, more: int, before: int) -> None:
    report = check_store(shop.store)
    assert report.differences == ()
    assert report.entries == before + more


def numbers(shop: Shop) -> list[int]:
    with shop.store.reading() as session:
        return list(session.scalars(select(Entry.number).order_by(Entry.number)))


def test_eight_writers_on_postgresql_and_none_fails() -> None:
    with postgres_shop() as shop:
        before = len(numbers(shop))

        def write(writer: int) -> None:
            for _ in range(5):
                with shop.store.writing() as session:
                    shop.batch(session, 1 + writer)

        each_in_a_thread(8, write)
        entries_follow_on(shop, 8 * 5, before)


def test_three_writers_on_one_file_and_none_fails(tmp_path: Path) -> None:
    with sqlite_shop(tmp_path) as shop:
        before = len(numbers(shop))

        def write(writer: int) -> None:
            for _ in range(4):
                with shop.store.writing() as session:
                    shop.batch(session, 1 + writer)

        each_in_a_thread(3, write)
        entries_follow_on(shop, 3 * 4, before)


WRITE = """
import sys
from invdb.acts.by import By
from invdb.acts.catalogue import add_family
from invdb.store import open_store

store = open_store(sys.argv[1])
for letters in sys.argv[2:]:
    with store.writing() as session:
        add_family(session, letters, f"Things of {letters}", By(1))
store.close()
"""


def test_two_programs_write_to_one_store(shop: Shop) -> None:
    before = len(numbers(shop))
    programs = [
        subprocess.Popen(
            [sys.executable, "-c", WRITE, shop.store.where, *(f"{first}{second}" for second in "QXZ")],
            cwd=PROJECT,
            stderr=subprocess.PIPE,
            text=True,
        )
        for first in "QX"
    ]
    for program in programs:
        _, said = program.communicate(timeout=120)
        assert program.returncode == 0, said
    shop.store.clock = None
    entries_follow_on(shop, 6, before)


def test_of_two_who_move_the_same_piece_one_is_told_where_it_went(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = shop.piece(session)

    def move(writer: int) -> str:
        try:
            with shop.store.writing() as session:
                shop.move(session, Thing(piece=piece), shop.bin_a, (shop.bin_b, shop.bench)[writer], on=TODAY)
        except Refused as refused:
            return str(refused)
        return "moved"

    told = each_in_a_thread(2, move)
    last = numbers(shop)[-1]
    assert told.count("moved") == 1
    assert any(f"entry {last}" in str(each) for each in told)
    with shop.store.reading() as session:
        assert session.get_one(Piece, piece).place_id == (shop.bin_b, shop.bench)[told.index("moved")]


def test_of_two_who_take_the_last_springs_one_is_told_how_many_are_left(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch = shop.batch(session, 5)

    def take(_writer: int) -> str:
        try:
            with shop.store.writing() as session:
                shop.move(session, Thing(batch=batch), shop.bin_a, shop.bin_b, on=TODAY, quantity=3)
        except Refused as refused:
            return str(refused)
        return "taken"

    told = sorted(map(str, each_in_a_thread(2, take)))
    assert told[1] == "taken"
    assert "only 2 free there" in told[0]


def test_the_head_is_locked_before_anything_is_read(shop: Shop) -> None:
    """The first statement of a writing act takes the lock: BEGIN IMMEDIATE, or FOR UPDATE of the head."""
    said: list[str] = []

    @event.listens_for(shop.store.engine, "before_cursor_execute")
    def listen(_connection: object, _cursor: object, statement: str, *_more: object) -> None:
        said.append(" ".join(statement.split()))

    with shop.store.writing() as session:
        shop.piece(session)
    if shop.store.engine.dialect.name == "sqlite":
        assert said[0] == "BEGIN IMMEDIATE"
    else:
        assert said[0] == "SELECT ledger_head.number FROM ledger_head FOR UPDATE"


def test_a_second_writer_waits_for_the_first_and_then_sees_what_it_did(shop: Shop) -> None:
    other = open_store(shop.store.where)
    other.clock = shop.clock
    holding, seen = Event(), []

    def second() -> None:
        holding.wait()
        with other.writing() as session:
            seen.append(session.scalars(select(LedgerHead.number)).one())

    waiter = Thread(target=second)
    waiter.start()
    with shop.store.writing() as session:
        holding.set()
        shop.piece(session)
        number = session.scalars(select(LedgerHead.number)).one()
    waiter.join()
    other.close()
    assert seen == [number]


def test_a_reader_is_not_kept_waiting_and_sees_nothing_half_done(shop: Shop) -> None:
    before = numbers(shop)
    with shop.store.writing() as session:
        shop.piece(session)
        session.flush()
        assert numbers(shop) == before
    assert len(numbers(shop)) == len(before) + 1


def test_a_reader_keeps_its_view_while_others_write(shop: Shop) -> None:
    with shop.store.reading() as session:
        before = list(session.scalars(select(Entry.number)))
        with shop.store.writing() as other:
            shop.piece(other)
        assert list(session.scalars(select(Entry.number))) == before


def test_what_fails_half_way_leaves_nothing(shop: Shop) -> None:
    before = numbers(shop)
    with pytest.raises(ZeroDivisionError), shop.store.writing() as session:
        shop.piece(session)
        raise ZeroDivisionError
    assert numbers(shop) == before
    assert check_store(shop.store).differences == ()
