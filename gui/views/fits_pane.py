"""The fit view of the Bench: the chart of an engine's clearances and masses, as built or as proposed."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from tkinter import ttk

from gui.shown import ChartPoint, ChartStrip
from gui.theme import CAPTION
from gui.view import Context
from gui.views.bench_presenter import BenchPresenter
from gui.views.fits_presenter import FitsPresenter, FitsShown
from gui.widgets.empty_note import EmptyNote
from gui.widgets.fit_chart import FitChart, told_of
from gui.widgets.tip import explain

READING_LINES = 4
POINT_AT = "Point at a cylinder, or go to it with the arrows, to read which pieces make the fit."


class FitsPane(ttk.Frame):
    """Shows what the presenter holds of the engine that the Bench shows; read only when it is in front.

    ``on_kits`` is asked to show the kit of a cylinder, by its name, and ``on_leave`` is Escape.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        bench: BenchPresenter,
        presenter: FitsPresenter,
        *,
        on_kit: Callable[[str], None],
        on_leave: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self._context, self._bench, self._presenter = context, bench, presenter
        theme, px = context.theme, context.theme.px
        head = ttk.Frame(self)
        head.pack(fill="x")
        self.as_proposed = ttk.Checkbutton(head, text="As proposed for all", command=self._turned)
        self.as_proposed.state(["!alternate"])
        self.as_proposed.pack(side="right", anchor="n")
        explain(
            self.as_proposed,
            "Show how the best kits for all of its cylinders at once would fit, not what is fitted now",
            "Ctrl+T",
        )
        self._title = ttk.Label(head, style="Subtitle.TLabel", text=presenter.title())
        self._title.pack(side="left", fill="x", expand=True)
        self._told, self._gained = (ttk.Label(self, style=style) for style in ("TLabel", "Dim.TLabel"))
        for label in (self._title, self._told, self._gained):
            label.bind("<Configure>", lambda event: event.widget.configure(wraplength=event.width))
        self._told.pack(fill="x")
        # Room for as much as is ever told, so that the chart stands still as one walks along it.
        holder = ttk.Frame(self, height=READING_LINES * theme.line_height(CAPTION))
        holder.pack(side="bottom", fill="x", pady=(px(6), 0))
        holder.pack_propagate(False)
        self._reading = ttk.Label(holder, style="Caption.TLabel", text=POINT_AT, anchor="nw")
        self._reading.pack(fill="both", expand=True)
        self._reading.bind("<Configure>", lambda event: self._reading.configure(wraplength=event.width))
        self.chart = FitChart(
            self,
            theme,
            on_choose=self._chose,
            on_open=lambda _strip, point: on_kit(point.name.rstrip("′")),
            on_leave=on_leave,
        )
        self.chart.pack(fill="both", expand=True, pady=(px(6), 0))
        self._nothing = EmptyNote(self.chart, theme)

    def turn(self) -> None:
        """Show the other answer: as built, or as proposed for all cylinders at once."""
        self.as_proposed.state(["!selected" if self._presenter.as_proposed else "selected"])
        self._turned()

    def read(self) -> None:
        """Read, or work out, the fits of the engine and the group that the Bench shows."""
        engine, group, presenter = self._bench.engine, self._bench.group, self._presenter
        if engine is None:
            return
        doing = f"the fits of {engine.name}"
        if presenter.as_proposed:
            doing = f"the best kits for all of {engine.name} at once"
        self._said(f"Working out {doing} …" if presenter.as_proposed else f"Reading {doing} …")
        self._context.background.ask(
            "bench fits",
            lambda job: presenter.read(job, engine, group),
            self._show,
            on_refused=lambda refused: self._said(f"✕ {refused}"),
            doing=doing,
        )

    def _said(self, words: str) -> None:
        self._told.configure(text=words)

    def _turned(self) -> None:
        self._presenter.as_proposed = bool(self.as_proposed.instate(["selected"]))
        self.read()

    def _show(self, shown: FitsShown) -> None:
        presenter = self._presenter
        presenter.shown = shown
        self._title.configure(text=presenter.title())
        self._said(presenter.told())
        gained = presenter.gained()
        self._gained.configure(text=gained)
        if gained:
            self._gained.pack(fill="x", after=self._told)
        else:
            self._gained.pack_forget()
        self.chart.show(presenter.strips())
        chosen = self.chart.chosen()
        nothing = presenter.nothing()
        words = told_of(*chosen) if chosen is not None else POINT_AT if nothing is None else ""
        self._reading.configure(text=words)
        if nothing is not None:
            self._nothing.show(nothing)
        else:
            self._nothing.hide()

    def _chose(self, strip: ChartStrip, point: ChartPoint) -> None:
        self._reading.configure(text=told_of(strip, point))
