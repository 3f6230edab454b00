"""Work, scrapping, new identities and matches from the Stores, on a real store and with no window."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from gui.job import Job
from gui.shown import Row
from gui.views.stores_plans import Act, Key, acts_for
from gui.views.stores_presenter import AT_WORK, OVERDUE, Shelf, StoresPresenter
from invdb.acts.matched import matched_with
from invdb.acts.numbers import Thing
from invdb.acts.part_size import NewPartSize, add_part_size
from invdb.acts.work_list import WorkOrderFacts, work_orders
from invdb.terms import Asked, Condition, FieldRefused, MatchedAs, Refused, Unusable, WorkWanted
from tests.gui.stores_shop import do, fill_in, made, shown_fields, sit, state_of
from tests.shop import TODAY, Shop, sqlite_shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


@pytest.fixture
def presenter(shop: Shop) -> StoresPresenter:
    return StoresPresenter(sit(shop))


@pytest.fixture
def barrel(shop: Shop) -> Key:
    """A barrel in the bin A-01-01, with no hazard about it, of a part that is also made 0.5 mm oversize."""
    with shop.store.writing() as session:
        ((thing, _),) = shop.book_in(session, shop.barrel, pieces=1, on=TODAY - timedelta(days=40)).things
        add_part_size(session, NewPartSize(shop.barrel, "+0.5"), shop.by())
    return Key(thing)


def valve(shop: Shop) -> Key:
    """An exhaust valve, which is filled with sodium."""
    return Key(Thing(piece=made(shop, shop.piece, on=TODAY - timedelta(days=40))))


def send(presenter: StoresPresenter, shop: Shop, *keys: Key, **more: object) -> None:
    given = {
        "place": shop.works,
        "kind": WorkWanted.PLATING,
        "wanted": "plate the bore back to standard",
        "due_on": TODAY + timedelta(days=30),
    }
    do(presenter, Act.SEND, *keys, **(given | more))


def orders(shop: Shop) -> tuple[WorkOrderFacts, ...]:
    with shop.store.reading() as session:
        return work_orders(session)


def rows(presenter: StoresPresenter, condition: object = None) -> list[Row]:
    presenter.filter(Shelf({"condition": condition}))
    return list(presenter.fetch(Job(), 0, 100, None, "").rows)


def test_what_is_sent_out_is_on_an_order_and_is_offered_to_be_booked_back(
    shop: Shop, presenter: StoresPresenter, barrel: Key
) -> None:
    assert Act.SEND in acts_for([barrel]) and Act.BACK not in acts_for([barrel])
    send(presenter, shop, barrel)
    (order,) = orders(shop)
    assert (order.kind, order.place_name) == (WorkWanted.PLATING, "At Brackwater")
    (row,) = rows(presenter, AT_WORK)
    assert row.sign == "out for work"
    assert f"{order.number} due" in row.cells[3]
    acts = acts_for([row.key])
    assert Act.BACK in acts
    assert not {Act.SEND, Act.SCRAP, Act.IDENTITY} & set(acts)
    assert presenter.key_of("piece", barrel.thing.piece or 0).at_work
    story = presenter.story(Job(), barrel.thing)
    assert "out for work" in story.signs
    assert ("Out for work", f"order {order.number}, due {order.due_on}") in story.facts


def test_what_is_late_is_counted_and_listed_as_overdue(
    shop: Shop, presenter: StoresPresenter, barrel: Key
) -> None:
    sent = TODAY - timedelta(days=20)
    send(presenter, shop, barrel, due_on=TODAY - timedelta(days=12), happened_on=sent)
    send(presenter, shop, Key(Thing(batch=made(shop, shop.batch))), quantity="10")
    words = {choice.key: choice.word for choice in presenter.choices()["condition"]}
    assert (words[AT_WORK], words[OVERDUE]) == ("out for work (2)", "overdue (1)")
    (late,) = rows(presenter, OVERDUE)
    assert late.key == barrel
    assert late.sign == "overdue"
    assert late.cells[3].endswith("overdue by 12 days")
    assert presenter.story(Job(), barrel.thing).signs[0] == "overdue"


def test_of_a_batch_only_what_went_out_is_out_for_work(shop: Shop, presenter: StoresPresenter) -> None:
    batch = Thing(batch=made(shop, shop.batch))
    send(presenter, shop, Key(batch, shop.bin_a), quantity="15")
    (out,) = rows(presenter, AT_WORK)
    assert (out.key.place, out.cells[4]) == (shop.works, "15 off")
    here = next(row for row in rows(presenter) if row.key.place == shop.bin_a)
    assert not here.key.at_work
    story = presenter.story(Job(), batch)
    assert presenter.key_told(out.key, story).at_work
    assert not presenter.key_told(here.key, story).at_work


def test_the_hazards_of_what_is_sent_are_shown_and_asked_about(
    shop: Shop, presenter: StoresPresenter
) -> None:
    key = valve(shop)
    plan = presenter.plan(Act.SEND, [key])
    assert "is sodium-filled" in plan.said({})
    assert plan.said({}).endswith("Whoever gets it must be told.")
    with pytest.raises(Asked, match="sodium"):
        send(presenter, shop, key)
    values = {field.name: field.start for field in plan.fields} | {
        "place": shop.works, "kind": WorkWanted.INSPECTION, "wanted": "crack test", "note": "", "sure": True,
    }  # fmt: skip
    plan.act(Job(), values)
    assert len(orders(shop)) == 1


def test_it_comes_back_with_its_report_uninspected(
    shop: Shop, presenter: StoresPresenter, barrel: Key
) -> None:
    send(presenter, shop, barrel)
    do(presenter, Act.BACK, barrel, report="BP 81: plated and ground", to_place=shop.bench)
    state = state_of(shop, barrel.thing)
    assert state.condition is Condition.UNINSPECTED
    assert state.where[0].place == shop.bench
    assert not orders(shop)
    with pytest.raises(Refused, match="is not out for work"):
        presenter.plan(Act.BACK, [barrel])


def test_it_comes_back_as_another_size_and_with_its_count_begun_anew(
    shop: Shop, presenter: StoresPresenter, barrel: Key
) -> None:
    send(presenter, shop, barrel)
    plan = presenter.plan(Act.BACK, [barrel])
    assert not {"part", "authority"} & shown_fields(plan, {})
    assert {"part", "authority", "done"} <= shown_fields(plan, {"changed": True})
    fill_in(
        plan,
        report="BP 82",
        to_place=shop.bench,
        changed=True,
        part=shop.barrel,
        size_class="+0.5",
        authority="drawing 4-118",
        done="bored to +0.5",
        resets=frozenset({"hours"}),
    )
    assert state_of(shop, barrel.thing).size_class == "+0.5"


def test_some_of_an_order_could_not_be_saved(shop: Shop, presenter: StoresPresenter, barrel: Key) -> None:
    with shop.store.writing() as session:
        ((other, _),) = shop.book_in(session, shop.barrel, pieces=1, on=TODAY - timedelta(days=40)).things
    send(presenter, shop, barrel, Key(other))
    (order,) = orders(shop)
    lost = next(line.work_line for line in order.lines if line.thing == other)
    plan = presenter.plan(Act.BACK, [barrel, Key(other)])
    assert "how" not in shown_fields(plan, {})
    assert "changed" not in shown_fields(plan, {}), "of two it would not be known which"
    with pytest.raises(FieldRefused, match="Nothing is ticked"):
        fill_in(plan, came=frozenset(), report="BP 83", to_place=shop.bench)
    fill_in(
        plan,
        report="BP 83",
        to_place=shop.bench,
        scrapped=frozenset({lost}),
        how=Unusable.SAWN,
        reason="bore cracked",
        witness="Ben Orchard",
    )
    assert state_of(shop, barrel.thing).condition is Condition.UNINSPECTED
    gone = state_of(shop, other)
    assert (gone.condition, gone.where[0].place) == (Condition.UNSALVAGEABLE, shop.scrap)
    assert not orders(shop)


def test_some_of_a_batch_comes_back_first(shop: Shop, presenter: StoresPresenter) -> None:
    batch = Key(Thing(batch=made(shop, shop.batch)))
    send(presenter, shop, batch, quantity="15")
    do(presenter, Act.BACK, batch, quantity="9", report="BP 84", to_place=shop.bench)
    ((line,),) = [order.lines for order in orders(shop)]
    assert line.out == 6


def test_what_is_out_on_two_orders_is_booked_back_one_by_one(
    shop: Shop, presenter: StoresPresenter, barrel: Key
) -> None:
    batch = Key(Thing(batch=made(shop, shop.batch)))
    send(presenter, shop, barrel)
    send(presenter, shop, batch)
    with pytest.raises(Refused, match="not all out on one order"):
        presenter.plan(Act.BACK, [barrel, batch])


def test_scrapping_shows_the_hazards_first_and_asks_how(shop: Shop, presenter: StoresPresenter) -> None:
    key = valve(shop)
    plan = presenter.plan(Act.SCRAP, [key])
    assert plan.said({}).startswith("⚠ Exhaust valve is sodium-filled")
    with pytest.raises(FieldRefused, match="sodium burns in air") as refused:
        fill_in(plan, reason="head burnt", how=Unusable.SAWN)
    assert refused.value.field == "how"
    with pytest.raises(Asked, match="sodium"):
        fill_in(plan, reason="head burnt", how=Unusable.BY_A_FIRM)


def test_a_scrapped_barrel_lies_in_the_drum_and_is_no_good_any_more(
    shop: Shop, presenter: StoresPresenter, barrel: Key
) -> None:
    plan = presenter.plan(Act.SCRAP, [barrel])
    assert "must not take it for a good one" in plan.said({})
    fill_in(plan, reason="cracked from the spigot up", how=Unusable.DRILLED, witness="Ben Orchard")
    state = state_of(shop, barrel.thing)
    assert (state.condition, state.where[0].place) == (Condition.UNSALVAGEABLE, shop.scrap)


def test_a_piece_is_made_another_size_on_an_authority(
    shop: Shop, presenter: StoresPresenter, barrel: Key
) -> None:
    plan = presenter.plan(Act.IDENTITY, [barrel])
    assert "keeps its tag" in plan.said({})
    with pytest.raises(FieldRefused, match="already, in that size and finish"):
        fill_in(plan, authority="drawing 4-118", what_was_done="nothing")
    with pytest.raises(FieldRefused, match="it is made in: standard size, \\+0.5") as found:
        fill_in(plan, size_class="+0.75", authority="drawing 4-118", what_was_done="bored to +0.75")
    assert found.value.field == "size_class"
    fill_in(plan, size_class="+0.5", authority="drawing 4-118", what_was_done="bored to +0.5")
    state = state_of(shop, barrel.thing)
    assert (state.size_class, state.condition) == ("+0.5", Condition.UNINSPECTED)
    assert ("Size", "+0.5") in presenter.story(Job(), barrel.thing).facts


def test_pieces_are_matched_and_their_match_is_ended(
    shop: Shop, presenter: StoresPresenter, barrel: Key
) -> None:
    other = valve(shop)
    assert Act.MATCH in acts_for([barrel, other])
    assert Act.END_MATCH not in acts_for([barrel, other])
    with pytest.raises(Refused, match="matched with nothing"):
        presenter.plan(Act.END_MATCH, [barrel])
    why = {"kind": MatchedAs.SET, "why": "lapped together"}
    do(presenter, Act.MATCH, barrel, others=({"piece": other.thing.piece},), **why)
    piece = barrel.thing.piece or 0
    with shop.store.reading() as session:
        ((facts,),) = matched_with(session, [piece]).values()
    assert {member for member, _ in facts.members} == {piece, other.thing.piece}
    told = f"{state_of(shop, other.thing).tag}: matched set since {TODAY.isoformat()}, lapped together"
    assert ("Goes with", told) in presenter.story(Job(), barrel.thing).facts
    do(presenter, Act.END_MATCH, barrel, because="the seat was cut again")
    assert "Goes with" not in dict(presenter.story(Job(), barrel.thing).facts)
    with shop.store.reading() as session:
        assert matched_with(session, [piece]) == {}


def test_batches_are_not_matched_nor_made_another_part(shop: Shop) -> None:
    acts = acts_for([Key(Thing(batch=made(shop, shop.batch)))])
    assert not {Act.MATCH, Act.END_MATCH, Act.IDENTITY} & set(acts)
    assert Act.SCRAP in acts


def test_what_is_fitted_is_not_sent_out_nor_scrapped(barrel: Key) -> None:
    fitted = Key(barrel.thing, fitted=True)
    assert not {Act.SEND, Act.BACK, Act.SCRAP, Act.IDENTITY} & set(acts_for([fitted]))
