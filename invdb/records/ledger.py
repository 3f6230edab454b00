"""The one ledger: entries, their lines and their facts, its head, and the words it may use."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index, String, text
from sqlalchemy.orm import Mapped, mapped_column

from invdb.records.base import Base, Instant, PlainText, Word
from invdb.terms import EntryKind, LineKind

NO_HASH = "0" * 64


class EntryKindWord(Base):
    """A kind of entry that this store knows."""

    __tablename__ = "entry_kind"

    word: Mapped[str] = mapped_column(String(40), primary_key=True)


class LineKindWord(Base):
    """A kind of line that this store knows."""

    __tablename__ = "line_kind"

    word: Mapped[str] = mapped_column(String(40), primary_key=True)


class RecordKindWord(Base):
    """A table that facts may set."""

    __tablename__ = "record_kind"

    word: Mapped[str] = mapped_column(String(40), primary_key=True)


class LedgerHead(Base):
    """The one row that a writing act locks first: the last entry's number, hash and instant."""

    __tablename__ = "ledger_head"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    number: Mapped[int] = mapped_column(BigInteger)
    hash: Mapped[str] = mapped_column(String(64))
    recorded_at: Mapped[datetime | None] = mapped_column(Instant)

    __table_args__ = (CheckConstraint("id = 1", name="one_row"),)


# The ledger's ids point at permanent numbers, not at rows: a row whose only entry was reversed is gone from
# its table, while the ledger keeps what was written. So these tables have no foreign keys to derived ones.
class Entry(Base):
    """One thing that happened. ``body`` holds all of it; the other columns are projections of the body."""

    __tablename__ = "entry"

    number: Mapped[int] = mapped_column(BigInteger, primary_key=True, autoincrement=False)
    kind: Mapped[EntryKind] = mapped_column(Word(EntryKind), ForeignKey("entry_kind.word"))
    happened_on: Mapped[date] = mapped_column(index=True)
    recorded_at: Mapped[datetime] = mapped_column(Instant, unique=True)
    who: Mapped[int] = mapped_column(BigInteger, index=True)
    job_id: Mapped[int | None] = mapped_column(BigInteger)
    reverses: Mapped[int | None] = mapped_column(ForeignKey("entry.number"), unique=True)
    note: Mapped[str] = mapped_column(PlainText)
    body: Mapped[str] = mapped_column(PlainText)
    previous_hash: Mapped[str] = mapped_column(String(64))
    hash: Mapped[str] = mapped_column(String(64))


class EntryLine(Base):
    """One movement of an entry, or one setting aside; ``quantity`` in the part's smallest unit.

    A move takes ``quantity`` of a thing from one place to another. A reserve line sets aside (above zero) or
    lets go (below zero) that much for a pull line where it lies; its two places are the same. A move into,
    out of or beneath an engine names the engine and, where it has one, what its meter read (hundredths).
    """

    __tablename__ = "entry_line"

    entry_number: Mapped[int] = mapped_column(ForeignKey("entry.number"), primary_key=True)
    ordinal: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[LineKind] = mapped_column(Word(LineKind), ForeignKey("line_kind.word"))
    piece_id: Mapped[int | None] = mapped_column(BigInteger)
    batch_id: Mapped[int | None] = mapped_column(BigInteger)
    from_place_id: Mapped[int] = mapped_column(BigInteger)
    to_place_id: Mapped[int] = mapped_column(BigInteger)
    quantity: Mapped[int] = mapped_column(BigInteger)
    pull_line_id: Mapped[int | None] = mapped_column(BigInteger)
    engine_id: Mapped[int | None] = mapped_column(BigInteger)
    reading: Mapped[int | None] = mapped_column(BigInteger)

    __table_args__ = (
        CheckConstraint("(piece_id IS NULL) <> (batch_id IS NULL)", name="one_thing"),
        CheckConstraint(
            "CASE WHEN kind = 'reserve' THEN quantity <> 0 AND from_place_id = to_place_id"
            " AND pull_line_id IS NOT NULL ELSE quantity > 0 AND from_place_id <> to_place_id END",
            name="shape",
        ),
        CheckConstraint("piece_id IS NULL OR quantity IN (1, -1)", name="one_piece"),
        Index("ix_entry_line_piece", "piece_id", "entry_number"),
        Index("ix_entry_line_batch", "batch_id", "entry_number"),
        Index("ix_entry_line_pull_line", "pull_line_id"),
        # What of a batch came to a place or left it: pieces have their stays for that.
        *(
            Index(
                f"ix_entry_line_batch_{way}",
                f"{way}_place_id",
                sqlite_where=text("batch_id IS NOT NULL"),
                postgresql_where=text("batch_id IS NOT NULL"),
            )
            for way in ("to", "from")
        ),
    )


class EntryFact(Base):
    """What an entry set of one record, as canonical JSON of column names and values."""

    __tablename__ = "entry_fact"

    entry_number: Mapped[int] = mapped_column(ForeignKey("entry.number"), primary_key=True)
    ordinal: Mapped[int] = mapped_column(primary_key=True)
    record: Mapped[str] = mapped_column(String(40), ForeignKey("record_kind.word"))
    record_id: Mapped[int] = mapped_column(BigInteger)
    values: Mapped[str] = mapped_column(PlainText)

    __table_args__ = (Index("ix_entry_fact_record", "record", "record_id"),)
