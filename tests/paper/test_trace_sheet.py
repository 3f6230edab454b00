"""The traceability sheet read back from its PDF and its workbook."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from io import BytesIO
from typing import Any

import openpyxl
import pytest

from invdb.paper.sheet_words import PageName
from invdb.paper.trace_sheet import write_trace_sheet_pdf, write_trace_sheet_xlsx
from invdb.rules.history import ComplianceLine, ConcessionLine, EventLine, Gap, TraceSheet
from invdb.rules.life_limits import Limit, Lived, limit_lines
from invdb.rules.running import Ran, Span
from invdb.terms import SAFETY_LINE, Condition, HoursKnown, LifeMeasure, PriorLife
from tests.paper.sheets import MASTER_ROD, SPRING_BATCH, bar_codes, pages_text

STRUCK = EventLine("propeller strike of Linnet PL-0102 on 1961-06-03", date(1961, 6, 3), "tips bent")
WORN = ConcessionLine(
    "C 12",
    "Air Board",
    "worn limit",
    "journal 0.02 mm under",
    "Linnet PL-0117, cylinder 1",
    "statement AA 77",
    date(2020, 1, 2),
    "for 50.00 h",
    "12.50 h",
    "in force",
    True,
)
RAN = Lived({None: Ran(Span(310_00, 310_00)), 1: Ran(Span(12_50, 12_50), starts=Span(9, 9))})
# A rod that ran in two engines, was inside one at a strike, and runs under a concession.
LIVED_ROD = replace(
    MASTER_ROD,
    prior_hours=PriorLife(HoursKnown.EXACT, 310_00, 310_00),
    hours_in_all=PriorLife(HoursKnown.EXACT, 322_50, 322_50),
    starts_in_all=PriorLife(HoursKnown.AT_LEAST, 9),
    overhauled_on=date(2019, 4, 11),
    hours_since_overhaul=PriorLife(HoursKnown.EXACT, 12_50, 12_50),
    limits=limit_lines(
        RAN,
        (Limit(LifeMeasure.HOURS, 1000_00, source="PS 14"), Limit(LifeMeasure.HOURS, 320_00)),
        date(2024, 6, 1),
        None,
    ),
    events=(
        STRUCK,
        replace(STRUCK, cleared_on=date(2019, 4, 9), cleared_by="Ines Varga", inspection="crack test"),
    ),
    concessions=(WORN, replace(WORN, reference="C 11", stands="ended", in_force=False)),
    compliances=(ComplianceLine("D 8: rod bolts", date(2021, 5, 4), "Ines Varga", "bolts renewed"),),
)


def pdf(sheet: TraceSheet, page: PageName = "A4") -> bytes:
    buffer = BytesIO()
    write_trace_sheet_pdf(sheet, buffer, page)
    return buffer.getvalue()


def book(sheet: TraceSheet) -> Any:
    buffer = BytesIO()
    write_trace_sheet_xlsx(sheet, buffer)
    return openpyxl.load_workbook(BytesIO(buffer.getvalue()))


def printed(sheet: TraceSheet) -> str:
    """All the sheet's words, without where lines and pages broke."""
    return "".join("".join(pages_text(pdf(sheet))).split())


def says(sheet: TraceSheet, words: str) -> bool:
    return "".join(words.split()) in printed(sheet)


@pytest.mark.parametrize(
    "words",
    [
        "Piece T000301-M",
        "Master rod",
        "LR0301-9",
        "Maker's number PL-301/B",
        "Serial R 17",
        "serviceable, accepted for flight",
        "by Ines Varga, 2019-04-11",
        "Owner: Harrowmere Flying Museum",
        "Origin salvaged",
        "Brackwell Salvage",
        "Donor engine Linnet PL-0102",
        "inspected, crack test report R-88",
        "at least 300.00 h, no upper end known",
        "Starts before not known",
        "Check: damage not looked at yet",
        "HAZARD: cadmium-plated. No dry sanding.",
        "ON HOLD: Was in PL-0102 at its propeller strike",
        "Hold cleared 2019-03-09 by Ines Varga: etched and photographed",
        "statement letter of 1964, dated 1964-05-01, from Brackwell Salvage; only its reference is held",
        "work report R-88, Crack test, dated 2019-04-10; content held",
        "2019-03-02 to 2019-04-11 quarantine cage (quarantine)",
        "2019-04-11 to now C-04-1 (bin)",
        "2020-01-09 to 2021-06-30 Linnet One, cylinder 1, master rod: ran 41.20 h and 55 starts",
        "What it was part of besides until 1964-05-01 Linnet PL-0102, cylinder 1 (engine)",
        "Now at bin C-04-1",
        "The ledger ended with entry 1204",
        "9f2c" * 16,
        "Printed 2024-06-01 14:05 UTC+02:00",
    ],
)
def test_the_sheet_says_all_that_is_recorded(words: str) -> None:
    assert says(MASTER_ROD, words)


