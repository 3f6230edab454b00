"""The life of pieces, lived through a hundredth of an hour at a time: the measure of what is kept of it."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from invdb.rules.running import NOTHING, Span

# Where a piece is: ("engine", its id), ("piece", the holder's id) or ("bin", 0).
Where = tuple[str, int]
BIN: Where = ("bin", 0)


@dataclass(frozen=True)
class Run:
    """What an engine ran: until its meter read so much, and besides; see ``invdb.rules.running.LogLine``."""

    engine: int
    use: str
    reading: int | None = None
    hours: Span = NOTHING
    starts: Span = NOTHING
    new_reading: int | None = None


@dataclass(frozen=True)
class Move:
    """That a piece went somewhere, with all that was in it."""

    piece: int
    to: Where


@dataclass(frozen=True)
class Happened:
    """One entry: its number, its day, and what happened in it, the running first."""

    number: int
    day: date
    runs: tuple[Run, ...] = ()
    moves: tuple[Move, ...] = ()


@dataclass
class Lives:
    """How often each thing was counted, such as ``flight_low``: of engines, and of pieces in each engine."""

    where: dict[int, Where] = field(default_factory=dict)
    meters: dict[int, int | None] = field(default_factory=dict)
    engines: dict[int, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    pieces: dict[tuple[int, int], Counter[str]] = field(default_factory=lambda: defaultdict(Counter))

    def engine_of(self, piece: int) -> int | None:
        """The engine that a piece is in now, found by asking what holds it, and what holds that."""
        kind, holder = self.where.get(piece, BIN)
        while kind == "piece":
            kind, holder = self.where.get(holder, BIN)
        return holder if kind == "engine" else None

    def of_piece(self, piece: int) -> Counter[str]:
        """What a piece ran in all engines together."""
        return sum((own for (each, _), own in self.pieces.items() if each == piece), Counter())

    def _count(self, engine: int, what: str) -> None:
        self.engines[engine][what] += 1
        for piece in list(self.where):
            if self.engine_of(piece) == engine:
                self.pieces[piece, engine][what] += 1

    def run(self, run: Run) -> None:
        """Let an engine run, a hundredth of an hour and a start at a time, in the best and the worst case."""
        meter = self.meters[run.engine]
        while run.reading is not None and meter is not None and meter < run.reading:
            meter += 1
            self._count(run.engine, f"{run.use}_low")
            self._count(run.engine, f"{run.use}_high")
        for what, span in ((run.use, run.hours), ("starts", run.starts)):
            for end, amount in (("low", span.low), ("high", span.high), ("open", span.open)):
                for _ in range(amount):
                    self._count(run.engine, f"{what}_{end}")
        if run.reading is not None:
            meter = run.reading
        self.meters[run.engine] = meter if run.new_reading is None else run.new_reading


def live_through(
    happened: Iterable[Happened],
    pieces: Iterable[int],
    meters: Mapping[int, int | None],
    until: date | None = None,
    before: int | None = None,
) -> Lives:
    """Live through what happened, in the order of its days and then of its entries, up to the end of a day.

    ``meters`` are what the engines' meters read when their logs began. With ``before``, of that last day only
    the entries with lower numbers.
    """
    lives = Lives(dict.fromkeys(pieces, BIN), dict(meters))
    for entry in sorted(happened, key=lambda each: (each.day, each.number)):
        if until is not None and entry.day > until:
            break
        if before is not None and entry.day == until and entry.number >= before:
            break
        for run in entry.runs:
            lives.run(run)
        for move in entry.moves:
            lives.where[move.piece] = move.to
    return lives
