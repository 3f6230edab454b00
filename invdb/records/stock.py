"""Places, pieces and batches, where they are, the doubts against them, and the pulls that ask for them."""

from __future__ import annotations

from datetime import date
from typing import ClassVar

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from invdb.records.base import Base, PlainText, Recorded, Word
from invdb.terms import Condition, HoursKnown, Origin, PlaceKind, ReturnedAs, Scope, WorkState


class Place(Recorded, Base):
    """Whatever can hold a part. Places form one tree; a piece's own place hangs where the piece is."""

    __tablename__ = "place"

    kind: Mapped[PlaceKind] = mapped_column(Word(PlaceKind))
    name: Mapped[str] = mapped_column(PlainText, unique=True)
    parent_id: Mapped[int | None] = mapped_column(ForeignKey("place.id"), index=True)
    # Bins are walked in this order when a kit is picked.
    walking_order: Mapped[int] = mapped_column(default=0)
    bonded: Mapped[bool] = mapped_column(default=False)
    piece_id: Mapped[int | None] = mapped_column(
        ForeignKey(
            "piece.id", use_alter=True, deferrable=True, initially="DEFERRED", name="fk_place_piece_id"
        ),
        unique=True,
    )
    engine_id: Mapped[int | None] = mapped_column(ForeignKey("engine.id"), index=True)
    position_id: Mapped[int | None] = mapped_column(ForeignKey("position.id"))
    station_id: Mapped[int | None] = mapped_column(ForeignKey("station.id"))
    firm_id: Mapped[int | None] = mapped_column(ForeignKey("firm.id"))
    pull_id: Mapped[int | None] = mapped_column(
        ForeignKey("pull.id", use_alter=True, deferrable=True, initially="DEFERRED", name="fk_place_pull_id"),
        unique=True,
    )
    note: Mapped[str] = mapped_column(PlainText, default="")


class Stock:
    """What is known of a piece and of a batch alike."""

    tag: Mapped[str] = mapped_column(PlainText, unique=True)
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    condition: Mapped[Condition] = mapped_column(Word(Condition))
    scope: Mapped[Scope | None] = mapped_column(Word(Scope))
    origin: Mapped[Origin] = mapped_column(Word(Origin))
    work_state: Mapped[WorkState] = mapped_column(Word(WorkState), default=WorkState.AS_RECEIVED)
    # The report or certificate behind the work state, as its reference reads.
    work_reference: Mapped[str] = mapped_column(PlainText, default="")
    used: Mapped[bool] = mapped_column(default=False)
    owner_id: Mapped[int] = mapped_column(ForeignKey("owner.id"))
    received_on: Mapped[date]
    origin_firm_id: Mapped[int | None] = mapped_column(ForeignKey("firm.id"))
    donor_engine_id: Mapped[int | None] = mapped_column(ForeignKey("engine.id"))
    donor: Mapped[str] = mapped_column(PlainText, default="")
    shelf_expiry_on: Mapped[date | None]
    drawing: Mapped[str] = mapped_column(PlainText, default="")
    drawing_revision: Mapped[str] = mapped_column(PlainText, default="")
    material: Mapped[str] = mapped_column(PlainText, default="")
    material_certificate: Mapped[str] = mapped_column(PlainText, default="")
    made_by: Mapped[str] = mapped_column(PlainText, default="")
    made_inspected_by: Mapped[str] = mapped_column(PlainText, default="")
    # What the receiving checks found, in words; an empty text means not yet looked at.
    check_right_part: Mapped[str] = mapped_column(PlainText, default="")
    check_papers: Mapped[str] = mapped_column(PlainText, default="")
    check_damage: Mapped[str] = mapped_column(PlainText, default="")
    check_hazards: Mapped[str] = mapped_column(PlainText, default="")
    accepted_by: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    accepted_on: Mapped[date | None]
    note: Mapped[str] = mapped_column(PlainText, default="")
    # Empty where it is what its part is.
    size_class: Mapped[str] = mapped_column(PlainText, default="", server_default="")
    finish: Mapped[str] = mapped_column(PlainText, default="", server_default="")


class Piece(Recorded, Stock, Base):
    """One physical thing with a tag and a history."""

    __tablename__ = "piece"
    derived_columns: ClassVar[frozenset[str]] = frozenset({"place_id", "reserved_for"})

    serial: Mapped[str | None] = mapped_column(PlainText)
    # The day it was made, where a paper says so: calendar limits since new count from it.
    made_on: Mapped[date | None]
    prior_hours_known: Mapped[HoursKnown] = mapped_column(Word(HoursKnown), default=HoursKnown.UNKNOWN)
    # Hundredths of an hour.
    prior_hours_low: Mapped[int | None] = mapped_column(BigInteger)
    prior_hours_high: Mapped[int | None] = mapped_column(BigInteger)
    prior_starts_known: Mapped[HoursKnown] = mapped_column(Word(HoursKnown), default=HoursKnown.UNKNOWN)
    prior_starts_low: Mapped[int | None] = mapped_column(BigInteger)
    prior_starts_high: Mapped[int | None] = mapped_column(BigInteger)
    place_id: Mapped[int] = mapped_column(ForeignKey("place.id"), index=True)
    reserved_for: Mapped[int | None] = mapped_column(
        ForeignKey(
            "pull_line.id",
            use_alter=True,
            deferrable=True,
            initially="DEFERRED",
            name="fk_piece_reserved_for",
        ),
        index=True,
    )

    __table_args__ = (Index("ix_piece_part_serial", "part_id", "serial"),)


