"""Proposing kits in a store of 200,000 parts and 1,000,000 pieces: one cylinder, and seven at once.

``python -m tests.bench.bench_propose [STORE]`` builds the store in a folder of its own unless it is named
one, which takes some minutes and a gigabyte, and puts two kit lists of 40 lines into it with 10 candidates
for each, and some that are barred. One has stock enough for seven cylinders; the other lacks one of several
things for the last of them. The reference reads the same stock by hand in sqlite3 and takes what comes
first: it weighs nothing and explains nothing, so what is promised is not a ratio but seconds.
"""

from __future__ import annotations

import json
import random
import sqlite3
import statistics
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import create_engine, func, insert, select
from sqlalchemy.orm import Session

from invdb.acts.propose import propose
from invdb.acts.proposed import Asked
from invdb.records.base import Base
from invdb.records.engines import Engine, EngineType, Position
from invdb.records.people import Owner
from invdb.records.stock import Place
from invdb.rules.numbering import next_sequence
from invdb.terms import Condition, Measure, Origin, PlaceKind, Scope, Tracking
from tests.bench.large_store import Row, Size, build
from tests.bench.measure import Measure as Measured

LINES = 40
CANDIDATES = 10
BARRED = 4
CYLINDERS = 7
SCARCE = 4
ROUNDS = 9
SECONDS_MAX_ONE = 0.150
SECONDS_MAX_SEVEN = 1.0
RECEIVED_ON = date(2024, 1, 1)

# Above every number and tag that the large store gives out.
FIRST_SEQUENCE = 50_000_000


