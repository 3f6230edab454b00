"""Orders and enquiries read whole for their paper."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from invdb.acts.catalogue import NewOtherNumber
from invdb.acts.enquiry import NewEnquiry, NewEnquiryLine, add_enquiry
from invdb.acts.enquiry_sheet import enquiry_sheets
from invdb.acts.order_sheet import order_sheet
from invdb.acts.part_edit import add_number
from invdb.acts.purchase_order import NewOrder, NewOrderLine, close_order_line, place_order
from invdb.acts.shop import add_firm
from invdb.records.buying import OrderLine
from invdb.rules.money import Money
from invdb.rules.order_sheet import GivenPiece, OrderedPart, OrderSheetLine
from invdb.rules.pick_list import HazardNote
from invdb.terms import FirmRole, Measure, OrderKind, Refused
from tests.shop import TODAY, Shop

DUE = date(2026, 9, 1)


def test_an_order_is_read_with_its_prices_and_the_firms_own_number(shop: Shop) -> None:
    with shop.store.writing() as session:
        lines = (
            NewOrderLine(shop.valve, 4, 41_50, wanted="new guides too"),
            NewOrderLine(shop.wire, 2_500_000, 1_25),
        )
        order = NewOrder(shop.supplier, "EUR", lines, due_on=DUE, reference="Q 118", note="Send it whole.")
        made = place_order(session, order, shop.by())
    with shop.store.reading() as session:
        sheet = order_sheet(session, made.order)
    assert (sheet.workshop, sheet.number, sheet.kind) == (
        "Harrowmere Flying Museum",
        made.number,
        OrderKind.BUY,
    )
    assert (sheet.firm, sheet.town, sheet.ordered_by) == ("Aldermoor Aero Spares", "Saltby", "Ada Farrow")
    assert (sheet.ordered_on, sheet.due_on, sheet.reference) == (TODAY, DUE, "Q 118")
    assert sheet.note == "Send it whole."
    valves, wire = sheet.lines
    assert (valves.part.their_number, valves.part.other_numbers) == ("PW 1187", ())
    assert (valves.part.name, valves.part.wanted) == ("Exhaust valve", "new guides too")
    assert valves.amount == Money(166_00, "EUR")
    assert wire.part == OrderedPart(wire.part.house_number, "Locking wire", 2_500_000, Measure.LENGTH)
    # 2.5 m at 1.25 are 3.125, rounded half up.
    assert wire.amount == Money(3_13, "EUR")
    assert sheet.total == Money(169_13, "EUR")


def test_a_line_without_a_price_and_a_closed_one_say_so(shop: Shop) -> None:
    with shop.store.writing() as session:
        order = NewOrder(shop.supplier, "EUR", (NewOrderLine(shop.valve, 4),))
        made = place_order(session, order, shop.by())
        (line,) = session.query(OrderLine.id).one()
        assert (order_sheet(session, made.order).total, order_sheet(session, made.order).unpriced) == (
            None,
            1,
        )
        close_order_line(session, line, "the firm has no more", shop.by())
    with shop.store.reading() as session:
        sheet = order_sheet(session, made.order)
    assert (sheet.lines[0].closed_on, sheet.unpriced) == (TODAY, 0)


def test_an_exchange_names_the_piece_given_and_its_hazards(shop: Shop) -> None:
    with shop.store.writing() as session:
        piece = shop.piece(session)
        line = NewOrderLine(shop.valve, 1, 98_00, given_piece=piece)
        order = NewOrder(shop.supplier, "EUR", (line,), OrderKind.EXCHANGE)
        made = place_order(session, order, shop.by())
    with shop.store.reading() as session:
        (read,) = order_sheet(session, made.order).lines
    assert read.given is not None
    hazard = HazardNote("sodium-filled", "Do not cut the stem.")
    assert read.given == GivenPiece(read.given.tag, "Exhaust valve", "", (hazard,))
    assert replace(read, given=None) == OrderSheetLine(read.part, Money(98_00, "EUR"))


def test_an_enquiry_gives_each_firm_its_own_number_and_no_other_dealers(shop: Shop) -> None:
    with shop.store.writing() as session:
        rival = add_firm(session, "Brackwell Salvage", FirmRole.SUPPLIER, shop.by())
        pellworth = add_firm(session, "Pellworth", FirmRole.MAKER, shop.by())
        for number in (NewOtherNumber("HS-431", "drawing"), NewOtherNumber("PL-431", firm=pellworth)):
            add_number(session, shop.valve, number, shop.by(note="read off the drawing"))
        lines = (NewEnquiryLine(shop.valve, 12, "stems plated"), NewEnquiryLine(shop.spring, 40))
        enquiry = NewEnquiry((rival, shop.supplier), lines, DUE, "For two flying Linnets.")
        made = add_enquiry(session, enquiry, shop.by())
    with shop.store.reading() as session:
        ours, theirs = enquiry_sheets(session, made.enquiry)
    assert (ours.firm, theirs.firm) == ("Aldermoor Aero Spares", "Brackwell Salvage")
    assert [sheet.parts[0].their_number for sheet in (ours, theirs)] == ["PW 1187", ""]
    for sheet in (ours, theirs):
        assert sheet.parts[0].other_numbers == (("drawing", "HS-431"), ("maker's", "PL-431"))
        assert (sheet.parts[0].quantity, sheet.parts[0].wanted) == (12, "stems plated")
        assert (sheet.number, sheet.answer_by, sheet.wording) == (made.number, DUE, "For two flying Linnets.")
        assert sheet.parts[1].name == "Valve spring"


def test_no_such_order_and_no_such_enquiry_are_refused(shop: Shop) -> None:
    with shop.store.reading() as session:
        with pytest.raises(Refused, match="no such order"):
            order_sheet(session, 99)
        with pytest.raises(Refused, match="no such enquiry"):
            enquiry_sheets(session, 99)
