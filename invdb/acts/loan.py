"""Lend a piece of ours to a firm and get it back; borrow a piece of a lender and give it back."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft, refuse_before_it_came
from invdb.acts.goods_in import GoodsIn, Received, draft_goods
from invdb.acts.leaving import refuse_others_inside
from invdb.acts.lying_at_one import lying_at_one
from invdb.acts.move import check_place_admits, check_within_reach
from invdb.acts.numbers import Thing, next_number
from invdb.acts.papers import refuse_unknown_document
from invdb.acts.ran_elsewhere import draft_ran_elsewhere
from invdb.acts.send_check import ask_of_hazards, refuse_not_to_be_sent
from invdb.acts.set_since import refuse_decided_since
from invdb.acts.things import ThingState, things_by_id
from invdb.acts.trading import firm_name, refuse_day_before
from invdb.acts.work_list import refuse_out_for_work
from invdb.records.buying import Loan
from invdb.records.draft import Draft
from invdb.records.people import Owner
from invdb.records.posting import post
from invdb.records.stock import Place
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.numbering import TAG_LETTERS, NumberKind
from invdb.terms import (
    Condition,
    EntryKind,
    FieldRefused,
    LoanWay,
    PlaceKind,
    PriorLife,
    Refused,
)


@dataclass(frozen=True)
class NewLoan:
    """A piece of ours to lend to the firm of a place, back by a day, on what terms."""

    piece: int
    place: int
    back_by: date
    terms: str = ""
    document: int | None = None
    hazards_seen: bool = False


@dataclass(frozen=True)
class Borrowing:
    """A lender's piece that comes in on loan: booked in as goods, one piece, with the lender as its owner.

    Without ``firm``, the firm that its owner is.
    """

    goods: GoodsIn
    back_by: date
    firm: int | None = None
    terms: str = ""
    document: int | None = None


@dataclass(frozen=True)
class LoanMade:
    """A loan that stands: its id and its number."""

    loan: int
    number: str


@dataclass(frozen=True)
class Borrowed:
    """A loan to us, with what was booked in by it."""

    loan: int
    number: str
    received: Received


@dataclass(frozen=True)
class BackFromLoan:
    """A piece of ours come back: where it goes, and what it ran at the firm (exactly nothing, if it did not).

    Hours in hundredths. What nobody knows is given as unknown.
    """

    loan: int
    to_place: int
    hours: PriorLife
    starts: PriorLife
    report: str = ""


def lend(session: Session, loan: NewLoan, by: By) -> LoanMade:
    """Lend a piece of ours to a firm under a number.

    Refused for one that is fitted, reserved, out for work, lent already, scrapped or not ours, and for a day
    to be back by that is before it goes. Asked while its hazards have not been read.
    """
    draft = begin_draft(session, EntryKind.LENT, by)
    place = session.execute(
        select(Place.name, Place.kind, Place.firm_id).where(Place.id == loan.place)
    ).one_or_none()
    if place is None or place.kind is not PlaceKind.FIRM or place.firm_id is None:
        raise FieldRefused("place", "A piece is lent to a firm.", "Choose the place of a firm.")
    thing = Thing(piece=loan.piece)
    state = things_by_id(session, [thing])[thing]
    if not _is_ours(session, state):
        raise Refused(
            f"{state.tag} is not ours to lend; it is {state.owner_name}'s.", "Choose another piece."
        )
    refuse_day_before("back_by", loan.back_by, draft.happened_on, "it is lent")
    refuse_unknown_document(session, loan.document)
    refuse_before_it_came(state.tag, state.received_on, draft.happened_on)
    where = lying_at_one(state, None)
    refuse_not_to_be_sent(session, state, where, 1)
    refuse_others_inside(session, state)
    ask_of_hazards(session, [state], loan.hazards_seen)
    if where.place == loan.place:
        raise FieldRefused(
            "place", f"{state.tag} is in {place.name} already.", "Move it to our stores first."
        )
    draft.move(where.place, loan.place, piece=loan.piece)
    made, number = _draft_loan(
        session, draft, LoanWay.OUT, place.firm_id, loan.piece, loan.back_by, loan.terms, loan.document
    )
    post(session, draft)
    return LoanMade(made, number)


def borrow(session: Session, borrowing: Borrowing, by: By) -> Borrowed:
    """Book a lender's piece in on loan, uninspected as all goods are.

    FieldRefused unless it is one piece of an owner who is not the workshop and who is a firm, or lends
    through one; otherwise as goods in.
    """
    draft = begin_draft(session, EntryKind.LENT, by)
    goods = borrowing.goods
    if len(goods.pieces) != 1 or goods.batch is not None:
        raise FieldRefused("quantity", "One single piece is borrowed at a time.", "Book in each by itself.")
    if goods.order_line is not None or goods.cost is not None:
        raise FieldRefused("order_line", "What is lent to us was not bought.", "Leave order and cost out.")
    owner = session.execute(
        select(Owner.name, Owner.is_workshop, Owner.firm_id).where(Owner.id == goods.owner)
    ).one_or_none()
    if owner is None or owner.is_workshop:
        raise FieldRefused("owner", "It isn't said whose the piece is.", "Choose the lender as its owner.")
    if owner.firm_id is not None and borrowing.firm not in {None, owner.firm_id}:
        raise FieldRefused(
            "firm", f"{owner.name} is {firm_name(session, owner.firm_id)}.", "Leave the firm out."
        )
    firm = borrowing.firm or owner.firm_id
    if firm is None:
        raise FieldRefused("firm", f"It isn't said which firm {owner.name} lends through.", "Choose it.")
    firm_name(session, firm)
    refuse_day_before("back_by", borrowing.back_by, draft.happened_on, "it was lent")
    refuse_unknown_document(session, borrowing.document)
    received = draft_goods(session, draft, replace(goods, firm=goods.firm or firm))
    piece = received.things[0][0].piece
    assert piece is not None
    made, number = _draft_loan(
        session, draft, LoanWay.IN, firm, piece, borrowing.back_by, borrowing.terms, borrowing.document
    )
    entry = post(session, draft).number
    return Borrowed(made, number, replace(received, entry=entry))


def get_back(session: Session, back: BackFromLoan, by: By) -> int:
    """Get a piece of ours back from a firm; returns the entry's number.

    It is uninspected from then on, unless it is worse; what it ran there is added to what it had run before
    it came, and so to that of whatever is inside it.
    """
    draft = begin_draft(session, EntryKind.LOAN_ENDED, by)
    loan, state = _open_loan(session, draft, back.loan, LoanWay.OUT)
    where = lying_at_one(state, None)
    check_within_reach(state, where)
    refuse_decided_since(session, draft, loan.piece_id, state.tag)
    bad = state.condition in {Condition.UNSERVICEABLE, Condition.UNSALVAGEABLE}
    condition = state.condition if bad else Condition.UNINSPECTED
    check_place_admits(session, back.to_place, condition, state.papers)
    if where.place != back.to_place:
        draft.move(where.place, back.to_place, piece=loan.piece_id)
    draft_ran_elsewhere(session, draft, loan.piece_id, back.hours, back.starts)
    draft.set("piece", loan.piece_id, condition=condition, scope=None, accepted_by=None, accepted_on=None)
    draft.set("loan", back.loan, back_on=draft.happened_on)
    draft.remark(back.report)
    return post(session, draft).number


def give_back(session: Session, loan: int, by: By, *, hazards_seen: bool = False) -> int:
    """Give a lender's piece back; returns the entry's number.

    Refused while it is fitted, reserved or out for work, and while what is inside it is not the lender's.
    Asked while its hazards have not been read.
    """
    draft = begin_draft(session, EntryKind.LOAN_ENDED, by)
    row, state = _open_loan(session, draft, loan, LoanWay.IN)
    where = lying_at_one(state, None)
    check_within_reach(state, where)
    if state.reserved_for:
        raise Refused(f"{state.tag} is reserved for pull {state.reserved_for[0]}.", "Cancel that pull first.")
    refuse_out_for_work(session, state.thing, state.tag, where.place, "Book it back first.")
    refuse_others_inside(session, state)
    ask_of_hazards(session, [state], hazards_seen)
    draft.move(where.place, OUTSIDE_PLACE, piece=row.piece_id)
    draft.set("loan", loan, back_on=draft.happened_on)
    return post(session, draft).number


def _is_ours(session: Session, state: ThingState) -> bool:
    return session.scalars(select(Owner.is_workshop).where(Owner.id == state.owner)).one()


def _draft_loan(
    session: Session,
    draft: Draft,
    way: LoanWay,
    firm: int,
    piece: int,
    back_by: date,
    terms: str,
    document: int | None,
) -> tuple[int, str]:
    number = next_number(session, draft, "loan", "number", TAG_LETTERS[NumberKind.LOAN])
    made = draft.new(
        session,
        "loan",
        number=number,
        way=way,
        firm_id=firm,
        piece_id=piece,
        lent_on=draft.happened_on,
        back_by=back_by,
        terms=terms,
        document_id=document,
    )
    return made, number


def _open_loan(session: Session, draft: Draft, loan: int, way: LoanWay) -> tuple[Loan, ThingState]:
    row = session.get(Loan, loan, populate_existing=True)
    if row is None:
        raise Refused("There is no such loan.", "Look at its number again.")
    if row.way is not way:
        raise Refused(f"Loan {row.number} is a piece {row.way}.", "Choose the loan that was meant.")
    if row.back_on is not None:
        raise Refused(
            f"Loan {row.number} ended on {row.back_on.isoformat()} already.", "There is nothing to end."
        )
    refuse_day_before("happened_on", draft.happened_on, row.lent_on, f"loan {row.number} began")
    thing = Thing(piece=row.piece_id)
    return row, things_by_id(session, [thing])[thing]
