"""The Bench view: an engine drawn by how complete each kit could be, and the kit sheet beside it."""

from __future__ import annotations

import queue
import tkinter as tk
from collections.abc import Callable
from functools import partial
from tkinter import ttk
from typing import Any

from gui.sitting import Sitting
from gui.view import Context
from gui.views.bench_engine import EnginePane
from gui.views.bench_kit import KitPane
from gui.views.bench_presenter import HELP, BenchPresenter
from gui.views.kit_sheet_pulls import PulledKit
from gui.widgets.save_where import ask_where_to_save
from gui.widgets.shared_keys import share_keys
from invdb.acts.engine_list import ListedEngine
from invdb.acts.kit_outlook import PositionOutlook
from invdb.acts.pick_list import PullSummary

PICTURE_SHARE = 0.34
GAP = 12


class BenchView:
    """Choose an engine and a cylinder, see its kit, reserve, print and issue it, take back what is left."""

    name, word, mark, help_text = "bench", "Bench", "bench", HELP

    def __init__(
        self, sitting: Sitting, ask_where: Callable[[tk.Misc, str, str], str] = ask_where_to_save
    ) -> None:
        self.presenter = BenchPresenter(sitting)
        self._sitting = sitting
        self._ask_where = ask_where
        self._sash_set = False
        self._waiting: Callable[[], None] | None = None

    def build(self, parent: tk.Misc, context: Context) -> tk.Widget:
        """The engine at the left, the kit sheet or a form at the right, and a sash between."""
        self._context = context
        self.frame = ttk.Frame(parent)
        self._panes = ttk.Panedwindow(self.frame, orient="horizontal")
        self._panes.pack(fill="both", expand=True)
        left = ttk.Frame(self._panes, padding=(0, 0, context.theme.px(GAP), 0))
        self.engine_pane = EnginePane(
            left,
            context,
            self.presenter,
            on_engine=self.show_engine,
            on_group=self._show_group,
            on_ask=self._ask_for,
            on_add=self._ask_for_too,
            on_pull=lambda pull: self.kit.show_pulls((pull,)),
        )
        self.engine_pane.pack(fill="both", expand=True)
        self.kit = KitPane(
            self._panes,
            context,
            self._sitting,
            self.presenter,
            ask_where=self._ask_where,
            on_asked=self.engine_pane.show_picture,
            on_acted=self._read_outlook,
            on_pulled=self._show_engine_of,
            on_leave=self.engine_pane.picture.focus_set,
        )
        self._panes.add(left, weight=3)
        self._panes.add(self.kit, weight=5)
        self._panes.bind("<Configure>", lambda _event: self._set_sash())
        self._listen()
        return self.frame

    def on_show(self) -> None:
        """Read what may have changed meanwhile; a proposal stays as it was left, pulls are read again."""
        self._read_engines()
        if self.kit.pulled:
            self.kit.refresh()
        if self.kit.form is None:
            self.engine_pane.picture.focus_set()

    def on_refresh(self) -> None:
        """Read the engines, the outlook and the pulls again, and work out again what the sheet shows."""
        self._read_engines()
        self.kit.refresh()

    def open(self, ref: Any) -> None:
        """Show an engine, or a pull, that was found."""
        kind, found = ref
        if kind == "pull":
            self.kit.show_pulls((found,))
        elif self.presenter.engines:
            self.show_engine(found)
        else:
            self._waiting = partial(self.show_engine, found)

    def unsaved(self) -> str:
        """The open form, if anything was typed in it."""
        return self.kit.unsaved()

    def show_engine(self, engine: int) -> None:
        """Show another engine; the sheet stays."""
        self.presenter.show_engine(engine)
        self.engine_pane.show()
        self._read_outlook()

    def _show_group(self, group: str) -> None:
        self.presenter.show_group(group)
        self.engine_pane.show_picture()
        self._read_outlook()

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
        self.kit.ask_for(name, go_on)

    def _ask_for_too(self, name: str) -> None:
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
            "Ctrl+P": self.kit.save_pick_list,
            "Ctrl+I": self.kit.issue_all,
            "Ctrl+Shift+I": self.kit.issue_chosen,
            "Ctrl+Shift+F": self.kit.fit,
            "Ctrl+B": self.kit.take_back,
            "Ctrl+K": self.kit.cancel,
            "Ctrl+E": self.engine_pane.chooser.engines.focus_field,
            "Ctrl+T": self.engine_pane.turn,
            "Ctrl+L": self.engine_pane.pulls.focus_rows,
        }
        share_keys(self.frame, keys)

    def _set_sash(self) -> None:
        width = self._panes.winfo_width()
        if width > 1 and not self._sash_set:
            self._sash_set = True
            self._panes.sashpos(0, round(width * PICTURE_SHARE))
