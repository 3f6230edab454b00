"""The pick list read back from its PDF and its workbook."""

from __future__ import annotations

import csv
import re
import shutil
import subprocess
from dataclasses import replace
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from pypdf import PdfReader

from invdb.paper.pick_list import write_pick_list_pdf, write_pick_list_xlsx
from invdb.paper.sheet_words import PageName
from invdb.rules.fits import FitVerdict
from invdb.rules.pick_list import FitNote, NearMiss, PickList
from invdb.rules.quantities import quantity_words
from invdb.terms import SAFETY_LINE, Condition, Refused
from tests.paper.sheets import (
    BARREL_SHORT,
    DABCHICK_2,
    EXHAUST_VALVE,
    INLET_VALVE,
    KIT,
    LINNET_5,
    LOCKING_WIRE,
    PRINTED_AT,
    SPRINGS,
    bar_codes,
    pages_text,
)

SKIRT = FitNote(
    KIT.pulls[0].number,
    "piston in barrel",
    "barrel T00011-X, piston T00012-V",
    "0.31 mm",
    FitVerdict.NEW,
    "",
    True,
)
RING_GAP = FitNote(
    KIT.pulls[0].number,
    "ring gap",
    "top ring B00001-Y, barrel T00011-X",
    "to be measured",
    FitVerdict.UNMEASURED,
    "file the gap to 0.45 mm",
    False,
)
NASTY = [
    "Zoë Ångström, Łódź",
    "Клапан впускной",
    "Βαλβίδα εξαγωγής",
    "<b>not bold</b> & <para/> &amp; {x}",
    "100 % (1/2) \\ ^ ~ $x$",
    "=1+1",
]


def pdf(pick_list: PickList, page: PageName = "A4") -> bytes:
    buffer = BytesIO()
    write_pick_list_pdf(pick_list, buffer, page)
    return buffer.getvalue()


def book(pick_list: PickList) -> Any:
    buffer = BytesIO()
    write_pick_list_xlsx(pick_list, buffer)
    return openpyxl.load_workbook(BytesIO(buffer.getvalue()))


def flat(text: str) -> str:
    """A page's text without where its lines broke."""
    return "".join(text.split())


def test_the_sheet_says_engine_position_who_and_when() -> None:
    (text,) = pages_text(pdf(KIT))
    for words in (
        "Harrowmere Flying Museum",
        "Linnet PL-0117, cylinder 5",
        "Pellworth Linnet, for flight",
        "Pull P-0012",
        "Asked by Ines Varga",
        "2024-05-31",
        "Printed 2024-06-01 14:05 UTC+02:00",
        "page 1 of 1",
    ):
        assert words in text


def test_rows_are_in_the_order_one_walks_the_bins() -> None:
    text = pages_text(pdf(KIT))[0]
    bins = [row.bin_name for row in (LOCKING_WIRE, SPRINGS, INLET_VALVE, EXHAUST_VALVE)]
    assert sorted(bins, key=text.index) == bins


def test_every_tag_is_a_bar_code_that_reads_back() -> None:
    tags = [row.tag for row in (LOCKING_WIRE, SPRINGS, INLET_VALVE, EXHAUST_VALVE)]
    assert bar_codes(pdf(KIT)) == ["P-0012", *tags]


def test_the_longest_tag_that_is_set_as_a_bar_code_still_reads_back() -> None:
    longest = "W" * 18
    kit = replace(KIT, short_rows=(), rows=(replace(SPRINGS, tag=longest),))
    assert bar_codes(pdf(kit)) == ["P-0012", longest]


@pytest.mark.parametrize("tag", ["T" * 60, "Т0001", "T\x07"])
def test_a_tag_that_no_bar_code_can_carry_says_so(tag: str) -> None:
    kit = replace(KIT, short_rows=(), rows=(replace(SPRINGS, tag=tag),))
    content = pdf(kit)
    assert bar_codes(content) == ["P-0012"]
    assert "cannot be set as a bar code" in pages_text(content)[0]


