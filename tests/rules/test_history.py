"""Where a history is missing, and what may honestly be said of a life before we had the piece."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.history import Gap, PaperLine, Stretch, gaps, span_words
from invdb.rules.life import prior_hours_words, prior_starts_words
from invdb.terms import NO_PRIOR_LIFE, PRIOR_LIFE_UNKNOWN, HoursKnown, Origin, PaperKind, PlaceKind, PriorLife

RECEIVED = date(2019, 3, 2)
IN_STORES = Stretch(RECEIVED, None, "C-04-1", PlaceKind.BIN)


def paper(dated_on: date | None, kind: PaperKind = PaperKind.WORK_REPORT) -> PaperLine:
    return PaperLine(kind, "R-1", dated_on)


def flown(from_on: date | None, to_on: date | None) -> Stretch:
    return Stretch(from_on, to_on, "Linnet PL-0102, cylinder 1", PlaceKind.ENGINE)


def dates(found: tuple[Gap, ...]) -> list[tuple[date | None, date | None]]:
    return [(gap.from_on, gap.to_on) for gap in found]


def test_six_years_between_an_engine_and_a_work_report_are_a_gap_with_its_dates() -> None:
    (gap,) = gaps(
        Origin.SALVAGED,
        date(1964, 9, 1),
        made_on=date(1934, 5, 1),
        papers=[paper(date(1964, 5, 1))],
        prior_periods=[flown(date(1934, 5, 1), date(1958, 3, 1))],
    )
    assert (gap.from_on, gap.to_on) == (date(1958, 3, 1), date(1964, 5, 1))
    assert "6 years 2 months" in gap.why


def test_a_history_without_holes_has_no_gap() -> None:
    assert (
        gaps(
            Origin.SALVAGED,
            RECEIVED,
            made_on=date(1934, 1, 1),
            prior_hours=PriorLife(HoursKnown.EXACT, 31250, 31250),
            prior_starts=PriorLife(HoursKnown.BETWEEN, 40, 60),
            prior_periods=[flown(date(1934, 1, 1), date(2018, 12, 1))],
            stays=[IN_STORES],
        )
        == ()
    )


def test_a_piece_of_which_nothing_is_on_file_says_so() -> None:
    (gap,) = gaps(Origin.UNKNOWN, RECEIVED)
    assert gap == Gap(None, RECEIVED, "nothing on file says where it was before it was received")


def test_a_first_paper_says_nothing_of_the_time_before_it() -> None:
    found = gaps(Origin.SALVAGED, RECEIVED, papers=[paper(date(2019, 1, 1))])
    assert dates(found) == [(None, date(2019, 1, 1))]


def test_old_stock_with_its_makers_certificate_begins_there_but_its_keeping_is_not_known() -> None:
    certificate = paper(date(1941, 2, 1), PaperKind.MAKERS_CERTIFICATE)
    (gap,) = gaps(Origin.NEW_OLD_STOCK, RECEIVED, papers=[certificate], prior_hours=NO_PRIOR_LIFE)
    assert (gap.from_on, gap.to_on) == (date(1941, 2, 1), RECEIVED)
    assert "how it was kept is not known" in gap.why


def test_new_stock_with_a_recent_certificate_has_no_gap_and_without_papers_has_one() -> None:
    certificate = paper(date(2018, 12, 1), PaperKind.RELEASE_CERTIFICATE)
    assert gaps(Origin.NEW, RECEIVED, papers=[certificate]) == ()
    assert dates(gaps(Origin.NEW, RECEIVED)) == [(None, RECEIVED)]


def test_what_was_made_here_was_never_out_of_sight() -> None:
    assert gaps(Origin.MADE_HERE, RECEIVED, prior_hours=NO_PRIOR_LIFE, stays=[IN_STORES]) == ()


@pytest.mark.parametrize(
    "kind",
    [
        PaperKind.DRAWING,
        PaperKind.AGREEMENT,
        PaperKind.PUBLISHED_DATA,
        PaperKind.CALIBRATION_CERTIFICATE,
    ],
)
def test_a_paper_about_the_design_is_no_witness_of_the_piece(kind: PaperKind) -> None:
    assert dates(gaps(Origin.UNKNOWN, RECEIVED, papers=[paper(date(2019, 1, 1), kind)])) == [(None, RECEIVED)]


def test_papers_undated_or_of_after_receipt_fill_no_gap() -> None:
    papers = [paper(None), paper(date(2021, 1, 1))]
    assert dates(gaps(Origin.UNKNOWN, RECEIVED, papers=papers)) == [(None, RECEIVED)]


def test_hours_that_are_not_known_or_have_no_upper_end_are_gaps() -> None:
    made = date(2018, 6, 1)
    hours, starts = gaps(
        Origin.SALVAGED,
        RECEIVED,
        made_on=made,
        prior_hours=PriorLife(HoursKnown.AT_LEAST, 30000),
        prior_starts=PRIOR_LIFE_UNKNOWN,
    )
    assert hours == Gap(
        made, RECEIVED, "hours run before it was received are at least 300.00 h; no upper end is known"
    )
    assert starts == Gap(made, RECEIVED, "starts run before it was received are not known")


def test_time_out_of_our_hands_is_a_gap_and_time_at_a_firm_is_not() -> None:
    left, back = date(2020, 1, 1), date(2020, 6, 1)
    stays = [
        Stretch(RECEIVED, left, "C-04-1", PlaceKind.BIN),
        Stretch(left, back, "lent away", PlaceKind.OUTSIDE),
        Stretch(back, date(2020, 9, 1), "Brackwell Plating", PlaceKind.FIRM),
        Stretch(date(2020, 9, 1), None, "C-04-1", PlaceKind.BIN),
    ]
    assert gaps(Origin.MADE_HERE, RECEIVED, stays=stays) == (Gap(left, back, "it was out of our hands"),)
    away = gaps(Origin.MADE_HERE, RECEIVED, stays=[stays[0], Stretch(left, None, "sold", PlaceKind.OUTSIDE)])
    assert away == (Gap(left, None, "it was out of our hands"),)


def test_days_at_no_recorded_place_are_a_gap() -> None:
    late = Stretch(date(2019, 3, 9), None, "C-04-1", PlaceKind.BIN)
    assert gaps(Origin.MADE_HERE, RECEIVED, stays=[late]) == (
        Gap(RECEIVED, date(2019, 3, 9), "no place is recorded"),
    )


def test_what_came_new_with_its_certificate_has_no_history_to_miss() -> None:
    undated = PaperLine(PaperKind.RELEASE_CERTIFICATE, "RC 77")
    assert gaps(Origin.NEW, RECEIVED, papers=[undated]) == ()
    (gap,) = gaps(Origin.NEW, RECEIVED)
    assert gap.to_on == RECEIVED
    assert gaps(Origin.NEW_OLD_STOCK, RECEIVED, papers=[undated]) != ()


@pytest.mark.parametrize(
    ("prior", "hours", "starts"),
    [
        (NO_PRIOR_LIFE, "0.00 h", "0 starts"),
        (PriorLife(HoursKnown.EXACT, 31250, 31250), "312.50 h", "31250 starts"),
        (PriorLife(HoursKnown.EXACT, 1, 1), "0.01 h", "1 start"),
        (
            PriorLife(HoursKnown.BETWEEN, 0, 500),
            "between 0.00 h and 5.00 h",
            "between 0 starts and 500 starts",
        ),
        (
            PriorLife(HoursKnown.AT_LEAST, 30000),
            "at least 300.00 h, no upper end known",
            "at least 30000 starts, no upper end known",
        ),
        (PRIOR_LIFE_UNKNOWN, "not known", "not known"),
    ],
)
def test_a_prior_life_is_told_no_better_than_it_is_known(prior: PriorLife, hours: str, starts: str) -> None:
    assert (prior_hours_words(prior), prior_starts_words(prior)) == (hours, starts)


@pytest.mark.parametrize(
    ("from_on", "to_on", "words"),
    [
        (date(1958, 3, 1), date(1964, 5, 1), "6 years 2 months"),
        (date(1958, 3, 1), date(1964, 3, 1), "6 years"),
        (date(1958, 3, 2), date(1964, 3, 1), "5 years 11 months"),
        (date(2019, 1, 31), date(2019, 2, 28), "28 days"),
        (date(2019, 1, 1), date(2019, 1, 2), "1 day"),
        (date(2019, 1, 1), date(2020, 2, 1), "1 year 1 month"),
    ],
)
def test_a_span_is_told_in_years_and_months(from_on: date, to_on: date, words: str) -> None:
    assert span_words(from_on, to_on) == words


days = st.dates(date(1930, 1, 1), RECEIVED)


@given(
    st.dates(date(1928, 1, 1), RECEIVED),
    st.lists(days, max_size=6),
    st.lists(st.tuples(days, days).map(sorted), max_size=4),
    st.integers(0, 3000),
)
def test_before_receipt_every_day_is_near_a_paper_or_in_a_period_or_in_a_gap(
    made_on: date, dated: list[date], periods: list[list[date]], apart: int
) -> None:
    found = gaps(
        Origin.UNKNOWN,
        RECEIVED,
        made_on=made_on,
        papers=[paper(day) for day in dated],
        prior_periods=[flown(begins, ends) for begins, ends in periods],
        days_apart_max=apart,
    )
    spans = [*((gap.from_on, gap.to_on) for gap in found), *((b, e) for b, e in periods)]
    known = sorted({made_on, RECEIVED, *dated, *(day for period in periods for day in period)})
    for begins, ends in zip(known, known[1:], strict=False):
        if begins < made_on:
            continue
        covered = any(b is not None and e is not None and b <= begins and ends <= e for b, e in spans)
        assert covered or (ends - begins).days <= apart
    for gap in found:
        assert gap.from_on is not None and gap.to_on is not None
        assert gap.to_on - gap.from_on > timedelta(days=apart)
        assert not any(gap.from_on < day < gap.to_on for day in dated)
