"""A recall: every piece of a doubtful part, batch or origin, wherever it now is, and where it ran.

Quantities are in the part's smallest unit; hours in hundredths.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from invdb.rules.life import prior_hours_words
from invdb.rules.quantities import quantity_words
from invdb.rules.running import Ran
from invdb.terms import Condition, Measure


class RecallWhere(StrEnum):
    """Where something that is recalled is, as far as getting hold of it goes; the most urgent first."""

    FITTED = "fitted"
    STORES = "in the stores"
    SHOP = "on the bench or issued"
    FIRM = "at a firm"
    OUT = "out of our hands"
    SCRAPPED = "scrapped"
    USED_UP = "used up"


_ORDER = {where: rank for rank, where in enumerate(RecallWhere)}
_GONE = frozenset({RecallWhere.SCRAPPED, RecallWhere.USED_UP})


@dataclass(frozen=True)
class RecallQuestion:
    """What is in doubt, by the ids of records: stock must meet every bound that is given.

    ``batch`` takes in all that was split off it. ``firm`` is whom the stock came from, ``document`` one that
    stands behind it; both days of receipt count. Whatever was split off what meets them is in doubt too.
    """

    part: int | None = None
    batch: int | None = None
    firm: int | None = None
    document: int | None = None
    received_from: date | None = None
    received_to: date | None = None

    @property
    def bounded(self) -> bool:
        """Whether it has any bound at all."""
        return self != RecallQuestion()


@dataclass(frozen=True)
class RecallAt:
    """Where some of a thing is: ``path`` in words, ``at`` the engine or firm by its name ('' for neither).

    ``reserved_for`` are the numbers of the pulls that have some of it set aside.
    """

    where: RecallWhere
    path: str
    quantity: int
    at: str = ""
    reserved_for: tuple[str, ...] = ()


@dataclass(frozen=True)
class RecallRun:
    """That a thing, or so much of a batch, was in an engine, and what that engine ran the while.

    ``to_on`` is None while it is there.
    """

    engine: str
    from_on: date
    to_on: date | None
    ran: Ran
    quantity: int = 1


@dataclass(frozen=True)
class SplitOffBatch:
    """A batch that was split off, and how much went into it."""

    tag: str
    quantity: int


@dataclass(frozen=True)
class RecallLine:
    """A piece or a batch that is recalled; exactly one of their ids is set.

    ``serial`` is a piece's serial or a batch's maker's mark. ``received`` is how much there was of it, and
    so the sum of what is ``at`` places and of what was ``split_off``. ``held`` says since when and for what
    reason it is on hold, in words, for each hold that stands.
    """

    piece: int | None
    batch: int | None
    tag: str
    part_number: str
    part_name: str
    serial: str
    measure: Measure
    received: int
    condition: Condition
    owner: str
    at: tuple[RecallAt, ...] = ()
    runs: tuple[RecallRun, ...] = ()
    split_from: str = ""
    split_off: tuple[SplitOffBatch, ...] = ()
    held: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        assert (self.piece is None) != (self.batch is None)

    @property
    def urgency(self) -> int:
        """0 where any of it is fitted, rising as there is less to get hold of."""
        return min((_ORDER[at.where] for at in self.at), default=len(_ORDER))

    @property
    def gone(self) -> bool:
        """Whether nothing of it is left to take out of use."""
        return all(at.where in _GONE for at in self.at)


@dataclass(frozen=True)
class RecallCount:
    """How much is at one kind of place, in one measure; fitted things by engine, those at firms by firm."""

    where: RecallWhere
    at: str
    measure: Measure
    quantity: int


@dataclass(frozen=True)
class RecallReport:
    """All that a recall concerns; ``asked`` says in words what was asked for.

    ``last_entry`` and ``last_hash`` are those of the whole ledger when it was made; ``made_at`` is in the
    shop's own zone.
    """

    workshop: str
    made_at: datetime
    asked: str
    lines: tuple[RecallLine, ...]
    last_entry: int
    last_hash: str

    @property
    def counts(self) -> tuple[RecallCount, ...]:
        """How much is where, the fitted first."""
        return recall_counts(self.lines)


@dataclass(frozen=True)
class RecallLetter:
    """A recall as it is told to others: to whom ('' for whom it may concern), why, and who signs.

    ``request`` is what they are asked to do.
    """

    report: RecallReport
    reason: str
    addressee: str = ""
    request: str = ""
    signed_by: str = ""
    licence: str = ""


def recall_counts(lines: Iterable[RecallLine]) -> tuple[RecallCount, ...]:
    """How much of the lines is where, in the order of ``RecallWhere`` and then by engine or firm."""
    sums: Counter[tuple[RecallWhere, str, Measure]] = Counter()
    for line in lines:
        for at in line.at:
            sums[at.where, at.at, line.measure] += at.quantity
    ordered = sorted(sums.items(), key=lambda item: (_ORDER[item[0][0]], *item[0][1:]))
    return tuple(RecallCount(*key, quantity) for key, quantity in ordered)


def count_words(count: RecallCount) -> str:
    """'11 off fitted in Linnet One', '29 off in the stores', '4 off at a firm, At Brackwater'."""
    words = f"{quantity_words(count.quantity, count.measure)} {count.where}"
    if not count.at:
        return words
    return f"{words} in {count.at}" if count.where is RecallWhere.FITTED else f"{words}, {count.at}"


def where_words(line: RecallLine) -> tuple[str, ...]:
    """Each place with how much is there; of a piece the place alone."""
    return tuple(_at_words(line, at) for at in line.at)


def _at_words(line: RecallLine, at: RecallAt) -> str:
    named = at.path if at.where not in _SAID_BY_KIND else str(at.where)
    words = named if line.piece is not None else f"{quantity_words(at.quantity, line.measure)} {named}"
    return f"{words}, reserved for {' and '.join(at.reserved_for)}" if at.reserved_for else words


# Of these there is no place to name.
_SAID_BY_KIND = frozenset({RecallWhere.OUT, RecallWhere.USED_UP})


def run_words(line: RecallLine, run: RecallRun) -> str:
    """'Linnet One, 2024-03-01 to 2025-06-30, 41.20 h'; of a batch with how much of it."""
    until = run.to_on.isoformat() if run.to_on else "now"
    words = f"{run.engine}, {run.from_on.isoformat()} to {until}, {prior_hours_words(run.ran.hours.known())}"
    return words if line.piece is not None else f"{quantity_words(run.quantity, line.measure)} in {words}"


def split_words(line: RecallLine) -> tuple[str, ...]:
    """What it was split off from and what was split off it, each with how much."""
    words = [f"split off {line.split_from}"] if line.split_from else []
    words += [
        f"{quantity_words(each.quantity, line.measure)} split off into {each.tag}" for each in line.split_off
    ]
    return tuple(words)


def alike(lines: Iterable[RecallLine]) -> tuple[tuple[RecallLine, ...], ...]:
    """Lines together that differ in nothing but which piece or batch they are, in the order of the first."""
    found: dict[tuple[object, ...], list[RecallLine]] = {}
    for line in lines:
        of = (line.piece is None, line.part_number, line.condition, line.owner, line.received)
        became = (line.at, line.runs, line.split_from, line.split_off, line.held)
        found.setdefault((*of, *became), []).append(line)
    return tuple(tuple(same) for same in found.values())


def parts_words(lines: Iterable[RecallLine]) -> str:
    """'SP0101-U Valve spring, outer' where all are of one part, else ''."""
    parts = {f"{line.part_number} {line.part_name}" for line in lines}
    return parts.pop() if len(parts) == 1 else ""
