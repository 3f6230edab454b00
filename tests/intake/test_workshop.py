"""The invented workshop's tables: consistent, complete, and holding everything that is in them on purpose."""

from __future__ import annotations

import csv
import shutil
from collections import Counter
from datetime import date
from importlib.resources import files
from pathlib import Path

import pytest

from invdb.intake.standing import Standing
from invdb.intake.stock import BatchRow, PieceRow, StockCells
from invdb.intake.workshop import Sight, Workshop, read_workshop
from invdb.rules.life import LifeVerdict, life_verdict
from invdb.terms import (
    Condition,
    EntryKind,
    FirmRole,
    HoursKnown,
    Layout,
    Measure,
    Origin,
    Refused,
    Scope,
    WorkState,
)

TODAY = date(2026, 11, 25)
FOLDER = Path(str(files("sample_catalog")))


def sights(workshop: Workshop, what: str) -> list[Sight]:
    found = [sight for sight in workshop.sights if sight.what == what]
    assert found, f"nothing called {what!r} is to be seen"
    return found


def seen(workshop: Workshop, what: str) -> Standing:
    """The piece or batch that is to be seen as ``what``, as it stands."""
    (sight,) = sights(workshop, what)
    return workshop.standings[sight.number]


def piece_of(standing: Standing) -> PieceRow:
    assert isinstance(standing.row, PieceRow)
    return standing.row


def cells_of(standing: Standing) -> StockCells:
    """What the tables say of a thing that came by goods in."""
    assert isinstance(standing.row, PieceRow | BatchRow)
    return standing.row.stock


def part_named(workshop: Workshop, house_number: str) -> str:
    return next(part.name for part in workshop.parts if part.house_number == house_number)


def good(workshop: Workshop, house_number: str, scope: Scope = Scope.FLIGHT) -> list[Standing]:
    """Serviceable stock of a part that covers a scope, in the stores and not in doubt."""
    kinds = {place.name: place.kind for place in workshop.places}
    return [
        each
        for each in workshop.standings.values()
        if each.house_number == house_number
        and each.condition is Condition.SERVICEABLE
        and each.scope is not None
        and each.scope.covers(scope)
        and not each.holds
        and all(kinds.get(place) == "bin" for place in each.quantities)
    ]


def test_the_workshop_has_the_size_and_the_shape_it_is_meant_to_have(workshop: Workshop) -> None:
    assert 230 <= len(workshop.parts) <= 250
    assert 850 <= len(workshop.pieces) <= 1000
    assert 180 <= len(workshop.batches) <= 220
    assert len(workshop.pieces) + len(workshop.lives.filled) <= 1160
    assert 40 <= len(workshop.documents) <= 60
    assert len(workshop.mods) == 4
    assert Counter(firm.role for firm in workshop.firms)[FirmRole.SUPPLIER] == 8
    assert Counter(engine.engine_type for engine in workshop.engines) == {
        "Linnet": 3, "Dabchick": 2, "Twelve": 2,
    }  # fmt: skip
    assert {(each.name, each.layout) for each in workshop.engine_types} == {
        ("Linnet", Layout.RADIAL), ("Dabchick", Layout.IN_LINE), ("Twelve", Layout.VEE),
    }  # fmt: skip
    years = {note.happened_on.year for note in workshop.goods_in}
    assert years == set(range(2020, 2027))


def test_nothing_is_dated_after_today(workshop: Workshop) -> None:
    days = [note.booked_on for note in workshop.goods_in]
    days += [line.booked_on for line in workshop.happenings]
    days += [paper.dated_on for paper in workshop.documents if paper.dated_on is not None]
    for thing in workshop.things:
        if thing.stock.looked_on is not None:
            days.append(thing.stock.looked_on)
    assert max(days) <= TODAY


