"""One way to fill in each kind of field. A form holds them; each gives and takes a plain value."""

from __future__ import annotations

import re
import tkinter as tk
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from tkinter import ttk
from typing import Any

from gui.background import Background
from gui.shown import Choice, Field, FieldKind, Hit
from gui.theme import BODY, CAPTION, Theme, has_focus
from gui.widgets.dates import read_date
from gui.widgets.field_keys import select_all_by_key
from gui.widgets.search_box import SearchBox
from gui.widgets.tip import explain
from invdb.terms import Refused

TYPED_AHEAD_MS = 900
# In letters; where there is more room, a field of text takes it.
WIDTH = 30
DAY_KEYS = "Year-month-day, or day.month.year. Up and Down move it by a day."
CHOICE_WIDTH_MAX = 56
# Two ticks stand side by side unless one has more letters than these.
TICK_WORD_MAX = 20


class Editor(ttk.Frame):
    """What all of them share. ``on_change`` is set by the form and called after every change by hand."""

    def __init__(self, parent: tk.Misc, theme: Theme, field: Field) -> None:
        super().__init__(parent)
        self.theme = theme
        self.field = field
        self.on_change: Callable[[], None] = lambda: None
        self._told: Any = None

    def get(self) -> Any:
        """The value; Refused if what stands there is none."""
        raise NotImplementedError

    def set(self, value: Any) -> None:
        """Show the value, or None for nothing filled in."""
        raise NotImplementedError

    def raw(self) -> Any:
        """What stands there, right or wrong, to tell whether anything would be lost."""
        raise NotImplementedError

    def focus_field(self) -> None:
        """Begin to fill in here."""
        raise NotImplementedError

    def mark_wrong(self, wrong: bool) -> None:
        """Outline what is wrong, where that can be done."""

    def tell_changed(self) -> None:
        """Tell the form."""
        self.on_change()

    def tell_typed(self) -> None:
        """Tell the form if a key has changed what stands there; letting go of Ctrl+Enter changes nothing."""
        if self.raw() != self._told:
            self._told = self.raw()
            self.on_change()

    def filled(self) -> bool:
        """Whether anything was filled in."""
        return bool(self.raw())


class TextEditor(Editor):
    """One line of text; with a unit behind it, a quantity."""

    def __init__(self, parent: tk.Misc, theme: Theme, field: Field) -> None:
        super().__init__(parent, theme, field)
        quantity = field.kind is FieldKind.QUANTITY
        self.entry = ttk.Entry(self, width=14 if quantity else WIDTH, justify="right" if quantity else "left")
        self.entry.pack(side="left", fill="none" if quantity else "x", expand=not quantity)
        if field.unit:
            ttk.Label(self, text=field.unit, style="Dim.TLabel").pack(side="left", padx=theme.px(8))
        self.entry.bind("<KeyRelease>", lambda _event: self.tell_typed())
        self.entry.bind("<<Paste>>", lambda _event: self.after_idle(self.tell_typed), add="+")
        select_all_by_key(self.entry)

    def get(self) -> Any:
        return self.entry.get().strip()

    def set(self, value: Any) -> None:
        self.entry.delete(0, "end")
        self.entry.insert(0, "" if value is None else str(value))
        self._told = self.raw()

    def raw(self) -> Any:
        return self.entry.get()

    def focus_field(self) -> None:
        self.entry.focus_set()
        self.entry.selection_range(0, "end")

    def mark_wrong(self, wrong: bool) -> None:
        self.entry.state(["invalid" if wrong else "!invalid"])


