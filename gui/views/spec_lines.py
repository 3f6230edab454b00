"""The lines of a specification between a form and the store: what each kind says, and what is wrong."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from gui.shown import Choice, Values
from gui.shown_spec import Cell, LineKind, SpecLinesAsked
from gui.views.inspection_lines import read_held, refusal_words
from invdb.acts.spec import ask_of_sizes
from invdb.acts.spec_line import NewSpecLine, checked_line
from invdb.rules.inspection_sheet import bounds_words
from invdb.rules.measuring import UNITS, Kind, read_measured
from invdb.rules.specification import SpecLineFacts, seconds_words
from invdb.terms import Asked, FieldRefused, Refused, SpecKind

_NEW = (
    Cell("new_low", "new, least", hint="As published: 3.9375, 3 15/16 or 100.01"),
    Cell("new_high", "new, most"),
)
_WORN = (
    Cell("worn_low", "worn, least", hint="Empty where it may not wear that way"),
    Cell("worn_high", "worn, most", hint="Empty where no worn limit is published"),
)
_TARGET = (Cell("target", "target", hint="What is best, within its new limits"),)
_WORDING = Cell("wording", "in words", 34, "What else is published of it")
_ASKED = Cell("wording", "what is asked", 44, "As it is published")
_PLACES = (
    Cell("points", "at points", 20, "Where it is measured, with commas between: top, middle, bottom"),
    Cell("directions", "in directions", 20, "With commas between: along, across"),
)
_LENGTHS = tuple(name for name, unit in UNITS.items() if unit.kind in {Kind.LENGTH, Kind.ANGLE})


def _units(kind: Kind) -> tuple[str, ...]:
    return tuple(name for name, unit in UNITS.items() if unit.kind is kind)


KINDS = (
    LineKind(
        SpecKind.DIMENSION,
        str(SpecKind.DIMENSION),
        _LENGTHS,
        (
            *(*_NEW, *_WORN, *_TARGET, *_PLACES),
            Cell("oval_max", "ovality, most", hint="The most between two directions at one point"),
            Cell("taper_max", "taper, most", hint="The most between two points in one direction"),
            _WORDING,
        ),
    ),
    LineKind(
        SpecKind.MASS,
        str(SpecKind.MASS),
        _units(Kind.MASS),
        (
            *(*_NEW, *_WORN),
            Cell("spread_max", "within a set", hint="The most by which one set may differ"),
            _WORDING,
        ),
    ),
    LineKind(SpecKind.TORQUE, str(SpecKind.TORQUE), _units(Kind.TORQUE), (*_NEW, *_TARGET, _WORDING)),
    LineKind(SpecKind.MATERIAL, str(SpecKind.MATERIAL), (), (_ASKED,)),
    LineKind(SpecKind.FINISH, str(SpecKind.FINISH), (), (_ASKED,)),
    LineKind(
        SpecKind.PRESSURE_TEST,
        str(SpecKind.PRESSURE_TEST),
        _units(Kind.PRESSURE),
        (
            Cell("medium", "medium", 12, "Air, water, oil or what else"),
            Cell("target", "pressure"),
            Cell("hold", "held for", hint="Such as 20 min, 90 s or 1 h 30 min"),
            Cell("drop_max", "drop, most"),
            _WORDING,
        ),
    ),
    LineKind(SpecKind.CRACK_TEST, str(SpecKind.CRACK_TEST), (), (_ASKED,)),
    LineKind(
        SpecKind.LOAD_TEST, str(SpecKind.LOAD_TEST), _units(Kind.FORCE), (*_NEW, *_WORN, *_TARGET, _WORDING)
    ),
    LineKind(SpecKind.LOOK, str(SpecKind.LOOK), (), (_ASKED,)),
)
FIGURES = (
    *("new_low", "new_high", "worn_low", "worn_high", "target"),
    *("oval_max", "taper_max", "spread_max", "drop_max"),
)
_TEXTS = ("points", "directions", "medium", "wording")


def asked_of(sizes: tuple[str, ...]) -> SpecLinesAsked:
    """What the form asks of the lines of a part that is made in these sizes, its own first."""
    choices = tuple(Choice(size, size) for size in sizes if size)
    return SpecLinesAsked(KINDS, choices, figure_wrong, line_wrong, told_other_way)


def values_of(line: SpecLineFacts) -> dict[str, Any]:
    """A line as kept, to begin from."""
    limits = line.limits
    return {
        "kind": line.kind,
        "name": line.name,
        "size_class": line.size_class,
        "unit": line.unit,
        "new_low": limits.new_low,
        "new_high": limits.new_high,
        "worn_low": limits.worn_low,
        "worn_high": limits.worn_high,
        "target": line.target,
        "points": ", ".join(limits.points),
        "directions": ", ".join(limits.directions),
        "oval_max": limits.oval_max,
        "taper_max": limits.taper_max,
        "spread_max": line.spread_max,
        "medium": line.medium,
        "hold": seconds_words(line.hold_seconds) if line.hold_seconds is not None else "",
        "drop_max": line.drop_max,
        "wording": line.wording,
    }


def line_of(values: Values) -> NewSpecLine:
    """The line that is filled in; FieldRefused where its kind is not said, or its time is none."""
    if values.get("kind") is None:
        raise FieldRefused("kind", "It isn't said what the line states.", "Choose a kind.")
    hold = values.get("hold")
    texts: dict[str, Any] = {name: values.get(name) or None for name in FIGURES}
    texts |= {name: values.get(name) or "" for name in _TEXTS}
    return NewSpecLine(
        kind=values["kind"],
        name=values["name"],
        size_class=values.get("size_class") or "",
        unit=values.get("unit") or "",
        hold_seconds=read_held(hold) if hold else None,
        **texts,
    )


def line_wrong(values: Values) -> str:
    """What is wrong with a line as a whole, or ""; a comma is no wrong yet, since it is asked about."""
    try:
        checked_line(line_of(values), sure=True)
    except Refused as refused:
        return refusal_words(refused)
    return ""


def figure_wrong(values: Values, name: str) -> str:
    """What is wrong with one text of a line, as far as that can be told by itself, or ""."""
    text, unit = values.get(name), values.get("unit")
    try:
        if name == "hold" and text:
            read_held(text)
        if name in FIGURES and text and unit:
            measured = read_measured(text, unit, name)
            if measured.unit != unit:
                return (
                    f"{text.strip()!r} is in {measured.unit}, and the line in {unit}."
                    " Give all of a line in one unit."
                )
    except Refused as refused:
        return refusal_words(refused)
    return ""


def told_other_way(values: Values) -> str:
    """``the other way: new 4.13386 to 4.13504 in; worn at most 4.13976 in``; "" where nothing can be told."""
    unit = values.get("unit")
    if not unit:
        return ""
    said = []
    for word, low, high in (("new", "new_low", "new_high"), ("worn", "worn_low", "worn_high")):
        other = _other_way(values.get(low), values.get(high), unit)
        said += [f"{word} {other}"] if other else []
    for word, name in (
        *(("target", "target"), ("ovality", "oval_max"), ("taper", "taper_max")),
        *(("within a set", "spread_max"), ("drop", "drop_max")),
    ):
        other = _other_way(None, values.get(name), unit).removeprefix("at most ")
        said += [f"{word} {other}"] if other else []
    return f"That is {'; '.join(said)}." if said else ""


def _other_way(low: str | None, high: str | None, unit: str) -> str:
    try:
        least, most = (read_measured(text, unit).text if text else None for text in (low, high))
    except Refused:
        return ""
    published, other = bounds_words(least, most, unit)
    before = "at most " if least is None else "at least " if most is None else ""
    return f"{before}{other}" if other and published else ""


def lines_of(rows: tuple[Mapping[str, Any], ...]) -> tuple[NewSpecLine, ...]:
    """All lines that are filled in, a comma for a decimal point; FieldRefused, by the number of the first
    that is wrong. What is to be asked about them first says ``questions_of``."""
    found = []
    for number, values in enumerate(rows, 1):
        try:
            found.append(checked_line(line_of(values), sure=True))
        except FieldRefused as refused:
            raise FieldRefused("lines", f"Line {number}: {refused.reason}", refused.remedy) from refused
    return tuple(found)


def questions_of(rows: tuple[Mapping[str, Any], ...]) -> tuple[str, ...]:
    """What may be a slip in lines of which none is wrong: a comma in each, and sizes that overlap."""
    asked = []
    for number, values in enumerate(rows, 1):
        try:
            checked_line(line_of(values))
        except Asked as question:
            asked.append(f"Line {number}: {question.reason}")
    try:
        ask_of_sizes(lines_of(rows))
    except Asked as question:
        asked.append(question.reason)
    return tuple(asked)
