"""The Stores view: what there is, a piece's story beside it, and the acts that change it."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from tkinter import ttk
from typing import Any

from gui.shown import Deed, Empty, Row
from gui.sitting import Sitting
from gui.view import Context
from gui.views.engine_papers import EnginePapers
from gui.views.form_plan import FormPlan
from gui.views.piece import StoryPane
from gui.views.piece_presenter import EntryTold, PieceStory
from gui.views.recall_form import RecallDone
from gui.views.stock_filters import StockFiltersBar
from gui.views.stores_plans import ENGINE_KEY, INSPECT_KEY, KEYS, SELDOM, Act, Key, acts_for
from gui.views.stores_presenter import COLUMNS, HELP, BookInAgainst, ReverseEntry, Shelf, StoresPresenter
from gui.widgets.deed_menu import bind_deeds
from gui.widgets.empty_note import EmptyNote
from gui.widgets.form import Form
from gui.widgets.table import Table
from gui.widgets.tip import explain
from invdb.acts.goods_in import Received
from invdb.terms import Refused

LIST_SHARE = 0.55
GAP = 12


def ask_where_to_save(parent: tk.Misc, title: str, name: str) -> str:
    """Let a person say where a sheet is to be saved, with the system's own window."""
    from tkinter import filedialog

    return filedialog.asksaveasfilename(
        parent=parent, title=title, initialfile=name, defaultextension=Path(name).suffix
    )


