"""Proving the ledger itself: the chain of its entries, and that its tables say what its bodies say."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlalchemy import Connection

from invdb.records.ledger import NO_HASH
from invdb.records.registry import RECORDED
from invdb.records.streams import Row, merged, raw_rows
from invdb.rules.sealing import canonical, chain_hash

_ENTRY_COLUMNS = (
    "number",
    "kind",
    "happened_on",
    "recorded_at",
    "who",
    "job_id",
    "reverses",
    "note",
    "body",
    "previous_hash",
    "hash",
)
# The columns that say again what a body says, with the body's key for each.
_PROJECTED = (
    ("number", "number"),
    ("kind", "kind"),
    ("happened_on", "happened_on"),
    ("recorded_at", "recorded_at"),
    ("who", "who"),
    ("job_id", "job"),
    ("reverses", "reverses"),
    ("note", "note"),
)
_KEYS = frozenset({key for _, key in _PROJECTED} | {"documents", "facts", "lines"})
_LINE_COLUMNS = (
    "kind",
    "piece_id",
    "batch_id",
    "from_place_id",
    "to_place_id",
    "quantity",
    "pull_line_id",
    "engine_id",
    "reading",
)
_LINE_KEYS = ("kind", "piece", "batch", "from", "to", "quantity", "pull_line", "engine", "reading")
_SAY_SO_EVERY = 1000


@dataclass(frozen=True)
class Difference:
    """Something that is not as the ledger says, in a plain sentence, and the entry concerned if known."""

    entry: int | None
    what: str

    def __str__(self) -> str:
        """The sentence, and the entry it concerns where the sentence does not name it."""
        if self.entry is None or re.search(rf"\bentry {self.entry}\b", self.what, re.IGNORECASE):
            return self.what
        return f"Entry {self.entry}: {self.what}"


@dataclass
class Chain:
    """What was learnt on the walk along the entries.

    ``days`` holds the date of every entry that was not reversed; ``documents`` the first entry that took in
    each document's content, by its SHA-256; ``head`` the last entry's number, hash and instant as spelled.
    """

    days: dict[int, date] = field(default_factory=dict)
    documents: dict[str, int] = field(default_factory=dict)
    head: tuple[int, str, str | None] = (0, NO_HASH, None)
    _reversals: set[int] = field(default_factory=set)
    _reversed: dict[int, int] = field(default_factory=dict)

    def walk(self, connection: Connection, said: Callable[[int], None]) -> Iterator[Difference]:
        """Every difference in the ledger itself; ``said`` hears the number of the entry reached."""
        entries = raw_rows(connection, "entry", _ENTRY_COLUMNS, ["number"])
        facts = raw_rows(
            connection,
            "entry_fact",
            ("entry_number", "ordinal", "record", "record_id", "values"),
            ("entry_number", "ordinal"),
        )
        lines = raw_rows(
            connection, "entry_line", ("entry_number", "ordinal", *_LINE_COLUMNS), ("entry_number", "ordinal")
        )
        for number, (entry, entry_facts, entry_lines) in merged(entries, facts, lines):
            if number % _SAY_SO_EVERY == 0:
                said(number)
            if not entry:
                yield Difference(number, f"There are lines or facts of entry {number}, which is not there.")
                continue
            # SQLite keeps bytes in a text column if told to; shown as text they agree with nothing.
            row = [repr(value) if isinstance(value, bytes) else value for value in entry[0]]
            yield from self._follow(row)
            body = _read(row)
            if body is None:
                yield Difference(number, f"The text of entry {number} is not in the ledger's own form.")
                continue
            yield from _compare(row, body)
            yield from _compare_parts(number, body, entry_facts, entry_lines)
            yield from self._take_in(number, body)

    def _follow(self, entry: Row) -> Iterator[Difference]:
        """Check one entry's number, instant and hashes against the entry before."""
        number, recorded_at, body, previous_hash, own_hash = (
            entry[0],
            entry[3],
            entry[8],
            entry[9],
            entry[10],
        )
        last_number, last_hash, last_instant = self.head
        if number != last_number + 1:
            yield Difference(number, f"Entry {number} follows entry {last_number}; what lay between is gone.")
        if previous_hash != last_hash:
            yield Difference(
                number,
                f"Entry {number} does not follow on entry {last_number}: it carries another hash of it.",
            )
        if own_hash != chain_hash(previous_hash, body):
            yield Difference(number, f"The hash of entry {number} is not that of its text.")
        if last_instant is not None and recorded_at <= last_instant:
            yield Difference(number, f"Entry {number} was recorded no later than entry {last_number}.")
        self.head = (number, own_hash, recorded_at)

    def _take_in(self, number: int, body: dict[str, Any]) -> Iterator[Difference]:
        for digest in body["documents"]:
            self.documents.setdefault(digest, number)
        self.days[number] = date.fromisoformat(body["happened_on"])
        named = body["reverses"]
        if named is None:
            return
        self._reversals.add(number)
        if named in self._reversals or not 0 < named < number or body["lines"]:
            yield Difference(number, f"Entry {number} reverses entry {named} as no reversal may.")
        if named in self._reversed:
            yield Difference(
                number, f"Entry {number} reverses entry {named}, which entry {self._reversed[named]} had."
            )
        self._reversed[named] = number
        self.days.pop(named, None)


def _read(entry: Row) -> dict[str, Any] | None:
    """An entry's body, or None where it is not what ``post`` writes."""
    text = entry[8]
    try:
        body = json.loads(text)
        if not isinstance(body, dict) or body.keys() != _KEYS or canonical(body) != text:
            return None
        date.fromisoformat(body["happened_on"])
    except ValueError:
        return None
    kinds = (("documents", str), ("facts", dict), ("lines", dict))
    sound = (
        all(isinstance(body[key], list) for key, _ in kinds)
        and all(isinstance(each, kind) for key, kind in kinds for each in body[key])
        and (body["reverses"] is None or isinstance(body["reverses"], int))
        and unicodedata.is_normalized("NFC", text)
    )
    return body if sound else None


def _compare(entry: Row, body: dict[str, Any]) -> Iterator[Difference]:
    for (name, key), value in zip(_PROJECTED, entry[:8], strict=True):
        kept = str(value) if name == "happened_on" else value
        if kept != body[key]:
            what = name.replace("_", " ")
            yield Difference(
                entry[0], f"Entry {entry[0]} has {kept!r} as its {what}, and its text says {body[key]!r}."
            )


def _compare_parts(
    number: int, body: dict[str, Any], facts: list[Row], lines: list[Row]
) -> Iterator[Difference]:
    """Compare an entry's lines and facts, and their ordinals, with its body."""
    lines_said = [
        (number, ordinal, *(line.get(key) for key in _LINE_KEYS))
        for ordinal, line in enumerate(body["lines"], start=1)
    ]
    facts_said = [
        (number, ordinal, fact.get("record"), fact.get("id"), canonical(fact.get("values")))
        for ordinal, fact in enumerate(body["facts"], start=1)
    ]
    for what, said, kept in (("line", lines_said, lines), ("fact", facts_said, facts)):
        if len(said) != len(kept):
            yield Difference(
                number, f"Entry {number} has {len(kept)} {what}s, and its text says {len(said)}."
            )
        for says, keeps in zip(said, kept, strict=False):
            if says != tuple(keeps):
                yield Difference(number, f"The {what} {says[1]} of entry {number} is not what its text says.")
    strange = {fact[2] for fact in facts_said} - RECORDED.keys()
    for record in sorted(map(str, strange)):
        yield Difference(number, f"Entry {number} sets a {record}, which this program does not know.")
