"""A life stands against its limits by its worst end, and what runs out first governs."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.calendar import months_after, months_between
from invdb.rules.due import DueSoon
from invdb.rules.life import LifeVerdict
from invdb.rules.life_limits import (
    Limit,
    LimitLine,
    Lived,
    Serving,
    bar_words,
    first_to_run_out,
    judge,
    left_words,
    limit_lines,
    limit_words,
    used_words,
)
from invdb.rules.running import Ran, Span
from invdb.terms import LifeMeasure, LifeSince, RunningCounted

ON = date(2026, 3, 2)
LINNET, DABCHICK = 1, 2
STIFFENED = 7
IN_LINNET = Serving(LINNET)
IN_DABCHICK = Serving(DABCHICK)
HOURS, STARTS, MONTHS = LifeMeasure
NO_LIMIT, WITHIN, DUE_SOON, EXPIRED, UNKNOWN = LifeVerdict


def exactly(amount: int) -> Span:
    return Span(amount, amount)


def flown(hours: int, ground: int = 0, starts: int = 0) -> Ran:
    return Ran(exactly(hours), exactly(ground), exactly(starts))


def lived(
    *, linnet: Ran | None = None, dabchick: Ran | None = None, before: Ran | None = None, **days: date
) -> Lived:
    ran = {LINNET: linnet, DABCHICK: dabchick, None: before}
    known = {engine_type: each for engine_type, each in ran.items() if each is not None}
    return Lived(known, known, **days)


def line_of(life: Lived, limit: Limit, serving: Serving | None = IN_LINNET) -> LimitLine:
    (line,) = limit_lines(life, [limit], ON, serving, DueSoon())
    return line


@pytest.mark.parametrize(
    ("used", "verdict", "worst", "best"),
    [
        (exactly(500_00), WITHIN, 100_00, 100_00),
        (exactly(575_00), DUE_SOON, 25_00, 25_00),
        (exactly(574_99), WITHIN, 25_01, 25_01),
        (exactly(600_00), EXPIRED, 0, 0),
        (Span(100_00, 599_99), DUE_SOON, 1, 500_00),
        (Span(100_00, 600_00), EXPIRED, 0, 500_00),
        (Span(300_00, 300_00, 1), UNKNOWN, None, 300_00),
        (Span(601_00, 601_00, 1), EXPIRED, -1_00, -1_00),
    ],
)
def test_the_worst_end_of_what_was_run_decides(
    used: Span, verdict: LifeVerdict, worst: int | None, best: int
) -> None:
    line = line_of(lived(before=Ran(used)), Limit(HOURS, 600_00))
    assert (line.verdict, line.left_worst, line.left_best) == (verdict, worst, best)


def test_a_limit_by_flight_alone_does_not_count_ground_running() -> None:
    life = lived(linnet=flown(90_00, ground=30_00, starts=200))
    everything = line_of(life, Limit(HOURS, 100_00))
    in_flight = line_of(life, Limit(HOURS, 100_00, RunningCounted.FLIGHT))
    starts = line_of(life, Limit(STARTS, 240))
    assert (everything.verdict, in_flight.left_worst, starts.left_worst) == (EXPIRED, 10_00, 40)
    assert starts.verdict is DUE_SOON
    assert limit_words(in_flight.limit) == "100.00 h since new, flight only"
    assert (used_words(starts), left_words(starts)) == ("200 starts", "40 starts left")


def test_an_overhaul_begins_the_count_anew_for_limits_since_overhaul_alone() -> None:
    life = Lived({LINNET: flown(900_00)}, {LINNET: flown(20_00)})
    since_new, since_overhaul = judge(
        life, [Limit(HOURS, 800_00), Limit(HOURS, 400_00, since=LifeSince.OVERHAUL)], ON, IN_LINNET
    ).lines
    assert since_new.verdict is EXPIRED
    assert (since_overhaul.verdict, since_overhaul.left_worst) == (WITHIN, 380_00)


def test_the_smallest_limit_of_the_types_served_holds_for_the_whole_life() -> None:
    limits = [Limit(HOURS, 600_00, engine_type=LINNET), Limit(HOURS, 800_00, engine_type=DABCHICK)]
    never_in_a_linnet = judge(lived(dabchick=flown(700_00)), limits, ON, IN_DABCHICK)
    assert [line.limit.amount for line in never_in_a_linnet.lines] == [800_00]
    assert never_in_a_linnet.verdict is WITHIN
    asked_for_one = judge(lived(dabchick=flown(700_00)), limits, ON, IN_LINNET)
    assert asked_for_one.verdict is EXPIRED
    once_in_a_linnet = judge(lived(dabchick=flown(690_00), linnet=flown(10_00)), limits, ON, IN_DABCHICK)
    assert once_in_a_linnet.verdict is EXPIRED
    assert once_in_a_linnet.governing is not None
    assert once_in_a_linnet.governing.limit.amount == 600_00


def test_what_ran_before_it_came_may_have_run_in_any_type() -> None:
    limits = [Limit(HOURS, 600_00, engine_type=LINNET), Limit(HOURS, 800_00, engine_type=DABCHICK)]
    judged = judge(lived(dabchick=flown(650_00), before=flown(1)), limits, ON, IN_DABCHICK)
    assert judged.verdict is EXPIRED
    new = judge(lived(dabchick=flown(650_00), before=flown(0)), limits, ON, IN_DABCHICK)
    assert new.verdict is WITHIN


def test_a_proration_adds_up_what_each_type_used_of_its_own_limit() -> None:
    limits = [
        Limit(HOURS, 600_00, engine_type=LINNET, prorated=True),
        Limit(HOURS, 900_00, engine_type=DABCHICK, prorated=True),
    ]
    life = lived(linnet=flown(300_00), dabchick=flown(449_99))
    (in_linnet,) = limit_lines(life, limits, ON, IN_LINNET)
    assert in_linnet.share == Fraction(1, 2) + Fraction(449_99, 900_00)
    assert (in_linnet.verdict, in_linnet.left_worst) == (WITHIN, 0)
    (in_dabchick,) = limit_lines(life, limits, ON, IN_DABCHICK)
    assert (in_dabchick.limit.amount, in_dabchick.left_worst) == (900_00, 1)
    spent = lived(linnet=flown(300_00), dabchick=flown(450_00))
    assert limit_lines(spent, limits, ON, IN_LINNET)[0].verdict is EXPIRED
    assert judge(spent, [Limit(HOURS, 700_00), *limits], ON, IN_LINNET).lines[0].verdict is EXPIRED


def test_a_limit_for_a_mod_holds_where_the_engine_has_it() -> None:
    plain = Limit(HOURS, 400_00, engine_type=LINNET, mods_barred=frozenset({STIFFENED}))
    stiffened = Limit(HOURS, 800_00, engine_type=LINNET, mods_required=frozenset({STIFFENED}))
    life = lived(linnet=flown(500_00))
    without = judge(life, [plain, stiffened], ON, IN_LINNET)
    with_it = judge(life, [plain, stiffened], ON, Serving(LINNET, frozenset({STIFFENED})))
    assert (without.verdict, with_it.verdict) == (EXPIRED, WITHIN)
    on_the_bench = judge(life, [plain, stiffened], ON, None)
    assert (on_the_bench.verdict, on_the_bench.governing) == (NO_LIMIT, None)
    assert [line.verdict for line in on_the_bench.lines] == [EXPIRED, WITHIN]
    assert all(line.depends for line in on_the_bench.lines)
    in_another_type = judge(life, [plain, stiffened], ON, IN_DABCHICK)
    assert in_another_type.verdict is EXPIRED


@pytest.mark.parametrize(
    ("made_on", "verdict", "left", "said"),
    [
        (date(2016, 3, 2), EXPIRED, 0, "ended 2026-03-02"),
        (date(2016, 3, 3), DUE_SOON, 0, "until 2026-03-03"),
        (date(2016, 6, 2), DUE_SOON, 3, "until 2026-06-02"),
        (date(2016, 6, 3), WITHIN, 3, "until 2026-06-03"),
        (None, UNKNOWN, None, "the day from which it counts is not known"),
    ],
)
def test_the_calendar_counts_from_the_day_it_was_made(
    made_on: date | None, verdict: LifeVerdict, left: int | None, said: str
) -> None:
    line = line_of(Lived(made_on=made_on), Limit(MONTHS, 120))
    assert (line.verdict, line.left_worst, left_words(line)) == (verdict, left, said)


def test_a_calendar_limit_since_overhaul_counts_from_the_overhaul() -> None:
    life = Lived(made_on=date(1936, 5, 1), overhauled_on=date(2020, 2, 29))
    line = line_of(life, Limit(MONTHS, 72, since=LifeSince.OVERHAUL))
    assert (line.due_on, line.verdict) == (date(2026, 2, 28), EXPIRED)


def test_what_runs_out_first_governs() -> None:
    life = lived(linnet=flown(400_00, starts=900), made_on=date(2020, 1, 1))
    by_hours, by_starts, by_months = Limit(HOURS, 600_00), Limit(STARTS, 1000), Limit(MONTHS, 240)
    lines = limit_lines(life, [by_hours, by_starts, by_months], ON, IN_LINNET, DueSoon())
    governing = first_to_run_out(lines)
    assert governing is not None and governing.limit is by_starts
    dates = {by_hours: date(2027, 1, 1), by_starts: date(2028, 1, 1)}
    governing = first_to_run_out(lines, dates)
    assert governing is not None and governing.limit is by_hours
    governing = first_to_run_out(lines, {})
    assert governing is not None and governing.limit is by_months
    tighter = limit_lines(life, [by_hours, Limit(HOURS, 450_00)], ON, IN_LINNET)
    governing = first_to_run_out(tighter)
    assert governing is not None and governing.limit.amount == 450_00


def test_an_expired_life_bars_and_one_not_known_bars_from_flight() -> None:
    expired = judge(lived(linnet=flown(601_00)), [Limit(HOURS, 600_00)], ON, IN_LINNET)
    said = "life expired: 601.00 h of 600.00 h since new"
    assert (bar_words(expired, True), bar_words(expired, False)) == (said, said)
    unknown = judge(lived(before=Ran(Span(0, 0, 1))), [Limit(HOURS, 600_00)], ON, IN_LINNET)
    assert bar_words(unknown, True) == "life used is not known against 600.00 h since new"
    assert bar_words(unknown, False) is None
    assert bar_words(judge(Lived(), [], ON, IN_LINNET), True) is None


spans = st.builds(
    lambda low, more, open_: Span(low, low + more, open_),
    st.integers(0, 900_00),
    st.integers(0, 300_00),
    st.integers(0, 1),
)
rans = st.builds(Ran, spans, spans, spans)
lives = st.builds(
    lambda ran: Lived(ran, ran), st.dictionaries(st.sampled_from([LINNET, DABCHICK, None]), rans)
)
limits_by_running = st.builds(
    Limit,
    st.sampled_from([HOURS, STARTS]),
    st.integers(1, 1000_00),
    st.sampled_from(RunningCounted),
    engine_type=st.sampled_from([LINNET, DABCHICK, None]),
    prorated=st.booleans(),
)
servings = st.sampled_from([None, IN_LINNET, IN_DABCHICK])


@given(lives, st.lists(limits_by_running, max_size=5), servings)
def test_the_verdict_is_that_of_the_worst_line_and_the_governing_line_has_it(
    life: Lived, limits: list[Limit], serving: Serving | None
) -> None:
    judged = judge(life, limits, ON, serving, DueSoon())
    deciding = [line for line in judged.lines if not line.depends]
    for verdict in (EXPIRED, UNKNOWN):
        if any(line.verdict is verdict for line in deciding):
            assert judged.verdict is verdict
            assert judged.governing is not None and judged.governing.verdict is verdict
            break
    else:
        assert (judged.governing is None) == (not deciding)
    for line in judged.lines:
        assert line.left_best is not None
        if line.left_worst is not None:
            assert line.left_worst <= line.left_best
        assert (line.verdict is UNKNOWN) == (line.left_worst is None)


@given(lives, st.lists(limits_by_running, min_size=1, max_size=5), servings, st.integers(1, 50_00))
def test_running_more_never_leaves_more(
    life: Lived, limits: list[Limit], serving: Serving | None, more: int
) -> None:
    ran = dict(life.since_new)
    where = serving.engine_type if serving is not None else LINNET
    ran[where] = ran.get(where, Ran()) + flown(more, starts=1)
    later = {line.limit: line for line in limit_lines(Lived(ran, ran), limits, ON, serving)}
    for line in limit_lines(life, limits, ON, serving):
        after = later.get(line.limit)
        if after is None or line.depends or line.limit.prorated:
            continue
        assert after.left_best is not None and line.left_best is not None
        assert after.left_best <= line.left_best
        if line.verdict is EXPIRED:
            assert after.verdict is EXPIRED


@given(
    st.integers(1, 900_00),
    st.integers(1, 900_00),
    st.integers(0, 900_00),
    st.integers(0, 900_00),
)
def test_a_proration_never_asks_more_than_the_smallest_limit_would(
    linnet: int, dabchick: int, in_linnet: int, in_dabchick: int
) -> None:
    life = lived(linnet=flown(in_linnet), dabchick=flown(in_dabchick))
    prorated = [
        Limit(HOURS, linnet, engine_type=LINNET, prorated=True),
        Limit(HOURS, dabchick, engine_type=DABCHICK, prorated=True),
    ]
    strict = [Limit(HOURS, linnet, engine_type=LINNET), Limit(HOURS, dabchick, engine_type=DABCHICK)]
    asked = judge(life, prorated, ON, IN_LINNET)
    if asked.verdict is EXPIRED and in_linnet and in_dabchick:
        assert judge(life, strict, ON, IN_LINNET).verdict is EXPIRED
    assert (asked.verdict is EXPIRED) == (
        in_linnet * dabchick + in_dabchick * linnet >= linnet * dabchick
        if in_dabchick
        else in_linnet >= linnet
    )


days = st.dates(date(1920, 1, 1), date(2080, 12, 31))


@given(days, st.integers(0, 1200))
def test_whole_months_are_counted_as_they_are_added(day: date, months: int) -> None:
    later = months_after(day, months)
    assert months_between(day, later) == months
    assert months_between(day, later - timedelta(days=1)) == months - 1
    assert later.day == day.day or (later.day < day.day and (later + timedelta(days=1)).day == 1)
