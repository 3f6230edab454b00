"""The lines of a specification, each a row of its own with the texts that its kind says."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Mapping
from functools import partial
from tkinter import ttk
from typing import Any

from gui.shown import Choice, Field, FieldKind
from gui.shown_spec import Cell, SpecLinesAsked
from gui.theme import Theme
from gui.widgets.editors import ChoiceEditor, Editor, TextEditor
from gui.widgets.tip import explain

KIND_WIDTH = 13
NAME_WIDTH = 18
SIZE_WIDTH = 16
UNIT_WIDTH = 8
GAP = 8
WRAP_MIN = 200
AT_ONCE = 2
LINES_MAX = 400
OWN = ("kind", "name", "size_class", "unit")
EVERY_SIZE = "every size"


class SpecLineRows(Editor):
    """Its value is a tuple of lines, each a dict by the names of its texts; empty ones are left out.

    A fresh line waits beneath the last, and Ctrl+Del takes one out. What is wrong with a figure is said
    beneath its line as one leaves it. Where there are many lines, they are made a few at a time.
    """

    def __init__(self, parent: tk.Misc, theme: Theme, field: Field) -> None:
        super().__init__(parent, theme, field)
        asks = field.asks
        assert isinstance(asks, SpecLinesAsked), f"field {field.name} asks for no lines"
        self._asks = asks
        self._rows: list[_LineRow] = []
        self._waiting: list[Mapping[str, Any]] = []
        self._timer = ""
        self.bind("<Destroy>", lambda _event: self._cancel(), add="+")

    def get(self) -> Any:
        rows = [row.values() for row in self._rows if row.filled()]
        return tuple(rows + [self._said(values) for values in self._waiting])

    def set(self, value: Any) -> None:
        self._cancel()
        for row in self._rows:
            row.destroy()
        self._rows = []
        self._waiting = list(value or ())
        self._make_some()

    def raw(self) -> Any:
        rows = [row.raw() for row in self._rows if row.filled()]
        return tuple(rows + [_raw_of(values) for values in self._waiting])

    def filled(self) -> bool:
        return bool(self._waiting) or any(row.filled() for row in self._rows)

    def focus_field(self) -> None:
        wrong = next((row for row in self._rows if row.message()), None)
        (wrong or self._rows[0]).focus_row()

    def mark_wrong(self, wrong: bool) -> None:
        for row in self._rows:
            if row.filled():
                row.check(whole=True)

    def row(self, at: int) -> _LineRow:
        """The row at that place, counted from 0."""
        return self._rows[at]

    def count(self) -> int:
        """How many rows there are by now, the fresh one included."""
        return len(self._rows)

    def complete(self) -> bool:
        """Whether every line has its row by now."""
        return not self._waiting

    def _said(self, values: Mapping[str, Any]) -> dict[str, Any]:
        kind = self._asks.kind(values.get("kind"))
        cells = [cell.name for cell in kind.cells] if kind is not None else []
        return {name: values.get(name) or ("" if name != "kind" else None) for name in (*OWN, *cells)}

    def _make_some(self) -> None:
        """Make rows for a few of the lines that wait, and come back for the rest."""
        self._timer = ""
        made, self._waiting = self._waiting[:AT_ONCE], self._waiting[AT_ONCE:]
        for values in made:
            self._add(values)
        if self._waiting:
            self._timer = self.after(1, self._make_some)
            return
        self._add({})
        # The form gives its keys to what is new when it hears of a change.
        self.on_change()

    def _cancel(self) -> None:
        if self._timer:
            self.after_cancel(self._timer)
            self._timer = ""

    def _add(self, values: Mapping[str, Any]) -> None:
        row = _LineRow(self, self.theme, self._asks, on_change=self._edited, on_take=self._take)
        row.pack(fill="x", pady=(0, self.theme.px(GAP)))
        row.set(values)
        self._rows.append(row)
        self._number()

    def _number(self) -> None:
        for at, row in enumerate(self._rows):
            row.number(at + 1, fresh=row is self._rows[-1])

    def _edited(self) -> None:
        if not self._waiting and self._rows[-1].filled() and len(self._rows) < LINES_MAX:
            self._add({})
        self.on_change()

    def _take(self, row: _LineRow) -> None:
        if row is self._rows[-1]:
            return
        at = self._rows.index(row)
        self._rows.pop(at).destroy()
        self._number()
        self._rows[at].focus_row()
        self.on_change()


class _LineRow(ttk.Frame):
    """One line: its number, kind, name, size and unit, and beneath them the texts of its kind."""

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        asks: SpecLinesAsked,
        *,
        on_change: Callable[[], None],
        on_take: Callable[[_LineRow], None],
    ) -> None:
        super().__init__(parent)
        self._theme, self._asks = theme, asks
        self._on_change, self._on_take = on_change, on_take
        self._kept: dict[str, Any] = {}
        self._shown_for: Any = self
        px = theme.px
        head = ttk.Frame(self)
        head.pack(fill="x")
        self._number = ttk.Label(head, style="Caption.TLabel", width=4, anchor="e")
        self._number.pack(side="left", padx=(0, px(6)))
        self.kind = self._choice(head, "kind", KIND_WIDTH, [(k.key, k.word) for k in asks.kinds], "")
        self.name = TextEditor(head, theme, Field("name", "Name"))
        self.name.entry.configure(width=NAME_WIDTH)
        explain(self.name.entry, "What it states, such as bore; fits and measurements go by this name")
        sizes = [(choice.key, choice.word) for choice in asks.sizes]
        self.size_class = self._choice(head, "size_class", SIZE_WIDTH, sizes, EVERY_SIZE)
        self.unit = self._choice(head, "unit", UNIT_WIDTH, [], "")
        explain(self.unit.box, "The unit of the publication, for all figures of the line")
        explain(
            self.size_class.box,
            "The size that the line is for; every size without a line of its own by that name",
        )
        self._take = ttk.Button(head, text="✕", width=2, takefocus=False, command=self._take_out)
        explain(self._take, "Leave this line out", "Ctrl+Del")
        for part in (self.kind, self.name):
            part.pack(side="left", padx=(0, px(6)))
        if sizes:
            self.size_class.pack(side="left", padx=(0, px(6)))
        self.unit.pack(side="left", padx=(0, px(6)))
        self._take.pack(side="left")
        self._place = ttk.Frame(self)
        self._place.pack(fill="x")
        self.cells: dict[str, TextEditor] = {}
        self._boxes: list[ttk.Frame] = []
        self._told = ttk.Label(self, style="Caption.TLabel")
        self._message = ttk.Label(self, style="Refused.TLabel")
        self.bind("<Configure>", lambda event: self._wrap(event.width))
        self._place.bind("<Configure>", lambda _event: self._flow())
        for editor in (self.kind, self.name, self.size_class, self.unit):
            self._listen(editor)

    def set(self, values: Mapping[str, Any]) -> None:
        """Show this line."""
        self._kept = dict(values)
        self.kind.set(values.get("kind"))
        self.name.set(values.get("name") or "")
        self.size_class.set(values.get("size_class") or None)
        self._show_kind()
        self.unit.set(values.get("unit") or None)
        self._tell()

    def values(self) -> dict[str, Any]:
        """What stands there, of the texts that its kind says."""
        return {
            "kind": self.kind.get(),
            "name": self.name.get(),
            "size_class": self.size_class.get() or "",
            "unit": self.unit.get() or "",
            **{name: cell.get() for name, cell in self.cells.items()},
        }

    def raw(self) -> Any:
        """What stands there, and what stood there before another kind was chosen."""
        return _raw_of({**self._kept, **self.values()})

    def filled(self) -> bool:
        """Whether anything stands there."""
        return bool(self.kind.get() or self.name.get()) or any(cell.get() for cell in self.cells.values())

    def message(self) -> str:
        """What is said to be wrong with it, or ""."""
        return str(self._message.cget("text"))

    def told(self) -> str:
        """What is told of its figures the other way, or ""."""
        return str(self._told.cget("text"))

    def focus_row(self) -> None:
        """Begin to fill in here: where it begins, or at its first figure if that is filled in."""
        first = next((each for each in (self.kind, self.name) if not each.filled()), None)
        (first or next(iter(self.cells.values()), self.name)).focus_field()

    def number(self, number: int, *, fresh: bool) -> None:
        """Say which line it is; the fresh one can't be taken out."""
        self._number.configure(text=f"{number}." if not fresh else "new")
        if fresh:
            self._take.pack_forget()
        else:
            self._take.pack(side="left")

    def check(self, *, whole: bool, name: str = "") -> None:
        """Say what is wrong with the line as a whole, or with one of its texts."""
        values = self.values()
        wrong = self._asks.figure_wrong(values, name) if name else ""
        if whole and not wrong:
            wrong = self._asks.line_wrong(values)
        self._message.configure(text=f"✕ {wrong}" if wrong else "")
        for each, cell in self.cells.items():
            cell.mark_wrong(bool(self._asks.figure_wrong(values, each)))
        if wrong:
            self._message.pack(fill="x", padx=(self._theme.px(34), 0))
        else:
            self._message.pack_forget()

    def _choice(
        self, parent: tk.Misc, name: str, width: int, choices: list[tuple[Any, str]], none: str
    ) -> ChoiceEditor:
        field = Field(name, name, FieldKind.CHOICE, choices=tuple(Choice(*each) for each in choices))
        editor = ChoiceEditor(parent, self._theme, field, none=none)
        editor.box.configure(width=width)
        return editor

    def _show_kind(self) -> None:
        """Show the texts that its kind says, with what stands in them already."""
        chosen = self.kind.get()
        if chosen == self._shown_for:
            return
        self._shown_for = chosen
        self._kept.update({name: cell.get() for name, cell in self.cells.items()})
        for box in self._boxes:
            box.destroy()
        self._boxes, self.cells = [], {}
        kind = self._asks.kind(chosen)
        units = kind.units if kind is not None else ()
        self.unit.offer(tuple(Choice(unit, unit) for unit in units))
        if units:
            self.unit.pack(
                side="left",
                padx=(0, self._theme.px(6)),
                after=self.size_class if self._asks.sizes else self.name,
            )
        else:
            self.unit.pack_forget()
        for cell in kind.cells if kind is not None else ():
            self._add_cell(cell)
        self._flow()

    def _add_cell(self, cell: Cell) -> None:
        box = ttk.Frame(self._place)
        ttk.Label(box, text=cell.word, style="Caption.TLabel").pack(anchor="w")
        editor = TextEditor(box, self._theme, Field(cell.name, cell.word))
        editor.entry.configure(width=cell.width)
        editor.pack(anchor="w")
        editor.set(self._kept.get(cell.name) or "")
        if cell.hint:
            explain(editor.entry, cell.hint)
        self.cells[cell.name] = editor
        self._boxes.append(box)
        self._listen(editor)

    def _listen(self, editor: ChoiceEditor | TextEditor) -> None:
        name = editor.field.name
        editor.on_change = partial(self._edited, name)
        entry = editor.box if isinstance(editor, ChoiceEditor) else editor.entry
        entry.bind("<Control-Delete>", lambda _event: self._take_by_key(), add="+")
        entry.bind("<FocusOut>", lambda _event: self.after_idle(self._left, name), add="+")

    def _edited(self, name: str) -> None:
        if name == "kind":
            self._show_kind()
        self._tell()
        if self.message():
            self.check(whole=True, name=name)
        self._on_change()

    def _left(self, name: str) -> None:
        if not self.winfo_exists() or not self.filled():
            return
        focus = str(self.tk.call("focus"))
        # With the focus in another window nothing has been left for good.
        if focus:
            self.check(whole=not f"{focus}.".startswith(f"{self}."), name=name)

    def _tell(self) -> None:
        words = self._asks.told(self.values())
        self._told.configure(text=words)
        if words:
            self._told.pack(fill="x", padx=(self._theme.px(34), 0), after=self._place)
        else:
            self._told.pack_forget()

    def _take_by_key(self) -> str:
        self._take_out()
        return "break"

    def _take_out(self) -> None:
        self._on_take(self)

    def _flow(self) -> None:
        """Lay the texts out as words in a paragraph, a little in from the left."""
        gap, indent = self._theme.px(GAP), self._theme.px(34)
        room = self._place.winfo_width()
        left, top, height = indent, 0, 0
        for box in self._boxes:
            width, height = box.winfo_reqwidth(), box.winfo_reqheight()
            if left > indent and left + width > room > 1:
                left, top = indent, top + height + gap // 2
            box.place(x=left, y=top)
            left += width + gap
        self._place.configure(height=top + height or 1)

    def _wrap(self, width: int) -> None:
        for label in (self._told, self._message):
            label.configure(wraplength=max(width - self._theme.px(40), self._theme.px(WRAP_MIN)))


def _raw_of(values: Mapping[str, Any]) -> Any:
    return tuple(sorted((name, str(value)) for name, value in values.items() if value not in (None, "")))