def test_the_linnet_is_numbered_clockwise_from_the_top_and_the_dabchick_from_the_propeller(
    workshop: Workshop,
) -> None:
    linnet = [position for position in workshop.positions if position.engine_type == "Linnet"]
    assert [position.name for position in linnet] == list("1234567")
    assert (linnet[0].x_thousandths, linnet[0].turn_degrees) == (0, 0)
    assert linnet[0].y_thousandths > 0
    assert [position.turn_degrees for position in linnet] == sorted(p.turn_degrees for p in linnet)
    assert linnet[1].x_thousandths > 0
    dabchick = [position for position in workshop.positions if position.engine_type == "Dabchick"]
    assert dabchick[0].note == "propeller end"
    twelve = [position.name for position in workshop.positions if position.engine_type == "Twelve"]
    assert twelve == [f"{bank}{number}" for bank in "AB" for number in range(1, 7)]


def test_walking_order_leads_past_every_bin_once(workshop: Workshop) -> None:
    bins = [place for place in workshop.places if place.kind == "bin" and place.name != "Goods in"]
    orders = [place.walking_order for place in bins]
    assert orders == sorted(set(orders))
    assert any(place.bonded for place in bins) and not all(place.bonded for place in bins)


def test_gaskets_tab_washers_and_split_pins_are_renewed_always(workshop: Workshop) -> None:
    renewed = {
        name
        for line in workshop.kit_lines
        for name in [part_named(workshop, line.house_number)]
        if any(word in name.lower() for word in ("gasket", "tab washer", "split pin"))
    }
    assert len(renewed) > 10
    for line in workshop.kit_lines:
        if part_named(workshop, line.house_number) in renewed:
            assert line.renewed_always, f"{line.station} of the {line.engine_type}"


def test_wire_is_asked_for_by_length_and_compound_by_weight(workshop: Workshop) -> None:
    measures = {part.house_number: part.measure for part in workshop.parts}
    linnet = [line for line in workshop.kit_lines if line.engine_type == "Linnet"]
    asked = {measures[line.house_number]: line.quantity for line in linnet}
    assert asked[Measure.LENGTH] == 450_000
    assert asked[Measure.WEIGHT] == 8_000


def test_the_linnet_and_the_dabchick_share_valves_springs_and_guides(workshop: Workshop) -> None:
    by_type = {
        name: {line.house_number for line in workshop.kit_lines if line.engine_type == name}
        for name in ("Linnet", "Dabchick", "Twelve")
    }
    shared = {part_named(workshop, number) for number in by_type["Linnet"] & by_type["Dabchick"]}
    for word in ("Inlet valve", "Exhaust valve", "Valve guide", "Valve spring"):
        assert any(name.startswith(word) for name in shared), word
    assert not any("Pellworth" in part_named(workshop, number) for number in by_type["Twelve"])


def test_three_supersessions_make_a_chain_with_stock_at_its_end(workshop: Workshop) -> None:
    (sight,) = sights(workshop, "three supersessions")
    steps = {each.house_number: each.members[0][0] for each in workshop.stand_ins if each.superseding}
    chain = [sight.number]
    while chain[-1] in steps:
        chain.append(steps[chain[-1]])
    assert len(chain) == 4
    assert good(workshop, chain[-1])
    assert not good(workshop, chain[1])


def test_a_two_way_pair_a_set_of_two_and_a_dead_end(workshop: Workshop) -> None:
    by_part = {each.house_number: each for each in workshop.stand_ins}
    assert by_part[sights(workshop, "two-way pair")[0].number].both_ways
    assert len(by_part[sights(workshop, "one becomes two")[0].number].members) == 2
    dead = by_part[sights(workshop, "dead end")[0].number]
    for number in (dead.house_number, dead.members[0][0]):
        assert not good(workshop, number, Scope.DISPLAY)
        assert number not in {each.house_number for each in workshop.stand_ins} - {dead.house_number}


