"""The Stores view at work: real widgets, real keys, a real store."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Iterator
from pathlib import Path
from tkinter import ttk
from typing import Any

import pytest

from gui.prefs import Prefs
from gui.view import Context
from gui.views.stores import StoresView
from gui.views.stores_presenter import ReverseEntry
from gui.widgets.search_box import DEBOUNCE_MS
from invdb.acts.ledger_list import last_entry_of
from invdb.acts.reverse import reverse
from invdb.acts.stock_filter import StockFilter
from invdb.acts.stock_list import StockRow, stock_rows
from invdb.terms import Condition, Scope
from tests.gui.desk import Desk
from tests.gui.stores_shop import made, sit
from tests.shop import Shop, sqlite_shop


class Counter(Desk):
    """The Stores view of the small workshop, at a desk. What the window's line says is in ``said``."""

    def __init__(self, shop: Shop, folder: Path) -> None:
        super().__init__(size="1280x760")
        self.shop = shop
        self.said: list[str] = []
        self.refused: list[str] = []
        self.posted = 0
        self.asked: list[str] = []
        self.gone_to: list[tuple[str, Any]] = []
        self.save_to = folder / "sheet.pdf"
        sitting = sit(shop)
        sitting.posted = self._count_posted
        self.view = StoresView(sitting, self._where)
        context = Context(
            theme=self.theme,
            background=self.background,
            prefs=Prefs(folder / "window.json"),
            say=self.said.append,
            refuse=self.refused.append,
            posted=lambda _sentence, _reverse: None,
            progress=lambda _text, _fraction: None,
            go_to=lambda view, ref: self.gone_to.append((view, ref)),
        )
        self.view.build(self.root, context).pack(fill="both", expand=True)
        self.settle()
        self.view.on_show()
        self.settle()

    def rows(self) -> list[StockRow]:
        """What the store has."""
        with self.shop.store.reading() as session:
            return list(stock_rows(session, StockFilter()).rows)

    def keys(self, *keys: str) -> None:
        """Press keys, each after all that the one before set going is done."""
        for key in keys:
            self.press(key)
            self.settle()

    def words(self, text: str) -> None:
        """Type words and wait for what they find."""
        self.type(text)
        paused: list[bool] = []
        self.root.after(2 * DEBOUNCE_MS, lambda: paused.append(True))
        self.until(lambda: paused)
        self.settle()

    def foot(self) -> str:
        """What the foot of the open form says."""
        assert self.view.form is not None
        return self.view.form.foot.words()

    def buttons(self) -> list[str]:
        """The words of the buttons above the story."""
        return [str(button.cget("text")).removesuffix(" …") for button in self.view.story.buttons]

    def _count_posted(self) -> None:
        self.posted += 1

    def _where(self, _parent: tk.Misc, _title: str, name: str) -> str:
        self.asked.append(name)
        return str(self.save_to)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


@pytest.fixture
def empty_counter(shop: Shop, tmp_path: Path) -> Iterator[Counter]:
    opened = Counter(shop, tmp_path)
    yield opened
    opened.close()


@pytest.fixture
def counter(shop: Shop, tmp_path: Path) -> Iterator[Counter]:
    """With an exhaust valve and forty valve springs on the shelf."""
    made(shop, shop.piece)
    made(shop, shop.batch)
    opened = Counter(shop, tmp_path)
    yield opened
    opened.close()


def all_words(widget: tk.Misc) -> str:
    """Every word that labels within the widget show."""
    found = [str(widget.cget("text"))] if isinstance(widget, (ttk.Label, ttk.Button)) else []
    return "\n".join([*found, *(all_words(inside) for inside in widget.winfo_children())])


def test_an_empty_store_says_what_would_stand_here_and_how_to_begin(empty_counter: Counter) -> None:
    words = all_words(empty_counter.view.table)
    assert "Here stands every piece and batch" in words
    assert "Goods in" in words
    assert "The story of a piece stands here." in all_words(empty_counter.view.right)


def test_a_barrel_is_booked_in_and_accepted_by_keys_alone(empty_counter: Counter) -> None:
    counter = empty_counter
    counter.keys("<Control-n>")
    counter.words("BA0001")
    counter.keys("<Return>", "<Return>")
    counter.type("LL-7001")
    counter.keys("<Return>", "n", "<Control-Return>")
    (barrel,) = counter.rows()
    assert (barrel.serial, barrel.condition) == ("LL-7001", Condition.UNINSPECTED)
    assert f"Booked in as {barrel.tag}" in counter.foot()
    assert counter.posted == 1
    counter.keys("<Control-i>", "g", "<Return>", "<space>", "<Return>", "<space>", "<Return>", "<space>")
    counter.keys("<Control-Return>")
    (barrel,) = counter.rows()
    assert (barrel.condition, barrel.scope) == (Condition.SERVICEABLE, Scope.GROUND_RUNNING)
    assert counter.posted == 2
    counter.keys("<Escape>")
    assert counter.view.form is None
    assert counter.root.focus_get() is counter.view.table.tree
    assert barrel.tag in all_words(counter.view.story)


