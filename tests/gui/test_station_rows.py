"""The stations of a cylinder: each with what is in it, its life as a gauge, and words where nothing is."""

from __future__ import annotations

import tkinter as tk
from dataclasses import replace

from gui.shown import CylinderShape, Deed, FilledStation, Gauge
from gui.widgets.cylinder_map import CylinderMap
from gui.widgets.station_rows import StationRows, told_of
from tests.gui.desk import Desk

SOON = Gauge(580_00, 580_00, 600_00, "580.00 h of 600.00 h since new", "due soon", soon=575_00)
VALVE = FilledStation(
    1, "exhaust valve", 0.2, 0.3, "T00312-K  Exhaust valve", "due soon", gauge=SOON, section="With a limit"
)
BARREL = FilledStation(
    2, "barrel", 0.0, -0.1, "T00567-P  Barrel", "no limit", detail="since 2021", section="Without a limit"
)
GUIDE = FilledStation(
    3, "valve guide", 0.2, 0.5, "T00570-A  Guide", "no limit", depth=1, section="Without a limit"
)
PIN = FilledStation(4, "gudgeon pin", 0.0, -0.2, "", "nothing recorded", section="Without a limit")
ROWS = (VALVE, BARREL, GUIDE, PIN)


def shown(desk: Desk) -> tuple[StationRows, list[FilledStation], list[str]]:
    opened: list[FilledStation] = []
    done: list[str] = []
    rows = StationRows(
        desk.root,
        desk.theme,
        on_open=opened.append,
        deeds_for=lambda chosen: [
            Deed("Strip", lambda: done.append(" ".join(row.station for row in chosen)), "Del")
        ],
        on_leave=lambda: done.append("left"),
    )
    rows.pack(fill="both", expand=True)
    rows.show(ROWS)
    desk.root.update()
    rows.canvas.focus_force()
    desk.root.update()
    return rows, opened, done


def texts(canvas: tk.Canvas) -> list[str]:
    return [canvas.itemcget(item, "text") for item in canvas.find_all() if str(canvas.type(item)) == "text"]


def test_each_station_says_what_is_in_it_and_how_it_stands(desk: Desk) -> None:
    rows, _opened, _done = shown(desk)
    said = texts(rows.canvas)
    for words in (
        "With a limit", "exhaust valve", "T00312-K  Exhaust valve",
        "◷ due soon: 580.00 h of 600.00 h since new", "Without a limit", "↳ valve guide", "nothing recorded",
    ):  # fmt: skip
        assert words in said, words
    assert said.count("Without a limit") == 1


def test_however_much_there_is_to_say_of_it_the_tag_stays_to_be_read(desk: Desk) -> None:
    rows, _opened, _done = shown(desk)
    rows.pack(fill="y", expand=False)
    rows.canvas.configure(width=440)
    long_said = replace(VALVE, words="propeller strike of Twelve Two on 2026-11-22 not cleared")
    rows.show((long_said,))
    desk.root.update()
    said = texts(rows.canvas)
    assert any(words.startswith("T00312-K") for words in said)
    assert any(words.startswith("propeller strike") for words in said)


def test_the_keys_choose_one_or_several_and_do_what_fits_them(desk: Desk) -> None:
    rows, opened, done = shown(desk)
    assert rows.chosen() == [VALVE], "the keys begin at the first"
    desk.press("<Down>", "<Return>")
    assert opened == [BARREL]
    desk.press("<Shift-Down>", "<Delete>")
    assert done == ["barrel valve guide"]
    desk.press("<Home>", "<End>", "<Control-a>", "<Delete>", "<Escape>")
    assert done[1:] == ["exhaust valve barrel valve guide gudgeon pin", "left"]
    desk.press("<Up>", "<space>")
    assert rows.chosen() == [], "Space takes the only one out again"


def test_letters_go_to_a_station_or_to_a_tag(desk: Desk) -> None:
    rows, _opened, _done = shown(desk)
    desk.type("gud")
    assert rows.chosen() == [PIN]


def test_clicks_choose_and_ctrl_adds(desk: Desk) -> None:
    rows, opened, _done = shown(desk)
    desk.click(rows.canvas, 60, rows.middle_of(2))
    assert rows.chosen() == [BARREL]
    rows.canvas.event_generate("<ButtonPress-1>", x=60, y=rows.middle_of(4), state=0x4)
    assert rows.chosen() == [BARREL, PIN]
    desk.click(rows.canvas, 60, rows.middle_of(1), times=2)
    assert opened == [VALVE]


def test_what_is_chosen_stays_chosen_when_read_again(desk: Desk) -> None:
    rows, _opened, _done = shown(desk)
    rows.choose(3)
    rows.show((VALVE, GUIDE))
    assert rows.chosen() == [GUIDE]
    rows.show((VALVE,))
    assert rows.chosen() == []


def test_many_stations_scroll_to_the_one_that_is_walked_to(desk: Desk) -> None:
    rows, _opened, _done = shown(desk)
    many = [FilledStation(at, f"station {at}", 0, 0, "", "nothing recorded") for at in range(80)]
    rows.show(many)
    desk.root.update()
    desk.press("<End>")
    assert "station 79" in texts(rows.canvas) and "station 0" not in texts(rows.canvas)


def test_pointing_tells_all_of_it() -> None:
    assert told_of(BARREL) == "barrel: T00567-P  Barrel, – no limit\nsince 2021"
    assert told_of(VALVE).endswith("◷ due soon: 580.00 h of 600.00 h since new")
    assert told_of(PIN) == "gudgeon pin: ○ nothing recorded"


def test_the_cylinder_marks_each_station_and_a_click_chooses_it(desk: Desk) -> None:
    chosen: list[int] = []
    drawn = CylinderMap(desk.root, desk.theme, on_choose=chosen.append)
    drawn.pack(fill="both", expand=True)
    for shape in CylinderShape:
        drawn.show(ROWS, shape, "cylinder 5")
        desk.root.update()
        assert len(drawn.find_withtag("station")) == len(ROWS)
        left, top, right, bottom = drawn.bbox("all")
        assert left >= 0 and top >= 0 and right <= drawn.winfo_width() and bottom <= drawn.winfo_height()
    desk.click(drawn, *drawn.place_of(4))
    assert chosen == [4]
    drawn.mark([4])
    assert drawn.find_withtag("chosen")
