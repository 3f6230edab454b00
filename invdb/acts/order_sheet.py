"""Read one purchase order whole, as it goes to its firm."""

from __future__ import annotations

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.shown import printed_at, workshop_name
from invdb.records.buying import OrderLine, PurchaseOrder
from invdb.records.catalogue import OtherNumber, Part, PartHazard
from invdb.records.people import Firm, Person
from invdb.records.stock import Piece
from invdb.rules.money import Money
from invdb.rules.order_sheet import GivenPiece, OrderedPart, OrderSheet, OrderSheetLine
from invdb.rules.pick_list import HazardNote
from invdb.terms import FirmRole, Refused


def order_sheet(session: Session, order: int) -> OrderSheet:
    """The order of this id as it stands; Refused for none."""
    row = session.execute(
        select(PurchaseOrder, Firm.name, Firm.town, Person.name)
        .join(Firm, Firm.id == PurchaseOrder.firm_id)
        .join(Person, Person.id == PurchaseOrder.ordered_by)
        .where(PurchaseOrder.id == order)
    ).one_or_none()
    if row is None:
        raise Refused("There is no such order.", "Look at its number again.")
    placed, firm, town, who = row
    return OrderSheet(
        workshop=workshop_name(session),
        printed_at=printed_at(session),
        number=placed.number,
        kind=placed.kind,
        ordered_on=placed.ordered_on,
        ordered_by=who,
        firm=firm,
        currency=placed.currency,
        lines=tuple(_line(session, line, placed) for line in _lines(session, order)),
        town=town,
        due_on=placed.due_on,
        reference=placed.reference,
        note=placed.note,
    )


def _lines(session: Session, order: int) -> list[OrderLine]:
    return list(
        session.scalars(
            select(OrderLine).where(OrderLine.purchase_order_id == order).order_by(OrderLine.sequence)
        )
    )


def _line(session: Session, line: OrderLine, placed: PurchaseOrder) -> OrderSheetLine:
    return OrderSheetLine(
        part=named_to(session, placed.firm_id, line.part_id, line.quantity, line.wanted),
        price=None if line.price is None else Money(line.price, placed.currency),
        given=None if line.given_piece_id is None else _given(session, line.given_piece_id),
        closed_on=line.closed_on,
    )


def _given(session: Session, piece: int) -> GivenPiece:
    row = session.execute(
        select(Piece.tag, Piece.part_id, Piece.serial, Part.name)
        .join(Part, Part.id == Piece.part_id)
        .where(Piece.id == piece)
    ).one()
    hazards = session.execute(
        select(PartHazard.hazard, PartHazard.caution)
        .where(PartHazard.part_id == row.part_id, PartHazard.withdrawn_on.is_(None))
        .order_by(PartHazard.id)
    )
    notes = tuple(HazardNote(str(hazard), caution) for hazard, caution in hazards)
    return GivenPiece(row.tag, row.name, row.serial or "", notes)


def named_to(session: Session, firm: int, part: int, quantity: int, wanted: str) -> OrderedPart:
    """A part as an order or an enquiry names it to a firm: with its own numbers, and no other dealer's."""
    row = session.execute(select(Part.house_number, Part.name, Part.measure).where(Part.id == part)).one()
    numbers = session.execute(
        select(OtherNumber.kind, OtherNumber.number, OtherNumber.firm_id)
        .outerjoin(Firm, Firm.id == OtherNumber.firm_id)
        .where(
            OtherNumber.part_id == part,
            OtherNumber.withdrawn_on.is_(None),
            or_(OtherNumber.firm_id.is_(None), OtherNumber.firm_id == firm, Firm.role == FirmRole.MAKER),
        )
        .order_by(OtherNumber.id)
    ).all()
    return OrderedPart(
        row.house_number,
        row.name,
        quantity,
        row.measure,
        ", ".join(each.number for each in numbers if each.firm_id == firm),
        tuple((each.kind, each.number) for each in numbers if each.firm_id != firm),
        wanted,
    )
