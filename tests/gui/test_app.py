"""The window upon a store: the ways to begin, who works, finding, reversing, and closing cleanly."""

from __future__ import annotations

import shutil
import tkinter as tk
from collections.abc import Iterator
from pathlib import Path
from tkinter import ttk

import pytest

from gui.app import NOBODY, House, store_to_open
from gui.prefs import Prefs
from gui.shell import Shell
from gui.views.stores import StoresView
from gui.widgets.search_box import DEBOUNCE_MS
from invdb.acts.ledger_list import last_entry_of
from invdb.acts.offers import people_here, shop_settings
from invdb.acts.purchase_order import NewOrder, NewOrderLine, place_order
from invdb.store import open_store
from invdb.terms import SAFETY_LINE
from tests.gui.desk import Desk
from tests.gui.stores_shop import made
from tests.shop import Shop, sqlite_shop

# The sample workshop takes thousands of acts to build.
BUILDING_SECONDS = 120.0


class Window(Desk):
    """The whole window upon a store, or upon none."""

    def __init__(self, where: Path, prefs: Prefs) -> None:
        self.prefs = prefs
        self.root = tk.Tk()
        self.shell = Shell(self.root, prefs)
        self.theme, self.background = self.shell.theme, self.shell.background
        self.broken: list[BaseException] = []
        self.root.report_callback_exception = lambda _kind, broken, _where: self.broken.append(broken)
        self.root.update()
        self.root.focus_force()
        self.root.update()
        self.house = House(str(where), prefs)
        self.house.furnish(self.shell)
        self.settle()

    def settle(self) -> None:
        """Let the window live until nothing is being worked out, nor anything that follows from that."""
        for _ in range(3):
            super().settle()

    def stores(self) -> StoresView:
        """The Stores view."""
        return next(view for view in self.shell._views if isinstance(view, StoresView))

    def find(self, words: str) -> None:
        """Find something in the box at the top and take the first."""
        self.press("<Control-f>")
        self.type(words)
        paused: list[bool] = []
        self.root.after(2 * DEBOUNCE_MS, lambda: paused.append(True))
        self.until(lambda: paused)
        self.settle()
        self.press("<Return>")
        self.settle()

    def close(self) -> None:
        """Close it as a person would."""
        self.shell.close()
        self.house.close()
        assert not self.broken, self.broken


@pytest.fixture
def prefs(tmp_path: Path) -> Prefs:
    return Prefs(tmp_path / "window.json", scale=1.0)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


def words_in(widget: tk.Misc) -> str:
    """Every word that can be read within the widget."""
    labels = (ttk.Label, ttk.Button, ttk.Menubutton)
    found = [str(widget.cget("text"))] if isinstance(widget, labels) else []
    return "\n".join([*found, *(words_in(inside) for inside in widget.winfo_children())])


def test_a_store_opens_with_its_views_and_the_safety_line(shop: Shop, prefs: Prefs) -> None:
    window = Window(Path(shop.store.where), prefs)
    words = words_in(window.root)
    assert SAFETY_LINE in words
    assert "shop" in words
    assert list(window.shell.rail.items) == ["stores", "bench", "engines", "buying", "catalogue"]
    assert prefs.store == shop.store.where
    window.close()


def test_with_several_people_one_says_who_one_is_and_is_known_next_time(shop: Shop, prefs: Prefs) -> None:
    window = Window(Path(shop.store.where), prefs)
    assert NOBODY in words_in(window.root)
    assert "who you are" in window.shell.line.words()
    window.shell._who.nametowidget(window.shell._who.cget("menu")).invoke("Ben Hollis")
    window.settle()
    assert "Ben Hollis has posted nothing yet." in window.shell.line.words()
    window.close()
    again = Window(Path(shop.store.where), prefs)
    assert again.house.sitting is not None
    assert again.house.sitting.name == "Ben Hollis"
    again.close()


def test_the_line_tells_the_last_entry_and_leads_to_its_reversal(shop: Shop, prefs: Prefs) -> None:
    made(shop, shop.piece)
    prefs.person = "Ada Farrow"
    window = Window(Path(shop.store.where), prefs)
    assert "Booked in" in window.shell.line.words()
    window.press("<Control-z>", "<Shift-Tab>", "<Return>")
    window.settle()
    stores = window.stores()
    assert stores.form is not None
    window.type("booked in twice")
    window.press("<Control-Return>")
    window.settle()
    assert "Reversed entry" in window.shell.line.words()
    with shop.store.reading() as session:
        last = last_entry_of(session, shop.inspector)
    assert last is not None
    assert last.reverses is not None
    window.press("<Escape>")
    window.close()


