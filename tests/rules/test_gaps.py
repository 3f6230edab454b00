"""What is not known of an engine and of what is in it, before its log and before we had them."""

from __future__ import annotations

from datetime import date

from invdb.rules.gaps import life_gaps, log_gaps, together
from invdb.rules.status import RunTotals, StatusGap
from invdb.terms import HoursKnown, PriorLife
from tests.paper.status import BARE, LINNET, exactly

UNKNOWN = PriorLife(HoursKnown.UNKNOWN)


def test_what_ran_before_us_is_a_gap_where_it_has_no_upper_end() -> None:
    on = date(2019, 3, 2)
    between = PriorLife(HoursKnown.BETWEEN, 100, 200)
    assert life_gaps("rod", "T1", on, between, exactly(40)) == ()
    assert life_gaps("rod", "T1", on, PriorLife(HoursKnown.AT_LEAST, 300_00), UNKNOWN) == (
        StatusGap(
            "rod", None, on, "hours run before it was received: at least 300.00 h, no upper end known", "T1"
        ),
        StatusGap("rod", None, on, "starts run before it was received: not known", "T1"),
    )


def test_the_same_gap_of_several_pieces_is_told_once() -> None:
    on = date(2019, 3, 2)
    gaps = [StatusGap("rod", None, on, "hours"), StatusGap("pin", None, None, "hours")]
    assert together([*gaps, StatusGap("bolt", None, on, "hours")]) == (
        StatusGap("rod; bolt", None, on, "hours"),
        gaps[1],
    )
    many = [StatusGap(f"rod T{each}", None, on, "hours", f"T{each}") for each in range(4)]
    assert together(many) == (StatusGap("4 pieces: T0, T1, T2, T3", None, on, "hours"),)
    assert together(many[:3])[0].of == "rod T0; rod T1; rod T2"


def test_a_lost_log_book_is_a_gap_even_where_a_range_is_known() -> None:
    assert log_gaps(LINNET.totals) == (
        StatusGap(
            "the engine",
            None,
            date(2018, 4, 1),
            "hours run before its log began: between 800.00 h and 950.00 h",
        ),
        StatusGap("the engine", None, date(2018, 4, 1), "starts run before its log began: not known"),
    )
    assert log_gaps(RunTotals(exactly(0), exactly(0), log_begun_on=date(2018, 4, 1))) == ()
    assert [gap.why for gap in log_gaps(BARE.totals)] == ["no log is kept: what it ran is not known"]
