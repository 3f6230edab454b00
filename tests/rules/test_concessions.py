"""Whether a concession still holds: by its days, by the hours run under it, and by what is not known."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.concessions import (
    ConcessionTerms,
    ConcessionVerdict,
    end_words,
    hours_left_words,
    standing,
)
from invdb.rules.running import NOTHING, Span

FROM = date(2025, 5, 1)
FIFTY = ConcessionTerms(FROM, hours_allowed=50_00)
TO_JUNE = ConcessionTerms(FROM, until_on=date(2025, 6, 30))


@pytest.mark.parametrize(
    ("on", "verdict"),
    [
        (date(2025, 4, 30), ConcessionVerdict.NOT_YET),
        (date(2025, 5, 1), ConcessionVerdict.IN_FORCE),
        (date(2025, 6, 30), ConcessionVerdict.IN_FORCE),
        (date(2025, 7, 1), ConcessionVerdict.ENDED),
    ],
)
def test_both_of_its_days_count(on: date, verdict: ConcessionVerdict) -> None:
    assert standing(TO_JUNE, on, NOTHING).verdict is verdict


@pytest.mark.parametrize(
    ("used", "verdict", "left"),
    [
        (Span(0, 0), ConcessionVerdict.IN_FORCE, "50.00 h"),
        (Span(12_50, 12_50), ConcessionVerdict.IN_FORCE, "37.50 h"),
        (Span(10_00, 49_99), ConcessionVerdict.IN_FORCE, "between 0.01 h and 40.00 h"),
        (Span(10_00, 50_00), ConcessionVerdict.ENDED, "between none and 40.00 h"),
        (Span(50_00, 50_00), ConcessionVerdict.ENDED, "none"),
        (Span(10_00, 10_00, 1), ConcessionVerdict.UNKNOWN, "between none and 40.00 h"),
        (Span(50_00, 50_00, 1), ConcessionVerdict.ENDED, "none"),
    ],
)
def test_the_worse_end_of_what_was_run_decides(used: Span, verdict: ConcessionVerdict, left: str) -> None:
    found = standing(FIFTY, date(2025, 6, 1), used)
    assert found.verdict is verdict
    assert found.in_force == (verdict is ConcessionVerdict.IN_FORCE)
    assert found.hours_left is not None
    assert hours_left_words(found.hours_left) == left


def test_whichever_end_comes_first_ends_it() -> None:
    both = ConcessionTerms(FROM, date(2025, 6, 30), 50_00)
    assert end_words(both) == "until 2025-06-30 or for 50.00 h, whichever comes first"
    assert standing(both, date(2025, 7, 1), NOTHING).why == "ended 2025-06-30"
    assert standing(both, date(2025, 6, 1), Span(50_00, 50_00)).why == "its 50.00 h are used up"
    assert standing(both, date(2025, 6, 1), Span(1_00, 1_00)).in_force


def test_one_that_was_withdrawn_held_until_the_day_before() -> None:
    withdrawn = ConcessionTerms(FROM, hours_allowed=50_00, withdrawn_on=date(2025, 5, 20))
    assert standing(withdrawn, date(2025, 5, 19), NOTHING).in_force
    assert standing(withdrawn, date(2025, 5, 20), NOTHING).verdict is ConcessionVerdict.WITHDRAWN


@given(
    allowed=st.integers(1, 500_00),
    low=st.integers(0, 600_00),
    more=st.integers(0, 100_00),
    unbounded=st.integers(0, 2),
    later=st.integers(0, 50),
)
def test_it_never_comes_back_into_force_as_more_is_run(
    allowed: int, low: int, more: int, unbounded: int, later: int
) -> None:
    terms = ConcessionTerms(FROM, hours_allowed=allowed)
    before = standing(terms, FROM + timedelta(later), Span(low, low + more, unbounded))
    after = standing(terms, FROM + timedelta(later), Span(low + 1, low + more + 1, unbounded))
    assert before.in_force or not after.in_force
    assert before.hours_left is not None
    assert 0 <= before.hours_left.low <= before.hours_left.high <= allowed
    # What is in force has something left at the worst, and the other way about.
    assert before.in_force == (before.hours_left.low > 0)
