"""One test of an inspection: how it was done, its readings and its count-down, and what came of it."""

from __future__ import annotations

import tkinter as tk
from tkinter import ttk
from typing import Any

from gui.shown import Field, FieldKind
from gui.shown_inspection import AskedTest, DoneTest
from gui.theme import STRONG, Theme
from gui.widgets.count_down import TIME_UP, CountDown
from gui.widgets.editors import ChoiceEditor, Editor
from gui.widgets.field_keys import select_all_by_key
from gui.widgets.judged_words import JudgedWords
from gui.widgets.measure_rows import INSTRUMENT_WIDTH
from gui.widgets.tip import explain
from invdb.rules.specification import seconds_words

READING_WIDTH, HELD_WIDTH, MEDIUM_WIDTH, FOUND_WIDTH = 9, 9, 12, 20
METHOD_WIDTH, OUTCOME_WIDTH = 21, 16


class BenchTestRows(Editor):
    """Its value is a :class:`DoneTest`, or None while nothing was filled in.

    What is only looked over is done with no instrument. A pressure test goes from its reading at the start
    over the count-down to that at the end.
    """

    def __init__(self, parent: tk.Misc, theme: Theme, field: Field) -> None:
        super().__init__(parent, theme, field)
        asks = field.asks
        assert isinstance(asks, AskedTest), f"{field.name} asks for no test"
        self._asks = asks
        self.entries: dict[str, ttk.Entry] = {}
        self.choices: dict[str, ChoiceEditor] = {}
        self.count_down: CountDown | None = None
        px = theme.px
        ttk.Label(self, text=field.word, font=STRONG).pack(anchor="w")
        caption = ttk.Label(self, text="\n".join(asks.captions), style="Caption.TLabel")
        caption.bind("<Configure>", lambda event: caption.configure(wraplength=event.width))
        caption.pack(fill="x", pady=(0, px(4)))
        if asks.unit:
            self._build_pressure()
        elif asks.methods:
            row = self._row()
            self._choice(row, "method", "Method", asks.methods, METHOD_WIDTH, "not said")
            self._build_instrument(row)
        row = self._row()
        if asks.unit:
            self._build_instrument(row)
        none = "by the figures" if asks.unit else "open"
        self._choice(row, "passed", "Outcome", asks.outcomes, OUTCOME_WIDTH, none)
        hint = "What was seen; needed where it was not passed"
        self._entry(row, "found", "Found", FOUND_WIDTH, hint, grow=True)
        self._calibrated = JudgedWords(self, theme, small=True)
        self.verdict = JudgedWords(self, theme)
        self.verdict.pack(fill="x", pady=(px(4), px(6)))
        self.set(None)

    def get(self) -> DoneTest | None:
        if not self.filled():
            return None
        typed: dict[str, Any] = {name: entry.get().strip() for name, entry in self.entries.items()}
        return DoneTest(**typed, **{name: choice.get() for name, choice in self.choices.items()})

    def set(self, value: DoneTest | None) -> None:
        done = value or DoneTest()
        for name, entry in self.entries.items():
            entry.delete(0, "end")
            entry.insert(0, getattr(done, name))
        for name, choice in self.choices.items():
            choice.set(getattr(done, name))
        self._told = self.raw()
        self._judge()

    def raw(self) -> Any:
        texts = tuple(entry.get() for entry in self.entries.values())
        running = self.count_down is not None and self.count_down.count.running
        return (*texts, *(choice.raw() for choice in self.choices.values()), running)

    def filled(self) -> bool:
        """Whether anything was said of the test; the medium and the instrument are offered."""
        said = [name for name in self.entries if name != "medium"]
        running = self.count_down is not None and self.count_down.count.running
        chosen = (self.choices[name].get() for name in ("method", "passed") if name in self.choices)
        return (
            running or any(self.entries[n].get().strip() for n in said) or any(c is not None for c in chosen)
        )

    def focus_field(self) -> None:
        first = next((each for each in self.entries.values() if not each.get().strip()), None)
        if "method" in self.choices and self.choices["method"].get() is None:
            self.choices["method"].focus_field()
        elif first is not None:
            first.focus_set()
        else:
            self.choices["passed"].focus_field()

    def _build_pressure(self) -> None:
        asks, px = self._asks, self.theme.px
        row = self._row()
        hint = f"In {asks.unit}, or with its own unit"
        self._entry(row, "start", f"At the start, {asks.unit}", READING_WIDTH, hint)
        if asks.hold_seconds:
            self.count_down = CountDown(
                row, self.theme, asks.hold_seconds, on_held=self._held, on_started=self.tell_typed
            )
            self.count_down.pack(side="left", padx=(0, px(14)), anchor="s")
            self.count_down.bind(TIME_UP, lambda _event: self._time_is_up(), add="+")
        self._entry(row, "held", "Held for", HELD_WIDTH, "As counted, or as 20 min, 90 s, 1 h 30 min")
        self._entry(row, "end", f"At the end, {asks.unit}", READING_WIDTH, hint)
        self._entry(row, "medium", "Medium", MEDIUM_WIDTH, "What it was filled with", grow=True)

    def _build_instrument(self, row: ttk.Frame) -> None:
        tools = self._asks.instruments
        none = "not said" if tools else "none on record"
        self._choice(row, "instrument", "With", tools, INSTRUMENT_WIDTH, none)

    def _row(self) -> ttk.Frame:
        row = ttk.Frame(self)
        row.pack(fill="x", pady=(self.theme.px(2), self.theme.px(4)))
        return row

    def _labelled(self, row: ttk.Frame, word: str, *, grow: bool = False) -> ttk.Frame:
        place = ttk.Frame(row)
        place.pack(side="left", padx=(0, self.theme.px(14)), fill="x", expand=grow)
        ttk.Label(place, text=word, style="Caption.TLabel").pack(anchor="w")
        return place

    def _entry(
        self, row: ttk.Frame, name: str, word: str, width: int, hint: str, *, grow: bool = False
    ) -> None:
        right = name in ("start", "end")
        entry = ttk.Entry(
            self._labelled(row, word, grow=grow), width=width, justify="right" if right else "left"
        )
        entry.pack(fill="x")
        entry.bind("<KeyRelease>", lambda _event: self.tell_typed())
        entry.bind("<<Paste>>", lambda _event: self.after_idle(self.tell_typed), add="+")
        select_all_by_key(entry)
        explain(entry, hint)
        self.entries[name] = entry

    def _choice(
        self, row: ttk.Frame, name: str, word: str, choices: tuple[Any, ...], width: int, none: str
    ) -> None:
        place = self._labelled(row, word)
        choice = ChoiceEditor(
            place, self.theme, Field(name, word, FieldKind.CHOICE, choices=choices), none=none
        )
        choice.box.configure(width=width)
        choice.pack(anchor="w")
        choice.on_change = self.tell_typed
        explain(choice.box, "Type its first letters, or press Down; Backspace for none")
        self.choices[name] = choice

    def tell_typed(self) -> None:
        if self.raw() != self._told:
            self._judge()
        super().tell_typed()

    def _held(self, seconds: int) -> None:
        self.entries["held"].delete(0, "end")
        self.entries["held"].insert(0, seconds_words(seconds))
        self.tell_typed()

    def _time_is_up(self) -> None:
        """Go on to what is to be read now, but only for one who stayed with it."""
        assert self.count_down is not None, "there was something to count"
        if str(self.tk.call("focus")) == str(self.count_down.button):
            self.entries["end"].focus_set()

    def _judge(self) -> None:
        done = self.get()
        self.verdict.show(self._asks.judge(done if done is not None else DoneTest()))
        if "instrument" in self.choices:
            calibrated = self._asks.instrument_told(self.choices["instrument"].get())
            self._calibrated.show(calibrated)
            if calibrated.words:
                self._calibrated.pack(fill="x", before=self.verdict)
            else:
                self._calibrated.pack_forget()
