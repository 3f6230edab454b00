"""A store of the size the benchmarks speak of, filled straight into its tables: the invented world, large.

The same for the same sizes, down to every number, so that lists of queries can be committed.
"""

from __future__ import annotations

import itertools
import random
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import create_engine, event, insert
from sqlalchemy.orm import Session

from invdb.records import registry, words
from invdb.records.base import Base
from invdb.rules.numbering import next_sequence
from invdb.terms import (
    Condition,
    FirmRole,
    Layout,
    Measure,
    Origin,
    PaperKind,
    PlaceKind,
    Scope,
    Tracking,
    WorkState,
)


def _listed(text: str) -> list[str]:
    return [item.strip() for item in text.split(",")]


TYPES = (("Linnet", Layout.RADIAL, 7), ("Dabchick", Layout.IN_LINE, 4), ("Twelve", Layout.VEE, 12))
MAKERS = ("Pellworth", "Corran")
SIDES = _listed("inlet, exhaust, front, rear, upper, lower, inner, outer, master, link, oil, coolant")
SIZES = _listed(", first oversize, second oversize, 0.25 mm oversize, 0.5 mm undersize, short, long")
LETTERS = _listed(
    """VA, VG, VS, VP, CO, RK, RO, PR, TP, PI, RG, SC, GP, CL, BA, CH, ST, NU, TW, SP,
    GK, SE, BE, SH, RD, BU, GE, CR, CM, PU, FI, JT, FL, CP, PL, LI, SL, SM, KE, HO"""
)
THINGS = _listed(
    """valve, valve guide, valve seat, valve spring, collet, rocker, rocker bush, push-rod, tappet, piston,
    piston ring, scraper ring, gudgeon pin, circlip, barrel, cylinder head, stud, nut, tab washer, split pin,
    gasket, seal, bearing, bearing shell, connecting rod, bush, gear, crankshaft, cam ring, pump,
    filter element, jet, float, contact point, plug adaptor, liner, sleeve, shim, key, hose"""
)
FIRM_HEADS = _listed(
    """Aldermoor, Brackwater, Coldstow, Dunmere, Eastlow, Fennick, Garrowby, Hexley, Ibbotsham, Jarrowick,
    Kelmarsh, Lowdale, Marlbeck, Nettlecombe, Ostermoor, Penlaw, Quarrendon"""
)
FIRM_TAILS = _listed(
    """Plating, Forgings, Grinding Works, Aero Spares, Bearings, Castings, Springs, Gaskets, Instruments,
    Heat Treatment, Rubber & Hose, Söhne, Kompressoren, Ateliers Généraux"""
)
TOWNS = _listed(
    "Harrowmere, Saltby, Corrandale, Pellworth-on-Sea, Üllestadt, Mórholm, Northwick, Tarn Bridge"
)
BEGUN_ON = date(1994, 3, 1)
ENGINES = 60
MODS = 120
SERIALS_OF_TEN = 7
ROWS_AT_ONCE = 20_000

Row = dict[str, Any]


@dataclass(frozen=True)
class Size:
    """How many of each record there are."""

    parts: int = 200_000
    pieces: int = 1_000_000
    batches: int = 40_000
    bins: int = 4_000
    documents: int = 20_000
    firms: int = 400
    pulls: int = 5_000


def build(path: Path, size: Size) -> None:
    """Fill a new SQLite file; some minutes and a good gigabyte at the full size."""
    engine = create_engine(f"sqlite:///{path}")
    event.listen(engine, "connect", _hurry)
    assert registry.TABLES
    Base.metadata.create_all(engine)
    with Session(engine) as session:
        for record, rows in _records(size):
            for some in _chunks(rows):
                session.execute(insert(registry.TABLES[record]), some)
                words.reindex(session.connection(), [(record, row["id"]) for row in some])
        session.commit()
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql("PRAGMA journal_mode = WAL")
    engine.dispose()


