"""What every table shares: names, column types, and the mark of tables that come from ledger facts."""

from __future__ import annotations

from datetime import UTC, datetime
from enum import StrEnum
from typing import Any, ClassVar, TypeVar

from sqlalchemy import BigInteger, Dialect, MetaData, String, Text, TypeDecorator
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

from invdb.terms import Refused

INSTANT_FORMAT = "%Y-%m-%dT%H:%M:%S.%fZ"

# PostgreSQL compares text by the locale of the database unless told otherwise; SQLite compares bytes.
PlainText = Text().with_variant(Text(collation="C"), "postgresql")

W = TypeVar("W", bound=StrEnum)


class Base(DeclarativeBase):
    """The root of all tables. Every whole number has 64 bits on both databases."""

    type_annotation_map: ClassVar[dict[Any, Any]] = {int: BigInteger}

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


def damaged(value: object, expected: str) -> Refused:
    """That the store holds something that no act writes, as only a damaged or meddled-with file does."""
    return Refused(
        f"The store is damaged: it holds {value!r} where {expected} should be.",
        "Run `invdb check`, which names what is wrong, or restore a backup.",
    )


def write_instant(instant: datetime) -> str:
    """An instant as the ledger spells it: UTC, microseconds, so that text order is time order."""
    return instant.astimezone(UTC).strftime(INSTANT_FORMAT)


def read_instant(text: str) -> datetime:
    """The instant that ``write_instant`` spelled; ValueError if it did not."""
    instant = datetime.fromisoformat(text)
    if write_instant(instant) != text:
        raise ValueError(f"{text!r} is no instant as the ledger spells it")
    return instant


class Instant(TypeDecorator[datetime]):
    """A UTC instant kept as text of one width on both databases, exactly as the entry's body spells it."""

    impl = PlainText
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:
        return None if value is None else write_instant(value)

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        try:
            return read_instant(value)
        except ValueError as error:
            raise damaged(value, "an instant") from error


class Word(TypeDecorator[W]):
    """A word of ``invdb.terms`` kept as the word itself."""

    impl = String
    cache_ok = True

    def __init__(self, words: type[W]) -> None:
        super().__init__(40)
        self.words = words

    def process_bind_param(self, value: W | None, dialect: Dialect) -> str | None:
        return None if value is None else str(self.words(value))

    def process_result_value(self, value: Any | None, dialect: Dialect) -> W | None:
        if value is None:
            return None
        try:
            return self.words(value)
        except ValueError as error:
            raise damaged(value, f"a word for {self.words.__name__.lower()}") from error


class Recorded:
    """A table whose rows are derived from the ledger's facts.

    ``derived_columns`` are kept by ``post`` from the ledger's lines; all others but ``id`` and ``set_by``
    come from facts, under the column's own name. ``set_by`` is the highest number among the entries that
    set the row and were not reversed: an edit that starts from another number is stale.
    """

    derived_columns: ClassVar[frozenset[str]] = frozenset()

    id: Mapped[int] = mapped_column(BigInteger, primary_key=True, autoincrement=False, sort_order=-1)
    set_by: Mapped[int] = mapped_column(BigInteger, sort_order=100)
