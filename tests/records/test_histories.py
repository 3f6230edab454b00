"""Any sequence of entries, late and reversed ones among them, keeps what stands beside the ledger true."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from invdb.acts.check import check_session
from invdb.acts.numbers import Thing
from invdb.records.draft import Draft
from invdb.records.ledger import Entry, EntryFact, EntryLine
from invdb.records.posting import post
from invdb.records.stock import Holding, Piece, PullLine, Stay
from invdb.rules.folding import OUTSIDE_PLACE, Fact, LedgerEntry, Line, fold
from invdb.terms import Condition, EntryKind, LineKind, Origin, PlaceKind, Refused
from tests.rules.slow_replay import Replayed, compare, replay
from tests.shop import BEGUN_ON, TODAY, Shop, postgres_shop, sqlite_shop

FIRST = TODAY - timedelta(days=5)
# A history takes a while on a real database, so there are fewer of them than of pure examples.
EXAMPLES = settings().max_examples
Deed = tuple[str, int, int, int, int, int]


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def shop(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    """The workshop, shared by all the histories: each is lived through in a transaction and given up."""
    sqlite = request.param == "sqlite"
    with sqlite_shop(tmp_path_factory.mktemp("histories")) if sqlite else postgres_shop() as opened:
        yield opened


class Life:
    """What a history does in the workshop: two pieces, two batches, one pull, three bins."""

    def __init__(self, shop: Shop, session: Session) -> None:
        self.shop = shop
        self.session = session
        self.posted: list[int] = []
        draft = shop.draft(BEGUN_ON, EntryKind.RESERVED)
        self.pull = draft.new(
            session, "pull", number="P1", engine_id=1, position_id=1, asked_on=BEGUN_ON, asked_by=1
        )
        place = draft.new(session, "place", kind=PlaceKind.PULL, name="Pull P1", pull_id=self.pull)
        self.lines = [
            draft.new(
                session,
                "pull_line",
                pull_id=self.pull,
                kit_line_id=shop.kit_valve,
                wanted_part_id=shop.valve,
                part_id=shop.valve,
                quantity=4,
            )
            for _ in range(2)
        ]
        post(session, draft)
        self.places = [OUTSIDE_PLACE, shop.bin_a, shop.bin_b, place]
        draft = shop.draft(BEGUN_ON, EntryKind.GOODS_IN)
        self.things: list[Thing] = []
        for number in range(2):
            stock = {
                "condition": Condition.UNINSPECTED,
                "origin": Origin.NEW,
                "owner_id": shop.workshop,
                "received_on": BEGUN_ON,
            }
            piece = draft.new(session, "piece", tag=f"T{number}", part_id=shop.valve, **stock)
            batch = draft.new(session, "batch", tag=f"B{number}", part_id=shop.spring, **stock)
            self.things += [Thing(piece=piece), Thing(batch=batch)]
        post(session, draft)

    def draft_of(self, deed: Deed) -> Draft | None:
        """The entry that a deed asks for; None when there is nothing to reverse."""
        what, days, which, here, there, quantity = deed
        on = FIRST + timedelta(days=days)
        thing = self.things[which]
        if what == "reverse":
            if not self.posted:
                return None
            number = self.posted[quantity % len(self.posted)]
            return self.shop.draft(on, EntryKind.REVERSED, reverses=number)
        draft = self.shop.draft(on)
        if what == "set":
            record, row = ("piece", thing.piece) if thing.piece is not None else ("batch", thing.batch)
            assert row is not None
            draft.set(record, row, note=f"note {quantity}", **({"donor": f"donor {there}"} if here else {}))
            return draft
        what_of = {"piece": thing.piece, "batch": thing.batch}
        amount = 1 if thing.piece is not None else quantity
        if what == "reserve":
            sign = 1 if there % 2 else -1
            draft.reserve(self.places[here], self.lines[there // 2], quantity=sign * amount, **what_of)
        elif here != there:
            line = (
                self.lines[quantity % 2]
                if self.places[3] in (self.places[here], self.places[there])
                else None
            )
            draft.move(self.places[here], self.places[there], quantity=amount, pull_line=line, **what_of)
        return draft

    def live(self, deed: Deed) -> None:
        """Post what a deed asks for if it may be, and be refused only what could not have been."""
        draft = self.draft_of(deed)
        if draft is None:
            return
        before = read_ledger(self.session)
        try:
            with self.session.begin_nested():
                self.posted.append(post(self.session, draft).number)
        except Refused as refused:
            assert could_not_be(before, draft), f"refused without need: {refused}"
        else:
            assert not could_not_be(before, draft), "let in, though it contradicts the rest"


def could_not_be(before: list[LedgerEntry], draft: Draft) -> bool:
    """Whether an entry, were it in the ledger, would leave something that can't be."""
    number = len(before) + 1
    lines = [
        Line(
            number,
            ordinal,
            draft.happened_on,
            line.kind,
            line.piece_id,
            line.batch_id,
            line.from_place_id,
            line.to_place_id,
            line.quantity,
            line.pull_line_id,
        )
        for ordinal, line in enumerate(draft.lines, start=1)
    ]
    if draft.reverses is not None and (
        before[draft.reverses - 1].reverses is not None
        or draft.reverses in {entry.reverses for entry in before}
    ):
        return True
    last = before[-1].recorded_at + timedelta(seconds=1)
    entry = LedgerEntry(number, draft.happened_on, last, draft.reverses, lines, draft.facts)
    return bool(replay([*before, entry]).wrong)


