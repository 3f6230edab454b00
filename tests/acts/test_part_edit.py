"""Changes of a part itself, of its numbers and hazards, and what its page shows besides."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from invdb.acts.by import By
from invdb.acts.catalogue import NewOtherNumber
from invdb.acts.change import seen_of
from invdb.acts.directive import NewDirective, add_directive
from invdb.acts.find import find
from invdb.acts.fit_limit import NewFitLimit, add_fit_limit
from invdb.acts.goods_in import GoodsIn
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.numbers import part_by_number
from invdb.acts.papers import NewPaper
from invdb.acts.part_edit import (
    add_hazard,
    add_number,
    change_caution,
    correct_number,
    edit_part,
    withdraw_hazard,
    withdraw_number,
)
from invdb.acts.part_page import PartPage, part_page
from invdb.acts.part_papers import add_part_papers
from invdb.acts.reverse import reverse
from invdb.acts.spec import NewSpec, add_spec
from invdb.acts.spec_line import NewSpecLine
from invdb.acts.things import things_by_id
from invdb.acts.trace import trace_thing
from invdb.acts.work import ToSend, WorkSent, send_for_work
from invdb.terms import (
    Asked,
    Condition,
    FieldRefused,
    FitKind,
    Hazard,
    Origin,
    PaperKind,
    Refused,
    Scope,
    SpecKind,
    WorkWanted,
)
from tests.engine_shop import came, sound
from tests.shop import TODAY, Shop

WHY = "Pellworth leaflet 31"


def by(shop: Shop, note: str = WHY) -> By:
    return By(shop.inspector, None, note)


def valve(session: Session, shop: Shop) -> PartPage:
    return part_page(session, shop.valve)


def test_a_part_is_changed_with_a_reason_and_keeps_what_it_was(shop: Shop) -> None:
    with shop.store.writing() as session:
        looked = valve(session, shop).entry
        changes = {
            "name": "Exhaust valve ",
            "note": "stellited seat",
            "shelf_life_months": 24,
            "critical": True,
        }
        with pytest.raises(FieldRefused, match="why this is changed"):
            edit_part(session, shop.valve, looked, changes, by(shop, " "))
        first = edit_part(session, shop.valve, looked, changes, by(shop))
        change = valve(session, shop).changes[0]
        assert (change.entry, change.who, change.happened_on, change.note) == (
            first,
            "Ada Farrow",
            TODAY,
            WHY,
        )
        assert change.what == (
            "the part: critical no → yes; note none → stellited seat; shelf life none → 24 months",
        )
        with pytest.raises(Refused) as caught:
            edit_part(session, shop.valve, looked, {"shelf_life_months": 36}, by(shop))
        assert "shelf life is now 24 months, and you have 36 months" in str(caught.value)
        with pytest.raises(Refused, match="Nothing is changed"):
            edit_part(session, shop.valve, first, {"note": "stellited seat"}, by(shop))
        with pytest.raises(Refused, match="no such part"):
            edit_part(session, 999, first, changes, by(shop))
        reverse(session, first, "wrong leaflet", shop.by())
        assert valve(session, shop).note == ""
        assert first not in {each.entry for each in valve(session, shop).changes}
    assert sound(shop)


def test_what_lies_here_does_not_quietly_become_another_size_or_finish(shop: Shop) -> None:
    with shop.store.writing() as session:
        looked = valve(session, shop).entry
        edit_part(session, shop.valve, looked, {"finish": "nitrided"}, by(shop))
        shop.piece(session)
        shop.book_in(session, shop.valve, pieces=1, goods=GoodsIn(Origin.NEW, 0, finish="chromium plated"))
        looked = valve(session, shop).entry
        with pytest.raises(
            Asked, match=r"1 tag of it is held as its own finish, nitrided, and would be plain"
        ):
            edit_part(session, shop.valve, looked, {"finish": "plain", "size_class": ""}, by(shop))
        edit_part(session, shop.valve, looked, {"finish": "plain"}, by(shop), sure=True)
        shop.piece(session)
        looked = valve(session, shop).entry
        with pytest.raises(
            Asked, match=r"3 tags of it are held as its own size, standard, and would be 0\.25"
        ):
            edit_part(session, shop.valve, looked, {"size_class": "0.25 mm oversize"}, by(shop))


def test_numbers_are_added_and_corrected_and_found_by_what_they_are_now(shop: Shop) -> None:
    with shop.store.writing() as session:
        made = add_number(session, shop.valve, NewOtherNumber("PW 1188", "drawing"), by(shop))
        looked = seen_of(session, "other_number", made)
        corrected = NewOtherNumber("PW 1189", "drawing", shop.supplier)
        correct_number(session, made, looked, corrected, by(shop))
        number = valve(session, shop).house_number
        assert part_by_number(session, "PW 1189") == shop.valve
        assert [each.headline for each in find(session, "1189").found] == [number]
        assert "PW 1188" not in str(find(session, "PW 1188").found)
        assert [(each.number, each.kind, each.firm) for each in valve(session, shop).numbers] == [
            ("PW 1187", "maker's", "Aldermoor Aero Spares"),
            ("PW 1189", "drawing", "Aldermoor Aero Spares"),
        ]
        assert valve(session, shop).changes[0].what == (
            "drawing number PW 1189: firm none → Aldermoor Aero Spares; number PW 1188 → PW 1189",
        )
        again = seen_of(session, "other_number", made)
        for act, said in (
            (lambda: correct_number(session, made, looked, replace(corrected, kind="dealer's"), by(shop)),
             "Ada Farrow changed this number"),
            (lambda: correct_number(session, made, again, corrected, by(shop)), "Nothing is changed"),
            (lambda: correct_number(session, made, again, replace(corrected, number="pw 1187"), by(shop)),
             "has the number pw 1187 already"),
            (lambda: correct_number(session, made, again, replace(corrected, number=" "), by(shop)), "empty"),
            (lambda: correct_number(session, 99, again, corrected, by(shop)), "no such number"),
            (lambda: add_number(session, 999, corrected, by(shop)), "no such part"),
            (lambda: add_number(session, shop.barrel, corrected, by(shop, "")), "why this is changed"),
        ):  # fmt: skip
            with pytest.raises(Refused, match=said):
                act()
        # The case of a number may be put right, though it is compared without.
        correct_number(session, made, again, replace(corrected, number="Pw 1189"), by(shop))
    assert sound(shop)


def test_a_hazard_comes_with_a_caution_that_may_be_changed(shop: Shop) -> None:
    with shop.store.writing() as session:
        for act, said in (
            (lambda: add_hazard(session, shop.valve, Hazard.CADMIUM, " ", by(shop)), "what to do about it"),
            (lambda: add_hazard(session, shop.valve, Hazard.SODIUM, "Keep dry.", by(shop)), "already"),
            (lambda: add_hazard(session, 999, Hazard.CADMIUM, "Wear gloves.", by(shop)), "no such part"),
            (lambda: change_caution(session, 99, 1, "Wear gloves.", by(shop)), "no such hazard"),
        ):
            with pytest.raises(Refused, match=said):
                act()
        made = add_hazard(session, shop.valve, Hazard.CADMIUM, "Wear gloves.", by(shop))
        looked = seen_of(session, "part_hazard", made)
        change_caution(session, made, looked, "Wear gloves; don't grind.", by(shop))
        assert [(each.hazard, each.caution) for each in valve(session, shop).hazards] == [
            (Hazard.SODIUM, "Do not cut the stem."),
            (Hazard.CADMIUM, "Wear gloves; don't grind."),
        ]
        with pytest.raises(Refused, match="Ada Farrow changed this hazard"):
            change_caution(session, made, looked, "None.", by(shop))
    assert sound(shop)


def test_what_is_withdrawn_is_found_and_warned_of_no_more_and_stays_in_the_history(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = came(session, shop, shop.valve)
        (number,) = valve(session, shop).numbers
        (hazard,) = valve(session, shop).hazards
        with pytest.raises(FieldRefused, match="why this is changed"):
            withdraw_number(session, number.id, number.entry, by(shop, ""))
        with pytest.raises(Refused, match="Ada Farrow changed this number"):
            withdraw_number(session, number.id, number.entry - 1, by(shop))
        withdraw_number(session, number.id, number.entry, by(shop))
        with pytest.raises(Asked, match="will be warned any more that it is sodium-filled"):
            withdraw_hazard(session, hazard.id, hazard.entry, by(shop))
        assert trace_thing(session, piece).hazards
        withdraw_hazard(session, hazard.id, hazard.entry, by(shop), sure=True)
        assert not valve(session, shop).numbers and not valve(session, shop).hazards
        before = part_page(session, shop.valve, TODAY - timedelta(days=1))
        assert [each.id for each in before.numbers] == [number.id]
        assert [each.id for each in before.hazards] == [hazard.id]
        assert not trace_thing(session, piece).hazards and not trace_thing(session, piece).other_numbers
        assert not things_by_id(session, [piece])[piece].hazards
        assert "PW 1187" not in str(find(session, "PW 1187").found)
        with pytest.raises(Refused, match="PW 1187"):
            part_by_number(session, "PW 1187")
        assert [each.what for each in valve(session, shop).changes[:2]] == [
            (f"hazard sodium-filled: withdrawn on none → {TODAY}",),
            (f"maker's number PW 1187: withdrawn on none → {TODAY}",),
        ]
        for act in (
            lambda: withdraw_number(session, number.id, number.entry, by(shop)),
            lambda: withdraw_hazard(session, hazard.id, hazard.entry, by(shop), sure=True),
        ):
            with pytest.raises(Refused, match="was withdrawn on"):
                act()
        # The number may be another part's now, and the hazard come back with its own caution.
        add_number(session, shop.barrel, NewOtherNumber("PW 1187", firm=shop.supplier), by(shop))
        assert part_by_number(session, "PW 1187") == shop.barrel
        add_number(session, shop.valve, NewOtherNumber("PW 1187", firm=shop.supplier), by(shop))
        add_hazard(session, shop.valve, Hazard.SODIUM, "Never cut it.", by(shop))
    assert sound(shop)


def test_papers_photographs_work_holds_and_orders_stand_on_the_page(shop: Shop) -> None:
    with shop.store.writing() as session:
        photograph = NewPaper(PaperKind.PHOTOGRAPH, "Stem", content=b"jpeg", file_name="stem.jpg")
        add_part_papers(session, shop.valve, (photograph,), shop.by())
        drawing = NewPaper(PaperKind.STATEMENT, "Drawing 4")
        add_part_papers(session, shop.barrel, (drawing,), shop.by())
        first, second = (
            each.document for part in (shop.valve, shop.barrel) for each in part_page(session, part).papers
        )
        add_part_papers(session, shop.valve, (), shop.by(), known=second)
        with pytest.raises(FieldRefused, match="already"):
            add_part_papers(session, shop.valve, (), shop.by(), known=second)
        line = NewSpecLine(SpecKind.DIMENSION, "stem", unit="in", new_low="0.4980", new_high="0.4990")
        add_spec(session, NewSpec(shop.valve, "B", TODAY, "Sheet 4", (line,), first), shop.by())
        add_spec(session, NewSpec(shop.spring, "A", TODAY, "Sheet 4", (line,), first), shop.by())
        valve_out = came(session, shop, shop.valve)
        valve_in = came(session, shop, shop.valve)
        sent = (ToSend(valve_out),)
        order = WorkSent(shop.works, WorkWanted.INSPECTION, "crack test", sent, TODAY, hazards_seen=True)
        made = send_for_work(session, order, shop.by())
        raise_hold(session, (Subject(part=shop.valve),), "burnt heads", shop.by())
        order_of = NewDirective("AD 7", "Valve heads", "crack test", TODAY, part=shop.valve, within_months=1)
        add_directive(session, order_of, shop.by())
        page = valve(session, shop)
        assert [(each.reference, each.kept, each.about) for each in page.papers] == [
            ("Stem", True, "the part"),
            ("Drawing 4", False, "the part"),
        ]
        assert [each.about for each in part_page(session, shop.spring).papers] == ["a specification"]
        assert [(each.number, [line.thing for line in each.lines]) for each in page.work] == [
            (made.number, [valve_out])
        ]
        assert {(row.thing, row.bin, row.condition, row.scope) for row in page.stock_rows} == {
            (valve_in, "A-01-01", Condition.SERVICEABLE, Scope.FLIGHT),
            (valve_out, "At Brackwater", Condition.SERVICEABLE, Scope.FLIGHT),
        }
        assert [(each.words, each.fitted, each.things) for each in page.stock] == [("2 off", 0, 2)]
        assert [(each.reason, each.raised_by) for each in page.holds] == [("burnt heads", "Ada Farrow")]
        assert [(each.reference, each.batch) for each in page.directives] == [("AD 7", "")]
        assert "paper Stem added" in [words for each in page.changes for words in each.what]
        (line_shown,) = page.spec_lines
        assert line_shown.new == "0.4980 in (12.6492 mm) to 0.4990 in (12.6746 mm)"
        assert not part_page(session, shop.gasket).work
    assert sound(shop)


def test_a_fit_is_shown_with_both_its_parts_and_both_ways(shop: Shop) -> None:
    with shop.store.writing() as session:
        fit = NewFitLimit(
            shop.linnet, "cylinder", "stem in guide", FitKind.AS_FOUND, "head joint", "bore", "exhaust valve",
            "stem", "mm", "0.05", "0.10", "Sheet 4", worn_high="0.20", target="0.06",
        )  # fmt: skip
        add_fit_limit(session, fit, shop.by())
        add_fit_limit(session, replace(fit, name="for the plain one", inner_part=shop.barrel), shop.by())
        (shown,) = valve(session, shop).fits
        assert shown.between == "bore of the head joint and stem of the exhaust valve"
        assert (shown.engine_type, shown.limits) == ("Linnet", "0.05 mm (0.00197 in) to 0.10 mm (0.00394 in)")
        assert (shown.worn, shown.target) == ("0.20 mm (0.00787 in)", "0.06 mm (0.00236 in)")
        assert not part_page(session, shop.spring).fits
