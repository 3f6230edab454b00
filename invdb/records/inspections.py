"""What pieces did measure, by whom and with what, and what was decided."""

from __future__ import annotations

from datetime import date

from sqlalchemy import BigInteger, ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from invdb.records.base import Base, PlainText, Recorded, Word
from invdb.terms import Condition, CrackMethod, Scope, SpecKind


class Instrument(Recorded, Base):
    """Something that measures: its own number, and until when its calibration holds."""

    __tablename__ = "instrument"

    number: Mapped[str] = mapped_column(PlainText, unique=True)
    name: Mapped[str] = mapped_column(PlainText)
    calibrated_on: Mapped[date | None]
    calibration_due_on: Mapped[date | None]
    note: Mapped[str] = mapped_column(PlainText, default="")
    withdrawn_on: Mapped[date | None]


class Inspection(Recorded, Base):
    """One sheet filled in at the bench for a piece or a batch, by the specification then in force.

    ``licence_number`` is the inspector's as it was that day. ``proposed`` is what the figures called for;
    ``reason`` says why another condition was decided.
    """

    __tablename__ = "inspection"

    piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"), index=True)
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.id"), index=True)
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"))
    spec_id: Mapped[int | None] = mapped_column(ForeignKey("spec.id"))
    size_class: Mapped[str] = mapped_column(PlainText, default="")
    inspected_on: Mapped[date]
    inspected_by: Mapped[int] = mapped_column(ForeignKey("person.id"))
    licence_number: Mapped[str] = mapped_column(PlainText, default="")
    proposed: Mapped[Condition] = mapped_column(Word(Condition))
    decided: Mapped[Condition] = mapped_column(Word(Condition))
    scope: Mapped[Scope | None] = mapped_column(Word(Scope))
    reason: Mapped[str] = mapped_column(PlainText, default="")
    note: Mapped[str] = mapped_column(PlainText, default="")


class InspectionPaper(Recorded, Base):
    """A photograph or another paper that belongs to an inspection."""

    __tablename__ = "inspection_paper"

    inspection_id: Mapped[int] = mapped_column(ForeignKey("inspection.id"), index=True)
    document_id: Mapped[int] = mapped_column(ForeignKey("document.id"))


class Measurement(Recorded, Base):
    """One figure as it was read: of a line of the specification, at a point and in a direction of it.

    ``figure`` is the text as entered in ``unit``; ``sorted_by`` is the same in nanometres, micrograms or
    hundredths of another base unit, rounded, and serves sorting alone.
    """

    __tablename__ = "measurement"

    inspection_id: Mapped[int] = mapped_column(ForeignKey("inspection.id"), index=True)
    piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"))
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.id"), index=True)
    spec_line_id: Mapped[int | None] = mapped_column(ForeignKey("spec_line.id"))
    kind: Mapped[SpecKind] = mapped_column(Word(SpecKind))
    name: Mapped[str] = mapped_column(PlainText)
    point: Mapped[str] = mapped_column(PlainText, default="")
    direction: Mapped[str] = mapped_column(PlainText, default="")
    figure: Mapped[str] = mapped_column(PlainText)
    unit: Mapped[str] = mapped_column(PlainText)
    sorted_by: Mapped[int] = mapped_column(BigInteger)
    measured_on: Mapped[date]
    instrument_id: Mapped[int | None] = mapped_column(ForeignKey("instrument.id"))
    # The instrument's as it was that day.
    calibrated_on: Mapped[date | None]

    __table_args__ = (Index("ix_measurement_piece", "piece_id", "name"),)


class BenchTest(Recorded, Base):
    """How one test of an inspection came out: a pressure test, a crack test, a look over."""

    __tablename__ = "bench_test"

    inspection_id: Mapped[int] = mapped_column(ForeignKey("inspection.id"), index=True)
    spec_line_id: Mapped[int | None] = mapped_column(ForeignKey("spec_line.id"))
    kind: Mapped[SpecKind] = mapped_column(Word(SpecKind))
    name: Mapped[str] = mapped_column(PlainText)
    method: Mapped[CrackMethod | None] = mapped_column(Word(CrackMethod))
    medium: Mapped[str] = mapped_column(PlainText, default="")
    unit: Mapped[str] = mapped_column(PlainText, default="")
    start_figure: Mapped[str | None] = mapped_column(PlainText)
    end_figure: Mapped[str | None] = mapped_column(PlainText)
    held_seconds: Mapped[int | None] = mapped_column(BigInteger)
    passed: Mapped[bool]
    found: Mapped[str] = mapped_column(PlainText, default="")
    instrument_id: Mapped[int | None] = mapped_column(ForeignKey("instrument.id"))
    calibrated_on: Mapped[date | None]
