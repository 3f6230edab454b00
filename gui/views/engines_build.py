"""The left side of the Engines view: which engine, its picture by the life left, and the day shown."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from datetime import date
from tkinter import ttk

from gui.view import Context
from gui.views.engine_chooser import EngineChooser
from gui.views.engines_presenter import EnginesPresenter
from gui.widgets.date_slider import DateSlider
from gui.widgets.empty_note import EmptyNote
from gui.widgets.engine_picture import EnginePicture
from gui.widgets.gauge import GaugeView
from gui.widgets.tip import explain
from invdb.terms import Layout


class BuildPane(ttk.Frame):
    """Shows what the presenter holds. The callables are told what a person does here.

    ``on_engine`` and ``on_group`` get what was chosen, ``on_choose`` the name of the cylinder that became the
    chosen one, ``on_open`` one whose stations are to be gone on with, ``on_day`` the day to be shown,
    ``on_believed`` that what was believed then is to be shown or no longer.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        presenter: EnginesPresenter,
        *,
        on_engine: Callable[[int], None],
        on_group: Callable[[str], None],
        on_choose: Callable[[str], None],
        on_open: Callable[[str], None],
        on_day: Callable[[date], None],
        on_believed: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self._presenter, self._on_choose = presenter, on_choose
        theme, px = context.theme, context.theme.px
        self.chooser = EngineChooser(self, theme, presenter, on_engine=on_engine, on_group=on_group)
        self.chooser.pack(fill="x")
        self._ran = ttk.Label(self)
        self._ran.pack(fill="x", pady=(px(4), 0))
        self._ran.bind("<Configure>", lambda event: self._ran.configure(wraplength=event.width))
        self._gauge = GaugeView(self, theme)
        explain(self._gauge, lambda: f"The engine's own life. {self._gauge.said()}")
        self._foot = ttk.Frame(self)
        self._foot.pack(side="bottom", fill="x")
        self.slider = DateSlider(
            self._foot, theme, on_change=on_day, refuse=context.refuse, on_leave=self.focus_picture
        )
        self.slider.pack(fill="x", pady=(px(4), 0))
        told = ttk.Frame(self._foot)
        told.pack(fill="x")
        self.believed = ttk.Checkbutton(told, text="As believed then", command=on_believed)
        self.believed.state(["!alternate"])
        explain(
            self.believed,
            "Show what this store said on that day, without what was recorded late or reversed since",
            "Ctrl+B",
        )
        self._day = ttk.Label(told, style="Caption.TLabel")
        self._day.pack(side="left", fill="x", expand=True)
        self._day.bind("<Configure>", lambda event: self._day.configure(wraplength=event.width))
        self.picture = EnginePicture(self, theme, on_choose=on_choose, on_open=on_open)
        self.picture.pack(fill="both", expand=True)
        self.nothing = EmptyNote(self.picture, theme)
        # Tab goes from part to part as they were raised: let it go down the pane as the eye does.
        self._foot.lift()
        self.chooser.listen_at(self.picture)

    def show(self) -> None:
        """Show all of it as the presenter has it now."""
        self.chooser.show()
        self.show_picture()

    def show_picture(self) -> None:
        """Show what is read of the build by now."""
        presenter = self._presenter
        engine, cylinders = presenter.engine, presenter.cylinders()
        if engine is not None:
            self.picture.show(
                cylinders,
                engine.layout,
                inverted=engine.inverted,
                title=engine.name,
                caption=presenter.told_of_picture(),
            )
        else:
            self.picture.show((), Layout.IN_LINE)
        if cylinders:
            chosen = presenter.position or cylinders[0].name
            if chosen != self.picture.chosen():
                self.picture.choose(chosen)
            elif chosen != presenter.position:
                # The engine shown before had one of that name, which stayed the chosen one.
                self._on_choose(chosen)
        why = presenter.why_no_picture()
        if why is not None:
            self.nothing.show(why)
        else:
            self.nothing.hide()
        self._show_life()
        self._show_day()

    def focus_picture(self) -> None:
        """Go on with the keys in the picture."""
        self.picture.focus_set()

    def _show_life(self) -> None:
        self.chooser.show_about()
        self._ran.configure(text=self._presenter.told_of_life())
        gauge = self._presenter.engine_gauge()
        if gauge is not None:
            self._gauge.show(gauge)
            self._gauge.pack(fill="x", after=self._ran)
        else:
            self._gauge.pack_forget()

    def _show_day(self) -> None:
        presenter = self._presenter
        day = presenter.day or presenter.sitting.today()
        self.slider.show(presenter.steps(), day)
        self._day.configure(text=presenter.told_of_day())
        self.believed.state(["selected" if presenter.as_believed else "!selected"])
        if presenter.day is None:
            self.believed.pack_forget()
        else:
            self.believed.pack(side="right", before=self._day)
