"""Quantities are read and written exactly, or refused in words."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.quantities import QUANTITY_MAX, quantity_words, read_quantity
from invdb.terms import FieldRefused, Measure


@pytest.mark.parametrize(
    ("typed", "measure", "stored"),
    [
        ("12", Measure.COUNT, 12),
        (" 12 off ", Measure.COUNT, 12),
        ("1.25 m", Measure.LENGTH, 1_250_000),
        ("450mm", Measure.LENGTH, 450_000),
        ("3.5 in", Measure.LENGTH, 88_900),
        ('2"', Measure.LENGTH, 50_800),
        ("0.5 kg", Measure.WEIGHT, 500_000),
        ("8 g", Measure.WEIGHT, 8_000),
    ],
)
def test_a_quantity_is_read_as_it_was_meant(typed: str, measure: Measure, stored: int) -> None:
    assert read_quantity(typed, measure) == stored


@pytest.mark.parametrize(
    ("typed", "measure", "said"),
    [
        ("0", Measure.COUNT, "nothing"),
        ("-3", Measure.COUNT, "nothing"),
        ("2.5", Measure.COUNT, "no fraction"),
        ("1,5 m", Measure.LENGTH, "comma"),
        ("1.2.3 m", Measure.LENGTH, "no quantity"),
        ("twelve", Measure.COUNT, "no quantity"),
        ("3", Measure.LENGTH, "no unit"),
        ("3 kg", Measure.LENGTH, "does not measure"),
        ("0.0001 mm", Measure.LENGTH, "too finely"),
        ("11 ft 3 in", Measure.LENGTH, "no quantity"),
        ("20000 m", Measure.LENGTH, "more than any workshop"),
        ("100001", Measure.COUNT, "more than any workshop"),
        ("9" * 5000, Measure.COUNT, "no quantity"),
        ("9" * 400, Measure.COUNT, "more than any workshop"),
        ("", Measure.COUNT, "no quantity"),
    ],
)
def test_what_is_no_quantity_is_refused_in_words(typed: str, measure: Measure, said: str) -> None:
    with pytest.raises(FieldRefused, match=said) as caught:
        read_quantity(typed, measure)
    assert caught.value.field == "quantity"
    assert caught.value.remedy


@given(st.sampled_from(list(Measure)), st.data())
def test_what_is_shown_reads_back_as_the_same(measure: Measure, data: st.DataObject) -> None:
    quantity = data.draw(st.integers(1, QUANTITY_MAX[measure]))
    shown = quantity_words(quantity, measure)
    if "µm" not in shown:
        assert read_quantity(shown, measure) == quantity
