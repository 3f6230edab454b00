"""Parts, what else they are called, what each position needs, and what may stand in."""

from __future__ import annotations

from datetime import date

from sqlalchemy import BigInteger, ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from invdb.records.base import Base, PlainText, Recorded, Word
from invdb.terms import Hazard, Measure, Tracking


class Family(Recorded, Base):
    """A family of parts; its letters begin the house numbers of its parts."""

    __tablename__ = "family"

    letters: Mapped[str] = mapped_column(PlainText, unique=True)
    name: Mapped[str] = mapped_column(PlainText)


class Part(Recorded, Base):
    """A design of a thing, under our own house number."""

    __tablename__ = "part"

    house_number: Mapped[str] = mapped_column(PlainText, unique=True)
    family_id: Mapped[int] = mapped_column(ForeignKey("family.id"), index=True)
    name: Mapped[str] = mapped_column(PlainText)
    note: Mapped[str] = mapped_column(PlainText, default="")
    tracking: Mapped[Tracking] = mapped_column(Word(Tracking))
    measure: Mapped[Measure] = mapped_column(Word(Measure), default=Measure.COUNT)
    life_limited: Mapped[bool] = mapped_column(default=False)
    critical: Mapped[bool] = mapped_column(default=False)
    # Hundredths of an hour since new; limits that differ by type and mod come as rows of their own.
    life_limit_hours: Mapped[int | None] = mapped_column(BigInteger)
    shelf_life_months: Mapped[int | None]
    # What its pieces are unless they say otherwise: "0.25 mm oversize", "chromium plated"; empty: standard.
    size_class: Mapped[str] = mapped_column(PlainText, default="", server_default="")
    finish: Mapped[str] = mapped_column(PlainText, default="", server_default="")


class PartSize(Recorded, Base):
    """An oversize or undersize that a part is made in, besides its own."""

    __tablename__ = "part_size"

    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    size_class: Mapped[str] = mapped_column(PlainText)
    sequence: Mapped[int]
    note: Mapped[str] = mapped_column(PlainText, default="")
    withdrawn_on: Mapped[date | None]


class OtherNumber(Recorded, Base):
    """A maker's, dealer's or drawing number of a part."""

    __tablename__ = "other_number"

    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    number: Mapped[str] = mapped_column(PlainText)
    kind: Mapped[str] = mapped_column(PlainText)
    firm_id: Mapped[int | None] = mapped_column(ForeignKey("firm.id"))
    withdrawn_on: Mapped[date | None]


class PartHazard(Recorded, Base):
    """What can hurt a person who handles the part."""

    __tablename__ = "part_hazard"

    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    hazard: Mapped[Hazard] = mapped_column(Word(Hazard))
    caution: Mapped[str] = mapped_column(PlainText, default="")
    withdrawn_on: Mapped[date | None]


class Mod(Recorded, Base):
    """A modification of an engine type, embodied or not on each engine."""

    __tablename__ = "mod"

    engine_type_id: Mapped[int] = mapped_column(ForeignKey("engine_type.id"), index=True)
    code: Mapped[str] = mapped_column(PlainText)
    name: Mapped[str] = mapped_column(PlainText)
    note: Mapped[str] = mapped_column(PlainText, default="")


class Effective:
    """For which engines a kit line or a stand-in holds; an empty column means no such limit.

    ``positions`` is a comma-separated list of position names.
    """

    positions: Mapped[str | None] = mapped_column(PlainText)
    serial_from: Mapped[str | None] = mapped_column(PlainText)
    serial_to: Mapped[str | None] = mapped_column(PlainText)
    mod_id: Mapped[int | None] = mapped_column(ForeignKey("mod.id"))
    mod_embodied: Mapped[bool | None]
    from_on: Mapped[date | None]
    # The first day on which it holds no more.
    until_on: Mapped[date | None]


class KitLine(Recorded, Effective, Base):
    """What a position of a group needs, at one station of it."""

    __tablename__ = "kit_line"

    engine_type_id: Mapped[int] = mapped_column(ForeignKey("engine_type.id"))
    group_name: Mapped[str] = mapped_column(PlainText)
    sequence: Mapped[int]
    station: Mapped[str] = mapped_column(PlainText)
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    # In the part's smallest unit: pieces, micrometres or milligrams.
    quantity: Mapped[int] = mapped_column(BigInteger)
    renewed_always: Mapped[bool] = mapped_column(default=False)
    note: Mapped[str] = mapped_column(PlainText, default="")

    __table_args__ = (Index("ix_kit_line_type_group", "engine_type_id", "group_name"),)


class StandIn(Recorded, Effective, Base):
    """A part, or a set of several, that may stand in for another; from an authority."""

    __tablename__ = "stand_in"

    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    both_ways: Mapped[bool] = mapped_column(default=False)
    superseding: Mapped[bool] = mapped_column(default=False)
    authority: Mapped[str] = mapped_column(PlainText)
    engine_type_id: Mapped[int | None] = mapped_column(ForeignKey("engine_type.id"))
    document_id: Mapped[int | None] = mapped_column(ForeignKey("document.id"))


class StandInMember(Recorded, Base):
    """One part of what stands in, and how many of it for one of the part replaced."""

    __tablename__ = "stand_in_member"

    stand_in_id: Mapped[int] = mapped_column(ForeignKey("stand_in.id"), index=True)
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    quantity_each: Mapped[int] = mapped_column(BigInteger, default=1)
