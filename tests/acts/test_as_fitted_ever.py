"""Whatever is fitted, stripped and reversed, on whatever day it is said: the build of any day, as believed at
any instant, is what a replay of the whole ledger gives.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.as_fitted import as_fitted, fitted_dates
from invdb.acts.numbers import Thing
from invdb.records.posting import post
from invdb.records.stock import Piece
from invdb.rules.build import Build, fitted
from invdb.rules.folding import LedgerEntry
from invdb.terms import EntryKind, Refused
from tests.fitted_shop import Bench, add_barrel_station, add_mod
from tests.records.test_histories import read_ledger
from tests.rules.slow_replay import replay
from tests.shop import TODAY, Shop, postgres_shop, sqlite_shop

FIRST = TODAY - timedelta(days=5)
BEFORE = FIRST - timedelta(days=10)
CYLINDERS = ("1", "2")
STATIONS = ("exhaust valve", "exhaust springs", "barrel")
EXAMPLES = settings().max_examples
Deed = tuple[str, int, int, int, int]


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def shop(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    """The workshop, shared by all the histories: each is lived through in a transaction and given up."""
    sqlite = request.param == "sqlite"
    with sqlite_shop(tmp_path_factory.mktemp("builds")) if sqlite else postgres_shop() as opened:
        yield opened


class Life:
    """Two barrels, two valves and a batch of springs, that go into an engine, into a barrel and out again."""

    def __init__(self, shop: Shop, session: Session) -> None:
        self.bench = Bench(shop, session)
        add_barrel_station(shop, session)
        self.mod = add_mod(shop, session, "PN 14")
        self.barrels = [thing for thing, _ in shop.book_in(session, shop.barrel, pieces=2, on=BEFORE).things]
        valves = shop.book_in(session, shop.valve, pieces=2, on=BEFORE).things
        self.pieces = [*self.barrels, *(thing for thing, _ in valves)]
        self.springs = Thing(batch=shop.batch(session, 20, on=BEFORE))
        self.posted: list[int] = []
        self.engine_mod: int | None = None

    def live(self, deed: Deed) -> None:
        """Do what a deed asks for, if it may be."""
        try:
            with self.bench.session.begin_nested():
                number = self._do(*deed)
        except Refused:
            return
        if number is not None:
            self.posted.append(number)

    def _do(self, what: str, days: int, which: int, where: int, quantity: int) -> int | None:
        bench, on = self.bench, FIRST + timedelta(days=days)
        piece = self.pieces[which]
        cylinder, station = CYLINDERS[where % 2], STATIONS[where // 2]
        match what:
            case "fit":
                return bench.fit(piece, cylinder, station, on)
            case "fit springs":
                return bench.fit(self.springs, cylinder, station, on, quantity=quantity)
            case "fit inside":
                holder = self.barrels[where % 2].piece
                assert holder is not None
                thing = self.springs if which == 0 else self.pieces[2 + which % 2]
                return bench.fit_inside(thing, holder, station, on, quantity=quantity if which == 0 else 1)
            case "strip":
                at = bench.session.scalars(select(Piece.place_id).where(Piece.id == piece.piece)).one()
                return None if at == bench.shop.bench else bench.strip(piece, on)
            case "strip springs":
                draft = bench.shop.draft(on)
                seat = bench.seat(draft, cylinder, station)
                draft.move(seat, bench.shop.bin_a, batch=self.springs.batch, quantity=quantity)
                return post(bench.session, draft).number
            case "put back":
                draft = bench.shop.draft(on)
                draft.move(bench.shop.bench, bench.shop.bin_a, piece=piece.piece)
                return post(bench.session, draft).number
            case "name":
                draft = bench.shop.draft(on)
                part = (bench.shop.valve, bench.shop.barrel)[where % 2]
                draft.set("piece", piece.piece or 0, part_id=part, serial=f"S{quantity}")
                return post(bench.session, draft).number
            case "mod":
                return self._mod(on, embodied=where % 2 == 0)
            case "presume":
                return self._presume(on, cylinder, ended=quantity == 1)
        assert what == "reverse"
        if not self.posted:
            return None
        return bench.reverse(self.posted[-1 - (4 * where + which) % len(self.posted)], on)

    def _mod(self, on: date, embodied: bool) -> int:
        draft = self.bench.shop.draft(on, EntryKind.MOD_STATE)
        engine = self.bench.shop.engine
        if self.engine_mod is None:
            self.engine_mod = draft.new(
                self.bench.session,
                "engine_mod",
                engine_id=engine,
                mod_id=self.mod,
                embodied=embodied,
                since_on=on,
            )
        else:
            draft.set("engine_mod", self.engine_mod, embodied=embodied, since_on=on)
        return post(self.bench.session, draft).number

    def _presume(self, on: date, cylinder: str, ended: bool) -> int:
        bench = self.bench
        draft = bench.shop.draft(on, EntryKind.BUILD_TAKEN_OVER)
        draft.new(
            bench.session,
            "presumption",
            engine_id=bench.shop.engine,
            position_id=bench.position(cylinder),
            station_id=bench.station("exhaust valve"),
            kit_line_id=bench.shop.kit_valve,
            part_id=bench.shop.valve,
            quantity=1,
            presumed_on=on,
            ended_on=min(on + timedelta(days=1), TODAY) if ended else None,
        )
        return post(bench.session, draft).number


DEEDS = st.lists(
    st.tuples(
        st.sampled_from(
            ["fit", "fit", "fit springs", "fit inside", "fit inside", "strip", "strip springs", "put back"]
            + ["name", "mod", "presume", "reverse", "reverse"]
        ),
        st.integers(0, 5),
        st.integers(0, 3),
        st.integers(0, 5),
        st.integers(1, 4),
    ),
    max_size=12,
)
# Something is fitted first, so that there is something to strip and to reverse.
BEGINNING: list[Deed] = [
    ("fit inside", 0, 1, 2, 1),
    ("fit inside", 0, 0, 3, 2),
    ("fit", 1, 0, 4, 1),
    ("fit springs", 1, 0, 2, 2),
]


def live(shop: Shop, session: Session, deeds: list[Deed]) -> Life:
    life = Life(shop, session)
    for deed in [*BEGINNING, *deeds]:
        life.live(deed)
    return life


Row = tuple[Any, ...]


def rows_of(build: Build) -> Counter[Row]:
    """What a build says is where."""
    rows: Counter[Row] = Counter()
    for spot, thing in ((each.spot, each.thing) for each in fitted(build)):
        who = (thing.piece, thing.batch, thing.tag, thing.serial, thing.part, thing.quantity)
        where = (spot.position, spot.station, spot.holder)
        rows["fitted", *where, *who, thing.since_on, thing.since_entry] += 1
    for position in build.positions:
        for station in position.stations:
            for each in station.presumed:
                rows["presumed", position.position, station.station, each.presumption] += 1
            for thing in station.within:
                rows["within", position.position, station.station, thing.piece, thing.batch, thing.tag] += 1
    for mod in build.mods:
        rows["mod", mod] += 1
    return rows


class Slow:
    """The same from a replay of everything. A station's place may be first told of by a later day's entry."""

    def __init__(self, shop: Shop, entries: list[LedgerEntry], on: date, believed_at: datetime) -> None:
        self.entries, self.on, self.believed_at = entries, on, believed_at
        self.slow = replay(entries, on, believed_at)
        ever = replay(entries, TODAY, believed_at)
        self.places = {key[1]: values for key, values in ever.records.items() if key[0] == "place"}
        self.rows: Counter[Row] = Counter()
        for place, values in self.places.items():
            if values.get("engine_id") == shop.engine:
                self._add(place, values.get("position_id"), values.get("station_id"), None)
        for (record, record_id), values in self.slow.records.items():
            if record == "presumption" and (
                values["ended_on"] is None or values["ended_on"] > on.isoformat()
            ):
                self.rows["presumed", values["position_id"], values["station_id"], record_id] += 1
            if record == "engine_mod" and values["engine_id"] == shop.engine and values["embodied"]:
                self.rows["mod", self.slow.records["mod", values["mod_id"]]["code"]] += 1

    def _add(self, place: int, position: int | None, station: int | None, holder: int | None) -> None:
        """Count what lies at a place, and what lies in that."""
        things: list[tuple[int | None, int | None, int]] = [
            (piece, None, 1) for piece, at in self.slow.places.items() if at == place
        ] + [
            (None, batch, quantity)
            for (batch, at), quantity in self.slow.quantities.items()
            if at == place and quantity
        ]
        for piece, batch, quantity in things:
            if piece is not None:
                record = self.slow.records["piece", piece]
                mark, since = record.get("serial"), tuple(self.slow.stays[piece][-1][1:3])
            else:
                record = self.slow.records["batch", batch or 0]
                mark, since = record.get("maker_batch"), self._batch_since(batch or 0, place)
            who = (piece, batch, record["tag"], mark or "", record["part_id"], quantity)
            self.rows["fitted", position, station, holder, *who, *since] += 1
            if holder is not None:
                self.rows["within", position, station, piece, batch, record["tag"]] += 1
            own = [each for each, values in self.places.items() if values.get("piece_id") == piece]
            for inner, values in self.places.items():
                if piece is not None and values.get("parent_id") in own:
                    self._add(inner, position, values["station_id"], piece)

    def _batch_since(self, batch: int, place: int) -> tuple[date, int]:
        """The last entry that brought some of a batch to a place where there was none."""
        known = [each for each in self.entries if each.recorded_at <= self.believed_at]
        undone = {each.reverses for each in known}
        lines = sorted(
            (line.happened_on, line.number, line.ordinal, line)
            for each in known
            if each.number not in undone and each.happened_on <= self.on
            for line in each.lines
            if line.batch == batch and place in (line.from_place, line.to_place)
        )
        left, since = 0, (date.min, 0)
        for on, number, _, line in lines:
            came = line.quantity if line.to_place == place else -line.quantity
            if left <= 0 < left + came:
                since = (on, number)
            left += came
        return since


@settings(max_examples=EXAMPLES // 2)
@given(deeds=DEEDS, days=st.integers(-1, 5), back=st.integers(0, 14))
def test_the_build_of_any_day_as_believed_at_any_instant(
    shop: Shop, deeds: list[Deed], days: int, back: int
) -> None:
    with shop.store.writing() as session:
        live(shop, session, deeds)
        entries = read_ledger(session)
        on = FIRST + timedelta(days=days)
        last = entries[-1].recorded_at
        believed_at = entries[max(len(entries) - 1 - back, 0)].recorded_at
        assert (
            rows_of(as_fitted(session, shop.engine, on, believed_at))
            == Slow(shop, entries, on, believed_at).rows
        )
        assert rows_of(as_fitted(session, shop.engine, on)) == Slow(shop, entries, on, last).rows
        assert rows_of(as_fitted(session, shop.engine)) == Slow(shop, entries, TODAY, last).rows
        session.rollback()


@settings(max_examples=EXAMPLES // 6)
@given(deeds=DEEDS)
def test_the_build_changes_on_no_other_day_than_those_told(shop: Shop, deeds: list[Deed]) -> None:
    with shop.store.writing() as session:
        life = live(shop, session, [deed for deed in deeds if deed[0] not in {"name", "mod"}])
        told = fitted_dates(session, shop.engine)
        before = rows_of(as_fitted(session, shop.engine, FIRST - timedelta(days=1)))
        for days in range(6):
            on = FIRST + timedelta(days=days)
            after = rows_of(as_fitted(session, shop.engine, on))
            assert after == before or on in told
            before = after
        assert life.posted and all(FIRST <= day <= TODAY for day in told)
        session.rollback()
