"""Whatever people do, in whatever order: nothing is lost, nothing is twice, and the ledger tells the same."""

from __future__ import annotations

import tempfile
from collections import defaultdict
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.accept import Acceptance, accept, set_condition
from invdb.acts.check import check_store
from invdb.acts.goods_in import GoodsIn, NewBatch, NewPiece, ReceivingChecks, receive
from invdb.acts.hold import Subject, clear_hold, raise_hold
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing
from invdb.acts.pick_list import pull_lines
from invdb.acts.propose import propose
from invdb.acts.proposed import Asked
from invdb.acts.pull import GiveBack, cancel, give_back, issue, order_of, reserve
from invdb.acts.reverse import reverse
from invdb.acts.split import Share, split
from invdb.records.engines import Position
from invdb.records.ledger import Entry, EntryLine
from invdb.records.stock import Batch, Hold, Holding, Piece, Pull
from invdb.terms import Condition, EntryKind, Origin, Refused, ReturnedAs, Scope
from tests.shop import TODAY, Shop, sqlite_shop

SET_UP = (
    EntryKind.STORE_BEGUN,
    EntryKind.CATALOGUE,
    EntryKind.PEOPLE,
    EntryKind.PLACES,
    EntryKind.ENGINES,
)
CHECKS = ReceivingChecks("yes", "match", "none", "sealed")
ACTS = (
    "book pieces",
    "book batch",
    "accept",
    "worsen",
    "split",
    "move",
    "hold",
    "clear",
    "reserve",
    "issue",
    "return",
    "cancel",
    "reverse",
)
DRAWS = st.tuples(st.sampled_from(ACTS), st.integers(0, 30), st.integers(0, 30), st.integers(0, 40))


class _Shelf:
    """Does one drawn act; what it is done to is picked by number from what there is."""

    def __init__(self, shop: Shop, session: Session, a: int, b: int, days_late: int) -> None:
        self.shop = shop
        self.session = session
        self.a = a
        self.b = b
        self.by = shop.by(TODAY - timedelta(days=days_late) if days_late in (1, 2, 3) else None)

    def _one_of(self, ids: list[int]) -> int | None:
        return ids[self.a % len(ids)] if ids else None

    def _thing(self) -> Thing | None:
        things = [Thing(piece=each) for each in self.session.scalars(select(Piece.id).order_by(Piece.id))]
        things += [Thing(batch=each) for each in self.session.scalars(select(Batch.id).order_by(Batch.id))]
        return things[self.a % len(things)] if things else None

    def _place(self) -> int:
        places = (self.shop.bin_a, self.shop.bin_b, self.shop.quarantine, self.shop.works, self.shop.bonded)
        return places[self.b % len(places)]

    def book_pieces(self) -> None:
        pieces = tuple(NewPiece() for _ in range(1 + self.a % 3))
        receive(
            self.session, GoodsIn(Origin.NEW, self._place(), part=self.shop.valve, pieces=pieces), self.by
        )

    def book_batch(self) -> None:
        goods = GoodsIn(Origin.NEW, self._place(), part=self.shop.spring, batch=NewBatch(1 + self.a))
        receive(self.session, goods, self.by)

    def accept(self) -> None:
        if thing := self._thing():
            scope = (Scope.FLIGHT, Scope.GROUND_RUNNING)[self.b % 2]
            acceptance = Acceptance((thing,), scope, CHECKS, override="looked at closely")
            accept(self.session, acceptance, self.by)

    def worsen(self) -> None:
        if thing := self._thing():
            condition = (Condition.UNSERVICEABLE, Condition.UNINSPECTED)[self.b % 2]
            set_condition(self.session, (thing,), condition, "looked at again", self.by)

    def split(self) -> None:
        rows = self.session.execute(select(Holding.batch_id, Holding.place_id)).all()
        if rows:
            batch, place = rows[self.a % len(rows)]
            shares = (Share(1 + self.b % 4, Condition.UNSERVICEABLE), Share(1, Condition.UNINSPECTED))
            split(self.session, batch, place, shares, self.by)

    def move(self) -> None:
        if thing := self._thing():
            move(
                self.session, (Shift(thing, 1 + self.b % 5 if thing.batch else None),), self._place(), self.by
            )

    def hold(self) -> None:
        if thing := self._thing():
            raise_hold(self.session, (Subject(piece=thing.piece, batch=thing.batch),), "a doubt", self.by)

    def clear(self) -> None:
        if hold := self._one_of(list(self.session.scalars(select(Hold.id).order_by(Hold.id)))):
            clear_hold(self.session, hold, "settled", self.by)

    def reserve(self) -> None:
        positions = list(self.session.scalars(select(Position.id).order_by(Position.id)))
        engine = (self.shop.engine, self.shop.engine_two)[self.b % 2]
        proposal = propose(self.session, (Asked(engine, positions[self.a % len(positions)]),))
        reserve(self.session, tuple(order_of(kit) for kit in proposal.kits), self.by)

    def _pull(self) -> int | None:
        return self._one_of(list(self.session.scalars(select(Pull.id).order_by(Pull.id))))

    def issue(self) -> None:
        if pull := self._pull():
            waiting = [line for line in pull_lines(self.session, pull) if line.reserved]
            only = {waiting[0].pull_line: 1} if waiting and self.b % 2 else None
            issue(self.session, pull, self.by, only)

    def return_(self) -> None:
        if pull := self._pull():
            out = [line for line in pull_lines(self.session, pull) if line.issued > line.returned]
            if out:
                how = tuple(ReturnedAs)[self.b % 3]
                back = GiveBack(out[0].pull_line, 1, how, self.shop.quarantine)
                give_back(self.session, pull, (back,), self.by)

    def cancel(self) -> None:
        if pull := self._pull():
            cancel(self.session, pull, "not wanted", self.by)

    def reverse(self) -> None:
        entries = list(
            self.session.scalars(select(Entry.number).where(Entry.kind.not_in(SET_UP)).order_by(Entry.number))
        )
        if number := self._one_of(entries):
            reverse(self.session, number, "should not have been", self.shop.by())

    def act(self, name: str) -> Callable[[], None]:
        named: Callable[[], None] = getattr(self, {"return": "return_"}.get(name, name.replace(" ", "_")))
        return named


