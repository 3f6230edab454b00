"""To what a directive applies, and when it is due: by hours, by the calendar, and by what is not known."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.calendar import months_after
from invdb.rules.directives import (
    Applicability,
    DirectiveTerms,
    DirectiveVerdict,
    engine_bar,
    left_words,
    next_due_words,
    standing,
    terms_words,
)
from invdb.rules.due import DueSoon
from invdb.rules.life import LifeVerdict
from invdb.rules.running import Span

EFFECTIVE = date(2025, 1, 31)
JUNE = date(2025, 6, 1)
ONCE = DirectiveTerms(EFFECTIVE, within_hours=10_00, within_months=12)
AGAIN = DirectiveTerms(EFFECTIVE, within_hours=10_00, every_hours=50_00, every_months=6)


@pytest.mark.parametrize(
    ("applicability", "bar"),
    [
        (Applicability(), None),
        (Applicability("Linnet"), None),
        (Applicability("Dabchick"), "only for engine type Dabchick, not Linnet"),
        (Applicability("Linnet", "L1001", "L1010"), None),
        (Applicability("Linnet", "L1007", "L1007"), None),
        (Applicability("Linnet", "L1008"), "only for engine serials from L1008, not L1007"),
        (Applicability("Linnet", None, "L999"), "only for engine serials up to L999, not L1007"),
    ],
)
def test_it_is_for_engines_of_a_type_and_a_range_of_serials(
    applicability: Applicability, bar: str | None
) -> None:
    assert engine_bar(applicability, "Linnet", "L1007", JUNE) == bar


def test_an_engine_without_a_serial_is_told_so() -> None:
    said = engine_bar(Applicability("Linnet", "L1"), "Linnet", "", JUNE)
    assert said == "only for engine serials from L1, and this engine's serial is not known"


@pytest.mark.parametrize(
    ("on", "ran", "verdict", "left"),
    [
        (JUNE, Span(), DirectiveVerdict.DUE_LATER, "10.00 h"),
        (JUNE, Span(9_99, 9_99), DirectiveVerdict.DUE_LATER, "0.01 h"),
        (JUNE, Span(10_00, 10_00), DirectiveVerdict.OVERDUE, "none"),
        (JUNE, Span(11_00, 11_00), DirectiveVerdict.OVERDUE, "none, over by 1.00 h"),
        (JUNE, Span(2_00, 12_00), DirectiveVerdict.OVERDUE, "between none and 8.00 h"),
        (JUNE, Span(2_00, 2_00, 1), DirectiveVerdict.UNKNOWN, "at most 8.00 h and perhaps none"),
        (JUNE, Span(11_00, 11_00, 1), DirectiveVerdict.OVERDUE, "none, over by 1.00 h or more"),
        (date(2026, 1, 31), Span(), DirectiveVerdict.DUE_LATER, "10.00 h"),
        (date(2026, 2, 1), Span(), DirectiveVerdict.OVERDUE, "10.00 h"),
        (date(2026, 2, 1), Span(0, 0, 1), DirectiveVerdict.OVERDUE, "at most 10.00 h and perhaps none"),
    ],
)
def test_first_due_by_hours_or_by_the_calendar_whichever_comes_first(
    on: date, ran: Span, verdict: DirectiveVerdict, left: str
) -> None:
    found = standing(ONCE, on, ran=ran)
    assert (found.verdict, left_words(found)) == (verdict, f"{left}, until 2026-01-31")


def test_once_complied_with_it_is_done_with() -> None:
    found = standing(ONCE, date(2030, 1, 1), complied_on=JUNE, ran=Span(900_00, 900_00))
    assert found.verdict is DirectiveVerdict.COMPLIED
    assert (found.hours_left, found.due_on, left_words(found)) == (None, None, "")
    assert found.verdict.as_life is LifeVerdict.NO_LIMIT


def test_one_that_recurs_is_due_again_after_each_compliance() -> None:
    assert terms_words(AGAIN) == "every 50.00 h or 6 months, first within 10.00 h of 2025-01-31"
    assert standing(AGAIN, JUNE, ran=Span(10_00, 10_00)).verdict is DirectiveVerdict.OVERDUE
    found = standing(AGAIN, date(2025, 8, 1), complied_on=JUNE, ran=Span(20_00, 20_00))
    assert found.verdict is DirectiveVerdict.DUE_LATER
    assert (found.hours_limit, found.hours_left, found.due_on) == (
        50_00,
        Span(30_00, 30_00),
        date(2025, 12, 1),
    )
    assert found.why == "due within 50.00 h or by 2025-12-01, last complied with 2025-06-01"
    assert standing(AGAIN, date(2025, 12, 2), complied_on=JUNE).verdict is DirectiveVerdict.OVERDUE


def test_with_nothing_that_says_when_it_is_due_from_the_day_it_takes_effect() -> None:
    plain = DirectiveTerms(EFFECTIVE)
    assert terms_words(plain) == "once, from 2025-01-31 on"
    assert standing(plain, EFFECTIVE).verdict is DirectiveVerdict.DUE_LATER
    assert standing(plain, EFFECTIVE + timedelta(1)).verdict is DirectiveVerdict.OVERDUE


def test_it_is_due_soon_as_the_shop_has_it() -> None:
    soon = DueSoon(hours=3_00, months=1)
    assert standing(ONCE, JUNE, ran=Span(7_00, 7_00), soon=soon).verdict is DirectiveVerdict.DUE_SOON
    assert standing(ONCE, JUNE, ran=Span(6_99, 6_99), soon=soon).verdict is DirectiveVerdict.DUE_LATER
    assert standing(ONCE, date(2025, 12, 31), soon=soon).verdict is DirectiveVerdict.DUE_SOON
    assert standing(ONCE, date(2025, 12, 30), soon=soon).verdict is DirectiveVerdict.DUE_LATER


def test_months_end_on_the_last_day_of_a_shorter_month() -> None:
    assert months_after(date(2025, 1, 31), 1) == date(2025, 2, 28)
    assert months_after(date(2023, 11, 30), 3) == date(2024, 2, 29)
    assert months_after(date(2025, 12, 1), 12) == date(2026, 12, 1)
    assert months_after(date(2025, 1, 15), -1) == date(2024, 12, 15)
    assert months_after(date(2025, 1, 15), 12 * 9000) == date.max


AMOUNTS = st.builds(
    lambda low, more, unbounded: Span(low, low + more, unbounded),
    st.integers(0, 200_00),
    st.integers(0, 50_00),
    st.integers(0, 1),
)
LIMITS = st.one_of(st.none(), st.integers(1, 150_00))
MONTHS = st.one_of(st.none(), st.integers(1, 48))
RANK = {
    DirectiveVerdict.COMPLIED: 0,
    DirectiveVerdict.DUE_LATER: 1,
    DirectiveVerdict.DUE_SOON: 2,
    DirectiveVerdict.UNKNOWN: 3,
    DirectiveVerdict.OVERDUE: 4,
}


@given(
    within_hours=LIMITS,
    within_months=MONTHS,
    every_hours=LIMITS,
    every_months=MONTHS,
    complied=st.one_of(st.none(), st.integers(0, 900)),
    day=st.integers(0, 2000),
    ran=AMOUNTS,
    more=st.integers(0, 20_00),
    days_more=st.integers(0, 300),
)
def test_running_on_and_waiting_never_make_it_less_due(
    within_hours: int | None,
    within_months: int | None,
    every_hours: int | None,
    every_months: int | None,
    complied: int | None,
    day: int,
    ran: Span,
    more: int,
    days_more: int,
) -> None:
    terms = DirectiveTerms(EFFECTIVE, within_hours, within_months, None, every_hours, every_months)
    complied_on = None if complied is None else EFFECTIVE + timedelta(complied)
    on = EFFECTIVE + timedelta(day)
    soon = DueSoon()
    before = standing(terms, on, complied_on=complied_on, ran=ran, soon=soon)
    after = standing(
        terms, on + timedelta(days_more), complied_on=complied_on, ran=ran + Span(more, more), soon=soon
    )
    assert RANK[before.verdict] <= RANK[after.verdict]
    overrun = before.due_on is not None and on > before.due_on
    used_up = before.hours_limit is not None and (
        ran.low >= before.hours_limit or (ran.open == 0 and ran.high >= before.hours_limit)
    )
    assert (before.verdict is DirectiveVerdict.OVERDUE) == (overrun or used_up)


@pytest.mark.parametrize(
    ("terms", "on", "complied_on", "ran", "said"),
    [
        (ONCE, JUNE, None, Span(4_00, 4_00), "6.00 h left, until 2026-01-31"),
        (ONCE, JUNE, None, Span(4_00, 5_00), "between 5.00 h and 6.00 h left, until 2026-01-31"),
        (ONCE, JUNE, JUNE, Span(), "nothing more is due"),
        (ONCE, date(2026, 2, 1), None, Span(4_00, 4_00), "was due by 2026-01-31"),
        (AGAIN, JUNE, JUNE, Span(), "50.00 h left, until 2025-12-01"),
        (AGAIN, JUNE, None, Span(10_00, 10_00), "was due within 10.00 h, which are run"),
        (AGAIN, JUNE, None, Span(12_50, 12_50), "was due within 10.00 h, over by 2.50 h"),
        (AGAIN, JUNE, None, Span(9_00, 12_50), "was due within 10.00 h, which perhaps are run"),
        (AGAIN, JUNE, None, Span(11_00, 12_50), "was due within 10.00 h, over by between 1.00 h and 2.50 h"),
        (AGAIN, JUNE, None, Span(12_00, 12_00, 1), "was due within 10.00 h, over by 2.00 h or more"),
        (
            AGAIN,
            JUNE,
            None,
            Span(4_00, 4_00, 1),
            "due within 10.00 h, and how much was run is not known, in effect from 2025-01-31",
        ),
    ],
)
def test_what_comes_next_is_said_in_words(
    terms: DirectiveTerms, on: date, complied_on: date | None, ran: Span, said: str
) -> None:
    assert next_due_words(standing(terms, on, complied_on=complied_on, ran=ran)) == said
