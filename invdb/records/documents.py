"""Documents: the content once by its SHA-256, what it is, and what it stands behind."""

from __future__ import annotations

from datetime import date

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, LargeBinary, String
from sqlalchemy.orm import Mapped, mapped_column

from invdb.records.base import Base, PlainText, Recorded, Word
from invdb.terms import PaperKind


class DocumentContent(Base):
    """The bytes of a document, kept once and never altered."""

    __tablename__ = "document_content"

    sha256: Mapped[str] = mapped_column(String(64), primary_key=True)
    size: Mapped[int] = mapped_column(BigInteger)
    content: Mapped[bytes] = mapped_column(LargeBinary)

    __table_args__ = (CheckConstraint("size >= 0", name="size"),)


class Document(Recorded, Base):
    """A paper: what it is, its reference and date, and its content if we hold it."""

    __tablename__ = "document"

    kind: Mapped[PaperKind] = mapped_column(Word(PaperKind))
    reference: Mapped[str] = mapped_column(PlainText)
    title: Mapped[str] = mapped_column(PlainText, default="")
    dated_on: Mapped[date | None]
    firm_id: Mapped[int | None] = mapped_column(ForeignKey("firm.id"))
    sha256: Mapped[str | None] = mapped_column(ForeignKey("document_content.sha256"), index=True)
    file_name: Mapped[str | None] = mapped_column(PlainText)


class DocumentLink(Recorded, Base):
    """That a document stands behind one piece, batch, part, engine or firm."""

    __tablename__ = "document_link"

    document_id: Mapped[int] = mapped_column(ForeignKey("document.id"), index=True)
    piece_id: Mapped[int | None] = mapped_column(ForeignKey("piece.id"), index=True)
    batch_id: Mapped[int | None] = mapped_column(ForeignKey("batch.id"), index=True)
    part_id: Mapped[int | None] = mapped_column(ForeignKey("part.id"), index=True)
    engine_id: Mapped[int | None] = mapped_column(ForeignKey("engine.id"), index=True)

    __table_args__ = (
        CheckConstraint(
            "(CASE WHEN piece_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN batch_id IS NULL THEN 0 ELSE 1 END)"
            " + (CASE WHEN part_id IS NULL THEN 0 ELSE 1 END)"
            " + (CASE WHEN engine_id IS NULL THEN 0 ELSE 1 END) = 1",
            name="one_subject",
        ),
    )
