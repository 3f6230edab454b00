"""The shortage list read back from its PDF and its workbook."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from io import BytesIO
from typing import Any

import openpyxl
import pypdfium2  # type: ignore[import-untyped]
import pytest

from invdb.paper.sheet_words import PageName
from invdb.paper.short_tables import CHARTS_MAX
from invdb.paper.short_words import chance_words
from invdb.paper.shortage_list import write_shortage_list_pdf, write_shortage_list_xlsx
from invdb.rules.short_facts import ShortList, ShortRow
from invdb.terms import SAFETY_LINE
from tests.paper.bought import BOARD, MONTHS, RING_WATCHED, SHORT_LIST, VALVE_SHORT, WIRE_ENOUGH
from tests.paper.sheets import pages_text


def pdf(short_list: ShortList, page: PageName = "A4") -> bytes:
    buffer = BytesIO()
    write_shortage_list_pdf(short_list, buffer, page)
    return buffer.getvalue()


def book(short_list: ShortList) -> Any:
    buffer = BytesIO()
    write_shortage_list_xlsx(short_list, buffer)
    return openpyxl.load_workbook(BytesIO(buffer.getvalue()))


def of(*rows: ShortRow) -> ShortList:
    return replace(SHORT_LIST, board=replace(BOARD, rows=rows))


def says(short_list: ShortList, words: str) -> bool:
    """Whether the list has these words in a row, wherever lines and pages broke."""
    return "".join(words.split()) in "".join("".join(pages_text(pdf(short_list))).split())


@pytest.mark.parametrize(
    "words",
    [
        "Shortage list of 2024-06-01",
        "3 parts: 1 short, of which 1 would stop a flying engine; 1 to watch",
        "As of 2024-06-01, looking 24 months ahead, to the end of 2026-06",
        "Watched from a chance of 5 % on, short from 20 % on",
        "deliver in 90 days and to turn work round in 60 days",
        "Exhaust valve LV0431-7 · Valves",
        "Shares its stock with LV0432-5",
        "90 % by 2026-06 Need 6.2 off (4 to 9)",
        "1 off free, 2 off coming",
        "3.6 off short on average",
        "Rests on 14 pieces looked at; simulated, ± 0.4 % (one standard error)",
        "SHORT from 2024-11 Would stop a flying engine: Linnet One, Dabchick Two",
        "Have made, 12 off: Alder Foundry makes no fewer than 12, at 41.50 EUR each",
        "Take from the engine in store, 2 off: Dabchick Two, in store",
        "To watch from 2025-06",
        "Below the threshold to watch",
        "LW0007-1 · Wire under 1 % Need 1.30 m (0.5 to 2.25) 12.5 m free, 0 m coming",
        "Rests on 1 piece looked at",
    ],
)
def test_the_list_says_what_is_short_when_how_sure_and_what_to_do(words: str) -> None:
    assert says(SHORT_LIST, words)


def test_parts_below_the_threshold_take_a_line_each_under_their_own_heading() -> None:
    calm = tuple(
        replace(WIRE_ENOUGH, house_number=f"LW{number:04d}-1", inspections=0) for number in range(60)
    )
    texts = pages_text(pdf(of(VALVE_SHORT, *calm)))
    assert len(texts) <= 4
    assert "Part, worst first" in texts[0] and "Part, worst first" not in texts[-1]
    assert "What it rests on" in texts[-1] and "BELIEF ALONE" in texts[-1]
    alone = "".join(pages_text(pdf(of(*calm))))
    assert "60 parts: none short; none to watch" in alone and "Part, worst first" not in alone


def test_where_the_belief_alone_speaks_the_list_says_so_and_nowhere_else() -> None:
    belief = "BELIEF ALONE, or a rule: no inspection of ours stands behind it"
    assert says(of(RING_WATCHED), belief)
    assert not says(of(VALVE_SHORT), belief)
    rests = [row[17].value for row in book(SHORT_LIST)["Short"].iter_rows(min_row=6)]
    assert [belief in words for words in rests] == [False, True, False]


def test_a_part_short_with_no_way_known_says_to_ask_round() -> None:
    assert says(of(replace(VALVE_SHORT, advice=())), "is on record: ask round")
    assert not says(of(VALVE_SHORT), "ask round")
    assert not says(of(RING_WATCHED), "ask round")


def test_no_chance_reads_as_over_a_threshold_that_it_is_under() -> None:
    chances = (0.0, 1e-9, 0.0099, 0.05, 0.196, 0.2, 0.29, 0.9999, 1.0)
    said = ["0 %", "under 1 %", "under 1 %", "5 %", "19 %", "20 %", "29 %", "99 %", "100 %"]
    assert [chance_words(chance) for chance in chances] == said


def red(content: bytes) -> int:
    """How many dots of the first page are of the red that bars over the threshold have."""
    picture = pypdfium2.PdfDocument(content)[0].render(scale=2).to_pil().convert("RGB")
    return sum(count for count, colour in picture.getcolors(1 << 24) if colour == (158, 15, 20))


def test_the_chart_is_drawn_red_from_the_threshold_on() -> None:
    calm = replace(VALVE_SHORT, chances=(0.19,) * 25)
    sure = replace(VALVE_SHORT, chances=(0.19,) * 12 + (1.0,) * 13)
    # Thirteen bars of 52 points' width in all, 36 points high, at two dots a point, less the gaps between.
    assert red(pdf(of(sure))) - red(pdf(of(calm))) > 0.75 * (52 * 2) * (36 * 2)


def test_a_list_by_a_filter_says_by_which() -> None:
    only = replace(SHORT_LIST, only="what stops Linnet One")
    assert says(only, "Shortage list Only what stops Linnet One 3 parts")
    assert book(only)["Reckoned by"].cell(7, 2).value == "only what stops Linnet One"


def test_a_list_with_no_part_says_so() -> None:
    assert says(of(), "No part on this list As of 2024-06-01")
    workbook = book(of())
    assert workbook["Short"].cell(6, 1).value == "No part on this list"
    assert not workbook["Charts"]._charts


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_every_page_of_a_long_list_has_its_number_its_headings_and_the_safety_line(page: PageName) -> None:
    rows = tuple(replace(VALVE_SHORT, house_number=f"LV{number:04d}-7") for number in range(300))
    texts = pages_text(pdf(of(*rows), page))
    assert len(texts) > 20
    for number, text in enumerate(texts, start=1):
        assert SAFETY_LINE in " ".join(text.split())
        assert f"page {number} of {len(texts)}" in text
        assert "Part, worst first" in text
    printed = "".join(texts)
    places = [printed.index(row.house_number) for row in rows]
    assert places == sorted(places)


def test_a_name_longer_than_a_page_prints_to_its_end() -> None:
    name = "Auslassventil " * 300 + "Ventilsitzeinsatzringausdrehvorrichtung"
    row = replace(VALVE_SHORT, name=name, engines=tuple(f"Linnet {number}" for number in range(300)))
    printed = "".join("".join(pages_text(pdf(of(row, RING_WATCHED)))).split())
    assert printed.count("Auslassventil") == 300
    assert "Ventilsitzeinsatzringausdrehvorrichtung" in printed
    assert "Linnet298,Linnet299" in printed


def test_the_same_list_gives_the_same_bytes() -> None:
    assert pdf(SHORT_LIST) == pdf(SHORT_LIST)


def test_the_workbook_counts_in_numbers_and_dates() -> None:
    short = book(SHORT_LIST)["Short"]
    first = [cell.value for cell in short[6]]
    assert first[:5] == ["LV0431-7", "Exhaust valve", "Valves", 0.9, 3.6]
    assert first[5:7] == [datetime(2024, 11, 1), datetime(2024, 8, 1)]
    assert first[7:13] == [6.2, 4, 9, 1, 2, "off"]
    assert short.cell(6, 4).number_format == "0.0%"
    assert [cell.value for cell in short[8]][7:13] == [1.3, 0.5, 2.25, 12.5, 0, "m"]


def test_the_workbook_has_a_chart_for_each_part_of_its_own_figures_and_the_thresholds() -> None:
    workbook = book(SHORT_LIST)
    by_month = workbook["By month"]
    assert [cell.value for cell in by_month[5]][2:] == [f"{month:%Y-%m}" for month in MONTHS]
    assert [cell.value for cell in by_month[10]][:3] == ["Threshold", "short from", 0.2]
    charts = workbook["Charts"]._charts
    assert [chart.anchor._from.row for chart in charts] == [5, 6, 7]
    for number, chart in enumerate(charts, start=6):
        drawn = [series.val.numRef.f for part in chart._charts for series in part.series]
        assert drawn == [f"'By month'!$C${each}:$AA${each}" for each in (number, 9, 10)]
        assert chart.title.tx.strRef.f == f"'By month'!$B${number}"


def test_a_workbook_of_very_many_parts_has_charts_of_the_worst_and_says_so() -> None:
    workbook = book(of(*(VALVE_SHORT,) * (CHARTS_MAX + 1)))
    assert len(workbook["Charts"]._charts) == CHARTS_MAX
    assert f"of the {CHARTS_MAX} worst; of all {CHARTS_MAX + 1}" in workbook["Charts"].cell(1, 1).value
    assert workbook["By month"].cell(6 + CHARTS_MAX, 1).value == "LV0431-7"
