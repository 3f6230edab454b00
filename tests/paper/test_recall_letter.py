"""The letter of a recall read back from its PDF and its workbook."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from io import BytesIO
from typing import Any

import openpyxl
import pytest

from invdb.paper.recall_letter import write_recall_letter_pdf, write_recall_letter_xlsx
from invdb.paper.sheet_words import PageName
from invdb.rules.recall import RecallAt, RecallLetter, RecallWhere
from invdb.terms import SAFETY_LINE
from tests.paper.recalled import LETTER, REPORT, SPRINGS, STRIPPED, VALVE
from tests.paper.sheets import pages_text

STORES = (RecallAt(RecallWhere.STORES, "Stores › A-11-3", 1),)


def pdf(letter: RecallLetter, page: PageName = "A4") -> bytes:
    buffer = BytesIO()
    write_recall_letter_pdf(letter, buffer, page)
    return buffer.getvalue()


def book(letter: RecallLetter) -> Any:
    buffer = BytesIO()
    write_recall_letter_xlsx(letter, buffer)
    return openpyxl.load_workbook(BytesIO(buffer.getvalue()))


def says(letter: RecallLetter, words: str) -> bool:
    """Whether the letter has these words in a row, wherever lines and pages broke."""
    return "".join(words.split()) in "".join("".join(pages_text(pdf(letter))).split())


@pytest.mark.parametrize(
    "words",
    [
        "Harrowmere Flying Museum 2024-06-01",
        "To whom it may concern",
        "Recall batch B000017-X and all split off it",
        "A spring of this batch broke after 41 hours; the fracture began at an inclusion in the wire.",
        "Take these springs out before the next flight and keep them apart until we have seen them.",
        "1 piece and 2 batches, of which",
        "5 off fitted in Linnet One",
        "25 off in the stores",
        "Valve spring, outer LS0207-C",
        "B000017-X (lot 88412)",
        "E 41) Exhaust valve LV0431-7 serviceable, Dunmere Gliding Club",
        "4 off in Linnet One, 2023-03-01 to now, 44.30 h",
        "4 off split off into B000021-9",
        "in no engine, so far as recorded",
        "on hold since 2024-05-20: a spring of it broke",
        "entry 1204",
        "9f2c" * 16,
        "For Harrowmere Flying Museum",
        "Ines Varga",
        "HM-0442",
    ],
)
def test_the_letter_says_why_what_where_and_what_was_done(words: str) -> None:
    assert says(LETTER, words)


def test_a_letter_to_somebody_names_them() -> None:
    letter = replace(LETTER, addressee="Dunmere Gliding Club, the engineer in charge", request="")
    assert says(letter, "Dunmere Gliding Club, the engineer in charge")
    assert not says(letter, "To whom it may concern")
    assert not says(letter, "What we ask")


def test_a_recall_that_concerns_nothing_says_so() -> None:
    empty = replace(LETTER, report=replace(REPORT, lines=()))
    assert says(empty, "What is concerned Nothing is concerned, so far as recorded")
    assert not says(empty, "Each piece and batch")
    assert book(empty)["Things"].cell(6, 1).value == "Nothing is concerned, so far as recorded"


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_every_page_has_its_number_its_headings_and_the_safety_line(page: PageName) -> None:
    lines = tuple(
        replace(line, part_name=f"{line.part_name} {n}") for n in range(30) for line in REPORT.lines
    )
    lines = tuple(replace(line, part_number=f"LS{n}") for n, line in enumerate(lines))
    texts = pages_text(pdf(replace(LETTER, report=replace(REPORT, lines=lines)), page))
    assert len(texts) > 5
    tables = 0
    for number, text in enumerate(texts, start=1):
        assert SAFETY_LINE in " ".join(text.split())
        assert f"page {number} of {len(texts)}" in text
        if "lot 88412" in text:
            tables += 1
            assert "Where it is now" in text
    assert tables > 5
    for label in ("Name", "Licence number", "Signature", "Date"):
        assert label in texts[-1]


def test_a_word_wider_than_its_column_prints_to_its_end() -> None:
    long = "Ventilsitzeinsatzringausdrehvorrichtung" * 5
    line = replace(SPRINGS, part_name=long, serial=long, held=(long,))
    letter = replace(LETTER, report=replace(REPORT, lines=(line,)), reason=long)
    assert "".join("".join(pages_text(pdf(letter))).split()).count(long) == 4


def test_what_is_not_on_hold_is_marked_unless_nothing_is_left_of_it() -> None:
    loose = replace(SPRINGS, held=())
    assert says(replace(LETTER, report=replace(REPORT, lines=(loose,))), "not on hold yet")
    assert not says(replace(LETTER, report=replace(REPORT, lines=(STRIPPED,))), "not on hold yet")


def test_pieces_that_lie_alike_take_one_row_and_the_only_part_is_named_once() -> None:
    valves = tuple(
        replace(VALVE, piece=each, tag=f"T{each}", serial=f"E {each}", at=STORES, runs=())
        for each in range(20)
    )
    letter = replace(LETTER, report=replace(REPORT, lines=(VALVE, *valves)))
    printed = "\n".join(pages_text(pdf(letter)))
    assert printed.count("A-11-3") == 1
    assert printed.count("Exhaust valve") == 1
    assert says(letter, "21 pieces of LV0431-7 Exhaust valve, of which")
    assert says(letter, "T0 (E 0), T1 (E 1), T2 (E 2)")
    assert len(list(book(letter)["Things"].iter_rows(min_row=6))) == 21


def test_the_same_letter_gives_the_same_bytes() -> None:
    assert pdf(LETTER) == pdf(LETTER)


def test_the_workbook_has_each_thing_each_place_and_each_engine() -> None:
    workbook = book(LETTER)
    letter = [row[:2] for row in workbook["Letter"].iter_rows(min_row=6, values_only=True)]
    assert letter[:2] == [
        ("To", "To whom it may concern"),
        ("What is recalled", "batch B000017-X and all split off it"),
    ]
    assert ("Where", "5 off fitted in Linnet One") in letter
    assert ("Name", "Ines Varga") in letter
    things = list(workbook["Things"].iter_rows(min_row=6, values_only=True))
    assert things[0][:6] == ("B000017-X", "LS0207-C", "Valve spring, outer", "lot 88412", 40, "off")
    assert [row[10] for row in things] == [
        "on hold since 2024-05-20: a spring of it broke",
        None,
        "on hold since 2024-05-20: a spring of it broke",
    ]
    places = list(workbook["Places"].iter_rows(min_row=6, values_only=True))
    assert places[0][1:6] == ("fitted", "Linnet One", "Linnet One, cylinder 5, exhaust springs", 4, "off")
    assert places[2][6] == "P-0012"
    engines = list(workbook["Engines"].iter_rows(min_row=6, values_only=True))
    assert engines[1][:6] == (
        "B000017-X",
        "Dabchick One",
        "4 off",
        datetime(2022, 11, 9),
        datetime(2024, 2, 2),
        "between 10.00 h and 14.00 h",
    )
    assert engines[0][4] == "now"


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_what_is_signed_names_the_entry_it_rests_on_on_the_same_page(page: PageName) -> None:
    for count in range(12):
        letter = replace(LETTER, report=replace(REPORT, lines=REPORT.lines[:1] * count))
        (signed,) = [text for text in pages_text(pdf(letter, page)) if "Licence number" in text]
        assert "entry 1204" in signed