def test_a_mod_makes_the_old_rocker_unfit_and_another_has_a_kit_line_of_its_own(workshop: Workshop) -> None:
    old = sights(workshop, "mod makes unfit")[0].number
    lines = [line for line in workshop.kit_lines if line.house_number == old]
    assert [(line.holds.mod, line.holds.mod_embodied) for line in lines] == [("L14", False)]
    assert old not in {member for each in workshop.stand_ins for member, _ in each.members}
    own = sights(workshop, "mod with a line of its own")[0].number
    (line,) = (line for line in workshop.kit_lines if line.house_number == own)
    assert (line.holds.mod, line.holds.mod_embodied, line.holds.positions) == ("L22", True, ("4", "5"))


def test_one_barrel_is_for_ground_running_one_on_hold_and_one_a_customers(workshop: Workshop) -> None:
    assert seen(workshop, "ground running only").scope is Scope.GROUND_RUNNING
    assert seen(workshop, "on hold").holds
    ours = next(owner.name for owner in workshop.owners if owner.ours)
    barrel = seen(workshop, "customer's property")
    assert cells_of(barrel).owner != ours
    assert cells_of(barrel).owner not in {each.owner for each in workshop.agreements}


def test_the_last_good_standard_barrel_is_the_last(workshop: Workshop) -> None:
    last = seen(workshop, "competing cylinders")
    ours = next(owner.name for owner in workshop.owners if owner.ours)
    stock = [each for each in good(workshop, last.house_number) if isinstance(each.row, PieceRow)]
    fit = [each for each in stock if piece_of(each).stock.owner == ours]
    assert fit == [last]
    assert good(workshop, seen(workshop, "competing cylinders, the way out").house_number)


def test_the_master_rod_is_out_for_work_on_an_order_that_says_till_when(workshop: Workshop) -> None:
    rod = seen(workshop, "short by one out for work")
    (place,) = rod.quantities
    assert {each.name: each.kind for each in workshop.places}[place] == "firm"
    (order,) = (order for order in workshop.works.orders if rod.tag in {sent.of for sent in order.things})
    assert (order.place, order.due_on) == (place, date(2027, 1, 15))


def test_a_barrel_has_a_gap_of_six_years_between_two_papers(workshop: Workshop) -> None:
    barrel = seen(workshop, "six-year gap")
    dated = {paper.reference: paper.dated_on for paper in workshop.documents}
    days = sorted(day for paper in barrel.papers if (day := dated[paper]) is not None)
    assert [(day.year, day.month) for day in days] == [(2020, 3), (2026, 3)]


def test_hours_that_are_at_least_300_have_no_worst_end(workshop: Workshop) -> None:
    hours = piece_of(seen(workshop, "at least 300")).prior_hours
    assert (hours.known, hours.low, hours.high) == (HoursKnown.AT_LEAST, 30_000, None)


def test_a_gudgeon_pin_was_within_its_life_until_the_limit_was_cut(workshop: Workshop) -> None:
    pin = seen(workshop, "life-expired")
    before = next(part.life_limit_hours for part in workshop.parts if part.house_number == pin.house_number)
    (cut,) = (line for line in workshop.happenings if line.kind is EntryKind.CATALOGUE)
    hours = piece_of(pin).prior_hours
    assert cut.of == pin.house_number
    assert life_verdict(hours, before) is LifeVerdict.WITHIN
    assert life_verdict(hours, cut.life_limit_hours) is LifeVerdict.EXPIRED
    assert pin.condition is Condition.SERVICEABLE
    link_rod = piece_of(seen(workshop, "nearly due"))
    limit = next(p.life_limit_hours for p in workshop.parts if p.house_number == link_rod.house_number)
    assert limit is not None and link_rod.prior_hours.high is not None
    assert 0 < limit - link_rod.prior_hours.high < 25_00


def test_a_batch_of_gaskets_is_past_its_shelf_life_and_another_is_not(workshop: Workshop) -> None:
    old = seen(workshop, "shelf-expired")
    expiries = [cells_of(each).shelf_expiry_on for each in good(workshop, old.house_number)]
    past = cells_of(old).shelf_expiry_on
    assert past is not None and past <= TODAY
    assert any(expiry is not None and expiry > TODAY for expiry in expiries)


