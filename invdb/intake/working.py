"""The acts of the tables about work: sent and got back, made another part, matched, scrapped."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By
from invdb.acts.life_reset import LifeResetOrder
from invdb.acts.matched import NewMatch, match_pieces
from invdb.acts.numbers import Thing
from invdb.acts.reidentify import NewIdentity, reidentify
from invdb.acts.scrap import ScrapOrder, scrap
from invdb.acts.work import BackLine, ToSend, WorkBack, WorkSent, back_from_work, send_for_work
from invdb.intake.alike import alike
from invdb.intake.booked import Booking, Turn, booked, singly
from invdb.intake.set_up import Ids
from invdb.intake.works import BackRow, BecameRow, IdentityRow, MatchedRow, OrderRow, ScrapRow, Works
from invdb.records.stock import Batch
from invdb.records.work import WorkLine
from invdb.terms import LifeMeasure, Refused


class Working:
    """Does these acts in one session; ``things`` is what other tables' acts made, and gains what these do."""

    def __init__(self, session: Session, works: Works, ids: Ids, things: dict[str, Thing]) -> None:
        self._session = session
        self._works = works
        self._ids = ids
        self._things = things
        self._orders: dict[str, int] = {}

    def bookings(self) -> list[Booking]:
        """Every act of these tables; what came back of one order on one day is one act."""
        works = self._works
        together = alike(works.backs, lambda row: (row.order, row.back_on, row.booked_on, row.who, row.note))
        return [
            *booked("work_orders.csv", Turn.SENT_FOR_WORK, singly(works.orders), self._send),
            *booked("work_returns.csv", Turn.BACK_FROM_WORK, together, self._get_back),
            *booked("reidentifications.csv", Turn.REIDENTIFIED, singly(works.identities), self._reidentify),
            *booked("matched_sets.csv", Turn.MATCHED, singly(works.matched), self._match),
            *booked("scrappings.csv", Turn.SCRAPPED, singly(works.scrappings), self._scrap),
        ]

    def _send(self, rows: tuple[OrderRow, ...]) -> None:
        (row,) = rows
        sent = WorkSent(
            self._ids.places[row.place],
            row.kind,
            row.wanted,
            tuple(
                ToSend(self._things[each.of], each.quantity, self._ids.places[each.from_place])
                for each in row.things
            ),
            row.due_on,
            hazards_seen=True,
        )
        made = send_for_work(self._session, sent, By(self._ids.people[row.who], row.sent_on, row.note))
        if made.number != row.number:
            raise Refused(f"the order's number is {made.number}, not {row.number}.", "Put that in its place.")
        self._orders[row.number] = made.order

    def _get_back(self, rows: tuple[BackRow, ...]) -> None:
        first = rows[0]
        lines = tuple(
            BackLine(
                self._line_of(row),
                self._ids.places[row.to_place],
                row.report,
                row.condition,
                row.quantity,
                self._ids.documents.get(row.document or ""),
                _resets(row),
                None if row.became is None else self._identity(row.of, row.became, row.document),
                self._scrapped(row),
            )
            for row in rows
        )
        by = By(self._ids.people[first.who], first.back_on, first.note)
        back_from_work(self._session, WorkBack(self._orders[first.order], lines), by)
        for row in rows:
            if row.new_tag is not None:
                self._things[row.new_tag] = Thing(batch=self._share(row.new_tag))

    def _line_of(self, row: BackRow) -> int:
        """The id of the order's line that sent the thing."""
        thing = self._things[row.of]
        found: int = self._session.scalars(
            select(WorkLine.id).where(
                WorkLine.work_order_id == self._orders[row.order],
                WorkLine.piece_id.is_not_distinct_from(thing.piece),
                WorkLine.batch_id.is_not_distinct_from(thing.batch),
            )
        ).one()
        return found

    def _share(self, tag: str) -> int:
        found: int | None = self._session.scalar(select(Batch.id).where(Batch.tag == tag))
        if found is None:
            last = self._session.scalar(select(Batch.tag).order_by(Batch.id.desc()).limit(1))
            raise Refused(f"what came back is not tagged {tag}, but {last}.", "Put that in its place.")
        return found

    def _identity(self, of: str, became: BecameRow, document: str | None) -> NewIdentity:
        piece = self._things[of].piece
        assert piece is not None
        return NewIdentity(
            piece,
            self._ids.parts[became.house_number],
            became.authority,
            became.what_was_done,
            became.size_class,
            became.finish,
            self._ids.documents.get(document or ""),
        )

    def _scrapped(self, row: BackRow) -> ScrapOrder | None:
        if row.how is None:
            return None
        place = self._ids.places[row.to_place]
        return ScrapOrder(
            self._things[row.of], row.report, row.how, place, witness=row.witness, hazards_seen=True
        )

    def _reidentify(self, rows: tuple[IdentityRow, ...]) -> None:
        (row,) = rows
        identity = self._identity(row.of, row.became, row.document)
        reidentify(self._session, identity, By(self._ids.people[row.who], row.changed_on))

    def _match(self, rows: tuple[MatchedRow, ...]) -> None:
        (row,) = rows
        pieces = [self._things[tag].piece for tag in row.pieces]
        match = NewMatch(row.kind, row.name, row.why, tuple(piece for piece in pieces if piece is not None))
        match_pieces(self._session, match, By(self._ids.people[row.who], row.matched_on))

    def _scrap(self, rows: tuple[ScrapRow, ...]) -> None:
        (row,) = rows
        order = ScrapOrder(
            self._things[row.of],
            row.reason,
            row.how,
            self._ids.places[row.to_place],
            from_place=self._ids.places[row.from_place],
            witness=row.witness,
            hazards_seen=True,
        )
        scrap(self._session, order, By(self._ids.people[row.who], row.scrapped_on))


def _resets(row: BackRow) -> LifeResetOrder | None:
    if not row.resets:
        return None
    return LifeResetOrder(
        row.report,
        resets_hours=LifeMeasure.HOURS in row.resets,
        resets_starts=LifeMeasure.STARTS in row.resets,
        resets_calendar=LifeMeasure.MONTHS in row.resets,
    )
