"""The Stores view on what is fitted and what is in doubt: real widgets, real keys, a real store."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from gui.views.stores_plans import ENGINE_KEY
from invdb.acts.engine_event import NewEvent, record_event
from invdb.acts.numbers import Thing
from invdb.terms import SAFETY_LINE, EngineEventKind
from tests.engine_shop import METER, begin, run
from tests.fitted_shop import Bench
from tests.gui.stores_shop import made
from tests.gui.test_stores import Counter, all_words
from tests.shop import TODAY, Shop, sqlite_shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        begin(opened)
        yield opened


@pytest.fixture
def valve(shop: Shop) -> Thing:
    """In cylinder 5 of Linnet One, which has flown 590 hours since and then struck its propeller."""
    thing = Thing(piece=made(shop, shop.piece, on=TODAY - timedelta(days=300)))
    with shop.store.writing() as session:
        Bench(shop, session).fit(thing, "5", "exhaust valve", TODAY - timedelta(days=200))
        run(session, shop, METER + 590_00, on=TODAY - timedelta(days=10))
        event = NewEvent(shop.engine, EngineEventKind.PROPELLER_STRIKE)
        record_event(session, event, shop.by(TODAY - timedelta(days=5)))
    return thing


@pytest.fixture
def counter(shop: Shop, valve: Thing, tmp_path: Path) -> Iterator[Counter]:
    """With the fitted valve chosen in the list."""
    opened = Counter(shop, tmp_path)
    opened.keys("<Home>")
    yield opened
    opened.close()


def menu_words(root: tk.Misc) -> list[str]:
    """What the menus that are open offer."""
    found: list[str] = []
    waiting = [root]
    while waiting:
        part = waiting.pop()
        waiting += part.winfo_children()
        if isinstance(part, tk.Menu) and part.winfo_viewable():
            last = part.index("end")
            found += [
                str(part.entrycget(at, "label")) for at in range((last if last is not None else -1) + 1)
            ]
    return found


def test_the_story_of_a_fitted_piece_shows_its_place_its_limits_and_its_doubt(counter: Counter) -> None:
    words = all_words(counter.view.story)
    assert "Linnet One, cylinder 5, exhaust valve, since" in words
    (limit,) = counter.view.story.limits.said()
    assert limit.startswith("◷ due soon: 590.00 h of 600.00 h since new\n10.00 h left; forecast: ")
    assert "no inspection named for it has cleared it" in words
    assert SAFETY_LINE in words
    assert counter.buttons() == ["Hold", "Clear event", "Papers", "Inspect", ENGINE_KEY[0], "PDF", "More"]


def test_everything_in_the_story_stands_in_its_order_however_often_it_is_shown(counter: Counter) -> None:
    counter.view.on_refresh()
    counter.settle()
    story = counter.view.story
    tops = [
        part.winfo_rooty()
        for part in (story.details, story._sections, story.limits, story._caution, story.life, story._below)
    ]
    assert tops == sorted(tops)
    width = story.winfo_width()
    for row in story.limits._rows:
        assert row.told.winfo_x() + row.told.winfo_reqwidth() <= width


def test_the_engine_of_what_is_fitted_is_shown_by_its_key(counter: Counter, shop: Shop) -> None:
    counter.keys("<Control-e>")
    assert counter.gone_to == [("engines", ("engine", shop.engine))]
    counter.keys("<Return>", "<Control-e>")
    assert len(counter.gone_to) == 2


def test_its_inspection_sheet_is_laid_out_on_the_bench_by_a_key(counter: Counter) -> None:
    counter.keys("<Control-Shift-I>")
    ((view, (kind, thing)),) = counter.gone_to
    assert (view, kind) == ("bench", "inspect")
    assert thing.piece is not None


def test_what_is_seldom_done_stands_behind_one_button_and_has_its_keys(counter: Counter) -> None:
    counter.keys("<Return>")
    counter.press("<Control-Shift-M>")
    counter.until(lambda: menu_words(counter.root))
    assert menu_words(counter.root) == [
        "Concession …",
        "Overhauled …",
        "Match …",
        "End match …",
        "Recall …",
        "Trace sheet as workbook …",
    ]
    counter.press("<Escape>")
    for key in ("<Control-Shift-G>", "<Control-Shift-O>", "<Control-Shift-C>"):
        counter.keys(key)
        assert counter.view.form is not None, key
        counter.keys("<Escape>", "<Return>")


def test_it_is_cleared_of_its_event_by_keys_alone(counter: Counter) -> None:
    counter.keys("<Control-Shift-K>")
    counter.type("magnetic")
    counter.keys("<Control-Return>", "<Escape>")
    assert counter.posted == 1
    assert "Clear event" not in counter.buttons()
    assert "cleared" in all_words(counter.view.story)
    assert not counter.rows()[0].doubts


def test_nothing_happens_by_the_key_of_an_act_that_does_not_fit(counter: Counter) -> None:
    counter.keys("<Control-m>", "<Control-i>", "<Control-s>")
    assert counter.view.form is None


def test_the_letter_of_a_recall_is_saved_where_one_says(counter: Counter) -> None:
    counter.keys("<Control-Shift-C>")
    form = counter.view.form
    assert form is not None
    form.editors["reason"].set("stems crack")
    form.editors["reason"].on_change()
    counter.keys("<Control-Return>")
    assert counter.asked == ["recall.pdf"]
    assert counter.save_to.read_bytes().startswith(b"%PDF")


def test_leaving_a_form_on_what_was_found_goes_back_to_its_story(counter: Counter, shop: Shop) -> None:
    spare = made(shop, shop.piece)
    counter.view.table.filter_by("no such thing")
    counter.settle()
    counter.view.open(("piece", spare, ""))
    counter.settle()
    counter.view.table.filter_by("no such thing")
    counter.settle()
    counter.view.story.focus_story()
    counter.keys("<Control-h>", "<Escape>")
    assert counter.root.focus_get() is counter.view.story.buttons[0]
    assert counter.view._subject[0].thing == Thing(piece=spare)
