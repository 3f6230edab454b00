"""Quantities as people write them, exact to and from the stored integers."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

from invdb.terms import FieldRefused, Measure

# 100,000 pieces, 10 km, 10 t: more than any workshop holds of one batch.
QUANTITY_MAX = {Measure.COUNT: 100_000, Measure.LENGTH: 10_000 * 10**6, Measure.WEIGHT: 10_000 * 10**6}

_TYPED_UNITS: dict[Measure, dict[str, Fraction]] = {
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
# Largest first, each with how many decimal places it has over the smallest.
_SHOWN_UNITS = {
    Measure.COUNT: (("off", 0),),
    Measure.LENGTH: (("m", 6), ("mm", 3), ("µm", 0)),
    Measure.WEIGHT: (("kg", 6), ("g", 3), ("mg", 0)),
}
TYPED_LENGTH_MAX = 1000
_WRITTEN = re.compile(r"\s*([+-]?)\s*(\d[\d ]*)(?:\.(\d+))?\s*([^\d\s.,]*)\s*")


def quantity_and_unit(quantity: int, measure: Measure) -> tuple[Decimal, str]:
    """The exact figure and the unit a person would use: (1.25, 'm') for 1250000 µm, (12, 'off') for a count.

    The unit is the largest of which there is at least one; nothing at all is given in the largest.
    """
    for unit, places in _SHOWN_UNITS[measure]:
        if quantity == 0 or abs(quantity) >= 10**places:
            whole, rest = divmod(abs(quantity), 10**places)
            fraction = f"{rest:0{places}d}".rstrip("0") if rest else ""
            figure = f"{whole}.{fraction}" if fraction else f"{whole}"
            return Decimal(f"-{figure}" if quantity < 0 else figure), unit
    raise AssertionError("every measure ends in its smallest unit")


def quantity_words(quantity: int, measure: Measure) -> str:
    """'12 off', '1.25 m', '350 g': exactly, from pieces, µm or mg."""
    figure, unit = quantity_and_unit(quantity, measure)
    return f"{figure:f} {unit}"


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
    match = _WRITTEN.fullmatch(text) if len(text) <= TYPED_LENGTH_MAX else None
    if match is None:
        raise FieldRefused("quantity", f"{text.strip()!r} is no quantity.", "Type a number and its unit.")
    sign, whole, rest, unit = match.groups()
    units = _TYPED_UNITS[measure]
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
