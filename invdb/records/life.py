"""What engines ran and what pieces ran in them: the log, limits of life, resets, and time served."""

from __future__ import annotations

from datetime import date
from typing import ClassVar

from sqlalchemy import BigInteger, ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from invdb.records.base import Base, PlainText, Recorded, Word, damaged
from invdb.terms import HoursKnown, LifeMeasure, LifeSince, PriorLife, RunningCounted, RunningUse


def figure(known: HoursKnown, low: int | None, high: int | None) -> PriorLife:
    """What three columns say of hours or starts; Refused for what no act writes."""
    try:
        return PriorLife(known, low, high)
    except ValueError as error:
        raise damaged(f"{known}, {low} to {high}", "what is known of hours or starts") from error


class Ran:
    """What was run: hours in hundredths, flight and ground apart, and starts; each as a range.

    ``…_low`` and ``…_high`` are the ends of what is known; ``…_open`` counts the stretches whose upper end
    nobody knows, so that with any of these the high figure is no bound.
    """

    flight_low: Mapped[int] = mapped_column(BigInteger, default=0)
    flight_high: Mapped[int] = mapped_column(BigInteger, default=0)
    flight_open: Mapped[int] = mapped_column(BigInteger, default=0)
    ground_low: Mapped[int] = mapped_column(BigInteger, default=0)
    ground_high: Mapped[int] = mapped_column(BigInteger, default=0)
    ground_open: Mapped[int] = mapped_column(BigInteger, default=0)
    starts_low: Mapped[int] = mapped_column(BigInteger, default=0)
    starts_high: Mapped[int] = mapped_column(BigInteger, default=0)
    starts_open: Mapped[int] = mapped_column(BigInteger, default=0)


RAN_COLUMNS = tuple(
    f"{what}_{end}" for what in ("flight", "ground", "starts") for end in ("low", "high", "open")
)


class Running(Recorded, Ran, Base):
    """One line of an engine's log, kept in the order (``ran_on``, ``set_by``).

    ``reading`` is what the meter read afterwards, and then the hours are what it ran since it was read last;
    ``hours_…`` are run without a meter, or besides it. ``new_reading`` is where another meter, or the same
    one put back, stood when it took over. The columns of `Ran` are all that the engine ran since its log
    began, up to and with this line.
    """

    __tablename__ = "running"
    derived_columns: ClassVar[frozenset[str]] = frozenset(RAN_COLUMNS)

    engine_id: Mapped[int] = mapped_column(ForeignKey("engine.id"))
    ran_on: Mapped[date]
    use: Mapped[RunningUse] = mapped_column(Word(RunningUse))
    reading: Mapped[int | None] = mapped_column(BigInteger)
    new_reading: Mapped[int | None] = mapped_column(BigInteger)
    hours_known: Mapped[HoursKnown] = mapped_column(Word(HoursKnown), default=HoursKnown.EXACT)
    hours_low: Mapped[int | None] = mapped_column(BigInteger, default=0)
    hours_high: Mapped[int | None] = mapped_column(BigInteger, default=0)
    starts_known: Mapped[HoursKnown] = mapped_column(Word(HoursKnown), default=HoursKnown.EXACT)
    # Starts of this line alone; ``starts_low`` and ``starts_high`` of `Ran` add up all lines so far.
    line_starts_low: Mapped[int | None] = mapped_column(BigInteger, default=0)
    line_starts_high: Mapped[int | None] = mapped_column(BigInteger, default=0)
    note: Mapped[str] = mapped_column(PlainText, default="")

    __table_args__ = (Index("ix_running_engine", "engine_id", "ran_on", "set_by"),)


class Service(Ran, Base):
    """That a piece ran in an engine, at first hand or inside another, from one entry until another.

    Kept by ``post``. The columns of `Ran` are what the engine ran between the two; while it lasts, they are
    the engine's total at the beginning taken below zero, so that adding its total now gives the same.
    """

    __tablename__ = "service"

    piece_id: Mapped[int] = mapped_column(ForeignKey("piece.id"), primary_key=True)
    sequence: Mapped[int] = mapped_column(primary_key=True)
    engine_id: Mapped[int] = mapped_column(ForeignKey("engine.id"))
    from_on: Mapped[date]
    from_entry: Mapped[int] = mapped_column(BigInteger)
    to_on: Mapped[date | None]
    to_entry: Mapped[int | None] = mapped_column(BigInteger)

    __table_args__ = (Index("ix_service_engine", "engine_id", "to_entry"),)


class LifeLimit(Recorded, Base):
    """A limit on the life of a part, for some engine types or mods; of an engine itself without a part.

    ``amount`` is in hundredths of an hour, in starts, or in calendar months. ``prorated`` if the document
    lets a piece that served several types use up each type's limit in proportion.
    """

    __tablename__ = "life_limit"

    part_id: Mapped[int | None] = mapped_column(ForeignKey("part.id"), index=True)
    engine_type_id: Mapped[int | None] = mapped_column(ForeignKey("engine_type.id"), index=True)
    mod_id: Mapped[int | None] = mapped_column(ForeignKey("mod.id"))
    mod_embodied: Mapped[bool | None]
    measure: Mapped[LifeMeasure] = mapped_column(Word(LifeMeasure))
    counted: Mapped[RunningCounted] = mapped_column(Word(RunningCounted), default=RunningCounted.ALL)
    since: Mapped[LifeSince] = mapped_column(Word(LifeSince), default=LifeSince.NEW)
    amount: Mapped[int] = mapped_column(BigInteger)
    prorated: Mapped[bool] = mapped_column(default=False)
    source: Mapped[str] = mapped_column(PlainText, default="")
    document_id: Mapped[int | None] = mapped_column(ForeignKey("document.id"))
    withdrawn_on: Mapped[date | None]


class LifeReset(Recorded, Base):
    """That work on a piece or an engine began its count since overhaul anew, for what its report says.

    The figures are what had been run since that overhaul by ``reset_on``: nothing, unless it was overhauled
    elsewhere before it came.
    """

    __tablename__ = "life_reset"

    piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"), index=True)
    engine_id: Mapped[int | None] = mapped_column(ForeignKey("engine.id"), index=True)
    reset_on: Mapped[date]
    # The day of the overhaul itself, from which calendar limits count.
    overhauled_on: Mapped[date | None]
    resets_hours: Mapped[bool] = mapped_column(default=True)
    resets_starts: Mapped[bool] = mapped_column(default=True)
    resets_calendar: Mapped[bool] = mapped_column(default=True)
    hours_known: Mapped[HoursKnown] = mapped_column(Word(HoursKnown), default=HoursKnown.EXACT)
    hours_low: Mapped[int | None] = mapped_column(BigInteger, default=0)
    hours_high: Mapped[int | None] = mapped_column(BigInteger, default=0)
    starts_known: Mapped[HoursKnown] = mapped_column(Word(HoursKnown), default=HoursKnown.EXACT)
    starts_low: Mapped[int | None] = mapped_column(BigInteger, default=0)
    starts_high: Mapped[int | None] = mapped_column(BigInteger, default=0)
    report: Mapped[str] = mapped_column(PlainText)
    document_id: Mapped[int | None] = mapped_column(ForeignKey("document.id"))
    withdrawn_on: Mapped[date | None]
