"""Acts of the Stores view on what is fitted or in doubt, on a real store and with no window."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest

from gui.job import Job
from gui.views.piece_presenter import PieceStory
from gui.views.stores_plans import KEYS, Act, Key, acts_for
from gui.views.stores_presenter import HELP, IN_DOUBT, Shelf, StoresPresenter
from invdb.acts.engine_event import NewEvent, record_event
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, add_paper
from invdb.rules.recall import RecallWhere
from invdb.terms import ConcessionOver, EngineEventKind, FieldRefused, PaperKind, Refused
from tests.engine_shop import METER, begin, run
from tests.fitted_shop import Bench
from tests.gui.stores_shop import do, fill_in, made, shown_fields, sit, state_of
from tests.shop import TODAY, Shop, sqlite_shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        begin(opened)
        yield opened


@pytest.fixture
def presenter(shop: Shop) -> StoresPresenter:
    return StoresPresenter(sit(shop))


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


def a_valve(shop: Shop) -> Thing:
    return Thing(piece=made(shop, shop.piece, on=ago(300)))


def a_fitted_valve(shop: Shop) -> Thing:
    """In cylinder 5 of Linnet One, which has flown 30 hours since."""
    valve = a_valve(shop)
    with shop.store.writing() as session:
        Bench(shop, session).fit(valve, "5", "exhaust valve", ago(200))
        run(session, shop, METER + 30_00, on=ago(100))
    return valve


def strike(shop: Shop) -> int:
    with shop.store.writing() as session:
        event = NewEvent(shop.engine, EngineEventKind.PROPELLER_STRIKE)
        return record_event(session, event, shop.by(ago(30)))


def listed(presenter: StoresPresenter) -> dict[Thing, Key]:
    return {row.key.thing: row.key for row in presenter.fetch(Job(), 0, 100, None, "").rows}


def story(presenter: StoresPresenter, thing: Thing) -> PieceStory:
    return presenter.story(Job(), thing)


def test_what_is_fitted_is_not_moved_split_or_accepted_from_here(
    presenter: StoresPresenter, shop: Shop
) -> None:
    valve, spare = a_fitted_valve(shop), a_valve(shop)
    keys = listed(presenter)
    assert keys[valve].fitted
    assert keys[valve].engine == shop.engine
    fitted = acts_for([keys[valve]])
    assert not {Act.ACCEPT, Act.MOVE, Act.CONDITION, Act.SPLIT} & set(fitted)
    assert {Act.HOLD, Act.PAPERS, Act.CONCESSION, Act.OVERHAUL, Act.RECALL} <= set(fitted)
    assert Act.MOVE in acts_for([keys[spare]])
    both = acts_for([keys[valve], keys[spare]])
    assert Act.MOVE not in both
    assert "1 of them sit in an engine" in presenter.note_on([keys[valve], keys[spare]], 2).how_to_begin
    with pytest.raises(Refused, match="Strip it first"):
        do(presenter, Act.MOVE, keys[valve], to_place=shop.bin_b)


def test_a_found_piece_is_known_to_be_fitted_too(presenter: StoresPresenter, shop: Shop) -> None:
    valve = a_fitted_valve(shop)
    key = presenter.key_of("piece", valve.piece or 0)
    assert (key.fitted, key.engine, key.tainted) == (True, shop.engine, False)
    strike(shop)
    assert presenter.key_told(key, story(presenter, valve)).tainted


def test_a_batch_that_is_fitted_in_part_is_moved_from_where_the_rest_lies(
    presenter: StoresPresenter, shop: Shop
) -> None:
    springs = Thing(batch=made(shop, shop.batch, on=ago(300)))
    with shop.store.writing() as session:
        Bench(shop, session).fit(springs, "5", "exhaust springs", ago(200), quantity=2)
    rows = presenter.fetch(Job(), 0, 100, None, "").rows
    assert {(row.key.fitted, Act.MOVE in acts_for([row.key])) for row in rows} == {
        (True, False),
        (False, True),
    }
    found = presenter.key_of("batch", springs.batch or 0)
    assert not found.fitted
    for act in (Act.MOVE, Act.SPLIT):
        whence = next(f for f in presenter.plan(act, [found]).fields if f.name == "from_place")
        assert [choice.key for choice in whence.choices] == [shop.bin_a]


def test_a_row_says_where_a_fitted_piece_sits_and_that_an_event_is_not_cleared(
    presenter: StoresPresenter, shop: Shop
) -> None:
    a_fitted_valve(shop)
    strike(shop)
    (row,) = presenter.fetch(Job(), 0, 10, None, "").rows
    assert row.cells[2:4] == (
        "☇ event not cleared, uninspected",
        "Linnet One, cylinder 5, exhaust valve",
    )
    assert "30.00" in row.cells
    assert row.sign == IN_DOUBT


def test_the_list_is_filtered_to_what_is_in_doubt(presenter: StoresPresenter, shop: Shop) -> None:
    valve, _spare = a_fitted_valve(shop), a_valve(shop)
    strike(shop)
    assert IN_DOUBT in [choice.key for choice in presenter.choices()["condition"]]
    presenter.filter(Shelf({"condition": IN_DOUBT}))
    assert list(listed(presenter)) == [valve]
    presenter.filter(Shelf({}))
    assert len(listed(presenter)) == 2


def test_a_piece_is_cleared_of_an_event_by_a_named_inspection(presenter: StoresPresenter, shop: Shop) -> None:
    valve, spare = a_fitted_valve(shop), a_valve(shop)
    assert Act.CLEAR_EVENT not in acts_for([listed(presenter)[valve]])
    strike(shop)
    keys = listed(presenter)
    assert Act.CLEAR_EVENT in acts_for([keys[valve]])
    plan = presenter.plan(Act.CLEAR_EVENT, [keys[valve], keys[spare]])
    tag = state_of(shop, valve).tag
    said = plan.said({"event": plan.fields[0].start})
    assert said == f"Cleared of the propeller strike of Linnet One on {ago(30).isoformat()}: {tag}."
    fill_in(plan, inspection="magnetic, no indications")
    assert not listed(presenter)[valve].tainted
    with pytest.raises(Refused, match="in doubt by no engine event"):
        presenter.plan(Act.CLEAR_EVENT, [keys[valve]])


def test_without_a_licence_one_is_told_before_and_refused_after(shop: Shop) -> None:
    valve = a_fitted_valve(shop)
    strike(shop)
    sitting = sit(shop)
    sitting.person, sitting.name, sitting.licence = shop.keeper, "Ben Hollis", ""
    plan = StoresPresenter(sitting).plan(Act.CLEAR_EVENT, [Key(valve)])
    assert "Only a person with a licence number" in plan.said({"event": plan.fields[0].start})
    with pytest.raises(Refused, match="licence number"):
        fill_in(plan, inspection="looked at it")


def test_a_concession_begins_with_where_the_piece_is_fitted(presenter: StoresPresenter, shop: Shop) -> None:
    valve = a_fitted_valve(shop)
    with shop.store.writing() as session:
        paper = add_paper(session, NewPaper(PaperKind.STATEMENT, "C 12"), shop.by(), (valve,))
    given = {
        "reference": "C 12",
        "authority": "the authority",
        "over": ConcessionOver.LIFE_LIMIT,
        "allows": "40 hours more",
        "document": paper,
        "life_limit_hours": "640",
        "hours_allowed": "40",
    }
    plan = presenter.plan(Act.CONCESSION, [Key(valve)])
    offered = {field.name: field.start for field in plan.fields}
    assert (offered["engine"].ref, offered["position"]) == (shop.engine, "cylinder 5")
    assert "life_limit_hours" not in shown_fields(plan, {"over": ConcessionOver.WORN_LIMIT})
    for wrong, field in (({"hours_allowed": ""}, "until_on"), ({"position": "cylinder 12"}, "position")):
        with pytest.raises(FieldRefused) as refused:
            fill_in(plan, **(given | wrong))
        assert refused.value.field == field
    fill_in(plan, **given, from_on=ago(10))
    told = story(presenter, valve)
    assert "concession" in told.signs
    assert told.limits[0].gauge.limit == 640_00
    assert told.limits[0].gauge.figure.endswith("by concession C 12")


def test_an_overhaul_begins_only_the_counts_that_its_report_names(
    presenter: StoresPresenter, shop: Shop
) -> None:
    valve = a_fitted_valve(shop)
    plan = presenter.plan(Act.OVERHAUL, [Key(valve)])
    assert "starts" not in shown_fields(plan, {"resets": frozenset({"hours"})})
    with pytest.raises(FieldRefused) as refused:
        fill_in(plan, report="WR 12", resets=frozenset())
    assert refused.value.field == "resets"
    with pytest.raises(FieldRefused) as refused:
        fill_in(plan, report="WR 12", resets=frozenset({"hours"}), hours="between 20 and 10")
    assert refused.value.field == "hours"
    fill_in(
        plan, report="WR 12", resets=frozenset({"hours"}), hours="between 4 and 6.50", happened_on=ago(50)
    )
    since = dict(story(presenter, valve).facts)["Since overhaul"]
    assert since.startswith("between 4.00 h and 6.50 h and ")
    assert since.endswith(f"since that of {ago(50).isoformat()}, WR 12")


def test_a_recall_begins_with_the_part_of_a_piece_or_with_the_batch(
    presenter: StoresPresenter, shop: Shop
) -> None:
    valve = a_fitted_valve(shop)
    springs = Thing(batch=made(shop, shop.batch, on=ago(300)))
    found = fill_in(presenter.plan(Act.RECALL, [Key(valve)]), reason="stems crack")
    (line,) = found.letter.report.lines
    assert (line.piece, line.at[0].where) == (valve.piece, RecallWhere.FITTED)
    found = fill_in(presenter.plan(Act.RECALL, [Key(springs)]), reason="soft", hold=True)
    assert [each.batch for each in found.letter.report.lines] == [springs.batch]
    assert state_of(shop, springs).holds


def test_every_act_has_a_key_of_its_own_that_the_help_names(shop: Shop) -> None:
    keys = [key for key, _hint in KEYS.values()]
    assert set(KEYS) == set(Act)
    assert len(set(keys)) == len(keys)
    assert all(f"{key}  " in HELP for key in keys)
