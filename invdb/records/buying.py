"""What is planned and believed, and what is asked for, quoted, ordered, delivered and lent.

Quantities are in the part's smallest unit. A price is in minor units of its currency for one piece, one metre
or one kilogram, and stands with its own currency: amounts of two currencies are never added up.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from sqlalchemy import BigInteger, ForeignKey, UniqueConstraint, cast, func, select
from sqlalchemy.orm import Mapped, column_property, mapped_column

from invdb.records.base import Base, PlainText, Recorded, Word
from invdb.terms import LoanWay, OrderKind


class PlannedOverhaul(Recorded, Base):
    """That an engine is to be opened in the month of a day; it goes before what its hours would propose."""

    __tablename__ = "planned_overhaul"

    engine_id: Mapped[int] = mapped_column(ForeignKey("engine.id"), index=True)
    planned_on: Mapped[date]
    done_on: Mapped[date | None]
    withdrawn_on: Mapped[date | None]
    note: Mapped[str] = mapped_column(PlainText, default="")


class PlannedFlying(Recorded, Base):
    """The hours that an engine is meant to run in a month, in hundredths, flight and ground together.

    ``month`` is its first day. A month without a row goes on as the engine ran of late; without ``hours``
    too, which is how a plan is taken back.
    """

    __tablename__ = "planned_flying"

    engine_id: Mapped[int] = mapped_column(ForeignKey("engine.id"))
    month: Mapped[date]
    hours: Mapped[int | None] = mapped_column(BigInteger)

    __table_args__ = (UniqueConstraint("engine_id", "month"),)


class PartBelief(Recorded, Base):
    """What is believed of the parts of a family before our own record; without a family, of all others.

    Rates, shares and weights are decimal texts: of pieces looked at, ``reject_mean`` are rejected, a belief
    worth ``reject_weight`` pieces, those of one engine alike by ``concentration``; ``failures`` happen in
    ``failure_hours`` of a piece's running (hundredths); of pieces sent for work ``yield_mean`` come back
    good, a belief worth ``yield_weight`` pieces.
    """

    __tablename__ = "part_belief"

    family_id: Mapped[int | None] = mapped_column(ForeignKey("family.id"), unique=True)
    reject_mean: Mapped[str] = mapped_column(PlainText)
    reject_weight: Mapped[str] = mapped_column(PlainText)
    concentration: Mapped[str] = mapped_column(PlainText)
    failures: Mapped[str] = mapped_column(PlainText)
    failure_hours: Mapped[int] = mapped_column(BigInteger)
    yield_mean: Mapped[str] = mapped_column(PlainText)
    yield_weight: Mapped[str] = mapped_column(PlainText)
    source: Mapped[str] = mapped_column(PlainText)
    withdrawn_on: Mapped[date | None]


class Enquiry(Recorded, Base):
    """Several firms are asked what some parts would cost and when they would come."""

    __tablename__ = "enquiry"

    number: Mapped[str] = mapped_column(PlainText, unique=True)
    asked_on: Mapped[date]
    asked_by: Mapped[int] = mapped_column(ForeignKey("person.id"))
    answer_by: Mapped[date | None]
    wording: Mapped[str] = mapped_column(PlainText, default="")
    closed_on: Mapped[date | None]


class EnquiryLine(Recorded, Base):
    """One part of an enquiry, how many, and what the firms must know of it besides."""

    __tablename__ = "enquiry_line"

    enquiry_id: Mapped[int] = mapped_column(ForeignKey("enquiry.id"), index=True)
    sequence: Mapped[int]
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    quantity: Mapped[int] = mapped_column(BigInteger)
    wanted: Mapped[str] = mapped_column(PlainText, default="")


class EnquiryFirm(Recorded, Base):
    """A firm that was asked; ``declined_on`` when it said no. What it offered are its quotes."""

    __tablename__ = "enquiry_firm"

    enquiry_id: Mapped[int] = mapped_column(ForeignKey("enquiry.id"), index=True)
    firm_id: Mapped[int] = mapped_column(ForeignKey("firm.id"), index=True)
    declined_on: Mapped[date | None]


class Quote(Recorded, Base):
    """A firm's offer for one part: no fewer than ``minimum`` of it, in ``lead_days`` where it says so."""

    __tablename__ = "quote"

    firm_id: Mapped[int] = mapped_column(ForeignKey("firm.id"), index=True)
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    enquiry_line_id: Mapped[int | None] = mapped_column(ForeignKey("enquiry_line.id"), index=True)
    kind: Mapped[OrderKind] = mapped_column(Word(OrderKind))
    quoted_on: Mapped[date]
    # The last day on which the firm stands by it; empty where it does not say.
    valid_until: Mapped[date | None]
    reference: Mapped[str] = mapped_column(PlainText, default="")
    currency: Mapped[str] = mapped_column(PlainText)
    minimum: Mapped[int] = mapped_column(BigInteger)
    lead_days: Mapped[int | None] = mapped_column(BigInteger)
    document_id: Mapped[int | None] = mapped_column(ForeignKey("document.id"))
    note: Mapped[str] = mapped_column(PlainText, default="")
    withdrawn_on: Mapped[date | None]


