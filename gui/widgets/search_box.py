"""One box that finds everything: typed or scanned, answered as one types."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from tkinter import ttk

from gui.background import Background
from gui.job import Job
from gui.shown import Hit, Hits
from gui.theme import Theme, has_focus
from gui.widgets.drop_list import DropList
from gui.widgets.field_keys import select_all_by_key
from invdb.terms import Refused

DEBOUNCE_MS = 60
LOOKING_MS = 200
PAGE_STEP = 8

Search = Callable[[Job, str], Sequence[Hit] | Hits]


class SearchBox(ttk.Frame):
    """An entry with a drop-down of hits.

    ``search`` runs on a worker, from what was typed to hits, best first. ``on_choose`` gets the hit that was
    taken by Enter or a click. A scanner types a number and Enter at once; Enter then waits for the answer to
    just that number and takes the best hit, unless the answer comes with a note. ``keep`` leaves the chosen
    headline in the box (for a field of a form), else the box is emptied. ``on_typed`` hears every change by
    hand.
    """

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        background: Background,
        search: Search,
        on_choose: Callable[[Hit], None],
        *,
        placeholder: str = "Find or scan",
        width: int = 40,
        keep: bool = False,
        on_typed: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__(parent)
        self._background = background
        self._search = search
        self._on_choose = on_choose
        self._on_typed = on_typed
        self._placeholder = placeholder
        self._keep = keep
        self._empty = False
        self._timer = self._looking_timer = ""
        self._asked = self._answered = ""
        self._take_when_answered = False
        self._channel = f"search{self}"
        self.entry = ttk.Entry(self, width=width)
        self.entry.pack(fill="x", expand=True)
        self.list = DropList(self, theme, self._take)
        for key, handler in {
            "<KeyRelease>": self._typed,
            "<<Paste>>": lambda _event: self.after_idle(self._changed),
            "<FocusIn>": lambda _event: self._show_placeholder(False),
            "<FocusOut>": self._left,
            "<Down>": lambda _event: self._step(1),
            "<Up>": lambda _event: self._step(-1),
            "<Next>": lambda _event: self._step(PAGE_STEP),
            "<Prior>": lambda _event: self._step(-PAGE_STEP),
            "<Return>": self._enter,
            "<KP_Enter>": self._enter,
            "<Escape>": self._escape,
        }.items():
            self.entry.bind(key, handler, add="+")
        select_all_by_key(self.entry)
        self.bind("<Destroy>", self._gone, add="+")
        self._show_placeholder(True)

    def get(self) -> str:
        """What was typed, without the spaces around it."""
        return "" if self._empty else self.entry.get().strip()

    def set(self, text: str) -> None:
        """Put the text into the box without asking for hits."""
        self._show_placeholder(False)
        self.entry.delete(0, "end")
        self.entry.insert(0, text)
        self._asked = self._answered = self.get()
        if not has_focus(self.entry):
            self._show_placeholder(True)

    def focus_box(self) -> None:
        """Begin to type here, over whatever stands in the box."""
        self.entry.focus_set()
        self._show_placeholder(False)
        self.entry.selection_range(0, "end")

    def _show_placeholder(self, shown: bool) -> None:
        if shown and not self._empty and not self.entry.get():
            self._empty = True
            self.entry.configure(style="Empty.TEntry")
            self.entry.insert(0, self._placeholder)
        elif not shown and self._empty:
            self._empty = False
            self.entry.configure(style="TEntry")
            self.entry.delete(0, "end")

    def _typed(self, _event: object) -> None:
        if self.get() != self._asked:
            self._changed()

    def _changed(self) -> None:
        self._asked = self.get()
        self._take_when_answered = False
        self._on_typed()
        self._cancel_timers()
        if self._asked:
            self._timer = self.after(DEBOUNCE_MS, self._ask)
        else:
            self._background.forget(self._channel)
            self._answered = ""
            self.list.hide()

    def _ask(self) -> None:
        self._cancel_timers()
        words, search = self._asked, self._search
        self._looking_timer = self.after(LOOKING_MS, lambda: self.list.show((), "Looking …"))
        self._background.ask(
            self._channel,
            lambda job: search(job, words),
            lambda hits: self._answer(words, hits),
            on_refused=self._refuse,
            on_over=self._over,
        )

    def _over(self) -> None:
        self._cancel_timers()
        self.list.hide()

    def _answer(self, words: str, answer: Sequence[Hit] | Hits) -> None:
        found = answer if isinstance(answer, Hits) else Hits(tuple(answer))
        self._answered = words
        if not has_focus(self.entry) and not self._take_when_answered:
            return
        note = found.note
        if not found.hits and not note:
            note = f"Nothing fits “{words}”. Try fewer letters, or another of its numbers."
        self.list.show(found.hits, note)
        # What fits but for a slip is offered, and waits for a second Enter.
        if self._take_when_answered and found.hits and not found.note:
            self.list.take()
        self._take_when_answered = False

    def _refuse(self, refused: Refused) -> None:
        self._take_when_answered = False
        self.list.show((), f"{refused.reason} {refused.remedy}".strip())

    def _step(self, by: int) -> str:
        if self.list.dropped():
            self.list.step(by)
        elif self._asked:
            self._ask()
        return "break"

    def _enter(self, _event: object) -> str | None:
        words = self.get()
        if not words:
            return None
        if words == self._answered:
            return "break" if self.list.take() else None
        self._asked = words
        self._ask()
        self._take_when_answered = True
        return "break"

    def _escape(self, _event: object) -> str | None:
        self._take_when_answered = False
        if self.list.dropped():
            self.list.hide()
            return "break"
        if self.get() and not self._keep:
            self.set("")
            return "break"
        return None

    def _take(self, hit: Hit) -> None:
        self.set(hit.headline if self._keep else "")
        self._on_choose(hit)

    def _left(self, _event: object) -> None:
        self.list.hide()
        self._show_placeholder(True)

    def _cancel_timers(self) -> None:
        for timer in (self._timer, self._looking_timer):
            if timer:
                self.after_cancel(timer)
        self._timer = self._looking_timer = ""

    def _gone(self, event: tk.Event[tk.Misc]) -> None:
        if event.widget is self:
            self._cancel_timers()
            self._background.forget(self._channel)