def test_tags_of_every_make_read_back() -> None:
    tags = ["1", "12", "123", "A1", "1A", "12A34", "0011-22", "a b", "~!%&/", "1234567890", "<b>"]
    rows = tuple(replace(SPRINGS, tag=tag, walking_order=n) for n, tag in enumerate(tags))
    content = pdf(replace(KIT, rows=rows, short_rows=()))
    read = [code for page in range(len(pages_text(content))) for code in bar_codes(content, page)]
    assert read == ["P-0012", *tags]


@pytest.mark.parametrize("number", ["P-0012", ""])
def test_a_kit_that_is_only_proposed_says_that_nothing_is_reserved(number: str) -> None:
    rows = tuple(replace(row, pull_number=number) for row in KIT.rows)
    # A kit without a number is only proposed, whatever else is said of it.
    head = replace(LINNET_5, number=number, reserved=number == "")
    proposed = replace(KIT, pulls=(head,), rows=rows, short_rows=())
    text = pages_text(pdf(proposed))[0]
    assert "Pick list, proposed: Linnet PL-0117, cylinder 5" in text
    assert flat("Proposed; nothing is reserved") in flat(text)
    assert "P-0012" not in bar_codes(pdf(proposed))
    assert book(proposed)["Pulls"].cell(6, 8).value == "Proposed; nothing is reserved"


def test_alternates_shortages_hazards_and_remarks_are_in_words() -> None:
    text = flat(pages_text(pdf(KIT))[0])
    for words in (
        "ALTERNATE for LV0420-5, allowed by service letter PS 14",
        "HAZARD: sodium-filled. Never cut, grind or scrap with others.",
        "Ream the guide to 12.02 after pressing",
        "SHORT",
        "1 off missing",
        "T000077-5: accepted for ground running only",
        "T000078-3: out for work at Brackwell Plating, due 2024-07-15",
        f"4 to fetch from 4 bins · 1 alternate · 1 SHORT: {BARREL_SHORT.station}",
    ):
        assert flat(words) in text


def test_an_alternate_without_authority_is_not_passed_off_as_allowed() -> None:
    row = replace(EXHAUST_VALVE, authority="")
    text = flat(pages_text(pdf(replace(KIT, rows=(row,))))[0])
    assert flat("ALTERNATE for LV0420-5, no authority recorded") in text


def test_the_first_page_names_what_is_short_and_counts_what_it_does_not_name() -> None:
    short = tuple(replace(BARREL_SHORT, station=station) for station in ("barrel", "piston", "rings", "pin"))
    text = flat(pages_text(pdf(replace(KIT, short_rows=short)))[0])
    assert flat("4 SHORT: barrel, piston, rings and 1 more") in text


def test_hours_that_are_not_known_are_said_to_be_hours() -> None:
    row = replace(SPRINGS, hours="not known")
    assert flat("· hours not known ·") in flat(pages_text(pdf(replace(KIT, rows=(row,))))[0])


def test_an_empty_sheet_of_the_workbook_says_that_it_is_empty() -> None:
    assert book(replace(KIT, short_rows=()))["Short"].cell(6, 1).value == "None recorded"


def test_a_thing_accepted_for_nothing_says_so() -> None:
    row = replace(SPRINGS, condition=Condition.UNINSPECTED, scope=None)
    assert "uninspected, not accepted" in pages_text(pdf(replace(KIT, rows=(row,))))[0]


def test_fits_not_checked_stands_on_every_page_until_they_are() -> None:
    many = replace(KIT, rows=KIT.rows * 10)
    unchecked = pages_text(pdf(many))
    assert len(unchecked) > 2
    assert all("FITS NOT CHECKED" in text for text in unchecked)
    for fits, checked in (((SKIRT,), True), ((SKIRT, RING_GAP), False)):
        texts = pages_text(pdf(replace(many, fits=fits)))
        assert any("FITS NOT CHECKED" in text for text in texts) is not checked


def test_fits_are_printed_with_what_is_done_on_assembly() -> None:
    text = flat(" ".join(pages_text(pdf(replace(KIT, fits=(SKIRT, RING_GAP))))))
    assert flat("piston in barrel") in text
    assert flat("0.31 mm") in text
    assert flat("file the gap to 0.45 mm") in text
    sheet = book(replace(KIT, fits=(SKIRT, RING_GAP)))["Fits"]
    assert [sheet.cell(row, 5).value for row in (6, 7)] == ["within new limits", "to be measured"]
    assert sheet.cell(7, 7).value == "file the gap to 0.45 mm"


