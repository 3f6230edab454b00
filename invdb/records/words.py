"""The words that find records, kept beside them in the transaction that sets them.

Only records a person looks for have words. A part's words are those of its house number, its name and all
its other numbers, so that any of them may be typed together; a piece is found by its own tag, serial and
papers, not again by its part.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Container, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import (
    BigInteger,
    BindParameter,
    Connection,
    Index,
    PrimaryKeyConstraint,
    Select,
    String,
    bindparam,
    delete,
    insert,
    select,
)
from sqlalchemy.orm import InstrumentedAttribute, Mapped, mapped_column

from invdb.records.base import Base, PlainText
from invdb.records.buying import Enquiry, Loan, PurchaseOrder
from invdb.records.catalogue import Family, Mod, OtherNumber, Part
from invdb.records.documents import Document
from invdb.records.engines import Engine, EngineType
from invdb.records.ledger import EntryFact
from invdb.records.people import Firm
from invdb.records.stock import Batch, Piece, Place, Pull
from invdb.rules.finding import name_words, number_words, own_number_words
from invdb.terms import PlaceKind

FOUND_KINDS = (
    "part",
    "piece",
    "batch",
    "place",
    "pull",
    "enquiry",
    "purchase_order",
    "loan",
    "engine",
    "engine_type",
    "document",
    "firm",
    "mod",
    "family",
)
"""The kinds of record that have words, in the order in which they are listed."""

# Every other place belongs to something that is found by a name of its own.
_PLACES_FOUND = (
    PlaceKind.STORES,
    PlaceKind.BIN,
    PlaceKind.QUARANTINE,
    PlaceKind.BENCH,
    PlaceKind.SCRAP,
)
_REFS_AT_ONCE = 500

Reader = Callable[[str], set[str]]


class FindWord(Base):
    """One normalised word that finds one record; ``kind`` is the record's table and ``ref`` its id.

    Looked up by the primary key, in the order of which results are listed, and by the record.
    """

    __tablename__ = "word"

    word: Mapped[str] = mapped_column(PlainText)
    kind: Mapped[str] = mapped_column(String(20).with_variant(String(20, collation="C"), "postgresql"))
    ref: Mapped[int] = mapped_column(BigInteger)

    __table_args__ = (
        PrimaryKeyConstraint("kind", "word", "ref"),
        Index("ix_word_kind_ref_word", "kind", "ref", "word"),
        {"sqlite_with_rowid": False},
    )


@dataclass(frozen=True)
class WordDifference:
    """Words of one record that should be kept and are not, and the other way round."""

    kind: str
    ref: int
    missing: frozenset[str]
    left_over: frozenset[str]


def reindex(
    connection: Connection,
    touched: Iterable[tuple[str, int]],
    new: Container[tuple[str, int]] = frozenset(),
) -> None:
    """Bring the words of records up to date after their rows were set or have vanished.

    ``touched`` holds pairs of a table's name and a row's id; tables without words are passed over. Those
    that are ``new`` had no words before. Writes only what differs.
    """
    for kind, refs in _refs_of(connection, touched).items():
        for some in _chunks(sorted(refs)):
            expected = _words_expected(connection, kind, some)
            kept = _words_kept(connection, kind, [ref for ref in some if (kind, ref) not in new])
            gone: dict[int, set[str]] = {ref: words - expected[ref] for ref, words in kept.items()}
            added = [
                {"word": word, "kind": kind, "ref": ref}
                for ref in some
                for word in sorted(expected[ref] - kept.get(ref, set()))
            ]
            _remove(connection, kind, gone)
            if added:
                connection.execute(_ADD_WORDS, added)


def word_differences(connection: Connection) -> Iterator[WordDifference]:
    """Every record whose kept words are not those that its row gives, by kind and id."""
    for kind in FOUND_KINDS:
        table = Base.metadata.tables[kind]
        refs = set(connection.scalars(select(table.c.id)))
        refs.update(connection.scalars(select(FindWord.ref).where(FindWord.kind == kind).distinct()))
        for some in _chunks(sorted(refs)):
            expected = _words_expected(connection, kind, some)
            kept = _words_kept(connection, kind, some)
            for ref in some:
                if expected[ref] != kept[ref]:
                    yield WordDifference(
                        kind,
                        ref,
                        frozenset(expected[ref] - kept[ref]),
                        frozenset(kept[ref] - expected[ref]),
                    )
    strange = select(FindWord.kind, FindWord.ref, FindWord.word).where(FindWord.kind.not_in(FOUND_KINDS))
    for kind, ref, word in connection.execute(strange):
        yield WordDifference(kind, ref, frozenset(), frozenset({word}))


def _refs_of(connection: Connection, touched: Iterable[tuple[str, int]]) -> dict[str, set[int]]:
    """The records whose words may have changed, by kind."""
    by_table: dict[str, set[int]] = defaultdict(set)
    for table, row_id in touched:
        by_table[table].add(row_id)
    refs: dict[str, set[int]] = defaultdict(set)
    refs |= {kind: by_table[kind] for kind in FOUND_KINDS if kind in by_table}
    for some in _chunks(sorted(by_table["other_number"])):
        refs["part"].update(_parts_numbered(connection, some))
    for some in _chunks(sorted(by_table["engine_type"])):
        refs["engine"].update(connection.scalars(select(Engine.id).where(Engine.engine_type_id.in_(some))))
    return refs


def _parts_numbered(connection: Connection, other_numbers: list[int]) -> Iterator[int]:
    """Parts that bear these other numbers or once did; only the ledger still knows of the latter."""
    yield from connection.scalars(select(OtherNumber.part_id).where(OtherNumber.id.in_(other_numbers)))
    facts = select(EntryFact.values).where(
        EntryFact.record == "other_number", EntryFact.record_id.in_(other_numbers)
    )
    for values in connection.scalars(facts):
        part_id = json.loads(values).get("part_id")
        if part_id is not None:
            yield int(part_id)


def _words_expected(connection: Connection, kind: str, refs: list[int]) -> dict[int, set[str]]:
    words: dict[int, set[str]] = {ref: set() for ref in refs}
    for statement, readers in _TEXTS[kind]:
        for ref, *texts in connection.execute(statement, {"refs": refs}):
            for reader, text in zip(readers, texts, strict=True):
                if text:
                    words[ref] |= reader(text)
    return words


def _words_kept(connection: Connection, kind: str, refs: list[int]) -> dict[int, set[str]]:
    words: dict[int, set[str]] = {ref: set() for ref in refs}
    if refs:
        for ref, word in connection.execute(_KEPT, {"kind": kind, "refs": refs}):
            words[ref].add(word)
    return words


def _remove(connection: Connection, kind: str, gone: dict[int, set[str]]) -> None:
    for ref, words in gone.items():
        if words:
            connection.execute(
                delete(FindWord).where(FindWord.kind == kind, FindWord.ref == ref, FindWord.word.in_(words))
            )


def _chunks(refs: list[int]) -> Iterator[list[int]]:
    return (refs[start : start + _REFS_AT_ONCE] for start in range(0, len(refs), _REFS_AT_ONCE))


def _read(
    ref: InstrumentedAttribute[int], *texts: tuple[InstrumentedAttribute[Any], Reader]
) -> tuple[Select[Any], tuple[Reader, ...]]:
    """A statement that gives a record's id and its texts, and how each text is read."""
    columns = [column for column, _ in texts]
    return select(ref, *columns).where(ref.in_(_REFS)), tuple(reader for _, reader in texts)


