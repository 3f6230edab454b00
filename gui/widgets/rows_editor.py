"""A few rows of like fields, each with its own little editors; a fresh row waits beneath the last."""

from __future__ import annotations

import tkinter as tk
from functools import partial
from tkinter import ttk
from typing import Any

from gui.background import Background
from gui.shown import Field, FieldKind
from gui.theme import Theme
from gui.widgets.editors import ChoiceEditor, Editor, FindEditor, TextEditor
from gui.widgets.tip import explain
from invdb.terms import Refused

CHOICE_WIDTH = 17
FIND_WIDTH = 14
# Of the room that is left over, a thing to be found takes so much against one for what is behind the row.
FIND_SHARE = 2
QUANTITY_WIDTH = 8
TEXT_WIDTH = 11
ROWS_MAX = 40
# With more columns than these, each row goes over several lines, and so do their headings.
COLUMNS_MAX = 4
ROW_GAP = 10
CONTROL = 0x4


class RowsEditor(Editor):
    """Its value is a tuple of rows, each a dict by the names of ``field.columns``; empty rows are left out.

    Enter goes from cell to cell, and past a fresh row in which nothing stands.
    Columns may be TEXT, QUANTITY, CHOICE or FIND. A column's own ``check`` and ``needed`` hold for every row
    that has anything in it.
    """

    def __init__(self, parent: tk.Misc, theme: Theme, field: Field, background: Background) -> None:
        super().__init__(parent, theme, field)
        self._background = background
        self._rows: list[dict[str, Editor]] = []
        self._takes: list[ttk.Button] = []
        self._lines = -(-len(field.columns) // COLUMNS_MAX)
        self._across = -(-len(field.columns) // self._lines)
        for at, column in enumerate(field.columns):
            label = ttk.Label(self, text=column.word, style="Caption.TLabel")
            line, across = divmod(at, self._across)
            label.grid(row=line, column=across, sticky="w", padx=(0, theme.px(6)))
            if column.hint:
                explain(label, column.hint)
            if column.kind is FieldKind.FIND and self._lines == 1:
                # What is found is named by its number and its name.
                self.columnconfigure(across, weight=FIND_SHARE)
        self.columnconfigure(self._across, weight=1)
        self._add_row()

    def get(self) -> Any:
        values = []
        for number, row in enumerate(self._rows, 1):
            if not _filled(row):
                continue
            try:
                values.append(self._values_of(row))
            except Refused as refused:
                raise Refused(f"Row {number}: {refused.reason}", refused.remedy) from refused
        return tuple(values)

    def set(self, value: Any) -> None:
        while self._rows:
            self._take_row(0)
        for given in value or ():
            self._add_row()
            for name, editor in self._rows[-1].items():
                editor.set(given.get(name))
        self._add_row()

    def raw(self) -> Any:
        return tuple(tuple(editor.raw() for editor in row.values()) for row in self._rows if _filled(row))

    def focus_field(self) -> None:
        row = self._rows[0]
        # What begins filled in part is gone on with where it is not.
        unfilled = (
            c.name for c in self.field.columns if c.needed and _filled(row) and not row[c.name].filled()
        )
        row[next(unfilled, self.field.columns[0].name)].focus_field()

    def filled(self) -> bool:
        needed = [column.name for column in self.field.columns if column.needed]
        rows = [row for row in self._rows if _filled(row)]
        return bool(rows) and all(row[name].filled() for row in rows for name in needed)

    def row(self, at: int) -> dict[str, Editor]:
        """The editors of that row, counted from 0, by the names of the columns."""
        return self._rows[at]

    def count(self) -> int:
        """How many rows there are, the fresh one included."""
        return len(self._rows)

    def _values_of(self, row: dict[str, Editor]) -> dict[str, Any]:
        values = {name: editor.get() for name, editor in row.items()}
        for column in self.field.columns:
            if column.needed and not row[column.name].filled():
                raise Refused(f"“{column.word}” is still empty.")
            if column.check is not None:
                column.check(values[column.name], values)
        return values

    def _add_row(self) -> None:
        row: dict[str, Editor] = {}
        for column in self.field.columns:
            editor = self._editor(column)
            editor.set(column.start)
            editor.on_change = self._edited
            row[column.name] = editor
            self._listen(editor, row)
        take = ttk.Button(self, text="✕", width=2, takefocus=False, command=partial(self._take_this, row))
        explain(take, "Leave this row out", "Ctrl+Del")
        self._rows.append(row)
        self._takes.append(take)
        self._place_row(len(self._rows) - 1)
        self._show_takes()

    def _place_row(self, at: int) -> None:
        """Put the row at that place where it belongs, each of its lines beneath the one before."""
        px = self.theme.px
        top = (at + 1) * self._lines
        for number, editor in enumerate(self._rows[at].values()):
            line, across = divmod(number, self._across)
            # Over several lines, a little room tells one row from the next.
            above = px(ROW_GAP) if self._lines > 1 and line == 0 else px(2)
            wide = "ew" if self.field.columns[number].kind is FieldKind.FIND and self._lines == 1 else "w"
            editor.grid(row=top + line, column=across, sticky=wide, padx=(0, px(6)), pady=(above, px(2)))
        self._takes[at].grid(row=top + self._lines - 1, column=self._across, sticky="w")

    def _listen(self, part: tk.Misc, row: dict[str, Editor]) -> None:
        # Tk takes a frame that has keys of its own for a stop of the Tab key.
        if not isinstance(part, ttk.Frame):
            part.bind("<Control-Delete>", lambda _event: self._take_by_key(row), add="+")
            for key in ("<Return>", "<KP_Enter>"):
                part.bind(key, partial(self._go_past, row), add="+")
        for inside in part.winfo_children():
            self._listen(inside, row)

    def _go_past(self, row: dict[str, Editor], event: tk.Event[tk.Misc]) -> str | None:
        """From a fresh row that is left empty Enter goes on past all of its cells."""
        if row is not self._rows[-1] or _filled(row) or int(event.state) & CONTROL:
            return None
        following: tk.Misc | None = event.widget
        for _stop in range(2 * len(self.field.columns)):
            following = following.tk_focusNext() if following is not None else None
            if following is None or not f"{following}.".startswith(f"{self}."):
                break
        if following is not None:
            following.focus_set()
        return "break"

    def _take_by_key(self, row: dict[str, Editor]) -> str:
        if row is not self._rows[-1]:
            self._take_this(row)
        return "break"

    def _editor(self, column: Field) -> Editor:
        if column.kind is FieldKind.FIND:
            found = FindEditor(self, self.theme, column, self._background)
            found.box.entry.configure(width=FIND_WIDTH)
            return found
        if column.kind is FieldKind.CHOICE:
            choice = ChoiceEditor(self, self.theme, column)
            choice.box.configure(width=CHOICE_WIDTH)
            return choice
        text = TextEditor(self, self.theme, column)
        text.entry.configure(width=QUANTITY_WIDTH if column.kind is FieldKind.QUANTITY else TEXT_WIDTH)
        return text

    def _edited(self) -> None:
        if _filled(self._rows[-1]) and len(self._rows) < ROWS_MAX:
            self._add_row()
        self.on_change()

    def _take_this(self, row: dict[str, Editor]) -> None:
        self._take_row(self._rows.index(row))
        if not self._rows:
            self._add_row()
        self.focus_field()
        self.on_change()

    def _take_row(self, at: int) -> None:
        for editor in self._rows.pop(at).values():
            editor.destroy()
        self._takes.pop(at).destroy()
        for left in range(len(self._rows)):
            self._place_row(left)
        self._show_takes()

    def _show_takes(self) -> None:
        """The fresh row at the end has nothing to take away."""
        for at, take in enumerate(self._takes):
            take.grid() if at < len(self._takes) - 1 else take.grid_remove()


def _filled(row: dict[str, Editor]) -> bool:
    return any(editor.filled() for editor in row.values())
