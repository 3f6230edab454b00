"""The lines of a specification in a form: each with what its kind says, and what is wrong beneath it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from gui.shown import Field, FieldKind
from gui.views.spec_lines import asked_of, line_wrong
from gui.widgets.form import Form
from gui.widgets.spec_line_rows import SpecLineRows
from invdb.terms import Refused, SpecKind
from tests.gui.desk import Desk

BORE = {
    "kind": SpecKind.DIMENSION,
    "name": "bore",
    "unit": "in",
    "new_low": "3 15/16",
    "new_high": "3.9380",
    "worn_high": "3.9420",
    "points": "top, bottom",
}
TEST = {
    "kind": SpecKind.PRESSURE_TEST,
    "name": "coolant jacket",
    "unit": "bar",
    "medium": "water",
    "target": "1.6",
    "hold": "20 min",
}
CRACKS = {"kind": SpecKind.CRACK_TEST, "name": "cracks", "wording": "magnetic particle, all over"}


def refuse_wrong(rows: tuple[dict[str, Any], ...], _values: object) -> None:
    for row in rows:
        if line_wrong(row):
            raise Refused(line_wrong(row))


class LinesDesk(Desk):
    def __init__(self, *lines: dict[str, Any], sizes: tuple[str, ...] = ("",)) -> None:
        super().__init__(size="700x640")
        self.saved: list[Any] = []
        fields = (
            Field("revision", "Revision"),
            Field("lines", "Lines", FieldKind.SPEC_LINES, needed=True, start=lines, check=refuse_wrong,
                  asks=asked_of(sizes)),
        )  # fmt: skip
        self.form = Form(
            self.root,
            self.theme,
            self.background,
            fields,
            lambda _job, values: self.saved.append(values["lines"]),
            title="A specification",
            on_saved=lambda _made: "Put in.",
            on_leave=lambda: None,
        )
        self.form.pack(fill="both", expand=True)
        self.until(self.rows.complete)

    @property
    def rows(self) -> SpecLineRows:
        editor = self.form.editors["lines"]
        assert isinstance(editor, SpecLineRows)
        return editor

    def enter(self, at: int, name: str, text: str) -> None:
        """Type into a text of a line, the keys going there."""
        entry = self.rows.row(at).cells[name].entry
        entry.focus_force()
        entry.delete(0, "end")
        self.root.update()
        self.type(text)

    def choose(self, at: int, name: str, key: object) -> None:
        """Choose the kind, the size or the unit of a line."""
        editor = getattr(self.rows.row(at), name)
        editor.set(key)
        editor.on_change()
        self.root.update()


@pytest.fixture
def desk(display: str) -> Iterator[LinesDesk]:
    opened = LinesDesk(BORE, TEST, CRACKS)
    yield opened
    opened.close()


def test_each_line_begins_as_the_revision_in_force_has_it_and_a_fresh_one_waits(desk: LinesDesk) -> None:
    assert desk.rows.count() == 4
    bore, test, cracks = desk.rows.get()
    assert {name: bore[name] for name in BORE} == BORE
    assert {name: test[name] for name in TEST} == TEST
    assert cracks["wording"] == "magnetic particle, all over"
    assert not desk.form.changed()


def test_a_line_asks_for_what_its_kind_says_and_nothing_else(desk: LinesDesk) -> None:
    assert set(desk.rows.row(2).cells) == {"wording"}
    assert {"medium", "target", "hold", "drop_max"} < set(desk.rows.row(1).cells)
    assert "new_low" not in desk.rows.row(1).cells
    desk.choose(2, "kind", SpecKind.MASS)
    assert "spread_max" in desk.rows.row(2).cells
    assert desk.rows.get()[2]["wording"] == "magnetic particle, all over", "what both say is kept"


def test_a_line_tells_its_figures_the_other_way_as_one_types(desk: LinesDesk) -> None:
    assert "new 100.0125 to 100.0252 mm" in desk.rows.row(0).told()
    assert "worn at most 100.1268 mm" in desk.rows.row(0).told()
    desk.enter(0, "worn_high", "4")
    assert "worn at most 101.6 mm" in desk.rows.row(0).told()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("3,15", "has a comma"),
        ("3.15.2", "is no figure"),
        ("1/0", "divi"),
        ("12 mm", "is in mm, and the line in in"),
    ],
)
def test_a_wrong_figure_says_why_beneath_its_line_as_one_leaves_it(
    desk: LinesDesk, typed: str, said: str
) -> None:
    desk.enter(0, "new_low", typed)
    assert desk.rows.row(0).message() == ""
    desk.press("<Tab>")
    desk.until(desk.rows.row(0).message)
    assert said in desk.rows.row(0).message()
    assert desk.rows.row(1).message() == ""


def test_limits_that_contradict_one_another_are_told_as_one_leaves_the_line(desk: LinesDesk) -> None:
    desk.enter(0, "new_low", "3.9500")
    desk.press("<Tab>")
    desk.settle()
    assert desk.rows.row(0).message() == "", "the line is still being filled in"
    desk.rows.row(1).cells["medium"].focus_field()
    desk.until(desk.rows.row(0).message)
    desk.enter(0, "new_low", "3.9370")
    desk.until(lambda: desk.rows.row(0).message() == "")


def test_a_fresh_line_comes_when_the_last_is_begun_and_ctrl_del_takes_one_out(desk: LinesDesk) -> None:
    desk.rows.row(3).name.entry.focus_force()
    desk.type("skirt")
    assert desk.rows.count() == 5
    desk.press("<Control-Delete>")
    assert desk.rows.count() == 4
    desk.rows.row(0).cells["new_low"].entry.focus_force()
    desk.root.update()
    desk.press("<Control-Delete>")
    assert [line["name"] for line in desk.rows.get()] == ["coolant jacket", "cracks"]
    assert desk.form.changed()
    desk.rows.row(2).name.entry.focus_force()
    desk.root.update()
    desk.press("<Control-Delete>")
    assert desk.rows.count() == 3, "the fresh line stays"


def test_what_is_wrong_keeps_the_form_from_saving_and_the_line_says_so(desk: LinesDesk) -> None:
    desk.rows.row(0).cells["new_low"].set("9")
    desk.form.save()
    assert "One field is not right yet" in desk.form.foot.words()
    assert desk.rows.row(0).message()
    assert not desk.saved


def test_the_form_is_saved_by_key_from_any_line_even_one_made_late(desk: LinesDesk) -> None:
    desk.rows.row(2).cells["wording"].entry.focus_force()
    desk.root.update()
    desk.press("<Control-Return>")
    desk.until(lambda: desk.saved)
    assert [line["name"] for line in desk.saved[0]] == ["bore", "coolant jacket", "cracks"]


def test_the_sizes_of_the_part_are_offered_where_there_are_any(display: str) -> None:
    desk = LinesDesk(BORE, sizes=("", "0.010 in oversize"))
    desk.choose(0, "size_class", "0.010 in oversize")
    assert desk.rows.get()[0]["size_class"] == "0.010 in oversize"
    desk.close()


def test_the_units_offered_are_those_of_the_kind(desk: LinesDesk) -> None:
    assert "thou" in desk.rows.row(0).unit.box["values"]
    assert "bar" in desk.rows.row(1).unit.box["values"]
    assert "mm" not in desk.rows.row(1).unit.box["values"]


def test_many_lines_come_a_few_at_a_time_and_none_is_lost_meanwhile(display: str) -> None:
    desk = LinesDesk(*({**CRACKS, "name": f"look {n}"} for n in range(30)))
    assert len(desk.rows.get()) == 30
    desk.rows.set([{**CRACKS, "name": f"look {n}"} for n in range(12)])
    assert not desk.rows.complete()
    assert [line["name"] for line in desk.rows.get()] == [f"look {n}" for n in range(12)]
    desk.until(desk.rows.complete)
    assert desk.rows.count() == 13
    desk.close()