class StoresView:
    """Goods in, the stock list with its filters, the story of what is chosen, and the acts on it."""

    name, word, mark, help_text = "stores", "Stores", "stores", HELP

    def __init__(
        self, sitting: Sitting, ask_where: Callable[[tk.Misc, str, str], str] = ask_where_to_save
    ) -> None:
        self.presenter = StoresPresenter(sitting)
        self.form: Form | None = None
        self._sitting = sitting
        self._ask_where = ask_where
        self._subject: list[Key] = []
        self._story: PieceStory | None = None
        self._asked_for = ""

    def build(self, parent: tk.Misc, context: Context) -> tk.Widget:
        """The list at the left, the story or a form at the right, and a sash between."""
        self._context = context
        px = context.theme.px
        frame = ttk.Frame(parent)
        self.panes = ttk.Panedwindow(frame, orient="horizontal")
        self.panes.pack(fill="both", expand=True)
        left = ttk.Frame(self.panes, padding=(0, 0, px(GAP), 0))
        self.right = ttk.Frame(self.panes, padding=(px(GAP), 0, 0, 0))
        self.panes.add(left, weight=3)
        self.panes.add(self.right, weight=2)
        self._papers = EnginePapers(context, self._sitting, partial(self._ask_where, self.right))
        self._build_list(left)
        self._build_side()
        self._sash_set = False
        self._to_enter = False
        self.panes.bind("<Configure>", lambda _event: self._set_sash())
        return frame

    def on_show(self) -> None:
        """Go on in the list, or in the form that was left open."""
        if self.form is None:
            self.table.focus_rows()

    def on_refresh(self) -> None:
        """Read the list, the filters' choices and the story again."""
        self.filters.refresh()
        self.table.refresh()
        self._read_story()

    def open(self, ref: Any) -> None:
        """Show what was found (kind, id and words): a piece or a batch by its story, else its stock."""
        if isinstance(ref, ReverseEntry):
            self._open_plan(self.presenter.reverse(ref))
            return
        if not self._may_open():
            return
        if isinstance(ref, BookInAgainst):
            self._begin(partial(self.presenter.book_in, ref))
            return
        self._show_story_pane()
        presenter, (kind, found, headline) = self.presenter, ref
        if kind in ("piece", "batch"):
            self._context.background.ask(
                "stores open", lambda _job: presenter.key_of(kind, found), self._show_alone
            )
            return
        try:
            self._show_shelf(presenter.shelf_of(kind, found, headline))
        except Refused as refused:
            self._context.refuse(str(refused))

    def unsaved(self) -> str:
        """The open form, if anything was typed in it."""
        return f"what was typed in “{self._plan_title}”" if self.form and self.form.changed() else ""

    def act(self, act: Act, keys: Sequence[Key] = ()) -> None:
        """Begin an act on these, by its form."""
        presenter = self.presenter
        if self._may_open():
            self._begin(lambda: presenter.plan(act, keys))

    def _begin(self, plan: Callable[[], FormPlan]) -> None:
        self._context.background.ask(
            "stores form",
            lambda _job: plan(),
            self._open_plan,
            on_refused=lambda refused: self._context.refuse(str(refused)),
        )

    def save_sheet(self, ending: str) -> None:
        """Save the trace sheet of what is shown, as ``.pdf`` or ``.xlsx``."""
        if self._story is None:
            return
        sheet, presenter = self._story.sheet, self.presenter
        where = self._ask_where(self.right, "Save the trace sheet", f"{sheet.tag}{ending}")
        if where:
            self._context.background.ask(
                "stores sheet",
                lambda _job: presenter.write_sheet(sheet, Path(where)),
                lambda path: self._context.say(f"Saved {path}."),
                doing="the trace sheet",
            )

    def _build_list(self, left: ttk.Frame) -> None:
        context, presenter = self._context, self.presenter
        head = ttk.Frame(left)
        head.pack(fill="x", pady=(0, context.theme.px(6)))
        self.filters = StockFiltersBar(head, context, presenter, self._filtered)
        self.filters.pack(side="left", fill="x", expand=True)
        self.table = Table(
            left,
            context.theme,
            context.background,
            COLUMNS,
            presenter.fetch,
            empty=Empty(
                "Here stands every piece and batch, with its tag, its condition and its bin.",
                "Book in what has come to begin.",
                (self._goods_in_deed(),),
            ),
            many="pieces and batches",
            one="piece or batch",
            sort=presenter.sort_first,
            widths=context.prefs.widths.get("stock"),
            on_widths=partial(context.prefs.keep_widths, "stock"),
            on_open=lambda _row: self._enter_story(),
            on_choose=self._chose,
            deeds_for=self._deeds_for_rows,
            say=context.say,
        )
        self.table.pack(fill="both", expand=True)
        deed = self._goods_in_deed()
        goods_in = ttk.Button(self.table.bar, text=deed.word, command=deed.run, style="Accent.TButton")
        goods_in.bind("<Return>", lambda event: event.widget.invoke())
        explain(goods_in, deed.hint, deed.key)
        # Packed before what is counted, which gives way to it where there is little room.
        goods_in.pack(side="right", before=self.table.bar.winfo_children()[0])
        for part in (self.table.bar.entry, *(box.box for box in self.filters.boxes.values())):
            bind_deeds(part, [deed])

    def _build_side(self) -> None:
        theme = self._context.theme
        self.story = StoryPane(
            self.right, theme, on_reverse=self._reverse_entry, on_leave=self.table.focus_rows
        )
        self.story.pack(fill="both", expand=True)
        bind_deeds(self.story, [self._goods_in_deed()])
        self._nothing = EmptyNote(self.story, theme)
        self._show_nothing()

    def _set_sash(self) -> None:
        """Put the sash where the list and the story both have room, once the window has its width."""
        width = self.panes.winfo_width()
        if width > 1 and not self._sash_set:
            self._sash_set = True
            self.panes.after_idle(lambda: self.panes.sashpos(0, round(width * LIST_SHARE)))

    def _deeds_for_rows(self, rows: Sequence[Row]) -> list[Deed]:
        keys = [row.key for row in rows]
        return [self._goods_in_deed(), *self._deeds(keys), *self._seldom(keys)]

    def _goods_in_deed(self) -> Deed:
        return Deed(f"{Act.GOODS_IN} …", partial(self.act, Act.GOODS_IN), *KEYS[Act.GOODS_IN])

    def _deeds(self, keys: Sequence[Key]) -> list[Deed]:
        if self.table.chosen_count() > max(len(keys), 1):
            # Not all of them have been read, and an act on some of what was chosen would be a trap.
            return []
        deeds = [self._deed(act, keys) for act in acts_for(keys) if act not in SELDOM]
        if len(keys) == 1:
            word, key, hint = INSPECT_KEY
            deeds.append(Deed(word, partial(self._inspect, keys[0]), key, hint))
            if keys[0].engine is not None:
                word, key, hint = ENGINE_KEY
                deeds.append(Deed(word, partial(self._show_engine, keys[0].engine), key, hint))
            pdf = partial(self.save_sheet, ".pdf")
            deeds.append(Deed("PDF …", pdf, "Ctrl+T", "Save the trace sheet to print"))
        return deeds

    def _seldom(self, keys: Sequence[Key]) -> list[Deed]:
        """What else may be done with these: it stands behind one button, and in the menu of the list."""
        if self.table.chosen_count() > max(len(keys), 1):
            return []
        deeds = [self._deed(act, keys) for act in acts_for(keys) if act in SELDOM]
        if len(keys) == 1:
            xlsx = partial(self.save_sheet, ".xlsx")
            hint = "Save the trace sheet as a workbook"
            deeds.append(Deed("Trace sheet as workbook …", xlsx, "Ctrl+Shift+T", hint))
        return deeds

    def _deed(self, act: Act, keys: Sequence[Key]) -> Deed:
        key, hint = KEYS[act]
        return Deed(f"{act} …", partial(self.act, act, list(keys)), key, hint)

    def _show_engine(self, engine: int) -> None:
        self._context.go_to("engines", ("engine", engine))

    def _inspect(self, key: Key) -> None:
        self._context.go_to("bench", ("inspect", key.thing))

    def _filtered(self) -> None:
        self.table.show_from_start()

    def _chose(self, rows: list[Row]) -> None:
        # What is shown stays when the list is read again and its row is no longer near.
        if rows:
            self._subject = [row.key for row in rows]
            self._read_story()

    def _show_alone(self, key: Key) -> None:
        self._subject = [key]
        self._to_enter = True
        self.table.show_from_start(choose=key)
        self._read_story()

    def _show_shelf(self, shelf: Shelf) -> None:
        self.filters.set(shelf)
        self.table.filter_by("")
        self.table.focus_rows()

    def _read_story(self) -> None:
        if self.form is not None:
            # It is read when the form is left.
            return
        if len(self._subject) != 1:
            self._story = None
            self._show_nothing()
            return
        thing, presenter = self._subject[0].thing, self.presenter
        self._context.background.ask(
            "stores story",
            lambda job: presenter.story(job, thing),
            self._show_story,
            on_refused=self._show_no_story,
        )

    def _show_story(self, story: PieceStory) -> None:
        if self.form is not None:
            return
        self._story = story
        self._subject = [self.presenter.key_told(self._subject[0], story)]
        self._nothing.hide()
        # What had the focus in the story before is gone with it, and with the focus all the keys.
        inside = f"{self.story.tk.call('focus')}.".startswith(f"{self.story}.")
        self.story.show(story, self._deeds(self._subject), self._seldom(self._subject))
        if inside or self._to_enter:
            self._to_enter = False
            self._enter_story()

    def _show_no_story(self, refused: Refused) -> None:
        self._nothing.show(Empty(refused.reason, refused.remedy))
        if self._to_enter:
            self._to_enter = False
            self.table.focus_rows()

    def _show_nothing(self) -> None:
        self.story.show_none(self._deeds(self._subject))
        self._nothing.show(self.presenter.note_on(self._subject, self.table.chosen_count()))

    def _enter_story(self) -> None:
        if self.form is None:
            self.story.focus_story()

    def _may_open(self) -> bool:
        """Whether another form may take the place of the one that is open."""
        if self.form is not None and self.form.changed():
            self._context.refuse("A form is open and not saved yet. Save it or leave it first.")
            self.form.begin()
            return False
        return True

    def _open_plan(self, plan: FormPlan) -> None:
        if not self._may_open():
            return
        self._close_form()
        context = self._context
        self._plan_title = plan.title
        self.story.pack_forget()
        self._nothing.hide()
        self.form = Form(
            self.right,
            context.theme,
            context.background,
            plan.fields,
            plan.act,
            title=plan.title,
            on_saved=lambda result: self._saved(plan, result),
            on_leave=self._leave_form,
            save_word=plan.save_word,
            another=plan.another,
            said=plan.said,
            on_edit=lambda name: self._edited(plan, name),
        )
        self.form.pack(fill="both", expand=True)
        self.form.begin()

    def _edited(self, plan: FormPlan, name: str) -> None:
        assert self.form is not None, "no form is open"
        for other, value in plan.filled_by(name, self.form.values_so_far()).items():
            self.form.set(other, value)

    def _saved(self, plan: FormPlan, result: Any) -> str:
        if isinstance(result, Received):
            self._subject = [self._key_of_received(result)]
            self.table.show_from_start(choose=self._subject[0])
        else:
            self.table.refresh()
        self._sitting.posted()
        assert self.form is not None, "what was saved was saved by a form"
        # One goes on from here, say to accept what was booked in, without closing the form first.
        bind_deeds(self.form, self._deeds(self._subject))
        if isinstance(result, RecallDone):
            self.right.after_idle(self._papers.save_letter, result.letter)
        return plan.told(result)

    def _key_of_received(self, received: Received) -> Key:
        assert self.form is not None, "goods are booked in by a form"
        thing = received.things[0][0]
        return Key(thing, self.form.values()["place"] if thing.batch is not None else None)

    def _leave_form(self) -> None:
        self._show_story_pane()
        if any(row.key in self._subject for row in self.table.chosen()) or not self._subject:
            self._read_story()
            self.table.focus_rows()
            return
        # To go into the list would choose another row than the one this was about.
        self._to_enter = True
        self._read_story()

    def _show_story_pane(self) -> None:
        self._close_form()
        self.story.pack(fill="both", expand=True)

    def _close_form(self) -> None:
        if self.form is not None:
            self.form.destroy()
            self.form = None

    def _reverse_entry(self, told: EntryTold) -> None:
        if self._may_open():
            self._open_plan(self.presenter.reverse(ReverseEntry(told.number, told.sentence)))
