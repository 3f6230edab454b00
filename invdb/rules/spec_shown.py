"""A line of a specification in words, each figure as published and the other way."""

from __future__ import annotations

from dataclasses import dataclass

from invdb.rules.inspection_sheet import asked_words
from invdb.rules.measuring import both_ways, kept
from invdb.rules.specification import SpecLineFacts, range_words
from invdb.terms import SpecKind


@dataclass(frozen=True)
class SpecLineShown:
    """What a line asks for: its new and worn limits, what else (a target, a test's terms, wording), where it
    is measured, and what it may differ by between directions or points; '' for what it does not say.

    ``size_class`` is '' for a line that holds for every size without one of its own.
    """

    line: int
    kind: SpecKind
    name: str
    size_class: str
    unit: str
    new: str
    worn: str
    asked: str
    points: str
    directions: str
    oval: str
    taper: str


def spec_shown(line: SpecLineFacts) -> SpecLineShown:
    """The words of a line: ``105.00 mm (4.13386 in) to 105.03 mm (4.13504 in)``, ``at most …``."""
    limits = line.limits

    def at_most(text: str | None) -> str:
        return "" if text is None else f"at most {both_ways(kept(text, line.unit))}"

    return SpecLineShown(
        line.id,
        line.kind,
        line.name,
        line.size_class,
        line.unit,
        range_words(limits.new_low, limits.new_high, line.unit),
        range_words(limits.worn_low, limits.worn_high, line.unit),
        asked_words(line),
        ", ".join(limits.points),
        ", ".join(limits.directions),
        at_most(limits.oval_max),
        at_most(limits.taper_max),
    )