def stock_up(shop: Shop) -> None:
    """Something to pull from the beginning: three valves, ten springs and two gaskets, all good."""
    later = TODAY + timedelta(days=300)
    with shop.store.writing() as session:
        for goods in (
            GoodsIn(Origin.NEW, shop.bin_a, part=shop.valve, pieces=(NewPiece(), NewPiece(), NewPiece())),
            GoodsIn(Origin.NEW, shop.bin_a, part=shop.spring, batch=NewBatch(10)),
            GoodsIn(Origin.NEW, shop.bin_b, part=shop.gasket, batch=NewBatch(2), shelf_expiry_on=later),
        ):
            things = tuple(thing for thing, _ in receive(session, goods, shop.by()).things)
            accept(session, Acceptance(things, Scope.FLIGHT, CHECKS, override="looked at"), shop.by())


def quantities(session: Session) -> tuple[int, int, int]:
    """Pieces there are, springs lying anywhere, and springs that the ledger says were taken in."""
    held = sum(session.scalars(select(Holding.quantity)))
    undone = {number for number in session.scalars(select(Entry.reverses)) if number is not None}
    net: dict[int, int] = defaultdict(int)
    lines = session.execute(
        select(
            EntryLine.entry_number, EntryLine.from_place_id, EntryLine.to_place_id, EntryLine.quantity
        ).where(EntryLine.batch_id.is_not(None))
    )
    for number, from_place, to_place, quantity in lines:
        if number not in undone:
            net[from_place] -= quantity
            net[to_place] += quantity
    return len(session.scalars(select(Piece.id)).all()), held, -net[1]


@settings(max_examples=50)
@given(st.lists(DRAWS, min_size=10, max_size=25))
def test_any_sequence_of_acts_conserves_quantities_and_replays_to_the_same(
    draws: list[tuple[str, int, int, int]],
) -> None:
    with tempfile.TemporaryDirectory() as folder, sqlite_shop(Path(folder)) as shop:
        stock_up(shop)
        for name, a, b, days_late in draws:
            with shop.store.reading() as session:
                before = quantities(session)
            refused = False
            try:
                with shop.store.writing() as session:
                    _Shelf(shop, session, a, b, days_late).act(name)()
            except Refused as refusal:
                refused = True
                assert refusal.reason.strip()
            with shop.store.reading() as session:
                pieces, held, taken_in = quantities(session)
            assert held == taken_in, name
            if refused:
                assert (pieces, held, taken_in) == before, f"{name} was refused and left something"
            elif name not in {"book pieces", "book batch", "reverse"}:
                assert (pieces, held) == before[:2], f"{name} changed what there is"
        report = check_store(shop.store)
        assert report.differences == ()
