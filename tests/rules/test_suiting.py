"""What is known of things that are to go together, by the names that their specifications give it."""

from __future__ import annotations

from fractions import Fraction

from invdb.rules.limits import LineLimits, Reading
from invdb.rules.measuring import read_measured
from invdb.rules.suiting import Known


def piston(readings: dict[str, str], limits: LineLimits | None = None) -> Known:
    """A piston with figures by name, each read at the foot."""
    figures = {name: [Reading("Foot", "", read_measured(text, ""))] for name, text in readings.items()}
    return Known(1, "PN0401-R", "", "", figures, {} if limits is None else {limits.name: limits})


def test_a_dimension_is_the_same_whatever_the_case_in_which_two_specifications_write_it() -> None:
    measured = piston({"Skirt": "104.7 mm", "Mass": "612 g"})
    spread = measured.spread("skirt", "foot")
    assert spread is not None and (spread.mean, spread.measured) == (Fraction("104.7"), True)
    assert measured.mass("mass") == 612
    assert measured.spread("skirt", "head") is None
    by_limits = piston({}, LineLimits("Skirt", "mm", "104.6", "104.8")).spread("skirt")
    assert by_limits is not None and (by_limits.low, by_limits.measured) == (Fraction("104.6"), False)
