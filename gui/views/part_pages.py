"""The right side of the Catalogue view: the head of a part, what may be done, and its pages."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from functools import partial
from tkinter import ttk
from typing import Any

from gui.job import Job
from gui.shown import Deed, Page, Row, Sort
from gui.view import Context
from gui.views.catalogue_acts import ALTERNATES, CHANGES, PAGES, PAPERS, SPEC, STOCK, USES
from gui.views.catalogue_presenter import CataloguePresenter
from gui.views.part_graph_page import PartGraphPage
from gui.views.part_list_page import PartListPage
from gui.views.part_papers_page import PartPapersPage
from gui.views.part_spec_page import PartSpecPage
from gui.views.part_stock import NO_STOCK, STOCK_COLUMNS, fetch_stock, told_of_stock
from gui.views.part_tables import (
    CHANGE_COLUMNS,
    NO_CHANGES,
    NO_PART,
    NO_USES,
    PAPER_COLUMNS,
    USE_COLUMNS,
    change_row,
    page_of,
    paper_row,
    told_of_change,
    told_of_use,
    use_row,
)
from gui.widgets.deed_bar import DeedBar
from gui.widgets.details import Details
from gui.widgets.tip import PartTips

NARROW = 620


class PartPages(ttk.Frame):
    """``deeds`` are what may be done with the part; ``deeds_of`` what may be done with what is chosen on a
    page, by the page's name. ``on_follow`` gets the part to which one follows the picture, ``on_open`` a
    page's name and its row or card on which Enter is pressed, ``on_page`` hears which page is in front.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        presenter: CataloguePresenter,
        *,
        deeds: Callable[[], list[Deed]],
        deeds_of: Callable[[str, Any], list[Deed]],
        on_follow: Callable[[int], None],
        on_open: Callable[[str, Any], None],
        on_page: Callable[[str], None],
        on_leave: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self._context, self._presenter = context, presenter
        self._deeds, self._deeds_of, self._on_open = deeds, deeds_of, on_open
        self._on_leave = on_leave
        theme, px = context.theme, context.theme.px
        self.bar = DeedBar(self, theme)
        self.bar.pack(fill="x", pady=(0, px(6)))
        self.details = Details(self, theme)
        self.details.pack(fill="x", pady=(0, px(6)))
        self.book = ttk.Notebook(self, takefocus=False)
        self.book.pack(fill="both", expand=True)
        self._frames: dict[str, ttk.Frame] = {}
        for name, (word, _short, _key) in PAGES.items():
            frame = self._frames[name] = ttk.Frame(self.book, padding=theme.pad(6, 6))
            self.book.add(frame, text=word)
        self.spec = PartSpecPage(
            self._frames[SPEC],
            context,
            presenter,
            deeds_for=partial(deeds_of, SPEC),
            on_open=partial(on_open, SPEC),
            on_leave=on_leave,
        )
        self.uses = self._list(USES, "part uses", USE_COLUMNS, ("kit line", "kit lines"))
        self.stock = self._list(STOCK, "part stock", STOCK_COLUMNS, ("piece or batch", "pieces and batches"))
        self.alternates = PartGraphPage(
            self._frames[ALTERNATES],
            context,
            presenter,
            deeds_for=partial(deeds_of, ALTERNATES),
            on_open=on_follow,
            on_leave=on_leave,
        )
        self.papers = PartPapersPage(
            self._frames[PAPERS],
            context,
            presenter.sitting,
            partial(self._fetch, PAPERS),
            deeds_for=partial(deeds_of, PAPERS),
            on_open=partial(on_open, PAPERS),
            on_leave=on_leave,
        )
        self.changes = self._list(CHANGES, "part changes", CHANGE_COLUMNS, ("change", "changes"))
        self._parts: dict[str, Any] = {
            SPEC: self.spec,
            USES: self.uses,
            STOCK: self.stock,
            ALTERNATES: self.alternates,
            PAPERS: self.papers,
            CHANGES: self.changes,
        }
        for each in self._parts.values():
            each.pack(fill="both", expand=True)
        self._tips = PartTips(self.book)  # type: ignore[arg-type]
        self.book.bind("<Motion>", self._point)
        self.book.bind("<Configure>", lambda _event: self._word_tabs())
        self.book.bind("<Leave>", lambda event: self._tips.pointed(event, ""))
        self.book.bind("<<NotebookTabChanged>>", lambda _event: self._turned(on_page))

    def page(self) -> str:
        """The name of the page in front."""
        return list(PAGES)[self.book.index("current")]

    def go_to(self, name: str) -> None:
        """Bring that page to the front, and go on with the keys in it."""
        self.book.select(self._frames[name])
        self.update_idletasks()
        self._parts[name].focus_page()

    def focus_page(self) -> None:
        """Go on with the keys in the page that is in front."""
        self._parts[self.page()].focus_page()

    def show(self) -> None:
        """Show what is read of the part by now, on every page."""
        presenter = self._presenter
        self.details.show(presenter.title(), signs=presenter.signs(), facts=presenter.facts())
        self.spec.show()
        any_part = presenter.part is not None
        self.uses.show(NO_USES if any_part else NO_PART)
        self.alternates.show()
        self.papers.show(any_part=any_part)
        self.changes.show(NO_CHANGES if any_part else NO_PART)
        self.show_stock()
        self.show_deeds()

    def show_stock(self) -> None:
        """Show what there is of the part, read afresh."""
        read = self._presenter.read
        self.stock.show(
            NO_STOCK if self._presenter.part is not None else NO_PART,
            told_of_stock(read) if read is not None else "",
        )

    def show_deeds(self) -> None:
        """Show the buttons that fit now."""
        self.bar.show(self._deeds())

    def chosen(self) -> Any:
        """What is chosen on the page in front: a card, a row, or a part or link of the picture."""
        match self.page():
            case "spec":
                return self.spec.cards.chosen()
            case "alternates":
                return self.alternates.graph.chosen()
            case "papers":
                return self.papers.list.chosen()
            case name:
                return self._parts[name].chosen()

    def _list(self, name: str, widths: str, columns: Sequence[Any], words: tuple[str, str]) -> PartListPage:
        return PartListPage(
            self._frames[name],
            self._context,
            widths,
            columns,
            partial(self._fetch, name),
            empty=NO_PART,
            words=words,
            told_of=partial(self._told_of, name),
            deeds_for=partial(self._deeds_of, name),
            on_open=partial(self._on_open, name),
            on_leave=self._on_leave,
        )

    def _fetch(self, name: str, job: Job, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        """Some rows of a page; on a worker, from plain values that were read already but for the stock."""
        presenter = self._presenter
        read, part = presenter.read, presenter.part
        if name == STOCK:
            return fetch_stock(presenter.sitting, job, part, offset, limit, sort, words)
        if read is None:
            return Page((), 0, 0)
        if name == USES:
            rows = [use_row(use, read) for use in read.page.uses]
            return page_of(rows, USE_COLUMNS, offset, limit, sort, words)
        if name == PAPERS:
            return page_of(map(paper_row, read.page.papers), PAPER_COLUMNS, offset, limit, sort, words)
        return page_of(map(change_row, read.page.changes), CHANGE_COLUMNS, offset, limit, sort, words)

    def _told_of(self, name: str, row: Row) -> str:
        read = self._presenter.read
        if read is None:
            return ""
        if name == USES:
            use = next((use for use in read.page.uses if use.kit_line == row.key), None)
            return told_of_use(use, read) if use is not None else ""
        if name == CHANGES:
            change = next((each for each in read.page.changes if each.entry == row.key), None)
            return told_of_change(change) if change is not None else ""
        return ""

    def _turned(self, on_page: Callable[[str], None]) -> None:
        self._word_tabs()
        on_page(self.page())

    def _word_tabs(self) -> None:
        """Call the pages in a word where their names would be cut off, the one in front with a mark."""
        narrow = 1 < self.book.winfo_width() < self._context.theme.px(NARROW)
        self.book.configure(style="Narrow.TNotebook" if narrow else "TNotebook")
        for name, (word, short, _key) in PAGES.items():
            marked = f"▾ {short}" if name == self.page() else short
            self.book.tab(self._frames[name], text=marked if narrow else word)

    def _point(self, event: tk.Event[tk.Misc]) -> None:
        at = self.book.tk.call(self.book, "identify", "tab", event.x, event.y)
        if at == "":
            self._tips.pointed(event, "")
            return
        word, _short, key = list(PAGES.values())[int(at)]
        self._tips.pointed(event, f"{word}  ({key})")