def test_what_never_was_in_an_engine_says_so_and_a_place_is_not_told_twice() -> None:
    bare = replace(MASTER_ROD, engine_times=(), part_of=MASTER_ROD.part_of[:1])
    assert says(bare, "In which engines, and what they ran In no engine here, so far as recorded")
    assert not says(bare, "What it was part of besides")


@pytest.mark.parametrize(
    "words",
    [
        "Hours before 310.00 h",
        "Hours in all 322.50 h",
        "Starts in all at least 9 starts, no upper end known",
        "Overhauled 2019-04-11",
        "Hours since overhaul 12.50 h",
        "within limits: 322.50 h used of 1000.00 h since new, 677.50 h left",
        "expired: 322.50 h used of 320.00 h since new, over by 2.50 h",
        "NOT CLEARED: inside at the propeller strike of Linnet PL-0102 on 1961-06-03 (tips bent), and no"
        " inspection named for it has cleared it",
        "Inside at the propeller strike of Linnet PL-0102 on 1961-06-03 (tips bent); cleared 2019-04-09 by"
        " Ines Varga: crack test",
        "CONCESSION C 12 of Air Board, over the worn limit: journal 0.02 mm under (Linnet PL-0117, cylinder"
        " 1, from 2020-01-02, for 50.00 h, 12.50 h left; statement AA 77)",
        "Concession ended: C 11 of Air Board",
        "D 8: rod bolts, 2021-05-04 by Ines Varga: bolts renewed",
    ],
)
def test_the_sheet_says_what_it_ran_what_it_was_inside_for_and_what_is_allowed(words: str) -> None:
    assert says(LIVED_ROD, words)


def test_a_piece_with_no_limits_and_no_directives_has_no_empty_headings() -> None:
    for heading in ("Limits of its life", "Directives complied with on it"):
        assert says(LIVED_ROD, heading)
        assert not says(MASTER_ROD, heading)


def test_of_a_batch_only_what_is_fitted_may_have_been_inside() -> None:
    batch = replace(SPRING_BATCH, events=(replace(STRUCK, fitted_only=True),))
    assert says(batch, "NOT CLEARED: what is fitted of it was inside at the propeller strike")


def test_the_workbook_holds_limits_events_concessions_and_directives() -> None:
    workbook = book(LIVED_ROD)
    assert [cell.value for cell in workbook["Events"][6]] == [
        datetime(1961, 6, 3),
        "propeller strike of Linnet PL-0102 on 1961-06-03",
        "tips bent",
        "NOT CLEARED",
        None,
        None,
    ]
    assert workbook["Events"].cell(7, 4).value == datetime(2019, 4, 9)
    assert [cell.value for cell in workbook["Limits"][7]][:4] == [
        "320.00 h since new",
        "322.50 h",
        "over by 2.50 h",
        "expired",
    ]
    assert [row[8].value for row in workbook["Concessions"].iter_rows(min_row=6, max_row=7)] == [
        "in force",
        "ended",
    ]
    assert workbook["Directives"].cell(6, 2).value == datetime(2021, 5, 4)
    assert {"Limits", "Concessions", "Directives"}.isdisjoint(book(SPRING_BATCH).sheetnames)


def test_each_gap_is_shown_with_its_dates() -> None:
    assert says(MASTER_ROD, "until 1964-05-01 GAP: when it was made and where it was until then is not known")
    assert says(MASTER_ROD, "1964-05-01 to 2019-03-02 GAP: no paper covers these 54 years 10 months")
    lasting = replace(MASTER_ROD, gaps=(Gap(date(2020, 1, 1), None, "it was out of our hands"),))
    assert says(lasting, "2020-01-01 to now GAP: it was out of our hands")
    assert says(replace(MASTER_ROD, gaps=()), "None found in what is recorded")


def test_every_entry_prints_in_order_with_its_certificate_and_what_reversed_it() -> None:
    text = printed(MASTER_ROD)
    whats = ["".join(entry.what.split()) for entry in MASTER_ROD.entries]
    assert sorted(whats, key=text.index) == whats
    assert says(MASTER_ROD, "REVERSED by entry 331: no longer holds")
    assert says(MASTER_ROD, "engineer's licence HM-0442")
    assert says(MASTER_ROD, "no certificate recorded")
    assert says(MASTER_ROD, "recorded 2019-03-02 16:40 UTC")
    assert says(MASTER_ROD, "Note: Came with one letter.")


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_there_is_a_place_to_sign_with_the_fields_of_a_work_record(page: PageName) -> None:
    last = pages_text(pdf(MASTER_ROD, page))[-1]
    for label in (
        "Record of work, to be signed",
        "Description of the work done",
        "Date completed",
        "Name",
        "Signature",
        "Certificate number",
        "Kind of certificate",
    ):
        assert label in last


def test_the_tag_is_a_bar_code_and_every_page_has_the_safety_line_and_its_number() -> None:
    long = replace(MASTER_ROD, entries=MASTER_ROD.entries * 40)
    content = pdf(long)
    assert bar_codes(content) == ["T000301-M"]
    texts = pages_text(content)
    assert len(texts) > 3
    for number, text in enumerate(texts, start=1):
        assert SAFETY_LINE in " ".join(text.split())
        assert f"page {number} of {len(texts)}" in text
        assert "Traceability sheet T000301-M: Master rod" in text


