"""What parts must measure, how they fit together, and how an engine's masses are matched.

Figures are kept as the texts that were published; the unit stands beside them, as published too.
"""

from __future__ import annotations

from datetime import date

from sqlalchemy import BigInteger, ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from invdb.records.base import Base, PlainText, Recorded, Word
from invdb.terms import BalanceKind, FitKind, MatchOn, SpecKind


class Spec(Recorded, Base):
    """One revision of a part's specification, in force from a day until a later one is or it is withdrawn."""

    __tablename__ = "spec"

    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    revision: Mapped[str] = mapped_column(PlainText)
    from_on: Mapped[date]
    source: Mapped[str] = mapped_column(PlainText)
    document_id: Mapped[int | None] = mapped_column(ForeignKey("document.id"))
    withdrawn_on: Mapped[date | None]
    note: Mapped[str] = mapped_column(PlainText, default="")


class SpecLine(Recorded, Base):
    """One statement of a specification.

    ``size_class`` names the oversize or undersize that a line is for; a line without one is for the standard
    size, and for every size that has no line of its own by that name. Of figures, ``new_…`` bound what a new
    piece measures and ``worn_…`` what one may have worn to; ``points`` and ``directions`` are names separated
    by commas, and ``oval_max`` and ``taper_max`` bound the difference between directions at one point, and
    between points in one direction. A mass's ``spread_max`` is what one set may differ by. A test has its
    ``medium``, its pressure or load as ``target``, ``hold_seconds``, and the ``drop_max`` allowed.
    """

    __tablename__ = "spec_line"

    spec_id: Mapped[int] = mapped_column(ForeignKey("spec.id"), index=True)
    sequence: Mapped[int]
    kind: Mapped[SpecKind] = mapped_column(Word(SpecKind))
    name: Mapped[str] = mapped_column(PlainText)
    size_class: Mapped[str] = mapped_column(PlainText, default="")
    unit: Mapped[str] = mapped_column(PlainText, default="")
    new_low: Mapped[str | None] = mapped_column(PlainText)
    new_high: Mapped[str | None] = mapped_column(PlainText)
    worn_low: Mapped[str | None] = mapped_column(PlainText)
    worn_high: Mapped[str | None] = mapped_column(PlainText)
    target: Mapped[str | None] = mapped_column(PlainText)
    points: Mapped[str] = mapped_column(PlainText, default="")
    directions: Mapped[str] = mapped_column(PlainText, default="")
    oval_max: Mapped[str | None] = mapped_column(PlainText)
    taper_max: Mapped[str | None] = mapped_column(PlainText)
    spread_max: Mapped[str | None] = mapped_column(PlainText)
    medium: Mapped[str] = mapped_column(PlainText, default="")
    hold_seconds: Mapped[int | None] = mapped_column(BigInteger)
    drop_max: Mapped[str | None] = mapped_column(PlainText)
    # What a material, a finish, a crack test or a look over asks for, in words.
    wording: Mapped[str] = mapped_column(PlainText, default="")


class FitLimit(Recorded, Base):
    """The clearance of what sits at one station of a position in what sits at another, below zero where it
    is an interference.

    ``outer_name`` and ``inner_name`` are the dimensions of the two, by the names of their specifications'
    lines; ``…_point`` the one point at which they are taken, empty for all. Clearance is outer less inner;
    where ``gap`` is set the outer dimension is itself the gap, as that of a ring in its bore, and there is no
    inner one. With parts named it is for those parts alone, and goes before one for any. ``makes_matched``
    says that the two are a matched set once they were fitted together.
    """

    __tablename__ = "fit_limit"

    engine_type_id: Mapped[int] = mapped_column(ForeignKey("engine_type.id"))
    group_name: Mapped[str] = mapped_column(PlainText)
    sequence: Mapped[int]
    name: Mapped[str] = mapped_column(PlainText)
    kind: Mapped[FitKind] = mapped_column(Word(FitKind))
    outer_station: Mapped[str] = mapped_column(PlainText)
    outer_name: Mapped[str] = mapped_column(PlainText)
    outer_point: Mapped[str] = mapped_column(PlainText, default="")
    outer_part_id: Mapped[int | None] = mapped_column(ForeignKey("part.id"))
    inner_station: Mapped[str] = mapped_column(PlainText)
    inner_name: Mapped[str] = mapped_column(PlainText, default="")
    inner_point: Mapped[str] = mapped_column(PlainText, default="")
    inner_part_id: Mapped[int | None] = mapped_column(ForeignKey("part.id"))
    gap: Mapped[bool] = mapped_column(default=False)
    unit: Mapped[str] = mapped_column(PlainText)
    low: Mapped[str] = mapped_column(PlainText)
    high: Mapped[str] = mapped_column(PlainText)
    worn_high: Mapped[str | None] = mapped_column(PlainText)
    target: Mapped[str | None] = mapped_column(PlainText)
    # What is done on assembly, and with what: "ream to suit", "file the gap".
    operation: Mapped[str] = mapped_column(PlainText, default="")
    makes_matched: Mapped[bool] = mapped_column(default=False)
    revision: Mapped[str] = mapped_column(PlainText, default="")
    source: Mapped[str] = mapped_column(PlainText)
    document_id: Mapped[int | None] = mapped_column(ForeignKey("document.id"))
    from_on: Mapped[date]
    withdrawn_on: Mapped[date | None]

    __table_args__ = (Index("ix_fit_limit_type_group", "engine_type_id", "group_name"),)


class MatchRule(Recorded, Base):
    """That what sits at two stations must be of one size class, or that two finishes may not meet there."""

    __tablename__ = "match_rule"

    engine_type_id: Mapped[int] = mapped_column(ForeignKey("engine_type.id"), index=True)
    group_name: Mapped[str] = mapped_column(PlainText)
    station: Mapped[str] = mapped_column(PlainText)
    other_station: Mapped[str] = mapped_column(PlainText)
    what: Mapped[MatchOn] = mapped_column(Word(MatchOn))
    finish: Mapped[str] = mapped_column(PlainText, default="")
    other_finish: Mapped[str] = mapped_column(PlainText, default="")
    source: Mapped[str] = mapped_column(PlainText)
    withdrawn_on: Mapped[date | None]


class BalanceSet(Recorded, Base):
    """Positions whose masses agree: within ``spread`` of one another, or of ``target`` where one is given.

    ``positions`` are names separated by commas, none for all of the group.
    """

    __tablename__ = "balance_set"

    engine_type_id: Mapped[int] = mapped_column(ForeignKey("engine_type.id"), index=True)
    group_name: Mapped[str] = mapped_column(PlainText)
    name: Mapped[str] = mapped_column(PlainText)
    kind: Mapped[BalanceKind] = mapped_column(Word(BalanceKind))
    positions: Mapped[str | None] = mapped_column(PlainText)
    unit: Mapped[str] = mapped_column(PlainText)
    spread: Mapped[str] = mapped_column(PlainText)
    target: Mapped[str | None] = mapped_column(PlainText)
    source: Mapped[str] = mapped_column(PlainText)
    withdrawn_on: Mapped[date | None]


class BalanceMass(Recorded, Base):
    """One mass that counts in a balance set: of what sits at a station, by its name in the specification."""

    __tablename__ = "balance_mass"

    balance_set_id: Mapped[int] = mapped_column(ForeignKey("balance_set.id"), index=True)
    station: Mapped[str] = mapped_column(PlainText)
    mass_name: Mapped[str] = mapped_column(PlainText)
