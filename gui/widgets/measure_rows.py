"""Boxes for the figures of one line of an inspection, each with its verdict as it is typed."""

from __future__ import annotations

import tkinter as tk
from functools import partial
from tkinter import ttk
from typing import Any

from gui.shown import Field, FieldKind
from gui.shown_inspection import Figure, Judgement, Measures, Taken
from gui.theme import CAPTION, STRONG, Theme
from gui.widgets.editors import ChoiceEditor, Editor
from gui.widgets.field_keys import select_all_by_key
from gui.widgets.judged_words import JudgedWords
from gui.widgets.tip import explain

BOX_WIDTH = 10
INSTRUMENT_WIDTH = 28
# With more directions than these there is no room for the instrument beside the boxes.
DIRECTIONS_BESIDE_MAX = 2
SAMPLES_MAX = 50
NOTHING = Judgement("")

Place = tuple[int, str, str]


class MeasureRows(Editor):
    """A row of boxes for each point, a column for each direction; its value is a :class:`Taken`.

    Enter goes from box to box, and from the last one past the instrument if one is chosen; up and down go
    along a column. Where a place may be measured several times, fresh rows come as the last ones are filled.
    """

    def __init__(self, parent: tk.Misc, theme: Theme, field: Field) -> None:
        super().__init__(parent, theme, field)
        asks = field.asks
        assert isinstance(asks, Measures), f"{field.name} asks for no figures"
        self._asks = asks
        self.boxes: dict[Place, ttk.Entry] = {}
        self._marks: dict[Place, JudgedWords] = {}
        self._told_of_boxes: dict[Place, str] = {}
        px = theme.px
        head = ttk.Frame(self)
        head.grid(row=0, column=0, columnspan=2, sticky="ew")
        ttk.Label(head, text=field.word, font=STRONG).pack(side="left")
        self._caption = ttk.Label(self, text="\n".join(asks.captions), style="Caption.TLabel")
        self._caption.bind("<Configure>", lambda event: self._caption.configure(wraplength=event.width))
        self._caption.grid(row=1, column=0, columnspan=2, sticky="ew", pady=(0, px(4)))
        self._grid = ttk.Frame(self)
        self._grid.grid(row=2, column=0, sticky="nw")
        self._samples = 0
        self._build_headings()
        self._add_sample()
        self._build_instrument()
        self.verdict = JudgedWords(self, theme)
        self.verdict.grid(row=4, column=0, columnspan=2, sticky="ew", pady=(px(4), px(6)))
        self.columnconfigure(1, weight=1)
        self._judge()

    def get(self) -> Taken:
        figures = tuple(
            Figure(point, direction, box.get().strip())
            for (_sample, point, direction), box in self.boxes.items()
            if box.get().strip()
        )
        return Taken(figures, self.instrument.get())

    def set(self, value: Taken | None) -> None:
        taken = value or Taken()
        for box in self.boxes.values():
            box.delete(0, "end")
        self.instrument.set(taken.instrument)
        sample: dict[tuple[str, str], int] = {}
        for figure in taken.figures:
            place = (figure.point, figure.direction)
            at = sample[place] = sample.get(place, -1) + 1
            while at >= self._samples:
                self._add_sample()
            self.boxes[at, *place].insert(0, figure.text)
        self._told_of_boxes = {place: box.get() for place, box in self.boxes.items()}
        self._judge()

    def raw(self) -> Any:
        return self.get() if self.filled() else Taken(instrument=self.instrument.get())

    def filled(self) -> bool:
        return any(box.get().strip() for box in self.boxes.values())

    def focus_field(self) -> None:
        """Begin at the first box that is empty."""
        boxes = list(self.boxes.values())
        first = next((box for box in boxes if not box.get().strip()), boxes[0])
        first.focus_set()
        first.selection_range(0, "end")

    def mark_wrong(self, wrong: bool) -> None:
        """Outline the boxes whose figure can't be read."""
        for place, box in self.boxes.items():
            unread = wrong and self._marks[place].judgement.sign == "no figure"
            box.state(["invalid" if unread else "!invalid"])

    def mark_of(self, point: str, direction: str, sample: int = 0) -> Judgement:
        """How that box stands."""
        return self._marks[sample, point, direction].judgement

    def _build_headings(self) -> None:
        px = self.theme.px
        for at, direction in enumerate(self._asks.directions):
            if direction:
                words = f"{direction}, {self._asks.unit}"
                label = ttk.Label(self._grid, text=words, style="Caption.TLabel")
                label.grid(row=0, column=1 + 2 * at, sticky="w", padx=(px(2), 0))

    def _build_instrument(self) -> None:
        px = self.theme.px
        place = ttk.Frame(self)
        beside = len(self._asks.directions) <= DIRECTIONS_BESIDE_MAX
        if beside:
            place.grid(row=2, column=1, sticky="nw", padx=(px(24), 0))
        else:
            place.grid(row=3, column=0, columnspan=2, sticky="w", pady=(px(4), 0))
        heading = self.theme.line_height(CAPTION) if beside and any(self._asks.directions) else 0
        heading += px(2)
        ttk.Label(place, text="with", style="Dim.TLabel").grid(row=0, column=0, pady=(heading, 0))
        asked = Field("instrument", "Measured with", FieldKind.CHOICE, choices=self._asks.instruments)
        none = "not said" if self._asks.instruments else "none on record"
        self.instrument = ChoiceEditor(place, self.theme, asked, none=none)
        self.instrument.box.configure(width=INSTRUMENT_WIDTH)
        self.instrument.grid(row=0, column=1, sticky="w", padx=(px(8), 0), pady=(heading, 0))
        explain(self.instrument.box, "What it is measured with; type its first letters, Backspace for none")
        self._calibrated = JudgedWords(place, self.theme, small=True)
        self._calibrated.grid(row=1, column=1, sticky="ew", padx=(px(8), 0))
        self.instrument.on_change = self._instrument_changed

    def _add_sample(self) -> None:
        sample, asks, px = self._samples, self._asks, self.theme.px
        self._samples += 1
        for at, point in enumerate(asks.points):
            row = 1 + sample * len(asks.points) + at
            words = f"{point} {sample + 1}".strip() if asks.several else point
            label = ttk.Label(self._grid, text=words)
            label.grid(row=row, column=0, sticky="w", padx=(0, px(10) if words else 0))
            for across, direction in enumerate(asks.directions):
                place = (sample, point, direction)
                self._add_box(place, row, 1 + 2 * across)
            if asks.directions == ("",):
                unit = ttk.Label(self._grid, text=asks.unit, style="Dim.TLabel")
                unit.grid(row=row, column=2, sticky="w", padx=(px(6), 0))

    def _add_box(self, place: Place, row: int, column: int) -> None:
        px = self.theme.px
        box = ttk.Entry(self._grid, width=BOX_WIDTH, justify="right")
        box.grid(row=row, column=column, pady=px(2))
        mark = JudgedWords(self._grid, self.theme, mark_only=True)
        mark.configure(width=2)
        # The unit stands between the box and its mark where no heading names it.
        beside = column + (1 if place[2] else 2)
        mark.grid(row=row, column=beside, sticky="w", padx=(px(4), px(8)))
        box.bind("<KeyRelease>", lambda _event: self._typed(place))
        box.bind("<<Paste>>", lambda _event: self.after_idle(self._typed, place), add="+")
        for key in ("<Return>", "<KP_Enter>"):
            box.bind(key, partial(self._go_on, place))
            # Tk would take Enter with Ctrl for plain Enter here, and the form would not be saved.
            box.bind(f"<Control-{key.strip('<>')}>", lambda _event: None)
        box.bind("<Up>", partial(self._walk, place, -1))
        box.bind("<Down>", partial(self._walk, place, 1))
        select_all_by_key(box)
        for part in (box, mark):
            explain(part, lambda: self._pointed_at(place))
        self.boxes[place], self._marks[place] = box, mark

    def _pointed_at(self, place: Place) -> str:
        words = self._marks[place].judgement.words
        return words or f"In {self._asks.unit}, or with its own unit: 3 15/16 in, 12 thou, 100.02 mm"

    def _typed(self, place: Place) -> None:
        if (
            not self.boxes[place].winfo_exists()
            or self._told_of_boxes.get(place, "") == self.boxes[place].get()
        ):
            return
        self._told_of_boxes[place] = self.boxes[place].get()
        last = all(self.boxes[each].get().strip() for each in self.boxes if each[0] == self._samples - 1)
        if self._asks.several and last and self._samples < SAMPLES_MAX:
            self._add_sample()
            # Beneath the last boxes in the tab order, before the instrument.
            self.instrument.master.lift()
        self._judge()
        self.tell_changed()

    def _instrument_changed(self) -> None:
        self._judge()
        self.tell_changed()

    def _judge(self) -> None:
        for place, box in self.boxes.items():
            text = box.get().strip()
            self._marks[place].show(self._asks.judge(text) if text else NOTHING)
        self.verdict.show(self._asks.judge_all(self.get()))
        calibrated = self._asks.instrument_told(self.instrument.get())
        self._calibrated.show(calibrated)
        if calibrated.words:
            self._calibrated.grid()
        else:
            self._calibrated.grid_remove()

    def _go_on(self, place: Place, event: tk.Event[tk.Misc]) -> str | None:
        places = list(self.boxes)
        at = places.index(place) + 1
        if at < len(places):
            following: tk.Misc | None = self.boxes[places[at]]
            # Of a batch one goes on to the next sample only while there is one to be measured.
            if not (self._asks.several and not self.boxes[place].get().strip()):
                _focus(following)
                return "break"
        if self.instrument.get() is None and self._asks.instruments:
            self.instrument.focus_field()
            return "break"
        following = self.instrument.box.tk_focusNext()
        _focus(following)
        return "break"

    def _walk(self, place: Place, way: int, _event: object) -> str:
        column = [each for each in self.boxes if each[2] == place[2]]
        at = column.index(place) + way
        if 0 <= at < len(column):
            _focus(self.boxes[column[at]])
        return "break"


def _focus(widget: tk.Misc | None) -> None:
    if widget is None:
        return
    widget.focus_set()
    if isinstance(widget, ttk.Entry) and not isinstance(widget, ttk.Combobox):
        widget.selection_range(0, "end")
