"""The count-down of a pressure test goes by its own clock, wherever one looks meanwhile."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gui.widgets.count_down import COUNTED, TIME_UP, Count, CountDown, clock_words
from tests.gui.desk import Desk

seconds = st.integers(1, 7200)
moments = st.floats(0, 20_000)


@given(seconds, moments, moments)
def test_what_is_held_never_shrinks_and_never_passes_what_is_asked(
    asked: int, one: float, two: float
) -> None:
    earlier, later = sorted((one, two))
    count = Count(asked).started(0.0)
    assert 0 <= count.held(earlier) <= count.held(later) <= asked
    assert count.up(later) == (later >= asked)


@given(seconds, moments)
def test_stopped_it_stands_still(asked: int, moment: float) -> None:
    count = Count(asked).started(0.0).stopped(moment)
    assert not count.running
    assert count.held(moment + 1000) == min(moment, asked)


def test_begun_anew_what_was_held_before_does_not_count() -> None:
    count = Count(1200).started(0.0).stopped(600.0).started(700.0)
    assert count.held(800.0) == 100.0


@pytest.mark.parametrize(
    ("left", "words"), [(0, "0:00"), (59, "0:59"), (1200, "20:00"), (3600, "1:00:00"), (3725, "1:02:05")]
)
def test_a_clock_shows_what_is_left(left: int, words: str) -> None:
    assert clock_words(left) == words


def test_a_begun_second_is_counted_whole() -> None:
    count = Count(1200).started(0.0)
    assert count.remaining_words(0.0) == "20:00"
    assert count.remaining_words(0.4) == "20:00"
    assert count.remaining_words(1.0) == "19:59"
    assert count.remaining_words(1199.5) == "0:01"
    assert count.remaining_words(1300.0) == "0:00"


class Timer:
    """A count-down on the desk with a clock in the hands of the test."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.now = 0.0
        self.held: list[int] = []
        self.events: list[str] = []
        self.down = CountDown(desk.root, desk.theme, 1200, on_held=self.held.append, clock=lambda: self.now)
        self.down.pack()
        self.down.bind(TIME_UP, lambda _event: self.events.append("up"), add="+")
        self.down.bind(COUNTED, lambda _event: self.events.append(self.down.remaining()), add="+")
        desk.root.update()

    def button(self) -> str:
        return str(self.down.button.cget("text"))

    def shown(self) -> str:
        return str(self.down.left.cget("text"))


def test_it_counts_while_nobody_looks_and_says_when_the_time_is_up(desk: Desk) -> None:
    timer = Timer(desk)
    assert (timer.shown(), timer.button()) == ("20:00", "Start")
    timer.down.button.invoke()
    assert timer.button() == "Stop"
    timer.down.pack_forget()
    timer.now = 450.0
    desk.until(lambda: timer.shown() == "12:30")
    timer.now = 1200.2
    desk.until(lambda: timer.held)
    assert timer.held == [1200]
    assert timer.events.count("up") == 1
    assert "12:30" in timer.events
    assert (timer.shown(), timer.button()) == ("0:00", "Again")


def test_stopped_early_it_tells_how_long_it_was_held(desk: Desk) -> None:
    timer = Timer(desk)
    timer.down.button.invoke()
    timer.now = 754.9
    timer.down.button.invoke()
    assert timer.held == [754]
    assert timer.button() == "Start"
    assert "up" not in timer.events


def test_it_may_be_taken_away_while_it_counts(desk: Desk) -> None:
    timer = Timer(desk)
    timer.down.button.invoke()
    timer.down.destroy()
    timer.now = 5000.0
    desk.settle()
    assert timer.held == []
