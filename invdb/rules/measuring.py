"""Measurements as people write them: inches, thou, fractions, millimetres, and what else a bench reads.

A figure is kept as the text and the unit that were entered. What is compared is the exact fraction made of
that text, in the base unit of its kind: mm, g, N·m, bar, N or degrees. The units' sizes are pint's, from the
international agreements (one inch is 25.4 mm), reckoned in fractions, so that nothing is rounded.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cache
from typing import Any

from invdb.terms import Asked, FieldRefused

TEXT_LENGTH_MAX = 60
FIGURE_MAX = 10**6
DENOMINATOR_MAX = 1000
SORTED_PER_BASE_UNIT = 10**6


class Kind(StrEnum):
    """What a unit measures; its value is the base unit."""

    LENGTH = "mm"
    MASS = "g"
    TORQUE = "N·m"
    PRESSURE = "bar"
    FORCE = "N"
    ANGLE = "°"


@dataclass(frozen=True)
class Unit:
    """A unit as we write it: its kind, pint's name for it, and the decimal places that a person reads."""

    name: str
    kind: Kind
    definition: str
    places: int


UNITS = {
    unit.name: unit
    for unit in (
        Unit("mm", Kind.LENGTH, "millimeter", 4),
        Unit("µm", Kind.LENGTH, "micrometer", 1),
        Unit("in", Kind.LENGTH, "inch", 5),
        Unit("thou", Kind.LENGTH, "thou", 2),
        Unit("g", Kind.MASS, "gram", 3),
        Unit("kg", Kind.MASS, "kilogram", 6),
        Unit("oz", Kind.MASS, "ounce", 4),
        Unit("lb", Kind.MASS, "pound", 5),
        Unit("N·m", Kind.TORQUE, "newton * meter", 2),
        Unit("kgf m", Kind.TORQUE, "kilogram_force * meter", 3),
        Unit("lbf ft", Kind.TORQUE, "pound_force * foot", 2),
        Unit("lbf in", Kind.TORQUE, "pound_force * inch", 1),
        Unit("bar", Kind.PRESSURE, "bar", 3),
        Unit("kPa", Kind.PRESSURE, "kilopascal", 1),
        Unit("kgf/cm²", Kind.PRESSURE, "kilogram_force / centimeter ** 2", 3),
        Unit("lbf/in²", Kind.PRESSURE, "pound_force / inch ** 2", 2),
        Unit("N", Kind.FORCE, "newton", 1),
        Unit("kgf", Kind.FORCE, "kilogram_force", 3),
        Unit("lbf", Kind.FORCE, "pound_force", 2),
        Unit("°", Kind.ANGLE, "degree", 2),
    )
}
# What else people type for them, without spaces and in small letters.
_TYPED = {
    **{name.lower().replace(" ", ""): name for name in UNITS},
    **dict.fromkeys(('"', "”", "″", "''", "ins", "inch", "inches"), "in"),
    **dict.fromkeys(("th", "mil", "mils"), "thou"),
    **dict.fromkeys(("um", "μm", "micron", "microns"), "µm"),
    **dict.fromkeys(("millimetre", "millimetres", "millimeter", "millimeters"), "mm"),
    **dict.fromkeys(("gr", "gram", "grams", "gramme", "grammes"), "g"),
    **dict.fromkeys(("lbs", "pound", "pounds"), "lb"),
    **dict.fromkeys(("nm", "n.m", "n*m"), "N·m"),
    **dict.fromkeys(("kgm", "kgfm", "kgf.m", "kgf·m", "mkp"), "kgf m"),
    **dict.fromkeys(("lbft", "lbfft", "lb.ft", "lbf.ft", "lbf·ft", "ftlb", "ftlbf"), "lbf ft"),
    **dict.fromkeys(("lbin", "lbfin", "lb.in", "lbf.in", "lbf·in", "inlb", "inlbf"), "lbf in"),
    **dict.fromkeys(("psi", "lb/in²", "lb/in2", "lbf/in2"), "lbf/in²"),
    **dict.fromkeys(("kgf/cm2", "kg/cm²", "kg/cm2", "atm.ü"), "kgf/cm²"),
    **dict.fromkeys(("deg", "degree", "degrees"), "°"),
}
# The unit beside which a figure is shown the other way.
_OTHER_WAY = {
    **dict.fromkeys(("mm", "µm"), "in"),
    **dict.fromkeys(("in", "thou"), "mm"),
    **dict.fromkeys(("g", "kg"), "oz"),
    **dict.fromkeys(("oz", "lb"), "g"),
    **dict.fromkeys(("N·m", "kgf m"), "lbf ft"),
    **dict.fromkeys(("lbf ft", "lbf in"), "N·m"),
    **dict.fromkeys(("bar", "kPa", "kgf/cm²"), "lbf/in²"),
    "lbf/in²": "bar",
    **dict.fromkeys(("N", "kgf"), "lbf"),
    "lbf": "N",
}
_FIGURE = re.compile(
    r"(?P<sign>[+\-−]?) *"
    r"(?:(?P<whole>\d{1,9})(?: |-)(?P<upper>\d{1,4})/(?P<lower>\d{1,4})"
    r"|(?P<upper_only>\d{1,4})/(?P<lower_only>\d{1,4})"
    r"|(?P<decimal>\d{1,9}(?:\.\d{0,12})?|\.\d{1,12}))",
    re.ASCII,
)
_STARTS = re.compile(r"[+\-−]?[ ]*[\d.,/ \-]*\d[\d.,/]*")


