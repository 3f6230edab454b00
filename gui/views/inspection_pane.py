"""The inspection page of the Bench: choose a piece, fill in its sheet, look at those kept, print either."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from functools import partial
from pathlib import Path
from tkinter import ttk

from gui.shown import Deed, Field, FieldKind, Hit
from gui.sitting import Sitting
from gui.view import Context
from gui.views.form_place import FormPlace
from gui.views.form_plan import FormPlan
from gui.views.inspection_presenter import NOTHING_CHOSEN, InspectionPresenter
from gui.views.past_pane import PastPane
from gui.views.searches import search_things
from gui.widgets.count_down import COUNTED, TIME_UP, CountDown
from gui.widgets.editors import DateEditor
from gui.widgets.form import Form
from gui.widgets.search_box import SearchBox
from gui.widgets.tip import explain
from invdb.acts.numbers import Thing
from invdb.terms import Refused

PAST_KEY = "Ctrl+Shift+P"


class InspectionPane(ttk.Frame):
    """A box for the tag, the day, and beneath them the sheet as a form, or what inspections found before.

    ``deeds`` are to be done by their keys wherever one is in the sheet. ``on_acted`` hears that something was
    inspected, ``on_left`` that no sheet is open any more, and ``on_count`` what is left of a count-down that
    runs, "" when it ends.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        sitting: Sitting,
        presenter: InspectionPresenter,
        *,
        ask_where: Callable[[tk.Misc, str, str], str],
        deeds: tuple[Deed, ...],
        on_acted: Callable[[], None],
        on_left: Callable[[], None],
        on_count: Callable[[str], None],
    ) -> None:
        super().__init__(parent)
        self._context, self._sitting, self.presenter = context, sitting, presenter
        self._ask_where = ask_where
        self._on_acted, self._on_left, self._on_count = on_acted, on_left, on_count
        self._past_of: Thing | None = None
        self._build_head()
        self._place = FormPlace(
            self,
            context,
            sitting,
            on_saved=lambda _made: self._saved(),
            on_left=self._left_sheet,
            deeds=deeds,
        )
        self._place.pack(fill="both", expand=True)
        again = Deed("To its sheet", self.turn, PAST_KEY, "Go on in its sheet, or lay it out")
        self.past = PastPane(
            self._place,
            context,
            nothing_chosen=NOTHING_CHOSEN,
            deeds=(again,),
            on_print=self._save_filled,
            on_leave=self._left_past,
        )
        self._place.stand(self.past)

    @property
    def form(self) -> Form | None:
        """The open sheet, if there is one."""
        return self._place.form

    def unsaved(self) -> str:
        """The open sheet, if anything was typed in it."""
        return self._place.unsaved()

    def focus_page(self) -> None:
        """Go on in the sheet, or choose a piece to begin one."""
        if self.form is None:
            self.find.focus_box()
        elif self.past.winfo_manager():
            self.past.table.focus_rows()
        else:
            self.form.go_on_filling_in()

    def inspect(self, thing: Thing) -> None:
        """Lay out the sheet of that thing, unless one that is open would lose something."""
        if self._place.in_the_way():
            return
        presenter = self.presenter
        try:
            asked = presenter.day_asked(self.day.get())
        except Refused as refused:
            self._context.refuse(str(refused))
            self.day.focus_field()
            return
        presenter.thing = thing
        self._read_past()
        self._context.background.ask(
            "bench inspection",
            lambda job: presenter.sheet_plan(job, thing, asked),
            self._open,
            on_refused=self._refused,
            doing="the inspection sheet",
        )

    def turn(self) -> None:
        """From the open sheet to what was found of the thing before, and back; or lay out its sheet."""
        if self.presenter.thing is None:
            self._context.refuse("No piece is chosen. Scan or type its tag first.")
            self.find.focus_box()
        elif self.form is None:
            self.inspect(self.presenter.thing)
        elif self._place.turn():
            self.form.go_on_filling_in()
        else:
            self.past.table.focus_rows()

    def save_paper(self) -> None:
        """Save the filled sheet of what is looked at, or else the blank sheet of what is chosen."""
        past = self.past.past
        if self.past.winfo_manager() and past is not None and past.kept:
            self.past.print_chosen()
        else:
            self.save_blank()

    def save_blank(self) -> None:
        """Write the blank sheet of what is chosen to a file that a person names."""
        thing, presenter = self.presenter.thing, self.presenter
        if thing is None:
            self._context.refuse("No piece is chosen. Scan or type its tag first.")
            self.find.focus_box()
            return

        def write(name: str) -> None:
            where = self._ask_where(self, "Save the blank inspection sheet", name)
            if where:
                self._context.background.ask(
                    "bench blank sheet",
                    lambda job: presenter.write_blank(job, thing, Path(where)),
                    lambda path: self._context.say(f"Saved {path}."),
                    doing="the inspection sheet",
                )

        self._context.background.ask(
            "bench blank name", lambda job: presenter.blank_name(job, thing), write, on_refused=self._refused
        )

    def _save_filled(self, inspection: int) -> None:
        presenter = self.presenter

        def write(name: str) -> None:
            where = self._ask_where(self, "Save the filled inspection sheet", name)
            if where:
                self._context.background.ask(
                    "bench filled sheet",
                    lambda job: presenter.write_filled(job, inspection, Path(where)),
                    lambda path: self._context.say(f"Saved {path}."),
                    doing="the inspection sheet",
                )

        self._context.background.ask(
            "bench filled name",
            lambda job: presenter.filled_name(job, inspection),
            write,
            on_refused=self._refused,
        )

    def _build_head(self) -> None:
        context, px = self._context, self._context.theme.px
        head = ttk.Frame(self)
        head.pack(fill="x", pady=(0, px(8)))
        self.find = SearchBox(
            head,
            context.theme,
            context.background,
            search_things(self._sitting),
            self._found,
            placeholder="Tag or scan",
            width=14,
        )
        self.find.pack(side="left")
        blank = ttk.Button(head, text="Blank …", command=self.save_blank)
        blank.bind("<Return>", lambda event: event.widget.invoke())
        explain(blank, "Save its sheet as PDF, to be filled in by hand and entered afterwards", "Ctrl+P")
        blank.pack(side="right")
        before = ttk.Button(head, text="Past …", command=self.turn)
        before.bind("<Return>", lambda event: event.widget.invoke())
        explain(before, "What inspections of it found, judged as then and as today; and back", PAST_KEY)
        before.pack(side="right", padx=px(6))
        ttk.Label(head, text="as of").pack(side="left", padx=(px(10), px(6)))
        asked = Field(
            "on", "Day", FieldKind.DATE, hint="The day on which it was inspected; its specification"
        )
        self.day = DateEditor(head, context.theme, asked)
        self.day.set(self._sitting.today())
        self.day.entry.bind("<Return>", lambda _event: self._lay_out_again())
        self.day.pack(side="left")

    def _found(self, hit: Hit) -> None:
        self.inspect(hit.ref)

    def _lay_out_again(self) -> str:
        """The sheet of the day that was typed, as its specification may be another."""
        if self.presenter.thing is not None:
            self.inspect(self.presenter.thing)
        else:
            self.find.focus_box()
        return "break"

    def _open(self, plan: FormPlan) -> None:
        self._place.open(plan)
        form = self.form
        assert form is not None, "nothing was in the way"
        form.bind(COUNTED, self._counted)
        form.bind(TIME_UP, partial(self._time_is_up, plan.title))

    def _refused(self, refused: Refused) -> None:
        self._context.refuse(str(refused))
        self.find.focus_box()

    def _counted(self, event: tk.Event[tk.Misc]) -> None:
        count_down = event.widget
        if isinstance(count_down, CountDown):
            self._on_count(count_down.remaining() if count_down.count.running else "")

    def _time_is_up(self, title: str, _event: object) -> None:
        what = title.partition("  (")[0].removeprefix("Inspect ")
        self._context.say(
            f"The time is up: read the pressure of {what}, and put it in its sheet on the Bench."
        )

    def _saved(self) -> None:
        self._read_past()
        self._on_acted()

    def _read_past(self) -> None:
        thing, presenter = self.presenter.thing, self.presenter
        assert thing is not None, "something is inspected"
        if thing != self._past_of:
            self.past.show(None)
        self._past_of = thing
        self._context.background.ask(
            "bench past", lambda job: presenter.read_past(job, thing), self.past.show
        )

    def _left_past(self) -> None:
        if self.form is not None:
            self.turn()
        else:
            self.find.focus_box()

    def _left_sheet(self) -> None:
        self._on_count("")
        self._on_left()
