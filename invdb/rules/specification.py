"""A part's specification as plain values: its revision, its lines, and which of them hold for a size."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from datetime import date

from invdb.rules.limits import LineLimits
from invdb.rules.measuring import both_ways, kept
from invdb.terms import SpecKind


@dataclass(frozen=True)
class SpecLineFacts:
    """A line of a specification as kept; see ``invdb.records.specs.SpecLine``."""

    id: int
    kind: SpecKind
    name: str
    size_class: str
    unit: str
    limits: LineLimits
    target: str | None = None
    spread_max: str | None = None
    medium: str = ""
    hold_seconds: int | None = None
    drop_max: str | None = None
    wording: str = ""

    @property
    def needed(self) -> bool:
        """Whether an inspection leaves a gap without it: it is a test, or something bounds its figures."""
        bounded = self.limits.limited or self.limits.oval_max is not None or self.limits.taper_max is not None
        return self.kind.tested or (self.kind.measured and bounded)


@dataclass(frozen=True)
class SpecFacts:
    """A revision of a part's specification with its lines, in their order; ``entry`` is what last set it."""

    id: int
    part: int
    revision: str
    from_on: date
    source: str
    document: str
    withdrawn_on: date | None
    note: str
    entry: int
    lines: tuple[SpecLineFacts, ...]

    def lines_for(self, size_class: str) -> tuple[SpecLineFacts, ...]:
        """The lines that hold for a size: its own by each name, and for the rest those without a size."""
        wanted = size_class.casefold()
        own = {line.name for line in self.lines if line.size_class and line.size_class.casefold() == wanted}
        return tuple(
            line
            for line in self.lines
            if (line.size_class and line.size_class.casefold() == wanted)
            or (not line.size_class and line.name not in own)
        )

    @property
    def words(self) -> str:
        """``revision B, Pellworth overhaul manual``."""
        return ", ".join(word for word in (f"revision {self.revision}", self.source or self.document) if word)


def single_spaced(text: str) -> str:
    """The name of a line, a point or a size as it is kept: NFC, and one space between its words."""
    return " ".join(unicodedata.normalize("NFC", text).split())


def range_words(low: str | None, high: str | None, unit: str) -> str:
    """``105.00 mm (4.13386 in) to 105.03 mm (4.13504 in)``, ``at most …``, ``at least …``; '' for neither."""
    if low is None and high is None:
        return ""
    if low is None or high is None:
        text = high if low is None else low
        assert text is not None
        return f"{'at most' if low is None else 'at least'} {both_ways(kept(text, unit))}"
    return f"{both_ways(kept(low, unit))} to {both_ways(kept(high, unit))}"


def seconds_words(seconds: int) -> str:
    """``45 s``, ``20 min``, ``1 h 30 min``."""
    hours, rest = divmod(seconds, 3600)
    minutes, left = divmod(rest, 60)
    parts = ((hours, "h"), (minutes, "min"), (left, "s"))
    return " ".join(f"{amount} {unit}" for amount, unit in parts if amount) or "0 s"
