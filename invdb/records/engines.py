"""Engine types with their positions and stations as drawn, and the engines themselves."""

from __future__ import annotations

from datetime import date

from sqlalchemy import BigInteger, ForeignKey, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from invdb.records.base import Base, PlainText, Recorded, Word
from invdb.terms import HoursKnown, Layout, Scope


class EngineType(Recorded, Base):
    """A design of an engine, by one maker."""

    __tablename__ = "engine_type"

    name: Mapped[str] = mapped_column(PlainText, unique=True)
    maker_firm_id: Mapped[int | None] = mapped_column(ForeignKey("firm.id"))
    layout: Mapped[Layout] = mapped_column(Word(Layout))
    inverted: Mapped[bool] = mapped_column(default=False)
    note: Mapped[str] = mapped_column(PlainText, default="")


class Position(Recorded, Base):
    """One of a group's places on an engine type, as drawn: cylinder 5 of the Linnet.

    ``x_thousandths`` and ``y_thousandths`` give the centre in thousandths of the drawing's half width, x to
    the right and y upward; ``turn_degrees`` is the direction of the cylinder's head, clockwise from up.
    """

    __tablename__ = "position"

    engine_type_id: Mapped[int] = mapped_column(ForeignKey("engine_type.id"))
    group_name: Mapped[str] = mapped_column(PlainText)
    name: Mapped[str] = mapped_column(PlainText)
    sequence: Mapped[int]
    x_thousandths: Mapped[int]
    y_thousandths: Mapped[int]
    turn_degrees: Mapped[int] = mapped_column(default=0)
    note: Mapped[str] = mapped_column(PlainText, default="")

    __table_args__ = (UniqueConstraint("engine_type_id", "group_name", "name"),)


class Station(Recorded, Base):
    """Where on a position one part of its kit sits, as drawn within the position.

    ``x_thousandths`` and ``y_thousandths`` are within the cylinder's own square, head upward.
    """

    __tablename__ = "station"

    engine_type_id: Mapped[int] = mapped_column(ForeignKey("engine_type.id"))
    group_name: Mapped[str] = mapped_column(PlainText)
    name: Mapped[str] = mapped_column(PlainText)
    sequence: Mapped[int]
    x_thousandths: Mapped[int]
    y_thousandths: Mapped[int]

    __table_args__ = (UniqueConstraint("engine_type_id", "group_name", "name"),)


class Engine(Recorded, Base):
    """One engine and what it is used for."""

    __tablename__ = "engine"

    engine_type_id: Mapped[int] = mapped_column(ForeignKey("engine_type.id"), index=True)
    serial: Mapped[str] = mapped_column(PlainText)
    name: Mapped[str] = mapped_column(PlainText, unique=True)
    use: Mapped[Scope] = mapped_column(Word(Scope))
    owner_id: Mapped[int] = mapped_column(ForeignKey("owner.id"))
    # When stock does not go round, the engine with the lower number is served first.
    priority: Mapped[int] = mapped_column(default=5)
    note: Mapped[str] = mapped_column(PlainText, default="")
    # The log: since when we keep it, where its meter stood then (none: logged by hand, in hundredths of an
    # hour), and what the engine had run by then.
    log_begun_on: Mapped[date | None]
    log_reading: Mapped[int | None] = mapped_column(BigInteger)
    prior_hours_known: Mapped[HoursKnown] = mapped_column(
        Word(HoursKnown), default=HoursKnown.UNKNOWN, server_default="unknown"
    )
    prior_hours_low: Mapped[int | None] = mapped_column(BigInteger)
    prior_hours_high: Mapped[int | None] = mapped_column(BigInteger)
    prior_starts_known: Mapped[HoursKnown] = mapped_column(
        Word(HoursKnown), default=HoursKnown.UNKNOWN, server_default="unknown"
    )
    prior_starts_low: Mapped[int | None] = mapped_column(BigInteger)
    prior_starts_high: Mapped[int | None] = mapped_column(BigInteger)

    __table_args__ = (UniqueConstraint("engine_type_id", "serial"),)


class EngineMod(Recorded, Base):
    """A mod as it stands on one engine."""

    __tablename__ = "engine_mod"

    engine_id: Mapped[int] = mapped_column(ForeignKey("engine.id"), index=True)
    mod_id: Mapped[int] = mapped_column(ForeignKey("mod.id"))
    embodied: Mapped[bool] = mapped_column(default=True)
    since_on: Mapped[date | None]

    __table_args__ = (UniqueConstraint("engine_id", "mod_id"),)
