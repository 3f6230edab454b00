"""The Bench view: kits, inspections, how a whole engine fits together, what is out for work, instruments."""

from __future__ import annotations

import queue
import tkinter as tk
from collections.abc import Callable
from functools import partial
from tkinter import ttk
from typing import Any

from gui.shown import Deed
from gui.sitting import Sitting
from gui.view import Context
from gui.views.bench_engine import EnginePane
from gui.views.bench_kit import KitPane
from gui.views.bench_pages import FITS, INSPECTION, INSTRUMENTS, KIT, WORK, BenchPages
from gui.views.bench_presenter import HELP, BenchPresenter
from gui.views.fits_pane import FitsPane
from gui.views.fits_presenter import FitsPresenter
from gui.views.inspection_pane import PAST_KEY, InspectionPane
from gui.views.inspection_presenter import InspectionPresenter
from gui.views.instruments_page import InstrumentsPage
from gui.views.instruments_presenter import InstrumentsPresenter
from gui.views.kit_sheet_pulls import PulledKit
from gui.views.waiting_pane import WaitingPane
from gui.views.work_page import WorkPage
from gui.views.work_presenter import WorkPresenter
from gui.widgets.save_where import ask_where_to_save
from gui.widgets.shared_keys import share_keys
from invdb.acts.engine_list import ListedEngine
from invdb.acts.kit_outlook import PositionOutlook
from invdb.acts.pick_list import PullSummary

PICTURE_SHARE = 0.34
GAP = 12


