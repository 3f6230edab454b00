"""Quantities as people write them, exact to and from the stored integers."""

from __future__ import annotations

import re
from fractions import Fraction

from invdb.terms import FieldRefused, Measure

# 100,000 pieces, 10 km, 10 t: more than any workshop holds of one batch.
QUANTITY_MAX = {Measure.COUNT: 100_000, Measure.LENGTH: 10_000 * 10**6, Measure.WEIGHT: 10_000 * 10**6}

_UNITS: dict[Measure, dict[str, Fraction]] = {
    Measure.COUNT: {"": Fraction(1), "off": Fraction(1), "pc": Fraction(1), "pcs": Fraction(1)},
    Measure.LENGTH: {
        "mm": Fraction(1000),
        "cm": Fraction(10_000),
        "m": Fraction(10**6),
        "in": Fraction(25_400),
        '"': Fraction(25_400),
        "ft": Fraction(304_800),
    },
    Measure.WEIGHT: {"mg": Fraction(1), "g": Fraction(1000), "kg": Fraction(10**6)},
}
_WRITTEN = re.compile(r"\s*([+-]?)\s*(\d[\d ]*)(?:\.(\d+))?\s*([^\d\s.,]*)\s*")


def quantity_words(quantity: int, measure: Measure) -> str:
    """``12 off``, ``1.25 m``, ``350 g``: exact, from pieces, micrometres or milligrams."""
    if measure is Measure.COUNT:
        return f"{quantity} off"
    if measure is Measure.LENGTH:
        return f"{_decimal(quantity, 6)} m" if abs(quantity) >= 10**6 else f"{_decimal(quantity, 3)} mm"
    return f"{_decimal(quantity, 6)} kg" if abs(quantity) >= 10**6 else f"{_decimal(quantity, 3)} g"


def _decimal(value: int, places: int) -> str:
    whole, rest = divmod(abs(value), 10**places)
    fraction = f"{rest:0{places}d}".rstrip("0")
    sign = "-" if value < 0 else ""
    return f"{sign}{whole}.{fraction}" if fraction else f"{sign}{whole}"


def read_quantity(text: str, measure: Measure) -> int:
    """The stored integer of what a person typed: ``12``, ``12 off``, ``1.25 m``, ``350 g``.

    Refused when it is no number, in a wrong unit, a fraction of what is counted, finer than the smallest
    unit, not above zero, or more than a workshop holds. A decimal comma is asked about, not guessed.
    """
    if "," in text:
        raise FieldRefused(
            "quantity",
            f"{text.strip()!r} has a comma.",
            "Write a decimal point, and no mark between thousands.",
        )
    match = _WRITTEN.fullmatch(text)
    if match is None:
        raise FieldRefused("quantity", f"{text.strip()!r} is no quantity.", "Type a number and its unit.")
    sign, whole, rest, unit = match.groups()
    units = _UNITS[measure]
    if unit.lower() not in units:
        shown = ", ".join(unit for unit in units if unit)
        said = f"{unit!r} does not measure a {measure}." if unit else f"{text.strip()!r} has no unit."
        raise FieldRefused("quantity", said, f"Use one of: {shown}.")
    exact = Fraction(int(whole.replace(" ", ""))) + (Fraction(int(rest), 10 ** len(rest)) if rest else 0)
    smallest = exact * units[unit.lower()] * (-1 if sign == "-" else 1)
    if smallest.denominator != 1:
        said = "counted, so there is no fraction of it" if measure is Measure.COUNT else "given too finely"
        raise FieldRefused("quantity", f"{text.strip()!r}: it is {said}.", "Give a whole number."
                           if measure is Measure.COUNT else "Round it.")  # fmt: skip
    if smallest <= 0:
        raise FieldRefused("quantity", f"{text.strip()!r} is nothing.", "Give more than zero.")
    if smallest > QUANTITY_MAX[measure]:
        raise FieldRefused(
            "quantity", f"{text.strip()!r} is more than any workshop holds.", "Check the number and its unit."
        )
    return int(smallest)
