"""Prove a store: the ledger's chain and guards, and that everything kept beside it follows from it."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from itertools import islice

from sqlalchemy import Boolean, Connection, Date, Integer, func, select, text
from sqlalchemy.orm import Session

from invdb.records import triggers
from invdb.records.base import Base
from invdb.records.chain import Chain, Difference
from invdb.records.ledger import NO_HASH, Entry
from invdb.records.nesting import NESTING_MAX
from invdb.records.registry import RECORDED
from invdb.records.replay import batches_replayed, pieces_replayed, pull_lines_replayed, records_replayed
from invdb.records.replay_life import logs_replayed, services_replayed
from invdb.records.streams import raw_rows
from invdb.records.words import word_differences
from invdb.store import Store

DIFFERENCES_MAX = 1000
_DOCUMENTS_AT_ONCE = 4
# Of each column.
_ROWS_NAMED_MAX = 10

Progress = Callable[[str, float | None], None]


@dataclass(frozen=True)
class CheckReport:
    """What a check found: how many entries there are, the last one's hash, and every difference.

    The hash, compared with one written down earlier, tells whether the ledger's end was cut off or rewritten.
    """

    entries: int
    last_hash: str
    differences: tuple[Difference, ...]


def check_store(store: Store, progress: Progress | None = None) -> CheckReport:
    """Replay the whole ledger of a store and compare; see ``check_session``."""
    with store.reading() as session:
        return check_session(session, progress)


def check_session(session: Session, progress: Progress | None = None) -> CheckReport:
    """Check what a session sees: guards, chain, projections, rows, whereabouts, words, documents, keys.

    At most ``DIFFERENCES_MAX`` differences are listed. ``progress`` hears what is being done and, where it
    is known, how far it is (0 to 1).
    """
    session.flush()
    connection = session.connection()
    with _every_text_read(connection):
        return _checked(session, connection, progress)


@contextmanager
def _every_text_read(connection: Connection) -> Iterator[None]:
    """Have SQLite hand over texts that are none, with a mark for each bad byte, which then differ from what
    the ledger says; it would else give up at the first, and the check could not name it.
    """
    driver = connection.connection.driver_connection
    if not isinstance(driver, sqlite3.Connection):
        yield
        return
    usual = driver.text_factory
    driver.text_factory = lambda content: content.decode(errors="replace")
    try:
        yield
    finally:
        driver.text_factory = usual


def _checked(session: Session, connection: Connection, progress: Progress | None) -> CheckReport:
    entries = session.scalars(select(func.count()).select_from(Entry)).one()
    last_hash = session.scalar(select(Entry.hash).order_by(Entry.number.desc()).limit(1)) or NO_HASH
    found = tuple(islice(_differences(connection, entries, progress or _say_nothing), DIFFERENCES_MAX + 1))
    if len(found) > DIFFERENCES_MAX:
        more = Difference(None, f"There are more differences than these {DIFFERENCES_MAX:,}.")
        found = (*found[:DIFFERENCES_MAX], more)
    return CheckReport(entries, last_hash, found)


def _say_nothing(_doing: str, _fraction: float | None) -> None:
    pass


def _differences(connection: Connection, entries: int, progress: Progress) -> Iterator[Difference]:
    progress("Looking at the guards", None)
    yield from _guards(connection)
    if connection.dialect.name == "sqlite":
        progress("Looking at the columns", None)
        of_no_kind = list(_of_no_kind(connection))
        if of_no_kind:
            yield from of_no_kind
            yield Difference(None, "Nothing more can be checked until that is put right.")
            return
    chain = Chain()
    yield from chain.walk(
        connection, lambda number: progress("Reading the entries", number / max(entries, 1))
    )
    yield from _head(connection, chain)
    for done, record in enumerate(sorted(RECORDED)):
        progress("Replaying what was set", done / len(RECORDED))
        yield from records_replayed(connection, record, chain.days)
    progress("Replaying where things were", None)
    yield from pieces_replayed(connection, chain.days)
    yield from batches_replayed(connection, chain.days)
    yield from pull_lines_replayed(connection, chain.days)
    yield from _nesting(connection)
    progress("Adding up what was run", None)
    yield from logs_replayed(connection)
    yield from services_replayed(connection)
    progress("Comparing the words that find things", None)
    for word in word_differences(connection):
        yield Difference(None, _word_sentence(word.kind, word.ref, word.missing, word.left_over))
    progress("Reading the documents", None)
    yield from _documents(connection, chain.documents)
    if connection.dialect.name == "sqlite":
        progress("Looking over the file", None)
        yield from _file(connection)


def _of_no_kind(connection: Connection) -> Iterator[Difference]:
    """Rows that hold what their columns are not for: SQLite keeps a text where a number or a day belongs."""
    for table in Base.metadata.sorted_tables:
        for column in table.columns:
            name, kind = f'"{column.name}"', column.type
            if isinstance(kind, Date):
                wrong = f"{name} IS NOT NULL AND date({name}) IS NOT {name}"
            elif isinstance(kind, Integer | Boolean):
                wrong = f"typeof({name}) NOT IN ('integer', 'null')"
            else:
                continue
            key = ", ".join(f'"{each.name}"' for each in table.primary_key)
            found = text(f'SELECT {name}, {key} FROM "{table.name}" WHERE {wrong} LIMIT {_ROWS_NAMED_MAX}')
            for value, *row in connection.execute(found):
                what = f"The {table.name.replace('_', ' ')} {', '.join(map(str, row))}"
                yield Difference(None, f"{what} holds {str(value)[:60]!r} as its {column.name}.")


def _guards(connection: Connection) -> Iterator[Difference]:
    for name in triggers.missing_or_altered(connection):
        yield Difference(None, f"The ledger's guard {name} is missing, altered, or none of ours.")


def _head(connection: Connection, chain: Chain) -> Iterator[Difference]:
    rows = list(raw_rows(connection, "ledger_head", ("number", "hash", "recorded_at"), ["id"]))
    if [tuple(row) for row in rows] != [chain.head]:
        yield Difference(
            chain.head[0], f"The ledger's head does not say that entry {chain.head[0]} is the last."
        )


def _nesting(connection: Connection) -> Iterator[Difference]:
    """Pieces that are inside themselves, or too deep in others, as things now stand."""
    inside = {
        place: (parent, piece)
        for place, parent, piece in raw_rows(connection, "place", ("id", "parent_id", "piece_id"), ["id"])
    }
    query = text(
        "SELECT piece.id, piece.place_id FROM piece JOIN place ON place.piece_id = piece.id ORDER BY piece.id"
    )
    standing = {piece: place for piece, place in connection.execute(query)}
    for piece, place in standing.items():
        if not _leads_outward(piece, place, inside, standing):
            yield Difference(None, f"Piece {piece} is inside itself, or over {NESTING_MAX} deep in others.")


def _leads_outward(
    piece: int,
    place: int | None,
    inside: Mapping[int, tuple[int | None, int | None]],
    standing: Mapping[int, int],
) -> bool:
    depth = 0
    for _ in range((NESTING_MAX + 1) ** 2):
        if place is None:
            return True
        parent, holder = inside.get(place, (None, None))
        if holder is not None:
            depth += 1
            if holder == piece or depth > NESTING_MAX:
                return False
        place = parent if holder is None else standing.get(holder)
    return False


def _word_sentence(kind: str, ref: int, missing: frozenset[str], left_over: frozenset[str]) -> str:
    sentence = f"The {kind.replace('_', ' ')} {ref}"
    if missing:
        sentence += f" is not found by {', '.join(sorted(missing))}"
    if missing and left_over:
        sentence += ", and"
    if left_over:
        sentence += f" is found by {', '.join(sorted(left_over))}, which it has not"
    return f"{sentence}."


def _documents(connection: Connection, taken_in: dict[str, int]) -> Iterator[Difference]:
    """Contents that are missing, altered, of another size than noted, or that no entry took in."""
    missing = dict(taken_in)
    columns = ("sha256", "size", "content")
    for digest, size, content in raw_rows(
        connection, "document_content", columns, ["sha256"], rows_at_once=_DOCUMENTS_AT_ONCE
    ):
        entry = missing.pop(digest, None)
        if entry is None:
            yield Difference(None, f"No entry took in the document content {digest}.")
        if not isinstance(content, bytes) or sha256(content).hexdigest() != digest:
            yield Difference(entry, f"The document content {digest} is not what was taken in.")
        if isinstance(content, bytes | str) and len(content) != size:
            yield Difference(
                entry, f"The document content {digest} is {len(content)} bytes long, and noted as {size}."
            )
    for digest, entry in missing.items():
        yield Difference(entry, f"The document content {digest}, which entry {entry} took in, is gone.")


def _file(connection: Connection) -> Iterator[Difference]:
    """What SQLite itself finds: broken pages, rows against their rules, keys that point nowhere."""
    for (said,) in connection.execute(text(f"PRAGMA integrity_check({DIFFERENCES_MAX})")):
        if said != "ok":
            yield Difference(None, f"The file is damaged: {said}.")
    for table, row, other, _ in connection.execute(text("PRAGMA foreign_key_check")):
        yield Difference(
            None, f"The {table.replace('_', ' ')} in row {row} points at a {other} that is not there."
        )
