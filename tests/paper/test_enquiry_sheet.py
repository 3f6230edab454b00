"""The enquiry to a firm read back from its PDF and its workbook."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from typing import Any

import openpyxl
import pypdfium2  # type: ignore[import-untyped]
import pytest

from invdb.paper.enquiry_sheet import write_enquiry_sheet_pdf, write_enquiry_sheet_xlsx
from invdb.paper.sheet_words import PageName
from invdb.rules.enquiry_sheet import EnquirySheet
from invdb.terms import SAFETY_LINE
from tests.paper.bought import ENQUIRY, VALVES, WIRE
from tests.paper.sheets import bar_codes, pages_text

Bounds = tuple[float, float, float, float]


def pdf(sheet: EnquirySheet, page: PageName = "A4") -> bytes:
    buffer = BytesIO()
    write_enquiry_sheet_pdf(sheet, buffer, page)
    return buffer.getvalue()


def book(sheet: EnquirySheet) -> Any:
    buffer = BytesIO()
    write_enquiry_sheet_xlsx(sheet, buffer)
    return openpyxl.load_workbook(BytesIO(buffer.getvalue()))


def says(sheet: EnquirySheet, words: str) -> bool:
    """Whether the enquiry has these words in a row, wherever lines and pages broke."""
    return "".join(words.split()) in "".join("".join(pages_text(pdf(sheet))).split())


@pytest.mark.parametrize(
    "words",
    [
        "Enquiry Harrowmere Flying Museum This is a question, not an order.",
        "Enquiry E0002 of 2024-05-20",
        "To Alder Foundry Brackwell",
        "Please answer by 2024-06-20 Asked by Ines Varga",
        "We keep two Linnets flying and will need these within two years.",
        "1. Exhaust valve 12 off wanted Our number LV0431-7 Your number AF 77",
        "2. Locking wire 2.5 m wanted",
        "its release certificate, or with its maker's certificate and traceable to its origin",
        SAFETY_LINE,
    ],
)
def test_the_enquiry_says_what_is_asked_by_whom_and_till_when(words: str) -> None:
    assert says(ENQUIRY, words)


def inside(box: Bounds, other: Bounds) -> bool:
    """Whether the one reaches into the other; left, bottom, right, top."""
    return box[0] < other[2] and other[0] < box[2] and box[1] < other[3] and other[1] < box[3]


def test_there_is_room_to_fill_in_price_minimum_time_and_remarks() -> None:
    (text,) = pages_text(pdf(ENQUIRY))
    for label in (
        "From quantity",
        "Price",
        "each",
        "a metre",
        "Minimum",
        "Lead time",
        "Remarks",
        "Currency of all prices",
        "Valid until",
        "Your reference",
        "Signature",
    ):
        assert label in text
    # Three pairs of quantity and price, and three larger boxes, for each of two parts; six for the answer.
    drawn = list(pypdfium2.PdfDocument(pdf(ENQUIRY))[0].get_objects())
    bounds = [each.get_bounds() for each in drawn]
    lined = [each.get_bounds() for each in drawn if each.type == pypdfium2.raw.FPDF_PAGEOBJ_PATH]
    boxes = [at for at in lined if at[2] - at[0] > 45 and at[3] - at[1] > 15]
    empty = [box for box in boxes if not any(inside(box, each) for each in bounds if each != box)]
    assert len(empty) == 2 * (3 * 2 + 3) + 6


def test_with_no_day_set_the_firm_is_asked_to_answer_soon() -> None:
    assert says(replace(ENQUIRY, answer_by=None), "Please answer by as soon as you can")


def test_the_number_is_a_bar_code() -> None:
    assert bar_codes(pdf(ENQUIRY)) == ["E0002"]


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_every_page_of_a_long_enquiry_has_its_number_and_headings_and_the_last_the_answer(
    page: PageName,
) -> None:
    long = replace(VALVES, name="Auslassventil " * 300)
    texts = pages_text(pdf(replace(ENQUIRY, parts=(long, *(VALVES, WIRE) * 20)), page))
    assert len(texts) > 6
    for number, text in enumerate(texts, start=1):
        assert SAFETY_LINE in " ".join(text.split())
        assert f"page {number} of {len(texts)}" in text
        assert "What we ask for" in text or number == len(texts)
    assert "".join(texts).count("Auslassventil") == 300
    assert "Currency of all prices" in texts[-1]


def test_the_same_enquiry_gives_the_same_bytes() -> None:
    assert pdf(ENQUIRY) == pdf(ENQUIRY)


def test_the_workbook_has_a_row_for_each_part_with_empty_columns_to_fill_in() -> None:
    workbook = book(ENQUIRY)
    head, valves, wire = list(workbook["Parts"].iter_rows(min_row=5, max_row=7, values_only=True))
    assert valves[:9] == (
        1,
        "LV0431-7",
        "AF 77",
        "Exhaust valve",
        "maker's PL-431\ndrawing HS-431 revision B",
        12,
        "off",
        "Stem hard chromium plated, 8.97 mm",
        "each",
    )
    assert wire[5:9] == (2.5, "m", None, "a metre")
    assert head[9:] == (
        "From quantity (1)",
        "Price (1)",
        "From quantity (2)",
        "Price (2)",
        "From quantity (3)",
        "Price (3)",
        "Minimum",
        "Lead time, days",
        "Remarks",
    )
    assert not any(valves[9:])
    answer = {row[0].value: row[1].value for row in workbook["Answer"].iter_rows(min_row=6)}
    assert answer["To"] == "Alder Foundry, Brackwell"
    assert answer["Currency of all prices"] is None
