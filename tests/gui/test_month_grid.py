"""The grid of figures by month: typed as in a spreadsheet, kept until it is saved."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from gui.shown_grid import GridCell, GridRow
from gui.widgets.month_grid import MonthGrid
from invdb.terms import Refused
from tests.gui.desk import Desk

MONTHS = tuple(f"2026-{month:02d}" for month in range(1, 13))


def row(key: str, planned: dict[int, str]) -> GridRow:
    cells = tuple(GridCell(planned.get(at, "4.00"), at in planned) for at in range(len(MONTHS)))
    return GridRow(key, f"engine {key}", f"{key} ran 4.00 h a month of late", cells)


class GridDesk(Desk):
    """A window with a grid of two engines in it."""

    def __init__(self) -> None:
        super().__init__(size="800x300")
        self.refused: list[str] = []
        self.counts: list[int] = []
        self.left: list[bool] = []
        self.grid = MonthGrid(
            self.root,
            self.theme,
            read=self._read,
            sum_of=lambda texts: f"{sum(float(text) for text in texts if text):g}",
            refuse=self.refused.append,
            on_change=self.counts.append,
            on_leave=lambda: self.left.append(True),
        )
        self.grid.pack(fill="both", expand=True)
        self.grid.show(MONTHS, (row("A", {1: "6.00"}), row("B", {})))
        self.root.update()
        self.grid.canvas.focus_force()
        self.root.update()

    def _read(self, typed: str) -> str:
        if not typed.replace(".", "", 1).isdigit():
            raise Refused(f"“{typed}” is no figure.", "Type hours.")
        return f"{float(typed):.2f}"

    def texts(self, tag: str) -> list[str]:
        canvas = self.grid.canvas
        return [str(canvas.itemcget(item, "text")) for item in canvas.find_withtag(tag)]


@pytest.fixture
def at_grid(display: str) -> Iterator[GridDesk]:
    opened = GridDesk()
    yield opened
    opened.close()


def test_planned_stands_by_itself_and_the_rest_as_of_late(at_grid: GridDesk) -> None:
    assert at_grid.texts("cell")[:3] == ["≈ 4.00", "6.00", "≈ 4.00"]
    assert at_grid.texts("sum") == ["50", "48"]


def test_a_figure_is_typed_and_enter_goes_on_to_the_next_month(at_grid: GridDesk) -> None:
    at_grid.type("8.5")
    at_grid.press("<Return>")
    at_grid.type("9")
    at_grid.press("<Return>", "<Down>", "<F2>")
    assert at_grid.grid.cursor() == ("B", 2)
    at_grid.press("<Escape>")
    assert at_grid.grid.changes() == {("A", 0): "8.50", ("A", 1): "9.00"}
    assert at_grid.texts("cell")[:2] == ["• 8.50", "• 9.00"]
    assert at_grid.counts[-1] == 2
    assert at_grid.texts("sum")[0] == "57.5"


def test_del_takes_a_plan_back_and_the_same_again_is_no_change(at_grid: GridDesk) -> None:
    at_grid.press("<Delete>")
    assert at_grid.grid.changes() == {}, "nothing is planned in that month"
    at_grid.press("<Right>", "<Delete>")
    assert at_grid.grid.changes() == {("A", 1): None}
    at_grid.type("6")
    at_grid.press("<Return>")
    assert at_grid.grid.changes() == {}


def test_the_same_is_given_to_all_later_months_by_one_key(at_grid: GridDesk) -> None:
    at_grid.press("<End>", "<Left>")
    at_grid.type("2")
    at_grid.press("<Return>", "<Left>", "<Control-r>")
    assert at_grid.grid.changes() == {("A", 10): "2.00", ("A", 11): "2.00"}
    assert "2026-12" in at_grid.texts("month"), "one sees where one is"
    at_grid.press("<Home>")
    assert at_grid.texts("month")[0] == "2026-01"


def test_what_is_no_figure_is_refused_and_stays_to_be_mended(at_grid: GridDesk) -> None:
    at_grid.press("1", "x", "<Return>")
    assert at_grid.refused == ["“1x” is no figure. Type hours."]
    assert at_grid.grid.entry is not None
    at_grid.press("<BackSpace>", "<Return>")
    assert at_grid.grid.changes() == {("A", 0): "1.00"}


def test_what_is_typed_stays_by_its_month_when_it_is_read_again(at_grid: GridDesk) -> None:
    at_grid.press("<Right>", "<Right>", "7", "<Return>")
    later = tuple(GridCell("4.00", False) for _ in MONTHS[1:])
    at_grid.grid.show(MONTHS[1:], (GridRow("A", "engine A", "", later), GridRow("C", "engine C", "", later)))
    assert at_grid.grid.changes() == {("A", 1): "7.00"}
    at_grid.grid.drop_changes()
    assert at_grid.counts[-1] == 0


def test_escape_among_the_cells_leaves_and_a_click_chooses(at_grid: GridDesk) -> None:
    canvas = at_grid.grid.canvas
    left, top, right, bottom = canvas.bbox(canvas.find_withtag("cell")[1])
    at_grid.click(canvas, (left + right) / 2, (top + bottom) / 2)
    assert at_grid.grid.cursor() == ("A", 1)
    at_grid.press("<Escape>")
    assert at_grid.left == [True]
