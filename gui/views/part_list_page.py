"""A page of a part that is a list: its rows, more of the chosen one, and what may be done with it."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from functools import partial
from tkinter import ttk

from gui.shown import Column, Deed, Empty, Row
from gui.view import Context
from gui.widgets.deed_bar import DeedBar
from gui.widgets.table import Fetch, Table


class PartListPage(ttk.Frame):
    """``fetch`` gives the rows, ``told_of`` what else there is to say of one. ``deeds_for`` says what may be
    done with what is chosen (None: nothing), ``on_open`` is Enter on a row, and ``on_leave`` Escape.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        name: str,
        columns: Sequence[Column],
        fetch: Fetch,
        *,
        empty: Empty,
        words: tuple[str, str],
        told_of: Callable[[Row], str],
        deeds_for: Callable[[Row | None], list[Deed]],
        on_open: Callable[[Row], None],
        on_leave: Callable[[], None],
        on_choose: Callable[[Row | None], None] = lambda _row: None,
    ) -> None:
        super().__init__(parent)
        self._told_of, self._deeds_for, self._on_choose = told_of, deeds_for, on_choose
        theme, px = context.theme, context.theme.px
        self._px = px
        self.head = ttk.Label(self)
        self._said = ttk.Label(self, style="Dim.TLabel")
        for label in (self.head, self._said):
            label.bind("<Configure>", lambda event: event.widget.configure(wraplength=event.width))
        one, many = words
        self.table = Table(
            self,
            theme,
            context.background,
            columns,
            fetch,
            empty=empty,
            one=one,
            many=many,
            widths=context.prefs.widths.get(name),
            on_widths=partial(context.prefs.keep_widths, name),
            on_open=on_open,
            on_choose=lambda rows: self._chose(rows[0] if len(rows) == 1 else None),
            deeds_for=lambda rows: deeds_for(rows[0] if len(rows) == 1 else None),
            say=context.say,
        )
        self.bar = DeedBar(self, theme)
        self.bar.pack(side="bottom", fill="x", pady=(px(6), 0))
        # Tab goes from part to part as they were raised: from the list on to what may be done with its row.
        self.bar.lift()
        self.table.pack(fill="both", expand=True)
        self.table.tree.bind("<Escape>", lambda _event: on_leave())

    def show(self, empty: Empty, head: str = "") -> None:
        """Show the rows as they are read by now; ``empty`` is said where there are none."""
        self.head.configure(text=head)
        if head:
            self.head.pack(fill="x", pady=(0, self._px(4)), before=self.table)
        else:
            self.head.pack_forget()
        self.table.say_if_empty(empty)
        self.table.refresh()
        self._chose(self.chosen())

    def chosen(self) -> Row | None:
        """The chosen row, if it is one."""
        rows = self.table.chosen()
        return rows[0] if len(rows) == 1 else None

    def told(self) -> str:
        """What is told of the chosen row."""
        return str(self._said.cget("text"))

    def focus_page(self) -> None:
        """Walk the rows from here on."""
        self.table.focus_rows()

    def show_deeds(self) -> None:
        """Show the buttons that fit what is chosen."""
        self.bar.show(self._deeds_for(self.chosen()))

    def _chose(self, row: Row | None) -> None:
        said = self._told_of(row) if row is not None else ""
        self._said.configure(text=said)
        if said:
            self._said.pack(side="bottom", fill="x", pady=(self._px(4), 0), before=self.table)
        else:
            self._said.pack_forget()
        self.show_deeds()
        self._on_choose(row)
