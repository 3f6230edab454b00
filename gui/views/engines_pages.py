"""The right side of the Engines view: stations, log, what falls due, and what binds the engine."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from functools import partial
from tkinter import ttk

from gui.job import Job
from gui.shown import Deed, DueBar, Empty, FilledStation, Page, Row, Sort
from gui.view import Context
from gui.views.due_bars import bars_of
from gui.views.engine_orders import OrderKey
from gui.views.engines_presenter import (
    DUE,
    LOG,
    MONTHS_AHEAD,
    ORDERS,
    STATIONS,
    EnginesPresenter,
    due_words,
)
from gui.views.log_rows import COLUMNS, NO_ENGINE, empty_log, log_page
from gui.views.orders_page import OrdersPage
from gui.widgets.cylinder_map import CylinderMap
from gui.widgets.deed_bar import DeedBar
from gui.widgets.due_chart import DueChart
from gui.widgets.empty_note import EmptyNote
from gui.widgets.filter_bar import FilterBar
from gui.widgets.station_rows import StationRows
from gui.widgets.table import Table
from gui.widgets.tip import explain

NOTHING_DUE = Empty(
    f"Nothing falls due within {MONTHS_AHEAD // 12} years, as far as limits and directives are recorded.",
    "It fills as engines run, as limits of life are set for parts, and as directives are entered.",
)
NOTHING_FITS = Empty("Nothing that falls due fits.", "Use fewer words, or Escape in the filter to see all.")


class EnginePages(ttk.Frame):
    """Four pages, and above them buttons for what may be done.

    ``deeds`` gives what may be done with the engine, ``deeds_for`` with some stations, ``deeds_of_entry``
    with a line of the log (by its entry's number), ``deeds_of_due`` with a line of the due list, and
    ``deeds_of_orders`` with rows of what binds the engine. ``on_open`` gets a station on which Enter is
    pressed, ``on_due`` a due line; ``on_page`` hears which page is in front.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        presenter: EnginesPresenter,
        *,
        deeds: Callable[[], list[Deed]],
        deeds_for: Callable[[list[FilledStation]], list[Deed]],
        deeds_of_entry: Callable[[int], list[Deed]],
        deeds_of_due: Callable[[DueBar], list[Deed]],
        deeds_of_orders: Callable[[list[OrderKey]], list[Deed]],
        on_open: Callable[[FilledStation], None],
        on_due: Callable[[DueBar], None],
        on_page: Callable[[str], None],
        on_leave: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self._context, self._presenter = context, presenter
        self._deeds, self._on_page = deeds, on_page
        theme, px = context.theme, context.theme.px
        self.bar = DeedBar(self, theme)
        self.bar.pack(fill="x", pady=(0, px(6)))
        self.pages = ttk.Notebook(self)
        self.pages.pack(fill="both", expand=True)
        self._names = (STATIONS, LOG, DUE, ORDERS)
        self._build_stations(deeds_for, on_open, on_leave)
        self._build_log(deeds_of_entry, on_leave)
        self._build_due(deeds_of_due, on_due, on_leave)
        page = self._page("Orders and limits", "Ctrl+U")
        self.orders = OrdersPage(page, context, presenter, deeds_for=deeds_of_orders, on_leave=on_leave)
        self.orders.pack(fill="both", expand=True)
        self.pages.bind("<<NotebookTabChanged>>", lambda _event: self._on_page(self.page()))

    def page(self) -> str:
        """The name of the page in front."""
        return self._names[self.pages.index("current")]

    def go_to(self, name: str) -> None:
        """Bring that page to the front, and go on with the keys in it."""
        self.pages.select(self._names.index(name))
        self.update_idletasks()
        {
            STATIONS: self.rows.canvas.focus_set,
            LOG: self.log.focus_rows,
            DUE: self.chart.canvas.focus_set,
            ORDERS: self.orders.focus_rows,
        }[name]()

    def show_stations(self) -> None:
        """Show the stations of the chosen cylinder as they are read by now."""
        presenter = self._presenter
        stations = presenter.stations()
        self._title.configure(text=presenter.title())
        _tell(self._left_out, presenter.told_of_standings(), after=self._title)
        self._map.show(stations, presenter.shape())
        self.rows.show(stations)
        why = presenter.why_no_stations()
        if why is not None:
            self._no_station.show(why)
        else:
            self._no_station.hide()
        self.show_deeds()

    def show_log(self) -> None:
        """Show the log as it is read by now."""
        self._log_head.configure(text=self._presenter.told_of_log())
        self.log.say_if_empty(empty_log(self._presenter.log))
        self.log.show_from_start()

    def show_due(self) -> None:
        """Show the due list as it is read by now, as far as it fits what is asked for."""
        presenter, due = self._presenter, self._presenter.due
        if due is None:
            return
        lines = presenter.due_lines(self.own_alone())
        bars = bars_of(lines, presenter.sitting.today(), self._words)
        self.chart.show(bars, presenter.sitting.today(), due.soon_until)
        self.filter.count(due_words(bars, len(lines)))
        if bars:
            self._nothing_due.hide()
        else:
            self._nothing_due.show(NOTHING_FITS if lines else NOTHING_DUE)

    def show_day(self) -> None:
        """Say of which day each page is, as another day is shown."""
        self._log_head.configure(text=self._presenter.told_of_log())
        _tell(self._due_day, self._presenter.told_of_due(), after=self._due_head)

    def show_deeds(self) -> None:
        """Show the buttons that fit now."""
        self.bar.show(self._deeds())

    def own_alone(self) -> bool:
        """Whether only what falls due on the shown engine is asked for."""
        return bool(self.own.instate(["selected"]))

    def chosen_stations(self) -> list[FilledStation]:
        """The stations that are chosen."""
        return self.rows.chosen()

    def _build_stations(
        self,
        deeds_for: Callable[[list[FilledStation]], list[Deed]],
        on_open: Callable[[FilledStation], None],
        on_leave: Callable[[], None],
    ) -> None:
        theme = self._context.theme
        page = self._page("Stations", "Ctrl+T")
        self._title = ttk.Label(page, style="Subtitle.TLabel")
        self._title.pack(fill="x")
        self._left_out = _caption(page)
        body = ttk.Frame(page)
        body.pack(fill="both", expand=True, pady=(theme.px(4), 0))
        self._map = CylinderMap(body, theme, on_choose=self._choose_station)
        self._map.pack(side="left", fill="y")
        self.rows = StationRows(
            body,
            theme,
            on_choose=self._chose_stations,
            on_open=on_open,
            deeds_for=deeds_for,
            on_leave=on_leave,
        )
        self.rows.pack(side="left", fill="both", expand=True)
        self._no_station = EmptyNote(body, theme)

    def _build_log(self, deeds_of_entry: Callable[[int], list[Deed]], on_leave: Callable[[], None]) -> None:
        context = self._context
        page = self._page("Log", "Ctrl+L")
        self._log_head = ttk.Label(page)
        self._log_head.pack(fill="x", pady=(0, context.theme.px(4)))
        self._log_head.bind("<Configure>", lambda event: self._log_head.configure(wraplength=event.width))
        self.log = Table(
            page,
            context.theme,
            context.background,
            COLUMNS,
            self._fetch_log,
            empty=NO_ENGINE,
            many="lines",
            one="line",
            widths=context.prefs.widths.get("engine log"),
            on_widths=partial(context.prefs.keep_widths, "engine log"),
            deeds_for=lambda rows: deeds_of_entry(rows[0].key) if len(rows) == 1 else [],
            say=context.say,
        )
        self.log.pack(fill="both", expand=True)
        self.log.tree.bind("<Escape>", lambda _event: on_leave())

    def _build_due(
        self,
        deeds_of_due: Callable[[DueBar], list[Deed]],
        on_due: Callable[[DueBar], None],
        on_leave: Callable[[], None],
    ) -> None:
        theme = self._context.theme
        page = self._page("Due, all engines", "Ctrl+D")
        self._words = ""
        head = self._due_head = ttk.Frame(page)
        head.pack(fill="x", pady=(0, theme.px(4)))
        self._due_day = _caption(page)
        self.filter = FilterBar(head, theme, "lines", self._filter_due, lambda: self.go_to(DUE))
        self.filter.pack(side="left", fill="x", expand=True)
        self.own = ttk.Checkbutton(head, text="This engine alone", command=self.show_due)
        self.own.state(["!alternate"])
        self.own.pack(side="right")
        explain(self.own, "Show only what falls due on the engine in the picture")
        self.chart = DueChart(page, theme, on_open=on_due, deeds_for=deeds_of_due, on_leave=on_leave)
        self.chart.pack(fill="both", expand=True)
        self._nothing_due = EmptyNote(self.chart, theme)

    def _page(self, word: str, key: str) -> ttk.Frame:
        page = ttk.Frame(self.pages, padding=self._context.theme.pad(8, 6))
        self.pages.add(page, text=f"{word}  {key}")
        return page

    def _filter_due(self, words: str) -> None:
        self._words = words
        self.show_due()

    def _choose_station(self, key: object) -> None:
        self.rows.choose(key)
        self.rows.canvas.focus_set()

    def _chose_stations(self, rows: Sequence[FilledStation]) -> None:
        self._map.mark([row.key for row in rows])
        self.show_deeds()

    def _fetch_log(self, _job: Job, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        return log_page(self._presenter.log, offset, limit, sort, words)

    def chosen_line(self) -> Row | None:
        """The line of the log that is chosen, if it is one."""
        rows = self.log.chosen()
        return rows[0] if len(rows) == 1 else None


def _caption(parent: tk.Misc) -> ttk.Label:
    """A line of small words, wrapped to the width there is, that is not shown yet."""
    label = ttk.Label(parent, style="Caption.TLabel")
    label.bind("<Configure>", lambda event: label.configure(wraplength=event.width))
    return label


def _tell(label: ttk.Label, words: str, *, after: tk.Misc) -> None:
    """Show the words beneath what they are about; no words take no room."""
    label.configure(text=words)
    if words:
        label.pack(fill="x", after=after)
    else:
        label.pack_forget()
