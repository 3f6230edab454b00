"""Changes of kit lists: each dated, signed and kept, and none of them rewrites what pulls hang on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts.by import By
from invdb.acts.catalogue import Holds, NewKitLine, NewPart
from invdb.acts.change import seen_of
from invdb.acts.kit_line_edit import (
    add_to_kit_list,
    correct_kit_line,
    end_kit_line,
    kit_line_as_kept,
    pulls_on_kit_line,
    replace_kit_line,
)
from invdb.acts.part_page import part_page
from invdb.acts.presume import presume
from invdb.acts.pull import issue
from invdb.records.ledger import Entry
from invdb.terms import EntryKind, FieldRefused, Measure, Refused, Tracking
from tests.engine_shop import begin, sound
from tests.fitted_shop import add_mod
from tests.kit_shop import proposed, reserved, stock
from tests.shop import TODAY, Shop

LATER = TODAY + timedelta(days=10)
EARLIER = TODAY - timedelta(days=30)
WHY = "Pellworth leaflet 31"


def by(shop: Shop, on: date | None = None, note: str = WHY) -> By:
    return By(shop.inspector, on, note)


def seen(session: Session, line: int) -> int:
    return seen_of(session, "kit_line", line)


def springs(session: Session, shop: Shop) -> NewKitLine:
    return kit_line_as_kept(session, shop.kit_spring)


def field_of(act: Callable[[], object]) -> tuple[str, str]:
    with pytest.raises(FieldRefused) as caught:
        act()
    return caught.value.field, str(caught.value)


def test_a_line_is_added_where_the_drawing_has_its_station(shop: Shop) -> None:
    with shop.store.writing() as session:
        mod = add_mod(shop, session, "L22")
        holds = Holds("4,5", "L1000", " ", mod, True)
        line = NewKitLine(shop.linnet, "Cylinder", 4, "Head joint", shop.spring, 3, holds=holds, note=" x ")
        made = add_to_kit_list(session, line, by(shop))
        kept = kit_line_as_kept(session, made)
        assert (kept.group, kept.station, kept.note) == ("cylinder", "head joint", "x")
        assert (kept.holds.positions, kept.holds.serial_to) == ("4, 5", None)
        (use,) = [use for use in part_page(session, shop.spring).uses if use.kit_line == made]
        assert use.holds == "only 4, 5, serials from L1000, with mod L22"
        (change, *_) = part_page(session, shop.spring).changes
        assert (change.who, change.note) == ("Ada Farrow", WHY)
        assert "quantity 3 off; positions 4, 5; serial from L1000; mod L22" in change.what[0]
    assert sound(shop)


def test_what_can_not_be_on_a_list_is_refused_by_its_field(shop: Shop) -> None:
    with shop.store.writing() as session:
        plain = catalogue.add_part(session, NewPart(1, "Plain valve", Tracking.PIECE), shop.by())
        line = NewKitLine(shop.linnet, "cylinder", 4, "head joint", plain, 1)
        for wrong, field, said in (
            (replace(line, group="case"), "group", "no group of the Linnet called 'case'"),
            (replace(line, station="sump"), "station", "called 'sump'"),
            (replace(line, part=999), "part", "no such part"),
            (replace(line, quantity=0), "quantity", "asks for nothing"),
            (replace(line, quantity=10**9), "quantity", "more than any workshop holds"),
            (replace(line, sequence=-1), "sequence", "below zero"),
            (replace(line, holds=Holds("9")), "positions", "called '9'"),
            (replace(line, part=shop.gasket), "part", f"Kit line {shop.kit_gasket} asks for that there"),
        ):
            found, words = field_of(lambda wrong=wrong: add_to_kit_list(session, wrong, by(shop)))  # type: ignore[misc]
            assert (found, said in words) == (field, True), words
        assert field_of(lambda: add_to_kit_list(session, line, by(shop, note=" ")))[0] == "reason"


def test_of_two_who_correct_a_line_the_second_is_told_both_figures(shop: Shop) -> None:
    with shop.store.writing() as session:
        looked = seen(session, shop.kit_spring)
        line = springs(session, shop)
        keeper = replace(by(shop), person=shop.keeper)
        first = correct_kit_line(session, shop.kit_spring, looked, replace(line, quantity=3), keeper)
        with pytest.raises(Refused) as caught:
            correct_kit_line(session, shop.kit_spring, looked, replace(line, quantity=4), by(shop))
        assert f"Ben Hollis changed this kit line with entry {first} of {TODAY}" in str(caught.value)
        assert "quantity is now 3 off, and you have 4 off" in str(caught.value)
        with pytest.raises(Refused) as caught:
            correct_kit_line(session, shop.kit_spring, looked, replace(line, station="head joint"), by(shop))
        assert "quantity is now 3 off, and you have 2 off" in str(caught.value)


def test_a_correction_is_kept_as_what_it_was_and_what_it_is(shop: Shop) -> None:
    with shop.store.writing() as session:
        line = springs(session, shop)
        wrong = replace(line, part=shop.gasket, renewed_always=True)
        correct_kit_line(session, shop.kit_spring, seen(session, shop.kit_spring), wrong, by(shop))
        number, other = (part_page(session, part).house_number for part in (shop.spring, shop.gasket))
        said = (
            f"kit line Linnet cylinder, exhaust springs: part {number} → {other}; renewed always no → yes",
        )
        # Both parts were concerned, and each keeps it in its history.
        assert part_page(session, shop.spring).changes[0].what == said
        assert part_page(session, shop.gasket).changes[0].what == said
        assert not part_page(session, shop.spring).uses
    assert sound(shop)


def test_only_a_note_may_be_corrected_while_a_pull_hangs_on_a_line(shop: Shop) -> None:
    stock(shop)
    (pull,) = reserved(shop, "1")
    with shop.store.writing() as session:
        line = springs(session, shop)
        assert pulls_on_kit_line(session, shop.kit_spring) == (pull.number,)
        with pytest.raises(Refused, match=f"Pull {pull.number}"):
            looked = seen(session, shop.kit_spring)
            correct_kit_line(session, shop.kit_spring, looked, replace(line, quantity=3), by(shop))
        noted = replace(line, note="paint marks outwards")
        correct_kit_line(session, shop.kit_spring, seen(session, shop.kit_spring), noted, by(shop))
        with pytest.raises(Refused, match=f"Pull {pull.number}"):
            looked = seen(session, shop.kit_spring)
            replace_kit_line(session, shop.kit_spring, looked, replace(noted, quantity=3), TODAY, by(shop))


def test_a_pull_is_not_issued_once_its_line_has_ended(shop: Shop) -> None:
    stock(shop)
    (pull,) = reserved(shop, "1")
    with shop.store.writing() as session:
        line = springs(session, shop)
        looked = seen(session, shop.kit_spring)
        replace_kit_line(session, shop.kit_spring, looked, replace(line, quantity=3), LATER, by(shop))
    shop.clock.instant += timedelta(days=10)
    with shop.store.writing() as session, pytest.raises(Refused, match="its kit line no longer holds"):
        issue(session, pull.pull, shop.by())
    (kit,) = proposed(shop, "2").kits
    assert [each.quantity for each in kit.lines if each.part == shop.spring] == [3]
    assert sound(shop)


def test_what_is_presumed_by_a_line_keeps_it_from_being_rewritten_but_not_from_ending(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        presume(session, shop.engine, shop.by(EARLIER))
        line = springs(session, shop)
        looked = seen(session, shop.kit_spring)
        with pytest.raises(Refused, match="exhaust springs of Linnet One, 1, is presumed since"):
            correct_kit_line(session, shop.kit_spring, looked, replace(line, quantity=3), by(shop))
        with pytest.raises(Refused, match="Give a later day"):
            end_kit_line(session, shop.kit_spring, looked, EARLIER, by(shop))
        end_kit_line(session, shop.kit_spring, looked, EARLIER + timedelta(days=1), by(shop))
    assert sound(shop)


def test_a_line_is_replaced_in_one_entry_and_only_by_another_of_its_group(shop: Shop) -> None:
    with shop.store.writing() as session:
        line = springs(session, shop)
        looked = seen(session, shop.kit_spring)
        before = session.scalars(select(Entry.number)).all()
        for new, from_on, said in (
            (line, TODAY, "as the old one"),
            (replace(line, group="case"), TODAY, "Another group's"),
            (replace(line, quantity=3), date(1826, 1, 1), "can't be meant"),
            (replace(line, quantity=3, holds=Holds(until_on=TODAY)), TODAY, "before it began"),
        ):
            with pytest.raises(Refused, match=said):
                replace_kit_line(session, shop.kit_spring, looked, new, from_on, by(shop))
        made = replace_kit_line(
            session, shop.kit_spring, looked, replace(line, quantity=3), EARLIER, by(shop, EARLIER)
        )
        after = session.execute(select(Entry.number, Entry.kind, Entry.note)).all()
        assert [(row.kind, row.note) for row in after if row.number not in before] == [
            (EntryKind.CATALOGUE, WHY)
        ]
        assert part_page(session, shop.spring, EARLIER - timedelta(days=1)).uses[-1].waits
        with pytest.raises(Refused, match="It ends on"):
            end_kit_line(session, shop.kit_spring, seen(session, shop.kit_spring), LATER, by(shop))
        with pytest.raises(Refused, match="It began on"):
            end_kit_line(session, made, seen(session, made), EARLIER, by(shop))
    assert sound(shop)


def test_what_is_measured_is_told_in_its_own_unit(shop: Shop) -> None:
    with shop.store.writing() as session:
        wire = NewKitLine(shop.linnet, "cylinder", 9, "head joint", shop.wire, 1_250_000)
        made = add_to_kit_list(session, wire, by(shop))
        correct_kit_line(session, made, seen(session, made), replace(wire, quantity=900_000), by(shop))
        page = part_page(session, shop.wire)
        assert page.measure is Measure.LENGTH
        assert page.changes[0].what == ("kit line Linnet cylinder, head joint: quantity 1.25 m → 900 mm",)
