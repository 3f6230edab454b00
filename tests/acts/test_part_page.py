"""A part's page, what stands in for it, and changes of kit lists and stand-ins that are dated and kept."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts.by import By
from invdb.acts.catalogue import Holds, NewPart, NewStandIn
from invdb.acts.change import seen_of
from invdb.acts.kit_line_edit import correct_kit_line, end_kit_line, kit_line_as_kept, replace_kit_line
from invdb.acts.part_page import part_page
from invdb.acts.spec import NewSpec, add_spec
from invdb.acts.spec_line import NewSpecLine
from invdb.acts.stand_in_edit import end_stand_in
from invdb.acts.stand_in_graph import stand_in_graph
from invdb.records.catalogue import Family, StandIn
from invdb.terms import Condition, FieldRefused, Hazard, Refused, SpecKind, Tracking
from tests.engine_shop import came, sound
from tests.kit_shop import proposed, reserved, stock
from tests.shop import TODAY, Shop

LATER = TODAY + timedelta(days=10)
WHY = "Pellworth leaflet 31"


def by(shop: Shop, on: date | None = None) -> By:
    return By(shop.inspector, on, WHY)


def valves(session: Session, shop: Shop, count: int) -> list[int]:
    family = session.scalar(select(Family.id))
    assert family is not None
    return [
        catalogue.add_part(session, NewPart(family, f"Valve, pattern {n}", Tracking.PIECE), shop.by())
        for n in range(count)
    ]


def test_a_part_has_all_that_is_known_of_it_on_one_page(shop: Shop) -> None:
    with shop.store.writing() as session:
        line = NewSpecLine(SpecKind.DIMENSION, "stem", unit="mm", new_low="9.94", new_high="9.96")
        add_spec(session, NewSpec(shop.valve, "B", TODAY, "Sheet 4", (line,)), shop.by())
        came(session, shop, shop.valve)
        page = part_page(session, shop.valve)
        assert (page.name, page.family.split()[0]) == ("Exhaust valve", "VX")
        assert [number.number for number in page.numbers] == ["PW 1187"]
        assert [(each.hazard, each.caution) for each in page.hazards] == [
            (Hazard.SODIUM, "Do not cut the stem.")
        ]
        assert page.limits == ("600.00 h since new",)
        assert page.spec is not None
        assert page.spec.revision == "B"
        assert [(use.engine_type, use.station, use.quantity) for use in page.uses] == [
            ("Linnet", "exhaust valve", "1 off")
        ]
        assert [(each.condition, each.words) for each in page.stock] == [(Condition.SERVICEABLE, "1 off")]
        assert page.changes[0].what == (f"specification B added: from {TODAY}; source Sheet 4",)
        assert page.changes[0].who == "Ada Farrow"
        (began,) = [each for each in page.changes if any(one.what == "the part" for one in each.records)]
        assert "maker's number PW 1187 added: firm Aldermoor Aero Spares" in began.what
        assert "hazard sodium-filled added: caution Do not cut the stem." in began.what
        with pytest.raises(Refused, match="no such part"):
            part_page(session, 999)


def test_a_chain_of_stand_ins_is_followed_both_ways(shop: Shop) -> None:
    with shop.store.writing() as session:
        second, third, twin = valves(session, shop, 3)
        first = NewStandIn(shop.valve, ((second, 1),), WHY, superseding=True)
        catalogue.add_stand_in(session, first, shop.by())
        further = NewStandIn(second, ((third, 1),), WHY, holds=Holds(positions="4, 5"))
        catalogue.add_stand_in(session, further, shop.by())
        catalogue.add_stand_in(session, NewStandIn(third, ((twin, 1),), WHY, both_ways=True), shop.by())
        graph = stand_in_graph(session, second, TODAY)
        assert {node.part: node.steps for node in graph.nodes} == {
            **{second: 0, shop.valve: 1, third: 1, twin: 2}
        }
        assert [node.part for node in graph.nodes if node.stood_in_for] == [shop.valve]
        assert [step.holds for step in graph.steps] == ["", "only 4, 5", ""]
        assert [node.part for node in stand_in_graph(session, twin, TODAY).nodes if node.stood_in_for] == [
            *(third, second, shop.valve)
        ]
        page = part_page(session, second)
        assert [use.instead_of for use in page.uses] == [part_page(session, shop.valve).house_number]


def test_a_stand_in_ends_on_a_day_and_is_shown_as_ended(shop: Shop) -> None:
    with shop.store.writing() as session:
        (second,) = valves(session, shop, 1)
        made = catalogue.add_stand_in(session, NewStandIn(shop.valve, ((second, 1),), WHY), shop.by())
        seen = seen_of(session, "stand_in", made)
        with pytest.raises(FieldRefused, match="why"):
            end_stand_in(session, made, seen, TODAY, shop.by())
        end_stand_in(session, made, seen, TODAY, by(shop))
        assert session.scalar(select(StandIn.until_on)) == TODAY
        (step,) = stand_in_graph(session, shop.valve, TODAY).steps
        assert step.ended
        assert not stand_in_graph(session, shop.valve, TODAY - timedelta(days=1)).steps[0].ended
        with pytest.raises(FieldRefused, match="already"):
            end_stand_in(session, made, seen_of(session, "stand_in", made), LATER, by(shop))
        came(session, shop, second)
    (kit,) = proposed(shop, "1").kits
    assert kit.lines[0].missing == 1


def test_a_kit_line_is_replaced_from_a_day_and_the_past_keeps_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        old = kit_line_as_kept(session, shop.kit_spring)
        seen = seen_of(session, "kit_line", shop.kit_spring)
        made = replace_kit_line(session, shop.kit_spring, seen, replace(old, quantity=3), TODAY, by(shop))
        page = part_page(session, shop.spring)
        assert [(use.kit_line, use.quantity, use.ended, use.holds) for use in page.uses] == [
            (shop.kit_spring, "2 off", True, f"until {TODAY}"),
            (made, "3 off", False, f"from {TODAY}"),
        ]
        assert page.changes[0].what == (
            f"kit line Linnet cylinder, exhaust springs: until none → {TODAY}",
            f"kit line Linnet cylinder, exhaust springs added: part {page.house_number}; quantity 3 off;"
            f" from {TODAY}",
        )
        assert page.changes[0].note == WHY
        with pytest.raises(Refused, match="changed this kit line with entry"):
            end_kit_line(session, shop.kit_spring, seen, LATER, by(shop))
    (kit,) = proposed(shop, "1").kits
    assert [line.quantity for line in kit.lines if line.part == shop.spring] == [3]
    assert sound(shop)


def test_a_kit_line_that_a_pull_hangs_on_is_not_rewritten(shop: Shop) -> None:
    stock(shop)
    (pull,) = reserved(shop, "1")
    with shop.store.writing() as session:
        seen = seen_of(session, "kit_line", shop.kit_valve)
        kept = kit_line_as_kept(session, shop.kit_valve)
        with pytest.raises(Refused, match=f"Pull {pull.number}"):
            correct_kit_line(session, shop.kit_valve, seen, replace(kept, quantity=2), by(shop))
        with pytest.raises(Refused, match=f"Pull {pull.number}"):
            end_kit_line(session, shop.kit_valve, seen, TODAY, by(shop))
        end_kit_line(session, shop.kit_valve, seen, LATER, by(shop))


def test_a_kit_line_written_wrongly_is_corrected_with_a_reason(shop: Shop) -> None:
    with shop.store.writing() as session:
        seen = seen_of(session, "kit_line", shop.kit_spring)
        kept = kit_line_as_kept(session, shop.kit_spring)
        for changed, said in (
            (kept, "Nothing is changed"),
            (replace(kept, group="case"), "stays with its group"),
            (replace(kept, quantity=0), "asks for nothing"),
            (replace(kept, holds=Holds(positions="99")), "position .* called .99"),
            (replace(kept, holds=Holds(from_on=LATER, until_on=TODAY)), "before it began"),
        ):
            with pytest.raises(Refused, match=said):
                correct_kit_line(session, shop.kit_spring, seen, changed, by(shop))
        correct_kit_line(session, shop.kit_spring, seen, replace(kept, quantity=4), by(shop))
        assert kit_line_as_kept(session, shop.kit_spring).quantity == 4
        with pytest.raises(Refused, match="no such kit line"):
            kit_line_as_kept(session, 99)
    assert sound(shop)