def _standing(
    table: type[OtherNumber], read: tuple[Select[Any], tuple[Reader, ...]]
) -> tuple[Select[Any], tuple[Reader, ...]]:
    """The same, less what was withdrawn."""
    statement, readers = read
    return statement.where(table.withdrawn_on.is_(None)), readers


_REFS: BindParameter[Any] = bindparam("refs", expanding=True)
_KEPT = select(FindWord.ref, FindWord.word).where(FindWord.kind == bindparam("kind"), FindWord.ref.in_(_REFS))
_ADD_WORDS = insert(FindWord)
_PLACE = _read(Place.id, (Place.name, number_words))
_ENGINE = _read(
    Engine.id, (Engine.name, name_words), (Engine.serial, number_words), (EngineType.name, name_words)
)
_TEXTS: dict[str, list[tuple[Select[Any], tuple[Reader, ...]]]] = {
    "part": [
        _read(Part.id, (Part.house_number, own_number_words), (Part.name, name_words)),
        _standing(OtherNumber, _read(OtherNumber.part_id, (OtherNumber.number, number_words))),
    ],
    "piece": [
        _read(
            Piece.id,
            (Piece.tag, own_number_words),
            (Piece.serial, number_words),
            (Piece.work_reference, number_words),
            (Piece.material_certificate, number_words),
        )
    ],
    "batch": [
        _read(
            Batch.id,
            (Batch.tag, own_number_words),
            (Batch.maker_batch, number_words),
            (Batch.work_reference, number_words),
            (Batch.material_certificate, number_words),
        )
    ],
    "place": [(_PLACE[0].where(Place.kind.in_(_PLACES_FOUND)), _PLACE[1])],
    "pull": [_read(Pull.id, (Pull.number, own_number_words))],
    "enquiry": [_read(Enquiry.id, (Enquiry.number, own_number_words))],
    "purchase_order": [
        _read(
            PurchaseOrder.id,
            (PurchaseOrder.number, own_number_words),
            (PurchaseOrder.reference, number_words),
        )
    ],
    "loan": [_read(Loan.id, (Loan.number, own_number_words))],
    "engine": [(_ENGINE[0].join(EngineType, EngineType.id == Engine.engine_type_id), _ENGINE[1])],
    "engine_type": [_read(EngineType.id, (EngineType.name, name_words))],
    "document": [_read(Document.id, (Document.reference, number_words), (Document.title, name_words))],
    "firm": [_read(Firm.id, (Firm.name, name_words), (Firm.town, name_words))],
    "mod": [_read(Mod.id, (Mod.code, number_words), (Mod.name, name_words))],
    "family": [_read(Family.id, (Family.letters, number_words), (Family.name, name_words))],
}
