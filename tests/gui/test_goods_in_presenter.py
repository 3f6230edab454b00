"""Goods in as the form asks for it, on a real store and with no window."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from gui.job import Job
from gui.shown import ChosenFile
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.goods_in_offers import NEW_FAMILY, FirmToAdd, PartToAdd, firm_search, part_search
from gui.views.goods_in_presenter import filled_by
from gui.views.stores_plans import Act
from gui.views.stores_presenter import StoresPresenter
from invdb.acts.goods_in import Received
from invdb.acts.offers import PartDetails, first_offers, parts_by_ids
from invdb.acts.trace import trace
from invdb.rules.history import TraceSheet
from invdb.terms import (
    FieldRefused,
    Hazard,
    HoursKnown,
    Measure,
    Origin,
    PaperKind,
    PriorLife,
    Refused,
    Tracking,
    WorkState,
)
from tests.gui.stores_shop import fill_in, shown_fields, sit, state_of
from tests.shop import TODAY, Shop, sqlite_shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


@pytest.fixture
def sitting(shop: Shop) -> Sitting:
    return sit(shop)


def form(sitting: Sitting) -> FormPlan:
    """The goods-in form as it opens now."""
    return StoresPresenter(sitting).plan(Act.GOODS_IN, [])


def part(shop: Shop, which: int) -> PartDetails:
    with shop.store.reading() as session:
        return parts_by_ids(session, [which])[which]


def traced(shop: Shop, received: Received, which: int = 0) -> TraceSheet:
    with shop.store.reading() as session:
        return trace(session, received.things[which][1])


def book_in(sitting: Sitting, shop: Shop, which: int, **given: Any) -> Received:
    received: Received = fill_in(form(sitting), part=part(shop, which), **{"origin": Origin.NEW, **given})
    return received


def test_the_form_offers_today_goods_in_and_ourselves(sitting: Sitting, shop: Shop) -> None:
    offered = {field.name: field.start for field in form(sitting).fields}
    assert offered["happened_on"] == TODAY
    assert offered["place"].headline == "Goods in"
    assert offered["owner"] == shop.workshop
    assert offered["firm"] is None


def test_the_last_firm_and_the_last_bin_are_offered_again(sitting: Sitting, shop: Shop) -> None:
    book_in(sitting, shop, shop.barrel, firm=shop.supplier, place=shop.bin_b)
    offered = {field.name: field.start for field in form(sitting).fields}
    assert offered["firm"].headline == "Aldermoor Aero Spares"
    assert offered["place"].ref == shop.bin_b


def test_one_barrel_by_its_number_and_serial(sitting: Sitting, shop: Shop) -> None:
    received = book_in(sitting, shop, shop.barrel, serial="LL-7001")
    sheet = traced(shop, received)
    assert (sheet.serial, sheet.where_now) == ("LL-7001", "Stores › Goods in")
    assert sheet.tag in form(sitting).told(received)


def test_several_like_pieces_are_one_entry(sitting: Sitting, shop: Shop) -> None:
    received = book_in(sitting, shop, shop.barrel, pieces="3", serials="LL-1\n\nLL-2")
    assert [traced(shop, received, which).serial for which in range(3)] == ["LL-1", "LL-2", ""]
    assert len({traced(shop, received, which).last_entry for which in range(3)}) == 1


def test_more_serials_than_pieces_are_refused(sitting: Sitting, shop: Shop) -> None:
    with pytest.raises(Refused, match="3 serials are given for 2 pieces"):
        book_in(sitting, shop, shop.barrel, pieces="2", serials="LL-1\nLL-2\nLL-3")


@pytest.mark.parametrize("written", ["0", "-2", "1.5", "many", "201"])
def test_no_absurd_number_of_pieces(sitting: Sitting, shop: Shop, written: str) -> None:
    with pytest.raises(Refused) as refused:
        book_in(sitting, shop, shop.barrel, pieces=written)
    assert isinstance(refused.value, FieldRefused)
    assert refused.value.field in ("pieces", "quantity")


def test_a_serial_that_is_here_already_points_to_the_other_piece(sitting: Sitting, shop: Shop) -> None:
    first = book_in(sitting, shop, shop.barrel, serial="LL-7001")
    with pytest.raises(FieldRefused, match=first.things[0][1]) as refused:
        book_in(sitting, shop, shop.barrel, serial="LL-7001")
    assert refused.value.field == "serial"
    with pytest.raises(FieldRefused) as refused:
        book_in(sitting, shop, shop.barrel, pieces="2", serials="LL-7001\nLL-7002")
    assert refused.value.field == "serials"


def test_a_length_of_wire_and_a_wrong_unit(sitting: Sitting, shop: Shop) -> None:
    received = book_in(sitting, shop, shop.wire, quantity="1.5 m", maker_batch="W 12")
    assert traced(shop, received).quantities[0].quantity == 1_500_000
    with pytest.raises(FieldRefused, match="kg"):
        book_in(sitting, shop, shop.wire, quantity="1.5 kg")


def test_a_gasket_needs_the_end_of_its_shelf_life(sitting: Sitting, shop: Shop) -> None:
    plan = form(sitting)
    assert "shelf_expiry_on" in shown_fields(plan, {"part": part(shop, shop.gasket)})
    assert "shelf_expiry_on" not in shown_fields(plan, {"part": part(shop, shop.spring)})
    received = book_in(sitting, shop, shop.gasket, quantity="6", shelf_expiry_on=date(2029, 6, 1))
    assert traced(shop, received).shelf_expiry_on == date(2029, 6, 1)


def test_what_was_made_here_says_how(sitting: Sitting, shop: Shop) -> None:
    asked = {"drawing", "revision", "material", "material_certificate", "made_by", "inspected_by"}
    plan = form(sitting)
    assert asked <= shown_fields(plan, {"part": part(shop, shop.barrel), "origin": Origin.MADE_HERE})
    assert not asked & shown_fields(plan, {"part": part(shop, shop.barrel), "origin": Origin.NEW})
    received = book_in(
        sitting,
        shop,
        shop.barrel,
        origin=Origin.MADE_HERE,
        drawing="HFM 204",
        revision="C",
        material="EN40B",
        material_certificate="heat 8812",
        made_by="Ben Hollis",
        inspected_by="Ada Farrow",
    )
    made = traced(shop, received).made_here
    assert made is not None
    assert (made.drawing, made.drawing_revision, made.made_by) == ("HFM 204", "C", "Ben Hollis")


def test_a_salvaged_valve_says_which_engine_and_what_it_ran(sitting: Sitting, shop: Shop) -> None:
    with pytest.raises(Refused, match="which engine"):
        book_in(sitting, shop, shop.valve, origin=Origin.SALVAGED)
    received = book_in(
        sitting,
        shop,
        shop.valve,
        origin=Origin.SALVAGED,
        donor_engine=shop.engine,
        prior_hours="at least 300",
        prior_starts="between 40 and 60",
    )
    sheet = traced(shop, received)
    assert sheet.donor == "Linnet One"
    assert sheet.prior_hours == PriorLife(HoursKnown.AT_LEAST, 300_00)
    assert sheet.prior_starts == PriorLife(HoursKnown.BETWEEN, 40, 60)


def test_hours_that_are_not_given_are_unknown_once_it_was_used(sitting: Sitting, shop: Shop) -> None:
    received = book_in(sitting, shop, shop.valve, origin=Origin.UNKNOWN)
    assert traced(shop, received).prior_hours == PriorLife(HoursKnown.UNKNOWN)


def test_a_reconditioned_piece_needs_its_report(sitting: Sitting, shop: Shop) -> None:
    plan = form(sitting)
    done = {"part": part(shop, shop.barrel), "work_state": WorkState.RECONDITIONED, "origin": Origin.UNKNOWN}
    assert "work_reference" in shown_fields(plan, done)
    received = book_in(
        sitting,
        shop,
        shop.barrel,
        origin=Origin.UNKNOWN,
        work_state=WorkState.RECONDITIONED,
        work_reference="BP 118",
        prior_hours="412.5",
    )
    assert traced(shop, received).work_reference == "BP 118"


def test_checks_and_damage_are_kept_in_words(sitting: Sitting, shop: Shop) -> None:
    received = book_in(
        sitting, shop, shop.barrel, checks=frozenset({"right_part"}), damage="two fins chipped"
    )
    found = {check.name: check.found for check in traced(shop, received).checks}
    assert found == {"right part": "yes", "papers": "", "damage": "two fins chipped", "hazards": ""}


def test_hazards_are_shown_before_and_told_after(sitting: Sitting, shop: Shop) -> None:
    plan = form(sitting)
    assert plan.said({"part": part(shop, shop.valve)}) == "⚠ Mind: sodium-filled: Do not cut the stem."
    assert plan.said({"part": part(shop, shop.barrel)}) == ""
    received = book_in(sitting, shop, shop.valve, serial="V 1")
    assert "Mind: sodium-filled. Do not cut the stem." in plan.told(received)


def test_papers_come_with_the_goods(sitting: Sitting, shop: Shop, tmp_path: Path) -> None:
    scan = tmp_path / "release 44.pdf"
    scan.write_bytes(b"%PDF release")
    received = book_in(
        sitting,
        shop,
        shop.barrel,
        paper_kind=PaperKind.RELEASE_CERTIFICATE,
        paper_reference="RC 44",
        papers=(ChosenFile(scan, PaperKind.RELEASE_CERTIFICATE),),
    )
    (paper,) = traced(shop, received).papers
    assert (paper.reference, paper.content_held) == ("RC 44", True)


def test_a_part_is_found_by_any_of_its_numbers(sitting: Sitting, shop: Shop) -> None:
    for words in ("pw1187", "exhaust valve"):
        hit = part_search(sitting)(Job(), words).hits[0]
        assert hit.ref == part(shop, shop.valve)
        assert hit.headline.endswith("Exhaust valve")


def test_a_part_family_and_firm_are_added_on_the_spot(sitting: Sitting, shop: Shop) -> None:
    found = part_search(sitting)(Job(), "PW 9 quill").hits
    assert [hit.ref for hit in found] == [PartToAdd("PW 9 quill")]
    assert filled_by("part", {"part": PartToAdd("PW 9 quill")}) == {"number": "PW 9 quill"}
    assert filled_by("part", {"part": PartToAdd("Quill shaft")}) == {"name": "Quill shaft"}
    assert firm_search(sitting)(Job(), "Tolland").hits[-1].ref == FirmToAdd("Tolland")
    received = fill_in(
        form(sitting),
        part=PartToAdd("PW 9"),
        family=NEW_FAMILY,
        letters="QS",
        family_name="Quill shafts",
        name="Quill shaft",
        number="PW 9",
        tracking=Tracking.PIECE,
        life_limit_hours="800",
        hazard_kinds=frozenset({Hazard.CADMIUM}),
        origin=Origin.NEW,
        firm=FirmToAdd("Tolland Spares"),
    )
    sheet = traced(shop, received)
    assert sheet.part_number.startswith("QS0001")
    assert sheet.origin_firm == "Tolland Spares"
    assert state_of(shop, received.things[0][0]).life_limit == 800_00
    with shop.store.reading() as session:
        firm = first_offers(session, shop.inspector).firm
    assert firm is not None
    assert firm.name == "Tolland Spares"


def test_nothing_is_added_when_the_rest_is_refused(sitting: Sitting, shop: Shop) -> None:
    taken = {"letters": "VX", "family_name": "Valves again"}
    with pytest.raises(FieldRefused) as refused:
        fill_in(
            form(sitting),
            part=PartToAdd("x"),
            family=NEW_FAMILY,
            name="Valve",
            tracking=Tracking.BATCH,
            measure=Measure.COUNT,
            quantity="3",
            origin=Origin.NEW,
            firm=FirmToAdd("Tolland Spares"),
            **taken,
        )
    assert refused.value.field == "letters"
    assert not any(isinstance(hit.ref, int) for hit in firm_search(sitting)(Job(), "Tolland").hits)


def test_a_mistyped_number_is_not_offered_as_a_new_part(sitting: Sitting, shop: Shop) -> None:
    number = part(shop, shop.valve).house_number
    wrong = number[:-1] + ("2" if number[-1] != "2" else "3")
    answer = part_search(sitting)(Job(), wrong)
    assert "mistyped" in answer.note
    assert not any(isinstance(hit.ref, PartToAdd) for hit in answer.hits)


def test_goods_do_not_go_into_a_bonded_bin(sitting: Sitting, shop: Shop) -> None:
    with pytest.raises(FieldRefused) as refused:
        book_in(sitting, shop, shop.barrel, place=shop.bonded)
    assert refused.value.field == "place"