class BenchView:
    """Kits of an engine, to be reserved, issued and fitted; the inspection of a piece; fits by cylinder."""

    name, word, mark, help_text = "bench", "Bench", "bench", HELP

    def __init__(
        self, sitting: Sitting, ask_where: Callable[[tk.Misc, str, str], str] = ask_where_to_save
    ) -> None:
        self.presenter = BenchPresenter(sitting)
        self.inspection_presenter = InspectionPresenter(sitting)
        self._sitting = sitting
        self._ask_where = ask_where
        self._sash_set = False
        self._to_rows = False
        self._waiting: Callable[[], None] | None = None

    def build(self, parent: tk.Misc, context: Context) -> tk.Widget:
        """The engine, or what waits for inspection, at the left, the pages at the right, a sash between."""
        self._context = context
        self.frame = ttk.Frame(parent)
        self._panes = ttk.Panedwindow(self.frame, orient="horizontal")
        self._panes.pack(fill="both", expand=True)
        left = ttk.Frame(self._panes, padding=(0, 0, context.theme.px(GAP), 0))
        self.pages = BenchPages(self._panes, context.theme, on_page=self._page_shown)
        self.engine_pane = EnginePane(
            left,
            context,
            self.presenter,
            on_engine=self.show_engine,
            on_group=self._show_group,
            on_ask=self._ask_for,
            on_add=self._ask_for_too,
            on_all=self._ask_for_all,
            on_pull=self._show_pull,
        )
        self.engine_pane.pack(fill="both", expand=True)
        self.kit = KitPane(
            self.pages.page(KIT),
            context,
            self._sitting,
            self.presenter,
            ask_where=self._ask_where,
            on_asked=self.engine_pane.show_picture,
            on_acted=self._read_outlook,
            on_pulled=self._show_engine_of,
            on_leave=self.engine_pane.picture.focus_set,
            deeds=self.pages.deeds(),
        )
        self.kit.pack(fill="both", expand=True)
        self._build_inspection_and_work(left)
        self.fits = FitsPane(
            self.pages.page(FITS),
            context,
            self.presenter,
            FitsPresenter(self._sitting),
            on_kit=self._show_kit_of,
            on_leave=self.engine_pane.picture.focus_set,
        )
        self.fits.pack(fill="both", expand=True)
        self._panes.add(left, weight=3)
        self._panes.add(self.pages, weight=5)
        self._panes.bind("<Configure>", lambda _event: self._set_sash())
        self._listen()
        return self.frame

    def on_show(self) -> None:
        """Read what may have changed meanwhile; a proposal stays as it was left, pulls are read again."""
        self._read_engines()
        if self.kit.pulled:
            self.kit.refresh()
        self.waiting.table.refresh()
        self.work.read()
        self.instruments.read()
        self._go_on_in(self.pages.shown())

    def on_refresh(self) -> None:
        """Read the engines, the outlook and the pulls again, and work out again what the pages show."""
        self._read_engines()
        self.kit.refresh()
        self.waiting.table.refresh()
        self.work.read()
        self.instruments.read()

    def open(self, ref: Any) -> None:
        """Show an engine, or a pull, that was found, or lay out the sheet of a thing to be inspected."""
        kind, found, *_headline = ref
        if kind == "inspect":
            self.pages.go_to(INSPECTION)
            self.inspection.inspect(found)
        elif kind == "pull":
            self._show_pull(found)
        elif self.presenter.engines:
            self.show_engine(found)
        else:
            self._waiting = partial(self.show_engine, found)

    def unsaved(self) -> str:
        """The open forms and the open inspection sheet, if anything was typed in them."""
        pages = (self.kit, self.inspection, self.work, self.instruments)
        return " and ".join(words for page in pages if (words := page.unsaved()))

    def show_engine(self, engine: int) -> None:
        """Show another engine; the sheet stays."""
        self.presenter.show_engine(engine)
        self.engine_pane.show()
        self._read_outlook()
        self._read_fits()

    def _show_group(self, group: str) -> None:
        self.presenter.show_group(group)
        self.engine_pane.show_picture()
        self._read_outlook()
        self._read_fits()

    def _build_inspection_and_work(self, left: ttk.Frame) -> None:
        context = self._context
        self.inspection = InspectionPane(
            self.pages.page(INSPECTION),
            context,
            self._sitting,
            self.inspection_presenter,
            ask_where=self._ask_where,
            deeds=(
                *self.pages.deeds(),
                Deed("Blank sheet …", self._save_paper, "Ctrl+P"),
                Deed("Past inspections", self._turn_to_past, PAST_KEY),
            ),
            on_acted=self._inspected,
            on_left=self._left_sheet,
            on_count=lambda left: self.pages.tell(INSPECTION, f"◷ {left}" if left else ""),
        )
        self.inspection.pack(fill="both", expand=True)
        self.work = WorkPage(
            self.pages.page(WORK),
            context,
            self._sitting,
            WorkPresenter(self._sitting),
            deeds=self.pages.deeds(),
            on_acted=self._inspected,
            on_read=lambda words: self.pages.tell(WORK, words),
            on_leave=self.engine_pane.picture.focus_set,
        )
        self.work.pack(fill="both", expand=True)
        self.waiting = WaitingPane(
            left,
            context,
            self.inspection_presenter,
            on_open=self.inspection.inspect,
            on_leave=self.inspection.find.focus_box,
        )
        self.instruments = InstrumentsPage(
            self.pages.page(INSTRUMENTS),
            context,
            self._sitting,
            InstrumentsPresenter(self._sitting),
            deeds=self.pages.deeds(),
            ask_where=self._ask_where,
            on_read=lambda words: self.pages.tell(INSTRUMENTS, words),
            on_leave=self.waiting.table.focus_rows,
        )
        self.instruments.pack(fill="both", expand=True)

    def _left_sheet(self) -> None:
        if self.pages.shown() == INSPECTION:
            self.inspection.find.focus_box()

    def _inspected(self) -> None:
        self.waiting.table.refresh()
        self._read_outlook()

    def _page_shown(self, name: str) -> None:
        """What belongs beside the page stands at the left: the engine, or what waits for inspection."""
        waiting = name in (INSPECTION, WORK, INSTRUMENTS)
        (self.engine_pane if waiting else self.waiting).pack_forget()
        (self.waiting if waiting else self.engine_pane).pack(fill="both", expand=True)
        if waiting:
            self.waiting.table.refresh()
        if name == WORK:
            self.work.read()
        if name == INSTRUMENTS:
            self.instruments.read()
        self._read_fits()
        self._go_on_in(name)

    def _go_on_in(self, name: str) -> None:
        """Take the keys to where one goes on in that page."""
        if name == INSPECTION:
            self.inspection.focus_page()
        elif name == WORK:
            self.work.focus_page()
        elif name == INSTRUMENTS:
            self.instruments.focus_page()
        elif name == FITS:
            self.fits.chart.canvas.focus_set()
        elif self.kit.form is not None:
            self.kit.form.go_on_filling_in()
        elif self._to_rows:
            self.kit.sheet.table.focus_rows()
        else:
            self.engine_pane.picture.focus_set()
        self._to_rows = False

    def _read_fits(self) -> None:
        if self.pages.shown() == FITS:
            self.fits.read()

    def _show_pull(self, pull: int) -> None:
        self.pages.go_to(KIT)
        self.kit.show_pulls((pull,))

    def _show_kit_of(self, name: str) -> None:
        self._go_to_rows()
        self.engine_pane.picture.choose(name)
        self.kit.ask_for(name, True)

    def _read_engines(self) -> None:
        self._context.background.ask(
            "bench engines", self.presenter.read_engines, self._show_engines, doing="the engines"
        )

    def _show_engines(self, found: tuple[ListedEngine, ...]) -> None:
        self.presenter.set_engines(found)
        waiting, self._waiting = self._waiting, None
        if waiting is not None:
            waiting()
            return
        self.engine_pane.show()
        self._read_outlook()
        self._read_fits()

    def _read_outlook(self) -> None:
        """Work out the outlook on a worker, and let the picture fill in as it becomes known."""
        engine, group, presenter = self.presenter.engine, self.presenter.group, self.presenter
        if engine is None:
            return
        heard: queue.SimpleQueue[PositionOutlook] = queue.SimpleQueue()

        def fill_in(text: str, fraction: float | None) -> None:
            while not heard.empty():
                presenter.learn(heard.get_nowait())
            self.engine_pane.show_picture()
            self._context.progress(text, fraction)

        def known(outlooks: tuple[PositionOutlook, ...]) -> None:
            for outlook in outlooks:
                presenter.learn(outlook)
            self.engine_pane.show_picture()

        self._context.background.ask(
            "bench outlook",
            lambda job: presenter.read_outlook(job, engine, group, heard.put),
            known,
            on_progress=fill_in,
            on_over=lambda: self._context.progress("", None),
            doing=f"how complete the kits of {engine.name} could be",
        )
        self._context.background.ask(
            "bench pulls", lambda job: presenter.read_pulls(job, engine.engine), self._show_open_pulls
        )

    def _show_open_pulls(self, pulls: tuple[PullSummary, ...]) -> None:
        self.presenter.pulls = pulls
        self.engine_pane.pulls.refresh()

    def _ask_for(self, name: str, go_on: bool) -> None:
        self.pages.go_to(KIT)
        self.kit.ask_for(name, go_on)

    def _ask_for_all(self) -> None:
        self._go_to_rows()
        self.kit.ask_for_all()

    def _go_to_rows(self) -> None:
        """Bring the kit sheet to the front, where one goes on among its rows."""
        self._to_rows = self.pages.shown() != KIT
        self.pages.go_to(KIT)

    def _ask_for_too(self, name: str) -> None:
        self.pages.go_to(KIT)
        self.kit.ask_for_too(name)

    def _show_engine_of(self, pulled: tuple[PulledKit, ...]) -> None:
        engine, shown = self.presenter.engine_of(pulled), self.presenter.engine
        if engine is not None and (shown is None or engine != shown.engine):
            self.show_engine(engine)
        else:
            self.engine_pane.show_picture()

    def _listen(self) -> None:
        keys: dict[str, Callable[[], None]] = {
            "Ctrl+R": self.kit.reserve,
            "Ctrl+P": self._save_paper,
            PAST_KEY: self._turn_to_past,
            "Ctrl+I": self.kit.issue_all,
            "Ctrl+Shift+I": self.kit.issue_chosen,
            "Ctrl+Shift+F": self.kit.fit,
            "Ctrl+B": self._book_back,
            "Ctrl+K": self.kit.cancel,
            "Ctrl+E": self.engine_pane.chooser.engines.focus_field,
            "Ctrl+T": self._turn,
            "Ctrl+G": self._ask_for_all,
            "Ctrl+L": self.engine_pane.pulls.focus_rows,
            **{deed.key: deed.run for deed in self.pages.deeds()},
        }
        share_keys(self.frame, keys)

    def _save_paper(self) -> None:
        if self.pages.shown() == INSPECTION:
            self.inspection.save_paper()
        else:
            self.kit.save_pick_list()

    def _turn_to_past(self) -> None:
        if self.pages.shown() == INSPECTION:
            self.inspection.turn()

    def _book_back(self) -> None:
        if self.pages.shown() == WORK:
            self.work.book_back()
        else:
            self.kit.take_back()

    def _turn(self) -> None:
        if self.pages.shown() == FITS:
            self.fits.turn()
        else:
            self.engine_pane.turn()

    def _set_sash(self) -> None:
        width = self._panes.winfo_width()
        if width > 1 and not self._sash_set:
            self._sash_set = True
            self._panes.sashpos(0, round(width * PICTURE_SHARE))