def _hurry(connection: sqlite3.Connection, _record: object) -> None:
    # The file is thrown away if anything goes wrong, so nothing needs to wait for the disk.
    for pragma in ("journal_mode = OFF", "synchronous = OFF", "cache_size = -2000000"):
        connection.execute(f"PRAGMA {pragma}")


def _chunks(rows: Iterator[Row]) -> Iterator[list[Row]]:
    while some := list(itertools.islice(rows, ROWS_AT_ONCE)):
        yield some


def _records(size: Size) -> Iterator[tuple[str, Iterator[Row]]]:
    """Each table with its rows, in an order in which every row comes after those it points at."""
    yield "firm", _firms(size)
    yield "owner", iter([{"id": 1, "set_by": 1, "name": "Harrowmere Flying Museum", "is_workshop": True}])
    yield "person", iter([{"id": 1, "set_by": 1, "name": "Ada Farrow"}])
    yield "engine_type", _engine_types()
    yield "position", _positions()
    yield "engine", _engines()
    yield "mod", _mods()
    yield "family", _families()
    yield "place", _places(size)
    yield "part", _parts(size)
    yield "other_number", _other_numbers(size)
    yield "document", _documents(size)
    yield "piece", _pieces(size)
    yield "batch", _batches(size)
    yield "pull", _pulls(size)


def _firms(size: Size) -> Iterator[Row]:
    names = [*MAKERS, *(f"{head} {tail}" for tail in FIRM_TAILS for head in FIRM_HEADS)]
    for i in range(size.firms):
        again = f" {i // len(names) + 1}" if i >= len(names) else ""
        role = (
            FirmRole.MAKER
            if i < len(MAKERS)
            else (FirmRole.SUPPLIER, FirmRole.WORKS, FirmRole.CUSTOMER)[i % 3]
        )
        yield _row(i + 1, name=names[i % len(names)] + again, role=role, town=TOWNS[i % len(TOWNS)])


def _engine_types() -> Iterator[Row]:
    for i, (name, layout, _) in enumerate(TYPES):
        yield _row(i + 1, name=name, layout=layout, maker_firm_id=1 + (name == "Twelve"))


def _positions() -> Iterator[Row]:
    ids = itertools.count(1)
    for i, (_, _, cylinders) in enumerate(TYPES):
        for cylinder in range(cylinders):
            yield _row(
                next(ids),
                engine_type_id=i + 1,
                group_name="cylinder",
                name=str(cylinder + 1),
                sequence=cylinder + 1,
                x_thousandths=0,
                y_thousandths=0,
            )


def _engines() -> Iterator[Row]:
    for i in range(ENGINES):
        name, _, _ = TYPES[i % len(TYPES)]
        yield _row(
            i + 1,
            engine_type_id=i % len(TYPES) + 1,
            serial=f"{name[0]}{1000 + 37 * i}",
            name=f"{name} {i // len(TYPES) + 1}",
            use=tuple(Scope)[i % len(Scope)],
            owner_id=1,
        )


def _mods() -> Iterator[Row]:
    for i in range(MODS):
        name, _, _ = TYPES[i % len(TYPES)]
        thing = THINGS[i % len(THINGS)]
        yield _row(
            i + 1, engine_type_id=i % len(TYPES) + 1, code=f"{name[0]}M/{i + 1:03d}", name=f"Improved {thing}"
        )


def _families() -> Iterator[Row]:
    for i, (letters, name) in enumerate(zip(LETTERS, THINGS, strict=True)):
        yield _row(i + 1, letters=letters, name=f"{name}s")


def _places(size: Size) -> Iterator[Row]:
    yield _row(1, kind=PlaceKind.OUTSIDE, name="Outside")
    yield _row(2, kind=PlaceKind.STORES, name="Stores")
    for i in range(size.bins):
        row, bay, shelf = i // 400, i // 20 % 20 + 1, i % 20 + 1
        name = f"{chr(ord('A') + row)}-{bay:02d}-{shelf:02d}"
        yield _row(i + 3, kind=PlaceKind.BIN, name=name, parent_id=2, walking_order=i, bonded=i % 3 == 0)


