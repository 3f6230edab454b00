"""Whatever is sent, got back, scrapped, matched, made another part and undone: the books agree with the
ledger, and no piece is in two matched sets, out on two orders, or scrapped and among stock."""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from invdb.acts import catalogue
from invdb.acts.by import By
from invdb.acts.catalogue import NewPart
from invdb.acts.check import check_store
from invdb.acts.life_reset import LifeResetOrder
from invdb.acts.matched import NewMatch, end_match, match_pieces, matched_with
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing
from invdb.acts.part_then import part_on
from invdb.acts.reidentify import NewIdentity, reidentify
from invdb.acts.reverse import reverse
from invdb.acts.scrap import ScrapOrder, scrap
from invdb.acts.things import things_by_id
from invdb.acts.work import BackLine, ToSend, WorkBack, WorkSent, back_from_work, send_for_work
from invdb.acts.work_list import work_orders
from invdb.records.ledger import Entry
from invdb.records.stock import Batch, Holding, Piece, Place
from invdb.records.work import MatchedSet, Reidentification, Scrapping, WorkLine
from invdb.terms import (
    Condition,
    EntryKind,
    MatchedAs,
    PlaceKind,
    Refused,
    Tracking,
    Unusable,
    WorkWanted,
)
from tests.engine_shop import LONG_AGO, came
from tests.shop import TODAY, Shop, sqlite_shop

SPRINGS = 12
UNDONE = (
    EntryKind.SENT_FOR_WORK,
    EntryKind.BACK_FROM_WORK,
    EntryKind.SCRAPPED,
    EntryKind.REIDENTIFIED,
    EntryKind.MATCHED,
    EntryKind.MOVED,
)
ACTS = (
    *("send", "send", "send", "back", "back", "back", "back", "scrap", "reidentify", "reidentify"),
    *("match", "match", "end match", "move", "reverse", "reverse"),
)
DRAWS = st.tuples(st.sampled_from(ACTS), st.integers(0, 30), st.integers(0, 30), st.integers(0, 14))


