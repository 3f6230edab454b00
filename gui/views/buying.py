"""The Buying view: what will be short and what to do about it, the plans and beliefs that this rests on."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from functools import partial
from tkinter import ttk
from typing import Any

from gui.sitting import Sitting
from gui.view import Context
from gui.views.beliefs_presenter import BeliefsPresenter
from gui.views.board_page import BoardPage
from gui.views.buying_help import HELP
from gui.views.buying_pages import BuyingPage, BuyingPages, PagePlan, PageSetting
from gui.views.listed_page import ListedPage
from gui.views.money_page import MoneyPage
from gui.views.plan_page import PlanPage
from gui.views.trade_pages import ENQUIRIES, LOANS, ORDERS
from gui.views.trade_pages import PAGES as TRADE_PAGES
from gui.widgets.save_where import ask_where_to_save
from gui.widgets.shared_keys import share_keys

BOARD, PLAN, BELIEFS, MONEY = "board", "plan", "beliefs", "money"
# Where what is found by its number stands, by its kind.
FOUND_ON = {"enquiry": ENQUIRIES, "purchase_order": ORDERS, "loan": LOANS}


def _beliefs(parent: tk.Misc, setting: PageSetting) -> ListedPage:
    return ListedPage(
        parent,
        setting.context,
        setting.sitting,
        BeliefsPresenter(setting.sitting),
        ask_where=setting.ask_where,
        deeds=setting.deeds,
        on_acted=setting.acted,
        on_read=setting.tell,
    )


PAGES = (
    PagePlan(BOARD, "Board", "F6", BoardPage),
    PagePlan(PLAN, "Plan", "F7", PlanPage),
    PagePlan(BELIEFS, "Beliefs", "F8", _beliefs),
    PagePlan(MONEY, "Money", "F9", MoneyPage),
    *TRADE_PAGES,
)


class BuyingView:
    """Pages in a book; each is made when the view is, and read when it comes to the front."""

    name, word, mark, help_text = "buying", "Buying", "buying", HELP

    def __init__(
        self,
        sitting: Sitting,
        ask_where: Callable[[tk.Misc, str, str], str] = ask_where_to_save,
        plans: tuple[PagePlan, ...] = PAGES,
    ) -> None:
        self._sitting, self._ask_where, self._plans = sitting, ask_where, plans
        self.pages: dict[str, BuyingPage] = {}

    def build(self, parent: tk.Misc, context: Context) -> tk.Widget:
        """The book of pages."""
        self.frame = ttk.Frame(parent)
        self.book = BuyingPages(self.frame, context.theme, self._plans, on_page=self._page_shown)
        self.book.pack(fill="both", expand=True)
        for plan in self._plans:
            setting = PageSetting(
                context,
                self._sitting,
                self.book.deeds(),
                partial(self.book.tell, plan.name),
                self._acted,
                self._ask_where,
            )
            page = self.pages[plan.name] = plan.make(self.book.frame(plan.name), setting)
            page.pack(fill="both", expand=True)
        share_keys(self.frame, {deed.key: deed.run for deed in self.book.deeds()})
        return self.frame

    def on_show(self) -> None:
        """Read the page in front, and go on in it."""
        self._page_shown(self.book.shown())

    def on_refresh(self) -> None:
        """Read the page in front again."""
        self.pages[self.book.shown()].read()

    def open(self, ref: Any) -> None:
        """Show what was found (kind, id and words), or what another view sent here: the name of a page, and
        what is to be shown on it (or None).
        """
        if ref[0] in FOUND_ON:
            kind, _id, words = ref
            ref = FOUND_ON[kind], words
        name, found = ref
        self.book.go_to(name)
        if found is not None:
            self.pages[name].open(found)

    def unsaved(self) -> str:
        """The open forms, and what else was typed and not saved."""
        return " and ".join(words for page in self.pages.values() if (words := page.unsaved()))

    def _acted(self) -> None:
        """The page in front has acted: it reads again, and every other when it comes to the front."""
        self.pages[self.book.shown()].read()

    def _page_shown(self, name: str) -> None:
        # The book tells of its first page while the others are still being made.
        if name in self.pages:
            self.pages[name].read()
            self.pages[name].focus_page()
