"""What a recall says of where things are, and how much is where."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.recall import (
    RecallAt,
    RecallQuestion,
    RecallWhere,
    alike,
    count_words,
    parts_words,
    recall_counts,
    run_words,
    split_words,
    where_words,
)
from invdb.terms import Measure
from tests.paper.recalled import REPORT, SPRINGS, STRIPPED, VALVE


def test_what_is_fitted_is_counted_first_and_by_engine() -> None:
    assert [count_words(count) for count in REPORT.counts] == [
        "5 off fitted in Linnet One",
        "3 off fitted in Linnet Two",
        "25 off in the stores",
        "2 off at a firm, At Brackwater",
        "2 off out of our hands",
        "4 off scrapped",
    ]


def test_a_batch_says_how_much_is_where_and_a_piece_only_where() -> None:
    assert where_words(SPRINGS) == (
        "4 off Linnet One, cylinder 5, exhaust springs",
        "3 off Linnet Two, cylinder 1, exhaust springs",
        "25 off Stores › A-11-3, reserved for P-0012",
        "2 off At Brackwater",
        "2 off out of our hands",
    )
    assert where_words(VALVE) == ("Linnet One, cylinder 5, exhaust valve",)
    used_up = replace(STRIPPED, at=(RecallAt(RecallWhere.USED_UP, "", 4),))
    assert where_words(used_up) == ("4 off used up",)


def test_a_run_says_the_engine_the_days_and_the_hours() -> None:
    assert [run_words(SPRINGS, run) for run in SPRINGS.runs] == [
        "4 off in Linnet One, 2023-03-01 to now, 44.30 h",
        "4 off in Dabchick One, 2022-11-09 to 2024-02-02, between 10.00 h and 14.00 h",
    ]
    assert run_words(VALVE, VALVE.runs[0]) == "Linnet One, 2023-03-01 to now, 44.30 h"


def test_a_batch_says_what_it_came_from_and_what_came_of_it() -> None:
    assert split_words(SPRINGS) == ("4 off split off into B000021-9",)
    assert split_words(STRIPPED) == ("split off B000017-X",)
    assert split_words(VALVE) == ()


def test_a_question_without_any_bound_is_none() -> None:
    assert not RecallQuestion().bounded
    assert RecallQuestion(firm=3).bounded


@given(
    st.lists(
        st.tuples(
            st.sampled_from([Measure.COUNT, Measure.LENGTH]),
            st.lists(
                st.builds(
                    RecallAt,
                    st.sampled_from(RecallWhere),
                    st.just("somewhere"),
                    st.integers(1, 50),
                    st.sampled_from(["", "Linnet One", "Linnet Two"]),
                ),
                max_size=4,
            ),
        ),
        max_size=5,
    )
)
def test_nothing_is_lost_or_doubled_in_counting(drawn: list[tuple[Measure, list[RecallAt]]]) -> None:
    lines = [replace(SPRINGS, measure=measure, at=tuple(at)) for measure, at in drawn]
    counts = recall_counts(lines)
    for measure in Measure:
        assert sum(count.quantity for count in counts if count.measure is measure) == sum(
            at.quantity for line in lines if line.measure is measure for at in line.at
        )
    order = [list(RecallWhere).index(count.where) for count in counts]
    assert order == sorted(order)
    assert len({(count.where, count.at, count.measure) for count in counts}) == len(counts)


def test_lines_that_differ_only_in_their_tag_go_together() -> None:
    other = replace(VALVE, piece=141, tag="T000141-0", serial="E 42")
    elsewhere = replace(other, piece=142, tag="T000142-9", at=SPRINGS.at[2:3])
    held = replace(other, piece=143, tag="T000143-7", held=())
    assert alike([VALVE, SPRINGS, other, elsewhere, held]) == (
        (VALVE, other),
        (SPRINGS,),
        (elsewhere,),
        (held,),
    )


def test_one_part_is_named_for_all_and_several_are_not() -> None:
    assert parts_words([SPRINGS, STRIPPED]) == "LS0207-C Valve spring, outer"
    assert parts_words([SPRINGS, VALVE]) == parts_words([]) == ""


def test_what_is_fitted_is_the_most_urgent_and_what_is_scrapped_is_gone() -> None:
    assert SPRINGS.urgency == VALVE.urgency < STRIPPED.urgency < replace(STRIPPED, at=()).urgency
    assert STRIPPED.gone and not SPRINGS.gone
    used_up = replace(STRIPPED, at=(*STRIPPED.at, RecallAt(RecallWhere.USED_UP, "used up", 1)))
    assert used_up.gone
    assert not replace(STRIPPED, at=(*STRIPPED.at, RecallAt(RecallWhere.OUT, "out of our hands", 1))).gone
