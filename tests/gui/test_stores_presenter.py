"""What the Stores view shows and which acts fit, on a real store and with no window."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from gui.job import Job
from gui.shown import ChosenFile, Sort
from gui.views.stores_plans import Act, Key, acts_for
from gui.views.stores_presenter import (
    COLUMNS,
    ON_HOLD,
    SORTED_BY,
    ReverseEntry,
    Shelf,
    StoresPresenter,
)
from invdb.acts.goods_in import GoodsIn
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, add_paper
from invdb.terms import Condition, FieldRefused, Origin, PaperKind, Refused, Scope
from tests.gui.stores_shop import do, fill_in, made, sit, state_of
from tests.shop import TODAY, Shop, sqlite_shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


@pytest.fixture
def presenter(shop: Shop) -> StoresPresenter:
    return StoresPresenter(sit(shop))


def listed(presenter: StoresPresenter, words: str = "", sort: Sort | None = None) -> list[str]:
    """The tags in the list, in its order."""
    return [row.cells[0] for row in presenter.fetch(Job(), 0, 100, sort, words).rows]


def piece(shop: Shop, **how: object) -> Key:
    return Key(Thing(piece=made(shop, shop.piece, **how)))


def batch(shop: Shop, quantity: int = 40) -> Key:
    return Key(Thing(batch=made(shop, shop.batch, quantity=quantity)), shop.bin_a)


def test_every_column_can_be_sorted_by(presenter: StoresPresenter, shop: Shop) -> None:
    piece(shop)
    batch(shop)
    assert [column.name for column in COLUMNS] == list(SORTED_BY)
    for column in COLUMNS:
        there = listed(presenter, sort=Sort(column.name))
        back = listed(presenter, sort=Sort(column.name, descending=True))
        assert sorted(there) == sorted(back)
        assert len(there) == 2


def test_a_row_says_its_condition_in_mark_and_words(presenter: StoresPresenter, shop: Shop) -> None:
    key = piece(shop)
    (row,) = presenter.fetch(Job(), 0, 10, None, "").rows
    assert row.cells[2] == "? uninspected"
    assert row.sign == "uninspected"
    with shop.store.writing() as session:
        raise_hold(session, (Subject(piece=key.thing.piece),), "a crack is suspected", shop.by())
    (row,) = presenter.fetch(Job(), 0, 10, None, "").rows
    assert row.cells[2] == "⊘ on hold, uninspected"
    assert row.key == key
    assert row.key.held


def test_a_batch_has_a_row_for_each_place_where_it_lies(presenter: StoresPresenter, shop: Shop) -> None:
    key = batch(shop)
    do(presenter, Act.MOVE, key, quantity="15", to_place=shop.bin_b)
    rows = presenter.fetch(Job(), 0, 10, Sort("place"), "").rows
    assert [(row.cells[3], row.cells[4]) for row in rows] == [("A-01-01", "25 off"), ("A-01-02", "15 off")]
    assert rows[0].key != rows[1].key


def test_boxes_filter_the_list_and_the_whole_stays_counted(presenter: StoresPresenter, shop: Shop) -> None:
    held, free = piece(shop), piece(shop)
    with shop.store.writing() as session:
        raise_hold(session, (Subject(piece=held.thing.piece),), "a crack is suspected", shop.by())
    presenter.filter(Shelf({"condition": ON_HOLD}))
    page = presenter.fetch(Job(), 0, 10, None, "")
    assert [row.key for row in page.rows] == [held]
    assert (page.fitting, page.total) == (1, 2)
    presenter.filter(Shelf({"condition": Condition.UNINSPECTED, "place": shop.bin_b}))
    assert listed(presenter) == []
    presenter.filter(Shelf({}))
    assert len(listed(presenter)) == 2
    assert listed(presenter, words=state_of(shop, free.thing).tag) == [state_of(shop, free.thing).tag]


def test_the_boxes_offer_what_the_shop_has(presenter: StoresPresenter, shop: Shop) -> None:
    choices = presenter.choices()
    assert "A-01-01" in [choice.word for choice in choices["place"]]
    assert [choice.word for choice in choices["engine_type"]] == ["Linnet"]
    assert ON_HOLD in [choice.key for choice in choices["condition"]]


@pytest.mark.parametrize(
    ("condition", "may_be_accepted"),
    [
        (Condition.UNINSPECTED, True),
        (Condition.SERVICEABLE, True),
        (Condition.UNSERVICEABLE, False),
        (Condition.UNSALVAGEABLE, False),
    ],
)
def test_only_what_may_serve_can_be_accepted(condition: Condition, may_be_accepted: bool) -> None:
    acts = acts_for([Key(Thing(piece=1), None, condition)])
    assert (Act.ACCEPT in acts) is may_be_accepted
    assert Act.SPLIT not in acts
    assert Act.CLEAR not in acts


def test_one_batch_can_be_split_and_a_held_thing_cleared() -> None:
    one, other = Key(Thing(batch=1), 5), Key(Thing(batch=2), 5, held=True)
    assert Act.SPLIT in acts_for([one])
    assert Act.SPLIT not in acts_for([one, other])
    assert Act.CLEAR in acts_for([other])
    assert acts_for([]) == []


def test_accepting_asks_only_for_checks_that_are_open(presenter: StoresPresenter, shop: Shop) -> None:
    valve = piece(shop)
    asked = {field.name: field for field in presenter.plan(Act.ACCEPT, [valve]).fields}
    assert [choice.key for choice in asked["checks"].choices] == ["right_part", "papers", "damage", "hazards"]
    springs = batch(shop)
    asked = {field.name: field for field in presenter.plan(Act.ACCEPT, [springs]).fields}
    assert "hazards" not in [choice.key for choice in asked["checks"].choices]


def test_accepted_for_ground_running_and_moved_in_one_go(presenter: StoresPresenter, shop: Shop) -> None:
    springs = batch(shop)
    looked_at = frozenset({"right_part", "papers", "damage"})
    do(presenter, Act.ACCEPT, springs, scope=Scope.GROUND_RUNNING, checks=looked_at, to_place=shop.bin_b)
    state = state_of(shop, springs.thing)
    assert (state.condition, state.scope) == (Condition.SERVICEABLE, Scope.GROUND_RUNNING)
    assert [where.name for where in state.where] == ["A-01-02"]
    assert dict(state.checks)["damage"] == "none seen"


def test_flight_without_papers_needs_a_licensed_persons_reason(
    presenter: StoresPresenter, shop: Shop
) -> None:
    springs = batch(shop)
    looked_at = frozenset({"right_part", "papers", "damage"})
    with pytest.raises(Refused, match="no papers"):
        do(presenter, Act.ACCEPT, springs, scope=Scope.FLIGHT, checks=looked_at)
    do(
        presenter,
        Act.ACCEPT,
        springs,
        scope=Scope.FLIGHT,
        checks=looked_at,
        override="Load tested here, report LT 4",
    )
    assert state_of(shop, springs.thing).scope is Scope.FLIGHT


def test_an_unlicensed_person_is_not_asked_to_override(shop: Shop) -> None:
    sitting = sit(shop)
    sitting.licence = ""
    springs = batch(shop)
    plan = StoresPresenter(sitting).plan(Act.ACCEPT, [springs])
    assert "override" not in [field.name for field in plan.fields]


def test_damage_is_not_both_seen_and_not_seen(presenter: StoresPresenter, shop: Shop) -> None:
    springs = batch(shop)
    with pytest.raises(Refused, match="No damage seen"):
        do(
            presenter,
            Act.ACCEPT,
            springs,
            scope=Scope.DISPLAY,
            checks=frozenset({"damage"}),
            damage="rust on two coils",
        )


def test_forty_springs_are_split_into_good_to_rework_and_scrap(
    presenter: StoresPresenter, shop: Shop
) -> None:
    springs = batch(shop, 40)
    do(
        presenter,
        Act.ACCEPT,
        springs,
        scope=Scope.GROUND_RUNNING,
        checks=frozenset({"right_part", "papers", "damage"}),
    )
    rows = (
        {"quantity": "5", "state": (Condition.UNSERVICEABLE, None), "to_place": shop.bench},
        {"quantity": "4", "state": (Condition.UNSALVAGEABLE, None), "to_place": shop.scrap},
    )
    plan = presenter.plan(Act.SPLIT, [springs])
    assert plan.said({"from_place": shop.bin_a, "shares": rows}).endswith(
        f"31 off would be left as {state_of(shop, springs.thing).tag}."
    )
    split_off = fill_in(plan, shares=rows)
    assert [state_of(shop, Thing(batch=child)).condition for child, _ in split_off.batches] == [
        Condition.UNSERVICEABLE,
        Condition.UNSALVAGEABLE,
    ]
    assert state_of(shop, springs.thing).where[0].quantity == 31
    assert all(tag in plan.told(split_off) for _, tag in split_off.batches)


def test_too_large_shares_are_seen_before_saving(presenter: StoresPresenter, shop: Shop) -> None:
    springs = batch(shop, 10)
    plan = presenter.plan(Act.SPLIT, [springs])
    rows = ({"quantity": "11", "state": (Condition.UNSERVICEABLE, None), "to_place": None},)
    assert "too much" in plan.said({"from_place": shop.bin_a, "shares": rows})
    with pytest.raises(FieldRefused) as refused:
        fill_in(plan, shares=rows)
    assert refused.value.field == "shares"


def test_several_things_are_moved_in_one_entry(presenter: StoresPresenter, shop: Shop) -> None:
    keys = [piece(shop), batch(shop)]
    do(presenter, Act.MOVE, *keys, to_place=shop.bin_b)
    assert {state_of(shop, key.thing).where[0].name for key in keys} == {"A-01-02"}


def test_a_hold_on_the_part_is_on_every_piece_of_it_until_it_is_cleared(
    presenter: StoresPresenter, shop: Shop
) -> None:
    one, other = piece(shop), piece(shop)
    do(presenter, Act.HOLD, one, on_what="part", reason="stems of this maker crack")
    assert presenter.key_of("piece", other.thing.piece or 0).held
    plan = presenter.plan(Act.CLEAR, [other])
    assert "stems of this maker crack" in plan.fields[0].choices[0].word
    fill_in(plan, because="crack tested, none found")
    assert not presenter.key_of("piece", one.thing.piece or 0).held
    with pytest.raises(Refused, match="not on hold"):
        presenter.plan(Act.CLEAR, [one])


def test_scrap_goes_to_the_scrap_drum(presenter: StoresPresenter, shop: Shop) -> None:
    valve = piece(shop)
    with pytest.raises(FieldRefused) as refused:
        do(presenter, Act.CONDITION, valve, condition=Condition.UNSALVAGEABLE, reason="head cracked")
    assert refused.value.field == "to_place"
    do(
        presenter,
        Act.CONDITION,
        valve,
        condition=Condition.UNSALVAGEABLE,
        reason="head cracked",
        to_place=shop.scrap,
    )
    assert state_of(shop, valve.thing).condition is Condition.UNSALVAGEABLE


def test_papers_are_attached_by_number_and_as_files(
    presenter: StoresPresenter, shop: Shop, tmp_path: Path
) -> None:
    valve = piece(shop)
    scan, photograph = tmp_path / "scan.pdf", tmp_path / "stem.jpg"
    scan.write_bytes(b"%PDF certificate")
    photograph.write_bytes(b"picture")
    count = do(
        presenter,
        Act.PAPERS,
        valve,
        paper_kind=PaperKind.MAKERS_CERTIFICATE,
        paper_reference="MC 1187",
        papers=(
            ChosenFile(scan, PaperKind.MAKERS_CERTIFICATE),
            ChosenFile(photograph, PaperKind.PHOTOGRAPH),
        ),
    )
    assert count == 2
    papers = presenter.story(Job(), valve.thing).papers
    assert any(line.startswith("maker's certificate MC 1187") and "kept here" in line for line in papers)
    assert any(line.startswith("photograph stem") for line in papers)
    with pytest.raises(FieldRefused) as refused:
        do(presenter, Act.PAPERS, valve)
    assert refused.value.field == "papers"


def test_an_empty_file_is_refused_beside_the_files(
    presenter: StoresPresenter, shop: Shop, tmp_path: Path
) -> None:
    valve = piece(shop)
    (tmp_path / "empty.pdf").touch()
    with pytest.raises(FieldRefused) as refused:
        do(presenter, Act.PAPERS, valve, papers=(ChosenFile(tmp_path / "empty.pdf", PaperKind.INVOICE),))
    assert refused.value.field == "papers"


def test_a_late_entry_carries_its_day_and_no_entry_a_day_to_come(
    presenter: StoresPresenter, shop: Shop
) -> None:
    valve = piece(shop, on=TODAY - timedelta(days=9))
    with pytest.raises(Refused, match="in the future"):
        do(presenter, Act.MOVE, valve, to_place=shop.bin_b, happened_on=TODAY + timedelta(days=1))
    do(presenter, Act.MOVE, valve, to_place=shop.bin_b, happened_on=TODAY - timedelta(days=4))
    entry = presenter.story(Job(), valve.thing).entries[0]
    assert (TODAY - timedelta(days=4)).isoformat() in entry.head
    assert f"recorded {TODAY.isoformat()}" in entry.head


def test_a_reversed_entry_is_seen_to_be_reversed(presenter: StoresPresenter, shop: Shop) -> None:
    valve = piece(shop)
    number = do(presenter, Act.MOVE, valve, to_place=shop.bin_b)
    plan = presenter.reverse(ReverseEntry(number, "Moved it."))
    assert plan.said({}) == "Moved it."
    fill_in(plan, reason="the wrong valve")
    told = {entry.number: entry for entry in presenter.story(Job(), valve.thing).entries}
    assert told[number].sign == "reversed"
    assert not told[number].can_be_reversed
    assert state_of(shop, valve.thing).where[0].name == "A-01-01"


def test_the_trace_sheet_is_written_as_its_ending_says(
    presenter: StoresPresenter, shop: Shop, tmp_path: Path
) -> None:
    valve = piece(shop)
    sheet = presenter.story(Job(), valve.thing).sheet
    assert presenter.write_sheet(sheet, tmp_path / "T.pdf").read_bytes().startswith(b"%PDF")
    assert presenter.write_sheet(sheet, tmp_path / "T.xlsx").read_bytes().startswith(b"PK")


def test_what_is_found_leads_to_its_stock(presenter: StoresPresenter, shop: Shop) -> None:
    valve, springs = piece(shop), batch(shop)
    tags = {key: state_of(shop, key.thing).tag for key in (valve, springs)}
    with shop.store.writing() as session:
        paper = add_paper(
            session, NewPaper(PaperKind.INVOICE, "INV 4"), shop.by(), (springs.thing, valve.thing)
        )
        other = add_paper(session, NewPaper(PaperKind.INVOICE, "INV 5"), shop.by(), (springs.thing,))
        bought = shop.book_in(
            session, shop.barrel, pieces=1, goods=GoodsIn(Origin.NEW, 0, firm=shop.supplier)
        )

    def stock_of(kind: str, found: int, headline: str) -> set[str]:
        presenter.filter(presenter.shelf_of(kind, found, headline))
        return set(listed(presenter))

    assert stock_of("part", shop.valve, "VX0001") == {tags[valve]}
    assert stock_of("document", paper, "INV 4") == set(tags.values())
    assert stock_of("document", other, "INV 5") == {tags[springs]}
    assert stock_of("firm", shop.supplier, "Aldermoor Aero Spares") == {bought.things[0][1]}
    assert stock_of("place", shop.bin_b, "A-01-02") == set()
    with pytest.raises(Refused, match="L14 has no stock of its own"):
        presenter.shelf_of("mod", 1, "L14")


def test_nobody_books_anything_before_saying_who_they_are(shop: Shop) -> None:
    sitting = sit(shop)
    sitting.person = None
    with pytest.raises(Refused, match="who is working"):
        do(StoresPresenter(sitting), Act.MOVE, piece(shop), to_place=shop.bin_b)