def test_a_fit_of_another_pull_is_an_error_of_the_caller() -> None:
    with pytest.raises(ValueError, match="not on the list"):
        replace(KIT, fits=(replace(SKIRT, pull_number="P 99"),))


def test_quantities_are_exact() -> None:
    text = pages_text(pdf(KIT))[0]
    for row in KIT.rows:
        assert quantity_words(row.quantity, row.measure) in text


def test_several_pulls_make_one_walk_that_names_the_cylinder_of_each_row() -> None:
    rows = (SPRINGS, replace(SPRINGS, pull_number="P-0013", tag="B000018-V"))
    text = flat(pages_text(pdf(replace(KIT, pulls=(LINNET_5, DABCHICK_2), rows=rows)))[0])
    assert flat("goes to Linnet PL-0117, cylinder 5: valve springs") in text
    assert flat("goes to Dabchick PD-0031, cylinder 2: valve springs") in text
    assert flat("Pull P-0012") in text and flat("Pull P-0013") in text


def test_several_kits_of_one_engine_name_it_once() -> None:
    three = replace(LINNET_5, number="P-0013", position="cylinder 3")
    rows = (replace(SPRINGS, serial="lot 88412"), replace(SPRINGS, pull_number="P-0013", tag="B000018-V"))
    proposed = tuple(replace(pull, reserved=False) for pull in (LINNET_5, three))
    text = pages_text(pdf(replace(KIT, pulls=proposed, rows=rows)))[0]
    assert "Pick list, proposed: Linnet PL-0117, cylinder 5, cylinder 3" in text
    assert flat("goes to cylinder 3: valve springs") in flat(text)
    assert "maker's batch lot 88412" in text
    numbered = pages_text(pdf(replace(KIT, pulls=(LINNET_5, three), rows=rows)))[0]
    assert "Pick list for 2 pulls: P-0012, P-0013" in numbered


def test_an_empty_kit_prints_one_page_that_says_so() -> None:
    (text,) = pages_text(pdf(replace(KIT, rows=(), short_rows=())))
    assert "Nothing to fetch and nothing short." in text


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_two_thousand_rows_all_print_and_pages_are_numbered(page: PageName) -> None:
    rows = tuple(replace(INLET_VALVE, tag=f"T{n:06}", walking_order=n) for n in range(2000))
    content = pdf(replace(KIT, rows=rows, short_rows=()), page)
    texts = pages_text(content)
    width, height = {"A4": (595, 842), "Letter": (612, 792)}[page]
    box = PdfReader(BytesIO(content)).pages[0].mediabox
    assert (round(box.width), round(box.height)) == (width, height)
    for number, text in enumerate(texts, start=1):
        assert f"page {number} of {len(texts)}" in text
        assert flat(SAFETY_LINE) in flat(text)
        if "T0" in text:
            assert "Part, and where it goes" in text
    assert re.findall("T00[0-9]{4}", "\n".join(texts)) == [row.tag for row in rows]


@pytest.mark.parametrize("text", NASTY)
def test_whatever_is_typed_prints_as_it_was_typed(text: str) -> None:
    row = replace(INLET_VALVE, part_name=text, bin_name=text, station=text, why=text)
    kit = replace(KIT, workshop=text, rows=(row,), pulls=(replace(LINNET_5, asked_by=text, engine=text),))
    printed = flat(pages_text(pdf(kit))[0])
    # The workshop and engine in the head, the engine, who asked, the bin, the part, the station and the why.
    assert printed.count(flat(text)) >= 8


@pytest.mark.parametrize(
    ("letter", "printed"),
    [
        ("𓀀", "U+13000"),
        ("漢", "U+6F22"),
        ("\u202e", "U+202E"),
        ("\x07", "U+0007"),
        ("\x00", "U+0000"),
        ("\ud83d", "U+D83D"),
        ("\u200b", "U+200B"),
    ],
)
def test_what_no_letter_shows_prints_as_its_code_point(letter: str, printed: str) -> None:
    text = pages_text(pdf(replace(KIT, rows=(replace(SPRINGS, part_name=f"a{letter}b"),))))[0]
    assert f"a{printed}b" in text


