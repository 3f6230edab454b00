"""A pane in which a form takes the place of what is otherwise shown there, and gives it back when left."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from tkinter import ttk
from typing import Any

from gui.shown import Deed
from gui.sitting import Sitting
from gui.view import Context
from gui.views.form_plan import FormPlan
from gui.widgets.deed_menu import bind_deeds
from gui.widgets.form import Form


class FormPlace(ttk.Frame):
    """``shown`` is what stands here while no form is open; its parent must be this pane.

    ``on_saved`` hears what an act gave, so that it may be read again; ``on_left`` that the form is gone.
    ``deeds`` are done by their keys wherever one is in a form.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        sitting: Sitting,
        *,
        on_saved: Callable[[Any], None],
        on_left: Callable[[], None],
        deeds: Sequence[Deed] = (),
    ) -> None:
        super().__init__(parent)
        self.form: Form | None = None
        self.shown: ttk.Frame | None = None
        self._context, self._sitting = context, sitting
        self._on_saved, self._on_left, self._deeds = on_saved, on_left, tuple(deeds)
        self._title = ""

    def stand(self, shown: ttk.Frame) -> None:
        """Show that while no form is open."""
        self.shown = shown
        shown.pack(fill="both", expand=True)

    def unsaved(self) -> str:
        """The open form, if anything was typed in it."""
        return f"what was typed in “{self._title}”" if self.form and self.form.changed() else ""

    def in_the_way(self) -> bool:
        """Whether an open form would lose something; an untouched one is left without a word."""
        if self.form is not None and self.form.changed():
            self._context.refuse("A form is open and not saved yet. Save it or leave it first.")
            if not self.form.winfo_manager():
                self.turn()
            self.form.begin()
            return True
        self.close()
        return False

    def open(self, plan: FormPlan) -> None:
        """Open a form, unless one that is open would lose something."""
        if self.in_the_way():
            return
        context = self._context
        self._title = plan.title
        if self.shown is not None:
            self.shown.pack_forget()
        self.form = Form(
            self,
            context.theme,
            context.background,
            plan.fields,
            plan.act,
            title=plan.title,
            on_saved=lambda result: self._saved(plan, result),
            on_leave=self.leave,
            save_word=plan.save_word,
            another=plan.another,
            said=plan.said,
            on_edit=lambda name: self._edited(plan, name),
        )
        self.form.pack(fill="both", expand=True)
        bind_deeds(self.form, self._deeds)
        self.form.begin()

    def turn(self) -> bool:
        """Let what stands here be seen while a form is open, or the form again; whether the form is seen."""
        if self.form is None or self.shown is None:
            return False
        seen = bool(self.form.winfo_manager())
        before, after = (self.form, self.shown) if seen else (self.shown, self.form)
        before.pack_forget()
        after.pack(fill="both", expand=True)
        return not seen

    def leave(self) -> None:
        """Put the form away and go on with what stood here."""
        if self.form is not None:
            self.close()
            self._on_left()

    def close(self) -> None:
        """Put the form away."""
        if self.form is not None:
            self.form.destroy()
            self.form = None
            if self.shown is not None:
                self.shown.pack(fill="both", expand=True)

    def _edited(self, plan: FormPlan, name: str) -> None:
        assert self.form is not None, "no form is open"
        for other, value in plan.filled_by(name, self.form.values_so_far()).items():
            self.form.set(other, value)

    def _saved(self, plan: FormPlan, result: Any) -> str:
        self._sitting.posted()
        self._on_saved(result)
        told = plan.told(result)
        self._context.say(told)
        if not plan.another:
            # The form is left as soon as its saving has been told.
            self.after_idle(self.leave)
        return told
