"""A list of any length: fetched as one scrolls, filtered, sorted, chosen from, copied."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

import pytest

from gui.job import Job
from gui.shown import Column, Deed, Empty, Page, Row, Sort
from gui.widgets.table import Table
from invdb.terms import Refused
from tests.gui.desk import Desk

COLUMNS = (
    Column("tag", "Tag", 100),
    Column("name", "Name", 240),
    Column("condition", "Condition", 140, sort=False),
)
EMPTY = Empty("No stock yet.", "Book in the first piece.")


class Stock:
    """A long shelf of springs, read as an act would read it."""

    def __init__(self, count: int) -> None:
        self.count = count
        self.rows_read = 0
        self.offsets: list[int] = []

    def fetch(self, _job: Job, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        numbers = [n for n in range(self.count) if words in f"valve spring {n}"] if words else None
        fitting = self.count if numbers is None else len(numbers)
        wanted = range(offset, min(offset + limit, fitting))
        rows = []
        for place in wanted:
            turned = fitting - 1 - place if sort and sort.descending else place
            number = turned if numbers is None else numbers[turned]
            rows.append(
                Row(number, (f"T{number:07d}", f"valve spring {number}", "✓ serviceable"), "serviceable")
            )
        self.rows_read += len(rows)
        self.offsets.append(offset)
        return Page(tuple(rows), fitting, self.count)


def shown(table: Table) -> list[str]:
    return [table.tree.set(item, "tag") for item in table.tree.get_children()]


def laid_out(desk: Desk, stock: Stock, **options: Any) -> Table:
    table = Table(
        desk.root,
        desk.theme,
        desk.background,
        COLUMNS,
        stock.fetch,
        empty=EMPTY,
        many="pieces",
        one="piece",
        **options,
    )
    table.pack(fill="both", expand=True)
    desk.settle()
    return table


def words_on(table: Table) -> str:
    found = []
    parts: list[Any] = [table]
    while parts:
        part = parts.pop()
        parts += part.winfo_children()
        if part.winfo_class() == "TLabel" and part.winfo_ismapped():
            found.append(str(part.cget("text")))
    return " | ".join(found)


def test_of_a_million_pieces_only_those_near_are_read_and_made(desk: Desk) -> None:
    stock = Stock(1_000_000)
    table = laid_out(desk, stock)
    table.choose(500_000)
    desk.settle()
    table.choose(999_999)
    desk.settle()
    assert shown(table)[-1] == "T0999999"
    assert table.count() == (1_000_000, 1_000_000)
    assert len(shown(table)) < 100
    assert stock.rows_read < 1_000


def test_it_walks_by_keys_to_the_end_and_back(desk: Desk) -> None:
    chosen: list[list[Any]] = []
    table = laid_out(desk, Stock(5_000), on_choose=lambda rows: chosen.append([row.key for row in rows]))
    table.tree.focus_force()
    desk.settle()
    assert chosen[-1] == [0]
    desk.press("<Down>", "<Down>")
    assert chosen[-1] == [2]
    desk.press("<End>")
    desk.settle()
    assert [row.key for row in table.chosen()] == [4_999]
    desk.press("<Prior>", "<Home>")
    desk.settle()
    assert [row.key for row in table.chosen()] == [0]
    assert shown(table)[0] == "T0000000"


def test_shift_and_control_choose_several(desk: Desk) -> None:
    table = laid_out(desk, Stock(500))
    table.choose(3)
    table.tree.focus_force()
    desk.press("<Shift-Down>", "<Shift-Down>")
    assert [row.key for row in table.chosen()] == [3, 4, 5]
    box = table.tree.bbox("8")
    assert box
    table.tree.event_generate("<ButtonPress-1>", x=box[0] + 40, y=box[1] + 4, state=0x4)
    desk.root.update()
    assert [row.key for row in table.chosen()] == [3, 4, 5, 8]
    assert "4 chosen" in words_on(table)


def test_typing_on_the_list_filters_it_and_escape_shows_all(desk: Desk) -> None:
    table = laid_out(desk, Stock(912))
    table.choose(0)
    table.tree.focus_force()
    desk.type("77")
    desk.until(lambda: table.count()[0] < 912)
    assert table.count() == (sum("77" in str(n) for n in range(912)), 912)
    assert f"{table.count()[0]} of 912 pieces" in words_on(table)
    desk.press("<Escape>")
    desk.until(lambda: table.count()[0] == 912)
    assert desk.root.focus_get() is table.tree
    assert "912 pieces" in words_on(table)


def test_a_slash_on_the_list_is_left_for_the_find_box(desk: Desk) -> None:
    heard: list[bool] = []
    desk.root.bind("<Key-slash>", lambda _event: heard.append(True))
    table = laid_out(desk, Stock(20))
    table.tree.focus_force()
    desk.press("/")
    assert heard == [True]
    assert table.bar.entry.get() == ""


def test_a_heading_sorts_and_turns_round(desk: Desk) -> None:
    table = laid_out(desk, Stock(300))
    x = table.tree.winfo_width() - 200
    desk.click(table.tree, 60, 12)
    desk.settle()
    assert table.tree.heading("tag", "text").endswith("▲")
    desk.click(table.tree, 60, 12)
    desk.settle()
    assert table.tree.heading("tag", "text").endswith("▼")
    assert shown(table)[0] == "T0000299"
    before = shown(table)
    desk.click(table.tree, x, 12)
    desk.settle()
    assert shown(table) == before, "the condition's heading means no order"


def test_an_empty_list_says_what_would_stand_there_and_how_to_begin(desk: Desk) -> None:
    pressed: list[bool] = []
    empty = Empty("No stock yet.", "Book in the first.", (Deed("Goods in", lambda: pressed.append(True)),))
    table = Table(desk.root, desk.theme, desk.background, COLUMNS, Stock(0).fetch, empty=empty, many="pieces")
    table.pack(fill="both", expand=True)
    desk.settle()
    assert "No stock yet." in words_on(table) and "Book in the first." in words_on(table)


def test_a_filter_that_nothing_fits_says_so(desk: Desk) -> None:
    table = laid_out(desk, Stock(912))
    table.filter_by("camshaft")
    desk.settle()
    assert "None of the 912 pieces fits “camshaft”." in words_on(table)
    table.filter_by("")
    desk.settle()
    assert "None of" not in words_on(table)


def test_a_filter_that_the_only_row_does_not_fit_says_so_of_one(desk: Desk) -> None:
    table = laid_out(desk, Stock(1))
    table.filter_by("camshaft")
    desk.settle()
    assert "The only piece does not fit “camshaft”." in words_on(table)


def test_a_refused_list_says_why_where_the_rows_would_be(desk: Desk) -> None:
    def refuse(*_asked: object) -> Page:
        raise Refused("The store is locked by another program.", "Close it there.")

    table = Table(desk.root, desk.theme, desk.background, COLUMNS, refuse, empty=EMPTY)
    table.pack(fill="both", expand=True)
    desk.until(lambda: "The store is locked by another program. | " in words_on(table) + " | ")
    assert "Close it there." in words_on(table)


def test_copy_is_what_a_spreadsheet_pastes(desk: Desk) -> None:
    said: list[str] = []
    table = laid_out(desk, Stock(2_500), say=said.append)
    table.choose(2)
    table.tree.focus_force()
    desk.press("<Shift-Down>", "<Control-c>")
    desk.settle()
    assert desk.root.clipboard_get() == (
        "Tag\tName\tCondition\n"
        "T0000002\tvalve spring 2\t✓ serviceable\n"
        "T0000003\tvalve spring 3\t✓ serviceable"
    )
    desk.press("<Control-a>", "<Control-c>")
    desk.settle()
    assert desk.root.clipboard_get().count("\n") == 2_500
    assert said[-1] == "Copied 2,500 pieces."


def test_more_than_can_be_copied_is_said(desk: Desk) -> None:
    said: list[str] = []
    table = laid_out(desk, Stock(60_000), say=said.append)
    table.tree.focus_force()
    desk.press("<Control-a>", "<Control-c>")
    desk.settle()
    assert "60,000" in said[-1]


def test_an_act_that_fits_is_done_by_its_key(desk: Desk) -> None:
    moved: list[Any] = []

    def deeds(rows: list[Row]) -> list[Deed]:
        return [Deed("Move", lambda: moved.append([row.key for row in rows]), "Ctrl+M")] if rows else []

    table = laid_out(desk, Stock(50), deeds_for=deeds)
    table.choose(7)
    table.tree.focus_force()
    desk.press("<Control-m>")
    assert moved == [[7]]


@pytest.mark.parametrize("way", ["key", "mouse"])
def test_a_row_is_opened(desk: Desk, way: str) -> None:
    opened: list[Any] = []
    table = laid_out(desk, Stock(50), on_open=lambda row: opened.append(row.key))
    table.choose(4)
    table.tree.focus_force()
    if way == "key":
        desk.press("<Return>")
    else:
        box = table.tree.bbox("4")
        assert box
        desk.click(table.tree, box[0] + 60, box[1] + 5, times=2)
    assert opened == [4]


def test_the_menu_offers_acts_copying_and_sorting(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    offered: list[list[str]] = []

    def note(_widget: object, _x: int, _y: int, groups: Any, below: Any) -> None:
        offered.append([deed.word for group in groups for deed in group] + list(below))

    monkeypatch.setattr("gui.widgets.table.pop_up", note)
    table = laid_out(desk, Stock(50), deeds_for=lambda _rows: [Deed("Move", lambda: None, "Ctrl+M")])
    table.choose(1)
    table.tree.focus_force()
    desk.press("<Menu>")
    box = table.tree.bbox("5")
    assert box
    desk.click(table.tree, box[0] + 60, box[1] + 5, button=3)
    assert offered == [["Move", "Copy", "Sort"], ["Move", "Copy", "Sort"]]
    assert [row.key for row in table.chosen()] == [5]


def test_refreshing_keeps_the_chosen_piece_though_it_moved(desk: Desk) -> None:
    stock = Stock(50)
    table = laid_out(desk, stock)
    table.choose(10)
    plain = stock.fetch

    def with_one_more(*asked: Any) -> Page:
        page = plain(*asked)
        first = Row("new", ("T9999999", "barrel", "? uninspected"), "uninspected")
        return Page((first, *page.rows), page.fitting + 1, page.total + 1)

    table._rows._fetch = with_one_more
    table.refresh()
    desk.settle()
    assert [row.key for row in table.chosen()] == [10]
    assert shown(table)[0] == "T9999999"


def test_widths_a_person_set_are_remembered(desk: Desk) -> None:
    kept: list[dict[str, int]] = []
    table = laid_out(desk, Stock(5), widths={"tag": 180}, on_widths=kept.append)
    assert table.tree.column("tag", "width") == 180
    edge = 26 + 180 + 5
    tree = table.tree
    place = next(x for x in range(edge - 12, edge + 12) if tree.identify_region(x, 12) == "separator")
    tree.event_generate("<ButtonPress-1>", x=place, y=12)
    tree.event_generate("<B1-Motion>", x=place + 40, y=12)
    tree.event_generate("<ButtonRelease-1>", x=place + 40, y=12)
    desk.root.update()
    assert kept[-1]["tag"] == pytest.approx(220, abs=4)


def test_a_list_closed_while_reading_drops_the_answer(desk: Desk) -> None:
    let_go = threading.Event()

    def slow(*_asked: object) -> Page:
        let_go.wait()
        return Page((), 0, 0)

    table = Table(desk.root, desk.theme, desk.background, COLUMNS, slow, empty=EMPTY)
    table.pack()
    desk.root.update()
    table.destroy()
    let_go.set()
    desk.settle()
    assert desk.failures == []


def test_what_fails_is_said_and_can_be_read_again(desk: Desk) -> None:
    stock = Stock(30)
    broken: list[Callable[..., Page]] = []

    def fetch(*asked: Any) -> Page:
        if not broken:
            broken.append(stock.fetch)
            raise OSError("the disk went away")
        return stock.fetch(*asked)

    table = Table(desk.root, desk.theme, desk.background, COLUMNS, fetch, empty=EMPTY)
    table.pack(fill="both", expand=True)
    desk.settle()
    assert "the disk went away" in desk.failures[0]
    table.refresh()
    desk.settle()
    assert table.count() == (30, 30)
