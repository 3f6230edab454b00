"""Files to be attached to what a form books in, each with the kind of paper it is."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from tkinter import ttk
from typing import Any

from gui.shown import ChosenFile, Field
from gui.theme import Theme
from gui.widgets.editors import Editor
from gui.widgets.tip import explain


def ask_for_files(parent: tk.Misc) -> Sequence[str]:
    """Let a person pick files with the system's own window."""
    from tkinter import filedialog

    return filedialog.askopenfilenames(parent=parent, title="Attach papers") or ()


class FileList(Editor):
    """Any number of files; each row has its name, its kind and a way to take it off again."""

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        field: Field,
        ask: Callable[[tk.Misc], Sequence[str]] = ask_for_files,
    ) -> None:
        super().__init__(parent, theme, field)
        self._ask = ask
        self._files: list[ChosenFile] = []
        self._rows = ttk.Frame(self)
        self._rows.pack(fill="x")
        self.attach = ttk.Button(self, text="Attach a file …", command=self._attach)
        self.attach.pack(anchor="w")

    def get(self) -> Any:
        return tuple(self._files)

    def set(self, value: Any) -> None:
        self._files = list(value or ())
        self._show()

    def raw(self) -> Any:
        return tuple(self._files)

    def focus_field(self) -> None:
        self.attach.focus_set()

    def add(self, paths: Sequence[Path]) -> None:
        """Attach these, unless they are already, as the first kind of paper."""
        here = {chosen.path for chosen in self._files}
        kind = self.field.choices[0].key if self.field.choices else None
        self._files += [ChosenFile(path, kind) for path in paths if path not in here]
        self._show()
        self.on_change()

    def _attach(self) -> None:
        self.add([Path(name) for name in self._ask(self)])

    def _show(self) -> None:
        for row in self._rows.winfo_children():
            row.destroy()
        px = self.theme.px
        words = [choice.word for choice in self.field.choices]
        for at, chosen in enumerate(self._files):
            row = ttk.Frame(self._rows)
            row.pack(fill="x", pady=(0, px(4)))
            if words:
                kind = ttk.Combobox(row, values=words, state="readonly", width=20)
                kind.current([choice.key for choice in self.field.choices].index(chosen.kind))
                kind.bind("<<ComboboxSelected>>", partial(self._kind_chosen, at, kind))
                kind.pack(side="left")
            away = ttk.Button(row, text="Take off", command=partial(self._take_off, at))
            away.pack(side="right")
            name = ttk.Label(row, text=chosen.path.name)
            name.pack(side="left", padx=px(8), fill="x", expand=True)
            explain(name, str(chosen.path))

    def _kind_chosen(self, at: int, box: ttk.Combobox, _event: object) -> None:
        self._files[at] = ChosenFile(self._files[at].path, self.field.choices[box.current()].key)
        self.on_change()

    def _take_off(self, at: int) -> None:
        del self._files[at]
        self._show()
        self.attach.focus_set()
        self.on_change()
