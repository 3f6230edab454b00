"""The story of a piece: its signs and facts, its life line, and what is missing of it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from gui.job import Job
from gui.views.piece_presenter import PieceStory
from gui.views.stores_plans import Act, Key
from gui.views.stores_presenter import StoresPresenter
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, add_paper
from invdb.terms import PaperKind, Scope
from tests.gui.stores_shop import do, made, sit
from tests.shop import TODAY, Shop, sqlite_shop

LOOKED_AT = frozenset({"right_part", "papers", "damage", "hazards"})


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


@pytest.fixture
def presenter(shop: Shop) -> StoresPresenter:
    return StoresPresenter(sit(shop))


def valve_since(shop: Shop, days: int) -> Key:
    return Key(Thing(piece=made(shop, shop.piece, on=TODAY - timedelta(days=days))))


def story(presenter: StoresPresenter, key: Key) -> PieceStory:
    return presenter.story(Job(), key.thing)


def test_signs_say_the_condition_and_all_that_limits_it(presenter: StoresPresenter, shop: Shop) -> None:
    valve = valve_since(shop, 30)
    assert story(presenter, valve).signs == ("uninspected", "no papers", "history missing")
    do(presenter, Act.ACCEPT, valve, scope=Scope.GROUND_RUNNING, checks=LOOKED_AT)
    do(presenter, Act.HOLD, valve, reason="stems of this maker crack")
    signs = story(presenter, valve).signs
    assert signs[:3] == ("on hold", "serviceable", "ground running only")


def test_facts_say_who_accepted_it_for_what(presenter: StoresPresenter, shop: Shop) -> None:
    valve = valve_since(shop, 30)
    do(presenter, Act.ACCEPT, valve, scope=Scope.DISPLAY, checks=LOOKED_AT)
    facts = dict(story(presenter, valve).facts)
    assert facts["Condition"].startswith(
        f"serviceable for display, accepted {TODAY.isoformat()} by Ada Farrow"
    )
    assert facts["Looked at"] == "right part: yes; papers: match; damage: none seen; hazards: seen to"
    assert facts["Part"].endswith("maker's number PW 1187")


def test_the_life_line_has_a_band_for_each_place_and_one_for_what_is_missing(
    presenter: StoresPresenter, shop: Shop
) -> None:
    valve = valve_since(shop, 90)
    sent, back = TODAY - timedelta(days=60), TODAY - timedelta(days=20)
    do(presenter, Act.MOVE, valve, to_place=shop.works, happened_on=sent)
    do(presenter, Act.MOVE, valve, to_place=shop.bin_b, happened_on=back)
    life = story(presenter, valve).life
    bands = [(each.sign, each.since, each.until) for each in life.stretches if each.sign != "history missing"]
    assert bands == [
        ("in stores", TODAY - timedelta(days=90), sent),
        ("out for work", sent, back),
        ("in stores", back, None),
    ]
    assert life.today == TODAY
    missing = [each for each in life.stretches if each.sign == "history missing"]
    assert missing
    assert missing[0].until == TODAY - timedelta(days=90)


def test_a_band_leads_to_the_entry_that_began_it(presenter: StoresPresenter, shop: Shop) -> None:
    valve = valve_since(shop, 90)
    number = do(presenter, Act.MOVE, valve, to_place=shop.works, happened_on=TODAY - timedelta(days=60))
    do(presenter, Act.HOLD, valve, reason="bent in the post", happened_on=TODAY - timedelta(days=50))
    told = story(presenter, valve)
    assert next(each.ref for each in told.life.stretches if each.sign == "out for work") == number
    (hold,) = told.life.holds
    assert (hold.since, hold.until, hold.word) == (TODAY - timedelta(days=50), None, "bent in the post")
    assert hold.ref == told.entries[0].number


def test_a_cleared_hold_ends_and_says_what_settled_it(presenter: StoresPresenter, shop: Shop) -> None:
    valve = valve_since(shop, 90)
    do(presenter, Act.HOLD, valve, reason="bent in the post", happened_on=TODAY - timedelta(days=50))
    do(presenter, Act.CLEAR, valve, because="straight within 0.02", happened_on=TODAY - timedelta(days=40))
    told = story(presenter, valve)
    assert told.life.holds[0].until == TODAY - timedelta(days=40)
    assert "straight within 0.02" in told.life.holds[0].detail
    assert "on hold" not in told.signs


def test_papers_and_inspections_are_marked_on_their_days(presenter: StoresPresenter, shop: Shop) -> None:
    valve = valve_since(shop, 90)
    dated = TODAY - timedelta(days=400)
    with shop.store.writing() as session:
        paper = NewPaper(PaperKind.MAKERS_CERTIFICATE, "MC 9", dated_on=dated)
        add_paper(session, paper, shop.by(), (valve.thing,))
    do(presenter, Act.ACCEPT, valve, scope=Scope.FLIGHT, checks=LOOKED_AT)
    marks = [(each.on, each.sign) for each in story(presenter, valve).life.moments]
    assert marks == [(dated, "paper"), (TODAY, "inspection")]


def test_a_batch_says_how_much_lies_where_and_what_it_was_split_into(
    presenter: StoresPresenter, shop: Shop
) -> None:
    springs = Key(Thing(batch=made(shop, shop.batch, quantity=40)), shop.bin_a)
    do(presenter, Act.MOVE, springs, quantity="15", to_place=shop.bin_b)
    facts = dict(story(presenter, springs).facts)
    assert facts["Where"] == "25 off in Stores › A-01-01; 15 off in Stores › A-01-02"
    assert "Serial" not in facts