def test_an_accent_typed_apart_prints_as_one_letter() -> None:
    assert "Zoë" in pages_text(pdf(replace(KIT, workshop="Zoe\u0308")))[0]


@pytest.mark.parametrize("page", ["A4", "Letter"])
@pytest.mark.parametrize("word", ["W" * 3000, "valve " * 1500, "line\n" * 400])
def test_long_text_goes_on_over_pages_and_nothing_is_left_off(word: str, page: PageName) -> None:
    row = replace(INLET_VALVE, part_name=word, bin_name="B-" + "9" * 200, why="the end")
    near = (NearMiss("T1", word), NearMiss("T2", "the last bar"))
    kit = replace(KIT, rows=(row,), short_rows=(replace(BARREL_SHORT, near_misses=near),))
    texts = pages_text(pdf(kit, page))
    assert len(texts) > 2
    whole = flat("".join(texts))
    assert sum(text.count(word[0]) for text in texts) >= 2 * word.count(word[0])
    assert "theend" in whole and flat("T2: the last bar") in whole


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_nothing_runs_over_the_edge_or_over_another_line(page: PageName) -> None:
    long = "Überlange Bezeichnung " * 12 + "x" * 90
    row = replace(
        EXHAUST_VALVE, part_name=long, part_number="9" * 70, bin_name=long, serial=long, papers=long, why=long
    )
    kit = replace(
        KIT, rows=(row, SPRINGS), pulls=(replace(LINNET_5, engine=long, asked_by=long),), workshop=long
    )
    for pdf_page in PdfReader(BytesIO(pdf(kit, page))).pages:
        lines: list[tuple[float, float, float]] = []

        def see(text: str, _cm, matrix, _font, size: float, lines=lines) -> None:
            if text.strip():
                lines.append((round(matrix[4], 1), round(matrix[5], 1), size))

        pdf_page.extract_text(visitor_text=see)
        assert lines
        for x, y, size in lines:
            assert 34 <= x < float(pdf_page.mediabox.width) - 34
            assert 30 <= y <= float(pdf_page.mediabox.height) - 30
            above = [other for at, other, _ in lines if at == x and other - y > 0]
            assert not above or min(above) - y >= size * 0.95


def test_the_same_list_gives_the_same_bytes() -> None:
    assert pdf(KIT) == pdf(KIT)


def test_the_letters_are_embedded() -> None:
    fonts = PdfReader(BytesIO(pdf(KIT))).pages[0]["/Resources"]["/Font"].values()  # type: ignore[index]
    used = [font.get_object() for font in fonts if "DejaVu" in font.get_object()["/BaseFont"]]
    assert used and all("/FontFile2" in font["/FontDescriptor"].get_object() for font in used)


def test_a_path_gets_the_whole_sheet_or_stays_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "list.pdf"
    write_pick_list_pdf(KIT, path)
    assert path.read_bytes() == pdf(KIT)
    assert [entry.name for entry in tmp_path.iterdir()] == ["list.pdf"]
    with pytest.raises(Refused, match="cannot be written"):
        write_pick_list_pdf(KIT, tmp_path / "no such folder" / "list.pdf")
    with pytest.raises(Refused, match="cannot be written"):
        write_pick_list_xlsx(KIT, tmp_path)
    assert [entry.name for entry in tmp_path.iterdir()] == ["list.pdf"]


def test_the_workbook_has_real_numbers_and_dates_and_text_part_numbers() -> None:
    workbook = book(KIT)
    fetch = workbook["To fetch"]
    headings = [cell.value for cell in fetch[5]]
    wire = dict(zip(headings, fetch[6], strict=True))
    assert wire["Bin"].value == "A-01-1"
    assert (wire["Quantity"].value, wire["Quantity"].data_type, wire["Unit"].value) == (1.25, "n", "m")
    assert (wire["Part number"].value, wire["Part number"].number_format) == ("LW0003-4", "@")
    pulls = workbook["Pulls"]
    asked = dict(zip([cell.value for cell in pulls[5]], pulls[6], strict=True))["Asked on"]
    assert (asked.value, asked.number_format) == (datetime(2024, 5, 31), "yyyy-mm-dd")
    assert workbook.properties.created == PRINTED_AT.replace(tzinfo=None)


