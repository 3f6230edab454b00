"""The Engines view: an engine by the life left in it, what it ran, what falls due, and the acts on it."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from datetime import date
from functools import partial
from tkinter import ttk
from typing import Any

from gui.job import Job
from gui.shown import Deed, DueBar, FilledStation
from gui.sitting import Sitting
from gui.view import Context
from gui.views.comply_form import comply_form, due_to_comply
from gui.views.due_bars import DueRead, key_of
from gui.views.engine_acts import OF_THE_SHOP, Act, Subject
from gui.views.engine_deeds import MORE, EngineDeeds
from gui.views.engine_orders import EngineOrders, OrderKey
from gui.views.engine_papers import EnginePapers
from gui.views.engine_plans import EnginePlans
from gui.views.engine_reading import EngineReading
from gui.views.engines_build import BuildPane
from gui.views.engines_pages import EnginePages
from gui.views.engines_presenter import DUE, HELP, LOG, ORDERS, STATIONS, EnginesPresenter
from gui.views.form_place import FormPlace
from gui.views.form_plan import FormPlan
from gui.views.order_deeds import OrderDeeds
from gui.views.recall_form import RecallDone
from gui.views.stores_presenter import ReverseEntry
from gui.widgets.deed_menu import pop_up
from gui.widgets.save_where import ask_where_to_save
from gui.widgets.shared_keys import share_keys
from invdb.acts.engine_list import ListedEngine
from invdb.acts.engine_log import EngineLog
from invdb.rules.due import DueKind

PICTURE_SHARE = 0.4
GAP = 12
MENU_BENEATH = 34


class EnginesView:
    """Choose an engine, a day and a cylinder; read what is in it, fit and strip, log, and see what is due."""

    name, word, mark, help_text = "engines", "Engines", "engines", HELP

    def __init__(
        self, sitting: Sitting, ask_where: Callable[[tk.Misc, str, str], str] = ask_where_to_save
    ) -> None:
        self._ask_where = ask_where
        self.presenter = EnginesPresenter(sitting)
        self._plans = EnginePlans(sitting)
        self._sitting = sitting
        self.deeds = EngineDeeds(
            self.presenter, act=self.act, save_sheet=self.save_status_sheet, show_more=self._show_more
        )
        self._order_deeds = OrderDeeds(sitting, self._open_form)
        self._sash_set = False
        self._waiting: Callable[[], None] | None = None

    def build(self, parent: tk.Misc, context: Context) -> tk.Widget:
        """The engine at the left, the pages or a form at the right, and a sash between."""
        self._context = context
        self.frame = ttk.Frame(parent)
        self.papers = EnginePapers(context, self._sitting, partial(self._ask_where, self.frame))
        self._panes = ttk.Panedwindow(self.frame, orient="horizontal")
        self._panes.pack(fill="both", expand=True)
        left = ttk.Frame(self._panes, padding=(0, 0, context.theme.px(GAP), 0))
        self.build_pane = BuildPane(
            left,
            context,
            self.presenter,
            on_engine=self.show_engine,
            on_group=self._show_group,
            on_choose=self._choose_position,
            on_open=lambda _name: self._go_to(STATIONS),
            on_day=self._show_day,
            on_believed=self._turn_belief,
        )
        self.build_pane.pack(fill="both", expand=True)
        right = ttk.Frame(self._panes, padding=(context.theme.px(GAP), 0, 0, 0))
        self.side = FormPlace(
            right,
            context,
            self._sitting,
            on_saved=self._saved,
            on_left=self._left_form,
        )
        self.side.pack(fill="both", expand=True)
        self.pages = EnginePages(
            self.side,
            context,
            self.presenter,
            deeds=lambda: self.deeds.above(self.pages.page()),
            deeds_for=lambda _rows: self.deeds.every(),
            deeds_of_entry=self._deeds_of_entry,
            deeds_of_due=self._deeds_of_due,
            deeds_of_orders=self._deeds_of_orders,
            on_open=self._open_station,
            on_due=self._open_due,
            on_page=self._turned_to,
            on_leave=self.build_pane.focus_picture,
        )
        self.side.stand(self.pages)
        self._panes.add(left, weight=3)
        self._panes.add(right, weight=4)
        self._panes.bind("<Configure>", lambda _event: self._set_sash())
        self.build_pane.picture.bind("<Button-3>", self._menu_at_picture)
        for keys in ("<Menu>", "<Shift-F10>"):
            self.build_pane.picture.bind(keys, lambda _event: self._menu(self.build_pane.picture))
        self._listen()
        return self.frame

    def on_show(self) -> None:
        """Read what may have changed meanwhile; the engine, the day and the cylinder stay."""
        self._read_engines()
        if self.side.form is None:
            self.build_pane.focus_picture()

    def on_refresh(self) -> None:
        """Read the engines, the build, the log and the due list again."""
        self._read_engines()

    def open(self, ref: Any) -> None:
        """Show an engine that was found."""
        _kind, found, *_headline = ref
        if self.presenter.engines:
            self.show_engine(found)
        else:
            self._waiting = partial(self.show_engine, found)

    def unsaved(self) -> str:
        """The open form, if anything was typed in it."""
        return self.side.unsaved()

    def show_engine(self, engine: int) -> None:
        """Show another engine as it is today."""
        self.presenter.show_engine(engine)
        self.build_pane.show()
        self._read_engine()

    def act(self, act: Act) -> None:
        """Begin an act on the shown engine and what is chosen of it, by its form."""
        why_not = self.presenter.may_act() if act not in OF_THE_SHOP else ""
        if self.side.in_the_way():
            return
        if why_not:
            self._context.refuse(why_not)
            return
        on = self._subject()
        self._open_form(lambda job: self._plans.plan(job, act, on))

    def _open_form(self, plan: Callable[[Job], FormPlan]) -> None:
        """Open the form that is planned on a worker."""
        if not self.side.in_the_way():
            self._context.background.ask(
                "engines form",
                plan,
                self.side.open,
                on_refused=lambda refused: self._context.refuse(str(refused)),
            )

    def save_status_sheet(self) -> None:
        """Save the status sheet of the shown engine, as of the day shown."""
        if self.presenter.engine is None:
            self._context.refuse("No engine is shown.")
        else:
            self.papers.save_status_sheet(self.presenter.engine, self.presenter.day)

    def _saved(self, made: Any) -> None:
        self._read_engines()
        if isinstance(made, RecallDone):
            self.frame.after_idle(self.papers.save_letter, made.letter)

    def _subject(self) -> Subject:
        engine, built = self.presenter.engine, self.presenter.built()
        if engine is None:
            return Subject(0, "")
        keys = tuple(row.key for row in self.pages.chosen_stations())
        position = built.position if built is not None else None
        return Subject(engine.engine, engine.name, position, keys, engine.engine_type)

    # Reading

    def _read_engines(self) -> None:
        self._context.background.ask(
            "engines", self.presenter.read_engines, self._show_engines, doing="the engines"
        )

    def _show_engines(self, found: tuple[ListedEngine, ...]) -> None:
        self.presenter.set_engines(found)
        waiting, self._waiting = self._waiting, None
        self._read_due()
        if waiting is not None:
            waiting()
            return
        self.build_pane.show()
        self._read_engine()

    def _read_engine(self) -> None:
        """Read the build and the log of the shown engine."""
        presenter = self.presenter
        if presenter.engine is None:
            self.pages.show_stations()
            self.pages.show_log()
            self.pages.orders.show()
            return
        engine = presenter.engine.engine
        self._context.background.ask(
            "engines log", lambda job: presenter.read_log(job, engine), self._show_log, doing="the log"
        )
        self._read_build()

    def _read_build(self) -> None:
        presenter = self.presenter
        if presenter.engine is None:
            return
        engine, day, believed_at = presenter.engine.engine, presenter.day, presenter.believed_at()
        self.pages.show_stations()
        self._context.background.ask(
            "engines build",
            lambda job: presenter.read_build(job, engine, day, believed_at),
            self._show_build,
            doing=f"what is in {presenter.engine.name}",
        )
        self._read_orders()

    def _read_orders(self) -> None:
        """Read what binds the shown engine, if that is looked at; else once it is."""
        presenter, engine, day = self.presenter, self.presenter.engine, self.presenter.day
        if engine is None or self.pages.page() != ORDERS:
            presenter.orders = None
            return
        self._context.background.ask(
            "engines orders",
            lambda job: presenter.read_orders(job, engine.engine, engine.name, day),
            self._show_orders,
            doing=f"what binds {engine.name}",
        )

    def _read_due(self) -> None:
        self._context.background.ask(
            "engines due", self.presenter.read_due, self._show_due, doing="what falls due"
        )

    def _show_build(self, reading: EngineReading) -> None:
        self.presenter.reading = reading
        self.build_pane.show_picture()
        self.pages.show_stations()
        self.pages.show_day()

    def _show_orders(self, orders: EngineOrders) -> None:
        self.presenter.orders = orders
        self.pages.orders.show()

    def _show_log(self, log: EngineLog) -> None:
        self.presenter.log = log
        self.pages.show_log()
        self.pages.show_deeds()

    def _show_due(self, due: DueRead) -> None:
        self.presenter.due = due
        self.pages.show_due()

    # What a person does

    def _show_group(self, group: str) -> None:
        self.presenter.show_group(group)
        self.build_pane.show_picture()
        self.pages.show_stations()

    def _choose_position(self, name: str) -> None:
        if name != self.presenter.position:
            self.presenter.position = name
            self.pages.show_stations()

    def _show_day(self, day: date) -> None:
        self.presenter.choose_day(day)
        self._read_build()

    def _turn_belief(self) -> None:
        self.presenter.as_believed = not self.presenter.as_believed
        self._read_build()

    def _go_to(self, page: str) -> None:
        if not self.side.in_the_way():
            self.pages.go_to(page)

    def _open_station(self, row: FilledStation) -> None:
        """Show the story of what is at a station; where nothing is, begin to fit."""
        if row.key.piece is not None:
            self._context.go_to("stores", ("piece", row.key.piece, row.thing))
        elif row.key.batch is not None:
            self._context.go_to("stores", ("batch", row.key.batch, row.thing))
        elif row.key.presumption is not None:
            self.act(Act.STRIP)
        else:
            self.act(Act.FIT)

    def _open_due(self, bar: DueBar) -> None:
        """Show the engine and the cylinder that a line of the due list is of."""
        self.show_engine(bar.key.engine)
        self.presenter.go_to(bar.key.position)
        self.build_pane.show()
        self.pages.go_to(STATIONS)

    def _turned_to(self, page: str) -> None:
        self.pages.show_deeds()
        if page == DUE:
            self.pages.show_due()
        elif page == ORDERS:
            self.pages.orders.show()
            self._read_orders()

    def _left_form(self) -> None:
        self.pages.show_deeds()
        self.pages.go_to(self.pages.page())

    def _reverse(self, number: int) -> None:
        log = self.presenter.log
        assert log is not None, "a line of the log is chosen"
        row = next(each for each in log.rows if each.number == number)
        what = f"{log.name}: {row.kind} on {row.on.isoformat()}"
        self._context.go_to("stores", ReverseEntry(number, what))

    def _deeds_of_entry(self, number: int) -> list[Deed]:
        reverse = Deed(f"Reverse entry {number} …", partial(self._reverse, number), "Del")
        return [reverse, self.deeds.of(Act.RUN), self.deeds.of(Act.METER)]

    def _deeds_of_due(self, bar: DueBar) -> list[Deed]:
        deeds = [Deed(f"Show {bar.engine}", partial(self._open_due, bar))]
        if bar.key.kind is DueKind.DIRECTIVE:
            comply = partial(self._comply, bar)
            deeds.append(Deed("Complied with …", comply, "Ctrl+O", "Record that it was complied with"))
        return deeds

    def _comply(self, bar: DueBar) -> None:
        lines = self.presenter.due_lines(own_alone=False)
        line = next(line for line in lines if key_of(line) == bar.key)
        self.side.open(comply_form(self._sitting, due_to_comply(line)))

    def _deeds_of_orders(self, keys: list[OrderKey]) -> list[Deed]:
        engine = self.presenter.engine
        if engine is None or self.presenter.day is not None:
            # What stood on a past day may stand no more.
            return []
        return self._order_deeds.of(engine.engine, keys)

    def _show_more(self) -> None:
        self._menu(self.pages.bar.buttons[MORE])

    def _menu(self, beneath: tk.Misc) -> str:
        pop_up(
            self.frame,
            beneath.winfo_rootx(),
            beneath.winfo_rooty() + min(beneath.winfo_height(), self._context.theme.px(MENU_BENEATH)),
            self.deeds.groups(),
        )
        return "break"

    def _menu_at_picture(self, event: tk.Event[tk.Misc]) -> None:
        picture = self.build_pane.picture
        picture.focus_set()
        name = picture.name_at(event.x, event.y)
        if name is not None:
            picture.choose(name)
        pop_up(self.frame, event.x_root, event.y_root, self.deeds.groups())

    def _listen(self) -> None:
        keys: dict[str, Callable[[], None]] = {
            "Ctrl+E": self.build_pane.chooser.engines.focus_field,
            "Ctrl+G": self.build_pane.slider.focus_day,
            "Ctrl+B": self._believe_by_key,
            "Ctrl+T": partial(self._go_to, STATIONS),
            "Ctrl+L": partial(self._go_to, LOG),
            "Ctrl+D": partial(self._go_to, DUE),
            "Ctrl+U": partial(self._go_to, ORDERS),
            **self.deeds.by_key(),
        }
        share_keys(self.frame, keys)

    def _believe_by_key(self) -> None:
        if self.presenter.day is None:
            self._context.refuse("Go back to an earlier day first, to see what was believed of it then.")
        else:
            self._turn_belief()

    def _set_sash(self) -> None:
        width = self._panes.winfo_width()
        if width > 1 and not self._sash_set:
            self._sash_set = True
            self._panes.after_idle(lambda: self._panes.sashpos(0, round(width * PICTURE_SHARE)))
