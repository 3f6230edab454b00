"""The purchase order read back from its PDF and its workbook."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from typing import Any

import openpyxl
import pytest

from invdb.paper.order_sheet import write_order_sheet_pdf, write_order_sheet_xlsx
from invdb.paper.sheet_words import PageName
from invdb.rules.money import Money
from invdb.rules.order_sheet import OrderSheet
from invdb.terms import SAFETY_LINE, OrderKind
from tests.paper.bought import EXCHANGED, MADE
from tests.paper.sheets import bar_codes, pages_text


def pdf(sheet: OrderSheet, page: PageName = "A4") -> bytes:
    buffer = BytesIO()
    write_order_sheet_pdf(sheet, buffer, page)
    return buffer.getvalue()


def book(sheet: OrderSheet) -> Any:
    buffer = BytesIO()
    write_order_sheet_xlsx(sheet, buffer)
    return openpyxl.load_workbook(BytesIO(buffer.getvalue()))


def says(sheet: OrderSheet, words: str) -> bool:
    """Whether the order has these words in a row, wherever lines and pages broke."""
    return "".join(words.split()) in "".join("".join(pages_text(pdf(sheet))).split())


@pytest.mark.parametrize(
    "words",
    [
        "Order to make Harrowmere Flying Museum",
        "Order D0003 of 2024-05-30",
        "To Alder Foundry Brackwell Your reference: Q 118",
        "Wanted here by 2024-09-01 All prices in EUR Ordered by Ines Varga",
        "Exhaust valve Our number LV0431-7 Your number AF 77 Maker's number PL-431",
        "Drawing number HS-431 revision B Stem hard chromium plated, 8.97 mm",
        "12 off 41.50 EUR each 498.00 EUR",
        "Locking wire Our number LW0007-1 2.5 m 1.25 EUR a metre 3.13 EUR",
        "Total 501.13 EUR",
        "its release certificate, or with its maker's certificate and traceable to its origin",
        "Made to the drawing or sample named",
        "Send nothing before the first piece has been approved by us.",
        "Confirmed by the firm, signature and date",
        SAFETY_LINE,
    ],
)
def test_the_order_says_what_of_whom_at_what_price_and_on_what_conditions(words: str) -> None:
    assert says(MADE, words)


@pytest.mark.parametrize(
    "words",
    [
        "Exchange order D0004 to Brackwell Salvage",
        "Wanted here by no day agreed",
        "Against our old piece T000301-M, Exhaust valve, serial E 41",
        "HAZARD: sodium-filled. Never cut open.",
        "is given for yours; it is not released for any use",
        "Scraper ring Our number LR0111-3 CLOSED 2024-06-01: no more of it is wanted 4 off none agreed",
        "Inlet valve Our number LV0430-9 2 off to be agreed",
        "Total without 1 line to be agreed 9800 JPY",
    ],
)
def test_an_exchange_names_our_old_piece_and_what_can_hurt_who_handles_it(words: str) -> None:
    assert says(EXCHANGED, words)


def test_an_order_without_a_price_has_no_total_of_nothing() -> None:
    open_lines = tuple(replace(line, price=None) for line in MADE.lines)
    unpriced = replace(MADE, lines=open_lines)
    assert unpriced.total is None
    assert says(unpriced, "Total to be agreed")
    assert not says(unpriced, "0.00")


def test_a_total_with_a_closed_line_says_that_it_is_as_ordered() -> None:
    (first, second) = MADE.lines
    closed = replace(MADE, lines=(first, replace(second, closed_on=MADE.ordered_on)))
    assert closed.total == Money(50113, "EUR")
    assert says(closed, "as ordered, with what was closed since")
    assert not says(MADE, "closed since")


def test_each_kind_of_order_has_its_own_title_and_condition() -> None:
    bought = replace(MADE, kind=OrderKind.BUY)
    assert says(bought, "Purchase order D0003")
    assert says(bought, "whether it is new, new old stock or used")
    assert not says(bought, "Made to the drawing")


def test_the_number_is_a_bar_code() -> None:
    assert bar_codes(pdf(MADE)) == ["D0003"]


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_every_page_of_a_long_order_has_its_number_and_headings_and_the_last_is_signed(
    page: PageName,
) -> None:
    texts = pages_text(pdf(replace(MADE, lines=MADE.lines * 40), page))
    assert len(texts) > 4
    for number, text in enumerate(texts, start=1):
        assert SAFETY_LINE in " ".join(text.split())
        assert f"page {number} of {len(texts)}" in text
        assert ("What is ordered" in text) == ("LV0431-7" in text or "LW0007-1" in text)
    assert "For us, signature" in texts[-1]


def test_what_a_person_typed_is_printed_as_it_is_to_its_end() -> None:
    odd = "<b>Auslaßventil</b> & Клапан =1+1 " * 60
    (first, _) = MADE.lines
    sheet = replace(MADE, note=odd, lines=(replace(first, part=replace(first.part, name=odd)),))
    printed = "".join("".join(pages_text(pdf(sheet))).split())
    assert printed.count("<b>Auslaßventil</b>&Клапан=1+1") == 120
    cell = book(replace(sheet, note="=1+1"))["Order"].cell(17, 2)
    assert (cell.value, cell.data_type) == ("=1+1", "s")


def test_the_same_order_gives_the_same_bytes() -> None:
    assert pdf(MADE) == pdf(MADE)


def test_the_workbook_counts_prices_in_numbers() -> None:
    lines = list(book(MADE)["Lines"].iter_rows(min_row=5, values_only=True))
    assert lines[0][7:10] == ("Price, EUR", "Price for", "Amount, EUR")
    assert lines[1][:10] == (
        1,
        "LV0431-7",
        "AF 77",
        "Exhaust valve",
        "maker's PL-431\ndrawing HS-431 revision B",
        12,
        "off",
        41.5,
        "each",
        498,
    )
    assert lines[2][5:10] == (2.5, "m", 1.25, "a metre", 3.13)
    assert (lines[3][3], lines[3][9]) == ("Total", 501.13)


def test_the_workbook_shows_as_many_decimals_as_the_currency_has() -> None:
    assert book(MADE)["Lines"].cell(6, 8).number_format == "0.00##"
    assert book(EXCHANGED)["Lines"].cell(6, 8).number_format == "General"
    closed = book(EXCHANGED)["Lines"][7]
    assert (closed[7].value, closed[8].value, closed[13].value) == (
        None,
        "none agreed",
        "CLOSED 2024-06-01: no more of it is wanted",
    )


def test_an_old_order_in_a_currency_that_is_gone_still_prints() -> None:
    lines = (replace(MADE.lines[0], price=Money(4150, "XGO")),)
    gone = replace(MADE, currency="XGO", lines=lines)
    assert says(gone, "49800 minor units of XGO")
    head, line = list(book(gone)["Lines"].iter_rows(min_row=5, max_row=6, values_only=True))
    assert (head[9], line[9]) == ("Amount, minor units of XGO", 49800)
