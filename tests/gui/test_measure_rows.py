"""Boxes of an inspection, filled in by the keyboard alone, each with its verdict as it is typed."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pytest

from gui.shown import Choice, Field, FieldKind
from gui.shown_inspection import AskedTest, DoneTest, Figure, Judgement, Measures, Taken
from gui.views.inspection_lines import METHODS, PASSED, judge_box, judge_done, judge_figures
from gui.widgets.bench_test_rows import BenchTestRows
from gui.widgets.measure_rows import MeasureRows
from tests.gui.desk import Desk
from tests.gui.test_inspection_lines import BORE, CRACKS, WATER

TOOLS = (Choice(3, "M-03 bore gauge"), Choice(4, "B-01 balance"))


def instrument_told(chosen: object) -> Judgement:
    return Judgement("", "calibrated 2026-01-01") if chosen else Judgement("")


BOXES = Measures(
    captions=("new 105.00 to 105.03 mm",),
    unit="mm",
    points=BORE.points,
    directions=BORE.directions,
    several=False,
    instruments=TOOLS,
    instrument_told=instrument_told,
    judge=lambda text: judge_box(text, BORE),
    judge_all=lambda taken: judge_figures(taken, BORE),
)


def bore(desk: Desk, asks: Measures = BOXES, start: Taken | None = None) -> MeasureRows:
    rows = MeasureRows(desk.root, desk.theme, Field("bore", "bore", FieldKind.MEASURES, asks=asks))
    rows.pack(fill="x")
    rows.set(start)
    desk.root.update()
    rows.focus_field()
    desk.root.update()
    return rows


def test_figures_are_typed_one_after_the_other_with_enter(desk: Desk) -> None:
    rows = bore(desk)
    for figure in ("105.01", "105.05", "105.02", "4.134 in"):
        desk.type(figure)
        desk.press("<Return>")
    assert rows.get().figures == (
        Figure("top", "along", "105.01"),
        Figure("top", "across", "105.05"),
        Figure("bottom", "along", "105.02"),
        Figure("bottom", "across", "4.134 in"),
    )


def test_each_box_has_its_mark_as_it_is_typed_and_the_line_its_words(desk: Desk) -> None:
    rows = bore(desk)
    desk.type("105.0")
    assert rows.mark_of("top", "along").sign == "within new limits"
    desk.type("5")
    assert rows.mark_of("top", "along").sign == "within worn limits"
    assert "worn 0.02 mm over the upper new limit" in rows.verdict.judgement.words
    desk.press("<BackSpace>", "<BackSpace>")
    desk.type("25")
    assert rows.mark_of("top", "along").sign == "out of limits"
    assert rows.verdict.cget("text").startswith("✕ out of limits: top along 0.1 mm over")


def test_what_is_asked_about_is_asked_once(desk: Desk) -> None:
    rows = bore(desk)
    desk.type("5.25")
    assert str(rows.verdict.cget("text")).casefold().count("is it so") <= 1
    assert rows.verdict.cget("text").startswith("? top along:")
    assert rows.verdict.cget("text").count("?") == 2, "its mark, and the question"


def test_up_and_down_go_along_a_column(desk: Desk) -> None:
    rows = bore(desk)
    desk.press("<Return>", "<Down>")
    desk.type("105.02")
    assert rows.get().figures == (Figure("bottom", "across", "105.02"),)
    desk.press("<Down>", "<Up>")
    desk.type("105.03")
    assert Figure("top", "across", "105.03") in rows.get().figures


def test_from_the_last_box_enter_stops_at_an_instrument_only_while_none_is_chosen(desk: Desk) -> None:
    rows = bore(desk)
    after = BenchTestRows(desk.root, desk.theme, Field("w", "water", FieldKind.TEST, asks=PRESSURE))
    after.pack(fill="x")
    desk.root.update()
    desk.press("<Return>", "<Return>", "<Return>", "<Return>")
    assert desk.root.focus_get() is rows.instrument.box
    desk.type("m")
    assert rows.get().instrument == 3
    assert rows._calibrated.cget("text") == "calibrated 2026-01-01"
    rows.boxes[0, "bottom", "across"].focus_set()
    desk.root.update()
    desk.press("<Return>")
    assert desk.root.focus_get() is after.entries["start"]


def test_it_begins_where_nothing_is_typed_yet_and_tells_of_every_change(desk: Desk) -> None:
    rows = bore(desk, start=Taken((Figure("top", "along", "105.01"),), 4))
    assert desk.root.focus_get() is rows.boxes[0, "top", "across"]
    changes: list[int] = []
    rows.on_change = lambda: changes.append(1)
    desk.type("10")
    desk.press("<Left>")
    assert len(changes) == 2
    assert rows.get().instrument == 4


def test_what_cannot_be_read_is_outlined_and_nothing_else(desk: Desk) -> None:
    rows = bore(desk)
    desk.type("105.01")
    desk.press("<Return>")
    desk.type("1/0")
    rows.mark_wrong(True)
    assert rows.boxes[0, "top", "across"].instate(["invalid"])
    assert not rows.boxes[0, "top", "along"].instate(["invalid"])
    rows.mark_wrong(False)
    assert not rows.boxes[0, "top", "across"].instate(["invalid"])


def test_of_a_batch_a_fresh_row_comes_for_the_next_sample(desk: Desk) -> None:
    rows = bore(desk, replace(BOXES, points=("",), directions=("",), several=True))
    for figure in ("105.01", "105.02", "105.03"):
        desk.type(figure)
        desk.press("<Return>")
    assert [figure.text for figure in rows.get().figures] == ["105.01", "105.02", "105.03"]
    assert len(rows.boxes) == 4
    desk.press("<Return>")
    assert desk.root.focus_get() is rows.instrument.box, "an empty sample ends the measuring"
    again = bore(desk, replace(BOXES, points=("",), directions=("",), several=True), rows.get())
    assert again.get().figures == rows.get().figures


PRESSURE = AskedTest(
    captions=("with water at 1.6 bar",),
    outcomes=PASSED,
    instruments=TOOLS,
    instrument_told=instrument_told,
    judge=lambda done: judge_done(WATER, done),
    unit="bar",
    hold_seconds=1200,
)


def water(desk: Desk, asks: AskedTest = PRESSURE) -> BenchTestRows:
    rows = BenchTestRows(desk.root, desk.theme, Field("water", "water jacket", FieldKind.TEST, asks=asks))
    rows.pack(fill="x")
    rows.set(DoneTest(medium="water", instrument=3))
    desk.root.update()
    rows.focus_field()
    desk.root.update()
    return rows


def test_a_test_that_nobody_touched_was_not_taken(desk: Desk) -> None:
    rows = water(desk)
    assert rows.get() is None
    assert rows.verdict.judgement.sign == "not taken"
    assert rows._calibrated.cget("text") == "calibrated 2026-01-01"


def test_a_pressure_test_goes_from_the_start_over_the_count_to_the_end(desk: Desk) -> None:
    rows = water(desk)
    now = [0.0]
    assert rows.count_down is not None
    rows.count_down._clock = partial(now.__getitem__, 0)
    assert desk.root.focus_get() is rows.entries["start"]
    desk.type("1.62")
    desk.press("<Tab>")
    assert desk.root.focus_get() is rows.count_down.button
    desk.press("<space>")
    done = rows.get()
    assert done is not None and done.held == ""
    now[0] = 1200.0
    desk.until(rows.entries["held"].get)
    assert desk.root.focus_get() is rows.entries["end"]
    desk.type("1.58")
    assert rows.get() == DoneTest(None, "water", "1.62", "1.58", "20 min", None, "", 3)
    assert rows.verdict.cget("text") == "✓ passed: dropped 0.04 bar in 20 min"
    desk.press("<BackSpace>", "5")
    assert rows.verdict.judgement.sign == "not passed"


def test_the_focus_is_not_taken_from_one_who_went_elsewhere(desk: Desk) -> None:
    rows = water(desk)
    now = [0.0]
    assert rows.count_down is not None
    rows.count_down._clock = partial(now.__getitem__, 0)
    rows.count_down.turn()
    rows.entries["found"].focus_set()
    now[0] = 1200.0
    desk.until(rows.entries["held"].get)
    assert desk.root.focus_get() is rows.entries["found"]


def test_a_count_that_runs_would_be_lost(desk: Desk) -> None:
    rows = water(desk)
    before = rows.raw()
    assert rows.count_down is not None
    rows.count_down.turn()
    assert rows.raw() != before and rows.filled()


@pytest.mark.parametrize(("typed", "passed"), [("p", True), ("n", False)])
def test_a_crack_test_says_how_and_with_what_outcome(desk: Desk, typed: str, passed: bool) -> None:
    asks = replace(
        PRESSURE, unit="", hold_seconds=None, methods=METHODS, judge=lambda done: judge_done(CRACKS, done)
    )
    rows = water(desk, asks)
    assert desk.root.focus_get() is rows.choices["method"].box
    desk.type("d")
    desk.press("<Tab>", "<Tab>")
    assert desk.root.focus_get() is rows.choices["passed"].box
    desk.type(typed)
    done = rows.get()
    assert done is not None
    assert (str(done.method), done.passed) == ("dye penetrant", passed)


def test_what_is_looked_over_asks_for_no_instrument(desk: Desk) -> None:
    rows = water(desk, replace(PRESSURE, unit="", hold_seconds=None))
    assert set(rows.choices) == {"passed"}
    assert set(rows.entries) == {"found"}