class DateEditor(TextEditor):
    """A day, written as ISO 8601 has it or as 31.12.1934; the up and down keys move it by a day."""

    def __init__(self, parent: tk.Misc, theme: Theme, field: Field) -> None:
        super().__init__(parent, theme, field)
        self.entry.configure(width=11)
        self.entry.pack_configure(fill="none", expand=False)
        self._read_as = ttk.Label(self, style="Dim.TLabel")
        self._read_as.pack(side="left", padx=theme.px(8))
        self.entry.bind("<KeyRelease>", lambda _event: self._tell(), add="+")
        self.entry.bind("<Up>", lambda _event: self._step(1))
        self.entry.bind("<Down>", lambda _event: self._step(-1))
        # All in one, since two explanations of one field would be shown upon each other.
        explain(self.entry, f"{field.hint}. {DAY_KEYS}" if field.hint else DAY_KEYS)

    def get(self) -> Any:
        return read_date(self.raw())

    def set(self, value: Any) -> None:
        super().set(value.isoformat() if isinstance(value, date) else value)
        self._tell()

    def _step(self, days: int) -> str:
        try:
            day = read_date(self.raw())
        except Refused:
            return "break"
        self.set((day or date.today()) + timedelta(days=days if day else 0))
        self.on_change()
        return "break"

    def _tell(self) -> None:
        try:
            day = read_date(self.raw())
        except Refused:
            day = None
        self._read_as.configure(text=f"{day:%A} {day.day} {day:%B %Y}" if day else "")


class LinesEditor(Editor):
    """Several lines of text. Enter begins a new line; Tab goes on."""

    def __init__(self, parent: tk.Misc, theme: Theme, field: Field) -> None:
        super().__init__(parent, theme, field)
        self.text = tk.Text(self, height=3, width=WIDTH, wrap="word", font=BODY, undo=True, relief="flat")
        self.text.configure(highlightthickness=theme.px(1), padx=theme.px(6), pady=theme.px(4))
        self.text.pack(fill="both", expand=True)
        self.text.bind("<KeyRelease>", lambda _event: self.tell_typed())
        select_all_by_key(self.text)
        self.text.bind("<Tab>", lambda _event: self._leave(self.text.tk_focusNext()))
        for back in ("<Shift-Tab>", "<ISO_Left_Tab>"):
            if back == "<Shift-Tab>" or self.tk.call("tk", "windowingsystem") == "x11":
                self.text.bind(back, lambda _event: self._leave(self.text.tk_focusPrev()))
        self.text.bind("<<ThemeChanged>>", lambda _event: self._colour(), add="+")
        self._colour()

    def get(self) -> Any:
        return self.raw().strip()

    def set(self, value: Any) -> None:
        self.text.delete("1.0", "end")
        self.text.insert("1.0", value or "")
        self._told = self.raw()

    def raw(self) -> Any:
        return self.text.get("1.0", "end-1c")

    def focus_field(self) -> None:
        self.text.focus_set()

    def _leave(self, to: tk.Misc | None) -> str:
        if to is not None:
            to.focus_set()
        return "break"

    def _colour(self) -> None:
        palette = self.theme.palette
        self.text.configure(
            background=palette.raised,
            foreground=palette.ink,
            insertbackground=palette.ink,
            highlightbackground=palette.line,
            highlightcolor=palette.accent,
        )


class ToldEditor(Editor):
    """Words to be read, scrolled by the keys where there are many; nothing is filled in here."""

    def __init__(self, parent: tk.Misc, theme: Theme, field: Field) -> None:
        super().__init__(parent, theme, field)
        self.text = tk.Text(self, height=12, width=WIDTH, wrap="word", font=CAPTION, relief="flat")
        self.text.configure(padx=theme.px(6), pady=theme.px(4), state="disabled")
        self.text.configure(highlightthickness=theme.px(1))
        scroll = ttk.Scrollbar(self, orient="vertical", command=self.text.yview)
        self.text.configure(yscrollcommand=scroll.set)
        scroll.pack(side="right", fill="y")
        self.text.pack(side="left", fill="both", expand=True)
        self.text.bind("<<ThemeChanged>>", lambda _event: self._colour(), add="+")
        self._colour()

    def get(self) -> Any:
        return None

    def set(self, value: Any) -> None:
        self.text.configure(state="normal")
        self.text.delete("1.0", "end")
        self.text.insert("1.0", value or "")
        self.text.configure(state="disabled")

    def raw(self) -> Any:
        return ""

    def filled(self) -> bool:
        return True

    def told(self) -> str:
        """What stands there to be read."""
        return self.text.get("1.0", "end-1c")

    def focus_field(self) -> None:
        self.text.focus_set()

    def _colour(self) -> None:
        palette = self.theme.palette
        self.text.configure(
            background=palette.shade,
            foreground=palette.ink,
            highlightbackground=palette.line,
            highlightcolor=palette.accent,
        )