@dataclass(frozen=True)
class Measured:
    """One figure: its text and unit as entered, and its exact value in the base unit of its kind."""

    text: str
    unit: str
    value: Fraction

    @property
    def kind(self) -> Kind:
        """What it measures."""
        return UNITS[self.unit].kind

    @property
    def words(self) -> str:
        """``3 15/16 in``, as entered."""
        return f"{self.text} {self.unit}"


@cache
def in_base_units(unit: str) -> Fraction:
    """How many base units of its kind one of a unit is, exactly. KeyError for a unit that is none of ours."""
    known = UNITS[unit]
    one = _registry().Quantity(Fraction(1), known.definition)
    return Fraction(one.to(UNITS[known.kind].definition).magnitude)


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)


def unit_named(text: str, field: str = "unit", like: str = "") -> str:
    """The unit that a person typed, as we write it; FieldRefused for one that we don't know, naming those
    that we do, of the kind of the unit ``like`` where one is given."""
    typed = text.strip()
    name = _TYPED.get(typed.lower().replace(" ", ""))
    if name is None:
        said = f"{typed!r} is no unit known here." if typed else "No unit is given."
        known = [each for each in UNITS if not like or same_kind(each, like)]
        raise FieldRefused(field, said, f"Use one of: {', '.join(known)}.")
    return name


def same_kind(unit: str, other: str) -> bool:
    """Whether two units measure the same kind of thing."""
    return UNITS[unit].kind is UNITS[other].kind


def read_measured(
    text: str, unit: str, field: str = "figure", *, signed: bool = False, sure: bool = False
) -> Measured:
    """What a person typed, in ``unit`` unless they typed one of the same kind behind it.

    ``3.9375``, ``3 15/16``, ``3⅞``, ``15/16 in``, ``12 thou``, ``100.02 mm``. With ``unit`` '' they must type
    one, of any kind. FieldRefused for what is no figure, for a division by nothing, two units, a unit of
    another kind, or one below zero that isn't ``signed``. A comma is Asked about; with ``sure`` it stands for
    a decimal point.
    """
    typed = " ".join(text.split())
    if not typed:
        raise FieldRefused(
            field, "No figure is given.", f"Type it in {unit}." if unit else "Type it with its unit."
        )
    if len(typed) > TEXT_LENGTH_MAX:
        raise FieldRefused(field, f"{typed!r} is too long for a figure.", "Type the figure and its unit.")
    figure, own_unit = _parted(typed, field)
    unit = _unit_of(own_unit, unit, typed, field)
    if "," in figure:
        if figure.count(",") > 1 or "." in figure or "/" in figure:
            raise FieldRefused(
                field, f"{typed!r} has a comma that is no decimal point.", "Type it without, such as 1250.5."
            )
        if not sure:
            raise Asked(
                field, f"{typed!r} has a comma.", "Is it a decimal point? Then type a point, or say so."
            )
        figure = figure.replace(",", ".")
    value = _exact(figure, typed, field)
    if value < 0 and not signed:
        raise FieldRefused(field, f"{typed!r} is below zero.", "Check the figure.")
    measured = Measured(figure, unit, value * in_base_units(unit))
    if abs(measured.value) > FIGURE_MAX:
        raise FieldRefused(field, f"{typed!r} is beyond any engine.", "Check the figure and its unit.")
    return measured


def kept(text: str, unit: str) -> Measured:
    """A figure that is kept already, as text and unit."""
    return Measured(text, unit, _exact(text, text, "figure") * in_base_units(unit))