class Keeper:
    """Does one drawn act; what it is done to is picked by number from what there is."""

    def __init__(self, shop: Shop, session: Session, parts: tuple[int, int], a: int, b: int, late: int):
        self.shop = shop
        self.session = session
        self.parts = parts
        self.a = a
        self.b = b
        self.by: By = shop.by(TODAY - timedelta(days=late) if late < 8 else TODAY)

    def things(self) -> list[Thing]:
        pieces = [Thing(piece=each) for each in self.session.scalars(select(Piece.id).order_by(Piece.id))]
        return pieces + [
            Thing(batch=each) for each in self.session.scalars(select(Batch.id).order_by(Batch.id))
        ]

    def pieces(self) -> tuple[int, ...]:
        """Two of them, mostly different ones."""
        pieces = self.session.scalars(select(Piece.id).order_by(Piece.id)).all()
        return pieces[self.a % len(pieces)], pieces[self.b % len(pieces)]

    def thing(self) -> tuple[Thing, int | None]:
        """A thing, and one of the places where it lies."""
        things = self.things()
        thing = things[self.a % len(things)]
        where = things_by_id(self.session, [thing])[thing].where
        return thing, where[self.b % len(where)].place if where else None

    def send(self) -> None:
        thing, place = self.thing()
        to_send = [ToSend(thing, 1 + self.b % 5 if thing.batch else 1, place)]
        mate = Thing(piece=self.pieces()[1])
        if self.b % 2 and mate != thing:
            to_send.append(ToSend(mate))
        kind = tuple(WorkWanted)[self.b % len(WorkWanted)]
        to = (self.shop.works, self.shop.bench)[self.a % 2]
        sent = WorkSent(to, kind, "Put right", tuple(to_send), hazards_seen=True)
        send_for_work(self.session, sent, self.by)

    def back(self) -> None:
        orders = work_orders(self.session)
        if not orders:
            return
        order = orders[self.a % len(orders)]
        lines = [line for line in order.lines if line.out]
        chosen = lines if self.b % 3 == 0 else [lines[self.b % len(lines)]]
        back = WorkBack(order.order, tuple(self.back_line(line.work_line, line.thing) for line in chosen))
        back_from_work(self.session, back, self.by)

    def back_line(self, line: int, thing: Thing) -> BackLine:
        quantity = 1 + self.a % 3 if thing.batch else 1
        if self.b % 5 == 0:
            gone = ScrapOrder(thing, "Cracked", Unusable.BY_A_FIRM, 0, hazards_seen=True)
            return BackLine(line, self.shop.scrap, "WR 7", quantity=quantity, scrapped=gone)
        unmended = self.b % 7 == 0
        condition = Condition.UNSERVICEABLE if unmended else Condition.UNINSPECTED
        identity = None
        if thing.piece and self.a % 4 == 0:
            identity = NewIdentity(
                0, self.parts[self.b % 2], "Scheme 12", "Bored", ("", "0.25 mm")[self.b % 2]
            )
        resets = LifeResetOrder("WR 7") if thing.piece and self.a % 5 == 0 else None
        to = (self.shop.bench, self.shop.bin_b)[self.a % 2]
        return BackLine(line, to, "WR 7", condition, quantity, None, resets, identity)

    def scrap(self) -> None:
        thing, place = self.thing()
        order = ScrapOrder(
            thing,
            "Worn",
            (Unusable.BY_A_FIRM, Unusable.KEPT_FOR_DISPLAY)[self.b % 4 == 0],
            self.shop.scrap,
            1 + self.a % 3 if thing.batch else None,
            place,
            hazards_seen=True,
        )
        scrap(self.session, order, self.by)

    def reidentify(self) -> None:
        piece, _ = self.pieces()
        size = ("", "0.25 mm", "0.5 mm")[self.b % 3]
        reidentify(
            self.session, NewIdentity(piece, self.parts[self.b % 2], "Scheme 12", "Bored", size), self.by
        )

    def match(self) -> None:
        kind = (MatchedAs.SET, MatchedAs.SET, MatchedAs.MATES)[self.b % 3]
        match_pieces(self.session, NewMatch(kind, "", "ran together", self.pieces()), self.by)

    def end_match(self) -> None:
        sets = self.session.scalars(select(MatchedSet.id).order_by(MatchedSet.id)).all()
        if sets:
            end_match(self.session, sets[self.a % len(sets)], "ground anew", self.by)

    def move(self) -> None:
        thing, place = self.thing()
        to = (self.shop.bin_b, self.shop.bench, self.shop.works, self.shop.scrap)[self.b % 4]
        move(self.session, (Shift(thing, from_place=place),), to, self.by)

    def reverse(self) -> None:
        numbers = self.session.scalars(
            select(Entry.number).where(Entry.kind.in_(UNDONE)).order_by(Entry.number)
        ).all()
        if numbers:
            # Of the last ones first: the older an entry, the more stands on it.
            number = numbers[-1 - self.a % len(numbers)]
            reverse(self.session, number, "Not so", self.shop.by())

    def act(self, name: str) -> Callable[[], None]:
        named: Callable[[], None] = getattr(self, name.replace(" ", "_"))
        return named


def stock_up(shop: Shop) -> tuple[int, int]:
    """Barrels, valves and springs; returns the barrel, and the part that one becomes when it is bored."""
    with shop.store.writing() as session:
        for part in (shop.barrel, shop.barrel, shop.valve, shop.valve):
            came(session, shop, part)
        came(session, shop, shop.spring, quantity=SPRINGS)
        family = catalogue.add_family(session, "BB", "Barrels, oversize", shop.by(LONG_AGO))
        bored = NewPart(family, "Barrel, oversize", Tracking.PIECE)
        return shop.barrel, catalogue.add_part(session, bored, shop.by(LONG_AGO))