def test_forty_springs_were_tested_31_good_5_to_rework_4_scrap(workshop: Workshop) -> None:
    springs = seen(workshop, "forty springs")
    assert isinstance(springs.row, BatchRow) and springs.row.quantity == 40
    shares = {
        (workshop.standings[line.new_tag].condition, workshop.standings[line.new_tag].quantity)
        for line in workshop.happenings
        if line.kind is EntryKind.SPLIT and line.of == springs.tag and line.new_tag is not None
    }
    assert shares == {(Condition.UNSERVICEABLE, 5), (Condition.UNSALVAGEABLE, 4)}
    assert (springs.condition, springs.quantity) == (Condition.SERVICEABLE, 31)


def test_the_pieces_that_will_play_a_part_later_are_there(workshop: Workshop) -> None:
    pistons = [workshop.standings[sight.number] for sight in sights(workshop, "choosy pistons")]
    assert len({piston.tag for piston in pistons}) == 3
    assert all("bores of" in cells_of(piston).note for piston in pistons)
    fork, blade = (workshop.standings[sight.number] for sight in sights(workshop, "rod pair"))
    assert cells_of(fork).note == f"Runs only with blade rod {piece_of(blade).serial}"
    assert cells_of(seen(workshop, "plated")).work_state is WorkState.RECONDITIONED
    assert "oversize" in part_named(workshop, seen(workshop, "rebored").house_number)
    assert seen(workshop, "springs to watch").quantity == 24
    assert cells_of(seen(workshop, "robbed rod")).note.startswith("From cylinder 3 of Linnet 142")
    valve = sights(workshop, "exhaust valve runs short")[0].number
    assert 8 <= len(good(workshop, valve)) <= 11
    assert any("no fewer than twelve" in firm.note for firm in workshop.firms)


def test_what_was_made_here_says_from_what_by_whom_and_to_which_drawing(workshop: Workshop) -> None:
    made = {note.number for note in workshop.goods_in if note.origin is Origin.MADE_HERE}
    things = [thing for thing in workshop.things if thing.goods_in in made]
    assert len(things) > 20
    for thing in things:
        cells = thing.stock
        assert all((cells.drawing, cells.drawing_revision, cells.material, cells.material_certificate))
        assert cells.made_by != cells.made_inspected_by


def test_some_lines_were_booked_late_and_some_were_reversed(workshop: Workshop) -> None:
    late = [line for line in workshop.happenings if line.booked_on > line.happened_on]
    undone = [line for line in workshop.happenings if line.kind is EntryKind.REVERSED]
    assert len(late) >= 4
    assert len(undone) >= 4
    assert any(note.booked_on > note.happened_on for note in workshop.goods_in)
    twice = sights(workshop, "booked twice")[0].number
    assert twice not in workshop.standings


def test_holds_were_raised_on_a_part_a_piece_a_batch_and_an_engine(workshop: Workshop) -> None:
    raised = {line.of for line in workshop.happenings if line.kind is EntryKind.HOLD_RAISED}
    assert raised & {part.house_number for part in workshop.parts}
    assert raised & {piece.tag for piece in workshop.pieces}
    assert raised & {batch.tag for batch in workshop.batches}
    assert raised & {engine.name for engine in workshop.engines}
    assert any(each.holds for each in workshop.standings.values())


def changed(tmp_path: Path, file: str, line: int, column: str, value: str) -> Path:
    """A copy of the tables with one cell changed; ``line`` as a text editor counts."""
    folder = tmp_path / "tables"
    shutil.copytree(FOLDER, folder, ignore=shutil.ignore_patterns("*.py", "run", "__pycache__"))
    with (folder / file).open(encoding="utf-8", newline="") as opened:
        rows = list(csv.reader(opened))
    rows[line - 1][rows[0].index(column)] = value
    with (folder / file).open("w", encoding="utf-8", newline="") as opened:
        csv.writer(opened).writerows(rows)
    return folder


