"""A store of many engines and all that ever ran in them, filled straight into its tables.

Every piece went in and out of engines several times, with bins between, so that there are as many lines in
the ledger and as many stays as the size says. The same for the same sizes.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

from sqlalchemy import create_engine, event, insert
from sqlalchemy.orm import Session

from invdb.records import registry
from invdb.records.base import Base
from invdb.rules.numbering import next_sequence
from invdb.terms import (
    Condition,
    EntryKind,
    HoursKnown,
    Layout,
    LifeMeasure,
    LifeSince,
    LineKind,
    Measure,
    Origin,
    PlaceKind,
    RunningCounted,
    RunningUse,
    Scope,
    Tracking,
)
from tests.bench.large_store import Row, _chunks, _hurry, _row

BEGUN_ON = date(1996, 1, 6)
TODAY = date(2026, 3, 2)
CYLINDERS = 7
STATIONS = 30
BINS = 2_000
TYPES = 3
FIRST_BIN = 3
FLIGHT_A_DAY = 40


@dataclass(frozen=True)
class FleetSize:
    """How many there are: each engine has ``CYLINDERS`` × ``STATIONS`` pieces in it, the rest lie in bins."""

    pieces: int = 200_000
    lines_each: int = 25
    engines: int = 120
    parts: int = 3_000

    @property
    def fitted(self) -> int:
        """How many pieces are in engines."""
        return self.engines * CYLINDERS * STATIONS


def build_fleet(path: Path, size: FleetSize) -> None:
    """Fill a new SQLite file; about two minutes and a good gigabyte at the full size."""
    engine = create_engine(f"sqlite:///{path}")
    event.listen(engine, "connect", _hurry)
    assert registry.TABLES
    Base.metadata.create_all(engine)
    with Session(engine) as session:
        for table, rows in _tables(size):
            for some in _chunks(rows):
                session.execute(insert(Base.metadata.tables[table]), some)
        session.commit()
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql("PRAGMA journal_mode = WAL")
    engine.dispose()


def _tables(size: FleetSize) -> Iterator[tuple[str, Iterator[Row]]]:
    """Each table with its rows, in an order in which every row comes after those it points at."""
    yield "owner", iter([_row(1, name="Harrowmere Flying Museum", is_workshop=True)])
    yield "person", iter([_row(1, name="Ada Farrow", licence_number="HL 2041")])
    yield (
        "engine_type",
        iter([_row(i + 1, name=f"Linnet {i + 1}", layout=Layout.RADIAL) for i in range(TYPES)]),
    )
    yield "position", _positions()
    yield "station", _stations()
    yield "engine", _engines(size)
    yield "family", iter([_row(1, letters="VA", name="Valves")])
    yield "part", _parts(size)
    yield "life_limit", _limits(size)
    yield "place", _places(size)
    yield "running", _running(size)
    yield "piece", _pieces(size)
    yield "entry_kind", iter([{"word": EntryKind.MOVED}])
    yield "line_kind", iter([{"word": LineKind.MOVE}])
    yield "entry", _entries(size)
    yield "ledger_head", iter([_head(size)])
    yield "entry_line", _lines(size)
    yield "stay", _stays(size)
    yield "service", _services(size)


def _positions() -> Iterator[Row]:
    ids = itertools.count(1)
    for of_type in range(1, TYPES + 1):
        for cylinder in range(1, CYLINDERS + 1):
            yield _row(
                next(ids),
                engine_type_id=of_type,
                group_name="cylinder",
                name=str(cylinder),
                sequence=cylinder,
                x_thousandths=0,
                y_thousandths=0,
            )


def _stations() -> Iterator[Row]:
    ids = itertools.count(1)
    for of_type in range(1, TYPES + 1):
        for station in range(1, STATIONS + 1):
            yield _row(
                next(ids),
                engine_type_id=of_type,
                group_name="cylinder",
                name=f"station {station}",
                sequence=station,
                x_thousandths=0,
                y_thousandths=0,
            )


def _engines(size: FleetSize) -> Iterator[Row]:
    for i in range(size.engines):
        yield _row(
            i + 1,
            engine_type_id=i % TYPES + 1,
            serial=f"L{1000 + i}",
            name=f"Linnet {1000 + i}",
            use=Scope.FLIGHT,
            owner_id=1,
            log_begun_on=BEGUN_ON,
            log_reading=0,
            prior_hours_known=HoursKnown.EXACT,
            prior_hours_low=500_00,
            prior_hours_high=500_00,
        )


def _parts(size: FleetSize) -> Iterator[Row]:
    sequence = 0
    for i in range(size.parts):
        sequence, number = next_sequence("VA", sequence)
        # A third of the parts have a plain limit, above what nearly every piece has run.
        limit = (1_850 + i % 40 * 25) * 100 if i % 3 == 0 else None
        yield _row(
            i + 1,
            house_number=number,
            family_id=1,
            name=f"Valve {i}",
            tracking=Tracking.PIECE,
            measure=Measure.COUNT,
            life_limited=limit is not None,
            life_limit_hours=limit,
        )


def _limits(size: FleetSize) -> Iterator[Row]:
    """For a tenth of the parts a limit of starts, for another by flight hours on one type."""
    ids = itertools.count(1)
    for i in range(size.parts):
        if i % 10 == 1:
            yield _row(
                next(ids),
                part_id=i + 1,
                engine_type_id=None,
                measure=LifeMeasure.STARTS,
                counted=RunningCounted.ALL,
                since=LifeSince.NEW,
                amount=3_700 + i % 30 * 50,
            )
        if i % 10 == 2:
            yield _row(
                next(ids),
                part_id=i + 1,
                engine_type_id=i % TYPES + 1,
                measure=LifeMeasure.HOURS,
                counted=RunningCounted.FLIGHT,
                since=LifeSince.OVERHAUL,
                amount=(1_500 + i % 30 * 20) * 100,
            )


def _places(size: FleetSize) -> Iterator[Row]:
    """Every row with the same columns, as rows that are put in together must have."""
    nowhere = dict.fromkeys(("parent_id", "engine_id", "position_id", "station_id"))
    for row in _places_told(size):
        yield {"walking_order": 0, **nowhere, **row}


def _places_told(size: FleetSize) -> Iterator[Row]:
    yield _row(1, kind=PlaceKind.OUTSIDE, name="Outside")
    yield _row(2, kind=PlaceKind.STORES, name="Stores")
    for i in range(BINS):
        yield _row(FIRST_BIN + i, kind=PlaceKind.BIN, name=f"A-{i:05d}", parent_id=2, walking_order=i)
    for engine in range(1, size.engines + 1):
        own = _engine_place(engine)
        yield _row(own, kind=PlaceKind.ENGINE, name=f"Engine {engine}", engine_id=engine)
        of_type = (engine - 1) % TYPES
        for cylinder in range(CYLINDERS):
            for station in range(STATIONS):
                yield _row(
                    own + 1 + cylinder * STATIONS + station,
                    kind=PlaceKind.STATION,
                    name=f"Engine {engine} cylinder {cylinder} station {station}",
                    parent_id=own,
                    engine_id=engine,
                    position_id=of_type * CYLINDERS + cylinder + 1,
                    station_id=of_type * STATIONS + station + 1,
                )


def _engine_place(engine: int) -> int:
    return FIRST_BIN + BINS + (engine - 1) * (CYLINDERS * STATIONS + 1)


def _running(size: FleetSize) -> Iterator[Row]:
    """A line a month for each engine."""
    ids = itertools.count(1)
    days = (TODAY - BEGUN_ON).days
    for engine in range(1, size.engines + 1):
        for day in range(30, days, 30):
            flown = day * FLIGHT_A_DAY * (50 + engine % 50) // 100
            yield {
                **_row(next(ids)),
                "engine_id": engine,
                "ran_on": BEGUN_ON + timedelta(days=day),
                "use": RunningUse.FLIGHT,
                "reading": flown,
                "flight_low": flown,
                "flight_high": flown,
                "starts_low": day,
                "starts_high": day,
            }


def _pieces(size: FleetSize) -> Iterator[Row]:
    sequence = 0
    for i in range(size.pieces):
        sequence, tag = next_sequence("T", sequence)
        yield _row(
            i + 1,
            tag=tag,
            part_id=i % size.parts + 1,
            condition=Condition.SERVICEABLE,
            scope=Scope.FLIGHT,
            origin=Origin.NEW,
            owner_id=1,
            received_on=BEGUN_ON,
            prior_hours_known=HoursKnown.EXACT,
            prior_hours_low=i % 900 * 100,
            prior_hours_high=i % 900 * 100,
            prior_starts_known=HoursKnown.EXACT,
            prior_starts_low=i % 500,
            prior_starts_high=i % 500,
            place_id=_place_now(size, i),
        )


def _place_now(size: FleetSize, i: int) -> int:
    if i >= size.fitted:
        return FIRST_BIN + i % BINS
    engine, station = divmod(i, CYLINDERS * STATIONS)
    return _engine_place(engine + 1) + 1 + station


def _way(size: FleetSize, i: int) -> list[tuple[int, int, int]]:
    """The moves of a piece: (day, from place, to place); in every fifth place it is in an engine."""
    choice = random.Random(i)
    days = (TODAY - BEGUN_ON).days
    step = (days - 200) // size.lines_each
    at, way = 1, []
    for move in range(size.lines_each):
        day = move * step + choice.randrange(step)
        if move == size.lines_each - 1:
            to = _place_now(size, i)
        elif move % 5 == 3:
            engine = choice.randrange(size.engines) + 1
            to = _engine_place(engine) + 1 + i % (CYLINDERS * STATIONS)
        else:
            to = FIRST_BIN + (i + move) % BINS
        if to == at:
            to = FIRST_BIN + (i + move + 1) % BINS
        way.append((day, at, to))
        at = to
    return way


def _number(size: FleetSize, i: int, move: int) -> int:
    """The entry of a piece's move: each entry moves the same fifty pieces."""
    return move * ((size.pieces + 49) // 50) + i // 50 + 1


def _head(size: FleetSize) -> Row:
    last = _number(size, size.pieces - 1, size.lines_each - 1)
    return {"id": 1, "number": last, "hash": "0" * 64, "recorded_at": _recorded_at(last)}


def _recorded_at(number: int) -> datetime:
    return datetime.fromisoformat("1996-01-06T08:00:00+00:00") + timedelta(minutes=number)


def _entries(size: FleetSize) -> Iterator[Row]:
    for number in range(1, _number(size, size.pieces - 1, size.lines_each - 1) + 1):
        yield {
            "number": number,
            "kind": EntryKind.MOVED,
            "happened_on": BEGUN_ON,
            "recorded_at": _recorded_at(number),
            "who": 1,
            "note": "",
            "body": "{}",
            "previous_hash": "0" * 64,
            "hash": "0" * 64,
        }


def _lines(size: FleetSize) -> Iterator[Row]:
    for i in range(size.pieces):
        for move, (_, from_place, to_place) in enumerate(_way(size, i)):
            yield {
                "entry_number": _number(size, i, move),
                "ordinal": i % 50 + 1,
                "kind": LineKind.MOVE,
                "piece_id": i + 1,
                "from_place_id": from_place,
                "to_place_id": to_place,
                "quantity": 1,
            }


def _stays(size: FleetSize) -> Iterator[Row]:
    for i in range(size.pieces):
        way = _way(size, i)
        for move, (day, _, to_place) in enumerate(way):
            last = move == len(way) - 1
            yield {
                "piece_id": i + 1,
                "sequence": move + 1,
                "place_id": to_place,
                "from_on": BEGUN_ON + timedelta(days=day),
                "from_entry": _number(size, i, move),
                "to_on": None if last else BEGUN_ON + timedelta(days=way[move + 1][0]),
                "to_entry": None if last else _number(size, i, move + 1),
            }


def _services(size: FleetSize) -> Iterator[Row]:
    first_station = FIRST_BIN + BINS
    for i in range(size.pieces):
        way = _way(size, i)
        sequence = 0
        for move, (day, _, to_place) in enumerate(way):
            if to_place < first_station:
                continue
            sequence += 1
            engine = (to_place - first_station) // (CYLINDERS * STATIONS + 1) + 1
            last = move == len(way) - 1
            ended = None if last else way[move + 1][0]
            began_flown, began_starts = _ran(engine, day)
            flown, starts = (0, 0) if ended is None else _ran(engine, ended)
            yield {
                "piece_id": i + 1,
                "sequence": sequence,
                "engine_id": engine,
                "from_on": BEGUN_ON + timedelta(days=day),
                "from_entry": _number(size, i, move),
                "to_on": None if ended is None else BEGUN_ON + timedelta(days=ended),
                "to_entry": None if ended is None else _number(size, i, move + 1),
                "flight_low": flown - began_flown,
                "flight_high": flown - began_flown,
                "starts_low": starts - began_starts,
                "starts_high": starts - began_starts,
            }


def _ran(engine: int, day: int) -> tuple[int, int]:
    """What an engine's log says it flew (hundredths of an hour) and started by a day."""
    logged = day // 30 * 30
    return logged * FLIGHT_A_DAY * (50 + engine % 50) // 100, logged
