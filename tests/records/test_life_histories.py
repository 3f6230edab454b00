"""Life as it is kept equals life lived through hundredth by hundredth, over any history of engines."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.check import check_session
from invdb.acts.life import life_of
from invdb.acts.running import LogBegin, begin_log
from invdb.records.draft import Draft
from invdb.records.life import RAN_COLUMNS, Running, Service
from invdb.records.posting import post
from invdb.records.stock import Place
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.running import NOTHING, Ran, Span, ran_from
from invdb.terms import Condition, EntryKind, HoursKnown, Origin, PlaceKind, Refused, RunningUse
from tests.rules.slow_life import BIN, Happened, Lives, Move, Run, Where, live_through
from tests.shop import BEGUN_ON, TODAY, Shop, postgres_shop, sqlite_shop

FIRST = TODAY - timedelta(days=6)
METER = 100
PIECES = 5
EXAMPLES = settings().max_examples
Deed = tuple[str, int, int, int, int, bool]


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def shop(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    """The workshop, shared by all the histories: each is lived through in a transaction and given up."""
    sqlite = request.param == "sqlite"
    with sqlite_shop(tmp_path_factory.mktemp("lives")) if sqlite else postgres_shop() as opened:
        yield opened


class Engines:
    """Two engines, one with a meter and one without, and five pieces that go in and out of them."""

    def __init__(self, shop: Shop, session: Session) -> None:
        self.shop = shop
        self.session = session
        self.engines = [shop.engine, shop.engine_two]
        self.meters: dict[int, int | None] = {shop.engine: METER, shop.engine_two: None}
        self.standing: dict[int, Happened] = {}
        for engine, meter in self.meters.items():
            begin_log(session, engine, LogBegin(meter), shop.by(BEGUN_ON))
        draft = shop.draft(BEGUN_ON, EntryKind.GOODS_IN)
        self.places: dict[Where, int] = {BIN: shop.bin_a}
        self.pieces = [
            draft.new(
                session,
                "piece",
                tag=f"T{number}",
                part_id=shop.valve,
                condition=Condition.UNINSPECTED,
                origin=Origin.NEW,
                owner_id=shop.workshop,
                received_on=BEGUN_ON,
                prior_hours_known=HoursKnown.EXACT,
                prior_hours_low=0,
                prior_hours_high=0,
                prior_starts_known=HoursKnown.EXACT,
                prior_starts_low=0,
                prior_starts_high=0,
            )
            for number in range(PIECES)
        ]
        for piece in self.pieces:
            self.places["piece", piece] = draft.new(
                session, "place", kind=PlaceKind.PIECE, name=f"In T{piece}", piece_id=piece
            )
            draft.move(OUTSIDE_PLACE, shop.bin_a, piece=piece)
        for engine in self.engines:
            self.places["engine", engine] = draft.new(
                session,
                "place",
                kind=PlaceKind.STATION,
                name=f"Seat {engine}",
                engine_id=engine,
                parent_id=session.scalars(
                    select(Place.id).where(Place.engine_id == engine, Place.kind == PlaceKind.ENGINE)
                ).one(),
            )
        post(session, draft)

    def simulated(self, until: date | None = None, before: int | None = None) -> Lives:
        """What stands, lived through slowly."""
        return live_through(self.standing.values(), self.pieces, self.meters, until, before)

    def live(self, deed: Deed) -> None:
        """Post what a deed asks for; one that could not have been is refused, and then nothing happened."""
        what, days, which, target, amount, both = deed
        on = FIRST + timedelta(days=days)
        if what == "reverse":
            numbers = sorted(self.standing)
            if not numbers:
                return
            number = numbers[amount % len(numbers)]
            if self._post(self.shop.draft(TODAY, EntryKind.REVERSED, reverses=number)) is not None:
                del self.standing[number]
            return
        draft = self.shop.draft(on, EntryKind.FITTED)
        engine = self.engines[target % 2]
        then = self.simulated(on)
        runs = () if what == "move" and not both else (self._run(draft, engine, then, what, amount, both),)
        moves = (self._move(draft, self.pieces[which], target, then),) if what == "move" else ()
        if None in moves:
            return
        posted = self._post(draft)
        if posted is not None:
            self.standing[posted] = Happened(
                posted, on, runs, tuple(move for move in moves if move is not None)
            )

    def _post(self, draft: Draft) -> int | None:
        try:
            with self.session.begin_nested():
                return post(self.session, draft).number
        except Refused:
            return None

    def _run(self, draft: Draft, engine: int, then: Lives, what: str, amount: int, both: bool) -> Run:
        """A line of a log: by the meter, by hand, or a meter that was changed while a book was lost."""
        meter = then.meters[engine]
        use = RunningUse.FLIGHT if amount % 3 else RunningUse.GROUND
        reading = None if meter is None or (both and what == "run") else meter + amount
        hours, starts, new_reading = NOTHING, Span(amount % 4, amount % 4), None
        if reading is None:
            hours = Span(amount, amount)
        if what == "meter":
            hours = Span(amount, amount, 1) if both else Span(amount, amount + 3)
            reading, new_reading = None, amount
        known, started = hours.known(), starts.known()
        draft.new(
            self.session,
            "running",
            engine_id=engine,
            ran_on=draft.happened_on,
            use=use,
            reading=reading,
            new_reading=new_reading,
            hours_known=known.known,
            hours_low=known.low,
            hours_high=known.high,
            starts_known=started.known,
            line_starts_low=started.low,
            line_starts_high=started.high,
        )
        word = "flight" if use is RunningUse.FLIGHT else "ground"
        return Run(engine, word, reading, hours, starts, new_reading)

    def _move(self, draft: Draft, piece: int, target: int, then: Lives) -> Move | None:
        """A piece from where it was at the end of that day: into an engine, into another piece, or out."""
        targets: list[Where] = [("engine", engine) for engine in self.engines]
        targets += [BIN, *(("piece", other) for other in self.pieces)]
        here, there = then.where[piece], targets[target]
        if here == there or there == ("piece", piece):
            return None
        before, kind, holder = then.engine_of(piece), *there
        after = holder if kind == "engine" else then.engine_of(holder) if kind == "piece" else None
        draft.move(
            self.places[here], self.places[there], piece=piece, engine=after if before is None else before
        )
        return Move(piece, there)

    def check(self, on: date) -> None:
        """What is kept is what was lived through: now, and at the end of a day."""
        now, then = self.simulated(), self.simulated(on)
        totals = {engine: self._total(engine) for engine in self.engines}
        for engine, total in totals.items():
            assert _counts(total) == now.engines[engine], f"engine {engine}"
        kept: dict[tuple[int, int], Ran] = {}
        for row in self.session.scalars(select(Service).execution_options(populate_existing=True)):
            served = ran_from(getattr(row, column) for column in RAN_COLUMNS)
            if row.to_entry is None:
                served += totals[row.engine_id]
            key = (row.piece_id, row.engine_id)
            kept[key] = kept.get(key, Ran()) + served
        for piece in self.pieces:
            for engine in self.engines:
                served = kept.get((piece, engine), Ran())
                assert _counts(served) == now.pieces[piece, engine], f"piece {piece} in engine {engine}"
        for lives, day in ((now, None), (then, on)):
            for piece, life in life_of(self.session, self.pieces, day).items():
                assert _counts(life.since_new) == lives.of_piece(piece), f"piece {piece} by {day}"
                assert life.engine == lives.engine_of(piece)

    def _total(self, engine: int) -> Ran:
        last = self.session.execute(
            select(*(getattr(Running, column) for column in RAN_COLUMNS))
            .where(Running.engine_id == engine)
            .order_by(Running.ran_on.desc(), Running.set_by.desc())
            .limit(1)
        ).one_or_none()
        return Ran() if last is None else ran_from(last)


def _counts(ran: Ran) -> Counter[str]:
    return +Counter(ran.columns())


deeds = st.tuples(
    st.sampled_from(["run", "run", "run", "move", "move", "move", "meter", "reverse"]),
    st.integers(0, 6),
    st.integers(0, PIECES - 1),
    st.integers(0, PIECES + 2),
    st.integers(0, 12),
    st.booleans(),
)


@settings(max_examples=EXAMPLES)
@given(history=st.lists(deeds, min_size=12, max_size=30), day=st.integers(0, 6))
def test_life_as_kept_is_life_as_lived(shop: Shop, history: list[Deed], day: int) -> None:
    with shop.store.writing() as session:
        engines = Engines(shop, session)
        for deed in history:
            engines.live(deed)
        engines.check(FIRST + timedelta(days=day))
        assert check_session(session).differences == ()
        session.rollback()
