"""The pages of what is asked for, offered, ordered and lent, and of what our stock cost."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable

from gui.view import Context
from gui.views.buying_pages import PagePlan, PageSetting
from gui.views.enquiries_presenter import EnquiriesPresenter
from gui.views.listed_page import ListedPage
from gui.views.listing import Listing
from gui.views.loans_presenter import LoansPresenter
from gui.views.purchases_presenter import PurchasesPresenter
from gui.views.quotes_presenter import QuotesPresenter
from gui.views.stores_presenter import BookInAgainst
from gui.views.value_presenter import ValuePresenter

ENQUIRIES, QUOTES, ORDERS, LOANS, VALUE = "enquiries", "quotes", "orders", "loans", "value"


def _page(make: Callable[[PageSetting], Listing]) -> Callable[[tk.Misc, PageSetting], ListedPage]:
    def made(parent: tk.Misc, setting: PageSetting) -> ListedPage:
        return ListedPage(
            parent,
            setting.context,
            setting.sitting,
            make(setting),
            ask_where=setting.ask_where,
            deeds=setting.deeds,
            on_acted=setting.acted,
            on_read=setting.tell,
        )

    return made


def _book_in(context: Context) -> Callable[[int], None]:
    return lambda order_line: context.go_to("stores", BookInAgainst(order_line))


def _show_stock(context: Context) -> Callable[[int, str], None]:
    return lambda part, number: context.go_to("stores", ("part", part, number))


PAGES = (
    PagePlan(ENQUIRIES, "Enquiries", "F11", _page(lambda given: EnquiriesPresenter(given.sitting))),
    PagePlan(QUOTES, "Quotes", "F12", _page(lambda given: QuotesPresenter(given.sitting))),
    PagePlan(
        ORDERS,
        "On order",
        "Alt+O",
        _page(lambda given: PurchasesPresenter(given.sitting, _book_in(given.context))),
    ),
    PagePlan(LOANS, "Loans", "Alt+L", _page(lambda given: LoansPresenter(given.sitting))),
    PagePlan(
        VALUE,
        "Value",
        "Alt+V",
        _page(lambda given: ValuePresenter(given.sitting, _show_stock(given.context))),
    ),
)
