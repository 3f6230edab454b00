"""Posting entries: ours, against a bare sqlite3 loop that writes the same rows and commits as often.

``python -m tests.bench.bench_posting`` first does every act once on a copy of a small store and notes what it
writes. Then, turn about, each act is done on a second copy, and what was noted, its values at hand, is
executed by a bare sqlite3 connection on a third. All three have the same tables and triggers, a write-ahead
log and a full sync at each commit, and the copies pass ``invdb check`` at the end. Medians are printed of
posting (from taking the lock to the commit, with the draft at hand), which is what is promised, and of the
whole act, which also reads and judges; then of the same without any sync. Ours computes where the reference
waits for the disk, so a machine that is busy with other work lengthens ours most.

Last, eight writers at once post to one PostgreSQL, beside one who posts as many entries alone.
"""

from __future__ import annotations

import shutil
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from unittest.mock import patch

from sqlalchemy import event
from sqlalchemy.orm import Session

from invdb import store as stores
from invdb.acts import accept, catalogue, goods_in, move, pull
from invdb.acts.by import By
from invdb.acts.catalogue import NewKitLine, NewPart
from invdb.acts.check import check_store
from invdb.acts.goods_in import GoodsIn, NewPiece, ReceivingChecks
from invdb.acts.numbers import Thing
from invdb.acts.pull import PullOrder
from invdb.acts.reserve_check import Take
from invdb.records.posting import post
from invdb.store import Store
from invdb.terms import Origin, Scope, Tracking
from tests.bench.measure import Measure
from tests.postgres import drop_everything
from tests.shop import NOW, Clock, Ids, Shop, postgres_shop, sqlite_shop

RATIO_MAX = 3.0
ROUNDS = 60
REPEATS = 3
CYLINDERS = 7
KIT_LINES = 40
WRITERS = 8
ENTRIES_EACH = 25

Act = Callable[[Session], object]
Writes = list[tuple[str, list[Any]]]


@dataclass(frozen=True)
class Times:
    """Seconds of one act: all of it, and posting alone."""

    whole: float
    posting: float


def furnish(shop: Shop) -> tuple[list[Thing], list[PullOrder]]:
    """Put accepted valves on the shelf, and what kits of 40 lines for two whole engines take."""
    by = shop.by()
    cylinders = [
        (engine, position)
        for engine in (shop.engine, shop.engine_two)
        for position in range(1, CYLINDERS + 1)
    ]
    valves = _accepted(shop, shop.valve, ROUNDS)
    takes: list[list[Take]] = [[] for _ in cylinders]
    for line in range(KIT_LINES):
        with shop.store.writing() as session:
            letters = f"Q{chr(ord('A') + line // 26)}{chr(ord('A') + line % 26)}"
            family = catalogue.add_family(session, letters, f"Things {line}", by)
            part = catalogue.add_part(session, NewPart(family, f"Thing {line}", Tracking.PIECE), by)
            kit_line = catalogue.add_kit_line(
                session, NewKitLine(shop.linnet, "cylinder", 10 + line, f"station {line}", part, 1), by
            )
        for kit, thing in zip(takes, _accepted(shop, part, len(cylinders)), strict=True):
            kit.append(Take(kit_line, thing, shop.bin_a, 1, "the part itself"))
    orders = [PullOrder(*cylinder, tuple(kit)) for cylinder, kit in zip(cylinders, takes, strict=True)]
    return valves, orders


def _accepted(shop: Shop, part: int, pieces: int) -> list[Thing]:
    goods = GoodsIn(
        Origin.NEW,
        shop.bin_a,
        part,
        pieces=tuple(NewPiece() for _ in range(pieces)),
        checks=ReceivingChecks("it is", "they agree", "none", "none"),
    )
    with shop.store.writing() as session:
        things = tuple(thing for thing, _ in goods_in.receive(session, goods, shop.by()).things)
        accept.accept(
            session, accept.Acceptance(things, Scope.FLIGHT, override="Seal of the maker."), shop.by()
        )
    return list(things)


def cases(ids: Ids, valves: list[Thing], orders: list[PullOrder]) -> Iterator[tuple[str, list[Act]]]:
    """What is measured: each with as many acts of its kind as are timed."""
    by = By(ids.inspector)

    def moving(thing: Thing) -> Act:
        return lambda session: move.move(session, (move.Shift(thing),), ids.bin_b, by)

    def coming_in(session: Session) -> object:
        return goods_in.receive(session, GoodsIn(Origin.NEW, ids.bin_a, ids.valve, pieces=(NewPiece(),)), by)

    def reserving(order: PullOrder) -> Act:
        return lambda session: pull.reserve(session, (order,), by)

    yield "a move of one piece", [moving(thing) for thing in valves]
    yield "goods in of one piece", [coming_in] * ROUNDS
    yield f"reserving a kit of {KIT_LINES} lines", [reserving(order) for order in orders]


def written_by(store: Store, act: Act) -> Writes:
    """Do an act; returns every statement that it executed to change rows, with its values."""
    writes: Writes = []

    def note(_connection: Any, _cursor: Any, statement: str, values: Any, _context: Any, many: bool) -> None:
        if statement.startswith(("INSERT", "UPDATE", "DELETE")):
            writes.append((statement, list(values) if many else [values]))

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        with store.writing() as session:
            act(session)
    finally:
        event.remove(store.engine, "before_cursor_execute", note)
    return writes


