"""Whether what lies at a station is still what was there at an engine event."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.events import Gain, doubt_words, event_words, inside_since
from invdb.rules.points import Point
from invdb.terms import EngineEventKind

STRIKE = date(2025, 5, 4)
EVENT: Point = (STRIKE, 50)


def gain(days: int, number: int, quantity: int) -> Gain:
    return Gain((STRIKE + timedelta(days), number), quantity)


@pytest.mark.parametrize(
    ("gains", "inside"),
    [
        ([], False),
        ([gain(-1, 10, 2)], True),
        ([gain(1, 60, 2)], False),
        # On the day itself the order of the entries tells.
        ([gain(0, 49, 2)], True),
        ([gain(0, 51, 2)], False),
        ([gain(-1, 10, 2), gain(0, 49, -2)], False),
        ([gain(-1, 10, 2), gain(0, 51, -1)], True),
        ([gain(-1, 10, 2), gain(0, 51, -2)], False),
        # A late entry counts on its own day.
        ([gain(-1, 99, 2)], True),
        # Taken out and put back: other ones may have come, but none of those that were there.
        ([gain(-1, 10, 2), gain(1, 60, -2), gain(2, 61, 2)], False),
        ([gain(-1, 10, 2), gain(1, 60, -1), gain(2, 61, 1)], True),
        ([gain(-1, 10, 2), gain(1, 60, -2), gain(1, 60, 2)], True),
    ],
)
def test_what_was_never_out_since_was_inside(gains: list[Gain], inside: bool) -> None:
    assert inside_since(gains, EVENT) is inside


def test_what_came_out_is_judged_by_what_was_there_until_then() -> None:
    gains = [gain(-1, 10, 2), gain(3, 70, -2), gain(4, 71, 2), gain(5, 72, -2)]
    assert inside_since(gains, EVENT, until=(STRIKE + timedelta(3), 70))
    assert not inside_since(gains, EVENT, until=(STRIKE + timedelta(5), 72))


@given(st.lists(st.builds(gain, st.integers(-5, 5), st.integers(1, 99), st.integers(1, 9)), max_size=8))
def test_without_a_loss_all_that_counts_is_what_came_before(gains: list[Gain]) -> None:
    assert inside_since(gains, EVENT) is any(each.at <= EVENT for each in gains)


def test_the_words_name_the_engine_the_event_and_the_day() -> None:
    strike = EngineEventKind.PROPELLER_STRIKE
    assert event_words(strike, "Linnet 142", STRIKE) == "propeller strike of Linnet 142 on 2025-05-04"
    assert doubt_words(strike, "Linnet 142", STRIKE) == (
        "inside Linnet 142 at the propeller strike of 2025-05-04,"
        " and no inspection named for it has cleared it"
    )
