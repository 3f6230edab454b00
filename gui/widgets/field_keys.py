"""Keys that every field of text has, beyond those that Tk gives it."""

from __future__ import annotations

import tkinter as tk


def select_all_by_key(field: tk.Text | tk.Entry) -> None:
    """Ctrl+A takes all that stands in the field; on some screens Tk would go to the start of the line."""

    def select_all(_event: object) -> str:
        field.event_generate("<<SelectAll>>")
        return "break"

    field.bind("<Control-Key-a>", select_all)
