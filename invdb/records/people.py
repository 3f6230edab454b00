"""Who works here, who owns what, the firms outside, and what owners have agreed to."""

from __future__ import annotations

from datetime import date

from sqlalchemy import ForeignKey
from sqlalchemy.orm import Mapped, mapped_column

from invdb.records.base import Base, PlainText, Recorded, Word
from invdb.terms import FirmRole


class Person(Recorded, Base):
    """Someone who does acts here."""

    __tablename__ = "person"

    name: Mapped[str] = mapped_column(PlainText, unique=True)
    licence_number: Mapped[str | None] = mapped_column(PlainText)
    licence_kind: Mapped[str | None] = mapped_column(PlainText)
    works_here: Mapped[bool] = mapped_column(default=True)


class Firm(Recorded, Base):
    """A maker, a supplier, a works, a customer."""

    __tablename__ = "firm"

    name: Mapped[str] = mapped_column(PlainText, unique=True)
    role: Mapped[FirmRole] = mapped_column(Word(FirmRole))
    town: Mapped[str] = mapped_column(PlainText, default="")
    note: Mapped[str] = mapped_column(PlainText, default="")


class Owner(Recorded, Base):
    """Whose a piece or an engine is: the workshop itself, a customer, a lender."""

    __tablename__ = "owner"

    name: Mapped[str] = mapped_column(PlainText, unique=True)
    is_workshop: Mapped[bool] = mapped_column(default=False)
    firm_id: Mapped[int | None] = mapped_column(ForeignKey("firm.id"))


class OwnerAgreement(Recorded, Base):
    """An owner's recorded word that their stock may go into another owner's engine.

    With ``engine_id`` it holds for that engine, else for every engine of ``for_owner_id``.
    """

    __tablename__ = "owner_agreement"

    owner_id: Mapped[int] = mapped_column(ForeignKey("owner.id"), index=True)
    for_owner_id: Mapped[int] = mapped_column(ForeignKey("owner.id"))
    engine_id: Mapped[int | None] = mapped_column(ForeignKey("engine.id"))
    from_on: Mapped[date]
    until_on: Mapped[date | None]
    document_id: Mapped[int | None] = mapped_column(ForeignKey("document.id"))
    wording: Mapped[str] = mapped_column(PlainText)


class Setting(Recorded, Base):
    """One of the shop's own choices: its name, zone, number patterns, last firm and bin offered."""

    __tablename__ = "setting"

    name: Mapped[str] = mapped_column(PlainText, unique=True)
    value: Mapped[str] = mapped_column(PlainText)
