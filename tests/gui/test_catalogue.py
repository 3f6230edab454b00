"""At the Catalogue view: the list of parts, a part page by page, the picture one follows, and the acts."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from gui.shown import Hit
from gui.views.catalogue_acts import ALTERNATES, CHANGES, PAPERS, SPEC, STOCK, USES, Act
from gui.views.part_cards import CardKey, CardKind
from gui.views.stores_presenter import ReverseEntry
from gui.widgets.graph_shape import LINK, PART
from invdb.acts.papers import NewPaper
from invdb.acts.part_papers import add_part_papers
from invdb.terms import PaperKind, Tracking
from tests.fits_shop import FitsShop, furnish_fits
from tests.gui.catalogue_shop import WHY, CatalogueDesk, read_of, stands_in, valve_like
from tests.kit_shop import good
from tests.shop import Shop, sqlite_shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


@pytest.fixture
def fits(shop: Shop) -> FitsShop:
    return furnish_fits(shop)


@pytest.fixture
def desk(display: str, fits: FitsShop, tmp_path: Path) -> Iterator[CatalogueDesk]:
    opened = CatalogueDesk(fits, tmp_path)
    yield opened
    opened.close()


def test_the_first_part_of_the_list_is_shown_with_what_it_must_measure(desk: CatalogueDesk) -> None:
    assert desk.rows()[0][1] == "Cylinder barrel"
    assert desk.view.table.bar.counted() == "9 parts"
    desk.show(desk.fits.parts["barrel"])
    said = desk.texts(desk.view.pages.spec.cards.canvas)
    for words in ("Dimensions", "bore", "100.00 to 100.03 mm", "3.93701 to 3.93819 in", "worn"):
        assert words in said
    assert "Put in by Ada Farrow" in desk.view.pages.spec.told()


def test_typing_filters_the_list_and_enter_goes_on_to_the_page(desk: CatalogueDesk) -> None:
    desk.view.table.focus_rows()
    desk.root.update()
    desk.type("exhaust")
    desk.until(lambda: [row[1] for row in desk.rows()] == ["Exhaust valve"])
    assert desk.view.table.bar.counted() == "1 of 9 parts"
    desk.press("<Return>")
    desk.press("<Down>", "<Return>")
    desk.until(lambda: desk.read is not None and desk.read.page.name == "Exhaust valve")
    desk.until(lambda: desk.root.focus_get() is desk.view.pages.spec.cards.canvas)
    desk.press("<Escape>")
    assert desk.root.focus_get() is desk.view.table.tree


def test_the_ticks_and_the_family_keep_the_list_to_some_parts(desk: CatalogueDesk) -> None:
    desk.view.filters.tick("life_limited")
    desk.until(lambda: [row[1] for row in desk.rows()] == ["Exhaust valve"])
    desk.view.filters.tick("life_limited")
    desk.view.filters.tick("without_spec")
    desk.until(lambda: desk.view.table.count()[0] == 5)
    desk.view.filters.tick("without_spec")
    family = desk.view.filters.family
    family.set(next(choice.key for choice in family._choices if "Fitted parts" in choice.word))
    family.on_change()
    desk.until(lambda: desk.view.table.count()[0] == 4)
    desk.view.filters.tick("on_hold")
    desk.until(lambda: desk.view.table.count() == (0, 9))


def test_a_part_that_is_found_is_shown_and_chosen_in_the_list(desk: CatalogueDesk) -> None:
    desk.show(desk.fits.parts["rod"])
    desk.until(lambda: [row.key for row in desk.view.table.chosen()] == [desk.fits.parts["rod"]])
    assert desk.root.focus_get() is desk.view.pages.spec.cards.canvas
    desk.view.filters.tick("life_limited")
    desk.settle()
    desk.show(desk.fits.parts["piston"])
    desk.until(lambda: not desk.view.table.chosen())
    assert desk.read is not None and desk.read.page.name == "Piston"


def test_the_pages_are_turned_by_their_keys(desk: CatalogueDesk) -> None:
    desk.show(desk.fits.parts["barrel"])
    for key, page in (("F7", USES), ("F8", STOCK), ("F9", ALTERNATES), ("F11", PAPERS), ("F12", CHANGES),
                      ("F6", SPEC)):  # fmt: skip
        desk.press(f"<{key}>")
        desk.settle()
        assert desk.view.pages.page() == page


def test_where_it_is_used_tells_the_chosen_line_whole_and_who_set_it(desk: CatalogueDesk) -> None:
    desk.show(desk.fits.parts["barrel"])
    desk.press("<F7>")
    desk.until(lambda: desk.view.pages.uses.chosen() is not None)
    assert desk.rows(desk.view.pages.uses.table)[0][:4] == ("Dabchick", "cylinder", "barrel", "1 off")
    told = desk.view.pages.uses.told()
    assert told.startswith("Dabchick, cylinder: 1 off at the barrel, for every engine. Set by Ada Farrow")


def test_a_kit_line_is_corrected_by_key_and_the_page_follows(desk: CatalogueDesk) -> None:
    desk.show(desk.fits.parts["barrel"])
    desk.press("<F7>")
    desk.until(lambda: desk.view.pages.uses.chosen() is not None)
    form = desk.open_form("<F4>")
    assert "Set last by Ada Farrow" in form.said()
    desk.fill_in(quantity="2", reason=WHY)
    desk.save(lambda: desk.rows(desk.view.pages.uses.table)[0][3] == "2 off")
    desk.until(lambda: desk.form is None)
    assert desk.root.focus_get() is desk.view.pages.uses.table.tree


def test_a_form_without_a_reason_is_not_saved_and_says_so_beneath(desk: CatalogueDesk) -> None:
    desk.show(desk.fits.parts["barrel"])
    desk.press("<F7>")
    desk.until(lambda: desk.view.pages.uses.chosen() is not None)
    form = desk.open_form("<Delete>")
    form.save()
    assert "is still empty" in form.message_of("reason")
    desk.press("<Escape>")
    assert desk.form is None


def test_what_there_is_of_it_is_listed_and_opens_in_the_stores(desk: CatalogueDesk, shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = good(session, shop, shop.valve)
    desk.show(shop.valve)
    desk.press("<F8>")
    desk.until(lambda: desk.view.pages.stock.chosen() is not None)
    assert desk.rows(desk.view.pages.stock.table)[0][1] == "✓ serviceable"
    desk.press("<Return>")
    desk.press("<Control-Shift-Key-I>", "<Alt-Key-s>")
    assert [view for view, _ref in desk.gone_to] == ["stores", "bench", "stores"]
    assert [ref[1] for _view, ref in desk.gone_to] == [thing.piece, thing, shop.valve]


def test_one_follows_the_picture_from_part_to_part_and_comes_back(desk: CatalogueDesk, shop: Shop) -> None:
    newer = valve_like(shop, "Exhaust valve, new")
    newest = valve_like(shop, "Exhaust valve, newest")
    stands_in(shop, shop.valve, newer, superseding=True)
    stands_in(shop, newer, newest)
    desk.show(shop.valve)
    desk.press("<F9>")
    graph = desk.view.pages.alternates.graph
    assert desk.root.focus_get() is graph.canvas
    assert "◀ supersedes" in desk.texts(graph.canvas)
    desk.press("<Right>")
    assert graph.chosen() is not None and graph.chosen()[0] == LINK  # type: ignore[index]
    assert f"By {WHY}; for every engine" in desk.view.pages.alternates.told()
    desk.press("<Right>", "<Return>")
    desk.until(lambda: desk.read is not None and desk.read.page.part == newer)
    desk.settle()
    assert graph.chosen() == (PART, newer)
    desk.until(lambda: [row.key for row in desk.view.table.chosen()] == [newer])
    desk.press("<Alt-Left>")
    desk.until(lambda: desk.read is not None and desk.read.page.part == shop.valve)
    desk.press("<Alt-Right>")
    desk.until(lambda: desk.read is not None and desk.read.page.part == newer)
    desk.settle()
    desk.press("<Alt-Right>")
    assert desk.said[-1] == "You have not gone back from another part."


def test_a_stand_in_is_added_and_ended_from_the_picture_and_a_ring_is_refused(
    desk: CatalogueDesk, shop: Shop
) -> None:
    newer = valve_like(shop, "Exhaust valve, new")
    stand_in = stands_in(shop, shop.valve, newer)
    desk.show(newer)
    desk.press("<F9>")
    form = desk.open_form("<Insert>")
    row = form.editors["members"].row(0)
    row["part"].set(_hit(desk, shop.valve))
    row["part"].on_change()
    desk.fill_in(authority="Leaflet 9", reason=WHY)
    form.save()
    desk.until(lambda: "ring of one-way steps" in form.foot.words())
    assert desk.posted == 0
    desk.press("<Escape>")
    form.leave_anyway()
    desk.view.pages.alternates.graph.choose((LINK, stand_in))
    desk.view.pages.alternates.focus_page()
    desk.root.update()
    desk.open_form("<Delete>")
    desk.fill_in(reason=WHY)
    desk.save(lambda: "⊣ ended" in desk.texts(desk.view.pages.alternates.graph.canvas))


def _hit(desk: CatalogueDesk, part: int) -> Hit:
    page = read_of(desk.shop, part).page
    return Hit(page.house_number, page.name, "part", part)


def test_a_photograph_of_the_part_is_shown_beneath_its_documents(desk: CatalogueDesk, shop: Shop) -> None:
    written = BytesIO()
    Image.new("RGB", (900, 600), "#0072b2").save(written, "PNG")
    papers = (
        NewPaper(PaperKind.PHOTOGRAPH, "Stem", content=written.getvalue(), file_name="stem.png"),
        NewPaper(PaperKind.PHOTOGRAPH, "Torn", content=b"no picture", file_name="torn.png"),
        NewPaper(PaperKind.DRAWING, "PD 2335"),
    )
    with shop.store.writing() as session:
        add_part_papers(session, shop.valve, papers, shop.by())
    desk.show(shop.valve)
    desk.press("<F11>")
    page = desk.view.pages.papers
    desk.until(page.picture.winfo_ismapped)
    desk.until(lambda: page.picture.cget("image"))
    desk.press("<Down>")
    desk.until(lambda: "no picture" in str(page.picture.cget("text")))
    desk.press("<Down>")
    desk.until(lambda: not page.picture.winfo_ismapped())
    assert page.list.told() == "Its content is not kept here."
    desk.press("<Home>", "<Return>")
    desk.save_as = "copy.png"
    desk.until(lambda: (desk.folder / "copy.png").exists() or desk.offered)
    assert desk.offered == ["stem.png"]


def test_what_was_changed_is_listed_with_its_reason_and_leads_to_its_reversal(desk: CatalogueDesk) -> None:
    desk.show(desk.fits.parts["barrel"])
    desk.open_form("<Control-Key-u>")
    desk.fill_in(note="Chromium plated ones have a suffix", reason="Order 17")
    desk.save()
    desk.until(lambda: desk.form is None)
    desk.press("<F12>")
    desk.until(lambda: "Order 17" in str(desk.rows(desk.view.pages.changes.table)))
    desk.view.pages.changes.table.choose(0)
    assert "note none → Chromium plated ones have a suffix" in desk.view.pages.changes.told()
    desk.press("<Delete>")
    ((view, ref),) = desk.gone_to
    assert view == "stores" and isinstance(ref, ReverseEntry)


def test_a_part_is_added_from_the_list_and_shown(desk: CatalogueDesk) -> None:
    desk.view.table.focus_rows()
    desk.root.update()
    desk.open_form("<Control-Key-n>")
    desk.fill_in(family=1, name="Valve guide", tracking=Tracking.PIECE)
    desk.save()
    desk.until(lambda: desk.read is not None and desk.read.page.name == "Valve guide")
    assert desk.view.table.count()[1] == 10


def test_a_revision_is_put_in_from_the_form_of_the_one_in_force(desk: CatalogueDesk) -> None:
    desk.show(desk.fits.parts["rod"])
    form = desk.open_form("<Control-Key-j>")
    desk.until(form.editors["lines"].complete)
    desk.fill_in(revision="B", source="Sheet 9", reason=WHY)
    cell = form.editors["lines"].row(0).cells["new_high"]
    cell.set("370")
    cell.on_change()
    desk.save(lambda: "300 to 370 g" in desk.texts(desk.view.pages.spec.cards.canvas))
    assert "in force since" in desk.view.pages.spec.revision.raw()
    desk.view.pages.spec.revision.set(desk.view.presenter.read.page.specs[1].id)  # type: ignore[union-attr]
    desk.view.pages.spec.revision.on_change()
    desk.root.update()
    assert "300 to 360 g" in desk.texts(desk.view.pages.spec.cards.canvas)


def test_a_comma_in_a_revision_is_asked_about_at_the_foot_and_can_be_so(desk: CatalogueDesk) -> None:
    desk.show(desk.fits.parts["rod"])
    form = desk.open_form("<Control-Key-j>")
    desk.until(form.editors["lines"].complete)
    desk.fill_in(revision="B", source="Sheet 9", reason=WHY)
    cell = form.editors["lines"].row(0).cells["new_high"]
    cell.set("370,5")
    cell.on_change()
    form.save()
    desk.until(lambda: "has a comma" in form.foot.words())
    assert desk.posted == 0
    form.save_surely()
    desk.until(lambda: "300 to 370.5 g" in desk.texts(desk.view.pages.spec.cards.canvas))


def test_a_set_of_masses_is_put_in_by_key_stands_on_its_card_and_is_withdrawn(desk: CatalogueDesk) -> None:
    desk.show(desk.fits.parts["rod"])
    form = desk.open_form("<Alt-Key-b>")
    assert form.editors["masses 0"].get() == ({"station": "rod", "mass": "small end mass"},)
    desk.fill_in(name="small ends", spread="4", source="Sheet 4", reason=WHY)
    assert form.said() == "At most 4 g (0.1411 oz) from the lightest to the heaviest."
    canvas = desk.view.pages.spec.cards.canvas
    desk.save(lambda: "small ends (Dabchick, cylinder)" in desk.texts(canvas))
    assert "Masses that must agree" in desk.texts(canvas)
    made = desk.read.balances[1].balance if desk.read is not None else None
    assert made is not None and made.name == "small ends"
    desk.view.pages.spec.cards.choose(CardKey(CardKind.BALANCE, made.id))
    desk.press("<Delete>")
    desk.until(lambda: desk.form is not None)
    desk.fill_in(because="Superseded")
    desk.save(lambda: desk.read is not None and len(desk.read.balances) == 1)


def test_what_is_chosen_on_a_card_is_withdrawn_by_key(desk: CatalogueDesk) -> None:
    read = desk.show(desk.fits.parts["piston"])
    size = read.page.sizes[1]
    desk.view.pages.spec.cards.choose(CardKey(CardKind.SIZE, size.id))
    desk.press("<Delete>")
    desk.until(lambda: desk.form is not None)
    desk.fill_in(because="None left")
    desk.save(lambda: len(desk.read.page.sizes) == 1 if desk.read is not None else False)


def test_a_form_that_would_lose_something_stays_when_another_part_is_chosen(desk: CatalogueDesk) -> None:
    desk.show(desk.fits.parts["barrel"])
    form = desk.open_form("<Alt-Key-o>")
    desk.fill_in(number="D4/1102")
    assert "Another number" in desk.view.unsaved()
    desk.view.show_part(desk.fits.parts["rod"])
    assert desk.form is form and "not saved yet" in desk.refused[-1]
    desk.view.act(Act.HAZARD)
    assert desk.form is form


def test_what_can_not_be_done_is_said(desk: CatalogueDesk, shop: Shop) -> None:
    desk.show(shop.barrel)
    desk.press("<Alt-Key-f>")
    desk.until(lambda: desk.refused)
    assert "No kit list asks for" in desk.refused[-1]
    desk.press("<Alt-Key-w>")
    desk.until(lambda: "No specification is shown" in desk.refused[-1])


def test_the_blank_sheet_is_saved_under_the_name_that_is_given(desk: CatalogueDesk) -> None:
    desk.show(desk.fits.parts["piston"])
    desk.press("<Control-Key-p>")
    desk.until(lambda: desk.said and desk.said[-1].startswith("Saved "))
    assert desk.offered[0].startswith("inspection sheet FT")
    assert (desk.folder / "sheet.pdf").read_bytes().startswith(b"%PDF")


def test_a_part_without_a_specification_says_what_would_stand_there(desk: CatalogueDesk, shop: Shop) -> None:
    desk.show(shop.barrel)
    words = " ".join(_labels(desk.root))
    assert "What the part must measure stands here" in words
    assert "No specification of it is in the store." in words
    desk.press("<F11>")
    desk.settle()
    assert "Its drawings, published data and photographs stand here." in " ".join(_labels(desk.root))


def _labels(widget: tk.Misc) -> list[str]:
    found = []
    for part in widget.winfo_children():
        if part.winfo_class() == "TLabel":
            found.append(str(part.cget("text")))
        found += _labels(part)
    return found


@pytest.mark.parametrize(("dark", "size"), [(True, "1800x940"), (False, "900x560")])
def test_it_stands_dark_and_light_wide_and_narrow(
    display: str, fits: FitsShop, tmp_path: Path, dark: bool, size: str
) -> None:
    desk = CatalogueDesk(fits, tmp_path, dark=dark, size=size)
    desk.show(fits.parts["barrel"])
    for key in ("F7", "F8", "F9", "F11", "F12"):
        desk.press(f"<{key}>")
        desk.settle()
    desk.close()
