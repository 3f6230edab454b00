"""The Bench view's decisions with no screen: engines, outlook, what is asked for, and the acts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from gui.job import Job, Stopped
from gui.shown import CylinderShape
from gui.sitting import Sitting
from gui.views.bench_cylinders import cylinders_of, groups_of
from gui.views.bench_forms import cancel_form, issue_form, return_form
from gui.views.bench_presenter import BenchPresenter, may_be_cancelled, set_aside_in
from gui.views.kit_sheet_pulls import PulledKit
from gui.widgets.cylinder_shapes import placed
from invdb.acts.engine_list import DrawnPosition, ListedEngine
from invdb.acts.kit_outlook import PositionOutlook
from invdb.acts.propose import POSITIONS_MAX
from invdb.acts.proposed import Asked
from invdb.acts.things import things_of_parts
from invdb.terms import SAFETY_LINE, Condition, Layout, Refused, ReturnedAs, Scope
from tests.kit_shop import proposed, reserved, state_of, stock
from tests.shop import TODAY, Shop, sqlite_shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


@pytest.fixture
def bench(shop: Shop) -> BenchPresenter:
    """The Bench with its engines read, the inspector at work."""
    presenter = BenchPresenter(Sitting(shop.store, shop.inspector, "Ada Farrow"))
    presenter.set_engines(presenter.read_engines(Job()))
    return presenter


def worked_out(bench: BenchPresenter) -> None:
    assert bench.engine is not None
    for outlook in bench.read_outlook(Job(), bench.engine, bench.group, lambda _each: None):
        bench.learn(outlook)


def kit_of(bench: BenchPresenter, pull: int) -> PulledKit:
    return bench.read_pulled(Job(), (pull,))[0]


def engine(
    layout: Layout, count: int, *, drawn: bool = False, groups: tuple[str, ...] = ("cylinder",)
) -> ListedEngine:
    positions = tuple(
        DrawnPosition(100 * at + n, group, str(n + 1), 300 * n if drawn else 0, 0, 0, "")
        for at, group in enumerate(groups)
        for n in range(count)
    )
    return ListedEngine(1, "Wren", "W1", "Wren", "", layout, False, Scope.DISPLAY, "us", "", (), positions)


def test_engines_are_chosen_by_name_serial_and_use(bench: BenchPresenter, shop: Shop) -> None:
    assert [choice.word for choice in bench.engine_choices()] == [
        "Linnet One · L1007 · flight",
        "Linnet Two · L1044 · ground running",
    ]
    assert bench.engine is not None and bench.engine.engine == shop.engine
    assert bench.beside(-1) is None
    assert bench.beside(1) == shop.engine_two
    bench.show_engine(shop.engine_two)
    bench.set_engines(bench.read_engines(Job()))
    assert bench.engine.engine == shop.engine_two, "it stays when the engines are read again"


def test_a_picture_fills_in_as_answers_come(bench: BenchPresenter, shop: Shop) -> None:
    stock(shop, valves=1, springs=14, gaskets=7)
    heard: list[PositionOutlook] = []
    assert {each.sign for each in bench.cylinders()} == {"not worked out"}
    assert bench.told_of_outlook() == "0 of 7 worked out"
    assert bench.engine is not None
    job = Job()
    found = bench.read_outlook(job, bench.engine, "cylinder", heard.append)
    assert job.latest_progress() == ("Kits of Linnet One: 7 of 7", 7 / 8)
    bench.learn(heard[0])
    assert [each.sign for each in bench.cylinders()][:2] == ["complete", "not worked out"]
    for outlook in found:
        bench.learn(outlook)
    assert [each.figure for each in bench.cylinders()] == ["3/3"] * 7
    assert bench.told_of_outlook() == "7 of 7 could be filled, each by itself; 1 if all were pulled at once"
    bench.together = True
    assert sorted(each.sign for each in bench.cylinders()) == ["complete", *["short"] * 6]
    short = next(each for each in bench.cylinders() if each.sign == "short")
    assert "By itself: complete, 3 of 3 lines" in short.detail
    assert "If all were pulled at once: short, 2 of 3 lines; waits for exhaust valve" in short.detail


def test_an_answer_for_all_at_once_stays_till_a_newer_one_comes(bench: BenchPresenter, shop: Shop) -> None:
    stock(shop)
    worked_out(bench)
    first = next(iter(bench.outlooks.values()))
    bench.learn(replace(first, together=None))
    assert bench.outlooks[first.position.id].together == first.together


def test_a_stopped_outlook_answers_nothing(bench: BenchPresenter, shop: Shop) -> None:
    job = Job()
    assert bench.engine is not None
    job.ask_to_stop()
    with pytest.raises(Stopped):
        bench.read_outlook(job, bench.engine, "cylinder", lambda _each: None)
    with pytest.raises(Stopped):
        bench.propose(job, proposed_for(bench, "5"))


def proposed_for(bench: BenchPresenter, *names: str) -> tuple[Asked, ...]:
    bench.asked.clear()
    for name in names:
        bench.ask_for_too(name)
    return tuple(bench.asked)


@pytest.mark.parametrize("layout", list(Layout))
@pytest.mark.parametrize("drawn", [True, False])
def test_an_engine_that_nobody_drew_is_drawn_by_its_layout(layout: Layout, drawn: bool) -> None:
    cylinders = cylinders_of(engine(layout, 6, drawn=drawn), "cylinder", {}, (), together=False)
    assert len({(each.x, each.y) for each in cylinders}) == 6
    assert all(each.width > 0 for each in placed(cylinders, layout))
    shape = CylinderShape.BLOCK if layout is Layout.VEE else CylinderShape.FINNED
    assert {each.shape for each in cylinders} == {shape}


def test_other_groups_are_drawn_by_themselves_cylinders_first() -> None:
    both = engine(Layout.IN_LINE, 2, groups=("accessory drive", "cylinder"))
    assert groups_of(both) == ("cylinder", "accessory drive")
    assert len(cylinders_of(both, "accessory drive", {}, (), together=False)) == 2


def test_kits_are_asked_for_together_up_to_a_bound(bench: BenchPresenter, shop: Shop) -> None:
    for name in "1234567":
        bench.ask_for_too(name)
    assert [each.ticked for each in bench.cylinders()] == [True] * 7
    bench.ask_for_too("3")
    assert [each.name for each in bench.cylinders() if not each.ticked] == ["3"]
    bench.asked += [bench.asked[0]] * (POSITIONS_MAX - 6)
    with pytest.raises(Refused, match="24 kits are proposed together already"):
        bench.ask_for_too("3")
    bench.ask_for("3")
    assert len(bench.asked) == 1
    bench.show_engine(shop.engine_two)
    bench.ask_for_too("3")
    assert {each.engine for each in bench.asked} == {shop.engine, shop.engine_two}
    bench.leave_out(0)
    assert [each.engine for each in bench.asked] == [shop.engine_two]


def test_a_cylinder_is_known_by_what_is_typed_of_its_name(bench: BenchPresenter) -> None:
    assert bench.name_typed("4") == "4"
    assert bench.name_typed("9") is None


def test_reserving_is_atomic_and_says_who_was_first(bench: BenchPresenter, shop: Shop) -> None:
    things = stock(shop, valves=1)
    proposal = bench.propose(Job(), proposed_for(bench, "5"))
    (theirs,) = reserved(shop, "6")
    with pytest.raises(Refused, match=f"reserved for pull {theirs.number} by Ben Hollis"):
        bench.reserve(Job(), proposal)
    assert state_of(shop, things["springs"][0]).where[0].reserved == 2, "nothing of ours was set aside"


def test_a_kit_that_gets_nothing_makes_no_pull(bench: BenchPresenter, shop: Shop) -> None:
    stock(shop, valves=2)
    reserved(shop, "5")
    proposal = bench.propose(Job(), proposed_for(bench, "5", "6"))
    made = bench.reserve(Job(), proposal)
    assert len(made.pulls) == 1
    assert kit_of(bench, made.pulls[0]).summary.position == "cylinder 6"


def test_nobody_reserves_without_saying_who_they_are(shop: Shop) -> None:
    stock(shop)
    nobody = BenchPresenter(Sitting(shop.store))
    with pytest.raises(Refused, match="Nobody has said who is working"):
        nobody.reserve(Job(), proposed(shop, "5"))


def test_a_stop_before_the_commit_leaves_nothing_reserved(bench: BenchPresenter, shop: Shop) -> None:
    things = stock(shop)
    job = Job()
    job.ask_to_stop()
    with pytest.raises(Stopped):
        bench.reserve(job, proposed(shop, "5"))
    assert state_of(shop, things["valves"][0]).reserved_for == ()


def test_pulls_reserved_together_are_issued_together_or_not_at_all(bench: BenchPresenter, shop: Shop) -> None:
    stock(shop, valves=2)
    made = bench.reserve(Job(), bench.propose(Job(), proposed_for(bench, "5", "6")))
    kits = bench.read_pulled(Job(), made.pulls)
    assert all(may_be_cancelled(kit) for kit in kits)
    line = kits[1].lines[0].pull_line
    with pytest.raises(Refused, match="no such line"):
        bench.issue(Job(), {made.pulls[0]: None, made.pulls[1]: {line: 1, 999: 1}})
    assert set_aside_in(bench.read_pulled(Job(), made.pulls)) == dict.fromkeys(made.pulls)
    assert len(bench.issue(Job(), set_aside_in(kits))) == 2
    after = bench.read_pulled(Job(), made.pulls)
    assert [str(kit.summary.state) for kit in after] == ["issued", "issued"]
    assert not any(may_be_cancelled(kit) for kit in after)
    assert bench.engine_of(after) == shop.engine


def test_the_pick_list_is_written_by_the_ending_of_its_name(
    bench: BenchPresenter, shop: Shop, tmp_path: Path
) -> None:
    stock(shop)
    proposal = bench.propose(Job(), proposed_for(bench, "5"))
    path = bench.write_pick_list(Job(), proposal, tmp_path / "kit.pdf")
    text = " ".join(" ".join(page.extract_text() for page in PdfReader(path).pages).split())
    assert "Linnet One" in text and "fits not checked" in text.casefold()
    assert SAFETY_LINE.split(".")[0] in text
    (made,) = reserved(shop, "5")
    assert bench.write_pick_list(Job(), (made.pull,), tmp_path / "kit.XLSX").stat().st_size > 0
    with pytest.raises(Refused, match=r"not written as \.doc"):
        bench.write_pick_list(Job(), (made.pull,), tmp_path / "kit.doc")
    with pytest.raises(Refused, match="cannot be written"):
        bench.write_pick_list(Job(), (made.pull,), tmp_path / "nowhere" / "kit.pdf")


def test_an_unknown_pull_is_refused(bench: BenchPresenter) -> None:
    with pytest.raises(Refused, match="not in the store"):
        bench.read_pulled(Job(), (77,))


def test_part_of_a_line_is_issued_by_its_form(bench: BenchPresenter, shop: Shop) -> None:
    stock(shop)
    (made,) = reserved(shop, "5")
    kit = kit_of(bench, made.pull)
    plan = issue_form(Sitting(shop.store, shop.inspector), kit, kit.lines[1])
    quantity = plan.fields[0]
    assert (quantity.start, quantity.unit) == ("2", "of 2 off set aside")
    assert quantity.check is not None
    with pytest.raises(Refused):
        quantity.check("1.5", {})
    entry = plan.act(Job(), {"quantity": "1", "happened_on": TODAY})
    assert plan.told(entry) == f"Issued for pull {made.number} (entry {entry})."
    after = kit_of(bench, made.pull)
    assert [(line.reserved, line.issued) for line in after.lines] == [(1, 0), (1, 1), (1, 0)]


def test_a_whole_kit_comes_back_each_piece_to_its_own_bin(bench: BenchPresenter, shop: Shop) -> None:
    things = stock(shop)
    (made,) = reserved(shop, "5")
    bench.issue(Job(), {made.pull: None})
    kit = kit_of(bench, made.pull)
    plan = return_form(Sitting(shop.store, shop.inspector), kit, kit.out)
    values = {field.name: field.start for field in plan.fields}
    assert values["returned_as"] is None, "how it comes back is said, never taken for granted"
    assert values["to_place"].headline == "A-01-01", "all of it came from one bin"
    values |= {"returned_as": ReturnedAs.UNTOUCHED, "to_place": shop.bin_a, "note": ""}
    plan.act(Job(), values)
    assert str(kit_of(bench, made.pull).summary.state) == "closed"
    assert state_of(shop, things["valves"][0]).where[0].name == "A-01-01"


def test_kit_from_several_bins_goes_back_to_each_unless_one_is_named(
    bench: BenchPresenter, shop: Shop
) -> None:
    things = stock(shop)
    (made,) = reserved(shop, "5")
    bench.issue(Job(), {made.pull: None})
    kit = kit_of(bench, made.pull)
    lines = [kit.lines[0], replace(kit.lines[2], taken_from=shop.bin_b, taken_from_name="A-01-02")]
    plan = return_form(Sitting(shop.store, shop.inspector), kit, lines)
    to_place = next(field for field in plan.fields if field.name == "to_place")
    assert to_place.shown_when is not None
    assert not to_place.shown_when({"each_back": True}) and to_place.shown_when({"each_back": False})
    plan.act(
        Job(), {"returned_as": ReturnedAs.UNTOUCHED, "each_back": True, "note": "", "happened_on": TODAY}
    )
    assert {where.name for where in state_of(shop, things["gaskets"][0]).where} == {"A-01-01", "A-01-02"}


def test_altered_kit_comes_back_unserviceable_and_in_part(bench: BenchPresenter, shop: Shop) -> None:
    stock(shop)
    (made,) = reserved(shop, "5")
    bench.issue(Job(), {made.pull: None})
    kit = kit_of(bench, made.pull)
    plan = return_form(Sitting(shop.store, shop.inspector), kit, [kit.lines[1]])
    assert [field.name for field in plan.fields][0] == "quantity"
    plan.act(
        Job(),
        {
            "quantity": "1",
            "returned_as": ReturnedAs.ALTERED,
            "to_place": shop.quarantine,
            "note": "ground at the ends",
            "happened_on": TODAY,
        },
    )
    line = kit_of(bench, made.pull).lines[1]
    assert (line.issued, line.returned) == (2, 1)
    with shop.store.reading() as session:
        states = things_of_parts(session, {shop.spring}).values()
    assert Condition.UNSERVICEABLE in {state.condition for state in states}


def test_a_pull_is_cancelled_with_a_reason(bench: BenchPresenter, shop: Shop) -> None:
    things = stock(shop)
    (made,) = reserved(shop, "5")
    plan = cancel_form(Sitting(shop.store, shop.inspector), kit_of(bench, made.pull))
    with pytest.raises(Refused, match="No reason"):
        plan.act(Job(), {"reason": "  ", "happened_on": TODAY})
    plan.act(Job(), {"reason": "wrong cylinder", "happened_on": TODAY})
    assert str(kit_of(bench, made.pull).summary.state) == "cancelled"
    assert bench.read_pulls(Job(), shop.engine) == ()
    assert state_of(shop, things["valves"][0]).reserved_for == ()
