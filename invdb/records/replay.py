"""Proving what is kept beside the ledger: every derived row against the fold of the entries."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import Any

from sqlalchemy import Connection, Date, column, select

from invdb.records.chain import Difference
from invdb.records.registry import FACT_COLUMNS, to_row
from invdb.records.stock import Place
from invdb.records.streams import Row, merged, raw_rows
from invdb.rules.folding import (
    FITTED_KINDS,
    OUTSIDE_PLACE,
    Contradiction,
    Line,
    Plain,
    Pulled,
    fold_batch,
    fold_piece,
    fold_pull_line,
    fold_record,
)
from invdb.terms import LineKind, PlaceKind

Days = Mapping[int, date]

_LINE_COLUMNS = (
    "entry_number",
    "ordinal",
    "kind",
    "piece_id",
    "batch_id",
    "from_place_id",
    "to_place_id",
    "quantity",
    "pull_line_id",
)
_KINDS = {str(kind): kind for kind in LineKind}
# A column by which a person knows a record, the first that it has.
_NAMES = ("tag", "house_number", "number", "name", "code", "reference")


def records_replayed(connection: Connection, record: str, days: Days) -> Iterator[Difference]:
    """How the rows of one recorded table differ from what the facts say; ``days`` of entries that count."""
    start = to_row(record, {})
    names = list(start)
    dates = [place for place, name in enumerate(names) if isinstance(FACT_COLUMNS[record][name].type, Date)]
    facts = raw_rows(
        connection,
        "entry_fact",
        ("record_id", "entry_number", "values"),
        ("record_id", "entry_number", "ordinal"),
        column("record") == record,
    )
    rows = raw_rows(connection, record, ("id", "set_by", *names), ["id"])
    for record_id, (record_facts, row) in merged(facts, rows):
        counting = [
            (days[number], number, _values(values)) for _, number, values in record_facts if number in days
        ]
        words = f"The {record.replace('_', ' ')} {record_id}"
        if not counting:
            if row:
                yield Difference(None, f"{words} stands in its table, and no entry made it.")
            continue
        values, set_by = fold_record(counting)
        if not row:
            yield Difference(
                set_by, f"{words} is gone from its table, though entry {counting[0][1]} made it."
            )
            continue
        kept = list(row[0])
        for place in dates:
            if kept[place + 2] is not None:
                kept[place + 2] = str(kept[place + 2])
        if kept == [record_id, set_by, *(values.get(name, default) for name, default in start.items())]:
            continue
        yield from _record_differences(
            words, dict(zip(names, kept[2:], strict=True)), kept[1], start | values, set_by
        )


def _values(text: str) -> dict[str, Plain]:
    """What a fact sets; nothing where it can't be read, which its entry's body tells."""
    try:
        values = json.loads(text)
    except ValueError:
        return {}
    return values if isinstance(values, dict) else {}


def _record_differences(
    words: str, kept: dict[str, Any], kept_set_by: int, said: Mapping[str, Any], set_by: int
) -> Iterator[Difference]:
    known_as = next((kept[name] for name in _NAMES if kept.get(name)), None)
    if known_as is not None:
        words += f" ({known_as})"
    for name in sorted(said.keys() - kept.keys()):
        yield Difference(
            set_by, f"{words} has no {name.replace('_', ' ')}, which entry {set_by} or another set."
        )
    for name, value in kept.items():
        if value != said[name]:
            what = name.replace("_", " ")
            yield Difference(
                set_by, f"{words} has {value!r} as its {what}, and the ledger says {_plain(said[name])!r}."
            )
    if kept_set_by != set_by:
        yield Difference(set_by, f"{words} says that entry {kept_set_by} set it last; it was entry {set_by}.")


def _plain(value: Plain) -> Plain:
    return str(value) if isinstance(value, str) else value


def places_of_kinds(connection: Connection, kinds: Iterable[str]) -> set[int]:
    """The places of some kinds: pulls, from which kit is given back, or what it is fitted in."""
    rows = raw_rows(connection, "place", ["id"], ["id"], column("kind").in_([str(kind) for kind in kinds]))
    return {row[0] for row in rows}


def pieces_replayed(connection: Connection, days: Days) -> Iterator[Difference]:
    """How pieces' places, their reservations and their stays differ from the fold of their lines."""
    rows = raw_rows(connection, "piece", ("id", "tag", "place_id", "reserved_for"), ["id"])
    stays = raw_rows(
        connection,
        "stay",
        ("piece_id", "sequence", "place_id", "from_on", "from_entry", "to_on", "to_entry"),
        ("piece_id", "sequence"),
    )
    for piece_id, (lines, row, piece_stays) in merged(_lines_by(connection, "piece_id"), rows, stays):
        counting = _counting(lines, days)
        last = counting[-1].number if counting else None
        words = row[0][1] if row else f"piece {piece_id}"
        if not row:
            if counting or piece_stays:
                yield Difference(last, f"There is no {words}, though it was moved or has stays.")
            continue
        try:
            state = fold_piece(counting)
        except Contradiction as contradiction:
            yield _contradicted(words, contradiction)
            continue
        _, _, place, reserved_for = row[0]
        if place != state.place:
            yield Difference(
                last,
                f"{words} stands in {_place_words(connection, place)}, and the ledger says in"
                f" {_place_words(connection, state.place)}.",
            )
        if reserved_for != state.reserved_for:
            yield Difference(
                last,
                f"{words} is set aside for {_line_words(reserved_for)}, and the ledger says for"
                f" {_line_words(state.reserved_for)}.",
            )
        said = [
            (sequence, stay.place, stay.from_on.isoformat(), stay.from_entry, _iso(stay.to_on), stay.to_entry)
            for sequence, stay in enumerate(state.sojourns, start=1)
        ]
        kept = [
            (sequence, stay_place, str(from_on), from_entry, _iso(to_on), to_entry)
            for _, sequence, stay_place, from_on, from_entry, to_on, to_entry in piece_stays
        ]
        if kept != said:
            first = next(
                (
                    each
                    for each, other in zip(said, [*kept, *[None] * len(said)], strict=False)
                    if each != other
                ),
                None,
            )
            yield Difference(
                first[3] if first else last, f"The stays of {words} are not those that its entries give."
            )