def read_ledger(session: Session) -> list[LedgerEntry]:
    """All entries, as plain values."""
    lines: dict[int, list[Line]] = {}
    facts: dict[int, list[Fact]] = {}
    days = {entry.number: entry.happened_on for entry in session.scalars(select(Entry))}
    for row in session.scalars(select(EntryLine).order_by(EntryLine.entry_number, EntryLine.ordinal)):
        lines.setdefault(row.entry_number, []).append(
            Line(
                row.entry_number,
                row.ordinal,
                days[row.entry_number],
                LineKind(row.kind),
                row.piece_id,
                row.batch_id,
                row.from_place_id,
                row.to_place_id,
                row.quantity,
                row.pull_line_id,
            )
        )
    for fact in session.scalars(select(EntryFact).order_by(EntryFact.entry_number, EntryFact.ordinal)):
        facts.setdefault(fact.entry_number, []).append(
            Fact(fact.record, fact.record_id, json.loads(fact.values))
        )
    return [
        LedgerEntry(
            entry.number,
            entry.happened_on,
            entry.recorded_at,
            entry.reverses,
            lines.get(entry.number, []),
            facts.get(entry.number, []),
        )
        for entry in session.scalars(select(Entry).order_by(Entry.number))
    ]


DEEDS = st.lists(
    st.tuples(
        st.sampled_from(["move", "move", "move", "reserve", "set", "reverse"]),
        st.integers(0, 5),
        st.integers(0, 3),
        st.integers(0, 3),
        st.integers(0, 3),
        st.integers(1, 6),
    ),
    max_size=14,
)
# Things come in first, so that most of what follows can be.
COMING_IN: list[Deed] = [("move", 0, which, 0, 1, 6) for which in range(4)]


def live(shop: Shop, session: Session, deeds: list[Deed]) -> Life:
    life = Life(shop, session)
    for deed in [*COMING_IN, *deeds]:
        life.live(deed)
    return life


@settings(max_examples=EXAMPLES // 2)
@given(deeds=DEEDS)
def test_any_history_leaves_the_store_true_to_its_ledger(shop: Shop, deeds: list[Deed]) -> None:
    with shop.store.writing() as session:
        life = live(shop, session, deeds)
        assert check_session(session).differences == ()
        slow = replay(read_ledger(session))
        stand_as_replayed(session, slow)
        quantities_are_kept(session, life, slow)
        session.rollback()


def stand_as_replayed(session: Session, slow: Replayed) -> None:
    """The tables beside the ledger, against the day-by-day replay."""
    for piece in session.scalars(select(Piece)):
        assert piece.place_id == slow.places.get(piece.id, OUTSIDE_PLACE)
        assert piece.reserved_for == slow.reserved_for.get(piece.id)
        stays = session.scalars(select(Stay).where(Stay.piece_id == piece.id).order_by(Stay.sequence))
        assert [
            [stay.place_id, stay.from_on, stay.from_entry, stay.to_on, stay.to_entry] for stay in stays
        ] == slow.stays.get(piece.id, [])
    assert {
        (held.batch_id, held.place_id): (held.quantity, held.reserved)
        for held in session.scalars(select(Holding))
    } == {
        (batch, place): (quantity, slow.reserved.get((batch, place), 0))
        for (batch, place), quantity in slow.quantities.items()
        if quantity and place != OUTSIDE_PLACE
    }
    for line in session.scalars(select(PullLine)):
        counts = [line.reserved, line.issued, line.returned, line.fitted]
        assert counts == slow.pulled.get(line.id, [0, 0, 0, 0])


def quantities_are_kept(session: Session, life: Life, slow: Replayed) -> None:
    """What came in and did not go out again is what lies in the places, to the last one."""
    for thing in life.things:
        if thing.batch is not None:
            held = session.scalar(select(func.sum(Holding.quantity)).where(Holding.batch_id == thing.batch))
            assert (held or 0) == -slow.quantities.get((thing.batch, OUTSIDE_PLACE), 0)


@settings(max_examples=EXAMPLES // 4)
@given(deeds=DEEDS, days=st.integers(-1, 6), back=st.integers(0, 18))
def test_the_state_on_a_day_as_believed_at_an_instant(
    shop: Shop, deeds: list[Deed], days: int, back: int
) -> None:
    with shop.store.writing() as session:
        live(shop, session, deeds)
        entries = read_ledger(session)
        session.rollback()
    on: date = FIRST + timedelta(days=days)
    believed_at = entries[max(len(entries) - 1 - back, 0)].recorded_at
    state = fold(entries, on, believed_at)
    compare(state, replay(entries, on, believed_at))
    assert state.contradictions == [], "what was let in was believed whole at every moment"


@settings(max_examples=EXAMPLES // 4)
@given(deeds=DEEDS)
def test_reversing_everything_from_the_end_leaves_the_workshop_as_it_was(
    shop: Shop, deeds: list[Deed]
) -> None:
    with shop.store.writing() as session:
        life = Life(shop, session)
        before = rows_of(session)
        for deed in [*COMING_IN, *deeds]:
            life.live(deed)
        undone = {entry.reverses for entry in read_ledger(session)}
        for number in reversed(life.posted):
            entry = session.get_one(Entry, number)
            if entry.reverses is None and number not in undone:
                post(session, shop.draft(TODAY, EntryKind.REVERSED, reverses=number))
        session.expire_all()
        assert rows_of(session) == before
        session.rollback()


def rows_of(session: Session) -> list[object]:
    found: list[object] = []
    for table in (Piece, Stay, Holding, PullLine):
        columns = table.__table__.columns
        found += [tuple(row) for row in session.execute(select(*columns).order_by(*columns))]
    return found
