"""At the Bench: from an engine's picture to a kit reserved, printed, handed over and taken back."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from gui.job import Job
from gui.prefs import Prefs
from gui.sitting import Sitting
from gui.view import Context
from gui.views.bench import BenchView
from invdb.acts import shop as shops
from invdb.acts.pull import issue
from invdb.terms import Layout, Scope
from tests.engine_shop import begin
from tests.gui.desk import Desk
from tests.kit_shop import good, reserved, standing_in, state_of, stock
from tests.shop import Shop, sqlite_shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


class Bench(Desk):
    """A window with the Bench alone in it, the inspector at work."""

    def __init__(self, shop: Shop, folder: Path, *, dark: bool = False, size: str = "1180x680") -> None:
        super().__init__(dark=dark, size=size)
        self.said: list[str] = []
        self.refused: list[str] = []
        self.told: list[str] = []
        self.posted = 0
        self.folder = folder
        self.save_as = "kit.pdf"
        self.offered: list[str] = []
        sitting = Sitting(shop.store, shop.inspector, "Ada Farrow")
        sitting.posted = self._posted
        self.background.on_failure = self.refused.append
        self.view = BenchView(sitting, ask_where=self._where)
        context = Context(
            theme=self.theme,
            background=self.background,
            prefs=Prefs(folder / "window.json"),
            say=self.said.append,
            refuse=self.refused.append,
            posted=lambda *_told: None,
            progress=lambda text, _fraction: self.told.append(text),
            go_to=lambda *_where: None,
        )
        self.view.build(self.root, context).pack(fill="both", expand=True)
        self.root.update()
        self.view.on_show()
        self.settle()

    @property
    def picture(self) -> Any:
        return self.view.engine_pane.picture

    @property
    def sheet(self) -> Any:
        return self.view.kit.sheet

    @property
    def form(self) -> Any:
        return self.view.kit.form

    def rows(self) -> list[tuple[str, ...]]:
        """The rows of the sheet that can be seen."""
        tree = self.sheet.table.tree
        return [tuple(str(cell) for cell in tree.item(item, "values")) for item in tree.get_children()]

    def pulls(self) -> list[tuple[str, ...]]:
        """The rows of the list of open pulls."""
        tree = self.view.engine_pane.pulls.tree
        return [tuple(str(cell) for cell in tree.item(item, "values")) for item in tree.get_children()]

    def click_cylinder(self, name: str, *, control: bool = False) -> None:
        names = [each.name for each in self.view.presenter.cylinders()]
        left, top, right, bottom = self.picture.bbox(f"cylinder{names.index(name)}")
        x, y = (left + right) // 2, (top + bottom) // 2
        held = {"state": 0x4} if control else {}
        self.picture.event_generate("<ButtonPress-1>", x=x, y=y, **held)
        self.picture.event_generate("<ButtonRelease-1>", x=x, y=y, **held)
        self.settle()

    def keys(self, *keys: str) -> None:
        """Press keys, and let what they ask for arrive."""
        for key in keys:
            self.press(key)
            self.settle()

    def where_it_is(self) -> str:
        """What the picture says, all of it."""
        items = self.picture.find_all()
        return " ".join(
            self.picture.itemcget(item, "text") for item in items if self.picture.type(item) == "text"
        )

    def _where(self, _parent: tk.Misc, _title: str, name: str) -> str:
        self.offered.append(name)
        return str(self.folder / self.save_as) if self.save_as else ""

    def _posted(self) -> None:
        self.posted += 1


@pytest.fixture
def bench(display: str, shop: Shop, tmp_path: Path) -> Iterator[Bench]:
    """One valve on the shelf, and springs and gaskets for all seven cylinders."""
    stock(shop, valves=1, springs=14, gaskets=7)
    opened = Bench(shop, tmp_path)
    yield opened
    opened.close()


def test_enter_goes_from_the_chosen_engine_on_to_its_picture(bench: Bench) -> None:
    bench.view.engine_pane.chooser.engines.box.focus_force()
    bench.keys("<Return>")
    assert bench.root.focus_get() is bench.picture


def test_the_picture_says_of_each_cylinder_how_complete_its_kit_could_be(bench: Bench) -> None:
    assert bench.where_it_is().count("3/3") == 7
    assert "✓ complete" in bench.where_it_is()
    # A busy machine polls past some of the steps, so which of them were told is left open.
    assert any(told.startswith("Kits of Linnet One: ") for told in bench.told)
    assert bench.told[-1] == "", "the progress is put away when it is over"
    bench.keys("<Control-t>")
    assert bench.where_it_is().count("2/3") == 6 and "short" in bench.where_it_is()
    assert bench.view.engine_pane.at_once.instate(["selected"])


def test_one_cylinders_kit_by_keys_alone_from_choosing_to_handing_over(
    bench: Bench, shop: Shop, tmp_path: Path
) -> None:
    bench.keys("5", "<Return>")
    assert bench.sheet.title() == "Linnet One, cylinder 5"
    assert [row[0] for row in bench.rows()] == ["exhaust valve", "exhaust springs", "head joint"]
    bench.keys("<Control-r>")
    assert bench.posted == 1
    number = bench.pulls()[0][0]
    assert bench.sheet.title() == f"Pull {number}: Linnet One, cylinder 5"
    assert "⚑" in bench.where_it_is()
    bench.keys("<Control-p>")
    assert bench.offered == [f"pick list {number}.pdf"]
    assert (tmp_path / "kit.pdf").read_bytes().startswith(b"%PDF")
    assert bench.said == [f"Saved {tmp_path / 'kit.pdf'}."]
    bench.keys("<Control-i>")
    assert [row[-1] for row in bench.rows()] == ["▶ issued"] * 3
    assert bench.pulls()[0][2] == "▶ issued"
    assert bench.refused == []


def test_a_click_shows_the_kit_and_its_row_in_full(bench: Bench, shop: Shop) -> None:
    bench.click_cylinder("3")
    assert bench.sheet.title() == "Linnet One, cylinder 3"
    assert bench.picture.find_withtag("ticked")
    bench.sheet.table.focus_rows()
    bench.root.update()
    bench.keys("<Down>")
    assert "Valve spring" in bench.sheet.said()
    bench.keys("<Escape>")
    assert bench.root.focus_get() is bench.picture


def test_what_is_short_says_so_with_its_near_misses_and_what_bars_them(bench: Bench, shop: Shop) -> None:
    reserved(shop, "1")
    bench.keys("<F5>")
    bench.view.on_refresh()
    bench.settle()
    bench.keys("2", "<Return>")
    valve, miss = bench.rows()[:2]
    assert valve[-1].startswith("◔ waits for 1 off")
    assert miss[-1].startswith("⚑ reserved for pull")
    assert "waits for 1 off" in bench.sheet.said()
    assert "Reserve what there is" in bench.sheet.buttons


def test_two_cylinders_are_proposed_together_and_one_is_left_out_again(bench: Bench, shop: Shop) -> None:
    bench.click_cylinder("3")
    bench.click_cylinder("6", control=True)
    assert bench.sheet.title() == "Linnet One: 2 kits proposed together"
    assert len(bench.picture.find_withtag("ticked")) == 2
    headings = [row[-1] for row in bench.rows() if row[0].startswith("cylinder")]
    assert headings == ["✓ complete, 3 of 3 lines", "◔ short, 2 of 3 lines"]
    bench.sheet.table.choose(0)
    bench.sheet.table.focus_rows()
    bench.keys("<Delete>")
    assert bench.sheet.title() == "Linnet One, cylinder 6"
    assert "✓ complete" in bench.where_it_is()


def test_cylinders_of_another_engine_join_the_same_proposal(bench: Bench, shop: Shop) -> None:
    with shop.store.writing() as session:
        good(session, shop, shop.valve, scope=Scope.GROUND_RUNNING)
    bench.keys("3", "<Insert>", "<Next>", "4", "<space>")
    assert bench.sheet.title() == "2 kits proposed together"
    headings = [row[0] for row in bench.rows() if row[0].startswith("Linnet")]
    assert headings == ["Linnet One, cylinder 3", "Linnet Two, cylinder 4"]
    bench.keys("<Control-r>")
    assert bench.sheet.title() == "2 pulls reserved together"
    assert [row[1] for row in bench.pulls()] == ["cylinder 3"], "the picture goes to the first pull's engine"
    bench.keys("<Control-i>")
    assert {row[-1] for row in bench.rows() if not row[0].startswith("P0")} == {"▶ issued"}


def test_if_somebody_was_first_it_is_said_and_proposed_again(bench: Bench, shop: Shop) -> None:
    bench.keys("5", "<Return>")
    (theirs,) = reserved(shop, "2")
    bench.keys("<Control-r>")
    assert bench.refused == [
        f"{bench.rows()[1][1]} is reserved for pull {theirs.number} by Ben Hollis."
        " Propose the kit again: they were first."
    ]
    assert bench.posted == 0
    assert bench.sheet.title() == "Linnet One, cylinder 5"
    assert bench.rows()[0][-1].startswith("◔ waits for 1 off")
    assert bench.pulls()[0][0] == theirs.number


def test_an_alternate_is_marked_in_the_picture_and_told_before_reserving(
    display: str, shop: Shop, tmp_path: Path
) -> None:
    stock(shop, valves=0, springs=14, gaskets=7)
    standing_in(shop)
    bench = Bench(shop, tmp_path)
    assert "⇄" in bench.where_it_is() and "with alternate" in bench.where_it_is()
    bench.keys("5", "<Return>")
    assert "Pellworth leaflet 31" in bench.sheet.said()
    bench.close()


def test_only_the_chosen_row_is_issued_and_of_several_as_many_as_is_said(bench: Bench, shop: Shop) -> None:
    bench.keys("5", "<Return>", "<Control-r>")
    bench.sheet.table.choose(1)
    bench.keys("<Control-Shift-I>")
    assert bench.form is not None
    bench.form.editors["quantity"].set("1")
    bench.form.save()
    bench.settle()
    assert bench.form is None and bench.said[-1].startswith("Issued for pull")
    assert bench.rows()[1][-1] == "◐ 1 off reserved, 1 off issued"
    bench.sheet.table.choose(0)
    bench.keys("<Control-Shift-I>")
    assert [row[-1] for row in bench.rows()][0] == "▶ issued"
    assert bench.pulls()[0][2] == "◐ part issued"


def test_a_form_with_something_typed_in_it_is_not_lost(bench: Bench, shop: Shop) -> None:
    bench.keys("5", "<Return>", "<Control-r>", "<Control-k>")
    assert bench.form is not None
    assert bench.view.unsaved() == ""
    bench.type("wrong")
    assert "Cancel pull" in bench.view.unsaved()
    bench.click_cylinder("3")
    assert "form is open" in bench.refused[-1]
    assert bench.sheet.title().startswith("Pull")
    bench.press("<Control-Return>")
    bench.settle()
    assert bench.pulls() == []
    assert "cancelled" in bench.said[-1]
    assert bench.sheet.table.tree is bench.root.focus_get()


def test_what_was_issued_is_taken_back(bench: Bench, shop: Shop) -> None:
    bench.keys("5", "<Return>", "<Control-r>", "<Control-i>")
    bench.sheet.table.focus_rows()
    bench.keys("<Control-a>", "<Control-b>")
    assert bench.form is not None
    bench.press("<Control-Return>")
    bench.settle()
    assert bench.form.message_of("returned_as"), "nothing is good stock again unless somebody says so"
    bench.type("untouched")
    bench.press("<Control-Return>")
    bench.settle()
    assert [row[-1] for row in bench.rows()] == ["↩ returned"] * 3
    assert bench.pulls() == [] and list(bench.sheet.buttons) == []
    assert bench.where_it_is().count("3/3") == 7


def test_an_issued_kit_is_fitted_from_the_sheet(bench: Bench, shop: Shop) -> None:
    begin(shop)
    bench.keys("5", "<Return>", "<Control-r>", "<Control-i>")
    bench.keys("<Control-Shift-F>")
    assert bench.form is not None
    assert bench.form.editors["reading"].get() == "1000.00"
    bench.press("<Control-Return>")
    bench.settle()
    assert "fitted to Linnet One" in bench.said[-1]
    assert [row[-1] for row in bench.rows()] == ["⚙ fitted"] * 3
    assert bench.pulls() == []


def test_a_kit_is_not_fitted_before_the_log_of_its_engine_begins(bench: Bench, shop: Shop) -> None:
    bench.keys("5", "<Return>", "<Control-r>", "<Control-i>", "<Control-Shift-F>")
    assert "log of Linnet One has not begun" in bench.refused[-1]


def test_nothing_is_done_where_there_is_nothing_to_do(bench: Bench, shop: Shop) -> None:
    bench.keys("<Control-r>", "<Control-p>", "<Control-i>", "<Control-b>", "<Control-k>", "<Control-Shift-F>")
    assert len(bench.refused) == 6
    assert bench.offered == [] and bench.posted == 0
    assert bench.sheet.title() == "Kit sheet"
    bench.save_as = ""
    bench.keys("5", "<Return>", "<Control-p>")
    assert bench.said == [], "a name that was not given saves nothing"


def test_an_open_pull_is_opened_from_the_list_and_from_what_was_found(bench: Bench, shop: Shop) -> None:
    (made,) = reserved(shop, "4")
    bench.view.on_refresh()
    bench.settle()
    bench.keys("<Control-l>", "<Return>")
    assert bench.sheet.title() == f"Pull {made.number}: Linnet One, cylinder 4"
    bench.view.open(("engine", shop.engine_two))
    bench.settle()
    assert "Linnet Two" in bench.where_it_is()
    bench.view.open(("pull", made.pull))
    bench.settle()
    assert "Linnet One" in bench.where_it_is()


def test_a_settled_pull_is_still_shown_when_it_is_found(bench: Bench, shop: Shop) -> None:
    (made,) = reserved(shop, "4")
    with shop.store.writing() as session:
        issue(session, made.pull, shop.by())
    bench.view.open(("pull", made.pull))
    bench.settle()
    assert [row[-1] for row in bench.rows()] == ["▶ issued"] * 3


def test_an_answer_that_came_too_late_is_dropped(bench: Bench) -> None:
    bench.press("1", "<Return>")
    bench.view.kit.ask_for("2", False)
    bench.view.kit.ask_for("3", False)
    bench.settle()
    assert bench.sheet.title() == "Linnet One, cylinder 3"
    assert len(bench.view.presenter.asked) == 1


def test_stopping_leaves_the_rest_unknown_till_it_is_asked_again(bench: Bench, shop: Shop) -> None:
    presenter, real = bench.view.presenter, bench.view.presenter.read_outlook

    def stopped_on_the_way(job: Job, *rest: Any) -> Any:
        job.ask_to_stop()
        return real(job, *rest)

    presenter.read_outlook = stopped_on_the_way  # type: ignore[assignment, method-assign]
    bench.view.show_engine(shop.engine_two)
    bench.settle()
    assert "…" in bench.where_it_is()
    assert presenter.told_of_outlook() == "0 of 7 worked out"
    presenter.read_outlook = real  # type: ignore[method-assign]
    bench.view.on_refresh()
    bench.settle()
    assert presenter.told_of_outlook().startswith("7 of 7 could be filled")


def test_an_engine_type_without_positions_says_so(display: str, shop: Shop, tmp_path: Path) -> None:
    with shop.store.writing() as session:
        type_id = shops.add_engine_type(session, shops.NewEngineType("Wren", Layout.RADIAL), shop.by())
        engine = shops.add_engine(
            session, shops.NewEngine(type_id, "W1", "Wren One", Scope.FLIGHT, shop.workshop), shop.by()
        )
    bench = Bench(shop, tmp_path)
    bench.view.open(("engine", engine))
    bench.settle()
    labels = [part.cget("text") for part in bench.view.engine_pane.nothing.winfo_children()]
    assert labels[0] == "The positions of the Wren are not known yet."
    bench.view.open(("engine", shop.engine))
    bench.settle()
    assert not bench.view.engine_pane.nothing.winfo_ismapped()
    bench.close()


@pytest.mark.parametrize("layout", list(Layout))
@pytest.mark.parametrize("dark", [False, True])
def test_any_engine_stays_within_its_picture(
    display: str, shop: Shop, tmp_path: Path, layout: Layout, dark: bool
) -> None:
    with shop.store.writing() as session:
        positions = tuple(shops.NewPosition(f"{bank}{n}", 0, 0) for bank in "AB" for n in range(1, 7))
        type_id = shops.add_engine_type(
            session, shops.NewEngineType("Twelve", layout, inverted=True, positions=positions), shop.by()
        )
        engine = shops.add_engine(
            session, shops.NewEngine(type_id, "T1", "Twelve One", Scope.FLIGHT, shop.workshop), shop.by()
        )
    bench = Bench(shop, tmp_path, dark=dark)
    bench.view.open(("engine", engine))
    bench.settle()
    assert "no kit list" in bench.where_it_is()
    bench.keys("b", "2", "<Return>")
    assert bench.picture.chosen() == "B2"
    left, top, right, bottom = bench.picture.bbox("all")
    assert left >= 0 and top >= 0
    assert right <= bench.picture.winfo_width() and bottom <= bench.picture.winfo_height()
    bench.close()


def test_a_shop_with_no_engine_says_so(display: str, shop: Shop, tmp_path: Path) -> None:
    bench = Bench(shop, tmp_path)
    bench.view.presenter.read_engines = lambda _job: ()  # type: ignore[method-assign]
    bench.view.on_refresh()
    bench.settle()
    bench.keys("<Return>", "<Insert>", "<Next>", "<Control-t>")
    assert bench.where_it_is() == ""
    labels = [part.cget("text") for part in bench.view.engine_pane.nothing.winfo_children()]
    assert labels[0] == "No engine is in the store yet."
    bench.close()


def test_the_column_widths_are_kept(bench: Bench) -> None:
    tree = bench.sheet.table.tree
    tree.column("station", width=bench.theme.px(222))
    tree.event_generate("<ButtonRelease-1>", x=5, y=5)
    bench.root.update()
    assert bench.view._context.prefs.widths["kit sheet"]["station"] == 222


def test_a_button_that_goes_away_leaves_the_keys_with_the_rows(bench: Bench, shop: Shop) -> None:
    bench.keys("5", "<Return>")
    bench.sheet.buttons["Reserve"].focus_force()
    bench.root.update()
    bench.keys("<Return>")
    assert bench.root.focus_get() is bench.sheet.table.tree
    assert state_of(shop, next(iter(bench.view.kit.pulled[0].states.values())).thing).reserved_for


def test_tab_goes_down_the_pane_from_the_engine_to_its_picture(bench: Bench) -> None:
    pane = bench.view.engine_pane
    for at, beneath in ((pane.chooser.engines.box, pane.picture), (pane.picture, pane.at_once)):
        at.focus_force()
        bench.root.update()
        assert at.tk_focusNext() is beneath
    engine = bench.view.presenter.engine
    pane.chooser.engines.box.focus_force()
    bench.keys("<Next>")
    assert bench.view.presenter.engine is not engine


def test_a_pull_is_read_again_when_the_view_comes_back(bench: Bench, shop: Shop) -> None:
    bench.keys("5", "<Return>", "<Control-r>")
    (pull,) = [each.summary.pull for each in bench.view.kit.pulled]
    with shop.store.writing() as session:
        issue(session, pull, shop.by())
    bench.view.on_show()
    bench.settle()
    assert [row[-1] for row in bench.rows()] == ["▶ issued"] * 3


def test_what_is_said_in_full_can_be_scrolled_to_when_there_is_too_much_of_it(bench: Bench) -> None:
    foot = bench.sheet._foot
    bench.keys("5", "<Return>")
    bench.sheet._tell("\n".join(f"station {number} waits" for number in range(20)))
    bench.root.update()
    assert foot._scroll.winfo_manager() and int(foot._text.cget("takefocus")) == 1
    bench.sheet._tell("all is here")
    bench.root.update()
    assert not foot._scroll.winfo_manager()
