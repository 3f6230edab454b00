"""One line of a specification as a person gives it, and what must be so before it is kept."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Any

from invdb.rules.limits import LineLimits, check_limits
from invdb.rules.measuring import UNITS, Kind, kept, read_measured, unit_named
from invdb.rules.specification import single_spaced
from invdb.terms import Asked, FieldRefused, SpecKind

HOLD_SECONDS_MAX = 7 * 24 * 3600
PLACES_MAX = 24
# What each kind of line is measured in, and what more it says than its name, its wording and its limits.
_MEASURED_IN = {
    SpecKind.DIMENSION: frozenset({Kind.LENGTH, Kind.ANGLE}),
    SpecKind.MASS: frozenset({Kind.MASS}),
    SpecKind.TORQUE: frozenset({Kind.TORQUE}),
    SpecKind.LOAD_TEST: frozenset({Kind.FORCE}),
    SpecKind.PRESSURE_TEST: frozenset({Kind.PRESSURE}),
}
_LIMITS = frozenset({"new_low", "new_high", "target"})
_WORN = frozenset({"worn_low", "worn_high"})
_SAYS = {
    SpecKind.DIMENSION: _LIMITS | _WORN | {"points", "directions", "oval_max", "taper_max"},
    SpecKind.MASS: _LIMITS | _WORN | {"spread_max"},
    SpecKind.TORQUE: _LIMITS,
    SpecKind.LOAD_TEST: _LIMITS | _WORN,
    SpecKind.PRESSURE_TEST: frozenset({"target", "medium", "hold_seconds", "drop_max"}),
}
# How a refusal calls what a line may say.
_WORDS = {
    "new_low": "lower new limit",
    "new_high": "upper new limit",
    "worn_low": "lower worn limit",
    "worn_high": "upper worn limit",
    "target": "target",
    "points": "points",
    "directions": "directions",
    "oval_max": "limit of ovality",
    "taper_max": "limit of taper",
    "spread_max": "spread in one set",
    "medium": "medium",
    "hold_seconds": "time to be held",
    "drop_max": "allowed drop",
}
_FIGURES = (
    *("new_low", "new_high", "worn_low", "worn_high", "target"),
    *("oval_max", "taper_max", "spread_max", "drop_max"),
)


@dataclass(frozen=True)
class NewSpecLine:
    """A line of a specification; see ``invdb.records.specs.SpecLine`` for what each field says.

    Figures are texts as published, in ``unit``. ``points`` and ``directions`` are names with commas between.
    """

    kind: SpecKind
    name: str
    size_class: str = ""
    unit: str = ""
    new_low: str | None = None
    new_high: str | None = None
    worn_low: str | None = None
    worn_high: str | None = None
    target: str | None = None
    points: str = ""
    directions: str = ""
    oval_max: str | None = None
    taper_max: str | None = None
    spread_max: str | None = None
    medium: str = ""
    hold_seconds: int | None = None
    drop_max: str | None = None
    wording: str = ""


def checked_line(given: NewSpecLine, sure: bool = False) -> NewSpecLine:
    """The line as it is kept: names single-spaced, its unit as we write it, figures without theirs.

    FieldRefused, naming the line, for anything that contradicts or can't be read; Asked for a comma, which
    with ``sure`` is a decimal point.
    """
    name = single_spaced(given.name)
    if not name:
        raise FieldRefused("name", "A line has no name.", "Type what it states, such as bore.")
    if "@" in name:
        raise FieldRefused("name", f"{name!r} has an @, which stands before a point.", "Write it without.")
    try:
        return _checked(replace(given, name=name), sure)
    except FieldRefused as refused:
        if re.search(rf"(?<!\w){re.escape(name)}(?!\w)", refused.reason):
            raise
        which = Asked if isinstance(refused, Asked) else FieldRefused
        raise which(refused.field, f"{name}: {refused.reason}", refused.remedy) from None


def _checked(line: NewSpecLine, sure: bool) -> NewSpecLine:
    kinds = _MEASURED_IN.get(line.kind)
    _refuse_what_says_nothing(line)
    if kinds is None:
        if not line.wording.strip():
            raise FieldRefused("wording", f"The {line.kind} says nothing.", "Type what is asked for.")
        return line
    unit = unit_named(line.unit)
    if UNITS[unit].kind not in kinds:
        raise FieldRefused(
            "unit",
            f"A {line.kind} is not measured in {unit}.",
            f"Use one of: {', '.join(each.name for each in UNITS.values() if each.kind in kinds)}.",
        )
    figures: dict[str, Any] = {name: _figure(getattr(line, name), unit, name, sure) for name in _FIGURES}
    points, directions = _places(line.points, "points"), _places(line.directions, "directions")
    line = replace(line, unit=unit, points=points, directions=directions, **figures)
    if line.kind is SpecKind.PRESSURE_TEST:
        _check_pressure_test(line)
    else:
        _check_figures(line)
    return line


def _refuse_what_says_nothing(line: NewSpecLine) -> None:
    says = _SAYS.get(line.kind, frozenset())
    for name in (*_FIGURES, "points", "directions", "medium", "hold_seconds"):
        if name not in says and getattr(line, name) not in (None, ""):
            raise FieldRefused(name, f"A {line.kind} has no {_WORDS[name]}.", "Leave it empty.")
    if line.kind not in _MEASURED_IN and line.unit.strip():
        raise FieldRefused("unit", f"A {line.kind} has no unit.", "Leave it empty.")


def _figure(text: str | None, unit: str, field: str, sure: bool) -> str | None:
    """A figure's text without its unit, which is the line's; None where none is given."""
    if text is None or not text.strip():
        return None
    measured = read_measured(text, unit, field, sure=sure)
    if measured.unit != unit:
        raise FieldRefused(
            field,
            f"{text.strip()!r} is in {measured.unit}, and its line in {unit}.",
            "Give all in one unit.",
        )
    return measured.text


def _places(names: str, field: str) -> str:
    """The names of points or directions, once each, with ``, `` between."""
    given = [single_spaced(name) for name in names.split(",")] if names.strip() else []
    for mark in ";/@":
        if mark in names and (mark != "/" or field == "points"):
            raise FieldRefused(field, f"{names!r} has a {mark} in it.", "Put a comma between two places.")
    if not all(given):
        raise FieldRefused(field, f"{names!r} names nothing between two commas.", "Take one out.")
    if len({name.casefold() for name in given}) < len(given):
        raise FieldRefused(field, f"{names!r} names one place twice.", "Name each once.")
    if len(given) > PLACES_MAX:
        raise FieldRefused(field, f"{len(given)} places are too many.", f"Name at most {PLACES_MAX}.")
    return ", ".join(given)


def _check_pressure_test(line: NewSpecLine) -> None:
    if line.target is None:
        raise FieldRefused("target", "The pressure is not given.", "Type it.")
    if not line.medium.strip():
        raise FieldRefused("medium", "The medium is not given.", "Say whether air, water, oil or what else.")
    if line.hold_seconds is None or not 0 < line.hold_seconds <= HOLD_SECONDS_MAX:
        raise FieldRefused(
            "hold_seconds", "It isn't said for how long the pressure is held.", "Give it, up to a week."
        )
    pressure = read_measured(line.target, line.unit, "target").value
    if pressure == 0:
        raise FieldRefused("target", "A pressure of nothing tests nothing.", "Check the figure.")
    if line.drop_max is not None and read_measured(line.drop_max, line.unit, "drop_max").value >= pressure:
        raise FieldRefused(
            "drop_max",
            f"A drop of {line.drop_max} from {line.target} {line.unit} is all of it.",
            "Check the figures.",
        )


def _check_figures(line: NewSpecLine) -> None:
    limits = LineLimits(
        line.name,
        line.unit,
        line.new_low,
        line.new_high,
        line.worn_low,
        line.worn_high,
        line.oval_max,
        line.taper_max,
        tuple(line.points.split(", ")) if line.points else (),
        tuple(line.directions.split(", ")) if line.directions else (),
    )
    check_limits(limits)
    for field in ("new_high", "worn_high", "spread_max"):
        text = getattr(line, field)
        if text is not None and kept(text, line.unit).value == 0:
            raise FieldRefused(
                field, f"The {_WORDS[field]} of {line.name}, {text} {line.unit}, is nothing.", "Check it."
            )
    if line.oval_max is not None and len(limits.directions) < 2:
        raise FieldRefused(
            "directions", "Ovality is between directions, and there are not two.", "Name two or more."
        )
    if line.taper_max is not None and len(limits.points) < 2:
        raise FieldRefused("points", "Taper is between points, and there are not two.", "Name two or more.")
    target = limits.exact(line.target)
    low, high = limits.new
    if target is not None and ((low is not None and target < low) or (high is not None and target > high)):
        raise FieldRefused(
            "target",
            f"The target of {line.name}, {line.target} {line.unit}, is outside its new limits.",
            "Check the figures.",
        )
    if line.kind is SpecKind.TORQUE and not limits.limited and not target:
        raise FieldRefused("target", "The torque is not given.", "Give it, or its limits.")