def nothing_is_lost(session: Session) -> None:
    assert session.scalar(select(func.sum(Holding.quantity))) == SPRINGS


def a_piece_is_in_one_matched_set_and_out_on_one_order(session: Session) -> None:
    pieces = session.scalars(select(Piece.id)).all()
    for sets in matched_with(session, pieces).values():
        assert sum(each.kind is MatchedAs.SET for each in sets) <= 1
    out = Counter(
        line.thing
        for order in work_orders(session)
        for line in order.lines
        if line.out and line.thing.piece is not None
    )
    assert set(out.values()) <= {1}


def what_is_scrapped_is_not_among_stock_and_in_no_set(session: Session) -> None:
    rows = session.execute(
        select(Piece.id, Piece.condition, Place.kind)
        .join(Scrapping, Scrapping.piece_id == Piece.id)
        .join(Place, Place.id == Piece.place_id)
    ).all()
    for row in rows:
        assert row.condition is Condition.UNSALVAGEABLE
        assert row.kind not in {PlaceKind.BIN, PlaceKind.STORES}
    assert matched_with(session, [row.id for row in rows]) == {}


def what_is_missing_of_a_batch_came_back_or_was_scrapped(session: Session) -> None:
    """What comes back of the batch that came in, or is scrapped, is a batch of its own."""
    (came_in,) = session.scalars(select(Batch.id).where(Batch.parent_batch_id.is_(None)))

    def total(amount: InstrumentedAttribute[int], batch: InstrumentedAttribute[int | None]) -> int:
        return session.scalar(select(func.sum(amount)).where(batch == came_in)) or 0

    left = session.scalar(select(func.sum(Holding.quantity)).where(Holding.batch_id == came_in)) or 0
    back = total(WorkLine.returned, WorkLine.batch_id)
    # Those that came back scrapped are told of on their line and as scrapped.
    scrapped = total(Scrapping.quantity, Scrapping.batch_id) - total(WorkLine.scrapped, WorkLine.batch_id)
    assert left + back + scrapped == SPRINGS


def each_piece_is_the_part_that_its_last_identity_made_it(session: Session) -> None:
    for piece, part in session.execute(select(Piece.id, Piece.part_id)).all():
        rows = session.execute(
            select(
                Reidentification.reidentified_on,
                Reidentification.set_by,
                Reidentification.old_part_id,
                Reidentification.new_part_id,
            ).where(Reidentification.piece_id == piece)
        ).all()
        rows = sorted(rows, key=lambda row: (row[0], row[1]))
        assert part == (rows[-1].new_part_id if rows else part)
        for day in {row[0] for row in rows}:
            last = [row for row in rows if row[0] <= day][-1]
            assert part_on(session, piece, day) == last.new_part_id
        if rows:
            assert part_on(session, piece, date.min) in {row.old_part_id for row in rows} | {part}


@settings(max_examples=30)
@given(st.lists(DRAWS, min_size=12, max_size=30))
def test_any_sequence_of_work_agrees_with_the_ledger(draws: list[tuple[str, int, int, int]]) -> None:
    with tempfile.TemporaryDirectory() as folder, sqlite_shop(Path(folder)) as shop:
        parts = stock_up(shop)
        for name, a, b, late in draws:
            try:
                with shop.store.writing() as session:
                    Keeper(shop, session, parts, a, b, late).act(name)()
            except Refused as refusal:
                assert refusal.reason.strip()
            with shop.store.reading() as session:
                nothing_is_lost(session)
                a_piece_is_in_one_matched_set_and_out_on_one_order(session)
                what_is_scrapped_is_not_among_stock_and_in_no_set(session)
                what_is_missing_of_a_batch_came_back_or_was_scrapped(session)
                each_piece_is_the_part_that_its_last_identity_made_it(session)
        assert check_store(shop.store).differences == ()
