"""The Bench's pages at the keyboard: an inspection from tag to saved, fits by cylinder, and what is out."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from gui.shown import Hit
from gui.views.bench_pages import FITS, INSPECTION, INSTRUMENTS, KIT, PAGES, WORK
from gui.views.bench_presenter import HELP
from gui.widgets.empty_note import EmptyNote
from invdb.acts.inspections_of import inspections_of
from invdb.acts.instrument import NewInstrument, add_instrument
from invdb.acts.work import ToSend, WorkSent, send_for_work
from invdb.terms import Condition, Scope, WorkWanted
from tests.bench_shop import BenchShop, furnished
from tests.fits_shop import FitsShop, furnish_fits
from tests.gui.stores_shop import state_of
from tests.gui.test_bench import Bench
from tests.shop import TODAY, Shop, sqlite_shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


@pytest.fixture
def furnished_shop(shop: Shop) -> BenchShop:
    """A barrel waiting for inspection, its specification, and a bore gauge."""
    return furnished(shop)


@pytest.fixture
def bench(display: str, furnished_shop: BenchShop, tmp_path: Path) -> Iterator[Bench]:
    opened = Bench(furnished_shop.shop, tmp_path)
    yield opened
    opened.close()


def tag_of(furnished_shop: BenchShop) -> str:
    return state_of(furnished_shop.shop, furnished_shop.barrel).tag


def sheet(bench: Bench) -> Any:
    form = bench.view.inspection.form
    assert form is not None, "no sheet is open"
    return form


def scan(bench: Bench, tag: str) -> None:
    """Scan a tag on the inspection page."""
    bench.keys("<F7>")
    bench.type(tag)
    bench.press("<Return>")
    bench.until(lambda: bench.view.inspection.form)
    bench.settle()


def tabs(bench: Bench) -> dict[str, str]:
    book = bench.view.pages._book
    return {name: str(book.tab(at, "text")) for at, name in enumerate(PAGES)}


def test_every_page_has_its_key_and_the_help_names_it(bench: Bench) -> None:
    for name, (_word, key) in PAGES.items():
        assert f"{key}  " in HELP
        bench.keys(f"<{key}>")
        assert bench.view.pages.shown() == name


def test_the_key_of_the_page_in_front_takes_one_back_into_it(bench: Bench) -> None:
    view = bench.view
    bench.keys("<F8>")
    view.engine_pane.picture.focus_set()
    bench.keys("<F8>")
    assert bench.root.focus_get() is view.fits.chart.canvas
    bench.keys("<F7>")
    view.waiting.table.focus_rows()
    bench.keys("<F7>")
    assert bench.root.focus_get() is view.inspection.find.entry


def test_the_engine_stands_beside_kits_and_fits_and_what_waits_beside_the_others(bench: Bench) -> None:
    pages = (("<F7>", True), ("<F8>", False), ("<F9>", True), ("<F6>", False), ("<F11>", True))
    for key, waiting in pages:
        bench.keys(key)
        assert bool(bench.view.waiting.winfo_ismapped()) is waiting, key
        assert bool(bench.view.engine_pane.winfo_ismapped()) is not waiting, key


def test_an_instrument_that_is_out_of_calibration_is_told_on_its_tab_and_put_right(
    bench: Bench, shop: Shop
) -> None:
    with shop.store.writing() as session:
        old, until = TODAY - timedelta(days=400), TODAY - timedelta(days=1)
        add_instrument(session, NewInstrument("W-09", "scales", old, until), shop.by(old))
    bench.keys("<F11>")
    bench.until(lambda: tabs(bench)[INSTRUMENTS] == "Instruments  F11  ! 1 out")
    page = bench.view.instruments
    page.table.choose(1)
    bench.settle()
    assert page.said().startswith("W-09 scales: out of calibration")
    bench.press("<Return>")
    assert page.form is not None and bench.view.unsaved() == ""
    bench.keys("<Control-Return>")
    bench.until(lambda: tabs(bench)[INSTRUMENTS] == "Instruments  F11")
    assert bench.posted == 1


def test_an_inspection_goes_from_the_tag_to_the_decision_by_keys_alone(
    bench: Bench, furnished_shop: BenchShop
) -> None:
    scan(bench, tag_of(furnished_shop))
    bore = sheet(bench).editors["line0"]
    assert bench.root.focus_get() is bore.boxes[0, "top", "along"]
    for figure in ("105.01", "105.02", "4.134 in", "105.01"):
        bench.type(figure)
        bench.press("<Return>")
    assert bench.root.focus_get() is bore.instrument.box
    bench.type("m")
    bench.press("<Return>")
    assert bench.root.focus_get() is sheet(bench).editors["line1"].boxes[0, "", ""]
    bench.type("9800")
    bench.press("<Return>")
    bench.type("m")
    bench.press("<Return>")
    water = sheet(bench).editors["line2"]
    assert bench.root.focus_get() is water.entries["start"]
    bench.type("1.62")
    bench.press("<Tab>", "<Tab>")
    bench.type("20 min")
    bench.press("<Return>")
    bench.type("1.60")
    cracks = sheet(bench).editors["line3"]
    cracks.focus_field()
    bench.type("d")
    cracks.choices["passed"].focus_field()
    bench.type("p")
    assert sheet(bench).editors["proposed"].words.cget("text").startswith("✓ serviceable")
    sheet(bench).editors["decision"].focus_field()
    bench.type("s")
    for tick in sheet(bench).editors["checks"]._ticks.values():
        tick.focus_set()
        bench.press("<space>")
    bench.keys("<Control-Return>")
    bench.until(lambda: bench.view.inspection.form is None)
    state = state_of(furnished_shop.shop, furnished_shop.barrel)
    assert (state.condition, state.scope) == (Condition.SERVICEABLE, Scope.FLIGHT)
    assert bench.said[-1].endswith("is inspected: serviceable for flight.")
    assert bench.posted == 1
    bench.settle()
    assert bench.root.focus_get() is bench.view.inspection.find.entry, "on to the next one"
    assert not bench.view.waiting.table.tree.get_children()
    with furnished_shop.shop.store.reading() as session:
        (done,) = inspections_of(session, furnished_shop.barrel)
    assert done.lines[0].readings[2].figure == "4.134"
    assert done.lines[0].readings[0].instrument.startswith("M-03")


def test_what_waits_is_opened_from_the_list(bench: Bench) -> None:
    bench.keys("<F7>")
    bench.view.waiting.table.focus_rows()
    bench.settle()
    bench.keys("<Return>")
    assert "Cylinder barrel" in all_text(sheet(bench))


def test_a_slip_is_a_question_that_one_answers(bench: Bench, furnished_shop: BenchShop) -> None:
    scan(bench, tag_of(furnished_shop))
    bench.type("1050.1")
    assert "ten times too big" in sheet(bench).editors["line0"].verdict.cget("text")
    sheet(bench).editors["decision"].focus_field()
    bench.type("unse")
    assert sheet(bench).editors["decision"].get() == (Condition.UNSERVICEABLE, None)
    bench.keys("<Control-Return>")
    assert "ten times too big" in sheet(bench).foot.words()
    assert state_of(furnished_shop.shop, furnished_shop.barrel).condition is Condition.UNINSPECTED
    surely = next(
        each
        for each in sheet(bench).foot.winfo_children()
        if each.winfo_ismapped() and str(each.cget("text")) == "It is so"
    )
    surely.invoke()
    bench.until(lambda: bench.view.inspection.form is None)
    assert state_of(furnished_shop.shop, furnished_shop.barrel).condition is Condition.UNSERVICEABLE


def test_a_figure_that_is_none_keeps_the_sheet_from_being_saved(
    bench: Bench, furnished_shop: BenchShop
) -> None:
    scan(bench, tag_of(furnished_shop))
    bench.type("105.0.1")
    sheet(bench).editors["decision"].set((Condition.UNINSPECTED, None))
    bench.keys("<Control-Return>")
    assert "105.0.1" in sheet(bench).message_of("line0")
    assert bench.posted == 0


def test_an_unsaved_sheet_is_not_lost_without_a_word(bench: Bench, furnished_shop: BenchShop) -> None:
    scan(bench, tag_of(furnished_shop))
    assert bench.view.unsaved() == ""
    bench.type("105.01")
    assert "Inspect" in bench.view.unsaved()
    bench.view.open(("inspect", furnished_shop.barrel))
    bench.settle()
    assert "not saved yet" in bench.refused[-1]
    assert sheet(bench).editors["line0"].get().figures
    bench.keys("<F6>", "<F7>")
    assert sheet(bench).editors["line0"].get().figures, "another page takes nothing away"
    bench.press("<Escape>")
    assert sheet(bench).foot.words() == "Leave, and lose what was filled in?"


def test_the_count_goes_on_while_one_is_elsewhere_and_is_told_of(
    bench: Bench, furnished_shop: BenchShop
) -> None:
    scan(bench, tag_of(furnished_shop))
    count = sheet(bench).editors["line2"].count_down
    now = [0.0]
    count._clock = partial(now.__getitem__, 0)
    count.button.invoke()
    bench.keys("<F6>")
    now[0] = 300.0
    bench.until(lambda: "15:00" in tabs(bench)[INSPECTION])
    now[0] = 1200.0
    bench.until(lambda: any("The time is up" in said for said in bench.said))
    assert tag_of(furnished_shop) in bench.said[-1]
    assert "◷" not in tabs(bench)[INSPECTION]
    assert sheet(bench).editors["line2"].entries["held"].get() == "20 min"


def test_the_blank_sheet_is_saved_by_a_key_once_a_piece_is_chosen(
    bench: Bench, furnished_shop: BenchShop
) -> None:
    bench.keys("<F7>", "<Control-p>")
    assert "No piece is chosen" in bench.refused[-1]
    bench.save_as = "blank.pdf"
    scan(bench, tag_of(furnished_shop))
    bench.keys("<Control-p>")
    bench.until((bench.folder / "blank.pdf").exists)
    assert bench.offered == [f"inspection sheet {tag_of(furnished_shop)}.pdf"]


def test_a_day_to_come_is_refused(bench: Bench, furnished_shop: BenchShop) -> None:
    bench.keys("<F7>")
    bench.view.inspection.day.set(TODAY + timedelta(days=2))
    bench.view.open(("inspect", furnished_shop.barrel))
    bench.settle()
    assert "in the future" in bench.refused[-1]
    assert bench.view.inspection.form is None


def send_out(furnished_shop: BenchShop, *, due: int) -> None:
    shop = furnished_shop.shop
    sent = WorkSent(
        shop.works,
        WorkWanted.PLATING,
        "plate it back",
        (ToSend(furnished_shop.barrel),),
        TODAY + timedelta(days=due),
    )
    with shop.store.writing() as session:
        send_for_work(session, sent, shop.by(TODAY - timedelta(days=20)))


def test_what_is_overdue_is_counted_on_its_tab_and_booked_back(
    bench: Bench, furnished_shop: BenchShop
) -> None:
    bench.keys("<F9>")
    assert notes(bench.view.work) == ["Nothing is out for work."]
    send_out(furnished_shop, due=-5)
    bench.view.on_refresh()
    bench.settle()
    assert "1 overdue" in tabs(bench)[WORK]
    assert not bench.view.waiting.table.tree.get_children(), "what is out waits for nothing here"
    tree = bench.view.work.table.tree
    (row,) = [tree.item(item, "values") for item in tree.get_children()]
    assert row[1] == "! overdue by 5 days"
    bench.keys("<Control-b>")
    assert bench.refused == ["Nothing is chosen. Choose what has come back."]
    bench.keys("<Down>")
    assert bench.view.work.said().startswith(
        f"{tag_of(furnished_shop)} BA0001-A Cylinder barrel: plate it back"
    )
    assert "for plating at Brackwater" in bench.view.work.said()
    assert bench.view.work.said().endswith("; ! overdue by 5 days.")
    bench.keys("<Control-b>")
    form = bench.view.work.form
    assert form is not None, bench.refused
    bench.type("BP 81 plated and ground")
    bench.keys("<Control-Return>")
    assert form.message_of("to_place") == "✕ “Goes to” is still empty."
    assert "Back from work" in bench.view.unsaved()
    form.editors["to_place"].set(Hit("Bench", "", "place", furnished_shop.shop.bench))
    bench.keys("<Control-Return>")
    bench.until(lambda: bench.view.work.form is None)
    bench.settle()
    assert "overdue" not in tabs(bench)[WORK]
    assert len(bench.view.waiting.table.tree.get_children()) == 1, "it waits for inspection now"


def notes(parent: Any) -> list[str]:
    """What the empty notes within a widget say first."""
    found = []
    for part in parent.winfo_children():
        if isinstance(part, EmptyNote) and part.winfo_ismapped():
            found.append(str(part.winfo_children()[0].cget("text")))
        found += notes(part)
    return found


def all_text(part: Any) -> str:
    """All the words in a widget and within it."""
    own = str(part.cget("text")) if "text" in set(part.keys()) else ""
    return " ".join([own, *(all_text(inside) for inside in part.winfo_children())])


@pytest.fixture
def fits(shop: Shop) -> FitsShop:
    return furnish_fits(shop)


def test_the_fits_of_an_engine_are_shown_as_proposed_for_all_of_it(
    display: str, fits: FitsShop, tmp_path: Path
) -> None:
    with fits.shop.store.writing() as session:
        for bore, skirt in (("100.01", "99.71"), ("100.03", "99.73")):
            fits.measured(session, "barrel", bore=bore, float_gap="1.20")
            fits.measured(session, "piston", skirt=skirt, mass="520")
            fits.measured(session, "rod", small_end_mass="330")
    bench = Bench(fits.shop, tmp_path)
    try:
        bench.view.open(("engine", fits.engine))
        bench.settle()
        bench.keys("<F8>")
        assert notes(bench.view.pages.page(FITS))[0].startswith("Nothing that is fitted")
        bench.keys("<Control-t>")
        bench.until(lambda: bench.view.fits.chart._strips)
        strips = {strip.name: strip for strip in bench.view.fits.chart._strips}
        assert "reciprocating masses" in strips
        row = strips["piston in barrel"]
        assert [point.figure for point in row.points] == ["0.300", "0.300"]
        bench.keys("<Control-g>")
        assert bench.view.pages.shown() == KIT
        assert bench.sheet.title() == "Dabchick Seven: 2 kits proposed together"
        assert bench.root.focus_get() is bench.sheet.table.tree
        bench.keys("<F8>", "<Right>", "<Return>")
        assert bench.view.pages.shown() == KIT
        assert bench.root.focus_get() is bench.sheet.table.tree
        assert bench.sheet.title().endswith("cylinder 2") or "2" in bench.sheet.title()
    finally:
        bench.close()