class ChoiceEditor(Editor):
    """One of several. Typing goes to the first choice that begins so, or has a word that does; Down lists.

    Typing that fits none of them goes back to what was chosen before it began. ``none`` is what the box reads
    while nothing is chosen; if it has words, they are offered first, to choose nothing again.
    """

    def __init__(self, parent: tk.Misc, theme: Theme, field: Field, none: str = "") -> None:
        super().__init__(parent, theme, field)
        self._choices: tuple[Choice, ...] = ()
        self._none = none
        self._typed, self._typed_at_ms = "", 0
        self._chosen_before: Any = None
        self.box = ttk.Combobox(self, state="readonly", width=WIDTH)
        self.box.pack(side="left")
        self.offer(field.choices)
        self.box.bind("<<ComboboxSelected>>", self._selected)
        self.box.bind("<KeyPress>", self._key)
        self.box.bind("<FocusOut>", lambda _event: self._forget_typed(), add="+")

    def offer(self, choices: tuple[Choice, ...]) -> None:
        """Offer other choices from now on; what was chosen stays if it is among them."""
        chosen = self.get()
        self._choices = (Choice(None, self._none), *choices) if self._none else choices
        self.box.configure(values=[choice.word for choice in self._choices])
        self.set(chosen)

    def fit_choices(self) -> None:
        """Be as wide as the longest choice asks, within reason, so that it can be read once chosen."""
        longest = max((len(choice.word) for choice in self._choices), default=0)
        self.box.configure(width=max(WIDTH, min(longest + 1, CHOICE_WIDTH_MAX)))

    def get(self) -> Any:
        at = self.box.current() if self._choices else -1
        return self._choices[at].key if at >= 0 else None

    def set(self, value: Any) -> None:
        for at, choice in enumerate(self._choices):
            if value is not None and choice.key == value:
                self.box.current(at)
                return
        self.box.set(self._none)

    def raw(self) -> Any:
        return "" if self.get() is None else self.box.get()

    def focus_field(self) -> None:
        self.box.focus_set()

    def _selected(self, _event: object) -> None:
        self._forget_typed()
        self.box.selection_clear()
        self.on_change()

    def _key(self, event: tk.Event[tk.Misc]) -> str | None:
        if event.keysym in ("BackSpace", "Delete") and not self.field.needed:
            self._forget_typed()
            self.set(None)
            self.on_change()
            return "break"
        if not event.char or not event.char.isprintable() or int(event.state) & 0x4:
            return None
        # The keys carry their own time: a window kept busy must not take one word for two.
        if event.time - self._typed_at_ms > TYPED_AHEAD_MS:
            self._forget_typed()
        self._typed_at_ms = event.time
        if not self._typed:
            self._chosen_before = self.get()
        self._typed = (self._typed + event.char.casefold()).lstrip()
        at = first_begun([choice.word for choice in self._choices], self._typed)
        chosen = self._chosen_before if at is None else self._choices[at].key
        if chosen != self.get():
            self.set(chosen)
            self.on_change()
        return "break"

    def _forget_typed(self) -> None:
        self._typed = ""


