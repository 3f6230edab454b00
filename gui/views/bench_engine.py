"""The left side of the Bench view: which engine, its picture, and its open pulls."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from functools import partial
from tkinter import ttk

from gui.job import Job
from gui.shown import Column, Empty, Page, Row, Sort
from gui.signs import sign
from gui.view import Context
from gui.views.bench_presenter import BenchPresenter
from gui.views.engine_chooser import EngineChooser
from gui.widgets.empty_note import EmptyNote
from gui.widgets.engine_picture import EnginePicture
from gui.widgets.table import Table
from gui.widgets.tip import explain
from invdb.acts.pick_list import PullSummary
from invdb.rules.effectivity import serial_key
from invdb.terms import Layout

PULLS_HEIGHT = 184
PULLS_SHARE_MAX = 0.27

PULL_COLUMNS = (
    Column("number", "Open pull", 78),
    Column("position", "Kit", 82),
    Column("state", "State", 104),
    Column("things", "Things", 84),
    Column("asked_by", "Asked for by", 120),
    Column("asked_on", "On", 84),
)


class EnginePane(ttk.Frame):
    """Shows what the presenter holds. The callables are told what a person does here.

    ``on_engine`` and ``on_group`` get what was chosen, ``on_ask`` the name of a cylinder whose kit is to be
    proposed (and whether to go on in the sheet), ``on_add`` one that is to be proposed together with others,
    and ``on_pull`` the id of a pull to be shown. ``on_all`` hears that all are to be proposed together.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        presenter: BenchPresenter,
        *,
        on_engine: Callable[[int], None],
        on_group: Callable[[str], None],
        on_ask: Callable[[str, bool], None],
        on_add: Callable[[str], None],
        on_all: Callable[[], None],
        on_pull: Callable[[int], None],
    ) -> None:
        super().__init__(parent)
        self._theme, self._presenter = context.theme, presenter
        self._on_ask, self._on_add, self._on_pull = on_ask, on_add, on_pull
        px = context.theme.px
        self.chooser = EngineChooser(self, context.theme, presenter, on_engine=on_engine, on_group=on_group)
        self.chooser.pack(fill="x")
        self.bind("<Configure>", lambda event: self._fit(event.width, event.height))
        self._build_pulls(context)
        self._outlook = ttk.Label(self, style="Caption.TLabel")
        self._outlook.pack(side="bottom", fill="x", pady=(0, px(8)))
        beneath = ttk.Frame(self)
        beneath.pack(side="bottom", fill="x")
        self.at_once = ttk.Checkbutton(beneath, text="As if all were pulled at once", command=self.turn)
        self.at_once.state(["!alternate"])
        self.at_once.pack(side="left")
        self.all_together = ttk.Button(beneath, text="Propose all", command=on_all)
        self.all_together.bind("<Return>", lambda event: event.widget.invoke())
        self.all_together.pack(side="right")
        explain(self.all_together, "Propose the kits of all of its cylinders together", "Ctrl+G")
        explain(
            self.at_once,
            "Show what each would get if the kits of all were pulled at once, not each by itself",
            "Ctrl+T",
        )
        self.picture = EnginePicture(self, context.theme, on_open=lambda name: on_ask(name, True))
        self.picture.pack(fill="both", expand=True)
        self.nothing = EmptyNote(self.picture, context.theme)
        # Tab goes from part to part as they were raised: let it go down the pane as the eye does.
        beneath.lift()
        self._pulls_place.lift()
        self._listen()

    def show(self) -> None:
        """Show all of it as the presenter has it now."""
        self.chooser.show()
        self.show_picture()
        self.pulls.refresh()

    def show_picture(self) -> None:
        """Show what is known of the kits by now."""
        presenter = self._presenter
        self._outlook.configure(text=presenter.told_of_outlook())
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
        if self.picture.chosen() is None and cylinders:
            self.picture.choose(cylinders[0].name)
        why = presenter.why_no_picture()
        if why is not None:
            self.nothing.show(why)
        else:
            self.nothing.hide()

    def turn(self) -> None:
        """Show the other answer: each by itself, or all at once."""
        self._presenter.together = not self._presenter.together
        self.at_once.state(["selected" if self._presenter.together else "!selected"])
        self.show_picture()

    def _fit(self, width: int, height: int) -> None:
        """Wrap the words to the width, and leave the picture its share of the height."""
        px = self._theme.px
        self._outlook.configure(wraplength=max(width, px(200)))
        self._pulls_place.configure(height=min(px(PULLS_HEIGHT), round(height * PULLS_SHARE_MAX)))

    def _build_pulls(self, context: Context) -> None:
        place = self._pulls_place = ttk.Frame(self, height=self._theme.px(PULLS_HEIGHT))
        place.pack(side="bottom", fill="x")
        place.pack_propagate(False)
        self.pulls = Table(
            place,
            context.theme,
            context.background,
            PULL_COLUMNS,
            self._fetch_pulls,
            empty=Empty("", "No pull of this engine is open."),
            many="open pulls",
            one="open pull",
            widths=context.prefs.widths.get("open pulls"),
            on_widths=partial(context.prefs.keep_widths, "open pulls"),
            on_open=lambda row: self._on_pull(row.key),
            say=context.say,
        )
        self.pulls.pack(fill="both", expand=True)
        self.pulls.tree.bind("<ButtonRelease-1>", lambda _event: self._clicked_pull(), add="+")

    def _listen(self) -> None:
        picture = self.picture
        picture.bind("<Control-Button-1>", self._clicked_to_add)
        picture.bind("<ButtonRelease-1>", self._clicked, add="+")
        for key in ("<Insert>", "<space>", "<plus>"):
            picture.bind(key, self._add)
        self.chooser.listen_at(picture)

    def _clicked(self, event: tk.Event[tk.Misc]) -> None:
        name = self.picture.name_at(event.x, event.y)
        if name is not None and not int(event.state) & 0x4:
            self._on_ask(name, False)

    def _clicked_to_add(self, event: tk.Event[tk.Misc]) -> str:
        self.picture.focus_set()
        name = self.picture.name_at(event.x, event.y)
        if name is not None:
            self.picture.choose(name)
            self._on_add(name)
        return "break"

    def _add(self, _event: object) -> str:
        name = self.picture.chosen()
        if name is not None:
            self._on_add(name)
        return "break"

    def _clicked_pull(self) -> None:
        rows = self.pulls.chosen()
        if len(rows) == 1:
            self._on_pull(rows[0].key)

    def _fetch_pulls(self, _job: Job, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        every = self._presenter.pulls
        rows = [pull_row(each) for each in every]
        wanted = words.casefold().split()
        fitting = [row for row in rows if all(word in " ".join(row.cells).casefold() for word in wanted)]
        if sort is not None:
            at = [column.name for column in PULL_COLUMNS].index(sort.column)
            fitting.sort(key=lambda row: (serial_key(row.cells[at]), row.cells[at]), reverse=sort.descending)
        return Page(tuple(fitting[offset : offset + limit]), len(fitting), len(rows))


def pull_row(pull: PullSummary) -> Row:
    """A pull as the list of open pulls shows it."""
    things = str(pull.lines - pull.short) + (f", {pull.short} short" if pull.short else "")
    state = sign(pull.state)
    cells = (pull.number, pull.position, state.text, things, pull.asked_by, pull.asked_on.isoformat())
    return Row(pull.pull, cells, state.word)
