"""What inspections found before: judged as then and as today, and printed, at the keyboard."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from pypdf import PdfReader

from gui.job import Job
from gui.views.bench_pages import INSPECTION
from gui.views.inspection_form import SheetForm
from gui.views.inspection_past import Past, past_of
from gui.views.inspection_presenter import InspectionPresenter
from invdb.acts.inspection_sheet import inspection_sheet
from invdb.acts.inspections_of import inspections_of
from invdb.acts.spec import NewSpec, add_spec
from invdb.terms import Condition, Refused
from tests.bench_shop import BORE, CRACKS, SOURCE, BenchShop, bores, furnished
from tests.gui.stores_shop import sit, state_of
from tests.gui.test_bench import Bench
from tests.shop import TODAY, sqlite_shop

BEFORE = TODAY - timedelta(days=20)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[BenchShop]:
    """A barrel inspected by a revision whose worn limit has been brought down since."""
    with sqlite_shop(tmp_path) as opened:
        made = furnished(opened)
        made.inspect(on=BEFORE, readings=bores("105.09", top_across="105.12"))
        narrower = replace(BORE, worn_high="105.10")
        with opened.store.writing() as session:
            revised = NewSpec(opened.barrel, "B", TODAY - timedelta(days=10), SOURCE, (narrower, CRACKS))
            add_spec(session, revised, opened.by())
        yield made


@pytest.fixture
def bench(display: str, shop: BenchShop, tmp_path: Path) -> Iterator[Bench]:
    opened = Bench(shop.shop, tmp_path)
    yield opened
    opened.close()


def past(shop: BenchShop) -> Past:
    return InspectionPresenter(sit(shop.shop)).read_past(Job(), shop.barrel)


def test_each_figure_is_judged_by_the_revision_then_and_by_the_present_one(shop: BenchShop) -> None:
    shown = past(shop)
    heading, *rows = shown.rows("")
    assert heading.cells[:2] == (BEFORE.isoformat(), "✓ serviceable, for flight")
    assert heading.cells[2:4] == ("revision A", "revision B")
    (worn,) = [row for row in rows if "105.12" in row.cells[1]]
    assert worn.cells[0].strip() == "bore top across"
    assert worn.cells[2:4] == ("◒ within worn limits", "≠ ✕ out of limits")
    assert worn.sign == "out of limits"
    assert "✕ out of limits; 0.02 mm over the upper worn limit" in shown.said_of(worn.key)
    (new,) = [row for row in shown.rows("bottom along")][1:]
    assert shown.said_of(new.key).count("within worn limits") == 2, "once of each revision"
    assert shown.told == "One inspection; 1 judged otherwise today."
    assert "bore: " in shown.said_of(heading.key) and "entry" in shown.said_of(heading.key)


def test_a_test_says_how_it_was_done_and_what_came_of_it(shop: BenchShop) -> None:
    rows = {row.cells[0].strip(): row for row in past(shop).rows("")}
    assert rows["water jacket"].cells[1:3] == ("✓ passed", "1.62 bar to 1.60 bar in 20 min, with water")
    assert rows["cracks"].cells[1:3] == ("✓ passed", "dye penetrant")


@pytest.mark.parametrize("name", ["Barrel, 0.50 mm oversize", "Barrel"])
def test_a_size_that_the_name_says_already_is_said_once(shop: BenchShop, name: str) -> None:
    size = "0.50 mm oversize"
    with shop.shop.store.reading() as session:
        (done,) = inspections_of(session, shop.barrel)
        sheet = inspection_sheet(session, shop.barrel)
    shown = past_of("T00001-T", name, [replace(done, part_name=name, size_class=size)])
    assert shown.said_of(shown.rows("")[0].key).count(size) == 1
    sheet = replace(sheet, part_name=name, size_class=size)
    form = SheetForm(sit(shop.shop), sheet, state_of(shop.shop, shop.barrel), {})
    assert form.plan().title.count(size) == 1


def test_the_filter_keeps_the_day_above_what_fits(shop: BenchShop) -> None:
    shown = past(shop)
    assert [row.cells[0].strip() for row in shown.rows("top across")] == [
        BEFORE.isoformat(),
        "bore top across",
    ]
    assert shown.rows("gudgeon") == []
    page = shown.page(0, 1, "top across")
    assert (len(page.rows), page.fitting, page.total) == (1, 2, len(shown.rows("")))


def test_what_was_found_before_is_seen_while_its_sheet_stays_as_it_was_left(
    bench: Bench, shop: BenchShop
) -> None:
    pane = bench.view.inspection
    bench.keys("<F7>", "<Control-Shift-P>")
    assert "No piece is chosen" in bench.refused[-1]
    bench.type(state_of(shop.shop, shop.barrel).tag)
    bench.press("<Return>")
    bench.until(lambda: pane.form)
    assert pane.form is not None
    bench.type("105.01")
    bench.keys("<Control-Shift-P>")
    assert pane.past.winfo_ismapped() and not pane.form.winfo_ismapped()
    assert bench.root.focus_get() is pane.past.table.tree
    bench.keys("<Down>", "<Down>")
    assert "By the present revision" in pane.past.said()
    bench.keys("<Escape>")
    assert pane.form.winfo_ismapped() and not pane.past.winfo_ismapped()
    assert [each.text for each in pane.form.editors["line0"].get().figures] == ["105.01"]
    bench.keys("<Control-Shift-P>", "<F6>", "<F7>")
    assert bench.root.focus_get() is pane.past.table.tree, "one comes back to where one was"
    bench.view.open(("inspect", shop.barrel))
    bench.settle()
    assert "not saved yet" in bench.refused[-1] and pane.form.winfo_ismapped()


def test_the_filled_sheet_is_saved_as_soon_as_the_inspection_is(bench: Bench, shop: BenchShop) -> None:
    pane = bench.view.inspection
    bench.view.open(("inspect", shop.barrel))
    bench.until(lambda: pane.form)
    assert pane.form is not None
    bench.type("105.30")
    pane.form.editors["decision"].set((Condition.UNSERVICEABLE, None))
    bench.keys("<Control-Return>")
    bench.until(lambda: pane.form is None)
    bench.until(lambda: pane.past.past is not None and len(pane.past.past.kept) == 2)
    assert bench.view.pages.shown() == INSPECTION and pane.past.winfo_ismapped()
    bench.save_as = "filled.pdf"
    bench.keys("<Control-p>")
    bench.until((bench.folder / "filled.pdf").exists)
    bench.settle()
    assert bench.offered == [f"inspection {state_of(shop.shop, shop.barrel).tag} {TODAY.isoformat()}.pdf"]
    text = " ".join(page.extract_text() for page in PdfReader(bench.folder / "filled.pdf").pages)
    assert "105.30" in text and "unserviceable" in text


def test_a_filled_sheet_is_written_as_pdf_alone(shop: BenchShop, tmp_path: Path) -> None:
    presenter = InspectionPresenter(sit(shop.shop))
    (kept,) = past(shop).kept
    with pytest.raises(Refused, match="End the name in"):
        presenter.write_filled(Job(), kept.heading.key.inspection, tmp_path / "filled.txt")
