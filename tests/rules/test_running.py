"""The log of an engine adds up whatever its meter did, and what can not be run is told from the unusual."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.running import (
    RAN_NOTHING,
    LogContradiction,
    LogLine,
    Ran,
    Span,
    absurd,
    doubtful,
    ran_from,
    span_of,
    totals,
)
from invdb.terms import HoursKnown, PriorLife, RunningUse

DAY = date(2026, 3, 2)
FLIGHT, GROUND = RunningUse

spans = st.builds(
    lambda low, more, open_: Span(low, low + more, open_),
    st.integers(0, 500),
    st.integers(0, 50),
    st.integers(0, 2),
)
rans = st.builds(Ran, spans, spans, spans)


@dataclass(frozen=True)
class Stint:
    """What an engine truly ran and how it got into the log: over the meter, by hand, or before a new one."""

    use: RunningUse
    hours: int
    starts: int
    how: str
    new_reading: int


stints = st.lists(
    st.builds(
        Stint,
        st.sampled_from(RunningUse),
        st.integers(0, 900),
        st.integers(0, 9),
        st.sampled_from(["meter", "by hand", "changed", "changed unread"]),
        st.integers(0, 90_000),
    ),
    max_size=25,
)


def logged(history: list[Stint], begun: int | None) -> list[LogLine]:
    """The log that somebody kept who knew all of it."""
    meter = begun
    lines = []
    for number, stint in enumerate(history, start=1):
        plain = LogLine(number, DAY + timedelta(number // 3), stint.use)
        hours, starts = Span(stint.hours, stint.hours), Span(stint.starts, stint.starts)
        if stint.how == "by hand" or (stint.how == "meter" and meter is None):
            line = replace(plain, hours=hours, starts=starts)
        elif stint.how == "meter":
            assert meter is not None
            meter += stint.hours
            line = replace(plain, reading=meter, starts=starts)
        elif stint.how == "changed" and meter is not None:
            line = replace(plain, reading=meter + stint.hours, new_reading=stint.new_reading, starts=starts)
            meter = stint.new_reading
        else:
            line = replace(plain, hours=hours, new_reading=stint.new_reading, starts=starts)
            meter = stint.new_reading
        lines.append(line)
    return lines


@given(stints, st.none() | st.integers(0, 90_000))
def test_whatever_the_meter_did_the_totals_are_what_was_truly_run(
    history: list[Stint], begun: int | None
) -> None:
    states = totals(logged(history, begun), begun)
    assert len(states) == len(history)
    for upto, state in enumerate(states, start=1):
        flown = sum(each.hours for each in history[:upto] if each.use is FLIGHT)
        on_ground = sum(each.hours for each in history[:upto] if each.use is GROUND)
        starts = sum(each.starts for each in history[:upto])
        assert state.ran == Ran(Span(flown, flown), Span(on_ground, on_ground), Span(starts, starts))


@given(stints, st.integers(0, 90_000), st.data())
def test_a_reading_noted_late_between_two_others_changes_no_later_total(
    history: list[Stint], begun: int, data: st.DataObject
) -> None:
    lines = logged(history, begun)
    places = [at for at, line in enumerate(lines) if line.reading is not None]
    if not places:
        return
    at = data.draw(st.sampled_from(places))
    later = lines[at]
    assert later.reading is not None
    before = totals(lines[:at], begun)[-1].meter if at else begun
    assert before is not None
    noted = LogLine(99, later.on, later.use, reading=data.draw(st.integers(before, later.reading)))
    with_it = totals([*lines[:at], noted, *lines[at:]], begun)
    assert with_it[at + 1 :] == totals(lines, begun)[at:]


@given(stints, st.integers(1, 90_000), st.integers(1, 500))
def test_a_reading_below_the_one_before_is_named(history: list[Stint], begun: int, less: int) -> None:
    lines = logged(history, begun)
    meter = totals(lines, begun)[-1].meter if lines else begun
    assert meter is not None
    wrong = LogLine(77, DAY + timedelta(40), FLIGHT, reading=meter - less)
    with pytest.raises(LogContradiction) as caught:
        totals([*lines, wrong], begun)
    assert (caught.value.number, caught.value.reading, caught.value.before) == (77, meter - less, meter)


@given(rans, rans)
def test_what_was_run_between_two_totals_is_their_difference(before: Ran, since: Ran) -> None:
    assert (before + since) - before == since
    assert before + RAN_NOTHING == before
    assert (before + since).hours == before.hours + since.hours
    assert ran_from(since.columns().values()) == since


@given(
    st.one_of(
        st.builds(lambda low: PriorLife(HoursKnown.EXACT, low, low), st.integers(0, 900)),
        st.builds(
            lambda low, more: PriorLife(HoursKnown.BETWEEN, low, low + more),
            st.integers(0, 900),
            st.integers(1, 50),
        ),
        st.builds(lambda low: PriorLife(HoursKnown.AT_LEAST, low), st.integers(1, 900)),
        st.just(PriorLife(HoursKnown.UNKNOWN)),
    )
)
def test_how_much_is_known_is_kept_through_adding_up(prior: PriorLife) -> None:
    assert span_of(prior).known() == prior
    more = (span_of(prior) + Span(10, 10)).known()
    assert more.low == (prior.low or 0) + 10
    assert more.high == (None if prior.high is None else prior.high + 10)


def test_an_unread_meter_leaves_a_range_and_a_lost_book_no_upper_end() -> None:
    unread = LogLine(1, DAY, FLIGHT, new_reading=0, hours=span_of(PriorLife(HoursKnown.BETWEEN, 5_00, 8_00)))
    lost = LogLine(2, DAY, GROUND, new_reading=0, hours=span_of(PriorLife(HoursKnown.UNKNOWN)))
    first, second = totals([unread, lost], 1_000_00)
    assert (first.ran.flight, first.meter) == (Span(5_00, 8_00), 0)
    assert second.ran.hours == Span(5_00, 8_00, 1)
    assert second.ran.hours.known() == PriorLife(HoursKnown.AT_LEAST, 5_00)


@given(st.integers(0, 60), st.integers(0, 2_000_00))
def test_no_day_has_more_hours_than_it_has_and_a_long_day_is_asked_about(days: int, hours: int) -> None:
    to_on = DAY + timedelta(days)
    assert (absurd(hours, DAY, to_on) is not None) == (hours > (days + 1) * 24_00)
    assert (doubtful(hours, DAY, to_on) is not None) == (hours > (days + 1) * 8_00)


def test_why_a_figure_is_doubted_is_said_with_the_day() -> None:
    assert absurd(24_01, DAY, DAY) == "there are only 24 hours in the days since 2026-03-02"
    assert doubtful(8_01, DAY, DAY) == "that is more than 8 hours a day since 2026-03-02"