def test_a_found_tag_goes_to_the_stores_and_a_found_engine_to_the_engines(shop: Shop, prefs: Prefs) -> None:
    made(shop, shop.piece)
    prefs.person = "Ada Farrow"
    window = Window(Path(shop.store.where), prefs)
    window.find("T00001")
    assert prefs.view == "stores"
    stores = window.stores()
    assert "T00001" in words_in(stores.story)
    window.find("L1007")
    assert prefs.view == "engines"
    window.close()


def test_a_found_part_goes_to_its_page_in_the_catalogue_which_has_the_fifth_key(
    shop: Shop, prefs: Prefs
) -> None:
    prefs.person = "Ada Farrow"
    window = Window(Path(shop.store.where), prefs)
    window.find("PW 1187")
    assert prefs.view == "catalogue"
    assert "PW 1187 (maker's" in words_in(window.root)
    window.press("<Control-Key-1>", "<Control-Key-5>")
    window.settle()
    assert prefs.view == "catalogue"
    window.press("<Control-Key-4>")
    window.settle()
    assert prefs.view == "buying"
    window.close()


def test_a_found_order_goes_to_the_orders(shop: Shop, prefs: Prefs) -> None:
    with shop.store.writing() as session:
        line = NewOrderLine(shop.valve, 12, 8450)
        order = place_order(session, NewOrder(shop.supplier, "GBP", (line,)), shop.by())
    prefs.person = "Ada Farrow"
    window = Window(Path(shop.store.where), prefs)
    window.find(order.number)
    assert prefs.view == "buying"
    assert "What is still to come costs 1014.00 GBP" in words_in(window.root)
    window.close()


def test_where_there_is_no_store_an_empty_one_is_begun(tmp_path: Path, prefs: Prefs) -> None:
    where = tmp_path / "ours" / "store.invdb"
    window = Window(where, prefs)
    assert "There is no store yet" in words_in(window.root)
    window.press("<Tab>", "<Return>")
    form = window.house.form
    assert form is not None
    window.type("Harrowmere")
    window.press("<Tab>")
    window.type("Ada Farrow")
    form.set("zone", "Europe/London")
    window.press("<Control-Return>")
    window.until(lambda: window.house.store is not None)
    window.settle()
    assert list(window.shell.rail.items) == ["stores", "bench", "engines", "buying", "catalogue"]
    assert window.house.sitting is not None
    assert window.house.sitting.name == "Ada Farrow"
    window.close()
    opened = open_store(str(where))
    with opened.reading() as session:
        assert shop_settings(session).zone == "Europe/London"
        assert [person.name for person in people_here(session)] == ["Ada Farrow"]
    opened.close()


def test_a_zone_that_is_none_is_said_beneath_it(tmp_path: Path, prefs: Prefs) -> None:
    window = Window(tmp_path / "store.invdb", prefs)
    window.press("<Tab>", "<Return>")
    form = window.house.form
    assert form is not None
    form.set("name", "Harrowmere")
    form.set("person", "Ada Farrow")
    form.set("zone", "Harrowmere time")
    form.save()
    assert "no time zone" in form.message_of("zone")
    window.press("<Escape>")
    window.close()


def test_the_sample_workshop_is_built_and_opened(
    tmp_path: Path, prefs: Prefs, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("INVDB_STORE", str(tmp_path / "new folder" / "store.invdb"))
    window = Window(tmp_path / "new folder" / "store.invdb", prefs)
    window.press("<Return>")
    window.until(lambda: window.house.store is not None, BUILDING_SECONDS)
    window.settle()
    assert prefs.store == str(tmp_path / "new folder" / "harrowmere.invdb")
    stores = window.stores()
    assert stores.table.count()[1] > 1000
    window.close()


def test_a_file_that_is_no_store_leaves_the_ways_to_begin(
    tmp_path: Path, prefs: Prefs, monkeypatch: pytest.MonkeyPatch, shop: Shop
) -> None:
    bad = tmp_path / "letter.txt"
    bad.write_text("Dear Ada")
    window = Window(bad, prefs)
    assert "is no store of ours" in words_in(window.root)
    copied = shutil.copyfile(shop.store.where, tmp_path / "copied.invdb")
    monkeypatch.setattr("gui.app.ask_for_store", lambda _shell: str(copied))
    window.press("<Tab>", "<Tab>", "<Return>")
    window.until(lambda: window.house.store is not None)
    window.settle()
    assert prefs.store == str(copied)
    window.close()


def test_the_usual_store_is_opened_and_else_the_last_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usual, last = tmp_path / "store.invdb", tmp_path / "last.invdb"
    monkeypatch.setenv("INVDB_STORE", str(usual))
    assert store_to_open("") == str(usual)
    assert store_to_open(str(last)) == str(usual)
    last.touch()
    assert store_to_open(str(last)) == str(last)
    usual.touch()
    assert store_to_open(str(last)) == str(usual)
    monkeypatch.setenv("INVDB_STORE", "postgresql://server/shop")
    assert store_to_open(str(last)) == "postgresql://server/shop"
