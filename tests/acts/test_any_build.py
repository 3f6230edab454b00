"""Whatever is fitted, stripped, run and undone on whatever day: the books are the ledger lived through."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.accept import Acceptance, accept
from invdb.acts.as_fitted import as_fitted, fitted_dates
from invdb.acts.by import By
from invdb.acts.check import check_store
from invdb.acts.fit import Fit, FitOrder, fit, fit_pull
from invdb.acts.fit_inside import InsideFit, fit_inside
from invdb.acts.numbers import Thing, position_named
from invdb.acts.presume import Unidentified, presume, strip_presumed
from invdb.acts.propose import propose
from invdb.acts.proposed import Asked
from invdb.acts.pull import cancel, issue, order_of, reserve
from invdb.acts.reverse import reverse
from invdb.acts.rob import Robbery, rob
from invdb.acts.running import MeterChange, Run, change_meter, log_at, log_run
from invdb.acts.strip import Strip, StripOrder, strip
from invdb.acts.strip_plan import plan_strip
from invdb.acts.things import things_by_id
from invdb.records.builds import Presumption
from invdb.records.ledger import Entry
from invdb.records.stock import Batch, Piece, Place, Pull
from invdb.terms import (
    Condition,
    EntryKind,
    HoursKnown,
    LifeControl,
    PlaceKind,
    PriorLife,
    Refused,
    RunningUse,
    Scope,
)
from tests.acts.lived_through import kept, lived
from tests.engine_shop import LONG_AGO, begin, came, station
from tests.fitted_shop import add_barrel_station
from tests.kit_shop import CHECKS
from tests.shop import TODAY, Shop, sqlite_shop

STATIONS = ("barrel", "exhaust valve", "exhaust springs", "head joint")
TAKES = {"barrel": 1, "exhaust valve": 1, "exhaust springs": 2, "head joint": 1}
UNDONE = (
    EntryKind.FITTED,
    EntryKind.STRIPPED,
    EntryKind.ROBBED,
    EntryKind.RUNNING_LOGGED,
    EntryKind.METER_CHANGED,
    EntryKind.BUILD_TAKEN_OVER,
    EntryKind.ISSUED,
    EntryKind.RESERVED,
    EntryKind.ACCEPTED,
)
ACTS = (
    "fit",
    "fit",
    "fit",
    "strip",
    "strip",
    "strip whole",
    "fit inside",
    "fit inside",
    "strip inside",
    "rob",
    "run",
    "run",
    "run by hand",
    "change meter",
    "accept",
    "presume",
    "strip presumed",
    "pull",
    "fit pull",
    "reverse",
    "reverse",
)
DRAWS = st.tuples(st.sampled_from(ACTS), st.integers(0, 30), st.integers(0, 30), st.integers(0, 14))


class Mechanic:
    """Does one drawn act; what it is done to is picked by number from what there is."""

    def __init__(self, shop: Shop, session: Session, a: int, b: int, late: int) -> None:
        self.shop = shop
        self.session = session
        self.a = a
        self.b = b
        self.on = TODAY - timedelta(days=late) if late < 8 else TODAY
        self.by: By = shop.by(self.on)
        self.engine = (shop.engine, shop.engine, shop.engine_two)[b % 3]

    def position(self) -> int:
        return position_named(self.session, self.engine, "12"[self.a % 2])

    def reading(self) -> tuple[int | None, RunningUse]:
        """What the meter may well read: a little more than it did by that day, or a little less."""
        meter = log_at(self.session, self.engine, self.on).state.meter
        use = tuple(RunningUse)[self.a % 2]
        return (None if meter is None else max(0, meter + (self.b % 9 - 1) * 50)), use

    def things(self) -> list[Thing]:
        found = [Thing(piece=each) for each in self.session.scalars(select(Piece.id).order_by(Piece.id))]
        return found + [
            Thing(batch=each) for each in self.session.scalars(select(Batch.id).order_by(Batch.id))
        ]

    def seated(self, *, inside: bool) -> list[tuple[Thing, int]]:
        """What sits in an engine at first hand, or in a piece, each with the place where it does."""
        states = things_by_id(self.session, self.things())
        kinds = {
            place: engine for place, engine in self.session.execute(select(Place.id, Place.engine_id)).all()
        }
        return [
            (state.thing, where.place)
            for state in states.values()
            for where in state.where
            if where.kind is PlaceKind.STATION and (kinds[where.place] is None) == inside
        ]

    def fit(self) -> None:
        things = self.things()
        thing = things[self.a % len(things)]
        state = things_by_id(self.session, [thing])[thing]
        shop = self.shop
        names = {
            shop.barrel: "barrel",
            shop.valve: "exhaust valve",
            shop.spring: "exhaust springs",
            shop.gasket: "head joint",
        }
        seat = station(self.session, self.engine, names[state.part])
        reading, use = self.reading()
        fits = (Fit(seat, thing, 1 + self.b % 2 if thing.batch else 1),)
        doubtful = state.condition is Condition.UNINSPECTED or (state.used and state.part == shop.gasket)
        reason = "Looked at on the bench" if doubtful else ""
        order = FitOrder(self.engine, self.position(), fits, reading, use, reason, sure=True)
        fit(self.session, order, self.by)

    def strip(self) -> None:
        seated = self.seated(inside=False)
        if seated:
            thing, place = seated[self.a % len(seated)]
            self._strip(self.session.get_one(Place, place).engine_id, thing, place)

    def strip_inside(self) -> None:
        seated = self.seated(inside=True)
        if seated:
            thing, place = seated[self.a % len(seated)]
            self._strip((None, self.shop.engine, self.shop.engine_two)[self.b % 3], thing, place)

    def _strip(self, engine: int | None, thing: Thing, place: int) -> None:
        self.engine = engine or self.engine
        reading, use = self.reading()
        each = Strip(thing, "worn", self.shop.bench, control=LifeControl.TAG, from_place=place)
        strip(self.session, StripOrder(engine, (each,), reading, use, sure=True), self.by)

    def strip_whole(self) -> None:
        build = as_fitted(self.session, self.engine)
        filled = [each.position for each in build.positions if any(seat.contents for seat in each.stations)]
        position = filled[self.a % len(filled)] if filled and self.b % 4 else None
        plan = plan_strip(
            self.session,
            self.engine,
            self.shop.bench,
            "worn",
            position=position,
            control=LifeControl.TAG,
        )
        reading, use = self.reading()
        strip(self.session, StripOrder(self.engine, plan, reading, use, sure=True), self.by)

    def fit_inside(self) -> None:
        barrels, valves = (
            self.session.scalars(select(Piece.id).where(Piece.part_id == part).order_by(Piece.id)).all()
            for part in (self.shop.barrel, self.shop.valve)
        )
        seat = station(self.session, self.shop.engine, "exhaust valve")
        inside = InsideFit(barrels[self.a % len(barrels)], valves[self.b % len(valves)], seat)
        fit_inside(self.session, (inside,), self.by)

    def rob(self) -> None:
        seated = self.seated(inside=False)
        if seated:
            thing, place = seated[self.a % len(seated)]
            donor = self.session.get_one(Place, place).engine_id
            assert donor is not None
            self.engine = donor
            other = {self.shop.engine: self.shop.engine_two, self.shop.engine_two: self.shop.engine}[donor]
            reading, use = self.reading()
            robbery = Robbery(
                donor,
                (thing,),
                self.shop.bench,
                self.shop.inspector,
                other,
                "needed",
                reading,
                control=LifeControl.RECORD,
                use=use,
                sure=True,
                from_places=(place,),
            )
            rob(self.session, robbery, self.by)

    def run(self) -> None:
        reading, use = self.reading()
        if reading is None:
            self.run_by_hand()
            return
        log_run(self.session, self.engine, Run(use, reading, starts=self.b % 4), self.by, sure=True)

    def run_by_hand(self) -> None:
        hours = 25 + self.a * 10
        use = tuple(RunningUse)[self.b % 2]
        log_run(self.session, self.engine, Run(use, hours=hours, starts=1), self.by, sure=True)

    def change_meter(self) -> None:
        reading, use = self.reading()
        unread = (
            PriorLife(HoursKnown.BETWEEN, self.a, self.a + self.b)
            if self.a % 3
            else PriorLife(HoursKnown.UNKNOWN)
        )
        old = reading if self.b % 2 else None
        change = MeterChange(self.a * 1000, old, unread, use=use)
        change_meter(self.session, self.engine, change, self.by, sure=True)

    def accept(self) -> None:
        things = self.things()
        acceptance = Acceptance(
            (things[self.a % len(things)],), Scope.FLIGHT, CHECKS, override="looked at closely"
        )
        accept(self.session, acceptance, self.by)

    def presume(self) -> None:
        presume(self.session, self.engine, self.by, (self.position(),))

    def strip_presumed(self) -> None:
        rows = self.session.scalars(select(Presumption).order_by(Presumption.id)).all()
        if rows:
            row = rows[self.a % len(rows)]
            self.engine = row.engine_id
            reading, use = self.reading()
            part = row.part_id if self.b % 3 else None
            find = Unidentified(row.id, "coked up", part, self.shop.bench, control=LifeControl.MARK)
            strip_presumed(self.session, row.engine_id, (find,), reading, self.by, use=use, sure=True)

    def pull(self) -> None:
        proposal = propose(self.session, (Asked(self.engine, self.position()),))
        (pull,) = reserve(self.session, tuple(order_of(kit) for kit in proposal.kits), self.by)
        if self.b % 4:
            issue(self.session, pull.pull, self.by)

    def fit_pull(self) -> None:
        pulls = self.session.execute(select(Pull.id, Pull.engine_id).order_by(Pull.id)).all()
        if pulls:
            pull, self.engine = pulls[self.a % len(pulls)]
            reading, use = self.reading()
            if self.b % 5 == 0:
                cancel(self.session, pull, "not wanted", self.by)
            else:
                fit_pull(self.session, pull, reading, self.by, use=use, sure=True)

    def reverse(self) -> None:
        numbers = self.session.scalars(
            select(Entry.number).where(Entry.kind.in_(UNDONE)).order_by(Entry.number)
        ).all()
        if numbers:
            # Of the last ones first: the older an entry, the more stands on it.
            reverse(self.session, numbers[-1 - self.a % len(numbers)], "Not so", self.shop.by())

    def act(self, name: str) -> Callable[[], None]:
        named: Callable[[], None] = getattr(self, name.replace(" ", "_"))
        return named


def stock_up(shop: Shop) -> None:
    """Two engines with their logs begun, one of them without a meter, and something to fit in them."""
    begin(shop, shop.engine, on=LONG_AGO)
    begin(shop, shop.engine_two, reading=None, on=LONG_AGO)
    with shop.store.writing() as session:
        add_barrel_station(shop, session)
        for part in (shop.barrel, shop.barrel, shop.valve, shop.valve, shop.valve):
            came(session, shop, part)
        came(session, shop, shop.spring, quantity=12)
        came(session, shop, shop.gasket, quantity=6, shelf_expiry_on=TODAY + timedelta(days=90))


def no_station_holds_too_much(session: Session, engine: int) -> None:
    """On no day since anything was fitted."""
    for day in [*fitted_dates(session, engine), date.max]:
        build = as_fitted(session, engine, min(day, TODAY))
        for position in build.positions:
            for seat in position.stations:
                there = sum(thing.quantity for thing in seat.filling)
                assert there <= TAKES[seat.name], f"{there} as the {seat.name} on {day}"
                assert not (seat.presumed and there), f"something unseen and {there} as the {seat.name}"


@settings(max_examples=25)
@given(st.lists(DRAWS, min_size=12, max_size=30))
def test_any_sequence_of_fitting_and_running_agrees_with_the_ledger_lived_through(
    draws: list[tuple[str, int, int, int]],
) -> None:
    with tempfile.TemporaryDirectory() as folder, sqlite_shop(Path(folder)) as shop:
        stock_up(shop)
        for name, a, b, late in draws:
            try:
                with shop.store.writing() as session:
                    Mechanic(shop, session, a, b, late).act(name)()
            except Refused as refusal:
                assert refusal.reason.strip()
            with shop.store.reading() as session:
                assert kept(session) == lived(session), name
        assert check_store(shop.store).differences == ()
        with shop.store.reading() as session:
            for engine in (shop.engine, shop.engine_two):
                no_station_holds_too_much(session, engine)
