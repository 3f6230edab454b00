"""Figures that are known exactly, between two ends, at least, or not at all, as a person gives them."""

from __future__ import annotations

from invdb.terms import FieldRefused, HoursKnown, PriorLife

# Hours in hundredths, or starts: more than any engine or piece ever ran.
FIGURE_MAX = 10_000_000_00


def check_known(figure: PriorLife, field: str) -> None:
    """Refuse hours or starts that are below zero, end below where they begin, or are beyond any engine."""
    words = field.replace("_", " ")
    if any(end is not None and not 0 <= end <= FIGURE_MAX for end in (figure.low, figure.high)):
        raise FieldRefused(field, f"The {words} can't be so.", "Check the figure.")
    if figure.low is not None and figure.high is not None:
        if figure.high < figure.low:
            raise FieldRefused(
                field, f"The {words} end below where they begin.", "Give the lower figure first."
            )
        if figure.known is HoursKnown.EXACT and figure.low != figure.high:
            raise FieldRefused(
                field, f"Exact {words} can't be two figures.", "Say between, or give one figure."
            )
