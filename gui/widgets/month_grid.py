"""Figures by row and month, typed in as in a spreadsheet and saved together."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Hashable, Sequence
from tkinter import ttk

from gui.shown_grid import Changes, GridRow
from gui.theme import BODY, CAPTION, STRONG, Theme, has_focus
from gui.widgets.deed_menu import held
from gui.widgets.tip import PartTips
from invdb.terms import Refused

ROW_HEIGHT, HEAD_HEIGHT = 30, 28
CELL_WIDTH, NAME_WIDTH, SUM_WIDTH = 66, 190, 84
STANDING, CHANGED = "≈", "•"
WAYS = {"Left": (0, -1), "Right": (0, 1), "Up": (-1, 0), "Down": (1, 0), "Tab": (0, 1), "Return": (0, 1)}


class MonthGrid(ttk.Frame):
    """Arrows walk it; a figure typed on a cell changes it, Enter goes on to the next month.

    Del takes back what was given, Ctrl+R gives the figure to every later month too, Escape leaves a cell as
    it was. ``read`` gets what was typed and gives it as it is to be written, or raises Refused, which
    ``refuse`` gets in words; ``sum_of`` gives what a row comes to. ``on_change`` hears how many cells are
    changed and not saved, ``on_leave`` is Escape among the cells.
    """

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        *,
        read: Callable[[str], str],
        sum_of: Callable[[Sequence[str]], str],
        refuse: Callable[[str], None],
        on_change: Callable[[int], None] = lambda _count: None,
        on_leave: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__(parent)
        self._theme, self._read, self._sum_of, self._refuse = theme, read, sum_of, refuse
        self._on_change, self._on_leave = on_change, on_leave
        self._months: tuple[str, ...] = ()
        self._rows: tuple[GridRow, ...] = ()
        self._changes: dict[tuple[Hashable, int], str | None] = {}
        self._row = self._column = 0
        self._left = self._top = 0
        self.entry: ttk.Entry | None = None
        self.canvas = tk.Canvas(self, highlightthickness=0, borderwidth=0, takefocus=True)
        self.canvas.configure(width=theme.px(300), height=theme.px(HEAD_HEIGHT + 4 * ROW_HEIGHT))
        self._across = ttk.Scrollbar(self, orient="horizontal", command=self._scrolled_across)
        self._down = ttk.Scrollbar(self, orient="vertical", command=self._scrolled_down)
        self.canvas.grid(row=0, column=0, sticky="nsew")
        self.rowconfigure(0, weight=1)
        self.columnconfigure(0, weight=1)
        self._tips = PartTips(self.canvas)
        theme.draw_with(self.canvas, self._draw)
        self._listen()

    def show(self, months: Sequence[str], rows: Sequence[GridRow]) -> None:
        """Show these; what was typed and not saved yet stays where its row and month still are."""
        self._close()
        moved = {month: at for at, month in enumerate(months)}
        keys = {row.key for row in rows}
        before, self._months, self._rows = self._months, tuple(months), tuple(rows)
        self._changes = {
            (key, moved[before[column]]): text
            for (key, column), text in self._changes.items()
            if key in keys and before[column] in moved
        }
        self._row = max(0, min(self._row, len(rows) - 1))
        self._column = max(0, min(self._column, len(months) - 1))
        self._draw()
        self._on_change(len(self._changes))

    def changes(self) -> Changes:
        """What was typed and is not saved yet."""
        return dict(self._changes)

    def drop_changes(self) -> None:
        """Show all as it is on record."""
        self._close()
        self._changes = {}
        self._changed()

    def text_at(self, key: Hashable, column: int) -> str:
        """What a cell reads: what was typed, else what is on record."""
        row = next(row for row in self._rows if row.key == key)
        return self._changes.get((key, column), row.cells[column].text) or ""

    def cursor(self) -> tuple[Hashable, int] | None:
        """The row's key and the column one stands on."""
        return (self._rows[self._row].key, self._column) if self._rows and self._months else None

    def finish(self) -> bool:
        """Take what is being typed; False if it is no figure."""
        return self.entry is None or self._take()

    # Drawing

    def _shown_columns(self) -> int:
        px = self._theme.px
        room = self.canvas.winfo_width() - px(NAME_WIDTH + SUM_WIDTH)
        return max(1, min(room // px(CELL_WIDTH), len(self._months)))

    def _shown_rows(self) -> int:
        px = self._theme.px
        room = self.canvas.winfo_height() - px(HEAD_HEIGHT)
        return max(1, min(room // px(ROW_HEIGHT), len(self._rows)))

    def _draw(self) -> None:
        canvas, palette, px = self.canvas, self._theme.palette, self._theme.px
        canvas.configure(background=palette.ground)
        canvas.delete("all")
        if not self._rows or not self._months:
            return
        columns, rows = self._shown_columns(), self._shown_rows()
        self._left = max(0, min(self._left, len(self._months) - columns))
        self._top = max(0, min(self._top, len(self._rows) - rows))
        self._draw_head(columns)
        for place in range(rows):
            self._draw_row(place, self._rows[self._top + place], columns)
        self._draw_cursor()
        self._show_bar(self._across, self._left, columns, len(self._months), row=1, column=0, sticky="ew")
        self._show_bar(self._down, self._top, rows, len(self._rows), row=0, column=1, sticky="ns")
        right = px(NAME_WIDTH + SUM_WIDTH) + columns * px(CELL_WIDTH)
        canvas.create_line(0, px(HEAD_HEIGHT) - 1, right, px(HEAD_HEIGHT) - 1, fill=palette.line)

    def _draw_head(self, columns: int) -> None:
        palette, px = self._theme.palette, self._theme.px
        for place in range(columns):
            self.canvas.create_text(
                px(NAME_WIDTH) + (place + 1) * px(CELL_WIDTH) - px(8), px(HEAD_HEIGHT / 2), anchor="e",
                text=self._months[self._left + place], font=CAPTION, fill=palette.dim, tags="month",
            )  # fmt: skip
        self.canvas.create_text(
            px(NAME_WIDTH) + columns * px(CELL_WIDTH) + px(SUM_WIDTH - 8), px(HEAD_HEIGHT / 2), anchor="e",
            text="Altogether", font=CAPTION, fill=palette.dim,
        )  # fmt: skip

    def _draw_row(self, place: int, row: GridRow, columns: int) -> None:
        canvas, theme, palette, px = self.canvas, self._theme, self._theme.palette, self._theme.px
        top = px(HEAD_HEIGHT) + place * px(ROW_HEIGHT)
        middle = top + px(ROW_HEIGHT) / 2
        if self._top + place == self._row:
            right = px(NAME_WIDTH + SUM_WIDTH) + columns * px(CELL_WIDTH)
            canvas.create_rectangle(0, top, right, top + px(ROW_HEIGHT), fill=palette.shade, outline="")
        canvas.create_text(
            px(6), middle, anchor="w", text=theme.shortened(row.name, px(NAME_WIDTH - 12)), font=BODY,
            fill=palette.ink,
        )  # fmt: skip
        for at in range(columns):
            column = self._left + at
            text, font, colour = self._look_of(row, column)
            canvas.create_text(
                px(NAME_WIDTH) + (at + 1) * px(CELL_WIDTH) - px(8), middle, anchor="e", text=text, font=font,
                fill=colour, tags="cell",
            )  # fmt: skip
        whole = self._sum_of([self.text_at(row.key, column) for column in range(len(self._months))])
        canvas.create_text(
            px(NAME_WIDTH) + columns * px(CELL_WIDTH) + px(SUM_WIDTH - 8), middle, anchor="e", text=whole,
            font=BODY, fill=palette.dim, tags="sum",
        )  # fmt: skip

    def _look_of(self, row: GridRow, column: int) -> tuple[str, str, str]:
        """The words of a cell with its mark, its font and its colour."""
        palette = self._theme.palette
        if (row.key, column) in self._changes:
            text = self._changes[row.key, column]
            return f"{CHANGED} {text if text is not None else STANDING}", STRONG, palette.accent
        cell = row.cells[column]
        if cell.given:
            return cell.text, STRONG, palette.ink
        return f"{STANDING} {cell.text}" if cell.text else STANDING, BODY, palette.dim

    def _draw_cursor(self) -> None:
        palette, canvas, px = self._theme.palette, self.canvas, self._theme.px
        box = self._box()
        if box is not None:
            left, top, right, bottom = box
            colour = palette.accent if has_focus(canvas) else palette.line
            canvas.create_rectangle(
                left + 1, top + 1, right - 1, bottom - 1, outline=colour, width=px(1.5), tags="cursor"
            )

    def _box(self) -> tuple[int, int, int, int] | None:
        """Where the cell one stands on is drawn; None where it is out of sight."""
        px = self._theme.px
        across, down = self._column - self._left, self._row - self._top
        if not (0 <= across < self._shown_columns() and 0 <= down < self._shown_rows()):
            return None
        left, top = px(NAME_WIDTH) + across * px(CELL_WIDTH), px(HEAD_HEIGHT) + down * px(ROW_HEIGHT)
        return left, top, left + px(CELL_WIDTH), top + px(ROW_HEIGHT)

    def _show_bar(
        self, bar: ttk.Scrollbar, first: int, seen: int, count: int, *, row: int, column: int, sticky: str
    ) -> None:
        if seen >= count:
            bar.grid_forget()
        else:
            bar.set(first / count, (first + seen) / count)
            bar.grid(row=row, column=column, sticky=sticky)

    # What a person does

    def _listen(self) -> None:
        canvas = self.canvas
        canvas.bind("<KeyPress>", lambda event: "break" if self._pressed(event) else None)
        canvas.bind("<Button-1>", self._clicked)
        canvas.bind("<Double-Button-1>", lambda _event: self._begin(None))
        canvas.bind("<Motion>", self._moved)
        canvas.bind("<Leave>", lambda event: self._tips.pointed(event, ""))
        for change in ("<FocusIn>", "<FocusOut>"):
            canvas.bind(change, lambda _event: self._draw())
        for wheel, way in (("<Button-4>", -1), ("<Button-5>", 1)):
            canvas.bind(wheel, lambda _event, way=way: self._wheel(way))  # type: ignore[misc]
        canvas.bind("<MouseWheel>", lambda event: self._wheel(-1 if event.delta > 0 else 1))

    def _pressed(self, event: tk.Event[tk.Misc]) -> bool:
        if held(event):
            if event.keysym.lower() == "r" and int(event.state) & 0x4:
                self._fill_right()
                return True
            return False
        last = len(self._months) - 1
        ends = {"Home": 0, "End": last, "Prior": self._column - 12, "Next": self._column + 12}
        if event.keysym in WAYS and event.keysym not in ("Tab", "Return"):
            self._step(*WAYS[event.keysym])
        elif event.keysym in ends:
            self._go_to(self._row, ends[event.keysym])
        elif event.keysym in ("Return", "KP_Enter", "F2"):
            self._begin(None)
        elif event.keysym in ("Delete", "BackSpace"):
            self._give(None)
        elif event.keysym == "Escape":
            self._on_leave()
        elif event.char.isdigit() or event.char == ".":
            self._begin(event.char)
        else:
            return False
        return True

    def _clicked(self, event: tk.Event[tk.Misc]) -> None:
        if not self.finish():
            return
        self.canvas.focus_set()
        at = self._at(event.x, event.y)
        if at is not None:
            self._go_to(at[0], self._column if at[1] is None else at[1])

    def _moved(self, event: tk.Event[tk.Misc]) -> None:
        at = self._at(event.x, event.y)
        self._tips.pointed(event, self._rows[at[0]].told if at is not None else "")

    def _at(self, x: int, y: int) -> tuple[int, int | None] | None:
        """The row under that place, and the column unless it is the row's name or its sum."""
        px = self._theme.px
        down = (y - px(HEAD_HEIGHT)) // px(ROW_HEIGHT)
        if not self._rows or not 0 <= down < self._shown_rows():
            return None
        across = (x - px(NAME_WIDTH)) // px(CELL_WIDTH)
        return self._top + down, self._left + across if 0 <= across < self._shown_columns() else None

    def _step(self, down: int, across: int) -> None:
        self._go_to(self._row + down, self._column + across)

    def _go_to(self, row: int, column: int) -> None:
        self._row = max(0, min(row, len(self._rows) - 1))
        self._column = max(0, min(column, len(self._months) - 1))
        columns, rows = self._shown_columns(), self._shown_rows()
        self._left = min(max(self._left, self._column - columns + 1), self._column)
        self._top = min(max(self._top, self._row - rows + 1), self._row)
        self._draw()

    def _begin(self, letter: str | None) -> None:
        """Begin to type in the cell one stands on, with a letter or with what it reads."""
        cursor = self.cursor()
        if cursor is None or self.entry is not None:
            return
        self._go_to(self._row, self._column)
        box = self._box()
        assert box is not None, "the cell has just been brought into sight"
        left, top, right, bottom = box
        self.entry = entry = ttk.Entry(self.canvas, justify="right")
        entry.insert(0, self.text_at(*cursor) if letter is None else letter)
        entry.place(x=left, y=top, width=right - left, height=bottom - top)
        entry.focus_set()
        if letter is None:
            entry.selection_range(0, "end")
        for key in ("Return", "KP_Enter", "Tab", "Up", "Down"):
            entry.bind(f"<{key}>", lambda _event, key=key: self._take_and_step(key))  # type: ignore[misc]
        entry.bind("<Escape>", lambda _event: self._leave_cell())
        entry.bind("<FocusOut>", lambda _event: self.finish())

    def _take_and_step(self, key: str) -> str:
        if self._take():
            self.canvas.focus_set()
            self._step(*WAYS["Return" if key == "KP_Enter" else key])
        return "break"

    def _leave_cell(self) -> str:
        self._close()
        self.canvas.focus_set()
        return "break"

    def _take(self) -> bool:
        """Take what was typed into the cell; nothing typed takes back what was given."""
        assert self.entry is not None, "nothing is being typed"
        typed = self.entry.get().strip()
        try:
            text = self._read(typed) if typed else None
        except Refused as refused:
            self._refuse(str(refused))
            self.entry.state(["invalid"])
            return False
        self._close()
        self._give(text)
        return True

    def _close(self) -> None:
        if self.entry is not None:
            entry, self.entry = self.entry, None
            entry.destroy()

    def _give(self, text: str | None) -> None:
        if self._rows and self._months:
            self._put(self._column, text)
            self._changed()

    def _fill_right(self) -> None:
        cursor = self.cursor()
        if cursor is not None:
            text = self.text_at(*cursor)
            for column in range(self._column, len(self._months)):
                self._put(column, text)
            self._changed()

    def _put(self, column: int, text: str | None) -> None:
        row = self._rows[self._row]
        cell, at = row.cells[column], (row.key, column)
        if text == (cell.text if cell.given else None):
            self._changes.pop(at, None)
        else:
            self._changes[at] = text

    def _changed(self) -> None:
        self._draw()
        self._on_change(len(self._changes))

    def _wheel(self, way: int) -> str:
        self._top += way
        self._draw()
        return "break"

    def _scrolled_across(self, how: str, amount: str, unit: str = "") -> None:
        self._left = self._scrolled(how, amount, unit, self._left, self._shown_columns(), len(self._months))
        self._draw()

    def _scrolled_down(self, how: str, amount: str, unit: str = "") -> None:
        self._top = self._scrolled(how, amount, unit, self._top, self._shown_rows(), len(self._rows))
        self._draw()

    def _scrolled(self, how: str, amount: str, unit: str, first: int, seen: int, count: int) -> int:
        if how == "moveto":
            return round(float(amount) * count)
        return first + int(amount) * (seen if unit == "pages" else 1)
