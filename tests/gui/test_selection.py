"""Choosing rows of a list of any length, against a plain set of places."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from gui.widgets.selection import Selection

COUNT = 12
places = st.integers(0, COUNT - 1)
steps = st.lists(
    st.one_of(
        st.tuples(st.just("set"), places),
        st.tuples(st.just("extend"), places),
        st.tuples(st.just("toggle"), places),
        st.tuples(st.just("clear"), st.just(0)),
    ),
    max_size=12,
)


@given(steps)
def test_it_chooses_as_a_list_does_everywhere(done: list[tuple[str, int]]) -> None:
    selection = Selection()
    kept: set[int] = set()
    run: set[int] = set()
    anchor, cursor = None, 0
    for what, place in done:
        if what == "clear":
            kept, run, anchor, cursor = set(), set(), None, 0
            selection.clear()
        elif what == "set":
            kept, run, anchor, cursor = set(), {place}, place, place
            selection.set(place)
        elif what == "extend":
            anchor = cursor if anchor is None else anchor
            run, cursor = set(range(min(anchor, place), max(anchor, place) + 1)), place
            selection.extend(place)
        else:
            kept, run, anchor, cursor = (kept | run) ^ {place}, set(), None, place
            selection.toggle(place)
        expected = kept | run
        assert selection.cursor == cursor
        assert selection.indices(COUNT) == sorted(expected)
        assert selection.count() == len(expected)
        assert [place for place in range(COUNT) if selection.has(place)] == sorted(expected)


@given(steps, st.integers(0, COUNT))
def test_a_list_that_grew_shorter_chooses_nothing_beyond_its_end(
    done: list[tuple[str, int]], count: int
) -> None:
    selection = Selection()
    for what, place in done:
        getattr(selection, what)(*([] if what == "clear" else [place]))
    selection.clamp(count)
    assert all(place < count for place in selection.indices(COUNT))
    assert selection.cursor < max(count, 1)
