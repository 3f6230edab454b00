"""Fields in the order of a paper tag, checked as one leaves them, saved by one act."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Mapping, Sequence
from tkinter import ttk
from typing import Any

from gui.background import Background
from gui.job import Job
from gui.shown import Field, FieldKind, Values
from gui.theme import Theme
from gui.widgets.bench_test_rows import BenchTestRows
from gui.widgets.editors import (
    ChoiceEditor,
    DateEditor,
    Editor,
    FindEditor,
    LinesEditor,
    TextEditor,
    TickEditor,
    TicksEditor,
    ToldEditor,
)
from gui.widgets.file_list import FileList
from gui.widgets.form_foot import FormFoot
from gui.widgets.judged_words import JudgedEditor
from gui.widgets.measure_rows import MeasureRows
from gui.widgets.rows_editor import RowsEditor
from gui.widgets.scrolled import Scrolled
from gui.widgets.spec_line_rows import SpecLineRows
from gui.widgets.tip import explain
from invdb.terms import Asked, FieldRefused, Refused

MESSAGE_WIDTH = 460
# These need all the width there is.
WIDE = (FieldKind.ROWS, FieldKind.MEASURES, FieldKind.TEST, FieldKind.SPEC_LINES)
WITHOUT_LABEL = (FieldKind.TICK, *WIDE)

_EDITORS: dict[FieldKind, type[Editor]] = {
    FieldKind.TEXT: TextEditor,
    FieldKind.QUANTITY: TextEditor,
    FieldKind.LINES: LinesEditor,
    FieldKind.CHOICE: ChoiceEditor,
    FieldKind.DATE: DateEditor,
    FieldKind.TICK: TickEditor,
    FieldKind.TICKS: TicksEditor,
    FieldKind.FILES: FileList,
    FieldKind.TOLD: ToldEditor,
    FieldKind.JUDGED: JudgedEditor,
    FieldKind.MEASURES: MeasureRows,
    FieldKind.TEST: BenchTestRows,
    FieldKind.SPEC_LINES: SpecLineRows,
}


class Form(ttk.Frame):
    """Fill in, Enter goes on, Ctrl+Enter saves, Escape leaves and asks only if something would be lost.

    ``act(job, values)`` runs on the worker that writes; ``values`` holds the value of every field that is
    shown, by name. A FieldRefused is said beneath its field, any other refusal at the foot. ``on_saved`` gets
    what the act gave and returns the sentence that tells of it. ``on_leave`` is to take the form away.
    ``said`` gives what is to be said above the fields with what is filled in so far, or "". ``on_edit``
    hears the name of each field after it was changed by hand. Where the act asks back (Asked), a person may
    say that it is so: then it is done again with ``sure`` among the values.
    """

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        background: Background,
        fields: Sequence[Field],
        act: Callable[[Job, dict[str, Any]], Any],
        *,
        title: str,
        on_saved: Callable[[Any], str],
        on_leave: Callable[[], None],
        save_word: str = "Save",
        another: bool = True,
        said: Callable[[Values], str] = lambda _values: "",
        on_edit: Callable[[str], None] = lambda _name: None,
    ) -> None:
        # The keys are bound to the form itself, and Tk takes whatever has keys for a stop of the Tab key.
        super().__init__(parent, takefocus=False)
        self._theme, self._background = theme, background
        self._act, self._on_saved, self._on_leave = act, on_saved, on_leave
        self._said_of, self._on_edit = said, on_edit
        self._fields = tuple(fields)
        self._job: Job | None = None
        self._saved = False
        self._was_in: tk.Misc | None = None
        self._labels: dict[str, ttk.Label] = {}
        self._messages: dict[str, ttk.Label] = {}
        self._headings: dict[str, ttk.Frame] = {}
        self.editors: dict[str, Editor] = {}
        px = theme.px
        heading = ttk.Label(self, text=title, style="Subtitle.TLabel", wraplength=px(MESSAGE_WIDTH))
        heading.pack(fill="x", pady=(0, px(8)))
        self._said = ttk.Label(self, style="Strong.TLabel", wraplength=px(MESSAGE_WIDTH))
        self.foot = FormFoot(self, theme, save_word, self, another)
        self.foot.pack(side="bottom", fill="x", pady=(px(8), 0))
        self._scrolled = Scrolled(self, theme)
        self._scrolled.pack(fill="both", expand=True)
        # The tab order is the stacking order: from the last field one goes on to the button that saves.
        self.foot.lift()
        for words in (heading, self._said):
            words.bind("<Configure>", lambda event: event.widget.configure(wraplength=event.width))
        self._scrolled.inner.columnconfigure(1, weight=1)
        for at, field in enumerate(self._fields):
            self._add(field, at * 3)
        self._listen()
        self._scrolled.watch(self._scrolled.inner)
        self._show_fitting()
        self._as_begun = self._raw()

    def values(self) -> dict[str, Any]:
        """The values of the fields that are shown; Refused if one of them holds none."""
        return {field.name: self.editors[field.name].get() for field in self._shown()}

    def set(self, name: str, value: Any) -> None:
        """Fill in a field from outside, as if it had been offered from the start."""
        self.editors[name].set(value)
        self._show_fitting()
        self._as_begun[name] = self.editors[name].raw()

    def offer(self, name: str, choices: Sequence[Any]) -> None:
        """Offer other choices in a CHOICE field."""
        editor = self.editors[name]
        assert isinstance(editor, ChoiceEditor), f"{name} is not a choice"
        editor.offer(tuple(choices))
        editor.fit_choices()

    def begin(self) -> None:
        """Begin to fill in: at the first field that is empty, or else the first."""
        shown = self._shown()
        first = next((each for each in shown if not self.editors[each.name].filled()), shown[0])
        self.editors[first.name].focus_field()

    def changed(self) -> bool:
        """Whether leaving would lose anything."""
        return not self._saved and self._raw() != self._as_begun

    def message_of(self, name: str) -> str:
        """What stands beneath that field, or ""."""
        return str(self._messages[name].cget("text"))

    def save_surely(self) -> None:
        """Do the act again, since what it asked about is meant so."""
        self.save({"sure": True})

    def save(self, besides: Mapping[str, Any] | None = None) -> None:
        """Check every field, and if all are right, do the act, given some values besides those typed."""
        if self._job is not None or self._saved:
            return
        wrong = [field for field in self._shown() if not self._check(field)]
        if wrong:
            count = "One field is" if len(wrong) == 1 else f"{len(wrong)} fields are"
            self.foot.refuse(f"{count} not right yet; each says why.")
            self._show_wrong(wrong[0].name)
            return
        values, act = self.values() | dict(besides or {}), self._act
        self.foot.saving()
        self._job = self._background.act(
            lambda job: act(job, values),
            self._done,
            on_refused=self._refused,
            on_progress=self.foot.progress,
            on_over=self._over,
            doing="the saving",
        )

    def stop(self) -> None:
        """Ask the saving to stop, which it does unless it has begun to commit."""
        if self._job is not None and not self._job.ask_to_stop():
            self.foot.progress("It is being written and cannot be stopped any more", None)

    def leave(self) -> None:
        """Leave, but ask first if something would be lost."""
        if self._job is not None:
            return
        if self.changed():
            self.foot.ask_to_leave()
        else:
            self._on_leave()

    def leave_anyway(self) -> None:
        """Leave, whatever is lost."""
        self._on_leave()

    def another_like_this(self) -> None:
        """Begin the next one: what is alike is kept, what tells pieces apart is emptied."""
        self._saved = False
        emptied = [field for field in self._fields if not field.kept]
        for field in emptied:
            self.editors[field.name].set(field.start)
        self._show_fitting()
        self._as_begun = self._raw()
        self.foot.ready()
        shown = [field for field in emptied if field in self._shown()]
        if shown:
            self.editors[shown[0].name].focus_field()
        else:
            self.begin()

    def go_on_filling_in(self) -> None:
        """Go back to the field one was in, or to where one would begin."""
        if self._was_in is not None and self._was_in.winfo_exists() and self._was_in.winfo_viewable():
            self._was_in.focus_set()
        else:
            self.begin()

    def _add(self, field: Field, row: int) -> None:
        inner, px = self._scrolled.inner, self._theme.px
        if field.section and field.section not in self._headings:
            heading = ttk.Frame(inner)
            heading.grid(row=row, column=0, columnspan=2, sticky="ew", pady=(px(12), px(4)))
            ttk.Label(heading, text=field.section, style="Strong.TLabel").pack(side="left")
            ttk.Separator(heading).pack(side="left", fill="x", expand=True, padx=px(10))
            self._headings[field.section] = heading
        editor = self._editor(field)
        word = "" if field.kind in WITHOUT_LABEL else field.word
        label = ttk.Label(inner, text=word)
        label.grid(row=row + 1, column=0, sticky="nw", padx=(0, px(12)), pady=(px(8), px(2)))
        editor.grid(row=row + 1, column=1, sticky="ew", pady=px(3), padx=(0, px(12)))
        if field.kind in WIDE:
            editor.grid_configure(column=0, columnspan=2)
        if field.hint:
            own = () if field.kind is FieldKind.DATE else editor.winfo_children()
            for part in (label, *own):
                explain(part, field.hint)
        message = ttk.Label(inner, style="Refused.TLabel", wraplength=px(MESSAGE_WIDTH))
        message.grid(row=row + 2, column=1, sticky="ew")
        message.bind("<Configure>", lambda event: message.configure(wraplength=event.width))
        message.grid_remove()
        self._labels[field.name], self._messages[field.name] = label, message
        self.editors[field.name] = editor
        editor.set(field.start)
        editor.on_change = lambda: self._edited(field)

    def _editor(self, field: Field) -> Editor:
        if field.kind is FieldKind.ROWS:
            return RowsEditor(self._scrolled.inner, self._theme, field, self._background)
        if field.kind is FieldKind.FIND:
            return FindEditor(self._scrolled.inner, self._theme, field, self._background)
        editor = _EDITORS[field.kind](self._scrolled.inner, self._theme, field)
        if isinstance(editor, ChoiceEditor):
            editor.fit_choices()
        return editor

    def _listen(self) -> None:
        for key in ("<Control-Return>", "<Control-KP_Enter>"):
            self.bind(key, lambda _event: self._break(self._save_by_key))
        self.bind("<Escape>", lambda _event: self._break(self._escape))
        for key in ("<Return>", "<KP_Enter>"):
            self.bind(key, self._go_on)
        self.bind("<FocusIn>", self._entered)
        self.bind("<FocusOut>", self._left)
        for part in (self.foot, self._scrolled.inner):
            self._share_keys(part)

    def _share_keys(self, part: tk.Misc) -> None:
        """Give the form's keys to all that is in the part, after what each does with them itself."""
        own, *rest = part.bindtags()
        if str(self) not in rest:
            part.bindtags((own, str(self), *rest))
        for inside in part.winfo_children():
            self._share_keys(inside)

    def _field_of(self, widget: object) -> Field | None:
        path = f"{widget}."
        return next((f for f in self._fields if path.startswith(f"{self.editors[f.name]}.")), None)

    def _entered(self, event: tk.Event[tk.Misc]) -> None:
        field = self._field_of(event.widget)
        if field is not None:
            self._was_in = event.widget
            self._scrolled.see(event.widget, self._messages[field.name])

    def _break(self, run: Callable[[], None]) -> str:
        run()
        return "break"

    def _save_by_key(self) -> None:
        self.save()

    def _escape(self) -> None:
        if not self.foot.stay():
            self.leave()

    def _go_on(self, event: tk.Event[tk.Misc]) -> str | None:
        widget = event.widget
        if isinstance(widget, tk.Text):
            return None
        if isinstance(widget, ttk.Button):
            widget.invoke()
            return "break"
        following = widget.tk_focusNext()
        if following is not None:
            following.focus_set()
            if isinstance(following, ttk.Entry) and not isinstance(following, ttk.Combobox):
                following.selection_range(0, "end")
        return "break"

    def _edited(self, field: Field) -> None:
        if self._saved:
            self._saved = False
            self.foot.ready()
        self.foot.ask_no_more()
        self._show_fitting()
        self._share_keys(self.editors[field.name])
        self._scrolled.watch(self.editors[field.name])
        if self.message_of(field.name):
            self._check(field)
        self._on_edit(field.name)

    def _left(self, event: tk.Event[tk.Misc]) -> None:
        field = self._field_of(event.widget)
        if field is not None:
            self.after_idle(self._check_if_left, field)

    def _check_if_left(self, field: Field) -> None:
        if not self.winfo_exists() or self._saved or self._job is not None:
            return
        # By name, since tkinter knows no widget for the list that drops from a combobox.
        focus = str(self.tk.call("focus"))
        # With the focus in another window nothing has been left for good.
        if focus and self._field_of(focus) is not field and field in self._shown():
            self._check(field)

    def _check(self, field: Field) -> bool:
        editor = self.editors[field.name]
        try:
            value = editor.get()
            if field.needed and not editor.filled():
                raise Refused(f"“{field.word}” is still empty.")
            if field.check is not None:
                field.check(value, self.values_so_far())
        except Refused as refused:
            self._say_beneath(field.name, refused)
            return False
        self._messages[field.name].configure(text="")
        self._messages[field.name].grid_remove()
        editor.mark_wrong(False)
        return True

    def _say_beneath(self, name: str, refused: Refused) -> None:
        text = f"✕ {refused.reason} {refused.remedy}".strip()
        self._messages[name].configure(text=text)
        self._messages[name].grid()
        self.editors[name].mark_wrong(True)

    def _show_wrong(self, name: str) -> None:
        # What has just been said has no place yet.
        self.update_idletasks()
        self.editors[name].focus_field()
        focus, editor = self.focus_get(), self.editors[name]
        inside = focus is not None and f"{focus}.".startswith(f"{editor}.")
        self._scrolled.see(focus if focus is not None and inside else editor, self._messages[name])

    def values_so_far(self) -> dict[str, Any]:
        """Every field's value, with None where what stands there is none yet."""
        values = {}
        for name, editor in self.editors.items():
            try:
                values[name] = editor.get()
            except Refused:
                values[name] = None
        return values

    def _shown(self) -> list[Field]:
        values = self.values_so_far()
        return [field for field in self._fields if field.shown_when is None or field.shown_when(values)]

    def _show_fitting(self) -> None:
        shown = self._shown()
        for field in self._fields:
            parts = (self._labels[field.name], self.editors[field.name])
            for part in parts:
                part.grid() if field in shown else part.grid_remove()
            if field not in shown:
                self._messages[field.name].grid_remove()
        self._show_said()
        for section, heading in self._headings.items():
            fits = any(field.section == section for field in shown)
            heading.grid() if fits else heading.grid_remove()

    def said(self) -> str:
        """What is said above the fields, or ""."""
        return str(self._said.cget("text"))

    def _show_said(self) -> None:
        words = self._said_of(self.values_so_far())
        self._said.configure(text=words)
        if words:
            self._said.pack(anchor="w", fill="x", before=self._scrolled, pady=(0, self._theme.px(6)))
        else:
            self._said.pack_forget()

    def _raw(self) -> dict[str, Any]:
        return {name: editor.raw() for name, editor in self.editors.items()}

    def _over(self) -> None:
        self._job = None
        self.foot.ready()

    def _done(self, result: Any) -> None:
        self._saved = True
        self.foot.saved(self._on_saved(result))

    def _refused(self, refused: Refused) -> None:
        shown = [field.name for field in self._shown()]
        if isinstance(refused, Asked):
            self.foot.ask_whether_so(f"{refused.reason} {refused.remedy}".strip())
        elif isinstance(refused, FieldRefused) and refused.field in shown:
            self._say_beneath(refused.field, refused)
            self._show_wrong(refused.field)
        else:
            self.foot.refuse(f"{refused.reason} {refused.remedy}".strip())
