"""A page that is a list: what is told of it, its rows, more of the chosen one, and forms in its place."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from tkinter import ttk
from typing import Any

from gui.job import Job
from gui.shown import Deed, Empty, Page, Row, Sort
from gui.sitting import Sitting
from gui.view import Context
from gui.views.form_page import FormPage
from gui.views.form_place import FormPlace
from gui.views.form_plan import FormPlan
from gui.views.listing import ListDeed, Listing, ListPaper
from gui.widgets.deed_bar import DeedBar
from gui.widgets.said_box import SaidBox
from gui.widgets.shared_keys import share_keys
from gui.widgets.table import Table


class ListedPage(FormPage):
    """``deeds`` are to be done by their keys wherever one is in a form.

    ``on_acted`` hears that something was done here, ``on_read`` what its tab is to say, and ``on_leave`` is
    Escape among the rows. ``ask_where`` gets a part of the window, a title and a name, and gives the file
    that is to be written, "" for none.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        sitting: Sitting,
        listing: Listing,
        *,
        ask_where: Callable[[tk.Misc, str, str], str],
        deeds: tuple[Deed, ...] = (),
        on_acted: Callable[[], None] = lambda: None,
        on_read: Callable[[str], None] = lambda _words: None,
        on_leave: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__(parent)
        self.listing = listing
        self._context, self._ask_where = context, ask_where
        self._on_acted, self._on_read = on_acted, on_read
        self._made: Any = None
        px = context.theme.px
        self._place = FormPlace(
            self,
            context,
            sitting,
            on_saved=self._acted,
            on_left=self.focus_page,
            deeds=deeds,
        )
        self._place.pack(fill="both", expand=True)
        shown = ttk.Frame(self._place)
        ttk.Label(shown, text=listing.heading, style="Subtitle.TLabel").pack(fill="x")
        self._told = ttk.Label(shown)
        self._told.bind("<Configure>", lambda event: event.widget.configure(wraplength=event.width))
        self._told.pack(fill="x", pady=(px(2), px(6)))
        self.bar = DeedBar(shown, context.theme)
        self.bar.pack(fill="x", pady=(0, px(6)))
        self.table = Table(
            shown,
            context.theme,
            context.background,
            listing.columns,
            self._fetch,
            empty=Empty(listing.empty.headline, listing.empty.how_to_begin, tuple(self._deeds_for([])[:1])),
            many=listing.many,
            one=listing.one,
            widths=context.prefs.widths.get(listing.name),
            on_widths=partial(context.prefs.keep_widths, listing.name),
            on_open=self._open_row,
            on_choose=self._chose,
            deeds_for=self._deeds_for,
            say=context.say,
        )
        self._foot = SaidBox(shown, context.theme, lines=4)
        self._foot.pack(side="bottom", fill="x", pady=(px(6), 0))
        self.table.pack(fill="both", expand=True)
        self.table.tree.bind("<Escape>", lambda _event: on_leave())
        self._place.stand(shown)
        self._chose([])
        share_keys(shown, {deed.key: partial(self._by_key, deed.key) for deed in self._deeds_for([])})

    def read(self) -> None:
        """Read the list again."""
        self._context.background.ask(self.listing.name, self.listing.read, self._show)

    def open(self, ref: Any) -> None:
        """Show the rows of what was found, by its number, or open the form that a worker is to make."""
        if callable(ref):
            self.open_form(ref)
        else:
            self.table.filter_by(str(ref))
            self.table.focus_rows()

    def open_form(self, plan: Callable[[Job], FormPlan]) -> None:
        """Open the form that is made on a worker."""
        if self._place.in_the_way():
            return
        self._context.background.ask(
            f"{self.listing.name} form",
            plan,
            self._place.open,
            on_refused=lambda refused: self._context.refuse(str(refused)),
        )

    def said(self) -> str:
        """What is said in full of the chosen row."""
        return self._foot.said()

    def told(self) -> str:
        """What is said of them all."""
        return str(self._told.cget("text"))

    def _chose(self, rows: list[Row]) -> None:
        told = [self.listing.said_of(row.key) for row in rows]
        self._foot.tell(told[0] if len(told) == 1 else f"{len(told)} are chosen." if told else "")
        self.bar.show(self._deeds_for(rows))

    def _deeds_for(self, rows: Sequence[Row]) -> list[Deed]:
        keys = [row.key for row in rows]
        return [
            *(Deed(f"{each.word} …", partial(self._do, each), each.key, each.hint)
              for each in self.listing.deeds(keys)),
            *(Deed(f"{each.word} …", partial(self._save, each), each.key, each.hint)
              for each in self.listing.papers(keys)),
        ]  # fmt: skip

    def _by_key(self, key: str) -> None:
        deed = next((each for each in self._deeds_for(self.table.chosen()) if each.key == key), None)
        if deed is not None:
            deed.run()

    def _do(self, deed: ListDeed) -> None:
        if deed.plan is not None:
            self.open_form(deed.plan)
        elif deed.run is not None and not self._place.in_the_way():
            deed.run()

    def _save(self, paper: ListPaper) -> None:
        where = self._ask_where(self, paper.word, paper.file_name)
        if where:
            self._context.background.ask(
                f"{self.listing.name} paper",
                lambda job: paper.write(job, Path(where)),
                lambda path: self._context.say(f"Saved {path}."),
                on_refused=lambda refused: self._context.refuse(str(refused)),
                doing=paper.word.lower(),
            )

    def _open_row(self, row: Row) -> None:
        deeds = self._deeds_for([row])
        if deeds:
            deeds[0].run()

    def _show(self, read: Any) -> None:
        self.listing.take(read)
        self._told.configure(text=self.listing.told())
        self._on_read(self.listing.tab_words())
        self.table.refresh(self.listing.key_of(self._made) if self._made is not None else None)
        self._made = None
        self._chose(self.table.chosen())

    def _acted(self, made: Any) -> None:
        self._made = made
        self.read()
        self._on_acted()

    def _fetch(self, _job: Job, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        return self.listing.page(offset, limit, sort, words)
