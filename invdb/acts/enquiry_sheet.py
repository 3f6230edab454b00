"""Read one enquiry whole, as it goes to each of the firms asked."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.order_sheet import named_to
from invdb.acts.shown import printed_at, workshop_name
from invdb.records.buying import Enquiry, EnquiryFirm, EnquiryLine
from invdb.records.people import Firm, Person
from invdb.rules.enquiry_sheet import EnquirySheet
from invdb.terms import Refused


def enquiry_sheets(session: Session, enquiry: int) -> tuple[EnquirySheet, ...]:
    """The sheet of every firm asked in the enquiry of this id, by name; Refused for no such enquiry."""
    row = session.execute(
        select(Enquiry, Person.name).join(Person, Person.id == Enquiry.asked_by).where(Enquiry.id == enquiry)
    ).one_or_none()
    if row is None:
        raise Refused("There is no such enquiry.", "Look at its number again.")
    asked, who = row
    lines = session.scalars(
        select(EnquiryLine).where(EnquiryLine.enquiry_id == enquiry).order_by(EnquiryLine.sequence)
    ).all()
    firms = session.execute(
        select(Firm.id, Firm.name, Firm.town)
        .join(EnquiryFirm, EnquiryFirm.firm_id == Firm.id)
        .where(EnquiryFirm.enquiry_id == enquiry)
        .order_by(Firm.name)
    ).all()
    workshop, instant = workshop_name(session), printed_at(session)
    return tuple(
        EnquirySheet(
            workshop=workshop,
            printed_at=instant,
            number=asked.number,
            asked_on=asked.asked_on,
            asked_by=who,
            firm=firm.name,
            parts=tuple(
                named_to(session, firm.id, line.part_id, line.quantity, line.wanted) for line in lines
            ),
            town=firm.town,
            answer_by=asked.answer_by,
            wording=asked.wording,
        )
        for firm in firms
    )
