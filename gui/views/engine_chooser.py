"""Which engine, and which group of its positions: two boxes, and the keys that go from engine to engine."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from functools import partial
from tkinter import ttk

from gui.shown import Choice, Field, FieldKind
from gui.theme import Theme
from gui.views.shown_engine import ShownEngine
from gui.widgets.editors import ChoiceEditor
from gui.widgets.engine_picture import EnginePicture
from gui.widgets.tip import explain

TYPED_AHEAD_MS = 900
ENGINE_WIDTH = 44


class EngineChooser(ttk.Frame):
    """Shows what the presenter holds. ``on_engine`` and ``on_group`` get what was chosen."""

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        presenter: ShownEngine,
        *,
        on_engine: Callable[[int], None],
        on_group: Callable[[str], None],
    ) -> None:
        super().__init__(parent)
        self._theme, self._presenter, self._on_engine = theme, presenter, on_engine
        self._typed, self._typed_at_ms = "", 0
        row = ttk.Frame(self)
        row.pack(fill="x")
        self.engines = ChoiceEditor(row, theme, Field("engine", "Engine", FieldKind.CHOICE, needed=True))
        self.engines.box.configure(width=ENGINE_WIDTH)
        self.engines.on_change = lambda: on_engine(self.engines.get())
        self.engines.pack(side="left")
        explain(self.engines.box, "Which engine; type the first letters, or press Down", "Ctrl+E")
        self.groups = ChoiceEditor(row, theme, Field("group", "Group", FieldKind.CHOICE, needed=True))
        self.groups.box.configure(width=12)
        self.groups.on_change = lambda: on_group(self.groups.get())
        explain(self.groups.box, "Which group of positions is drawn")
        self._bars = ttk.Label(self, style="Refused.TLabel")
        self._about = ttk.Label(self, style="Caption.TLabel")
        self._about.pack(fill="x", pady=(theme.px(4), 0))
        for label in (self._bars, self._about):
            label.bind("<Configure>", lambda event: event.widget.configure(wraplength=event.width))
            explain(label, presenter.told_of_type)

    def show(self) -> None:
        """Show the engines and groups as the presenter has them now."""
        presenter = self._presenter
        self.engines.offer(presenter.engine_choices())
        self.engines.set(presenter.engine.engine if presenter.engine is not None else None)
        self.show_about()
        groups = presenter.groups()
        self.groups.offer(tuple(Choice(group, group) for group in groups))
        self.groups.set(presenter.group)
        if len(groups) > 1:
            self.groups.pack(side="left", padx=(self._theme.px(8), 0))
        else:
            self.groups.pack_forget()

    def show_about(self) -> None:
        """Show what bars the engine, and what else is to be known of it."""
        _show_bars(self._bars, self._presenter.told_of_bars(), self._about, self._theme.px(4))
        self._about.configure(text=self._presenter.told_of_engine())

    def listen_at(self, picture: EnginePicture) -> None:
        """Let Page Up and Down go from engine to engine, and a cylinder's name typed go to it.

        Enter goes from the boxes on to the picture, or the name typed next would be taken for an engine's.
        """
        for key, way in (("<Prior>", -1), ("<Next>", 1)):
            for part in (picture, self.engines.box):
                part.bind(key, partial(self._go_beside, way))
        for box in (self.engines.box, self.groups.box):
            for key in ("<Return>", "<KP_Enter>"):
                box.bind(key, lambda _event: picture.focus_set())
        picture.bind("<KeyPress>", lambda event: self._type(picture, event), add="+")

    def _go_beside(self, way: int, _event: object) -> str:
        engine = self._presenter.beside(way)
        if engine is not None:
            self._on_engine(engine)
        return "break"

    def _type(self, picture: EnginePicture, event: tk.Event[tk.Misc]) -> None:
        if not event.char.isalnum() or int(event.state) & 0xC:
            return
        # The keys carry their own time: a window kept busy must not take one name for two.
        again = event.time - self._typed_at_ms <= TYPED_AHEAD_MS
        self._typed_at_ms = event.time
        before = self._typed if again else ""
        for typed in (before + event.char.casefold(), event.char.casefold()):
            name = self._presenter.name_typed(typed)
            if name is not None:
                self._typed = typed
                picture.choose(name)
                return


def _show_bars(label: ttk.Label, words: str, above: ttk.Label, gap: int) -> None:
    """Show what bars an engine above the other words, or take the label away where nothing does."""
    label.configure(text=words)
    if words:
        label.pack(fill="x", before=above, pady=(gap, 0))
    else:
        label.pack_forget()