class QuotePrice(Recorded, Base):
    """The price of one from a quantity on, up to the next of the same quote."""

    __tablename__ = "quote_price"

    quote_id: Mapped[int] = mapped_column(ForeignKey("quote.id"), index=True)
    from_quantity: Mapped[int] = mapped_column(BigInteger)
    price: Mapped[int] = mapped_column(BigInteger)


class PurchaseOrder(Recorded, Base):
    """Parts ordered of a firm: bought, made for us, or given for our old pieces."""

    __tablename__ = "purchase_order"

    number: Mapped[str] = mapped_column(PlainText, unique=True)
    firm_id: Mapped[int] = mapped_column(ForeignKey("firm.id"), index=True)
    kind: Mapped[OrderKind] = mapped_column(Word(OrderKind))
    ordered_on: Mapped[date]
    ordered_by: Mapped[int] = mapped_column(ForeignKey("person.id"))
    due_on: Mapped[date | None]
    currency: Mapped[str] = mapped_column(PlainText)
    reference: Mapped[str] = mapped_column(PlainText, default="")
    note: Mapped[str] = mapped_column(PlainText, default="")


class OrderLine(Recorded, Base):
    """One part of an order; done when all of it was received, or it was closed short of that.

    ``received`` is the sum of its deliveries, so that one that is undone counts no more. An exchange names
    the piece of ours that the firm gets for it, and the day on which it went there.
    """

    __tablename__ = "order_line"

    purchase_order_id: Mapped[int] = mapped_column(ForeignKey("purchase_order.id"), index=True)
    sequence: Mapped[int]
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    quantity: Mapped[int] = mapped_column(BigInteger)
    # None where no price was agreed.
    price: Mapped[int | None] = mapped_column(BigInteger)
    quote_id: Mapped[int | None] = mapped_column(ForeignKey("quote.id"))
    closed_on: Mapped[date | None]
    closed_because: Mapped[str] = mapped_column(PlainText, default="")
    given_piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"), index=True)
    given_on: Mapped[date | None]
    wanted: Mapped[str] = mapped_column(PlainText, default="")

    if TYPE_CHECKING:
        received: Mapped[int]


class Delivery(Recorded, Base):
    """A thing that came against a line of an order."""

    __tablename__ = "delivery"

    order_line_id: Mapped[int] = mapped_column(ForeignKey("order_line.id"), index=True)
    piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"), index=True)
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.id"), index=True)
    quantity: Mapped[int] = mapped_column(BigInteger)
    delivered_on: Mapped[date]


# PostgreSQL adds whole numbers up to one that is no whole number any more.
OrderLine.received = column_property(
    select(cast(func.coalesce(func.sum(Delivery.quantity), 0), BigInteger))
    .where(Delivery.order_line_id == OrderLine.id)
    .correlate_except(Delivery)
    .scalar_subquery()
    .label("received")
)


class Cost(Recorded, Base):
    """What one of a piece or of a batch cost us."""

    __tablename__ = "cost"

    piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"), unique=True)
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.id"), unique=True)
    price: Mapped[int] = mapped_column(BigInteger)
    currency: Mapped[str] = mapped_column(PlainText)
    source: Mapped[str] = mapped_column(PlainText, default="")


class Loan(Recorded, Base):
    """A piece lent to us or by us, to be back by a day."""

    __tablename__ = "loan"

    number: Mapped[str] = mapped_column(PlainText, unique=True)
    way: Mapped[LoanWay] = mapped_column(Word(LoanWay))
    firm_id: Mapped[int] = mapped_column(ForeignKey("firm.id"))
    piece_id: Mapped[int] = mapped_column(ForeignKey("piece.id"), index=True)
    lent_on: Mapped[date]
    back_by: Mapped[date]
    back_on: Mapped[date | None]
    terms: Mapped[str] = mapped_column(PlainText, default="")
    document_id: Mapped[int | None] = mapped_column(ForeignKey("document.id"))
