"""The Buying view at the keyboard: the board from row to reasons, plans typed in, beliefs, and money."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from gui.prefs import Prefs
from gui.view import Context
from gui.views.beliefs_presenter import OTHERS
from gui.views.board_page import BoardPage
from gui.views.buying import BELIEFS, BOARD, MONEY, PAGES, PLAN, BuyingView
from gui.views.buying_help import HELP
from gui.views.listed_page import ListedPage
from gui.views.money_page import MoneyPage
from gui.views.plan_page import PlanPage
from invdb.acts.beliefs import beliefs
from invdb.acts.flying_plan import flying_plan
from invdb.acts.overhaul_plan import overhaul_plan, plan_overhaul
from invdb.acts.quote import NewQuote, add_quote
from invdb.acts.short_settings import short_settings
from tests.gui.desk import Desk
from tests.gui.stores_shop import sit
from tests.shop import Shop, sqlite_shop

JULY = date(2026, 7, 1)


class BuyingDesk(Desk):
    """A window with the Buying view alone in it, the inspector at work."""

    def __init__(self, shop: Shop, folder: Path, *, size: str = "1180x680") -> None:
        super().__init__(size=size)
        self.said: list[str] = []
        self.refused: list[str] = []
        self.gone: list[tuple[str, Any]] = []
        self.saved: Path = folder / "saved.pdf"
        context = Context(
            theme=self.theme,
            background=self.background,
            prefs=Prefs(folder / "window.json"),
            say=self.said.append,
            refuse=self.refused.append,
            posted=lambda _words, _reverse: None,
            progress=lambda _text, _fraction: None,
            go_to=lambda view, ref: self.gone.append((view, ref)),
        )
        self.view = BuyingView(sit(shop), lambda *_asked: str(self.saved))
        self.view.build(self.root, context).pack(fill="both", expand=True)
        self.view.on_show()
        self.rest()

    def rest(self) -> None:
        """Let it live until what follows from an answer is answered too."""
        for _ in range(3):
            self.settle()

    def keys(self, *keys: str) -> None:
        """Press keys, each once all that the one before led to is there."""
        for key in keys:
            self.press(key)
            self.rest()

    def page(self, name: str) -> Any:
        """A page of the book."""
        return self.view.pages[name]


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        with opened.store.writing() as session:
            plan_overhaul(session, opened.engine, JULY, opened.by())
            quote = NewQuote(opened.supplier, "GBP", ((1, 300),), part=opened.gasket, lead_days=20)
            add_quote(session, quote, opened.by())
        yield opened


@pytest.fixture
def desk(display: str, shop: Shop, tmp_path: Path) -> Iterator[BuyingDesk]:
    opened = BuyingDesk(shop, tmp_path)
    yield opened
    opened.close()
    assert not opened.failures, opened.failures


def test_the_worst_part_is_chosen_and_enter_says_what_its_figures_rest_on(desk: BuyingDesk) -> None:
    page: BoardPage = desk.page(BOARD)
    assert page.told().startswith("3 parts:")
    assert len(page.table.chosen()) == 1
    assert "What to do" in page.said()
    assert "What there will be" not in page.said()
    assert desk.root.focus_get() is page.table.tree
    desk.keys("<Return>")
    assert "What there will be" in page.said()
    assert "Linnet One" in page.said()
    desk.keys("<Down>")
    assert "What there will be" in page.said(), "it goes on saying so of the next"
    desk.keys("<Return>")
    assert "What there will be" not in page.said()
    assert page.chart.told().startswith("By the end of")


def test_the_board_is_filtered_by_engine_and_by_what_flies(desk: BuyingDesk) -> None:
    page: BoardPage = desk.page(BOARD)
    desk.keys("<Control-e>", "l")
    assert page.filters.engine.get() == "Linnet One"
    assert page.table.count()[0] == 3
    desk.keys("<BackSpace>")
    assert page.filters.engine.get() is None
    page.filters.family.focus_field()
    desk.keys("g")
    assert page.table.count()[0] < 3


def test_thresholds_are_chosen_by_keys_and_the_board_is_worked_out_anew(desk: BuyingDesk, shop: Shop) -> None:
    page: BoardPage = desk.page(BOARD)
    desk.keys("<Control-Shift-J>")
    assert page.form is not None
    page.form.editors["horizon_months"].focus_field()
    desk.type("6")
    assert desk.view.unsaved() == "what was typed in “Choose when a part counts as short”"
    desk.keys("<Control-Return>")
    assert desk.page(BOARD).form is None
    assert "looking 6 months ahead" in page.told()
    with shop.store.reading() as session:
        assert short_settings(session).horizon_months == 6


def test_the_list_is_saved_and_the_part_is_shown(desk: BuyingDesk, shop: Shop) -> None:
    desk.keys("<Control-p>")
    assert desk.saved.read_bytes().startswith(b"%PDF")
    assert desk.said[-1] == f"Saved {desk.saved}."
    desk.keys("<Control-o>")
    ((view, (kind, _part)),) = desk.gone
    assert (view, kind) == ("catalogue", "part")
    desk.view.open((BOARD, shop.valve))
    desk.rest()
    assert [row.key for row in desk.page(BOARD).table.chosen()] == [shop.valve]


def test_hours_are_typed_month_by_month_and_saved(desk: BuyingDesk, shop: Shop) -> None:
    page: PlanPage = desk.page(PLAN)
    desk.keys("<F7>", "<Control-g>")
    desk.type("12.5")
    desk.keys("<Return>")
    desk.type("8")
    desk.keys("<Return>")
    assert desk.view.unsaved() == "the hours typed and not saved"
    desk.keys("<F6>", "<F7>", "<Control-g>", "<Control-s>")
    assert desk.said[-1] == "The hours of one engine are planned."
    assert desk.view.unsaved() == ""
    assert [cell.given for cell in page.presenter.grid()[0].cells[:3]] == [True, True, False]
    with shop.store.reading() as session:
        first = flying_plan(session, 2)[0]
    assert [(month.hours, month.planned) for month in first.months[:2]] == [(12_50, True), (8_00, True)]


def test_an_overhaul_is_put_off_by_keys(desk: BuyingDesk, shop: Shop) -> None:
    page: PlanPage = desk.page(PLAN)
    desk.keys("<F7>", "<Return>")
    assert page.form is not None
    page.form.set("on", date(2026, 9, 1))
    desk.keys("<Control-Return>")
    with shop.store.reading() as session:
        assert [each.on for each in overhaul_plan(session)] == [date(2026, 9, 1)]
    assert "Sep 2026" in page.said()
    desk.keys("<Delete>")
    desk.type("no money")
    desk.keys("<Control-Return>")
    assert page.table.count() == (0, 0)
    desk.keys("<F4>")
    assert "No overhaul is chosen" in desk.refused[-1]


def test_a_belief_is_set_by_keys(desk: BuyingDesk, shop: Shop) -> None:
    page: ListedPage = desk.page(BELIEFS)
    desk.keys("<F8>", "<Home>", "<Return>")
    assert page.form is not None
    desk.type("Ada Farrow")
    desk.keys("<Control-Return>")
    assert "Who says so: Ada Farrow." in page.said()
    with shop.store.reading() as session:
        assert not beliefs(session).others.built_in
    assert page.listing.deeds([OTHERS])[-1].key == "Del"


def test_a_sum_is_asked_about_by_keys_and_the_curve_is_walked(desk: BuyingDesk) -> None:
    page: MoneyPage = desk.page(MONEY)
    desk.keys("<F9>")
    assert page.currency.get() == "GBP", "that of the last quote"
    desk.type("12")
    desk.keys("<Return>")
    assert page.told().startswith("12.00 GBP of 12.00 GBP")
    assert page.table.count() == (1, 1)
    page.table.focus_rows()
    desk.rest()
    assert "4 off" in page.said()
    page.chart.canvas.focus_set()
    desk.keys("<Home>")
    assert page.chart.told().startswith("With 0.00 GBP spent best")
    desk.keys("<Control-e>", "x", "<Return>")
    assert "no amount" in desk.refused[-1]


def test_tabs_that_would_be_cut_off_are_named_without_their_keys(desk: BuyingDesk) -> None:
    def words() -> list[str]:
        return [str(desk.view.book._book.tab(at, "text")) for at in range(len(PAGES))]

    desk.view.book.tell(BOARD, "! 4 short")
    assert words()[:2] == ["Board  F6  ! 4 short", "Plan  F7"]
    desk.root.geometry("820x600")
    desk.rest()
    assert words()[:2] == ["Board  ! 4 short", "Plan"]


def test_every_page_has_a_key_of_its_own_that_the_help_names(desk: BuyingDesk) -> None:
    keys = [plan.key for plan in PAGES]
    assert len(set(keys)) == len(keys)
    assert [key for key in keys if key not in HELP] == []
    for plan in PAGES:
        next(deed for deed in desk.view.book.deeds() if deed.key == plan.key).run()
        desk.rest()
        assert desk.view.book.shown() == plan.name
        focus = desk.root.focus_get()
        assert isinstance(focus, tk.Misc) and str(focus).startswith(str(desk.view.book.frame(plan.name)))
