"""A list of as many rows as there are: only those to be seen are made, and those near them fetched."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from tkinter import ttk
from typing import Any

from gui.background import Background
from gui.job import Job
from gui.shown import Column, Deed, Empty, Page, Row, Sort
from gui.signs import sign
from gui.theme import CHIP_COLUMN, ROW_HEIGHT, Theme
from gui.widgets.deed_menu import key_as_written, pop_up
from gui.widgets.empty_note import EmptyNote
from gui.widgets.filter_bar import FilterBar
from gui.widgets.paged_rows import PagedRows
from gui.widgets.selection import Selection
from invdb.terms import Refused

COPIED_ROWS_MAX = 50_000
# The headings, and the room that the theme leaves above and beneath the rows.
HEADING_HEIGHT = 38
WHEEL_ROWS = 3

Fetch = Callable[[Job, int, int, Sort | None, str], Page]


@dataclass(frozen=True)
class Pictured:
    """A picture at the beginning of each row: its heading, its width at 100 %, and the drawing of it."""

    word: str
    width: int
    draw: Callable[[Row], tk.PhotoImage]


class Table(ttk.Frame):
    """Rows fetched as one scrolls, sorted by a heading, filtered as one types.

    ``fetch(job, offset, limit, sort, words)`` runs on a worker and gives a :class:`Page`; it must use plain
    values only. ``deeds_for(rows)`` names what fits the chosen rows, for the menu and the keys. ``on_open``
    is Enter or a double click, ``on_choose`` any change of what is chosen (the rows that have arrived), and
    ``on_widths`` hears the columns' widths at 100 % when a person has changed them. ``many`` and ``one``
    are the words for what is counted. ``say`` gets a sentence for the window's line. Where ``pictured`` is
    given, each row begins with its picture beneath a heading of its own, in place of the disc of its sign.
    """

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        background: Background,
        columns: Sequence[Column],
        fetch: Fetch,
        *,
        empty: Empty,
        many: str = "rows",
        one: str = "row",
        sort: Sort | None = None,
        widths: Mapping[str, int] | None = None,
        on_widths: Callable[[dict[str, int]], None] = lambda _widths: None,
        on_open: Callable[[Row], None] = lambda _row: None,
        on_choose: Callable[[list[Row]], None] = lambda _rows: None,
        deeds_for: Callable[[list[Row]], list[Deed]] = lambda _rows: [],
        say: Callable[[str], None] = lambda _sentence: None,
        pictured: Pictured | None = None,
    ) -> None:
        super().__init__(parent)
        self._theme, self._background, self._pictured = theme, background, pictured
        self._columns, self._empty = tuple(columns), empty
        self._many, self._one = many, one
        self._rows = PagedRows(f"table{self}", background, fetch, self._arrived, self._refused)
        self._rows.sort = sort
        self._on_widths, self._on_open, self._on_choose = on_widths, on_open, on_choose
        self._deeds_for, self._say = deeds_for, say
        self._top = 0
        self._key_to_keep: Any = None
        self._selection = Selection()
        self._build(widths or {})
        self.refresh()

    def refresh(self, choose: Any = None) -> None:
        """Read the list again; the chosen row stays chosen if it is still near where it was.

        ``choose`` is the key of a row to be chosen instead, if it is to be seen from here.
        """
        chosen = self.chosen()
        self._key_to_keep = choose or (chosen[0].key if len(chosen) == 1 else None)
        self._rows.read_again(self._top)

    def show_from_start(self, choose: Any = None) -> None:
        """Read the list again from its first row with nothing chosen, as when a view's own filters change.

        ``choose`` is the key of a row to be chosen if it is among the first.
        """
        self._top = 0
        self._selection.clear()
        self._choice_changed()
        self.refresh(choose)

    def filter_by(self, words: str) -> None:
        """Put words into the filter, as if they had been typed."""
        self.bar.set(words)

    def say_if_empty(self, empty: Empty) -> None:
        """Say that from now on where there is no row at all."""
        self._empty = empty
        self._fill()

    def chosen(self) -> list[Row]:
        """The chosen rows, as far as they have arrived, in the order of the list."""
        return self._rows.here(self._selection)

    def chosen_count(self) -> int:
        """How many rows are chosen, those among them that have not arrived."""
        return self._selection.count()

    def choose(self, index: int) -> None:
        """Choose the row at that place, counted from 0, and bring it into sight."""
        self._selection.set(max(0, min(index, self._rows.fitting - 1)))
        self._see(self._selection.cursor)
        self._choice_changed()
        self._fill()

    def choose_none(self) -> None:
        """Choose no row any more; what is in sight stays."""
        self._selection.clear()
        self._choice_changed()
        self._fill()

    def order(self) -> Sort | None:
        """By what the rows are sorted."""
        return self._rows.sort

    def words(self) -> str:
        """The words that the rows are filtered by."""
        return self._rows.words

    def focus_rows(self) -> None:
        """Walk the rows from here on."""
        self.tree.focus_set()

    def count(self) -> tuple[int, int]:
        """How many rows fit the filter, and how many there are."""
        return self._rows.fitting, self._rows.total

    def _build(self, widths: Mapping[str, int]) -> None:
        px = self._theme.px
        self.bar = FilterBar(self, self._theme, self._many, self._filtered, self.focus_rows)
        self.bar.pack(fill="x", pady=(0, px(6)))
        body = ttk.Frame(self)
        body.pack(fill="both", expand=True)
        names = [column.name for column in self._columns]
        self.tree = ttk.Treeview(
            body, columns=names, show="tree headings", selectmode="none", height=3, style="List.Treeview"
        )
        first = CHIP_COLUMN if self._pictured is None else self._pictured.width
        self.tree.column("#0", width=px(first), minwidth=px(first), stretch=False)
        if self._pictured is not None:
            self.tree.heading("#0", text=self._pictured.word)
            self.tree.bind("<<ThemeChanged>>", lambda _event: self._fill(), add="+")
        self._scroll = ttk.Scrollbar(body, orient="vertical", command=self._scrolled)
        self._across = ttk.Scrollbar(body, orient="horizontal", command=self.tree.xview)
        self.tree.configure(xscrollcommand=self._across_moved)
        self.tree.grid(row=0, column=0, sticky="nsew")
        self._scroll.grid(row=0, column=1, sticky="ns")
        body.rowconfigure(0, weight=1)
        body.columnconfigure(0, weight=1)
        for column in self._columns:
            width = px(widths.get(column.name, column.width))
            anchor: Any = "e" if column.right else "w"
            last = column is self._columns[-1]
            self.tree.column(column.name, width=width, minwidth=px(40), anchor=anchor, stretch=last)
            self.tree.heading(column.name, anchor=anchor)
            if column.sort:
                self.tree.heading(column.name, command=partial(self.sort_by, column.name))
        self._show_sort()
        self._widths = self._widths_now()
        self._nothing = EmptyNote(self.tree, self._theme)
        self._listen()

    def _listen(self) -> None:
        tree = self.tree
        tree.bind("<Configure>", lambda _event: self._fill())
        tree.bind("<KeyPress>", self._key)
        tree.bind("<ButtonPress-1>", self._clicked)
        tree.bind("<ButtonRelease-1>", self._released, add="+")
        tree.bind("<Double-Button-1>", self._double_clicked)
        tree.bind("<Button-3>", self._menu_at)
        tree.bind("<MouseWheel>", lambda event: self._wheel(-1 if event.delta > 0 else 1))
        tree.bind("<Button-4>", lambda _event: self._wheel(-1))
        tree.bind("<Button-5>", lambda _event: self._wheel(1))
        tree.bind("<FocusIn>", lambda _event: self._focused())
        for keys in ("<Menu>", "<Shift-F10>", "<App>"):
            # The menu key is called Menu on one window system and App on another.
            if keys != "<App>" or tree.tk.call("tk", "windowingsystem") == "win32":
                tree.bind(keys, self._menu_by_key)
        self.bind("<Destroy>", self._gone, add="+")

    def _visible(self) -> int:
        room = self.tree.winfo_height() - self._theme.px(HEADING_HEIGHT)
        return max(1, room // self._theme.px(ROW_HEIGHT))

    def _arrived(self, number: int) -> None:
        self._keep_choice(number)
        self._count()
        self._fill()

    def _keep_choice(self, number: int) -> None:
        if self._key_to_keep is None:
            self._selection.clamp(self._rows.fitting)
            return
        place = self._rows.place_of(self._key_to_keep, number)
        self._key_to_keep = None
        if place is None:
            self._selection.clear()
        else:
            self._selection.set(place)
        self._choice_changed()

    def _refused(self, refused: Refused) -> None:
        self._fill()
        self._nothing.show(Empty(refused.reason, refused.remedy))

    def _fill(self) -> None:
        """Put the rows in sight into the tree, and ask for those that are not here yet."""
        visible = self._visible()
        self._top = max(0, min(self._top, self._rows.fitting - visible))
        items = self.tree.get_children()
        needed = min(visible, self._rows.fitting)
        for place in range(len(items), needed):
            self.tree.insert("", "end", iid=str(place))
        if len(items) > needed:
            self.tree.delete(*items[needed:])
        chosen = []
        for place in range(needed):
            index = self._top + place
            row = self._rows.row(index)
            if row is None:
                self._rows.want(index)
            cells = row.cells if row else ("…",)
            self.tree.item(str(place), values=cells, image=self._image_of(row))
            if self._selection.has(index):
                chosen.append(str(place))
        self.tree.selection_set(chosen)
        if self._rows.fitting:
            self._scroll.set(
                self._top / self._rows.fitting, min(1.0, (self._top + visible) / self._rows.fitting)
            )
        else:
            self._scroll.set(0, 1)
        if self._rows.answered and not self._rows.fitting:
            self._nothing.show(self._why_nothing())
        else:
            self._nothing.hide()

    def _image_of(self, row: Row | None) -> tk.PhotoImage | str:
        if row is None:
            return ""
        if self._pictured is not None:
            return self._pictured.draw(row)
        return self._theme.chip(sign(row.sign).hue) if row.sign else ""

    def _why_nothing(self) -> Empty:
        words, total = self._rows.words, self._rows.total
        if not words or not total:
            return self._empty
        none_fits = f"None of the {total:,} {self._many} fits “{words}”."
        if total == 1:
            none_fits = f"The only {self._one} does not fit “{words}”."
        return Empty(none_fits, "Use fewer words, or Escape in the filter to see all.")

    def _count(self) -> None:
        word = self._one if self._rows.total == 1 else self._many
        if self._rows.fitting == self._rows.total:
            text = f"{self._rows.total:,} {word}"
        else:
            text = f"{self._rows.fitting:,} of {self._rows.total:,} {word}"
        chosen = self._selection.count()
        self.bar.count(f"{text}, {chosen:,} chosen" if chosen > 1 else text)

    def sort_by(self, name: str) -> None:
        """Sort by that column; a second time, the other way round."""
        again = self._rows.sort is not None and self._rows.sort.column == name
        self._rows.sort = Sort(name, again and self._rows.sort is not None and not self._rows.sort.descending)
        self._show_sort()
        self.show_from_start()

    def _show_sort(self) -> None:
        for column in self._columns:
            arrow = ""
            if self._rows.sort is not None and self._rows.sort.column == column.name:
                arrow = "  ▼" if self._rows.sort.descending else "  ▲"
            self.tree.heading(column.name, text=column.word + arrow)

    def _filtered(self, words: str) -> None:
        self._rows.words = words
        self.show_from_start()

    def _scrolled(self, how: str, amount: str, unit: str = "") -> None:
        if how == "moveto":
            self._top = round(float(amount) * self._rows.fitting)
        else:
            self._top += int(amount) * (self._visible() if unit == "pages" else 1)
        self._fill()

    def _across_moved(self, first: float, last: float) -> None:
        self._across.set(first, last)
        if float(first) <= 0 and float(last) >= 1:
            self._across.grid_forget()
        else:
            self._across.grid(row=1, column=0, sticky="ew")

    def _wheel(self, way: int) -> str:
        self._top += way * WHEEL_ROWS
        self._fill()
        return "break"

    def _see(self, index: int) -> None:
        visible = self._visible()
        if index < self._top:
            self._top = index
        elif index >= self._top + visible:
            self._top = index - visible + 1

    def _focused(self) -> None:
        if self._selection.count() == 0 and self._rows.fitting:
            self.choose(self._top)

    def _choice_changed(self) -> None:
        self._count()
        self._on_choose(self.chosen())

    def _move(self, index: int, extend: bool) -> None:
        if not self._rows.fitting:
            return
        index = max(0, min(index, self._rows.fitting - 1))
        if extend:
            self._selection.extend(index)
        else:
            self._selection.set(index)
        self._see(index)
        self._choice_changed()
        self._fill()

    def _key(self, event: tk.Event[tk.Misc]) -> str | None:
        shift = bool(int(event.state) & 0x1)
        control = bool(int(event.state) & 0x4)
        page, cursor = self._visible(), self._selection.cursor
        if self._selection.count() == 0 and event.keysym in ("Up", "Down"):
            # With nothing chosen yet the first step is onto where one stands, not past it.
            self._move(cursor, False)
            return "break"
        target = {
            "Up": cursor - 1,
            "Down": cursor + 1,
            "Prior": cursor - page,
            "Next": cursor + page,
            "Home": 0,
            "End": self._rows.fitting - 1,
        }.get(event.keysym)
        if target is not None:
            self._move(target, shift)
        elif control and not shift and event.keysym.lower() == "a":
            self._selection.set(0)
            self._move(self._rows.fitting - 1, True)
        elif control and not shift and event.keysym.lower() == "c":
            self.copy()
        elif event.keysym in ("Return", "KP_Enter") and not control:
            self._open()
        elif self._do_by_key(event):
            pass
        elif event.char.isprintable() and event.char not in ("", " ", "/") and not key_as_written(event):
            self.bar.begin(event.char)
        else:
            return None
        return "break"

    def _do_by_key(self, event: tk.Event[tk.Misc]) -> bool:
        written = key_as_written(event)
        for deed in self._deeds_for(self.chosen()) if written else []:
            if deed.key == written:
                deed.run()
                return True
        return False

    def _index_at(self, y: int) -> int | None:
        item = self.tree.identify_row(y)
        return self._top + int(item) if item else None

    def _clicked(self, event: tk.Event[tk.Misc]) -> str | None:
        if self.tree.identify_region(event.x, event.y) != "cell":
            return None
        index = self._index_at(event.y)
        if index is not None:
            if int(event.state) & 0x4:
                self._selection.toggle(index)
                self._choice_changed()
                self._fill()
            else:
                self._move(index, bool(int(event.state) & 0x1))
        self.tree.focus_set()
        return "break"

    def _released(self, _event: object) -> None:
        widths = self._widths_now()
        if widths != self._widths:
            self._widths = widths
            self._on_widths(widths)

    def _widths_now(self) -> dict[str, int]:
        scale = self._theme.scale
        return {
            column.name: round(self.tree.column(column.name, "width") / scale) for column in self._columns
        }

    def _double_clicked(self, event: tk.Event[tk.Misc]) -> str | None:
        if self.tree.identify_region(event.x, event.y) != "cell":
            return None
        self._open()
        return "break"

    def _open(self) -> None:
        row = self._rows.row(self._selection.cursor)
        if row is not None:
            self._on_open(row)

    def _menu_at(self, event: tk.Event[tk.Misc]) -> None:
        index = self._index_at(event.y)
        self.tree.focus_set()
        if index is not None and not self._selection.has(index):
            self._move(index, False)
        self._menu(event.x_root, event.y_root)

    def _menu_by_key(self, _event: object) -> str:
        place = self._selection.cursor - self._top
        box = self.tree.bbox(str(place)) if self.tree.exists(str(place)) else ""
        x, y = (box[0], box[1] + box[3]) if box else (0, 0)
        self._menu(self.tree.winfo_rootx() + x + self._theme.px(24), self.tree.winfo_rooty() + y)
        return "break"

    def _menu(self, x: int, y: int) -> None:
        deeds = self._deeds_for(self.chosen())
        always = [Deed("Copy", self.copy, "Ctrl+C")]
        sorts = [
            Deed(f"By {column.word.lower()}", partial(self.sort_by, column.name))
            for column in self._columns
            if column.sort
        ]
        pop_up(self, x, y, [deeds, always if self._selection.count() else []], {"Sort": sorts})

    def copy(self) -> None:
        """Put the chosen rows on the clipboard as a spreadsheet pastes them: tabs between, headings first."""
        count = self._selection.count()
        if count > COPIED_ROWS_MAX:
            self._say(
                f"{count:,} rows are chosen and {COPIED_ROWS_MAX:,} can be copied at once: choose fewer."
            )
            return
        indices = self._selection.indices(self._rows.fitting)
        if not indices:
            return
        gather, sort, words = self._rows.gathered, self._rows.sort, self._rows.words
        headings = tuple(column.word for column in self._columns)

        def pasted(job: Job) -> str:
            rows = [headings, *(row.cells for row in gather(job, indices, sort, words))]
            return "\n".join("\t".join(" ".join(cell.split()) for cell in cells) for cells in rows)

        def copied(text: str) -> None:
            self.clipboard_clear()
            self.clipboard_append(text)
            self._say(f"Copied {len(indices):,} {self._one if len(indices) == 1 else self._many}.")

        self._background.ask(f"copy{self}", pasted, copied, doing="the copying")

    def _gone(self, event: tk.Event[tk.Misc]) -> None:
        if event.widget is self:
            self._rows.forget()
            self._background.forget(f"copy{self}")
