"""Inspection sheets read back from their PDF: the blank one to fill in by hand, and the filled one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from io import BytesIO

import pypdf
import pypdfium2  # type: ignore[import-untyped]
import pytest

from invdb.paper.inspection_filled import write_inspection_pdf
from invdb.paper.inspection_sheet import write_inspection_sheet_pdf
from invdb.paper.sheet_pdf import MARGIN
from invdb.paper.sheet_words import PageName
from invdb.rules.inspection_sheet import (
    BenchTested,
    FilledSheet,
    InspectionDone,
    InstrumentNote,
    LastReading,
    LineDone,
    ReadingDone,
    SheetLine,
    SheetToFill,
    bounds_words,
)
from invdb.rules.limits import LineLimits, Reading, judge, judge_line
from invdb.rules.measuring import kept
from invdb.rules.pick_list import HazardNote
from invdb.rules.specification import SpecLineFacts
from invdb.terms import SAFETY_LINE, Condition, CrackMethod, Scope, SpecKind
from tests.paper.sheets import bar_codes, pages_text

PRINTED_AT = datetime(2026, 3, 2, 9, 5, tzinfo=UTC)
NO_LIMITS = LineLimits("", "")
BORE = LineLimits(
    "bore",
    "mm",
    "98.00",
    "98.03",
    worn_high="98.20",
    oval_max="0.05",
    taper_max="0.08",
    points=("top", "middle", "foot"),
    directions=("along", "across"),
)
FLANGE = LineLimits("flange thickness", "in", "3/8", "0.380", "0.360")
TORQUE = LineLimits("hold-down nuts", "lbf ft", "22", "25")
GAUGE = LineLimits("water jacket", "lbf/in²")


def line(kind: SpecKind, name: str, limits: LineLimits = NO_LIMITS, **more: object) -> SheetLine:
    return SheetLine(SpecLineFacts(1, kind, name, "", limits.unit, limits, **more))  # type: ignore[arg-type]


def last(*figures: str) -> tuple[LastReading, ...]:
    return tuple(
        LastReading(point, way, figure, "mm", date(2025, 3, 1), judge(kept(figure, "mm").value, BORE))
        for (point, way), figure in zip(BORE.places, figures, strict=False)
    )


BARREL = SheetToFill(
    workshop="Harrowmere Flying Museum",
    printed_at=PRINTED_AT,
    on=date(2026, 3, 2),
    part_number="BA0002-4",
    part_name="Cylinder barrel",
    size_class="0.25 mm oversize",
    finish="chromium plated",
    tag="T00012-4",
    serial="L 4471",
    condition=Condition.UNINSPECTED,
    where="Bench",
    owner="Dunmere Gliding Club",
    spec=1,
    revision="C",
    source="Pellworth overhaul manual, part 3",
    lines=(
        replace(
            line(SpecKind.DIMENSION, "bore", BORE, target="98.015"),
            last=last("98.02", "98.03", "98.02", "98.02"),
        ),
        line(SpecKind.DIMENSION, "flange thickness", FLANGE),
        line(
            SpecKind.PRESSURE_TEST,
            "water jacket",
            GAUGE,
            target="60",
            medium="hot water",
            hold_seconds=600,
            drop_max="2",
        ),
        line(SpecKind.CRACK_TEST, "flange and fins", wording="all of the flange"),
        line(SpecKind.LOOK, "fins", wording="not more than three broken"),
        line(SpecKind.MATERIAL, "barrel", wording="steel to PS 11"),
        line(SpecKind.TORQUE, "hold-down nuts", TORQUE, target="24"),
    ),
    hazards=(HazardNote("cadmium-plated", "Do not grind the studs."),),
    checks_missing=("the right part", "damage"),
    against=("it was inside Linnet One when it overheated on 2025-06-02",),
    instruments=(
        InstrumentNote(1, "MC-04", "Bore micrometer", date(2025, 6, 1), date(2026, 6, 1)),
        InstrumentNote(
            2,
            "MC-05",
            "Depth gauge",
            date(2024, 6, 1),
            date(2025, 6, 1),
            "was out of calibration, which ended on 2025-06-01",
        ),
    ),
)


def blank(sheet: SheetToFill, page: PageName = "A4") -> bytes:
    buffer = BytesIO()
    write_inspection_sheet_pdf(sheet, buffer, page)
    return buffer.getvalue()


def filled(done: InspectionDone) -> bytes:
    buffer = BytesIO()
    hazards = (HazardNote("cadmium-plated", "Do not grind the studs."),)
    write_inspection_pdf(FilledSheet("Harrowmere Flying Museum", PRINTED_AT, "L 4471", done, hazards), buffer)
    return buffer.getvalue()


def says(content: bytes, words: str) -> bool:
    """Whether the sheet has these words in a row, wherever lines and pages broke."""
    return "".join(words.split()) in "".join("".join(pages_text(content)).split())


@pytest.mark.parametrize(
    "words",
    [
        "Piece T00012-4 Cylinder barrel BA0002-4, 0.25 mm oversize, chromium plated Serial L 4471",
        "uninspected, not accepted",
        "Owner: Dunmere Gliding Club Now at Bench",
        "Judged by revision C, Pellworth overhaul manual, part 3, in force on 2026-03-02",
        "HAZARD: cadmium-plated. Do not grind the studs.",
        "Stands against it: it was inside Linnet One when it overheated on 2025-06-02",
        "bore, mm new 98.00 to 98.03 mm (3.85827 to 3.85945 in) worn at most 98.20 mm (3.86614 in)",
        "ovality at most 0.05 mm (0.00197 in) taper at most 0.08 mm (0.00315 in)",
        "target 98.015 mm (3.85886 in)",
        "last, on 2025-03-01: top 98.02 / 98.03, middle 98.02 / 98.02 mm",
        "new 3/8 to 0.380 in (9.525 to 9.652 mm) worn at least 0.360 in (9.144 mm)",
        "with hot water, at 60 lbf/in² (4.137 bar), held for 10 min, drop at most 2 lbf/in² (0.138 bar)",
        "Medium Pressure Start End Held Drop Gauge Calibrated until",
        "magnetic particle dye penetrant fluorescent penetrant eddy current ultrasonic radiographic",
        "fins not more than three broken",
        "barrel (material): steel to PS 11",
        "hold-down nuts (torque): 22 to 25 lbf ft / 29.83 to 33.9 N·m; target 24 lbf ft (32.54 N·m)",
        "The right part Damage",
        "serviceable, for flight serviceable, for ground running serviceable, for display",
        "Inspected by Licence or certificate number",
        "Instrument; calibrated until",
        "MC-04 Bore micrometer, calibrated until 2026-06-01",
        "MC-05 Depth gauge, calibrated until 2025-06-01: was out of calibration",
        SAFETY_LINE,
    ],
)
def test_the_blank_sheet_says(words: str) -> None:
    assert says(blank(BARREL), words)


def test_every_point_and_direction_has_its_name_and_its_box() -> None:
    text = "\n".join(pages_text(blank(BARREL)))
    for name in ("top", "middle", "foot", "along", "across"):
        assert name in text.split("flange thickness, in")[0]


def test_last_figures_in_several_units_each_say_theirs() -> None:
    bore, *_ = BARREL.lines
    inches = replace(bore.last[0], figure="3.8590", unit="in")
    content = blank(replace(BARREL, lines=(replace(bore, last=(inches, *bore.last[1:])),)))
    assert says(content, "last, on 2025-03-01: top 3.8590 in / 98.03 mm, middle 98.02 mm / 98.02 mm")


def test_long_names_of_points_stand_in_full_beside_fewer_directions() -> None:
    points = ("at the spring end", "in the middle", "at the port end")
    guide = replace(BORE, points=points, directions=("along the crankshaft", "across it", "at 45°"))
    content = blank(replace(BARREL, lines=(line(SpecKind.DIMENSION, "guide", guide),)))
    for name in points:
        assert says(content, name)
    assert says(content, "guide, continued")


def test_what_has_no_limits_has_no_verdict_to_tick() -> None:
    mass = line(SpecKind.MASS, "mass", LineLimits("mass", "g"))
    bounded = line(SpecKind.MASS, "mass", LineLimits("mass", "g", "500", "520"))
    none, some = (boxes(blank(replace(BARREL, lines=(each,)))) for each in (mass, bounded))
    assert some - none == 3


def boxes(content: bytes) -> int:
    """How many boxes the sheet has: rectangles drawn and not filled."""
    drawn = 0
    for page in pypdf.PdfReader(BytesIO(content)).pages:
        stream = page.get_contents()
        assert stream is not None
        operators = stream.get_data().split()
        drawn += sum(operators[at : at + 2] == [b"re", b"S"] for at in range(len(operators)))
    return drawn


def test_a_line_of_more_points_and_directions_has_a_box_for_each() -> None:
    directions = tuple(f"at {angle}°" for angle in range(0, 160, 20))
    points = tuple(f"point {number}" for number in range(1, 21))
    many = replace(BORE, points=points, directions=directions)
    one = replace(BORE, points=(), directions=(), oval_max=None, taper_max=None)

    def sheet(limits: LineLimits) -> SheetToFill:
        return replace(BARREL, lines=(line(SpecKind.DIMENSION, "bore", limits),))

    further = boxes(blank(sheet(many))) - boxes(blank(sheet(one)))
    # Of 8 directions 3 go side by side and of 20 points 16 one below the other: six blocks, each with two
    # boxes for its instrument; and two boxes more for ovality and taper.
    assert further == 20 * 8 - 1 + (6 - 1) * 2 + 2


def test_the_tag_is_read_by_a_scanner() -> None:
    assert bar_codes(blank(BARREL)) == ["T00012-4"]


def test_a_sheet_for_any_piece_of_a_part_leaves_room_for_its_tag() -> None:
    content = blank(replace(BARREL, tag="", serial="", condition=None, where="", owner=""))
    assert bar_codes(content) == []
    assert says(content, "Cylinder barrel BA0002-4, 0.25 mm oversize, chromium plated")
    assert says(content, "Tag Serial")
    assert not says(content, "uninspected, not accepted")


def test_a_part_without_a_specification_has_a_sheet_of_empty_rows() -> None:
    content = blank(replace(BARREL, revision="", lines=(), checks_missing=(), instruments=()))
    assert says(content, "It has no specification in force on 2026-03-02: write down the limits used.")
    assert says(content, "Instruments None are on record; write down what was used")
    for absent in ("Pressure tests", "Crack tests", "Checks on receipt"):
        assert not says(content, absent)


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_everything_stays_within_the_page(page: PageName) -> None:
    long = "a name that goes on and on, as some drawings have them, for more than a line of any sheet"
    crowded = replace(
        BARREL,
        part_name=long,
        lines=tuple(
            replace(each, line=replace(each.line, name=f"{long} {number}", wording=long))
            for number, each in enumerate(BARREL.lines * 6)
        ),
    )
    content = blank(crowded, page)
    assert len(pages_text(content)) > 4
    for leaf in pypdfium2.PdfDocument(content):
        assert "".join(SAFETY_LINE.split()) in "".join(leaf.get_textpage().get_text_bounded().split())
        letters = leaf.get_textpage()
        width, height = leaf.get_size()
        for place in range(letters.count_chars()):
            left, bottom, right, top = letters.get_charbox(place)
            assert left >= MARGIN - 1 and right <= width - MARGIN + 1
            assert bottom >= MARGIN - 8 and top <= height - MARGIN + 8


def test_limits_read_both_ways() -> None:
    assert bounds_words("12", None, "thou") == ("at least 12 thou", "0.3048 mm")
    assert bounds_words(None, "45", "°") == ("at most 45 °", "")
    assert bounds_words(None, None, "mm") == ("", "")


def measured(limits: LineLimits, figures: Sequence[str], now: LineLimits | None = None) -> LineDone:
    readings = [
        Reading(point, way, kept(figure, limits.unit))
        for (point, way), figure in zip(limits.places, figures, strict=True)
    ]
    then, later = judge_line(readings, limits), judge_line(readings, now or limits)
    return LineDone(
        SpecKind.DIMENSION,
        limits.name,
        tuple(
            ReadingDone(
                each.point,
                each.direction,
                each.measured.text,
                each.measured.unit,
                "MC-04 Bore micrometer, calibrated 2025-06-01",
                before,
                after,
            )
            for each, before, after in zip(readings, then.readings, later.readings, strict=True)
        ),
        limits,
        now or limits,
        then,
        later,
    )


DONE = InspectionDone(
    id=3,
    entry=412,
    tag="T00012-4",
    is_batch=False,
    part_number="BA0002-4",
    part_name="Cylinder barrel",
    size_class="",
    inspected_on=date(2026, 3, 2),
    inspected_by="Ada Farrow",
    licence_number="HL 2041",
    proposed=Condition.UNSERVICEABLE,
    decided=Condition.SERVICEABLE,
    scope=Scope.GROUND_RUNNING,
    reason="Ground running to the end of the season",
    note="",
    revision="revision B, Pellworth overhaul manual",
    revision_present="revision C, Pellworth overhaul manual",
    lines=(
        measured(replace(BORE, oval_max=None, taper_max=None), ["98.10", "98.21", "98", "98", "98", "98"]),
        measured(FLANGE, ["3/8"]),
    ),
    tests=(
        BenchTested(
            SpecKind.PRESSURE_TEST,
            "water jacket",
            True,
            "dropped 1 lbf/in² in 10 min",
            "",
            None,
            "hot water",
            "60",
            "59",
            "lbf/in²",
            600,
            "PG-1 gauge, calibrated 2025-06-01",
        ),
        BenchTested(
            SpecKind.CRACK_TEST,
            "flange and fins",
            False,
            "not passed: crack of 4 mm at stud 3",
            "crack of 4 mm at stud 3",
            CrackMethod.MAGNETIC,
        ),
    ),
    papers=("photograph BA12-1, flange at stud 3",),
)


@pytest.mark.parametrize(
    "words",
    [
        "Inspection of T00012-4, 2026-03-02: Cylinder barrel",
        "Judged by revision B, Pellworth overhaul manual; the present one is revision C, Pellworth overhaul",
        "98.21 mm (3.86654 in)",
        "out of limits",
        "top across: 0.01 mm over the upper worn limit",
        "top along: worn 0.07 mm over the upper new limit",
        "MC-04 Bore micrometer, calibrated 2025-06-01",
        "with hot water from 60 lbf/in² (4.137 bar) to 59 lbf/in² (4.068 bar) held for 10 min",
        "NOT PASSED",
        "magnetic particle",
        "photograph BA12-1, flange at stud 3",
        "serviceable, accepted for ground running",
        "The figures called for: unserviceable",
        "Reason: Ground running to the end of the season",
        "Ada Farrow HL 2041",
        "entry 412",
        "HAZARD: cadmium-plated.",
        SAFETY_LINE,
    ],
)
def test_the_filled_sheet_says(words: str) -> None:
    assert says(filled(DONE), words)


def test_places_that_stand_alike_are_named_together_and_ovality_with_its_limit() -> None:
    limits = replace(BORE, taper_max=None)
    content = filled(replace(DONE, lines=(measured(limits, ["98.10", "98.10", "98", "98", "98", "98.06"]),)))
    assert says(content, "top along, top across: worn 0.07 mm over the upper new limit")
    assert says(content, "ovality at most 0.05 mm")
    assert says(content, "ovality 0.06 mm, 0.01 mm over its limit")


def test_what_the_present_revision_judges_otherwise_stands_at_the_head() -> None:
    now = replace(BORE, worn_high="98.30", oval_max=None, taper_max=None)
    figures = ["98.10", "98.21", "98", "98", "98", "98"]
    changed = replace(DONE, lines=(measured(replace(BORE, oval_max=None, taper_max=None), figures, now),))
    assert changed.differs == ("bore: out of limits then, within worn limits by the present revision",)
    assert says(filled(changed), f"Judged otherwise today: {changed.differs[0]}")
    assert not says(filled(DONE), "Judged otherwise today")


def test_an_inspection_without_a_licence_says_so() -> None:
    assert says(
        filled(replace(DONE, licence_number="", revision="", revision_present="")), "no licence number"
    )
    assert says(filled(replace(DONE, revision="")), "No specification was in force for it")