def _parted(typed: str, field: str) -> tuple[str, str]:
    """The figure and what is behind it."""
    spelled = " ".join("".join(map(_spelled, typed)).split())
    found = _STARTS.match(spelled)
    if found is None:
        raise FieldRefused(field, f"{typed!r} is no figure.", "Type a number, such as 3.9375 or 3 15/16.")
    return found.group().strip(), spelled[found.end() :].strip()


def _spelled(character: str) -> str:
    """A character as it is typed; a fraction that is one character as its two numbers: ``⅞`` as `` 7/8``."""
    if character in "⁄∕":
        return "/"
    plain = unicodedata.normalize("NFKC", character)
    return f" {plain.replace('⁄', '/')}" if "⁄" in plain else character


def _unit_of(own: str, unit: str, typed: str, field: str) -> str:
    if not own:
        if not unit:
            raise FieldRefused(
                field, f"{typed!r} has no unit.", "Type it behind the figure, such as 98.02 mm."
            )
        return unit
    if re.search(r"\d", own.replace("in2", "in²").replace("cm2", "cm²")):
        raise FieldRefused(field, f"{typed!r} has more than one figure or unit.", "Give one figure.")
    named = unit_named(own, field, unit)
    if unit and not same_kind(named, unit):
        raise FieldRefused(
            field, f"{typed!r} is in {named}, and this is measured in {unit}.", f"Give it in {unit}."
        )
    return named


def _exact(figure: str, typed: str, field: str) -> Fraction:
    found = _FIGURE.fullmatch(figure)
    if found is None:
        raise FieldRefused(field, f"{typed!r} is no figure.", "Type a number, such as 3.9375 or 3 15/16.")
    lower = int(found["lower"] or found["lower_only"] or 1)
    if lower == 0:
        raise FieldRefused(field, f"{typed!r} divides by nothing.", "Check the fraction.")
    upper = int(found["upper"] or found["upper_only"] or 0)
    if lower > DENOMINATOR_MAX or (found["whole"] and upper >= lower):
        raise FieldRefused(field, f"{typed!r} is no fraction as a rule has them.", "Check the fraction.")
    if found["decimal"]:
        value = Fraction(found["decimal"].rstrip(".") if found["decimal"] != "." else "0")
    else:
        value = int(found["whole"] or 0) + Fraction(upper, lower)
    return -value if found["sign"] in {"-", "−"} else value


def shown(value: Fraction, unit: str, places: int | None = None, least: int = 0) -> str:
    """A value, in base units, as a decimal figure of a unit, rounded half to even for the eye.

    It has no zeros at its end beyond the ``least`` decimal places, which are those of a published figure.
    """
    known = UNITS[unit]
    digits = known.places if places is None else places
    scaled = round(value / in_base_units(unit) * 10**digits)
    whole, rest = divmod(abs(scaled), 10**digits)
    decimals = f"{rest:0{digits}d}".rstrip("0").ljust(least, "0") if digits else ""
    sign = "−" if scaled < 0 else ""
    return f"{sign}{whole}{f'.{decimals}' if decimals else ''} {unit}"


def shown_beyond(beyond: Fraction, unit: str, places: int | None = None, least: int = 0) -> str:
    """By how much a figure, in base units and above zero, is beyond another; see ``shown``.

    What would be rounded to nothing is said to be less than the least that is shown.
    """
    digits = UNITS[unit].places if places is None else places
    smallest = in_base_units(unit) / 10**digits
    if 0 < beyond < smallest / 2:
        return f"less than {shown(smallest, unit, digits)}"
    return shown(beyond, unit, digits, least)


def places_of(*figures: str | None) -> int:
    """The most decimal places that any of some figures is written with; 0 for fractions and for None."""
    return max((len(each.partition(".")[2]) for each in figures if each is not None), default=0)


def other_unit(unit: str) -> str | None:
    """The unit in which a figure is shown the other way; None where there is no other way."""
    return _OTHER_WAY.get(unit)


def both_ways(measured: Measured) -> str:
    """``3 15/16 in (100.0125 mm)``: as entered, and the other way, rounded for the eye alone."""
    other = other_unit(measured.unit)
    return measured.words if other is None else f"{measured.words} ({shown(measured.value, other)})"


def sort_key(measured: Measured) -> int:
    """Millionths of the base unit, rounded: sorts as the figures do, and serves nothing else."""
    return round(measured.value * SORTED_PER_BASE_UNIT)