def _place_words(connection: Connection, place: int) -> str:
    name = connection.scalar(select(Place.name).where(Place.id == place))
    return f"place {place}" if name is None else str(name)


def _iso(day: object) -> str | None:
    return None if day is None else str(day)


def _line_words(pull_line: int | None) -> str:
    return "nothing" if pull_line is None else f"pull line {pull_line}"


def batches_replayed(connection: Connection, days: Days) -> Iterator[Difference]:
    """How batches' holdings differ from the fold of their lines."""
    rows = raw_rows(connection, "batch", ("id", "tag"), ["id"])
    holdings = raw_rows(
        connection,
        "holding",
        ("batch_id", "place_id", "quantity", "reserved"),
        ("batch_id", "place_id"),
    )
    for batch_id, (lines, row, kept_rows) in merged(_lines_by(connection, "batch_id"), rows, holdings):
        counting = _counting(lines, days)
        last = counting[-1].number if counting else None
        words = row[0][1] if row else f"batch {batch_id}"
        if not row and (counting or kept_rows):
            yield Difference(last, f"There is no {words}, though it was moved or is held.")
            continue
        try:
            held = fold_batch(counting)
        except Contradiction as contradiction:
            yield _contradicted(words, contradiction)
            continue
        kept = {place: (quantity, reserved) for _, place, quantity, reserved in kept_rows}
        said = {place: (each.quantity, each.reserved) for place, each in held.items()}
        for place in sorted(kept.keys() | said.keys()):
            if kept.get(place) != said.get(place):
                yield Difference(
                    _last_at(counting, place),
                    f"{words} has {_held_words(kept.get(place))} in {_place_words(connection, place)}, and"
                    f" the ledger says {_held_words(said.get(place))}.",
                )


def _held_words(held: tuple[int, int] | None) -> str:
    return "nothing" if held is None else f"{held[0]} with {held[1]} of them reserved"


def _last_at(lines: list[Line], place: int) -> int | None:
    numbers = [line.number for line in lines if place in (line.from_place, line.to_place)]
    return numbers[-1] if numbers and place != OUTSIDE_PLACE else None


def pull_lines_replayed(connection: Connection, days: Days) -> Iterator[Difference]:
    """How the counts of pull lines differ from the fold of their lines."""
    places = places_of_kinds(connection, [PlaceKind.PULL])
    fitted = places_of_kinds(connection, FITTED_KINDS)
    rows = raw_rows(connection, "pull_line", ("id", "reserved", "issued", "returned", "fitted"), ["id"])
    for pull_line, (lines, row) in merged(_lines_by(connection, "pull_line_id"), rows):
        counting = _counting(lines, days)
        last = counting[-1].number if counting else None
        if not row:
            if counting:
                yield Difference(last, f"There is no pull line {pull_line}, though stock was moved for it.")
            continue
        kept, said = Pulled(*row[0][1:]), fold_pull_line(counting, places, fitted)
        if kept != said:
            yield Difference(
                last,
                f"Pull line {pull_line} counts {_pulled_words(kept)}, and the ledger says"
                f" {_pulled_words(said)}.",
            )


def _pulled_words(pulled: Pulled) -> str:
    return (
        f"{pulled.reserved} reserved, {pulled.issued} issued, {pulled.returned} given back or fitted and"
        f" {pulled.fitted} fitted"
    )


def _lines_by(connection: Connection, key: str) -> Iterator[Row]:
    """Lines, each after the thing they are about, in that order."""
    return raw_rows(
        connection,
        "entry_line",
        (key, *_LINE_COLUMNS),
        (key, "entry_number", "ordinal"),
        column(key).is_not(None),
    )


def _counting(rows: list[Row], days: Days) -> list[Line]:
    """The lines of entries that were not reversed, in the order of recording."""
    return [
        Line(
            number,
            ordinal,
            days[number],
            _KINDS[kind],
            piece,
            batch,
            from_place,
            to_place,
            quantity,
            pull_line,
        )
        for _, number, ordinal, kind, piece, batch, from_place, to_place, quantity, pull_line in rows
        if number in days and kind in _KINDS
    ]


def _contradicted(words: str, contradiction: Contradiction) -> Difference:
    return Difference(
        contradiction.number,
        f"{words}: entry {contradiction.number} of {contradiction.happened_on.isoformat()} can't be so,"
        f" because {contradiction.what}.",
    )