def test_another_like_this_keeps_what_is_alike(empty_counter: Counter) -> None:
    counter = empty_counter
    counter.keys("<Control-n>")
    counter.words("BA0001")
    counter.keys("<Return>", "<Return>")
    counter.type("LL-1")
    counter.keys("<Return>", "n", "<Control-Return>")
    # "Another like this" has the focus, and goes on where pieces differ: at their number.
    counter.keys("<Return>", "<Return>")
    counter.type("LL-2")
    counter.keys("<Control-Return>")
    assert sorted(row.serial for row in counter.rows()) == ["LL-1", "LL-2"]


def test_a_serial_that_is_here_already_is_said_beneath_it(empty_counter: Counter) -> None:
    counter = empty_counter
    for _ in range(2):
        counter.keys("<Control-n>")
        counter.words("BA0001")
        counter.keys("<Return>", "<Return>")
        counter.type("LL-7001")
        counter.keys("<Return>", "n", "<Control-Return>")
    form = counter.view.form
    assert form is not None
    assert "is here already" in form.message_of("serial")
    assert counter.rows()[0].tag in form.message_of("serial")
    assert counter.root.focus_get() is form.editors["serial"].winfo_children()[0]
    assert len(counter.rows()) == 1


def test_hazards_stand_above_the_fields_once_the_part_is_chosen(empty_counter: Counter) -> None:
    counter = empty_counter
    counter.keys("<Control-n>")
    counter.words("exhaust valve")
    counter.keys("<Return>")
    form = counter.view.form
    assert form is not None
    assert "sodium-filled: Do not cut the stem." in form.said()


def test_what_is_typed_for_an_unknown_part_becomes_its_number(empty_counter: Counter) -> None:
    counter = empty_counter
    counter.keys("<Control-n>")
    counter.words("PW 77")
    counter.keys("<Return>")
    form = counter.view.form
    assert form is not None
    assert form.values()["number"] == "PW 77"


def test_choosing_a_row_tells_its_story(counter: Counter) -> None:
    counter.keys("<Home>")
    story = all_words(counter.view.story)
    tag = counter.view.table.chosen()[0].cells[0]
    assert tag in story
    assert "uninspected" in story
    assert "Gaps in its history" in story
    assert "Booked in" in story
    assert "Accept" in counter.buttons()


def test_a_hold_is_raised_and_cleared_from_the_list(counter: Counter) -> None:
    counter.keys("<Home>", "<Control-h>")
    counter.type("a crack is suspected")
    counter.keys("<Control-Return>", "<Escape>")
    assert counter.view.table.chosen()[0].sign == "on hold"
    assert "Clear hold" in counter.buttons()
    counter.keys("<Control-l>")
    counter.type("none found")
    counter.keys("<Control-Return>", "<Escape>")
    assert counter.view.table.chosen()[0].sign == "uninspected"
    assert "Clear hold" not in counter.buttons()


def test_both_chosen_rows_are_moved_in_one_entry(counter: Counter) -> None:
    counter.keys("<Control-a>")
    assert "2 are chosen." in all_words(counter.view.right)
    counter.keys("<Control-m>")
    counter.words("A-01-02")
    counter.keys("<Return>", "<Control-Return>")
    assert {row.bin for row in counter.rows()} == {"A-01-02"}


def test_a_batch_is_split_by_keys(counter: Counter) -> None:
    counter.view.table.filter_by("valve spring")
    counter.settle()
    counter.keys("<Home>", "<Control-s>")
    counter.type("5")
    counter.keys("<Tab>")
    counter.type("unserv")
    counter.keys("<Tab>", "<Tab>")
    counter.type("4")
    counter.keys("<Tab>")
    counter.type("unsalv")
    counter.keys("<Tab>")
    counter.words("scrap")
    counter.keys("<Return>")
    form = counter.view.form
    assert form is not None
    assert "31 off would be left" in form.said()
    counter.keys("<Control-Return>")
    parts = {(row.condition, row.quantity) for row in counter.rows() if row.part == counter.shop.spring}
    assert parts == {
        (Condition.UNINSPECTED, 31),
        (Condition.UNSERVICEABLE, 5),
        (Condition.UNSALVAGEABLE, 4),
    }


def test_from_the_list_into_the_story_and_back(counter: Counter) -> None:
    counter.keys("<Home>", "<Return>")
    assert counter.root.focus_get() is counter.view.story.buttons[0]
    counter.keys("<Control-p>")
    assert counter.view.form is not None
    counter.keys("<Escape>")
    counter.keys("<Return>", "<Escape>")
    assert counter.root.focus_get() is counter.view.table.tree


def test_an_entry_of_the_story_is_reversed(counter: Counter) -> None:
    counter.keys("<Home>")
    counter.view.story.entries[0].focus_set()
    counter.keys("<Control-r>")
    form = counter.view.form
    assert form is not None
    assert "Booked in" in form.said()
    counter.type("booked in twice")
    counter.keys("<Control-Return>")
    assert len(counter.rows()) == 1
    assert "is reversed" in counter.foot()