def first_begun(words: Sequence[str], typed: str) -> int | None:
    """Which of the words begins with what was typed, or else has a word that does; None if none."""
    typed = typed.casefold()
    begun = re.compile(rf"(?<![\w'’]){re.escape(typed)}")
    folded = [word.casefold() for word in words]
    fits = [at for at, word in enumerate(folded) if word.startswith(typed)]
    fits += [at for at, word in enumerate(folded) if begun.search(word)]
    return fits[0] if typed and fits else None


class FindEditor(Editor):
    """Something found by any of its names; its value is the hit's ``ref``."""

    def __init__(self, parent: tk.Misc, theme: Theme, field: Field, background: Background) -> None:
        super().__init__(parent, theme, field)
        assert field.find is not None, f"field {field.name} has nothing to find with"
        self._hit: Hit | None = None
        self.box = SearchBox(
            self,
            theme,
            background,
            field.find,
            self._chose,
            placeholder="Type or scan",
            width=WIDTH,
            keep=True,
            on_typed=self._typed,
        )
        self.box.pack(fill="x", expand=True)

    def get(self) -> Any:
        if self._hit is None and self.box.get():
            reason = f"“{self.box.get()}” is not chosen yet."
            raise Refused(reason, "Take one from the list, or empty the field.")
        return None if self._hit is None else self._hit.ref

    def set(self, value: Any) -> None:
        """Show a :class:`Hit`, or nothing."""
        self._hit = value
        self.box.set(value.headline if value is not None else "")

    def raw(self) -> Any:
        return self.box.get()

    def focus_field(self) -> None:
        self.box.focus_box()

    def mark_wrong(self, wrong: bool) -> None:
        self.box.entry.state(["invalid" if wrong else "!invalid"])

    def _chose(self, hit: Hit) -> None:
        self._hit = hit
        self.on_change()
        # What the choice has brought to light must be there before the focus goes on to it.
        self.update_idletasks()
        following = self.box.entry.tk_focusNext()
        if following is not None and has_focus(self.box.entry):
            following.focus_set()

    def _typed(self) -> None:
        self._hit = None
        self.on_change()


class TickEditor(Editor):
    """Yes or no."""

    def __init__(self, parent: tk.Misc, theme: Theme, field: Field) -> None:
        super().__init__(parent, theme, field)
        self.tick = _tick(self, field.word, self.tell_changed)
        self.tick.pack(side="left")

    def get(self) -> Any:
        return self.tick.instate(["selected"])

    def set(self, value: Any) -> None:
        self.tick.state(["selected" if value else "!selected"])

    def raw(self) -> Any:
        return self.get()

    def focus_field(self) -> None:
        self.tick.focus_set()


class TicksEditor(Editor):
    """Any number of several, two side by side where their words are short."""

    def __init__(self, parent: tk.Misc, theme: Theme, field: Field) -> None:
        super().__init__(parent, theme, field)
        self._ticks = {c.key: _tick(self, c.word, self.tell_changed) for c in field.choices}
        across = 2 if max((len(c.word) for c in field.choices), default=0) <= TICK_WORD_MAX else 1
        for at, tick in enumerate(self._ticks.values()):
            tick.grid(row=at // across, column=at % across, sticky="w", padx=(0, theme.px(16)))

    def get(self) -> Any:
        return frozenset(key for key, tick in self._ticks.items() if tick.instate(["selected"]))

    def set(self, value: Any) -> None:
        for key, tick in self._ticks.items():
            tick.state(["selected" if key in (value or ()) else "!selected"])

    def raw(self) -> Any:
        return self.get()

    def focus_field(self) -> None:
        next(iter(self._ticks.values())).focus_set()


def _tick(parent: tk.Misc, word: str, changed: Callable[[], None]) -> ttk.Checkbutton:
    """A tick that holds its own state, so that no Tk variable outlives the window."""
    tick = ttk.Checkbutton(parent, text=word, command=changed)
    tick.state(["!alternate", "!selected"])
    return tick
