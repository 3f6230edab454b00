"""What firms offer: prices by quantity, what they must agree with, and how long they hold."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from invdb.acts.enquiry import decline_enquiry
from invdb.acts.enquiry_list import enquiries, quotes
from invdb.acts.papers import NewPaper
from invdb.acts.quote import withdraw_quote
from invdb.records.documents import Document
from invdb.rules.money import Money
from invdb.terms import FieldRefused, OrderKind, PaperKind, Refused
from tests.acts.test_ledger_list import said
from tests.buying_shop import asked, plater, quoted, sound
from tests.shop import TODAY, Shop


def test_a_quote_has_prices_by_quantity_a_minimum_and_a_last_day(shop: Shop) -> None:
    paper = NewPaper(PaperKind.STATEMENT, "Q 77")
    with shop.store.writing() as session:
        quote = quoted(shop, session, currency="eur", valid_until=TODAY + timedelta(days=30), paper=paper)
        assert said(session) == (
            "Recorded the quote of Aldermoor Aero Spares for VX0001-Y Exhaust valve (Q 77), 2 prices in EUR."
        )
        (found,) = quotes(session)
        assert (found.quote, found.currency, found.kind) == (quote, "EUR", OrderKind.BUY)
        assert [found.price(each) for each in (4, 11, 12)] == [
            Money(100_00, "EUR"),
            Money(100_00, "EUR"),
            Money(80_00, "EUR"),
        ]
        assert (
            session.scalars(select(Document.reference).where(Document.id == found.document)).one() == "Q 77"
        )
        shop.clock.instant += timedelta(days=31)
        assert quotes(session) == ()
        assert not quotes(session, only_standing=False, parts=[shop.valve])[0].standing
        assert sound(session)


def test_a_withdrawn_quote_stands_no_longer(shop: Shop) -> None:
    with shop.store.writing() as session:
        quote = quoted(shop, session)
        with pytest.raises(FieldRefused, match="isn't said why"):
            withdraw_quote(session, quote, " ", shop.by())
        withdraw_quote(session, quote, "sold out", shop.by())
        assert said(session).startswith("Withdrew the quote of Aldermoor Aero Spares for VX0001-Y")
        assert quotes(session) == ()
        with pytest.raises(Refused, match="was withdrawn on 2026-03-02"):
            withdraw_quote(session, quote, "sold out", shop.by())


def test_what_can_not_be_quoted_is_refused_at_its_field(shop: Shop) -> None:
    with shop.store.writing() as session:
        for changed, field in (
            ({"part": None}, "part"),
            ({"firm": 999}, "firm"),
            ({"currency": "ZZZ"}, "currency"),
            ({"currency": "XAU"}, "currency"),
            ({"currency": ""}, "currency"),
            ({"prices": ()}, "prices"),
            ({"prices": ((12, 80_00), (1, 100_00))}, "prices"),
            ({"prices": ((1, -1),)}, "prices"),
            ({"prices": ((1, 10**13),)}, "prices"),
            ({"prices": ((0, 100_00),)}, "prices"),
            ({"prices": ((5, 100_00),)}, "prices"),
            ({"prices": tuple((each, 1) for each in range(1, 22))}, "prices"),
            ({"minimum": 0}, "minimum"),
            ({"minimum": 10**9}, "minimum"),
            ({"lead_days": -1}, "lead_days"),
            ({"lead_days": 10**6}, "lead_days"),
            ({"valid_until": TODAY - timedelta(days=1)}, "valid_until"),
            ({"document": 999}, "document"),
        ):
            with pytest.raises(FieldRefused) as refused:
                quoted(shop, session, **changed)
            assert refused.value.field == field, changed
        assert quotes(session) == ()
        quoted(shop, session, lead_days=0)
        assert quotes(session)[0].lead_days == 0


def test_a_quote_answers_its_enquiry(shop: Shop) -> None:
    with shop.store.writing() as session:
        made = asked(shop, session)
        valve, wire = (line.enquiry_line for line in enquiries(session)[0].lines)
        with pytest.raises(FieldRefused, match="asks for WI0001-. Locking wire there") as refused:
            quoted(shop, session, enquiry_line=wire)
        assert refused.value.field == "part"
        with pytest.raises(FieldRefused, match="is before 2026-03-02"):
            quoted(shop, session, TODAY - timedelta(days=3), enquiry_line=valve)
        decline_enquiry(session, made.enquiry, plater(session), shop.by())
        with pytest.raises(FieldRefused, match="declined on"):
            quoted(shop, session, firm=plater(session), enquiry_line=valve)
        quoted(shop, session, part=None, enquiry_line=valve)
        (found,) = quotes(session, enquiry=made.enquiry)
        assert (found.enquiry, found.part) == (made.number, shop.valve)
