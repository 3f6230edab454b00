"""What befell engines, what authorities order, and what they allow beyond limits."""

from __future__ import annotations

from datetime import date

from sqlalchemy import BigInteger, ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from invdb.records.base import Base, PlainText, Recorded, Word
from invdb.terms import ConcessionOver, EngineEventKind


class EngineEvent(Recorded, Base):
    """A propeller strike, an overspeed and the like: a doubt on every piece that was inside the engine.

    It happened at the point (``event_on``, ``set_by``) of the ledger; the pieces follow from their time
    served, and batches are named in `EventTaint`.
    """

    __tablename__ = "engine_event"

    engine_id: Mapped[int] = mapped_column(ForeignKey("engine.id"), index=True)
    kind: Mapped[EngineEventKind] = mapped_column(Word(EngineEventKind))
    event_on: Mapped[date]
    note: Mapped[str] = mapped_column(PlainText, default="")


class EventTaint(Recorded, Base):
    """That some of a batch was inside the engine when it happened, and came out as this batch."""

    __tablename__ = "event_taint"

    event_id: Mapped[int] = mapped_column(ForeignKey("engine_event.id"), index=True)
    batch_id: Mapped[int] = mapped_column(ForeignKey("batch.id"), index=True)


class EventClearance(Recorded, Base):
    """That an inspection named for an event cleared one piece, one batch, or the engine itself of it."""

    __tablename__ = "event_clearance"

    event_id: Mapped[int] = mapped_column(ForeignKey("engine_event.id"), index=True)
    piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"), index=True)
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.id"), index=True)
    engine_id: Mapped[int | None] = mapped_column(ForeignKey("engine.id"), index=True)
    cleared_on: Mapped[date]
    cleared_by: Mapped[int] = mapped_column(ForeignKey("person.id"))
    inspection: Mapped[str] = mapped_column(PlainText)
    document_id: Mapped[int | None] = mapped_column(ForeignKey("document.id"))


class Directive(Recorded, Base):
    """What an authority orders: for engines of a type or range of serials, or for pieces of a part or batch.

    First due ``within_hours`` (hundredths) or ``within_months`` of ``effective_on``, or by ``due_on``; then,
    if it recurs, every so many hours or months since it was last complied with. The first to come governs.
    """

    __tablename__ = "directive"

    reference: Mapped[str] = mapped_column(PlainText)
    issue: Mapped[str] = mapped_column(PlainText, default="")
    title: Mapped[str] = mapped_column(PlainText)
    authority: Mapped[str] = mapped_column(PlainText, default="")
    engine_type_id: Mapped[int | None] = mapped_column(ForeignKey("engine_type.id"))
    serial_from: Mapped[str | None] = mapped_column(PlainText)
    serial_to: Mapped[str | None] = mapped_column(PlainText)
    part_id: Mapped[int | None] = mapped_column(ForeignKey("part.id"), index=True)
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.id"))
    effective_on: Mapped[date]
    within_hours: Mapped[int | None] = mapped_column(BigInteger)
    within_months: Mapped[int | None]
    due_on: Mapped[date | None]
    every_hours: Mapped[int | None] = mapped_column(BigInteger)
    every_months: Mapped[int | None]
    method: Mapped[str] = mapped_column(PlainText)
    document_id: Mapped[int | None] = mapped_column(ForeignKey("document.id"))
    withdrawn_on: Mapped[date | None]


class Compliance(Recorded, Base):
    """That a directive was complied with on one engine or one piece, at (``complied_on``, ``set_by``)."""

    __tablename__ = "compliance"

    directive_id: Mapped[int] = mapped_column(ForeignKey("directive.id"), index=True)
    engine_id: Mapped[int | None] = mapped_column(ForeignKey("engine.id"), index=True)
    piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"), index=True)
    complied_on: Mapped[date]
    complied_by: Mapped[int] = mapped_column(ForeignKey("person.id"))
    method: Mapped[str] = mapped_column(PlainText)
    document_id: Mapped[int | None] = mapped_column(ForeignKey("document.id"))


class Concession(Recorded, Base):
    """What an authority allows beyond a limit: for one piece in one engine, on a document, till an end.

    ``hours_allowed`` (hundredths) counts what the piece runs in that engine from ``from_on``;
    ``life_limit_hours`` stands instead of the part's own limit. The first end to come governs.
    """

    __tablename__ = "concession"

    reference: Mapped[str] = mapped_column(PlainText)
    authority: Mapped[str] = mapped_column(PlainText)
    over: Mapped[ConcessionOver] = mapped_column(Word(ConcessionOver))
    allows: Mapped[str] = mapped_column(PlainText)
    document_id: Mapped[int] = mapped_column(ForeignKey("document.id"))
    piece_id: Mapped[int] = mapped_column(ForeignKey("piece.id"), index=True)
    engine_id: Mapped[int] = mapped_column(ForeignKey("engine.id"))
    position_id: Mapped[int | None] = mapped_column(ForeignKey("position.id"))
    from_on: Mapped[date]
    until_on: Mapped[date | None]
    hours_allowed: Mapped[int | None] = mapped_column(BigInteger)
    life_limit_hours: Mapped[int | None] = mapped_column(BigInteger)
    withdrawn_on: Mapped[date | None]

    __table_args__ = (Index("ix_concession_engine", "engine_id", "position_id"),)
