"""The page of a part's documents: their list, and beneath it the photograph that is chosen."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from io import BytesIO
from tkinter import ttk

from gui.job import Job
from gui.shown import Deed, Row
from gui.sitting import Sitting
from gui.view import Context
from gui.views.part_list_page import PartListPage
from gui.views.part_tables import NO_PAPERS, NO_PART, PAPER_COLUMNS
from gui.widgets.table import Fetch
from invdb.acts.part_papers import kept_paper
from invdb.terms import PaperKind

PICTURE_HEIGHT = 220
PICTURE_WIDTH = 420


class PartPapersPage(ttk.Frame):
    """``fetch`` gives the rows, ``deeds_for`` says what may be done with the chosen one; ``on_open`` is Enter
    on a row, and ``on_leave`` Escape.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        sitting: Sitting,
        fetch: Fetch,
        *,
        deeds_for: Callable[[Row | None], list[Deed]],
        on_open: Callable[[Row], None],
        on_leave: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self._context, self._sitting = context, sitting
        self._image: tk.PhotoImage | None = None
        self._shown: int | None = None
        self.list = PartListPage(
            self,
            context,
            "part papers",
            PAPER_COLUMNS,
            fetch,
            empty=NO_PAPERS,
            words=("document", "documents"),
            told_of=lambda row: "" if row.cells[-1] == "here" else "Its content is not kept here.",
            deeds_for=deeds_for,
            on_open=on_open,
            on_leave=on_leave,
            on_choose=self._chose,
        )
        self.list.pack(fill="both", expand=True)
        self.picture = ttk.Label(self, anchor="center")

    def show(self, *, any_part: bool) -> None:
        """Show the documents as they are read by now."""
        self.list.show(NO_PAPERS if any_part else NO_PART)

    def focus_page(self) -> None:
        """Walk the rows from here on."""
        self.list.focus_page()

    def _chose(self, row: Row | None) -> None:
        is_photograph = row is not None and row.cells[0] == PaperKind.PHOTOGRAPH and row.cells[-1] == "here"
        document = row.key if row is not None and is_photograph else None
        if document == self._shown:
            return
        self._shown = document
        self.picture.pack_forget()
        self._image = None
        if document is None:
            self._context.background.forget("part photograph")
            return
        px = self._context.theme.px
        size = (px(PICTURE_WIDTH), px(PICTURE_HEIGHT))
        self._context.background.ask(
            "part photograph", lambda job: self._read_picture(job, document, size), self._show_picture
        )

    def _read_picture(self, job: Job, document: int, size: tuple[int, int]) -> bytes | None:
        with self._sitting.reading(job) as session:
            kept = kept_paper(session, document)
        return picture_png(kept.content, size)

    def _show_picture(self, png: bytes | None) -> None:
        if png is None:
            self.picture.configure(image="", text="This file is no picture that can be shown here.")
        else:
            self._image = tk.PhotoImage(master=self, data=png)
            self.picture.configure(image=self._image, text="")
        self.picture.pack(side="bottom", fill="x", before=self.list, pady=(self._context.theme.px(6), 0))


def picture_png(content: bytes, size: tuple[int, int]) -> bytes | None:
    """A picture's file made to fit into so many pixels, as the bytes of a PNG; None for no picture."""
    from PIL import Image, UnidentifiedImageError

    written = BytesIO()
    try:
        with Image.open(BytesIO(content)) as opened:
            opened.thumbnail(size)
            opened.convert("RGB").save(written, "PNG")
    except (UnidentifiedImageError, OSError, ValueError):
        return None
    return written.getvalue()
