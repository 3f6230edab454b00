"""The state of a store, replayed day by day with no cleverness at all: what the fold is measured against."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from invdb.rules.folding import OUTSIDE_PLACE, LedgerEntry, Line


@dataclass
class Replayed:
    """What stands at the end; ``wrong`` has the entry that does not fit for each thing that can't be."""

    records: dict[tuple[str, int], dict[str, Any]] = field(default_factory=dict)
    set_by: dict[tuple[str, int], int] = field(default_factory=dict)
    places: dict[int, int] = field(default_factory=dict)
    stays: dict[int, list[list[Any]]] = field(default_factory=dict)
    reserved_for: dict[int, int | None] = field(default_factory=dict)
    quantities: dict[tuple[int, int], int] = field(default_factory=dict)
    reserved: dict[tuple[int, int], int] = field(default_factory=dict)
    pulled: dict[int, list[int]] = field(default_factory=dict)
    wrong: dict[tuple[str, int], int] = field(default_factory=dict)


def replay(
    entries: Sequence[LedgerEntry], on: date | None = None, believed_at: datetime | None = None
) -> Replayed:
    """Live through every day from the first on; see ``invdb.rules.folding.fold``."""
    state = Replayed()
    if not entries:
        return state
    known = [entry for entry in entries if believed_at is None or entry.recorded_at <= believed_at]
    undone = [entry.reverses for entry in known]
    standing = [entry for entry in known if entry.number not in undone]
    day = min(entry.happened_on for entry in entries)
    last = max(entry.happened_on for entry in entries) if on is None else on
    while day <= last:
        of_day = sorted(
            (entry for entry in standing if entry.happened_on == day), key=lambda entry: entry.number
        )
        for entry in of_day:
            for fact in entry.facts:
                key = (fact.record, fact.record_id)
                state.records.setdefault(key, {})
                for name, value in fact.values.items():
                    state.records[key][name] = value
                state.set_by[key] = max(state.set_by.get(key, 0), entry.number)
        _live_through(state, [line for entry in of_day for line in entry.lines])
        day += timedelta(days=1)
    pull_places = {
        record_id
        for (record, record_id), values in state.records.items()
        if record == "place" and values.get("pull_id") is not None
    }
    fitted_places = {
        record_id
        for (record, record_id), values in state.records.items()
        if record == "place" and values.get("kind") in {"engine", "station", "piece"}
    }
    for entry in standing:
        for line in entry.lines:
            if line.pull_line is not None and (on is None or entry.happened_on <= on):
                counts = state.pulled.setdefault(line.pull_line, [0, 0, 0, 0])
                if line.kind == "reserve":
                    counts[0] += line.quantity
                else:
                    counts[2 if line.from_place in pull_places else 1] += line.quantity
                    if line.from_place in pull_places and line.to_place in fitted_places:
                        counts[3] += line.quantity
    return state


def _live_through(state: Replayed, lines: list[Line]) -> None:
    """One day: pieces must fit at every step, batches at the end of the day."""
    mornings = (dict(state.quantities), dict(state.reserved))
    for line in lines:
        if line.piece is not None:
            _move_piece(state, line)
        else:
            _move_batch(state.quantities, state.reserved, line)
    for batch in sorted({line.batch for line in lines if line.batch is not None}):
        own = [line for line in lines if line.batch == batch]
        if ("batch", batch) in state.wrong or not _wrong_places(state.quantities, state.reserved, own):
            continue
        # The entry from which on, to the end of the day, one of the places was wrong.
        culprits = []
        for place in _wrong_places(state.quantities, state.reserved, own):
            quantities, reserved = dict(mornings[0]), dict(mornings[1])
            wrong_after = []
            for line in own:
                _move_batch(quantities, reserved, line)
                wrong_after.append(place in _wrong_places(quantities, reserved, own))
            first = max((index + 1 for index, wrong in enumerate(wrong_after) if not wrong), default=0)
            culprits.append(own[first].number)
        state.wrong["batch", batch] = min(culprits)


def _wrong_places(
    quantities: dict[tuple[int, int], int], reserved: dict[tuple[int, int], int], lines: list[Line]
) -> list[int]:
    batch = lines[0].batch
    assert batch is not None
    places = {line.from_place for line in lines} | {line.to_place for line in lines}
    return [
        place
        for place in sorted(places)
        for quantity in [0 if place == OUTSIDE_PLACE else quantities.get((batch, place), 0)]
        if quantity < 0 or not 0 <= reserved.get((batch, place), 0) <= quantity
    ]


def _move_batch(
    quantities: dict[tuple[int, int], int], reserved: dict[tuple[int, int], int], line: Line
) -> None:
    assert line.batch is not None
    before, after = (line.batch, line.from_place), (line.batch, line.to_place)
    if line.kind == "reserve":
        reserved[before] = reserved.get(before, 0) + line.quantity
    else:
        quantities[before] = quantities.get(before, 0) - line.quantity
        quantities[after] = quantities.get(after, 0) + line.quantity


def _move_piece(state: Replayed, line: Line) -> None:
    assert line.piece is not None
    piece = line.piece
    state.places.setdefault(piece, OUTSIDE_PLACE)
    state.reserved_for.setdefault(piece, None)
    state.stays.setdefault(piece, [])
    if ("piece", piece) in state.wrong:
        return
    here = state.places[piece] == line.from_place
    if line.kind == "reserve":
        expected = None if line.quantity > 0 else line.pull_line
        if not here or state.reserved_for[piece] != expected:
            state.wrong["piece", piece] = line.number
        else:
            state.reserved_for[piece] = line.pull_line if line.quantity > 0 else None
        return
    if not here:
        state.wrong["piece", piece] = line.number
        return
    state.places[piece] = line.to_place
    if state.stays[piece]:
        state.stays[piece][-1][3:] = [line.happened_on, line.number]
    state.stays[piece].append([line.to_place, line.happened_on, line.number, None, None])


def compare(fold: Any, slow: Replayed) -> None:
    """Assert that a folded ``State`` is what was replayed."""
    assert fold.records == slow.records
    assert fold.set_by == slow.set_by
    assert sorted(each.number for each in fold.contradictions) == sorted(slow.wrong.values())
    wrong_pieces = {thing for kind, thing in slow.wrong if kind == "piece"}
    wrong_batches = {thing for kind, thing in slow.wrong if kind == "batch"}
    assert {piece: state.place for piece, state in fold.pieces.items()} == {
        piece: place for piece, place in slow.places.items() if piece not in wrong_pieces
    }
    for piece, state in fold.pieces.items():
        assert state.reserved_for == slow.reserved_for[piece]
        assert slow.stays[piece] == [
            [stay.place, stay.from_on, stay.from_entry, stay.to_on, stay.to_entry] for stay in state.sojourns
        ]
    assert {key: (held.quantity, held.reserved) for key, held in fold.holdings.items()} == {
        (batch, place): (quantity, slow.reserved.get((batch, place), 0))
        for (batch, place), quantity in slow.quantities.items()
        if quantity and place != OUTSIDE_PLACE and batch not in wrong_batches
    }
    assert {
        pull_line: [pulled.reserved, pulled.issued, pulled.returned, pulled.fitted]
        for pull_line, pulled in fold.pulled.items()
    } == slow.pulled
