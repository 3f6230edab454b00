"""The due list as its chart shows it: each line with its days, and only those that have the words typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from gui.shown import DueBar
from invdb.rules.due import DueKind, DueLine
from invdb.rules.life import LifeVerdict


@dataclass(frozen=True)
class DueRead:
    """The due list of all engines as it was read; ``soon_until`` is the last day the calendar calls soon."""

    lines: tuple[DueLine, ...]
    soon_until: date


@dataclass(frozen=True)
class DueKey:
    """What tells one line of the due list from every other; ids."""

    kind: DueKind
    engine: int
    piece: int | None
    record: int | None
    what: str
    position: str = ""


def bars_of(lines: Sequence[DueLine], today: date, words: str = "") -> tuple[DueBar, ...]:
    """A bar for each line that has all these words in it, in the order of the lines."""
    wanted = words.casefold().split()
    bars = (bar_of(line, today) for line in lines)
    return tuple(bar for bar in bars if all(word in _said(bar) for word in wanted))


def bar_of(line: DueLine, today: date) -> DueBar:
    """A line as a bar: over the range that its engine's use gives, and no longer than till its own day.

    What has run out and has no day of its own stands at today.
    """
    days = [day for day in (line.due_on, line.earliest) if day is not None]
    earliest = min(days, default=None)
    # What has a day of its own is over on that day at the latest, however little the engine runs.
    latest = min((day for day in (line.due_on, line.latest) if day is not None), default=None)
    if line.verdict is LifeVerdict.EXPIRED and earliest is None:
        earliest = latest = today
    return DueBar(
        key_of(line),
        f"{line.engine_name}, {line.position}" if line.position else line.engine_name,
        _what(line),
        line.verdict,
        earliest,
        latest,
        line.left,
        "\n".join(part for part in (f"{line.kind}: {line.what}", line.station, line.forecast) if part),
    )


def _what(line: DueLine) -> str:
    """The piece whose life it is; else the limit, the order or the allowance, and the piece it is for."""
    thing = f"{line.tag} {line.part_name}".strip()
    if line.kind is DueKind.PIECE_LIFE:
        return thing or line.subject
    return f"{line.what}, {thing}" if thing else line.what


def key_of(line: DueLine) -> DueKey:
    """What tells a line from every other."""
    return DueKey(line.kind, line.engine, line.piece, line.record, line.what, line.position)


def _said(bar: DueBar) -> str:
    return f"{bar.engine} {bar.what} {bar.sign} {bar.words} {bar.detail}".casefold()
