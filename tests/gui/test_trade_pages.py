"""The pages of enquiries, quotes, orders and loans at the keyboard."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from gui.prefs import Prefs
from gui.view import Context
from gui.views.buying import BuyingView
from gui.views.listed_page import ListedPage
from gui.views.stores_presenter import BookInAgainst
from gui.views.trade_pages import ENQUIRIES, LOANS, ORDERS, PAGES, QUOTES, VALUE
from invdb.acts.enquiry import NewEnquiry, NewEnquiryLine, add_enquiry
from invdb.acts.purchase_order import NewOrder, NewOrderLine, place_order
from tests.gui.desk import Desk
from tests.gui.stores_shop import made, sit
from tests.shop import Shop, sqlite_shop

KEYS = {ENQUIRIES: "<F11>", QUOTES: "<F12>", ORDERS: "<Alt-o>", LOANS: "<Alt-l>", VALUE: "<Alt-v>"}


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


class TradeDesk(Desk):
    """A window with these pages of Buying alone in it."""

    def __init__(self, shop: Shop, folder: Path) -> None:
        super().__init__(size="1180x680")
        self.said: list[str] = []
        self.refused: list[str] = []
        self.gone_to: list[tuple[str, Any]] = []
        self.save_as = folder / "sheet.pdf"
        self.background.on_failure = self.refused.append
        self.view = BuyingView(sit(shop), ask_where=lambda *_asked: str(self.save_as), plans=PAGES)
        context = Context(
            theme=self.theme,
            background=self.background,
            prefs=Prefs(folder / "window.json"),
            say=self.said.append,
            refuse=self.refused.append,
            posted=lambda *_told: None,
            progress=lambda *_told: None,
            go_to=lambda name, ref: self.gone_to.append((name, ref)),
        )
        self.view.build(self.root, context).pack(fill="both", expand=True)
        self.root.update()
        self.view.on_show()
        self.settle()

    def page(self, name: str) -> ListedPage:
        """A page, brought to the front by its key and read."""
        self.press(KEYS[name])
        self.settle()
        self.settle()
        assert self.view.book.shown() == name
        page = self.view.pages[name]
        assert isinstance(page, ListedPage)
        return page


@pytest.fixture
def desk(display: str, shop: Shop, tmp_path: Path) -> Iterator[TradeDesk]:
    with shop.store.writing() as session:
        asked = NewEnquiry((shop.supplier,), (NewEnquiryLine(shop.valve, 12),))
        add_enquiry(session, asked, shop.by())
        place_order(session, NewOrder(shop.supplier, "GBP", (NewOrderLine(shop.valve, 12, 8450),)), shop.by())
    opened = TradeDesk(shop, tmp_path)
    yield opened
    opened.close()


def test_every_page_has_its_key_and_says_what_stands_there(desk: TradeDesk) -> None:
    for name in KEYS:
        page = desk.page(name)
        assert page.table.count()[1] == (1 if name in (ENQUIRIES, ORDERS) else 0)
    assert desk.page(ORDERS).told() == "1 open order; none overdue. What is still to come costs 1014.00 GBP."


def test_a_row_says_more_and_enter_does_what_is_meant_most(desk: TradeDesk) -> None:
    page = desk.page(ORDERS)
    page.table.choose(0)
    assert page.said().startswith("Order D00001")
    page.table.focus_rows()
    desk.press("<Return>")
    ((view, ref),) = desk.gone_to
    assert (view, type(ref)) == ("stores", BookInAgainst)


def test_a_key_opens_its_form_which_is_not_lost_unasked(desk: TradeDesk) -> None:
    page = desk.page(LOANS)
    page.focus_page()
    desk.root.update()
    desk.press("<Insert>")
    desk.settle()
    assert page.form is not None
    desk.type("T00001")
    assert "Lend a piece of ours" in desk.view.unsaved()
    page.open_form(lambda _job: pytest.fail("another form is opened over it"))
    assert desk.refused == ["A form is open and not saved yet. Save it or leave it first."]


def test_the_sheets_of_an_enquiry_are_saved_one_for_each_firm(desk: TradeDesk, tmp_path: Path) -> None:
    page = desk.page(ENQUIRIES)
    page.table.choose(0)
    page.focus_page()
    desk.root.update()
    desk.press("<Control-p>")
    desk.settle()
    (saved,) = tmp_path.glob("sheet *.pdf")
    assert saved.name == "sheet Aldermoor Aero Spares.pdf"
    assert "VX0001-Y" in PdfReader(saved).pages[0].extract_text()
    desk.save_as = tmp_path / "order.txt"
    page = desk.page(ORDERS)
    page.table.choose(0)
    page.focus_page()
    desk.root.update()
    desk.press("<Control-p>")
    desk.settle()
    assert desk.refused == ["A sheet is not written as .txt. End the name in .pdf or .xlsx."]


def test_what_was_found_by_its_number_is_shown_on_its_page(desk: TradeDesk) -> None:
    desk.view.open(("purchase_order", 1, "D00001-X"))
    desk.settle()
    assert desk.view.book.shown() == ORDERS
    assert desk.page(ORDERS).table.words() == "D00001-X"


def test_the_value_of_the_stock_leads_to_the_stock(desk: TradeDesk, shop: Shop) -> None:
    made(shop, shop.piece)
    page = desk.page(VALUE)
    page.table.choose(0)
    page.table.focus_rows()
    desk.press("<Return>")
    assert desk.gone_to == [("stores", ("part", shop.valve, "VX0001-Y"))]