def timed_act(store: Store, act: Act) -> Times:
    """Do an act and say how long it took."""
    drafted: list[float] = []

    def post_noted(session: Session, draft: Any) -> Any:
        drafted.append(time.perf_counter())
        return post(session, draft)

    with ExitStack() as stack:
        for module in (move, goods_in, pull):
            stack.enter_context(patch.object(module, "post", post_noted))
        begun = time.perf_counter()
        with store.writing() as session:
            locked = time.perf_counter()
            act(session)
        ended = time.perf_counter()
    return Times(ended - begun, locked - begun + ended - drafted[0])


def timed_bare(connection: sqlite3.Connection, writes: Writes) -> float:
    """Execute what was noted on a bare connection and commit; says how long it took."""
    begun = time.perf_counter()
    connection.execute("BEGIN IMMEDIATE")
    for statement, rows in writes:
        for values in rows:
            connection.execute(statement, values)
    connection.execute("COMMIT")
    return time.perf_counter() - begun


def measure_sqlite(folder: Path, synced: bool) -> Iterator[Measure]:
    """Each case on SQLite; only with a full sync is anything promised of it."""
    with sqlite_shop(folder) as shop:
        valves, orders = furnish(shop)
    for name, acts in cases(shop, valves, orders):
        noted_path = _copy(shop, "noted")
        with closing(stores.open_store(str(noted_path))) as noted:
            noted.clock = Clock(NOW)
            writes = [written_by(noted, act) for act in acts]
        times: list[Times] = []
        references: list[float] = []
        for _ in range(REPEATS):
            ours_path, bare_path = _copy(shop, "ours"), _copy(shop, "bare")
            with (
                closing(stores.open_store(str(ours_path))) as ours,
                closing(sqlite3.connect(bare_path, isolation_level=None)) as bare,
            ):
                ours.clock = Clock(NOW)
                bare.execute("PRAGMA foreign_keys = ON")
                bare.execute("PRAGMA synchronous = FULL")
                if not synced:
                    _let_go_of_sync(ours)
                    bare.execute("PRAGMA synchronous = OFF")
                for act, act_writes in zip(acts, writes, strict=True):
                    times.append(timed_act(ours, act))
                    references.append(timed_bare(bare, act_writes))
            for path in (ours_path, bare_path):
                with closing(stores.open_store(str(path))) as checked:
                    assert check_store(checked).differences == ()
        what = name if synced else f"{name}, no sync"
        reference = statistics.median(references)
        yield Measure(
            f"posting {what}",
            statistics.median(each.posting for each in times),
            reference,
            ratio_max=RATIO_MAX if synced else None,
        )
        yield Measure(f"the whole act, {what}", statistics.median(each.whole for each in times), reference)


def _copy(shop: Shop, name: str) -> Path:
    path = Path(shop.store.where).with_name(f"{name}.invdb")
    for ending in ("-wal", "-shm"):
        path.with_name(path.name + ending).unlink(missing_ok=True)
    return shutil.copyfile(shop.store.where, path)


def _let_go_of_sync(store: Store) -> None:
    def unsync(connection: sqlite3.Connection, _record: Any) -> None:
        connection.execute("PRAGMA synchronous = OFF")

    event.listen(store.engine, "connect", unsync)
    store.engine.dispose()


def measure_postgres() -> tuple[Measure, list[BaseException]]:
    """Eight writers at once, each to and fro with a piece of its own; and what any of them failed with."""
    with postgres_shop() as shop:
        things = _accepted(shop, shop.valve, WRITERS)

        def write(thing: Thing, moves: int) -> None:
            with closing(stores.open_store(shop.store.where)) as store:
                store.clock = Clock(NOW)
                for i in range(moves):
                    with store.writing() as session:
                        move.move(session, (move.Shift(thing),), (shop.bin_b, shop.bin_a)[i % 2], shop.by())

        entries = check_store(shop.store).entries
        begun = time.perf_counter()
        write(things[0], WRITERS * ENTRIES_EACH)
        alone = time.perf_counter() - begun
        begun = time.perf_counter()
        with ThreadPoolExecutor(WRITERS) as pool:
            done = [pool.submit(write, thing, ENTRIES_EACH) for thing in things]
        together = time.perf_counter() - begun
        failed = [error for each in done if (error := each.exception()) is not None]
        report = check_store(shop.store)
        assert report.differences == ()
        assert failed or report.entries == entries + 2 * WRITERS * ENTRIES_EACH
    name = f"{WRITERS} writers on PostgreSQL, {ENTRIES_EACH} moves each; reference one writer with as many"
    return Measure(name, together, alone), failed


def main() -> int:
    """Measure and print; 0 if all is within what is promised and no writer failed."""
    within = True
    for synced in (True, False):
        with tempfile.TemporaryDirectory(prefix="invdb-bench-") as folder:
            for measured in measure_sqlite(Path(folder), synced):
                print(measured, flush=True)
                within &= measured.within
    try:
        measured, failed = measure_postgres()
    finally:
        drop_everything()
    print(measured)
    print(f"{len(failed)} of {WRITERS} writers failed" if failed else "none of the writers failed")
    for error in failed:
        print(f"    {error!r}")
    return 0 if within and not failed else 1


if __name__ == "__main__":
    raise SystemExit(main())
