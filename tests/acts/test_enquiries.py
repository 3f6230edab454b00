"""Asking several firms for parts: who answers, who declines, who is late, and how it is told and found."""

from __future__ import annotations

from datetime import timedelta

import pytest

from invdb.acts.enquiry import NewEnquiryLine, close_enquiry, decline_enquiry
from invdb.acts.enquiry_list import enquiries, enquiry_by_number
from invdb.acts.find import find
from invdb.acts.quote import withdraw_quote
from invdb.acts.reverse import reverse
from invdb.acts.shop import add_firm
from invdb.terms import FieldRefused, FirmRole, Refused
from tests.acts.test_ledger_list import said
from tests.buying_shop import ANSWER_BY, asked, plater, quoted, sound
from tests.engine_shop import last_entry
from tests.shop import TODAY, Shop


def test_several_firms_are_asked_for_several_parts_under_one_number(shop: Shop) -> None:
    with shop.store.writing() as session:
        made = asked(shop, session)
        assert said(session) == (
            "Asked Aldermoor Aero Spares and Brackwater Plating for VX0001-Y Exhaust valve and WI0001-6"
            f" Locking wire in enquiry {made.number}, to answer by 2026-03-16."
        )
        (enquiry,) = enquiries(session)
        assert (enquiry.enquiry, enquiry.number) == (made.enquiry, made.number)
        assert [(line.part, line.quantity) for line in enquiry.lines] == [
            (shop.valve, 12),
            (shop.wire, 50_000_000),
        ]
        assert all(firm.waits for firm in enquiry.firms)
        assert enquiry.days_over == 0
        found = find(session, made.number.lower()).found[0]
        assert (found.kind, found.ref, found.headline) == ("enquiry", made.enquiry, made.number)
        assert enquiry_by_number(session, f" {made.number.lower()} ") == made.enquiry
        assert sound(session)


def test_an_answer_is_overdue_until_each_firm_has_quoted_or_declined(shop: Shop) -> None:
    with shop.store.writing() as session:
        made = asked(shop, session)
        line = enquiries(session)[0].lines[0].enquiry_line
        shop.clock.instant += timedelta(days=15)
        assert enquiries(session)[0].days_over == 1
        quote = quoted(shop, session, part=None, enquiry_line=line)
        decline_enquiry(session, made.enquiry, plater(session), shop.by())
        assert said(session) == f"Brackwater Plating in enquiry {made.number}: declined."
        (enquiry,) = enquiries(session)
        assert [(firm.quotes, firm.declined_on is not None) for firm in enquiry.firms] == [
            (1, False),
            (0, True),
        ]
        assert enquiry.days_over == 0
        withdraw_quote(session, quote, "sold out", shop.by())
        assert enquiries(session)[0].firms[0].waits
        close_enquiry(session, made.enquiry, shop.by())
        assert said(session) == f"Closed enquiry {made.number}."
        assert enquiries(session) == ()
        assert not enquiries(session, only_open=False)[0].open
        assert sound(session)


def test_what_can_not_be_asked_is_refused_at_its_field(shop: Shop) -> None:
    valve = NewEnquiryLine(shop.valve, 1)
    with shop.store.writing() as session:
        for changed, field in (
            ({"firms": ()}, "firms"),
            ({"firms": (shop.supplier, shop.supplier)}, "firms"),
            ({"firms": (999,)}, "firm"),
            ({"lines": ()}, "lines"),
            ({"lines": (valve, valve)}, "lines"),
            ({"lines": (NewEnquiryLine(999, 1),)}, "part"),
            ({"lines": (NewEnquiryLine(shop.valve, 0),)}, "quantity"),
            ({"lines": (NewEnquiryLine(shop.valve, 10**12),)}, "quantity"),
            ({"answer_by": TODAY - timedelta(days=1)}, "answer_by"),
            ({"answer_by": TODAY.replace(year=2999)}, "answer_by"),
            ({"firms": tuple(range(51))}, "lines"),
        ):
            with pytest.raises(FieldRefused) as refused:
                asked(shop, session, **changed)
            assert refused.value.field == field, changed
        assert enquiries(session) == ()


def test_a_firm_declines_once_and_only_where_it_was_asked_and_has_not_quoted(shop: Shop) -> None:
    with shop.store.writing() as session:
        stranger = add_firm(session, "Corran Spares", FirmRole.SUPPLIER, shop.by())
        made = asked(shop, session)
        quoted(shop, session, part=None, enquiry_line=enquiries(session)[0].lines[0].enquiry_line)
        with pytest.raises(FieldRefused, match="was not asked"):
            decline_enquiry(session, made.enquiry, stranger, shop.by())
        with pytest.raises(FieldRefused, match="has quoted"):
            decline_enquiry(session, made.enquiry, shop.supplier, shop.by())
        with pytest.raises(FieldRefused, match="is before"):
            decline_enquiry(session, made.enquiry, plater(session), shop.by(TODAY - timedelta(days=1)))
        decline_enquiry(session, made.enquiry, plater(session), shop.by())
        with pytest.raises(FieldRefused, match="declined on 2026-03-02"):
            decline_enquiry(session, made.enquiry, plater(session), shop.by())
        with pytest.raises(Refused, match="no such enquiry"):
            close_enquiry(session, 999, shop.by())


def test_an_enquiry_that_was_answered_is_not_undone_before_its_answer(shop: Shop) -> None:
    with shop.store.writing() as session:
        asked(shop, session)
        first = last_entry(session)
        line = enquiries(session)[0].lines[0].enquiry_line
        quoted(shop, session, part=None, enquiry_line=line)
        answer = last_entry(session)
    with (
        pytest.raises(Refused, match=f"Entry {answer} stands in the way: its quote rests on"),
        shop.store.writing() as session,
    ):
        reverse(session, first, "twice", shop.by())
    with shop.store.writing() as session:
        reverse(session, answer, "another's", shop.by())
        reverse(session, first, "twice", shop.by())
        assert enquiries(session, only_open=False) == ()
        assert asked(shop, session, answer_by=ANSWER_BY).number.startswith("E00002-")
        assert sound(session)
