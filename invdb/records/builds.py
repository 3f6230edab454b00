"""What is known of how an engine is put together: stations presumed filled, strippings, and debts."""

from __future__ import annotations

from datetime import date

from sqlalchemy import BigInteger, ForeignKey, Index
from sqlalchemy.orm import Mapped, mapped_column

from invdb.records.base import Base, PlainText, Recorded, Word
from invdb.terms import LifeControl


class Presumption(Recorded, Base):
    """A station of an engine that came with no build record: something is in it, and nobody knows what.

    It ends when the station is stripped: with the piece or batch that came out, or found empty.
    """

    __tablename__ = "presumption"

    engine_id: Mapped[int] = mapped_column(ForeignKey("engine.id"))
    position_id: Mapped[int] = mapped_column(ForeignKey("position.id"))
    station_id: Mapped[int] = mapped_column(ForeignKey("station.id"))
    kit_line_id: Mapped[int] = mapped_column(ForeignKey("kit_line.id"))
    # The part that its kit line leads one to expect, and how much of it.
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"))
    quantity: Mapped[int] = mapped_column(BigInteger)
    presumed_on: Mapped[date]
    ended_on: Mapped[date | None]
    piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"))
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.id"))
    found: Mapped[str] = mapped_column(PlainText, default="")

    __table_args__ = (Index("ix_presumption_engine", "engine_id", "ended_on"),)


class Stripping(Recorded, Base):
    """How one piece or batch came out of an engine or of another piece."""

    __tablename__ = "stripping"

    piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"), index=True)
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.id"), index=True)
    engine_id: Mapped[int | None] = mapped_column(ForeignKey("engine.id"), index=True)
    position_id: Mapped[int | None] = mapped_column(ForeignKey("position.id"))
    station_id: Mapped[int | None] = mapped_column(ForeignKey("station.id"))
    from_place_id: Mapped[int] = mapped_column(ForeignKey("place.id"))
    stripped_on: Mapped[date]
    found: Mapped[str] = mapped_column(PlainText)
    orientation: Mapped[str] = mapped_column(PlainText, default="")
    # The tags of what it ran with in the same position, separated by commas.
    mates: Mapped[str] = mapped_column(PlainText, default="")
    control: Mapped[LifeControl | None] = mapped_column(Word(LifeControl))


class Debt(Recorded, Base):
    """A piece or a quantity robbed from one engine for another, owed back until that station is filled."""

    __tablename__ = "debt"

    engine_id: Mapped[int] = mapped_column(ForeignKey("engine.id"), index=True)
    position_id: Mapped[int] = mapped_column(ForeignKey("position.id"))
    station_id: Mapped[int] = mapped_column(ForeignKey("station.id"))
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"))
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.id"))
    quantity: Mapped[int] = mapped_column(BigInteger, default=1)
    for_engine_id: Mapped[int | None] = mapped_column(ForeignKey("engine.id"))
    authorised_by: Mapped[int] = mapped_column(ForeignKey("person.id"))
    owed_on: Mapped[date]
    repaid_on: Mapped[date | None]
    reason: Mapped[str] = mapped_column(PlainText, default="")
