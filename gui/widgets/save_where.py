"""Where a sheet is to be saved, asked with the system's own window."""

from __future__ import annotations

import tkinter as tk


def ask_where_to_save(parent: tk.Misc, title: str, name: str) -> str:
    """The file that a person names for a PDF or a workbook, offered under a name; "" for none."""
    from tkinter import filedialog

    return filedialog.asksaveasfilename(
        parent=parent,
        title=title,
        initialfile=name,
        defaultextension=".pdf",
        filetypes=(("PDF", "*.pdf"), ("Workbook", "*.xlsx")),
    )
