"""Rows of unlike heights in a window that shows some of them."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from gui.widgets.row_stack import RowStack

heights = st.lists(st.integers(1, 200), min_size=1, max_size=40)


def test_the_rows_in_sight_are_those_of_which_anything_is_seen() -> None:
    stack = RowStack([30, 10, 20, 40], 35)
    stack.show(30)
    assert list(stack.in_sight()) == [1, 2, 3]
    assert stack.top_of(1) == -5
    assert (stack.at(0), stack.at(5), stack.at(25)) == (1, 2, 3)
    assert stack.bar() == (0.35, 0.65)


def test_where_all_is_seen_nothing_scrolls_and_beneath_the_last_is_no_row() -> None:
    stack = RowStack([30, 10])
    stack.show(100)
    stack.scroll_to(50)
    assert stack.offset == 0 and stack.bar() == (0.0, 1.0)
    assert stack.at(45) is None
    assert RowStack().at(0) is None and not list(RowStack().in_sight())


@given(heights, st.integers(1, 500), st.data())
def test_a_row_asked_for_is_seen_whole_if_there_is_room(
    rows: list[int], seen: int, data: st.DataObject
) -> None:
    stack = RowStack(rows)
    stack.show(seen)
    wanted = data.draw(st.integers(0, len(rows) - 1))
    stack.see(wanted)
    assert wanted in stack.in_sight()
    if stack.height_of(wanted) <= seen:
        assert stack.top_of(wanted) >= 0
        assert stack.top_of(wanted) + stack.height_of(wanted) <= seen


@given(heights, st.integers(1, 500), st.integers(-1000, 10_000))
def test_however_far_one_scrolls_no_room_is_left_beneath(rows: list[int], seen: int, offset: int) -> None:
    stack = RowStack(rows)
    stack.show(seen)
    stack.scroll_to(offset)
    first, last = stack.bar()
    assert 0 <= first <= last <= 1
    covered = sum(stack.height_of(at) for at in stack.in_sight())
    assert covered >= min(seen, stack.height)


@given(heights, st.integers(1, 500), st.sampled_from([-1, 1]))
def test_page_by_page_one_comes_to_the_end(rows: list[int], seen: int, way: int) -> None:
    stack = RowStack(rows)
    stack.show(seen)
    here = 0 if way > 0 else len(rows) - 1
    for _ in range(1 + sum(rows) // seen + 1):
        following = stack.page(here, way)
        assert (following - here) * way >= 0
        here = following
    assert 0 <= here < len(rows)