def test_the_entry_from_the_line_beneath_is_reversed_by_the_same_form(counter: Counter) -> None:
    with counter.shop.store.reading() as session:
        last = last_entry_of(session, counter.shop.inspector)
    assert last is not None
    counter.view.open(ReverseEntry(last.number, last.what))
    counter.settle()
    counter.type("booked in twice")
    counter.keys("<Control-Return>")
    assert [row.part for row in counter.rows()] == [counter.shop.valve]


def test_a_form_with_something_in_it_is_not_lost(counter: Counter) -> None:
    counter.keys("<Home>", "<Control-h>")
    counter.type("a crack")
    assert counter.view.unsaved() != ""
    counter.view.table.focus_rows()
    counter.keys("<Control-m>")
    assert "not saved yet" in counter.refused[-1]
    form = counter.view.form
    assert form is not None
    assert form.values()["reason"] == "a crack"
    counter.view.open(("piece", 1, ""))
    counter.settle()
    assert counter.view.form is form
    counter.keys("<Escape>")
    assert "lose what was filled in" in counter.foot()


def test_a_found_piece_is_shown_and_a_found_bin_filters_the_list(counter: Counter) -> None:
    piece = next(row for row in counter.rows() if row.thing.piece)
    counter.view.open(("piece", piece.thing.piece, piece.tag))
    counter.settle()
    assert piece.tag in all_words(counter.view.story)
    counter.view.open(("place", counter.shop.bin_b, "A-01-02"))
    counter.settle()
    assert counter.view.table.count() == (0, 2)
    counter.view.open(("part", counter.shop.spring, "SP0001"))
    counter.settle()
    assert counter.view.table.count() == (1, 2)
    assert "Only part SP0001" in all_words(counter.view.filters)
    counter.view.filters.only_button.focus_set()
    counter.keys("<Return>")
    assert counter.view.table.count() == (2, 2)
    counter.view.open(("mod", 1, "L14"))
    assert "L14 has no stock of its own" in counter.refused[-1]


def test_what_was_found_after_another_is_held_by_its_key_at_once(counter: Counter) -> None:
    for row in counter.rows()[:2]:
        thing = row.thing
        kind, number = ("piece", thing.piece) if thing.piece is not None else ("batch", thing.batch)
        counter.view.open((kind, number, ""))
        counter.settle()
    counter.keys("<Control-h>")
    assert counter.view.form is not None


def test_a_box_above_the_list_filters_it_and_backspace_takes_that_away(counter: Counter) -> None:
    box = counter.view.filters.boxes["condition"]
    box.focus_field()
    counter.type("unserv")
    counter.settle()
    assert counter.view.table.count() == (0, 2)
    counter.keys("<BackSpace>")
    assert counter.view.table.count() == (2, 2)


def test_the_trace_sheet_is_saved_where_one_says(counter: Counter) -> None:
    counter.keys("<Home>", "<Control-t>")
    tag = counter.view.table.chosen()[0].cells[0]
    assert counter.asked == [f"{tag}.pdf"]
    assert counter.save_to.read_bytes().startswith(b"%PDF")
    assert str(counter.save_to) in counter.said[-1]


def test_the_list_is_read_again_with_f5(counter: Counter) -> None:
    made(counter.shop, counter.shop.piece)
    counter.view.on_refresh()
    counter.settle()
    assert counter.view.table.count() == (3, 3)


def test_goods_in_is_shown_among_the_buttons_and_the_safety_of_a_story(counter: Counter) -> None:
    valve = next(row for row in counter.rows() if row.part == counter.shop.valve)
    counter.view.open(("piece", valve.thing.piece, valve.tag))
    counter.settle()
    assert "⚠ sodium-filled: Do not cut the stem." in all_words(counter.view.story)


def test_a_piece_that_is_gone_since_says_so_in_place_of_its_story(counter: Counter) -> None:
    springs = next(row for row in counter.rows() if row.thing.batch)
    counter.view.open(("batch", springs.thing.batch, springs.tag))
    counter.settle()
    with counter.shop.store.writing() as session:
        last = last_entry_of(session, counter.shop.inspector)
        assert last is not None
        reverse(session, last.number, "booked in twice", counter.shop.by())
    counter.view.on_refresh()
    counter.settle()
    assert "is no longer in the store" in all_words(counter.view.right)


def test_nothing_is_done_to_a_part_of_what_is_chosen(shop: Shop, tmp_path: Path) -> None:
    for _ in range(2):
        with shop.store.writing() as session:
            shop.book_in(session, shop.valve, pieces=200)
    counter = Counter(shop, tmp_path)
    counter.keys("<Home>", "<Control-a>")
    assert "400 are chosen, too many" in all_words(counter.view.right)
    assert counter.buttons() == []
    counter.keys("<Control-h>")
    assert counter.view.form is None
    counter.keys("<Home>")
    assert "Hold" in counter.buttons()
    counter.close()
