"""The status sheet read back from its PDF and its workbook."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from io import BytesIO
from typing import Any

import openpyxl
import pytest

from invdb.paper.sheet_words import PageName
from invdb.paper.status_sheet import write_status_sheet_pdf, write_status_sheet_xlsx
from invdb.paper.status_tables import NOTHING_AGAINST
from invdb.rules.concessions import ConcessionVerdict
from invdb.rules.directives import DirectiveVerdict
from invdb.rules.running import Ran, Span
from invdb.rules.status import StatusSheet
from invdb.terms import SAFETY_LINE
from tests.paper.sheets import pages_text
from tests.paper.status import BARE, LINNET


def pdf(sheet: StatusSheet, page: PageName = "A4") -> bytes:
    buffer = BytesIO()
    write_status_sheet_pdf(sheet, buffer, page)
    return buffer.getvalue()


def book(sheet: StatusSheet) -> Any:
    buffer = BytesIO()
    write_status_sheet_xlsx(sheet, buffer)
    return openpyxl.load_workbook(BytesIO(buffer.getvalue()))


def says(sheet: StatusSheet, words: str) -> bool:
    """Whether the sheet has these words in a row, wherever lines and pages broke."""
    return "".join(words.split()) in "".join("".join(pages_text(pdf(sheet))).split())


@pytest.mark.parametrize(
    "words",
    [
        "Linnet One",
        "Pellworth Linnet, serial PL-0117",
        "For flight · owner Dunmere Gliding Club",
        "Status as of 2024-05-31",
        "On hold, batch B000017-X: A spring of its batch broke",
        "Since the log began, 2018-04-01 Before that",
        "312.50 h of flight, 12.10 h on the ground",
        "between 1124.60 h and 1274.60 h",
        "at least 402 starts, no upper end known",
        "between 800.00 h and 950.00 h",
        "Of late 3.10 h and 4 starts in 90 days, 61.00 h and 80 starts in 730 days; forecasts go by",
        "Meter reads 812.40 h",
        "Overhauled 2018-03-12; report: HW-77",
        "Run since 324.60 h and 402 starts",
        "500.00 h since overhaul 324.60 h 175.40 h left within limits",
        "Exhaust valve, T000140-2",
        "cylinder 5, exhaust valve · LV0431-7 · E 41",
        "rear cover, magneto coupling · LM0042-8 · no serial",
        "between Feb 2031 and Sep 2034",
        "Limits are set by: 600.00 h since new: manual PL-M 4, sheet 12",
        "T000140-2, further limit",
        "until 2029-12-01",
        "expired",
        "HD 2019-04, issue 2",
        "Exhaust valve: T000140-2 (cylinder 5), T000141-K (cylinder 6)",
        "every 50.00 h or 24 months, first from 2019-05-01 on",
        "due later 48.20 h left, until 2025-09-04",
        "Exhaust valves: look for cracks at the neck",
        "by Ines Varga",
        "not yet",
        "OVERDUE was due by 2024-05-01",
        "HD 2016-02, issue 1 (Carburettor floats) does not apply: for serials up to PL-0090",
        "Civil Aviation Board of Harrow",
        "document letter 7/24",
        "link rod T000312-5",
        "Later spring seats not known",
        "cylinder 2 valve springs: 1 of 2",
        "2024-04-30, authorised by Ines Varga",
        "1964-05-01 to 2019-03-02 no paper covers these years",
        "until 2018-04-01",
        "since 2023-01-09",
        "rear cover left 2 things since 2018-04-01",
        "oil pump and 1 of what is renewed always",
        "The ledger ended with entry 1204",
        "9f2c" * 16,
    ],
)
def test_the_sheet_says_all_that_an_owner_hands_over(words: str) -> None:
    assert says(LINNET, words)


@pytest.mark.parametrize(
    "words",
    [
        "Nothing on record stands against it",
        "no log is kept",
        "no meter, logged by hand",
        "none is recorded: all counts since new",
        "No overhaul life is recorded for this type",
        "No life-limited piece is in it, so far as recorded",
        "No directive applies",
        "No concession is granted for it",
        "Nothing is on hold",
        "No event stands uncleared",
        "No mod is embodied, so far as recorded",
        "No station is known to be incomplete",
        "Nothing was robbed from it that is still owed",
        "No station is presumed",
        "None found in what is recorded",
    ],
)
def test_what_there_is_none_of_is_said_in_words(words: str) -> None:
    assert says(BARE, words)
    assert not says(LINNET, words)


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_there_is_a_place_to_sign_with_name_licence_and_date(page: PageName) -> None:
    last = pages_text(pdf(LINNET, page))[-1]
    for label in ("Signed for this status", "Name", "Licence number", "Signature", "Date"):
        assert label in last


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_every_page_has_its_number_its_headings_and_the_safety_line(page: PageName) -> None:
    texts = pages_text(pdf(replace(LINNET, life=LINNET.life * 40), page))
    assert len(texts) > 8
    tables = 0
    for number, text in enumerate(texts, start=1):
        assert SAFETY_LINE in " ".join(text.split())
        assert f"page {number} of {len(texts)}" in text
        assert "Status sheet Linnet One, Pellworth Linnet PL-0117, as of 2024-05-31" in text
        if "Exhaust valve, T000140-2" in text:
            tables += 1
            assert "Verdict and forecast" in text
    assert tables > 5


def test_a_word_wider_than_its_column_prints_to_its_end() -> None:
    long = "Ventilsitzeinsatzringausdrehvorrichtung" * 5
    life = (replace(LINNET.life[0], part_name=long, station=long, serial=long),)
    directive = replace(LINNET.directives[0], title=long, method=long, next_due=long, complied_by=long)
    concession = replace(LINNET.concessions[0], allows=long, ends=long)
    sheet = replace(LINNET, name=long, life=life, directives=(directive,), concessions=(concession,))
    printed = "".join("".join(pages_text(pdf(sheet))).split())
    # Name of the engine, station, part and serial of the piece, four of the directive, two of the concession.
    assert printed.count(long) == 10


def test_the_same_sheet_gives_the_same_bytes() -> None:
    assert pdf(LINNET) == pdf(LINNET)


def test_the_workbook_counts_what_is_left_in_numbers() -> None:
    rows = list(book(LINNET)["Life"].iter_rows(min_row=5, values_only=True))
    first, calendar, rod, coupling, overhaul = (dict(zip(rows[0], row, strict=True)) for row in rows[1:])
    assert (first["Tag"], first["Least left"], first["Unit"]) == ("T000140-2", 287.5, "hours")
    assert (calendar["Left"], calendar["Least left"]) == ("until 2029-12-01", 66)
    assert (rod["Verdict"], rod["Least left"]) == ("expired", -3)
    assert coupling["Least left"] == "not known"
    assert (overhaul["Part"], overhaul["Least left"]) == ("the engine's overhaul life", 175.4)


def test_the_workbook_has_a_sheet_for_each_section_with_real_dates() -> None:
    workbook = book(LINNET)
    engine = {row[0].value: row[1].value for row in workbook["Engine"].iter_rows(min_row=6)}
    assert (engine["Status as of"], engine["Overhauled"]) == ("2024-05-31", "2018-03-12; report: HW-77")
    assert engine["Hours in all"] == "between 1124.60 h and 1274.60 h"
    assert engine["Last entry of the ledger"] == 1204
    assert {"Name", "Licence number", "Signature", "Date"} <= set(engine)
    assert workbook["Directives"].cell(6, 7).value == datetime(2023, 9, 4)
    assert workbook["Directives"].cell(7, 11).value == "OVERDUE"
    assert [workbook["Directives"].cell(row, 4).value for row in (6, 7, 8)] == [
        "Exhaust valve: T000140-2 (cylinder 5), T000141-K (cylinder 6)",
        "the engine",
        None,
    ]
    assert workbook["Concessions"].cell(6, 8).value == "12.40 h"
    assert workbook["Holds"].cell(6, 1).value == "batch B000017-X"
    assert workbook["Events"].cell(6, 5).value == "link rod T000312-5"
    assert workbook["Mods"].cell(7, 3).value == "not known"
    assert [row[0] for row in workbook["Build"].iter_rows(min_row=6, values_only=True)] == [
        "incomplete",
        "owed back",
        "presumed, not identified",
        "presumed, not identified",
    ]
    assert workbook["Gaps"].cell(6, 2).value == "not known"


def test_an_empty_worksheet_says_so_in_its_own_words() -> None:
    workbook = book(BARE)
    assert workbook["Directives"].cell(6, 1).value == "No directive applies"
    assert workbook["Holds"].cell(6, 1).value == "Nothing is on hold"
    assert workbook["Build"].cell(6, 1).value.startswith("No station is known to be incomplete. Nothing")


def test_a_life_limited_piece_without_any_limit_on_record_says_so() -> None:
    ran = Ran(Span(31250, 31250))
    sheet = replace(BARE, life=(replace(LINNET.life[0], limits=(), since_new=ran),))
    assert says(sheet, "312.50 h not known no limit is recorded")
    row = [cell.value for cell in book(sheet)["Life"][6]]
    assert (row[1], row[5], row[6]) == ("T000140-2", "312.50 h", "no limit is recorded")


def test_what_nobody_knows_of_directives_and_concessions_is_marked() -> None:
    directive = replace(LINNET.directives[0], verdict=DirectiveVerdict.UNKNOWN)
    concession = replace(LINNET.concessions[0], verdict=ConcessionVerdict.UNKNOWN, left="not known")
    sheet = replace(BARE, directives=(directive,), concessions=(concession,))
    assert says(sheet, "not known 48.20 h left, until 2025-09-04")
    workbook = book(sheet)
    assert workbook["Directives"].cell(6, 11).value == "not known"
    assert workbook["Concessions"].cell(6, 1).fill.fgColor.rgb == "00FFF0CC"
    ended = replace(sheet, concessions=(replace(concession, verdict=ConcessionVerdict.ENDED),))
    assert says(ended, "ENDED")
    assert book(ended)["Concessions"].cell(6, 8).value == "ENDED"


def test_what_is_not_due_yet_is_said_calmly_and_what_is_soon_is_marked() -> None:
    later = replace(LINNET.directives[0], complied_on=None)
    soon = replace(later, verdict=DirectiveVerdict.DUE_SOON)
    assert says(replace(BARE, directives=(later,)), "not yet due later 48.20 h left")
    assert says(replace(BARE, directives=(later,)), NOTHING_AGAINST)
    marks = {
        verdict: book(replace(BARE, directives=(line,)))["Directives"].cell(6, 1).fill.fgColor.rgb
        for verdict, line in (("later", later), ("soon", soon))
    }
    assert marks == {"later": "00000000", "soon": "00FFF0CC"}


@pytest.mark.parametrize("count", [1, 30])
def test_a_position_where_much_is_presumed_takes_one_row(count: int) -> None:
    one = LINNET.presumed[0]
    presumed = tuple(replace(one, station=f"station {each}") for each in range(count))
    printed = "\n".join(pages_text(pdf(replace(BARE, presumed=presumed))))
    assert printed.count("rear cover left") == 1
    assert len(list(book(replace(BARE, presumed=presumed))["Build"].iter_rows(min_row=6))) == count


def test_without_enough_of_a_log_no_forecast_is_made() -> None:
    assert says(replace(LINNET, ran_of_late=""), "the log is too short yet for a forecast")


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_what_is_signed_names_the_entry_it_rests_on_on_the_same_page(page: PageName) -> None:
    for count in range(30):
        sheet = replace(LINNET, gaps=LINNET.gaps[:1] * count)
        (signed,) = [text for text in pages_text(pdf(sheet, page)) if "Licence number" in text]
        assert "entry 1204" in signed
