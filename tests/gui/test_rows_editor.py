"""Rows of like fields in a form, filled in and left out by keys."""

from __future__ import annotations

from tkinter import ttk

import pytest

from gui.shown import Choice, Field, FieldKind, Hit
from gui.widgets.rows_editor import RowsEditor
from invdb.terms import Refused
from tests.gui.desk import Desk


def whole(written: str, _values: object) -> None:
    if not written.isdigit():
        raise Refused(f"{written} is no whole number.", "Count again.")


SHARES = Field(
    "shares",
    "Split off",
    FieldKind.ROWS,
    columns=(
        Field("quantity", "Quantity", FieldKind.QUANTITY, needed=True, check=whole),
        Field(
            "state",
            "Condition",
            FieldKind.CHOICE,
            needed=True,
            choices=(Choice("good", "serviceable"), Choice("bad", "unserviceable")),
        ),
        Field("bin", "Goes to", FieldKind.FIND, find=lambda _job, words: [Hit(words, "", "bin", 7)]),
    ),
)


@pytest.fixture
def rows(desk: Desk) -> RowsEditor:
    editor = RowsEditor(desk.root, desk.theme, SHARES, desk.background)
    editor.pack()
    desk.root.update()
    editor.focus_field()
    desk.root.update()
    return editor


def test_enter_goes_past_a_fresh_row_that_is_left_empty(desk: Desk, rows: RowsEditor) -> None:
    beneath = ttk.Entry(desk.root)
    beneath.pack()
    desk.root.update()
    desk.type("5")
    desk.press("<Return>")
    assert str(desk.root.focus_get()).startswith(str(rows)), "a row that is begun is gone along"
    rows.row(1)["quantity"].focus_field()
    desk.root.update()
    desk.press("<Return>")
    assert desk.root.focus_get() is beneath


def test_a_fresh_row_waits_beneath_whatever_is_begun(desk: Desk, rows: RowsEditor) -> None:
    assert rows.count() == 1
    desk.type("5")
    assert rows.count() == 2
    desk.press("<Tab>")
    desk.type("s")
    desk.press("<Tab>", "<Tab>")
    desk.type("4")
    desk.press("<Tab>")
    desk.type("u")
    assert rows.count() == 3
    assert rows.get() == (
        {"quantity": "5", "state": "good", "bin": None},
        {"quantity": "4", "state": "bad", "bin": None},
    )


def test_what_is_wrong_names_its_row(desk: Desk, rows: RowsEditor) -> None:
    desk.type("5")
    with pytest.raises(Refused, match=r"Row 1: “Condition” is still empty\."):
        rows.get()
    rows.set([{"quantity": "1", "state": "good"}, {"quantity": "x", "state": "bad"}])
    with pytest.raises(Refused, match=r"Row 2: x is no whole number\."):
        rows.get()


def test_a_row_is_left_out_by_its_key_and_the_fresh_one_stays(desk: Desk, rows: RowsEditor) -> None:
    rows.set([{"quantity": "5", "state": "good"}, {"quantity": "4", "state": "bad"}])
    rows.focus_field()
    desk.root.update()
    desk.press("<Control-Delete>")
    assert [row["quantity"] for row in rows.get()] == ["4"]
    desk.press("<Control-Delete>")
    assert rows.get() == ()
    desk.press("<Control-Delete>")
    assert rows.count() == 1


def test_it_tells_of_every_change_and_of_nothing_when_it_is_filled_in_from_outside(
    desk: Desk, rows: RowsEditor
) -> None:
    told: list[None] = []
    rows.on_change = lambda: told.append(None)
    rows.set([{"quantity": "5", "state": "good"}])
    assert told == []
    rows.focus_field()
    desk.root.update()
    desk.type("6")
    assert told
    assert rows.raw() == (("6", "serviceable", ""),)


def test_a_row_of_many_columns_goes_over_several_lines_and_tab_goes_along_them(desk: Desk) -> None:
    columns = tuple(Field(f"c{at}", f"Column {at}") for at in range(7))
    editor = RowsEditor(
        desk.root, desk.theme, Field("wide", "Wide", FieldKind.ROWS, columns=columns), desk.background
    )
    editor.pack()
    editor.focus_field()
    desk.root.update()
    for at in range(7):
        desk.type(str(at))
        desk.press("<Tab>")
    desk.type("x")
    assert editor.get() == (
        {f"c{at}": str(at) for at in range(7)},
        {f"c{at}": "x" if at == 0 else "" for at in range(7)},
    )
    tops = [editor.row(0)[f"c{at}"].winfo_y() for at in range(7)]
    desk.root.update()
    assert len(set(tops)) == 2, "the seven stand in two lines"
    assert min(editor.row(1)["c0"].winfo_y(), editor.row(1)["c1"].winfo_y()) > max(tops)
    desk.press("<Control-Delete>")
    assert editor.count() == 2 and editor.row(1)["c0"].winfo_y() > editor.row(0)["c6"].winfo_y()