class Stocking:
    """Rows that are put into the store, each with the next id of its table."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._last_ids: dict[str, int] = {}
        self._last_sequences: dict[str, int] = {}
        self.owner = session.scalars(select(Owner.id).where(Owner.is_workshop)).one()
        self.bins = session.scalars(select(Place.id).where(Place.kind == PlaceKind.BIN).limit(400)).all()
        self.draw = random.Random(1912)

    def add(self, record: str, **values: Any) -> int:
        """Put in one row; returns its id."""
        table = Base.metadata.tables[record]
        if record not in self._last_ids:
            self._last_ids[record] = self._session.scalar(select(func.max(table.c.id))) or 0
        self._last_ids[record] += 1
        self._session.execute(insert(table), {"id": self._last_ids[record], "set_by": 1, **values})
        return self._last_ids[record]

    def number(self, letters: str) -> str:
        """The next number with these letters."""
        after = self._last_sequences.get(letters, FIRST_SEQUENCE)
        self._last_sequences[letters], number = next_sequence(letters, after)
        return number

    def part(self, family: int, name: str, tracking: Tracking) -> int:
        """A part counted in pieces."""
        number = self.number("ZK")
        return self.add(
            "part",
            house_number=number,
            family_id=family,
            name=name,
            tracking=tracking,
            measure=Measure.COUNT,
        )

    def pieces(self, part: int, count: int) -> None:
        """So many that may be taken, and some that may not."""
        for i in range(count + BARRED):
            state: Row = {"scope": Scope.FLIGHT, "condition": Condition.SERVICEABLE}
            if i >= count:
                state = {"scope": None, "condition": Condition.UNINSPECTED}
            self.add("piece", tag=self.number("T"), place_id=self._bin(), **self._stock(part), **state)

    def batches(self, part: int, quantities: list[int]) -> None:
        """Batches of these quantities that may be taken, and some that may not."""
        for i in range(len(quantities) + BARRED):
            state: Row = {"scope": Scope.FLIGHT, "condition": Condition.SERVICEABLE}
            if i >= len(quantities):
                state = {"scope": None, "condition": Condition.UNINSPECTED}
            batch = self.add("batch", tag=self.number("B"), **self._stock(part), **state)
            quantity = quantities[i % len(quantities)]
            self._session.execute(
                insert(Base.metadata.tables["holding"]),
                {"batch_id": batch, "place_id": self._bin(), "quantity": quantity},
            )

    def _stock(self, part: int) -> Row:
        return {
            "part_id": part,
            "origin": Origin.NEW_OLD_STOCK,
            "owner_id": self.owner,
            "received_on": RECEIVED_ON + timedelta(days=self.draw.randrange(400)),
        }

    def _bin(self) -> int:
        return self.draw.choice(self.bins)


def stock_kits(session: Session, stocking: Stocking, engine_type: str, scarce: int) -> None:
    """Give a type's cylinder a kit list of 40 lines, and each line 10 candidates, some of them alternates.

    Of the last ``scarce`` lines there is stock for all of seven cylinders but one. Two lines have a set of
    two as alternate. Lines of one are filled by single pieces, lines of several from batches.
    """
    type_id = session.scalars(select(EngineType.id).where(EngineType.name == engine_type)).one()
    family = stocking.add(
        "family", letters=f"Z{engine_type[0]}", name=f"Cylinder things of the {engine_type}"
    )
    for line in range(LINES):
        quantity = 1 if line < 4 else stocking.draw.choice((1, 1, 1, 2, 4, 8))
        tracking = Tracking.PIECE if quantity == 1 else Tracking.BATCH
        part = stocking.part(family, f"Thing {line}", tracking)
        stocking.add(
            "kit_line",
            engine_type_id=type_id,
            group_name="cylinder",
            sequence=line + 1,
            station=f"station {line + 1}",
            part_id=part,
            quantity=quantity,
        )
        stand_in = stocking.add("stand_in", part_id=part, authority=f"Service sheet {line + 1}")
        others = [
            stocking.part(family, f"Later thing {line}", tracking) for _ in range(2 if line in (2, 3) else 1)
        ]
        for other in others:
            stocking.add("stand_in_member", stand_in_id=stand_in, part_id=other)
        total = quantity * (CYLINDERS - 1)
        if tracking is Tracking.PIECE:
            count = CYLINDERS - 1 if line >= LINES - scarce else CANDIDATES
            shares = [count - count // 3, *(count // 3 // len(others) for _ in others)]
            for each, share in zip([part, *others], shares, strict=True):
                stocking.pieces(each, share)
            continue
        if line < LINES - scarce:
            total = quantity * CYLINDERS * 3 // 2
        quantities = [total // CANDIDATES + (i < total % CANDIDATES) for i in range(CANDIDATES)]
        stocking.batches(part, [each for each in quantities[: CANDIDATES * 2 // 3] if each])
        stocking.batches(others[0], [each for each in quantities[CANDIDATES * 2 // 3 :] if each])


def asked_of(session: Session, engine_type: str, cylinders: int) -> tuple[Asked, ...]:
    """The first cylinders of the first engine of a type."""
    type_id = session.scalars(select(EngineType.id).where(EngineType.name == engine_type)).one()
    engine = session.scalars(
        select(Engine.id).where(Engine.engine_type_id == type_id).order_by(Engine.id).limit(1)
    ).one()
    positions = session.scalars(
        select(Position.id)
        .where(Position.engine_type_id == type_id)
        .order_by(Position.sequence)
        .limit(cylinders)
    ).all()
    return tuple(Asked(engine, position) for position in positions)


def first_come_by_hand(connection: sqlite3.Connection, asked: tuple[Asked, ...]) -> int:
    """Read what the kits could take and give each line what comes first; returns the lines filled."""
    engine = asked[0].engine
    (type_id,) = connection.execute("SELECT engine_type_id FROM engine WHERE id = ?", [engine]).fetchone()
    lines = connection.execute(
        "SELECT l.id, l.station, l.part_id, l.quantity, p.house_number, p.name FROM kit_line l"
        " JOIN part p ON p.id = l.part_id WHERE l.engine_type_id = ? AND l.group_name = 'cylinder'"
        " ORDER BY l.sequence",
        [type_id],
    ).fetchall()
    own = json.dumps([line[2] for line in lines])
    sets: dict[int, dict[int, list[tuple[int, int]]]] = defaultdict(lambda: defaultdict(list))
    for stand_in, for_part, part, each in connection.execute(
        "SELECT s.id, s.part_id, m.part_id, m.quantity_each FROM stand_in s"
        " JOIN stand_in_member m ON m.stand_in_id = s.id"
        " WHERE s.part_id IN (SELECT value FROM json_each(?)) ORDER BY m.id",
        [own],
    ):
        sets[for_part][stand_in].append((part, each))
    parts = {line[2] for line in lines} | {
        part for stand_ins in sets.values() for members in stand_ins.values() for part, _ in members
    }
    every = json.dumps(sorted(parts))
    shelf: dict[int, list[list[Any]]] = defaultdict(list)
    pieces = connection.execute(
        "SELECT s.part_id, s.tag, s.serial, s.condition, s.scope, s.received_on, a.name, a.walking_order,"
        " 1 - (s.reserved_for IS NOT NULL)"
        " FROM piece s JOIN place a ON a.id = s.place_id"
        " WHERE s.part_id IN (SELECT value FROM json_each(?)) AND s.condition = 'serviceable'"
        " AND s.scope = 'flight' AND NOT EXISTS"
        " (SELECT 1 FROM hold h WHERE h.piece_id = s.id AND h.cleared_on IS NULL)"
        " ORDER BY s.received_on, s.tag",
        [every],
    )
    batches = connection.execute(
        "SELECT s.part_id, s.tag, s.maker_batch, s.condition, s.scope, s.received_on, a.name,"
        " a.walking_order, g.quantity - g.reserved"
        " FROM batch s JOIN holding g ON g.batch_id = s.id JOIN place a ON a.id = g.place_id"
        " WHERE s.part_id IN (SELECT value FROM json_each(?)) AND s.condition = 'serviceable'"
        " AND s.scope = 'flight' AND NOT EXISTS"
        " (SELECT 1 FROM hold h WHERE h.batch_id = s.id AND h.cleared_on IS NULL)"
        " ORDER BY s.received_on, s.tag",
        [every],
    )
    for rows in (pieces, batches):
        for part, *thing in rows:
            shelf[part].append(thing)
    filled = 0
    for _ in asked:
        for _, _, part, quantity, _, _ in lines:
            left = quantity
            for members in ([(part, 1)], *sets[part].values()):
                free = min(sum(thing[-1] for thing in shelf[member]) // each for member, each in members)
                units = min(left, free)
                for member, each in members:
                    _take(shelf[member], units * each)
                left -= units
            filled += left == 0
    return filled


def _take(things: list[list[Any]], quantity: int) -> None:
    for thing in things:
        taken = min(thing[-1], quantity)
        thing[-1] -= taken
        quantity -= taken


def measure(path: Path) -> Iterator[Measured]:
    """One cylinder, seven, and seven with too little; the kits are put into the store at this path."""
    engine = create_engine(f"sqlite:///{path}")
    with Session(engine) as session:
        stocking = Stocking(session)
        stock_kits(session, stocking, "Linnet", 0)
        stock_kits(session, stocking, "Twelve", SCARCE)
        session.commit()
    cases = (
        ("one cylinder", "Linnet", 1, SECONDS_MAX_ONE),
        ("seven cylinders", "Linnet", CYLINDERS, SECONDS_MAX_SEVEN),
        (f"seven cylinders, {SCARCE} lines scarce", "Twelve", CYLINDERS, SECONDS_MAX_SEVEN),
    )
    for name, engine_type, cylinders, seconds_max in cases:
        ours, references = [], []
        with closing(sqlite3.connect(path)) as connection:
            for round_number in range(ROUNDS + 1):
                with Session(engine) as session:
                    asked = asked_of(session, engine_type, cylinders)
                    began = time.perf_counter()
                    proposal = propose(session, asked)
                    between = time.perf_counter()
                filled_by_hand = first_come_by_hand(connection, asked)
                ended = time.perf_counter()
                # The first round loads the solver and warms the cache.
                if round_number:
                    ours.append(between - began)
                    references.append(ended - between)
        filled = sum(kit.lines_filled for kit in proposal.kits)
        print(
            f"{name}: {filled} of {LINES * cylinders} lines filled ({filled_by_hand} by hand),"
            f" {'proven' if proposal.proven else 'NOT PROVEN'}"
        )
        yield Measured(
            f"proposing {name}",
            statistics.median(ours),
            statistics.median(references),
            seconds_max=seconds_max if proposal.proven else 0.0,
        )
    engine.dispose()


def main() -> int:
    """Measure in the large store named, or in one of its own; 0 if all is within what is promised."""
    within = True
    with tempfile.TemporaryDirectory(prefix="invdb-bench-") as folder:
        path = Path(*sys.argv[1:2] or (folder, "large.invdb"))
        if not path.exists():
            build(path, Size())
        for measured in measure(path):
            print(measured, flush=True)
            within &= measured.within
    return 0 if within else 1


if __name__ == "__main__":
    raise SystemExit(main())
