"""Which mods are embodied on a day, and what a change of one would need."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.build import BuiltThing, WantedLine
from invdb.rules.mod_outlook import (
    FreePart,
    LineAt,
    MadeUnfit,
    ModOutlook,
    PartToGet,
    StationOf,
    Way,
    outlook_words,
    use_up,
)
from invdb.rules.mods import ModChange, change_after, mod_state
from invdb.rules.pulling import Option
from invdb.terms import Measure

FIRST = date(2026, 2, 2)
DAYS = [FIRST + timedelta(days=days) for days in range(8)]


@st.composite
def changes(draw: st.DrawFn) -> list[ModChange]:
    """Changes as the acts make them: each on or after the one before, turn and turn about."""
    days = sorted(draw(st.lists(st.sampled_from(DAYS), max_size=5)))
    return [ModChange(day, number, number % 2 == 1, day) for number, day in enumerate(days, start=1)]


@given(changes(), st.sampled_from(DAYS))
def test_a_mod_stands_as_the_last_change_up_to_that_day_left_it(made: list[ModChange], on: date) -> None:
    embodied = False
    for change in made:
        if change.happened_on <= on:
            embodied = change.embodied
    state = mod_state(made, on)
    assert (state is not None and state.embodied) == embodied
    assert mod_state(reversed(made), on) == state


@given(changes(), st.sampled_from(DAYS))
def test_the_change_in_the_way_is_the_first_after_the_day(made: list[ModChange], on: date) -> None:
    later = [change for change in made if change.happened_on > on]
    assert change_after(made, on) == (later[0] if later else None)


def test_an_old_embodiment_recorded_late_holds_from_its_own_day() -> None:
    recorded = ModChange(DAYS[5], 1, True, DAYS[1])
    assert mod_state([recorded], DAYS[0]) is None
    assert mod_state([recorded], DAYS[1]) == recorded
    assert change_after([recorded], DAYS[3]) == recorded, "its entry came first"
    assert change_after([recorded], DAYS[5]) is None


def test_an_embodiment_of_an_unknown_day_always_held() -> None:
    recorded = ModChange(DAYS[5], 1, True, None)
    assert mod_state([recorded], DAYS[0]) == recorded


OPTIONS = st.lists(
    st.dictionaries(st.integers(1, 3), st.integers(1, 2), min_size=1, max_size=2).map(
        lambda members: Option(tuple(members.items()), "")
    ),
    min_size=1,
    max_size=3,
)


@given(OPTIONS, st.integers(0, 5), st.dictionaries(st.integers(1, 3), st.integers(0, 6)))
def test_no_more_is_used_than_is_wanted_or_there(
    options: list[Option], wanted: int, amounts: dict[int, int]
) -> None:
    units, left = use_up(options, wanted, amounts)
    assert 0 <= units <= wanted
    assert all(0 <= left[part] <= amounts.get(part, 0) for part in left)
    if units < wanted:
        assert not any(
            all(left.get(part, 0) >= each for part, each in option.members) for option in options
        ), "what could fill one more was left lying"
    if units == 0:
        assert {part: n for part, n in left.items() if n} == {part: n for part, n in amounts.items() if n}


def test_a_set_of_two_is_used_by_whole_sets() -> None:
    one, pair = Option(((1, 1),), ""), Option(((2, 1), (3, 2)), "leaflet 31")
    assert use_up((one, pair), 3, {1: 1, 2: 5, 3: 3}) == (2, {1: 0, 2: 4, 3: 1})


AT = StationOf(11, "cylinder", "1", "rocker")
NEW = WantedLine(6, 2, "RK2", "Rocker, stronger", 1, Measure.COUNT, False)
OLD = WantedLine(5, 1, "RK1", "Rocker", 1, Measure.COUNT, False)


def get(wanted: int, *ways: Way) -> PartToGet:
    return PartToGet(2, "RK2", "Rocker, stronger", Measure.COUNT, False, wanted, (AT,), ways)


def test_a_part_is_short_of_what_neither_it_nor_a_stand_in_fills() -> None:
    own = Way((FreePart(2, "RK2", "Rocker, stronger", 1, 2),), "")
    pair = Way((FreePart(3, "RK3", "Rocker half", 2, 5),), "leaflet 31")
    assert (get(7, own).short, get(7, own, pair).short, get(4, own, pair).short) == (5, 3, 0)
    assert pair.units == 2


def test_a_preview_reads_line_by_line() -> None:
    fitted = BuiltThing(4, None, "T4", "S 9", 1, "RK1", "Rocker", 1, Measure.COUNT, FIRST, 3)
    ways = (
        Way((FreePart(2, "RK2", "Rocker, stronger", 1, 0),), ""),
        Way((FreePart(3, "RK3", "Rocker half", 2, 3),), "leaflet 31"),
    )
    outlook = ModOutlook(
        1,
        "Linnet One",
        7,
        "PN 14",
        "Stronger rockers",
        True,
        FIRST,
        (LineAt(AT, NEW),),
        (LineAt(AT, OLD),),
        (get(2, *ways),),
        (MadeUnfit(AT, fitted, None, "its kit line: not with mod PN 14 embodied"),),
    )
    assert outlook_words(outlook) == (
        "Embodying mod PN 14 (Stronger rockers) on Linnet One, as of 2026-02-02:",
        "  will be wanted: cylinder 1, rocker: 1 off RK2 Rocker, stronger",
        "  will no longer be wanted: cylinder 1, rocker: 1 off RK1 Rocker",
        "  to get: 2 off RK2 Rocker, stronger; 1 off short",
        "    0 off RK2 Rocker, stronger free",
        "    3 off RK3 Rocker half free (2 for one), standing in by leaflet 31",
        "  becomes unfit: cylinder 1, rocker: T4 RK1 Rocker, serial S 9"
        " (its kit line: not with mod PN 14 embodied)",
    )


def test_a_mod_that_changes_nothing_says_so() -> None:
    outlook = ModOutlook(1, "Linnet One", 7, "PN 15", "", False, FIRST, (), (), (), ())
    assert outlook_words(outlook) == (
        "Removing mod PN 15 on Linnet One, as of 2026-02-02:",
        "  changes no kit line, and makes nothing unfit that is fitted",
    )
