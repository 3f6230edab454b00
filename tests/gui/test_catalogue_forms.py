"""What the forms of the Catalogue view ask, refuse and do."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from gui.shown import ChosenFile
from gui.views.balance_set_form import said_of as balance_said
from gui.views.catalogue_acts import Act
from gui.views.fit_limit_form import said_of
from gui.views.part_cards import CardKind
from gui.views.part_form import PartAdded
from gui.views.spec_lines import figure_wrong, line_wrong, told_other_way, values_of
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.type_groups import mods_of_types
from invdb.terms import (
    Asked,
    BalanceKind,
    FieldRefused,
    FitKind,
    Hazard,
    LifeMeasure,
    MatchOn,
    PaperKind,
    Refused,
    SpecKind,
    Tracking,
)
from tests.fits_shop import FitsShop, furnish_fits
from tests.gui.catalogue_shop import WHY, card, do, plan_of, read_of, stands_in, valve_like
from tests.gui.stores_shop import fill_in, shown_fields, surely
from tests.shop import TODAY, Shop, sqlite_shop

LATER = TODAY + timedelta(days=10)
CHANGES = (
    Act.CHANGE_PART,
    Act.NUMBER,
    Act.HAZARD,
    Act.SPEC,
    Act.SIZE,
    Act.FIT,
    Act.RULE,
    Act.BALANCE,
    Act.KIT_LINE,
    Act.STAND_IN,
    Act.MOD,
)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


@pytest.fixture
def fits(shop: Shop) -> FitsShop:
    return furnish_fits(shop)


@pytest.mark.parametrize("act", CHANGES, ids=str)
def test_every_change_asks_for_its_reason(shop: Shop, act: Act) -> None:
    reason = next(field for field in plan_of(shop, act, shop.valve).fields if field.name == "reason")
    assert reason.needed


def test_without_a_part_nothing_of_one_is_changed(shop: Shop) -> None:
    with pytest.raises(Refused, match="No part is chosen"):
        plan_of(shop, Act.CHANGE_PART)


def test_a_part_is_added_with_a_family_of_its_own(shop: Shop) -> None:
    added = do(
        shop,
        Act.ADD_PART,
        family="new",
        letters="RP",
        family_name="Rocker pins",
        name="Rocker pin, drilled",
        number="PW 2201",
        tracking=Tracking.PIECE,
        critical=True,
        life_limit_hours="300",
        hazards=frozenset({Hazard.CADMIUM}),
    )
    assert isinstance(added, PartAdded)
    page = read_of(shop, added.part).page
    assert page.house_number.startswith("RP0001") and page.critical and page.life_limited
    assert [number.number for number in page.numbers] == ["PW 2201"]
    assert [hazard.hazard for hazard in page.hazards] == [Hazard.CADMIUM]
    assert page.limits == ("300.00 h since new",)


def test_a_batch_part_asks_for_its_measure_and_not_for_a_life(shop: Shop) -> None:
    plan = plan_of(shop, Act.ADD_PART)
    batch = shown_fields(plan, {"tracking": Tracking.BATCH})
    assert "measure" in batch and "life_limit_hours" not in batch and "critical" not in batch
    piece = shown_fields(plan, {"tracking": Tracking.PIECE})
    assert "measure" not in piece and "life_limit_hours" in piece


def test_a_part_is_changed_and_the_form_says_who_set_it_last(shop: Shop) -> None:
    plan = plan_of(shop, Act.CHANGE_PART, shop.valve)
    assert plan.said({}).startswith("Set last by Ada Farrow on ")
    do(shop, Act.CHANGE_PART, shop.valve, name="Exhaust valve, sodium-cooled", note="Long stem")
    page = read_of(shop, shop.valve).page
    assert (page.name, page.note) == ("Exhaust valve, sodium-cooled", "Long stem")
    assert page.limits == ("600.00 h since new",), "what was not touched stays"
    assert page.changes[0].note == WHY


def test_what_another_changed_meanwhile_is_not_overwritten(shop: Shop) -> None:
    stale = plan_of(shop, Act.CHANGE_PART, shop.valve)
    do(shop, Act.CHANGE_PART, shop.valve, name="Exhaust valve, first pattern")
    with pytest.raises(Refused, match="Ada Farrow changed this part"):
        fill_in(stale, name="Exhaust valve, of ours", reason=WHY)


def test_another_number_is_added_corrected_and_withdrawn(shop: Shop) -> None:
    do(shop, Act.NUMBER, shop.barrel, number="D4/1102", kind="drawing")
    (number,) = read_of(shop, shop.barrel).page.numbers
    on = card(CardKind.NUMBER, number.id)
    do(shop, Act.CORRECT_NUMBER, shop.barrel, on=on, number="D4/1103")
    assert [each.number for each in read_of(shop, shop.barrel).page.numbers] == ["D4/1103"]
    do(shop, Act.WITHDRAW, shop.barrel, on=on)
    assert read_of(shop, shop.barrel).page.numbers == ()


def test_a_hazard_is_added_its_caution_changed_and_only_surely_withdrawn(shop: Shop) -> None:
    do(shop, Act.HAZARD, shop.barrel, hazard=Hazard.CADMIUM, caution="No grinding")
    (hazard,) = read_of(shop, shop.barrel).page.hazards
    on = card(CardKind.HAZARD, hazard.id)
    do(shop, Act.CAUTION, shop.barrel, on=on, caution="No grinding, no flame")
    assert read_of(shop, shop.barrel).page.hazards[0].caution == "No grinding, no flame"
    with pytest.raises(Asked, match="warned any more"):
        do(shop, Act.WITHDRAW, shop.barrel, on=on)


def test_a_revision_begins_from_the_one_in_force_and_is_put_in(fits: FitsShop) -> None:
    shop, part = fits.shop, fits.parts["barrel"]
    plan = plan_of(shop, Act.SPEC, part)
    lines = next(field.start for field in plan.fields if field.name == "lines")
    assert [line["name"] for line in lines] == ["bore", "bore", "float gap"]
    assert plan.said({}).startswith("Begun from revision A. Set last by Ada Farrow")
    changed = ({**lines[0], "worn_high": "100.12"}, *lines[1:])
    do(shop, Act.SPEC, part, revision="B", source="Sheet 9", lines=changed)
    spec = read_of(shop, part).page.spec
    assert spec is not None and spec.revision == "B"
    assert [line.limits.worn_high for line in spec.lines][0] == "100.12"
    do(shop, Act.WITHDRAW_SPEC, part, on={"spec": spec.id}, because="Misprinted")
    after = read_of(shop, part).page.spec
    assert after is not None and after.revision == "A"


def test_a_line_that_contradicts_itself_is_named_by_its_place(fits: FitsShop) -> None:
    part = fits.parts["rod"]
    plan = plan_of(fits.shop, Act.SPEC, part)
    (line,) = next(field.start for field in plan.fields if field.name == "lines")
    swapped = {**line, "new_low": "360", "new_high": "300"}
    with pytest.raises(Refused, match=r"Line 1: .*small end mass are swapped"):
        do(fits.shop, Act.SPEC, part, revision="B", source="Sheet 9", lines=(swapped,))


def test_a_decimal_comma_and_sizes_that_overlap_are_asked_about_at_once_and_can_be_so(
    fits: FitsShop,
) -> None:
    part = fits.parts["barrel"]
    plan = plan_of(fits.shop, Act.SPEC, part)
    standard, oversize, gap = next(field.start for field in plan.fields if field.name == "lines")
    lines = ({**standard, "worn_high": "100,14"}, {**oversize, "new_low": "100.02"}, gap)
    given: dict[str, Any] = {"revision": "B", "source": "Sheet 9", "lines": lines, "reason": WHY}
    with pytest.raises(Asked, match=r"Line 1: .*'100,14' has a comma\. .* overlap") as asked:
        fill_in(plan, **given)
    assert "say that it is so" in asked.value.remedy
    assert len(read_of(fits.shop, part).page.specs) == 1, "nothing is put in before it is answered"
    surely(plan, **given)
    spec = read_of(fits.shop, part).page.spec
    assert spec is not None and spec.revision == "B"
    assert [line.limits.worn_high for line in spec.lines] == ["100.14", "100.40", None]


def test_a_comma_excuses_no_limits_that_are_swapped(fits: FitsShop) -> None:
    plan = plan_of(fits.shop, Act.SPEC, fits.parts["rod"])
    (line,) = next(field.start for field in plan.fields if field.name == "lines")
    swapped = {**line, "new_low": "360,5", "new_high": "300"}
    with pytest.raises(Refused, match=r"Line 1: .*are swapped"):
        surely(plan, revision="B", source="Sheet 9", lines=(swapped,), reason=WHY)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("3,15", "has a comma"),
        ("3.15.2", "is no figure"),
        ("1/0", "1/0"),
        ("-3", "below zero"),
        ("3.15 mm", "is in mm, and the line in in"),
        ("3 15/16", ""),
        ("3.9375", ""),
        ("3.9375 in", ""),
    ],
)
def test_a_figure_is_read_in_the_unit_of_its_line(typed: str, said: str) -> None:
    line: dict[str, Any] = {"kind": SpecKind.DIMENSION, "name": "bore", "unit": "in", "new_low": typed}
    wrong = figure_wrong(line, "new_low")
    assert said in wrong and bool(wrong) == bool(said)


def test_a_line_is_told_the_other_way_and_says_what_it_lacks() -> None:
    line: dict[str, Any] = {
        "kind": SpecKind.DIMENSION,
        "name": "gap",
        "unit": "thou",
        "new_low": "12",
        "new_high": "16",
    }
    assert told_other_way(line) == "That is new 0.3048 to 0.4064 mm."
    assert told_other_way({**line, "new_high": "1,6"}) == "", "nothing is told of what can't be read"
    assert line_wrong(line) == ""
    assert "no name" in line_wrong({**line, "name": ""})
    assert "Choose a kind" in line_wrong({"kind": None, "name": "gap"})
    assert "no time" in figure_wrong({"kind": SpecKind.PRESSURE_TEST, "hold": "long"}, "hold")


def test_what_is_kept_of_a_line_comes_back_as_it_was(fits: FitsShop) -> None:
    spec = read_of(fits.shop, fits.parts["piston"]).page.spec
    assert spec is not None
    for line in spec.lines:
        assert line_wrong(values_of(line)) == ""


def test_a_size_is_added_and_withdrawn(fits: FitsShop) -> None:
    shop, part = fits.shop, fits.parts["rod"]
    do(shop, Act.SIZE, part, size_class="0.5 mm undersize")
    size = read_of(shop, part).page.sizes[1]
    assert size.size_class == "0.5 mm undersize"
    do(shop, Act.WITHDRAW, part, on=card(CardKind.SIZE, size.id), because="None left")
    assert len(read_of(shop, part).page.sizes) == 1


def test_a_fit_is_put_in_revised_and_withdrawn(fits: FitsShop) -> None:
    shop, part = fits.shop, fits.parts["piston"]
    given: dict[str, Any] = {
        "where": 0,
        "name": "crown in barrel",
        "outer station 0": "barrel",
        "outer_name": "bore",
        "inner station 0": "piston",
        "inner_name": "skirt",
        "unit": "mm",
        "low": "0.54",
        "high": "0.61",
        "source": "Sheet 4",
    }
    do(shop, Act.FIT, part, **given)
    fit = next(each for each in read_of(shop, part).page.fits if each.fit.terms.name == "crown in barrel")
    assert fit.limits.startswith("0.54 mm")
    on = card(CardKind.FIT, fit.fit.id)
    revised = plan_of(shop, Act.REVISE_FIT, part, **on)
    starts = {field.name: field.start for field in revised.fields}
    assert (starts["low"], starts["outer station 0"], starts["kind"]) == ("0.54", "barrel", FitKind.AS_FOUND)
    assert "Set last by Ada Farrow" in revised.said({})
    with pytest.raises(FieldRefused, match="in force from"):
        do(shop, Act.REVISE_FIT, part, on=on)
    do(shop, Act.WITHDRAW, part, on=on, because="Misprinted")
    do(shop, Act.REVISE_FIT, part, on=card(CardKind.FIT, read_of(shop, part).page.fits[0].fit.id),
       from_on=TODAY, worn_high="0.38", source="Sheet 5", revision="B")  # fmt: skip
    assert any(each.fit.revision == "B" for each in read_of(shop, part).page.fits)


def test_an_interference_is_asked_about_and_swapped_limits_are_refused(fits: FitsShop) -> None:
    given: dict[str, Any] = {
        "where": 0,
        "name": "pin in rod",
        "outer station 0": "rod",
        "outer_name": "small end",
        "inner station 0": "piston",
        "inner_name": "pin",
        "unit": "mm",
        "source": "Sheet 4",
    }
    with pytest.raises(Asked, match="an interference"):
        do(fits.shop, Act.FIT, fits.parts["rod"], **given, low="-0.02", high="0.01")
    with pytest.raises(FieldRefused):
        do(fits.shop, Act.FIT, fits.parts["rod"], **given, low="0.05", high="0.01")
    with pytest.raises(FieldRefused, match="Give all of it in one unit"):
        do(fits.shop, Act.FIT, fits.parts["rod"], **given, low="2 thou", high="0.06")


def test_a_comma_in_a_fit_is_asked_about_and_can_be_so(fits: FitsShop) -> None:
    plan = plan_of(fits.shop, Act.FIT, fits.parts["piston"])
    given: dict[str, Any] = {
        "where": 0,
        "name": "crown in barrel",
        "outer station 0": "barrel",
        "outer_name": "bore",
        "inner station 0": "piston",
        "inner_name": "skirt",
        "unit": "mm",
        "low": "0,54",
        "high": "0.61",
        "source": "Sheet 4",
        "reason": WHY,
    }
    with pytest.raises(Asked, match="'0,54' has a comma"):
        fill_in(plan, **given)
    surely(plan, **given)
    fits_now = read_of(fits.shop, fits.parts["piston"]).page.fits
    assert next(each for each in fits_now if each.fit.terms.name == "crown in barrel").fit.terms.low == "0.54"


def test_the_limits_of_a_fit_are_told_both_ways_as_one_types() -> None:
    assert (
        said_of({"unit": "mm", "low": "0.28", "high": "0.34"}) == "0.28 to 0.34 mm (0.01102 to 0.01339 in)."
    )
    assert said_of({"unit": "mm", "low": "0.28", "high": "x"}) == ""


def test_a_part_that_no_kit_asks_for_fits_nothing_yet(shop: Shop) -> None:
    for act in (Act.FIT, Act.RULE, Act.BALANCE):
        with pytest.raises(Refused, match="No kit list asks for"):
            plan_of(shop, act, shop.barrel)


def test_a_rule_of_size_or_finish_is_put_in_and_withdrawn(fits: FitsShop) -> None:
    shop, part = fits.shop, fits.parts["rod"]
    finish: dict[str, Any] = {
        "where": 0,
        "what": MatchOn.FINISH,
        "station 0": "rod",
        "finish": "bronze bushed",
        "other station 0": "piston",
        "other_finish": "hard chromed",
        "source": "Sheet 4",
    }
    do(shop, Act.RULE, part, **finish)
    (rule,) = read_of(shop, part).rules
    assert (rule.rule.finish, rule.rule.other_finish) == ("bronze bushed", "hard chromed")
    do(shop, Act.WITHDRAW, part, on=card(CardKind.RULE, rule.rule.id), because="Superseded")
    assert read_of(shop, part).rules == ()


BIG_ENDS: dict[str, Any] = {
    "where": 0,
    "name": "big ends",
    "kind": BalanceKind.ENDS,
    "unit": "oz",
    "spread": "1/8",
    "masses 0": ({"station": "rod", "mass": "small end mass"},),
    "source": "Sheet 4",
}


def test_a_set_of_masses_is_put_in_and_withdrawn_with_its_reason(fits: FitsShop) -> None:
    shop, part = fits.shop, fits.parts["rod"]
    do(shop, Act.BALANCE, part, **BIG_ENDS, positions="1, 2")
    standing = [each.balance for each in read_of(shop, part).balances]
    assert [each.name for each in standing] == ["reciprocating masses", "big ends"]
    made = standing[1]
    assert (made.kind, made.unit, made.spread, made.target) == (BalanceKind.ENDS, "oz", "1/8", None)
    assert (made.positions, made.masses) == ("1, 2", (("rod", "small end mass"),))
    on = card(CardKind.BALANCE, made.id)
    assert "Set last by Ada Farrow" in plan_of(shop, Act.WITHDRAW, part, **on).said({})
    do(shop, Act.WITHDRAW, part, on=on, because="Superseded by sheet 5")
    after = read_of(shop, part)
    assert [each.balance.name for each in after.balances] == ["reciprocating masses"]
    with pytest.raises(AssertionError, match="because is needed"):
        do(shop, Act.WITHDRAW, part, on=card(CardKind.BALANCE, standing[0].id))


def test_the_mass_that_a_part_has_is_offered_to_be_counted(fits: FitsShop) -> None:
    plan = plan_of(fits.shop, Act.BALANCE, fits.parts["piston"])
    starts = {field.name: field.start for field in plan.fields}
    assert starts["masses 0"] == ({"station": "piston", "mass": "mass"},)
    assert (starts["where"], starts["unit"]) == (0, "g")


def test_only_what_is_set_against_a_mass_asks_for_one(fits: FitsShop) -> None:
    shop, part = fits.shop, fits.parts["rod"]
    plan = plan_of(shop, Act.BALANCE, part)
    assert "target" not in shown_fields(plan, {"kind": BalanceKind.ENDS})
    given = BIG_ENDS | {"kind": BalanceKind.AGAINST, "unit": "g", "spread": "40", "positions": "1"}
    assert "target" in shown_fields(plan, given)
    do(shop, Act.BALANCE, part, **given, target="330")
    assert read_of(shop, part).balances[1].balance.target == "330"


@pytest.mark.parametrize(
    ("wrong", "field", "said"),
    [
        ({"positions": "9"}, "positions", "no position"),
        ({"spread": "12 g"}, "spread", "Give all of it in one unit"),
        ({"spread": "1/0"}, "spread", "divides by nothing"),
        ({"spread": "0"}, "spread", "is nothing"),
        ({"name": "Reciprocating masses"}, "name", "stands already"),
        ({"masses 0": ({"station": "rod", "mass": "small end mass"},) * 2}, "masses 0", "named twice"),
        ({"masses 0": ({"station": "rod", "mass": "big end mass"},)}, "masses 0", "they have: small end"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_set_of_masses_is_said_of_its_field(
    fits: FitsShop, wrong: dict[str, Any], field: str, said: str
) -> None:
    with pytest.raises(FieldRefused, match=said) as refused:
        do(fits.shop, Act.BALANCE, fits.parts["rod"], **BIG_ENDS | wrong)
    assert refused.value.field == field


def test_a_mass_that_no_specification_states_and_a_comma_can_be_so(fits: FitsShop) -> None:
    shop, part = fits.shop, fits.parts["rod"]
    plan = plan_of(shop, Act.BALANCE, part)
    unstated = {"masses 0": ({"station": "rod", "mass": "big end mass"},), "spread": "0,125"}
    given = BIG_ENDS | unstated | {"reason": WHY}
    with pytest.raises(Asked, match="has a comma"):
        fill_in(plan, **given)
    surely(plan, **given)
    made = read_of(shop, part).balances[1].balance
    assert (made.spread, made.masses) == ("0.125", (("rod", "big end mass"),))


def test_how_masses_agree_is_told_both_ways_as_one_types() -> None:
    apart = balance_said({"kind": BalanceKind.SET, "unit": "oz", "spread": "1/4"})
    assert apart == "At most 1/4 oz (7.087 g) from the lightest to the heaviest."
    against = {"kind": BalanceKind.AGAINST, "unit": "g", "spread": "40", "target": "4975"}
    assert balance_said(against) == "Each within 40 g (1.411 oz) of 4975 g (175.488 oz)."
    assert balance_said(against | {"target": ""}) == ""
    assert balance_said(against | {"spread": "x"}) == ""


def test_a_limit_of_life_is_set_and_withdrawn(shop: Shop) -> None:
    do(shop, Act.LIMIT, shop.barrel, measure=LifeMeasure.HOURS, amount="800", source="Manual")
    (limit,) = read_of(shop, shop.barrel).limits
    do(shop, Act.WITHDRAW, shop.barrel, on=card(CardKind.LIMIT, limit.key), because="Lifted")
    assert read_of(shop, shop.barrel).limits == ()


def test_a_kit_line_is_added_corrected_replaced_from_a_day_and_ended(shop: Shop) -> None:
    given: dict[str, Any] = {"where": 0, "station of group 0": "head joint"}
    do(shop, Act.KIT_LINE, shop.barrel, **given, positions="4, 5", serial_from="L1000")
    (use,) = read_of(shop, shop.barrel).page.uses
    assert (use.station, use.quantity, use.holds) == ("head joint", "1 off", "only 4, 5, serials from L1000")
    on: dict[str, Any] = {"kit_line": use.kit_line}
    plan = plan_of(shop, Act.CORRECT_LINE, shop.barrel, **on)
    assert "Set last by Ada Farrow" in plan.said({})
    do(shop, Act.CORRECT_LINE, shop.barrel, on=on, quantity="2")
    assert read_of(shop, shop.barrel).page.uses[0].quantity == "2 off"
    with pytest.raises(FieldRefused, match="no position"):
        do(shop, Act.CORRECT_LINE, shop.barrel, on=on, positions="9")
    do(shop, Act.REPLACE_LINE, shop.barrel, on=on, begins_on=LATER, quantity="3")
    uses = {use.quantity: use for use in read_of(shop, shop.barrel).page.uses}
    assert f"until {LATER.isoformat()}" in uses["2 off"].holds and uses["3 off"].waits
    new = {"kit_line": uses["3 off"].kit_line}
    with pytest.raises(FieldRefused) as refused:
        do(shop, Act.END_LINE, shop.barrel, on=new, until_on=LATER)
    assert refused.value.field == "until_on"
    do(shop, Act.END_LINE, shop.barrel, on=new, until_on=LATER + timedelta(days=1))
    with pytest.raises(FieldRefused, match="It isn't said why"):
        do(shop, Act.END_LINE, shop.barrel, on=on, until_on=LATER, reason=" ")


def test_a_length_is_asked_for_with_its_unit(shop: Shop) -> None:
    given: dict[str, Any] = {"where": 0, "station of group 0": "head joint"}
    do(shop, Act.KIT_LINE, shop.wire, **given, quantity="350 mm")
    assert read_of(shop, shop.wire).page.uses[0].quantity == "350 mm"
    with pytest.raises(Refused):
        do(shop, Act.KIT_LINE, shop.wire, **given, quantity="350")


def test_a_stand_in_is_added_either_way_and_a_set_together(shop: Shop) -> None:
    newer, cut, plug = (valve_like(shop, name) for name in ("Valve, new", "Valve, cut", "Plug"))
    one: dict[str, Any] = {"part": newer, "each": ""}
    do(shop, Act.STAND_IN, shop.valve, members=(one,), authority="Leaflet 1", superseding=True)
    do(shop, Act.STAND_IN, newer, way="it for", instead_of=cut, each="2", authority="Leaflet 2")
    both = ({"part": cut, "each": "1"}, {"part": plug, "each": "2"})
    do(shop, Act.STAND_IN, shop.valve, members=both, authority="Leaflet 3")
    steps = {step.authority: step for step in read_of(shop, shop.valve).page.graph.steps}
    assert steps["Leaflet 1"].superseding
    assert (steps["Leaflet 2"].part, steps["Leaflet 2"].members) == (cut, ((newer, 2),))
    assert steps["Leaflet 3"].members == ((cut, 1), (plug, 2))


def test_a_ring_of_stand_ins_is_refused_and_named(shop: Shop) -> None:
    newer = valve_like(shop, "Valve, new")
    stands_in(shop, shop.valve, newer)
    with pytest.raises(Refused, match=r"ring of one-way steps: VX\d{4}-. → VX\d{4}-. → VX"):
        do(shop, Act.STAND_IN, newer, members=({"part": shop.valve, "each": ""},), authority="Leaflet 9")
    do(shop, Act.STAND_IN, newer, members=({"part": shop.valve, "each": ""},), authority="Leaflet 9",
       both_ways=True)  # fmt: skip


def test_a_set_is_not_offered_as_good_both_ways(shop: Shop) -> None:
    plan = plan_of(shop, Act.STAND_IN, shop.valve)
    two = {"members": ({"part": 1, "each": ""}, {"part": 2, "each": ""})}
    assert "both_ways" not in shown_fields(plan, two)
    assert "both_ways" in shown_fields(plan, {"members": ()})
    assert "together" in plan.said({"way": "for it", **two})


def test_a_stand_in_is_corrected_replaced_and_ended(shop: Shop) -> None:
    newer = valve_like(shop, "Valve, new")
    on: dict[str, Any] = {"stand_in": stands_in(shop, shop.valve, newer)}
    with shop.store.writing() as session:
        leaflet = add_paper(session, NewPaper(PaperKind.PUBLISHED_DATA, "Leaflet 31"), shop.by())
    do(shop, Act.CORRECT_STAND_IN, shop.valve, on=on, authority="Leaflet 31", document=leaflet,
       engine_type=shop.linnet)  # fmt: skip
    (step,) = read_of(shop, shop.valve).page.graph.steps
    assert (step.authority, step.document, step.holds) == ("Leaflet 31", "Leaflet 31", "Linnet")
    plan = plan_of(shop, Act.REPLACE_STAND_IN, shop.valve, **on)
    rows = next(field.start for field in plan.fields if field.name == "members")
    assert [(row["part"].ref, row["each"]) for row in rows] == [(newer, "1")]
    do(shop, Act.REPLACE_STAND_IN, shop.valve, on=on, begins_on=LATER,
       members=({"part": newer, "each": "2"},))  # fmt: skip
    steps = {step.members: step for step in read_of(shop, shop.valve).page.graph.steps}
    assert f"until {LATER.isoformat()}" in steps[((newer, 1),)].holds
    coming = steps[((newer, 2),)]
    assert coming.waits
    do(shop, Act.END_STAND_IN, shop.valve, on={"stand_in": coming.stand_in},
       until_on=LATER + timedelta(days=3))  # fmt: skip


def test_a_mod_is_entered_corrected_and_may_bound_a_kit_line(shop: Shop) -> None:
    do(shop, Act.MOD, shop.valve, code="L31", name="Drilled pins")
    (mod,) = ids(shop)
    plan = plan_of(shop, Act.MOD, shop.valve)
    assert plan.filled_by("mod", {"mod": mod}) == {"name": "Drilled pins", "note": ""}
    assert "Set last by Ada Farrow" in plan.said({"mod": mod})
    do(shop, Act.MOD, shop.valve, mod=mod, name="Drilled rocker pins")
    given: dict[str, Any] = {"where": 0, "station of group 0": "head joint", "mod of Linnet": (mod, False)}
    do(shop, Act.KIT_LINE, shop.barrel, **given)
    assert read_of(shop, shop.barrel).page.uses[0].holds == "without mod L31"


def ids(shop: Shop) -> list[int]:
    """The mods of the Linnet."""
    with shop.store.reading() as session:
        return [each.mod for each in mods_of_types(session)[shop.linnet]]


def test_documents_and_photographs_are_attached(shop: Shop, tmp_path: Path) -> None:
    picture = tmp_path / "bore.png"
    picture.write_bytes(b"a picture")
    do(
        shop,
        Act.PAPERS,
        shop.barrel,
        paper_kind=PaperKind.DRAWING,
        paper_reference="PD 2335",
        papers=(ChosenFile(picture, PaperKind.PHOTOGRAPH),),
    )
    papers = {paper.reference: paper for paper in read_of(shop, shop.barrel).page.papers}
    assert papers["PD 2335"].kind is PaperKind.DRAWING and not papers["PD 2335"].kept
    assert papers["bore"].kept
    with pytest.raises(FieldRefused, match="No document is named"):
        do(shop, Act.PAPERS, shop.barrel)