class Batch(Recorded, Stock, Base):
    """A number, a length or a weight of like things with one origin, one condition and one owner."""

    __tablename__ = "batch"

    # The maker's own batch or lot mark.
    maker_batch: Mapped[str] = mapped_column(PlainText, default="")
    parent_batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.id"), index=True)


class Holding(Base):
    """How much of a batch lies at a place, and how much of that is spoken for; in the smallest unit."""

    __tablename__ = "holding"

    batch_id: Mapped[int] = mapped_column(ForeignKey("batch.id"), primary_key=True)
    place_id: Mapped[int] = mapped_column(ForeignKey("place.id"), primary_key=True, index=True)
    quantity: Mapped[int] = mapped_column(BigInteger)
    reserved: Mapped[int] = mapped_column(BigInteger, default=0)

    __table_args__ = (
        CheckConstraint("quantity >= 0", name="quantity"),
        CheckConstraint("reserved >= 0 AND reserved <= quantity", name="reserved"),
    )


class Stay(Base):
    """That a piece was at a place from one entry until another; ``to_on`` is empty while it is there."""

    __tablename__ = "stay"

    piece_id: Mapped[int] = mapped_column(ForeignKey("piece.id"), primary_key=True)
    sequence: Mapped[int] = mapped_column(primary_key=True)
    place_id: Mapped[int] = mapped_column(ForeignKey("place.id"), index=True)
    from_on: Mapped[date]
    from_entry: Mapped[int] = mapped_column(BigInteger)
    to_on: Mapped[date | None]
    to_entry: Mapped[int | None] = mapped_column(BigInteger)


class Hold(Recorded, Base):
    """A doubt raised on a part, a piece, a batch or an engine, until an entry clears it."""

    __tablename__ = "hold"

    part_id: Mapped[int | None] = mapped_column(ForeignKey("part.id"), index=True)
    piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"), index=True)
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.id"), index=True)
    engine_id: Mapped[int | None] = mapped_column(ForeignKey("engine.id"), index=True)
    reason: Mapped[str] = mapped_column(PlainText)
    raised_on: Mapped[date]
    raised_by: Mapped[int] = mapped_column(ForeignKey("person.id"))
    cleared_on: Mapped[date | None]
    cleared_by: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    cleared_because: Mapped[str] = mapped_column(PlainText, default="")


class Pull(Recorded, Base):
    """The gathering of one kit for one position of one engine; also a place, where issued kit lies."""

    __tablename__ = "pull"

    number: Mapped[str] = mapped_column(PlainText, unique=True)
    engine_id: Mapped[int] = mapped_column(ForeignKey("engine.id"), index=True)
    position_id: Mapped[int] = mapped_column(ForeignKey("position.id"))
    asked_on: Mapped[date]
    asked_by: Mapped[int] = mapped_column(ForeignKey("person.id"))
    cancelled: Mapped[bool] = mapped_column(default=False)
    note: Mapped[str] = mapped_column(PlainText, default="")


class PullLine(Recorded, Base):
    """One thing asked for by a pull: what was chosen and why, or what is missing and what bars it.

    Quantities are in the part's smallest unit. A line with no piece and no batch is short.
    """

    __tablename__ = "pull_line"
    derived_columns: ClassVar[frozenset[str]] = frozenset({"reserved", "issued", "returned", "fitted"})

    pull_id: Mapped[int] = mapped_column(ForeignKey("pull.id"), index=True)
    kit_line_id: Mapped[int] = mapped_column(ForeignKey("kit_line.id"))
    # The part the kit asks for, and the part of the thing chosen, which an alternate makes another one.
    wanted_part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"))
    piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"), index=True)
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.id"), index=True)
    place_id: Mapped[int | None] = mapped_column(ForeignKey("place.id"))
    quantity: Mapped[int] = mapped_column(BigInteger)
    why: Mapped[str] = mapped_column(PlainText, default="")
    authority: Mapped[str] = mapped_column(PlainText, default="")
    returned_as: Mapped[ReturnedAs | None] = mapped_column(Word(ReturnedAs))
    reserved: Mapped[int] = mapped_column(BigInteger, default=0)
    issued: Mapped[int] = mapped_column(BigInteger, default=0)
    # What left the pull again, of which ``fitted`` went into an engine or another piece.
    returned: Mapped[int] = mapped_column(BigInteger, default=0)
    fitted: Mapped[int] = mapped_column(BigInteger, default=0, server_default="0")