@pytest.mark.parametrize(
    ("file", "line", "column", "value"),
    [
        ("parts.csv", 5, "House number", "BF0401-9"),
        ("parts.csv", 5, "Held by", "pice"),
        ("parts.csv", 5, "Shelf life months", "six"),
        ("other_numbers.csv", 3, "Firm", "Nobody and Sons"),
        ("hazards.csv", 2, "Hazard", "sharp"),
        ("kit_lines.csv", 2, "House number", "ZZ0001-X"),
        ("kit_lines.csv", 2, "Quantity", "0"),
        ("kit_lines.csv", 2, "Quantity", "1.5"),
        ("kit_lines.csv", 2, "Positions", "8"),
        ("kit_lines.csv", 2, "Station", "coal hole"),
        ("kit_lines.csv", 2, "Mod", "D07"),
        ("stand_ins.csv", 2, "Stood in for by", "2 x nothing"),
        ("positions.csv", 2, "X", "4000"),
        ("engines.csv", 2, "Use", "racing"),
        ("engines.csv", 2, "Owner", "Nobody"),
        ("people.csv", 3, "Licence kind", ""),
        ("documents.csv", 2, "Dated", "31.12.1999"),
        ("places.csv", 5, "In", "Nowhere"),
        ("goods_in.csv", 2, "Booked on", "2019-01-01"),
        ("pieces.csv", 2, "Tag", "T00001-A"),
        ("pieces.csv", 3, "Tag", "T00001-T"),
        ("pieces.csv", 2, "Prior hours", "about 300"),
        ("pieces.csv", 2, "Prior hours", "between 400 and 300"),
        ("pieces.csv", 2, "Prior hours", "12.345"),
        ("pieces.csv", 2, "Put in", "Z-99"),
        ("pieces.csv", 2, "Papers", "a napkin"),
        ("pieces.csv", 2, "Note", "a\ttab"),
        ("batches.csv", 2, "Quantity", "-3"),
        ("happenings.csv", 2, "What", "lost"),
        ("happenings.csv", 2, "Of", "T99999-9"),
        ("pulls.csv", 2, "Position", "9"),
        ("engine_logs.csv", 2, "Hours before", "plenty"),
        ("engine_logs.csv", 3, "Engine", "Linnet 117"),
        ("engine_mods.csv", 2, "Change", "fitted"),
        ("engine_mods.csv", 2, "Mod", "L22"),
        ("running.csv", 2, "Meter reads", ""),
        ("running.csv", 6, "Meter reads", "12"),
        ("running.csv", 2, "Use", "taxying"),
        ("running.csv", 2, "Booked on", "2020-04-01"),
        ("running.csv", 2, "Date", "2019-12-31"),
        ("meter_changes.csv", 2, "Engine", "Dabchick 31"),
        ("build_records.csv", 2, "Document", "a napkin"),
        ("build_records.csv", 2, "Positions", "1, 2"),
        ("build_stations.csv", 2, "Tag", "T00004-N"),
        ("build_stations.csv", 2, "Station", "coal hole"),
        ("build_stations.csv", 2, "Quantity", "2"),
        ("build_stations.csv", 2, "Inside", "T01014-3"),
        ("finds.csv", 2, "Engine", "Linnet 200"),
        ("finds.csv", 2, "Tag", "T00004-N"),
        ("finds.csv", 3, "Condition", "serviceable"),
        ("fittings.csv", 2, "Quantity", "2"),
        ("fittings.csv", 3, "Station", "coal hole"),
        ("bench_fittings.csv", 2, "Into", "B00117-A"),
        ("strippings.csv", 2, "Found", ""),
        ("robberies.csv", 2, "For engine", "Linnet 142"),
        ("robberies.csv", 2, "Control", ""),
        ("engine_events.csv", 2, "What", "a bang"),
        ("event_clearances.csv", 2, "Date", "2026-07-10"),
        ("event_clearances.csv", 2, "Of", "Linnet 117"),
        ("directives.csv", 2, "Engine type", ""),
        ("directives.csv", 2, "Every hours", "often"),
        ("compliances.csv", 2, "Date", "2021-07-01"),
        ("concessions.csv", 2, "Document", ""),
        ("concessions.csv", 2, "Until", "2026-05-01"),
        ("life_limits.csv", 2, "Amount", "0"),
        ("life_limits.csv", 8, "House number", "LN0412-Q"),
        ("life_resets.csv", 2, "Resets", "everything"),
        ("life_resets.csv", 2, "Overhauled on", "2021-01-01"),
        ("what_to_see.csv", 2, "Number", "RG9999-9"),
    ],
)  # fmt: skip
def test_a_wrong_cell_is_named_by_file_line_column_and_value(
    tmp_path: Path, file: str, line: int, column: str, value: str
) -> None:
    with pytest.raises(Refused) as refused:
        read_workshop(changed(tmp_path, file, line, column, value))
    said = refused.value.reason
    assert said.startswith(f"{file}, line {line}, column ")
    assert repr(value) in said or column in said
    assert refused.value.remedy


