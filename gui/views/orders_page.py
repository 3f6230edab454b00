"""The page of what binds an engine or puts it in doubt: a list, and beneath it more of the chosen row."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from functools import partial
from tkinter import ttk

from gui.job import Job
from gui.shown import Deed, Page, Row, Sort
from gui.view import Context
from gui.views.engine_orders import COLUMNS, NO_ENGINE, NOTHING, OrderKey, head_of, orders_page
from gui.views.engines_presenter import EnginesPresenter
from gui.widgets.deed_bar import DeedBar
from gui.widgets.table import Table


class OrdersPage(ttk.Frame):
    """Shows the orders that the presenter holds.

    ``deeds_for`` says what may be done with some rows, by their keys; the first is done by Enter.
    ``on_leave`` is Escape.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        presenter: EnginesPresenter,
        *,
        deeds_for: Callable[[list[OrderKey]], list[Deed]],
        on_leave: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self._presenter, self._deeds_for = presenter, deeds_for
        theme = context.theme
        px = theme.px
        self._head = ttk.Label(self)
        self._head.pack(fill="x", pady=(0, px(4)))
        self._said = ttk.Label(self, style="Dim.TLabel")
        self.bar = DeedBar(self, theme)
        for label in (self._head, self._said):
            label.bind("<Configure>", lambda event: event.widget.configure(wraplength=event.width))
        self.table = Table(
            self,
            theme,
            context.background,
            COLUMNS,
            self._fetch,
            empty=NO_ENGINE,
            many="rows",
            one="row",
            widths=context.prefs.widths.get("engine orders"),
            on_widths=partial(context.prefs.keep_widths, "engine orders"),
            on_open=lambda _row: self._open(),
            on_choose=self._chose,
            deeds_for=lambda rows: deeds_for(keys_of(rows)),
            say=context.say,
        )
        self.bar.pack(side="bottom", fill="x", pady=(px(6), 0))
        # Tab goes from part to part as they were raised: from the list on to what may be done with its row.
        self.bar.lift()
        self._said.pack(side="bottom", fill="x", pady=(px(4), 0))
        self.table.pack(fill="both", expand=True)
        self.table.tree.bind("<Escape>", lambda _event: on_leave())

    def show(self) -> None:
        """Show them as they are read by now."""
        orders = self._presenter.orders
        self._head.configure(text=head_of(orders))
        self.table.say_if_empty(NO_ENGINE if self._presenter.engine is None else NOTHING)
        self.table.refresh()

    def focus_rows(self) -> None:
        """Walk the rows from here on."""
        self.table.focus_rows()

    def chosen(self) -> list[OrderKey]:
        """The keys of the chosen rows."""
        return keys_of(self.table.chosen())

    def told(self) -> str:
        """What is told beneath the list of the chosen row."""
        return str(self._said.cget("text"))

    def _chose(self, rows: list[Row]) -> None:
        orders = self._presenter.orders
        said = orders.details.get(rows[0].key, "") if orders is not None and len(rows) == 1 else ""
        self._said.configure(text=said)
        self.bar.show(self._deeds_for(keys_of(rows)))

    def _open(self) -> None:
        deeds = self._deeds_for(self.chosen())
        if deeds:
            deeds[0].run()

    def _fetch(self, _job: Job, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        return orders_page(self._presenter.orders, offset, limit, sort, words)


def keys_of(rows: Sequence[Row]) -> list[OrderKey]:
    """The keys of some rows."""
    return [row.key for row in rows]
