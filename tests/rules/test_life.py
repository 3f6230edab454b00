"""Life is judged by its worst end, and read as people write it."""

from __future__ import annotations

import pytest

from invdb.rules.life import LifeVerdict, life_verdict, read_prior
from invdb.terms import FieldRefused, HoursKnown, PriorLife

EXACT, BETWEEN, AT_LEAST, UNKNOWN = HoursKnown


@pytest.mark.parametrize(
    ("used", "verdict"),
    [
        (PriorLife(EXACT, 599_99, 599_99), LifeVerdict.WITHIN),
        (PriorLife(EXACT, 600_00, 600_00), LifeVerdict.EXPIRED),
        (PriorLife(EXACT, 600_01, 600_01), LifeVerdict.EXPIRED),
        (PriorLife(BETWEEN, 100_00, 599_99), LifeVerdict.WITHIN),
        (PriorLife(BETWEEN, 100_00, 600_00), LifeVerdict.EXPIRED),
        (PriorLife(AT_LEAST, 300_00), LifeVerdict.UNKNOWN),
        (PriorLife(AT_LEAST, 600_00), LifeVerdict.EXPIRED),
        (PriorLife(UNKNOWN), LifeVerdict.UNKNOWN),
    ],
)
def test_the_worst_end_decides(used: PriorLife, verdict: LifeVerdict) -> None:
    assert life_verdict(used, 600_00) is verdict
    assert life_verdict(used, None) is LifeVerdict.NO_LIMIT


@pytest.mark.parametrize(
    ("typed", "life"),
    [
        ("120", PriorLife(EXACT, 120_00, 120_00)),
        ("543.25 h", PriorLife(EXACT, 543_25, 543_25)),
        ("12.5h", PriorLife(EXACT, 12_50, 12_50)),
        ("between 230 and 380", PriorLife(BETWEEN, 230_00, 380_00)),
        ("100-140.75", PriorLife(BETWEEN, 100_00, 140_75)),
        ("At least 300", PriorLife(AT_LEAST, 300_00)),
        (">= 300", PriorLife(AT_LEAST, 300_00)),
        ("unknown", PriorLife(UNKNOWN)),
        ("", PriorLife(UNKNOWN)),
    ],
)
def test_hours_before_are_read_as_people_write_them(typed: str, life: PriorLife) -> None:
    assert read_prior(typed, "prior_hours") == life


def test_starts_are_counted_whole() -> None:
    assert read_prior("at least 40", "prior_starts", 1) == PriorLife(AT_LEAST, 40)
    with pytest.raises(FieldRefused, match="whole"):
        read_prior("40.5", "prior_starts", 1)


@pytest.mark.parametrize(
    "typed", ["-4", "1e3", "300,5", "at most 300", "140 to 100", "12.345", "nan", "a few"]
)
def test_what_can_not_be_read_is_refused_by_its_field(typed: str) -> None:
    with pytest.raises(FieldRefused) as caught:
        read_prior(typed, "prior_hours")
    assert caught.value.field == "prior_hours"
