"""What an engine ran: the totals of its log, line by line, and what to ask about a reading.

Hours are in hundredths. An amount may be a range, since books get lost and meters break: it is carried as
its two ends, and as how many stretches have no upper end at all. Where only differences are asked for, what
the engine had run before its log began cancels out, however little of it is known.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from invdb.terms import HoursKnown, PriorLife, RunningUse

HUNDREDTHS_A_DAY = 24_00
# More than this many hours a day, on the average of the days between, is asked about.
HOURS_A_DAY_ASKED = 8_00


@dataclass(frozen=True)
class Span:
    """An amount between ``low`` and ``high``; with any ``open`` stretches in it, no upper end is known."""

    low: int = 0
    high: int = 0
    open: int = 0

    def __add__(self, other: Span) -> Span:
        return Span(self.low + other.low, self.high + other.high, self.open + other.open)

    def __sub__(self, other: Span) -> Span:
        """What a running total gained since it was ``other``: each end by itself, not interval arithmetic."""
        return Span(self.low - other.low, self.high - other.high, self.open - other.open)

    def known(self) -> PriorLife:
        """The same as a figure that says how much of it is known."""
        if self.open:
            return PriorLife(HoursKnown.AT_LEAST, self.low) if self.low else PriorLife(HoursKnown.UNKNOWN)
        if self.low == self.high:
            return PriorLife(HoursKnown.EXACT, self.low, self.high)
        return PriorLife(HoursKnown.BETWEEN, self.low, self.high)


def span_of(prior: PriorLife) -> Span:
    """A figure as an amount: what is not known at all is at least nothing, with no upper end."""
    low = prior.low or 0
    return Span(low, low, 1) if prior.high is None else Span(low, prior.high)


NOTHING = Span()


@dataclass(frozen=True)
class Ran:
    """What was run, flight and ground apart (hundredths of an hour), and how many starts were made."""

    flight: Span = NOTHING
    ground: Span = NOTHING
    starts: Span = NOTHING

    def __add__(self, other: Ran) -> Ran:
        return Ran(self.flight + other.flight, self.ground + other.ground, self.starts + other.starts)

    def __sub__(self, other: Ran) -> Ran:
        return Ran(self.flight - other.flight, self.ground - other.ground, self.starts - other.starts)

    @property
    def hours(self) -> Span:
        """Flight and ground running together."""
        return self.flight + self.ground

    def columns(self) -> dict[str, int]:
        """The amounts under the names of their columns."""
        return {
            f"{what}_{end}": getattr(getattr(self, what), end)
            for what in ("flight", "ground", "starts")
            for end in ("low", "high", "open")
        }


RAN_NOTHING = Ran()


def ran_from(figures: Iterable[int | None]) -> Ran:
    """What was run, from nine figures in the order of ``Ran.columns``; None counts as nothing."""
    values = [figure or 0 for figure in figures]
    return Ran(Span(*values[0:3]), Span(*values[3:6]), Span(*values[6:9]))


@dataclass(frozen=True)
class LogLine:
    """One line of an engine's log; ``number`` is its entry's.

    ``reading`` is what the meter read afterwards, None where it was not read; ``new_reading`` where another
    meter stood when it took over; ``hours`` what was run without a meter or besides it.
    """

    number: int
    on: date
    use: RunningUse
    reading: int | None = None
    new_reading: int | None = None
    hours: Span = NOTHING
    starts: Span = NOTHING


class LogContradiction(Exception):
    """A reading below the one before it with no change of meter between; ``number`` is its entry's."""

    def __init__(self, line: LogLine, before: int) -> None:
        super().__init__(f"entry {line.number}: {line.reading} after {before}")
        self.number = line.number
        self.on = line.on
        self.reading = line.reading
        self.before = before


@dataclass(frozen=True)
class LogState:
    """All that an engine ran since its log began, and where its meter stands (None: it has none)."""

    ran: Ran = RAN_NOTHING
    meter: int | None = None


def follow(state: LogState, line: LogLine) -> LogState:
    """The state after one more line; LogContradiction where its reading is below the meter's."""
    hours = line.hours
    if line.reading is not None and state.meter is not None:
        if line.reading < state.meter:
            raise LogContradiction(line, state.meter)
        gained = line.reading - state.meter
        hours += Span(gained, gained)
    meter = next(
        (reading for reading in (line.new_reading, line.reading, state.meter) if reading is not None), None
    )
    flew = line.use is RunningUse.FLIGHT
    gain = Ran(hours if flew else NOTHING, NOTHING if flew else hours, line.starts)
    return LogState(state.ran + gain, meter)


def totals(lines: Iterable[LogLine], begun_reading: int | None) -> list[LogState]:
    """The state after each line, in the order (on, number) in which the lines must be given.

    ``begun_reading`` is where the meter stood when the log began. LogContradiction at the first line whose
    reading is below the one before.
    """
    state = LogState(meter=begun_reading)
    states = []
    for line in lines:
        state = follow(state, line)
        states.append(state)
    return states


def absurd(hours: int, from_on: date, to_on: date) -> str | None:
    """Why so many hours (hundredths) between two days can't be, in a clause; None if they can."""
    days = (to_on - from_on).days + 1
    if hours > days * HUNDREDTHS_A_DAY:
        return f"there are only {days * 24} hours in the days since {from_on.isoformat()}"
    return None


def doubtful(hours: int, from_on: date, to_on: date) -> str | None:
    """Why so many hours (hundredths) between two days are to be asked about; None if they are usual.

    The days count both ends, so a long day's work is no doubt.
    """
    days = (to_on - from_on).days + 1
    if hours > days * HOURS_A_DAY_ASKED:
        return f"that is more than {HOURS_A_DAY_ASKED // 100} hours a day since {from_on.isoformat()}"
    return None