def test_a_heading_is_never_left_alone_at_the_foot_of_a_page() -> None:
    for count in range(40):
        sheet = replace(MASTER_ROD, papers=MASTER_ROD.papers[:1] * count)
        for text in pages_text(pdf(sheet)):
            body = text[text.index("Traceability sheet") :]
            assert ("Every entry, in order" in body) == ("Booked in from" in body)


def test_a_batch_shows_where_how_much_and_its_kin() -> None:
    for words in (
        "Batch B000017-X",
        "31 off at bin A-11-3, of which 4 off reserved",
        "11 off at Linnet PL-0117, cylinder 5",
        "split from B000016-0, uninspected, 40 off, on 2022-08-20",
        "split into B000018-V, unserviceable, 5 off",
        "Drawing HS-207 revision C",
        "Material spring steel wire 3.6 mm",
        "Material papers heat 88412",
        "Made by Tom Arlow",
        "Inspected by Ines Varga",
        "No papers on file",
    ):
        assert says(SPRING_BATCH, words)


def test_a_piece_not_accepted_says_so() -> None:
    raw = replace(
        MASTER_ROD, condition=Condition.UNINSPECTED, scope=None, accepted_by="", accepted_on=None, serial=""
    )
    assert says(raw, "uninspected, not accepted")
    assert says(raw, "Accepted not yet")
    assert says(raw, "Serial none")


def test_a_note_longer_than_a_page_prints_to_its_end() -> None:
    note = "Было найдено <b>под</b> стендом & записано. " * 300 + "the end"
    entry = replace(MASTER_ROD.entries[0], note=note)
    sheet = replace(MASTER_ROD, note=note, entries=(entry,))
    assert printed(sheet).count("<b>под</b>") == 600
    assert printed(sheet).count("theend") == 2


def test_the_same_sheet_gives_the_same_bytes() -> None:
    assert pdf(MASTER_ROD) == pdf(MASTER_ROD)


def test_the_workbook_holds_entries_with_real_dates_and_numbers() -> None:
    entries = book(MASTER_ROD)["Entries"]
    first = dict(zip([cell.value for cell in entries[5]], entries[6], strict=True))
    assert (first["Entry"].value, first["Entry"].data_type) == (311, "n")
    assert first["Date"].value == datetime(2019, 3, 2)
    assert first["Recorded (UTC)"].value == datetime(2019, 3, 2, 16, 40, 12)
    second = dict(zip([cell.value for cell in entries[5]], entries[7], strict=True))
    assert second["REVERSED by"].value == 331
    assert second["Certificate"].value == "engineer's licence HM-0442"


def test_the_workbook_has_gaps_papers_places_holds_and_the_record_to_sign() -> None:
    workbook = book(MASTER_ROD)
    assert workbook["Gaps"].cell(6, 1).value == "not known"
    assert workbook["Gaps"].cell(6, 2).value == datetime(1964, 5, 1)
    assert workbook["Gaps"].cell(6, 3).value.startswith("GAP: when it was made")
    assert workbook["Papers"].cell(7, 4).value == datetime(2019, 4, 10)
    assert workbook["Where it was"].cell(7, 2).value == "now"
    assert workbook["Engines"].cell(6, 5).value == "41.20 h"
    assert workbook["Part of"].cell(7, 3).value == "Linnet PL-0102, cylinder 1"
    assert workbook["Holds"].cell(6, 2).value.startswith("ON HOLD: ")
    signing = next(row[0].row for row in workbook["Thing"].iter_rows() if row[0].value == "Signature")
    assert workbook["Thing"].row_dimensions[signing].height > 30
    thing = {row[0].value: row[1].value for row in workbook["Thing"].iter_rows(min_row=6)}
    assert thing["Tag"] == "T000301-M"
    assert thing["Last entry of the ledger"] == 1204
    assert {"Signature", "Certificate number", "Kind of certificate", "Date completed", "Name"} <= set(thing)


def test_the_workbook_of_a_batch_counts_in_numbers() -> None:
    quantities = book(SPRING_BATCH)["Quantities"]
    assert [cell.value for cell in quantities[6]] == ["bin A-11-3", 31, "off", 4, "off"]
    assert [cell.value for cell in book(SPRING_BATCH)["Split"][6]][:4] == [
        "split from",
        "B000016-0",
        "uninspected",
        40,
    ]


def test_a_day_older_than_workbooks_know_is_kept_as_text() -> None:
    old = replace(MASTER_ROD, gaps=(Gap(date(1899, 5, 1), date(1934, 1, 1), "no paper"),))
    assert book(old)["Gaps"].cell(6, 1).value == "1899-05-01"
    assert book(old)["Gaps"].cell(6, 2).value == datetime(1934, 1, 1)
