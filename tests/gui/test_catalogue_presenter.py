"""What the Catalogue view shows of the list and of a part's page, decided without a screen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from gui.job import Job
from gui.shown import Sort
from gui.views.catalogue_acts import ALTERNATES, CHANGES, PAGES, PAPERS, SPEC, STOCK, USES, Act
from gui.views.catalogue_deeds import CatalogueDeeds
from gui.views.catalogue_presenter import HELP, CataloguePresenter
from gui.views.part_alternates import graph_of, told_of_graph
from gui.views.part_cards import CardKey, CardKind
from gui.views.part_stock import fetch_stock, told_of_stock
from gui.views.part_tables import CHANGE_COLUMNS, USE_COLUMNS, change_row, page_of, told_of_change, use_row
from invdb.acts.balance import NewBalanceSet, add_balance_set
from invdb.acts.catalogue import Holds
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.part_list import PartFilter
from invdb.acts.spec import NewSpec, add_spec, withdraw_spec
from invdb.acts.spec_line import NewSpecLine
from invdb.acts.stand_in_edit import end_stand_in
from invdb.terms import BalanceKind, SpecKind
from tests.bench_shop import SOURCE
from tests.fits_shop import FitsShop, furnish_fits
from tests.gui.catalogue_shop import WHY, read_of, stands_in, valve_like
from tests.gui.stores_shop import sit
from tests.kit_shop import good
from tests.shop import TODAY, Shop, sqlite_shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


@pytest.fixture
def fits(shop: Shop) -> FitsShop:
    return furnish_fits(shop)


def shown(shop: Shop, part: int) -> CataloguePresenter:
    presenter = CataloguePresenter(sit(shop))
    presenter.go_to(part)
    presenter.show(presenter.read_part(Job(), part))
    return presenter


def test_the_list_says_of_each_part_what_there_is_and_what_stands_against_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        good(session, shop, shop.valve)
        raise_hold(session, (Subject(part=shop.valve),), "Broke", shop.by())
    presenter = CataloguePresenter(sit(shop))
    page = presenter.fetch(Job(), 0, 100, Sort("name"), "exhaust valve")
    (row,) = page.rows
    assert (page.fitting, page.total) == (1, 5)
    assert row.key == shop.valve and row.sign == "on hold"
    assert row.cells[1:5] == ("Exhaust valve", "1", "none", "⊘ on hold, ◴ life-limited")


def test_the_filters_keep_the_list_to_what_is_asked_for(fits: FitsShop) -> None:
    presenter = CataloguePresenter(sit(fits.shop))
    presenter.which = PartFilter(without_spec=True)
    names = [row.cells[1] for row in presenter.fetch(Job(), 0, 100, None, "").rows]
    assert "Exhaust valve" in names and "Piston" not in names
    presenter.which = replace(presenter.which, life_limited=True)
    assert [row.cells[1] for row in presenter.fetch(Job(), 0, 100, None, "").rows] == ["Exhaust valve"]
    assert presenter.place_of(Job(), fits.parts["rod"], None, "") is None
    families = [choice.word for choice in presenter.families(Job())]
    assert "FT  Fitted parts" in families


def test_figures_stand_as_published_and_the_other_way_under_their_headings(fits: FitsShop) -> None:
    presenter = shown(fits.shop, fits.parts["barrel"])
    cards = {(card.title, card.aside): card for card in presenter.cards()}
    bore = cards["bore", ""]
    assert [(line.word, line.published, line.other) for line in bore.lines] == [
        ("new", "100.00 to 100.03 mm", "3.93701 to 3.93819 in"),
        ("worn", "at most 100.15 mm", "3.94291 in"),
    ]
    assert cards["bore", "0.25 mm oversize"].lines[0].published == "100.25 to 100.28 mm"
    assert [card.section for card in presenter.cards()] == sorted(
        (card.section for card in presenter.cards()),
        key=["Dimensions", "Fits", "What must suit", "Sizes"].index,
    )


def test_a_fit_says_how_it_comes_about_between_what_and_by_what(fits: FitsShop) -> None:
    cards = shown(fits.shop, fits.parts["barrel"]).cards()
    fit = next(card for card in cards if card.title.startswith("piston in barrel"))
    assert fit.aside == "as found"
    assert [line.word for line in fit.lines] == ["new", "worn", "target"]
    assert fit.lines[2].published == "0.30 mm"
    assert fit.note.startswith("Bore of the barrel and skirt of the piston")
    assert "Set by Ada Farrow" in fit.detail
    floating = next(card for card in cards if card.title.startswith("end float"))
    assert (floating.aside, floating.sign) == ("selected on assembly", "to be selected")
    rules = [card.note for card in cards if card.section == "What must suit"]
    assert any("is of one size" in note for note in rules)
    assert any("Nothing chromium faced at the piston meets" in note for note in rules)


def test_a_set_of_masses_stands_with_every_part_whose_mass_counts_in_it(fits: FitsShop) -> None:
    for station in ("piston", "rod"):
        cards = shown(fits.shop, fits.parts[station]).cards()
        (masses,) = [card for card in cards if card.section == "Masses that must agree"]
        assert masses.title == "reciprocating masses (Dabchick, cylinder)"
        assert masses.aside == "as one set"
        assert [(line.word, line.published, line.other) for line in masses.lines] == [
            ("apart", "at most 5 g", "0.1764 oz")
        ]
        assert masses.note == (
            "Every position. Added up at each: the mass of the piston, the small end mass of the rod."
            f" By {SOURCE}."
        )
        assert "Set by Ada Farrow" in masses.detail
        deeds = deeds_of(shown(fits.shop, fits.parts[station]))
        assert [deed.key for deed in deeds.of_page(SPEC, masses)] == ["Del"]
    for station in ("barrel", "end float shim"):
        cards = shown(fits.shop, fits.parts[station]).cards()
        assert not [card for card in cards if card.section == "Masses that must agree"]


def test_masses_set_against_one_say_which_and_how_far_off(fits: FitsShop) -> None:
    rod = (("rod", "small end mass"),)
    with fits.shop.store.writing() as session:
        against = NewBalanceSet(
            fits.engine_type, "cylinder", "master", BalanceKind.AGAINST, "oz", "1/4", rod, SOURCE, "1", "12"
        )
        add_balance_set(session, against, fits.shop.by())
    cards = {card.title: card for card in shown(fits.shop, fits.parts["rod"]).cards()}
    master = cards["master (Dabchick, cylinder)"]
    assert master.aside == "against a mass"
    assert [(line.word, line.published, line.other) for line in master.lines] == [
        ("target", "12 oz", "340.194 g"),
        ("off it", "at most 1/4 oz", "7.087 g"),
    ]
    assert master.note.startswith("Position 1. What counts is the small end mass of the rod. By ")


def test_a_part_that_has_nothing_to_say_says_how_to_begin(shop: Shop) -> None:
    presenter = shown(shop, shop.barrel)
    assert presenter.cards() == ()
    assert "No specification" in presenter.told_of_spec()
    assert "no specification" in presenter.signs()
    assert presenter.revisions() == ()


def test_the_revision_in_force_is_shown_and_any_other_can_be_looked_at(fits: FitsShop) -> None:
    shop, part = fits.shop, fits.parts["rod"]
    line = NewSpecLine(SpecKind.MASS, "small end mass", unit="g", new_low="310", new_high="350")
    with shop.store.writing() as session:
        coming = NewSpec(part, "C", TODAY + timedelta(days=30), "Sheet 9", (line,))
        add_spec(session, coming, shop.by())
        gone = add_spec(session, NewSpec(part, "B", TODAY - timedelta(days=9), "Sheet 8", (line,)), shop.by())
        withdraw_spec(session, gone, "Misprinted", shop.by())
    presenter = shown(shop, part)
    words = [choice.word for choice in presenter.revisions()]
    assert words[0] == f"C, in force from {(TODAY + timedelta(days=30)).isoformat()}"
    assert words[1] == f"B, withdrawn on {TODAY.isoformat()}"
    assert words[2].startswith("A, in force since")
    assert presenter.spec is not None and presenter.spec.revision == "A"
    newest = presenter.read.page.specs[0] if presenter.read is not None else None
    presenter.look_at(newest)
    assert presenter.cards()[0].lines[0].published == "310 to 350 g"
    presenter.show(presenter.read_part(Job(), part))
    assert presenter.spec is not None and presenter.spec.revision == "C", "it stays when it is read again"


def test_the_head_tells_family_numbers_life_hazards_and_holds(shop: Shop) -> None:
    with shop.store.writing() as session:
        raise_hold(session, (Subject(part=shop.valve),), "Two broke", shop.by())
    presenter = shown(shop, shop.valve)
    facts = dict(presenter.facts())
    assert facts["Family"].startswith("VX Exhaust valves, held as single pieces")
    assert facts["Known as"] == "PW 1187 (maker's, Aldermoor Aero Spares)"
    assert facts["Life"] == "600.00 h since new"
    assert facts["Take care"] == "sodium-filled: Do not cut the stem."
    assert facts["On hold"].startswith("Two broke (Ada Farrow, ")
    assert presenter.signs() == ("on hold", "take care", "life-limited", "no specification")
    assert presenter.title().endswith("Exhaust valve")


def test_one_goes_back_to_the_part_shown_before_and_on_again(fits: FitsShop) -> None:
    presenter = CataloguePresenter(sit(fits.shop))
    first, second, third = (fits.parts[name] for name in ("barrel", "piston", "rod"))
    assert not presenter.back()
    for part in (first, second, third):
        assert presenter.go_to(part)
    assert not presenter.go_to(third), "it is shown already"
    assert presenter.back() and presenter.part == second
    assert presenter.back() and presenter.part == first
    assert not presenter.back()
    assert presenter.forward() and presenter.part == second
    presenter.go_to(first)
    assert not presenter.forward(), "another way was taken"


def test_the_picture_says_by_what_authority_and_for_which_engines(shop: Shop) -> None:
    newer, together, plug = (valve_like(shop, name) for name in ("Valve, new", "Valve, cut", "Plug"))
    stands_in(shop, shop.valve, newer, superseding=True, holds=Holds(serial_from="L1000"))
    stands_in(shop, shop.valve, together, plug)
    pair = stands_in(shop, newer, plug, both_ways=True)
    with shop.store.writing() as session:
        good(session, shop, newer)
    read = read_of(shop, shop.valve)
    graph = graph_of(read)
    assert graph.middle == shop.valve
    links = {link.sign: link for link in graph.links}
    assert links["supersedes"].holds == "serials from L1000"
    assert links["supersedes"].authority == WHY
    assert (links["may stand in"].counted, links["may stand in"].holds) == ("all 2 together", "every engine")
    assert links["both ways"].both_ways
    words = {node.part: node.words for node in graph.nodes}
    assert words[newer] == "1 off on shelf" and words[plug] == "none on shelf"
    assert "good both ways" in links["both ways"].detail and "Set by Ada Farrow" in links["both ways"].detail
    assert "may stand in for it today" in told_of_graph(read)
    with shop.store.writing() as session:
        entry = next(step.entry for step in read.page.graph.steps if step.stand_in == pair)
        end_stand_in(session, pair, entry, TODAY, replace(shop.by(), note=WHY))
    ended = next(link for link in graph_of(read_of(shop, shop.valve)).links if link.key == pair)
    assert ended.ended and ended.sign == "ended" and "until" in ended.holds


def test_a_part_alone_says_that_nothing_stands_in(shop: Shop) -> None:
    assert told_of_graph(read_of(shop, shop.gasket)).startswith("Nothing stands in for it")


def test_where_it_is_used_is_listed_with_what_it_may_stand_in_for(shop: Shop) -> None:
    newer = valve_like(shop, "Valve, new")
    stands_in(shop, shop.valve, newer)
    own, other = read_of(shop, shop.valve), read_of(shop, newer)
    (row,) = [use_row(use, own) for use in own.page.uses]
    assert row.cells[:6] == ("Linnet", "cylinder", "exhaust valve", "1 off", "every engine", "itself")
    (instead,) = [use_row(use, other) for use in other.page.uses]
    assert instead.cells[5] == own.page.house_number
    assert row.cells[-1].endswith("Ada Farrow")


def test_lists_that_are_here_are_filtered_and_sorted(fits: FitsShop) -> None:
    read = read_of(fits.shop, fits.parts["barrel"])
    rows = [change_row(change) for change in read.page.changes]
    page = page_of(rows, CHANGE_COLUMNS, 0, 10, Sort("entry"), "")
    numbers = [int(row.cells[1]) for row in page.rows]
    assert numbers == sorted(numbers) and len(numbers) > 1
    few = page_of(rows, CHANGE_COLUMNS, 0, 10, None, "specification")
    assert 0 < few.fitting < few.total == len(rows)
    assert page_of((), USE_COLUMNS, 0, 10, Sort("station", True), "x").rows == ()
    told = told_of_change(read.page.changes[0])
    assert told.startswith(f"Entry {read.page.changes[0].entry}, Ada Farrow")


def test_the_stock_of_a_part_is_counted_by_condition_and_listed(shop: Shop) -> None:
    with shop.store.writing() as session:
        good(session, shop, shop.valve)
        shop.book_in(session, shop.valve, pieces=2)
        good(session, shop, shop.spring, quantity=4)
    read = read_of(shop, shop.valve)
    assert told_of_stock(read) == (
        "2 off uninspected, 1 off serviceable. On the shelf and serviceable: 1 off."
    )
    page = fetch_stock(sit(shop), Job(), shop.valve, 0, 10, None, "")
    assert (len(page.rows), page.fitting, page.total) == (3, 3, 3)
    few = fetch_stock(sit(shop), Job(), shop.valve, 0, 10, Sort("tag", True), "T00002")
    assert (few.fitting, few.total) == (1, 3)
    assert fetch_stock(sit(shop), Job(), None, 0, 10, None, "").total == 0


def deeds_of(presenter: CataloguePresenter) -> CatalogueDeeds:
    return CatalogueDeeds(presenter, act=lambda _act: None, run=lambda _name, _what: None)


def test_what_may_be_done_fits_the_page_and_what_is_chosen(fits: FitsShop) -> None:
    presenter = shown(fits.shop, fits.parts["barrel"])
    deeds = deeds_of(presenter)
    assert [deed.word for deed in deeds.above(USES)][0] == "Add to a kit list …"
    assert deeds.added_on(ALTERNATES) is Act.STAND_IN and deeds.added_on(STOCK) is None
    cards = {card.key.kind: card for card in presenter.cards()}
    assert [deed.key for deed in deeds.of_page(SPEC, cards[CardKind.FIT])] == ["F4", "Del"]
    assert deeds.of_page(SPEC, cards[CardKind.LINE]) == []
    own_size = next(card for card in presenter.cards() if card.key == CardKey(CardKind.SIZE, None))
    assert deeds.of_page(SPEC, own_size) == [], "a part's own size is not withdrawn"
    read = presenter.read
    assert read is not None
    row = use_row(read.page.uses[0], read)
    assert [deed.key for deed in deeds.of_page(USES, row)] == ["F4", "Shift+F4", "Del"]
    change = change_row(read.page.changes[0])
    assert deeds.of_page(CHANGES, change)[0].word.startswith("Reverse entry")
    assert deeds.of_page(PAPERS, None) == []


def test_no_key_means_two_things_on_one_page_and_the_help_names_every_key(fits: FitsShop) -> None:
    presenter = shown(fits.shop, fits.parts["barrel"])
    deeds = deeds_of(presenter)
    everywhere = {*deeds.by_key(), *(key for _word, _short, key in PAGES.values())}
    for page in PAGES:
        keys = [deed.key for group in deeds.groups(page, None) for deed in group if deed.key]
        assert len(set(keys)) == len(keys), page
    for key in everywhere | {"Ins", "F4", "Shift+F4", "Del"}:
        assert key in HELP, key


def test_without_a_part_one_may_only_add_one_or_enter_a_mod(shop: Shop) -> None:
    deeds = deeds_of(CataloguePresenter(sit(shop)))
    assert [deed.word for group in deeds.groups(SPEC, None) for deed in group] == [
        "Add a part …",
        "Enter a mod …",
    ]
    assert deeds.may(Act.SPEC) != "" and deeds.may(Act.ADD_PART) == ""


def test_the_blank_inspection_sheet_of_a_part_is_written(fits: FitsShop, tmp_path: Path) -> None:
    presenter = shown(fits.shop, fits.parts["piston"])
    assert presenter.blank_name().startswith("inspection sheet FT")
    path = presenter.write_blank(Job(), fits.parts["piston"], tmp_path / "sheet.pdf")
    assert path.read_bytes().startswith(b"%PDF")