def test_the_workbook_marks_alternates_and_shortages_in_words() -> None:
    workbook = book(KIT)
    fetched = [cell.value for row in workbook["To fetch"].iter_rows() for cell in row]
    assert any(str(value).startswith("ALTERNATE for LV0420-5") for value in fetched)
    assert "FITS NOT CHECKED" in fetched and SAFETY_LINE in fetched
    short = workbook["Short"]
    assert "SHORT by" in [cell.value for cell in short[5]]
    assert "T000077-5: accepted for ground running only" in short.cell(6, 7).value


def test_the_workbook_is_set_up_for_the_printer() -> None:
    for sheet in book(replace(KIT, rows=KIT.rows * 3)):
        assert sheet.freeze_panes == "A6"
        assert sheet.print_title_rows == "$1:$5"
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
        assert int(sheet.page_setup.paperSize) == 9
        assert "&P" in sheet.oddFooter.right.text and "&N" in sheet.oddFooter.right.text
        assert sheet.oddFooter.left.text == SAFETY_LINE
        assert all(column.width for column in sheet.column_dimensions.values())


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", '=HYPERLINK("x")', "#N/A", "\t=1", "0012", "1E5", "="]
)
def test_no_text_becomes_a_formula_a_fault_or_a_number(text: str) -> None:
    row = replace(INLET_VALVE, part_name=text, part_number=text, tag=text, bin_name=text)
    sheet = book(replace(KIT, rows=(row,)))["To fetch"]
    cells = [sheet.cell(6, column) for column in (2, 3, 7, 8)]
    assert [cell.value for cell in cells] == [text] * 4
    assert [cell.data_type for cell in cells] == ["s"] * 4
    assert all(cell.quotePrefix == text.startswith(("=", "+", "-", "@", "\t")) or None for cell in cells)


def test_a_workbook_shows_what_xml_cannot_hold_as_code_points() -> None:
    row = replace(INLET_VALVE, part_name="a\x07b\ud83dc\uffffd", why="one\r\ntwo", station="_x000D_")
    sheet = book(replace(KIT, rows=(row,)))["To fetch"]
    assert sheet.cell(6, 8).value == "aU+0007bU+D83DcU+FFFFd"
    assert sheet.cell(6, 16).value == "one\ntwo"
    assert sheet.cell(6, 9).value.endswith("_x005F_x000D_")


def test_a_text_too_long_for_a_cell_says_how_much_there_was() -> None:
    row = replace(INLET_VALVE, why="x" * 40_000)
    value = book(replace(KIT, rows=(row,)))["To fetch"].cell(6, 16).value
    assert len(value) <= 32767
    assert value.endswith("(a cell holds no more; 40000 letters in all, see the PDF)")


def test_two_thousand_rows_keep_their_own_words_in_the_workbook() -> None:
    rows = tuple(replace(r, tag=f"T{n:06}", walking_order=n) for n in range(500) for r in KIT.rows)
    sheet = book(replace(KIT, rows=rows))["To fetch"]
    assert [sheet.cell(6 + n, 3).value for n in range(2000)] == [row.tag for row in rows]


@pytest.mark.skipif(shutil.which("soffice") is None, reason="LibreOffice is not installed here")
def test_libreoffice_opens_the_workbook_and_reads_the_same(tmp_path: Path) -> None:
    nasty = replace(INLET_VALVE, part_name="=1+1 & <b>Клапан</b>", station="_x0041_", serial="0012")
    write_pick_list_xlsx(replace(KIT, rows=(nasty,)), tmp_path / "list.xlsx")
    subprocess.run(
        [
            "soffice",
            f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}",
            "--headless",
            "--convert-to",
            "csv:Text - txt - csv (StarCalc):44,34,76",
            "--outdir",
            tmp_path,
            tmp_path / "list.xlsx",
        ],
        check=True,
        capture_output=True,
        timeout=200,
    )
    rows = list(csv.reader((tmp_path / "list.csv").read_text(encoding="utf-8").splitlines()))
    read = dict(zip(rows[4], rows[5], strict=True))
    assert read["Part"] == "=1+1 & <b>Клапан</b>"
    assert read["Goes to"] == "Linnet PL-0117, cylinder 5: _x0041_"
    assert read["Serial"] == "0012"
    assert read["Quantity"] == "1"