def test_an_act_with_a_reading_that_the_log_does_not_have_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refused, match=r"strippings\.csv, line 2, column Meter reads: 3 is not what"):
        read_workshop(changed(tmp_path, "strippings.csv", 2, "Meter reads", "3"))


def test_a_meter_that_runs_backward_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refused, match=r"running\.csv, line 5: Linnet 117 read 1200\.5 on"):
        read_workshop(changed(tmp_path, "running.csv", 5, "Meter reads", "1200.5"))


def test_an_act_is_of_one_engine_day_and_person(tmp_path: Path) -> None:
    with pytest.raises(Refused, match=r"fittings\.csv, line 3, column No\.: 'FT 001' is line 2's too"):
        read_workshop(changed(tmp_path, "fittings.csv", 3, "Who", "Gwen Sallow"))


def test_what_is_not_serviceable_is_not_fitted(tmp_path: Path) -> None:
    with pytest.raises(Refused, match=r"fittings\.csv, line 2 \(FT 001\): T00022-J is unserviceable"):
        read_workshop(changed(tmp_path, "fittings.csv", 2, "Of", "T00022-J"))


def test_what_is_not_in_the_engine_is_not_stripped(tmp_path: Path) -> None:
    with pytest.raises(Refused, match=r"strippings\.csv, line 2 \(SS 001\): T\S+ has 0 in Twelve 204 "):
        read_workshop(changed(tmp_path, "strippings.csv", 2, "Position", "A4"))


def test_a_move_from_where_the_thing_was_not_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refused, match=r"happenings\.csv, line 2 \(DB 001\): T\d+-\w has 0 in Bench 2"):
        read_workshop(changed(tmp_path, "happenings.csv", 2, "From", "Bench 2"))


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda folder: (folder / "mods.csv").unlink(), "mods.csv is missing"),
        (lambda folder: (folder / "mods.csv").write_bytes(b"\xff\xfe"), "mods.csv is not UTF-8"),
        (lambda folder: (folder / "mods.csv").write_text("Engine type,Code,Name\n"), "mods.csv, line 1"),
        (
            lambda folder: (folder / "mods.csv").write_text("Engine type,Code,Name,Note\nLinnet,L1\n"),
            "mods.csv, line 2: 2 cells stand under 4 headings",
        ),
    ],
)
def test_a_table_that_cannot_be_read_is_named(tmp_path: Path, spoil: object, said: str) -> None:
    folder = changed(tmp_path, "mods.csv", 2, "Name", "Rockers")
    spoil(folder)  # type: ignore[operator]
    with pytest.raises(Refused) as refused:
        read_workshop(folder)
    assert said in refused.value.reason