def _parts(size: Size) -> Iterator[Row]:
    choice = random.Random(1931)
    last = dict.fromkeys(LETTERS, 0)
    for i in range(size.parts):
        family = choice.randrange(len(LETTERS))
        letters = LETTERS[family]
        last[letters], number = next_sequence(letters, last[letters])
        words_of_name = [choice.choice(SIDES), THINGS[family], choice.choice(SIZES), choice.choice(TYPES)[0]]
        yield _row(
            i + 1,
            house_number=number,
            family_id=family + 1,
            name=" ".join(filter(None, words_of_name)).capitalize(),
            tracking=Tracking.PIECE if i % 3 else Tracking.BATCH,
            measure=Measure.COUNT,
        )


def _other_numbers(size: Size) -> Iterator[Row]:
    choice = random.Random(1928)
    ids = itertools.count(1)
    for part in range(1, size.parts + 1):
        drawing, mark = choice.randrange(100, 99_999), choice.randrange(1, 40)
        yield _row(next(ids), part_id=part, number=f"PW/{drawing}-{mark}", kind="maker's", firm_id=1)
        if part % 2:
            dealer = f"{choice.randrange(1000, 9999)}.{choice.randrange(0, 999):03d}"
            yield _row(next(ids), part_id=part, number=dealer, kind="dealer's", firm_id=4)


def _documents(size: Size) -> Iterator[Row]:
    for i in range(size.documents):
        kind = tuple(PaperKind)[i % len(PaperKind)]
        initials = "".join(word[0] for word in kind.split()).upper()
        year = 1994 + i * 30 // size.documents
        yield _row(
            i + 1,
            kind=kind,
            reference=f"{initials}-{year}-{i % 10_000:04d}",
            title=f"{kind} for {THINGS[i % len(THINGS)]}".capitalize(),
            dated_on=date(year, 6, 1),
        )


def _pieces(size: Size) -> Iterator[Row]:
    choice = random.Random(1934)
    sequence = 0
    for i in range(size.pieces):
        sequence, tag = next_sequence("T", sequence)
        serial = (
            f"{choice.choice('ABCDEFGH')}{choice.randrange(1, 99)}-{i % 100_000:05d}"
            if i % 10 < SERIALS_OF_TEN
            else None
        )
        yield _row(i + 1, tag=tag, serial=serial, place_id=_bin(choice, size), **_stock(choice, size, i))


def _batches(size: Size) -> Iterator[Row]:
    choice = random.Random(1936)
    sequence = 0
    for i in range(size.batches):
        sequence, tag = next_sequence("B", sequence)
        yield _row(i + 1, tag=tag, maker_batch=f"LOT {i % 9_000 + 100}", **_stock(choice, size, i))


def _stock(choice: random.Random, size: Size, i: int) -> dict[str, Any]:
    return {
        "part_id": choice.randrange(size.parts) + 1,
        "condition": choice.choice(tuple(Condition)),
        "scope": choice.choice(tuple(Scope)),
        "origin": choice.choice(tuple(Origin)),
        "work_state": WorkState.OVERHAULED if i % 50 == 0 else WorkState.AS_RECEIVED,
        "work_reference": f"WR-{i // 50:05d}" if i % 50 == 0 else "",
        "owner_id": 1,
        "received_on": BEGUN_ON + timedelta(days=i % 11_000),
    }


def _bin(choice: random.Random, size: Size) -> int:
    return choice.randrange(size.bins) + 3


def _pulls(size: Size) -> Iterator[Row]:
    sequence = 0
    for i in range(size.pulls):
        sequence, number = next_sequence("P", sequence)
        engine = i % ENGINES + 1
        yield _row(i + 1, number=number, engine_id=engine, position_id=1, asked_on=BEGUN_ON, asked_by=1)


def _row(row_id: int, **values: Any) -> Row:
    return {"id": row_id, "set_by": 1, **values}
