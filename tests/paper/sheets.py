"""Pick lists and trace sheets of the invented workshop, and how a test reads a sheet back."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from io import BytesIO

import pypdf
import pypdfium2  # type: ignore[import-untyped]
import zxingcpp

from invdb.rules.history import (
    EngineTime,
    Gap,
    HoldLine,
    KinBatch,
    MadeHere,
    PaperLine,
    QuantityAt,
    ReceivingCheck,
    Stretch,
    TraceEntry,
    TraceSheet,
)
from invdb.rules.pick_list import HazardNote, NearMiss, PickList, PickRow, PullHead, ShortRow
from invdb.terms import (
    Condition,
    HoursKnown,
    Measure,
    Origin,
    PaperKind,
    PlaceKind,
    PriorLife,
    Scope,
    Tracking,
    WorkState,
)

DOTS_PER_INCH = 300
PRINTED_AT = datetime(2024, 6, 1, 14, 5, tzinfo=timezone(timedelta(hours=2)))

LINNET_5 = PullHead(
    number="P-0012",
    engine="Linnet PL-0117",
    engine_type="Pellworth Linnet",
    position="cylinder 5",
    use=Scope.FLIGHT,
    asked_by="Ines Varga",
    asked_on=date(2024, 5, 31),
)
DABCHICK_2 = PullHead(
    "P-0013",
    "Dabchick PD-0031",
    "Pellworth Dabchick",
    "cylinder 2",
    Scope.FLIGHT,
    "Tom Arlow",
    date(2024, 6, 1),
)

INLET_VALVE = PickRow(
    pull_number="P-0012",
    bin_name="B-02-1",
    walking_order=40,
    station="inlet valve",
    part_number="LV0412-K",
    part_name="Inlet valve",
    tag="T000123-K",
    tracking=Tracking.PIECE,
    quantity=1,
    measure=Measure.COUNT,
    condition=Condition.SERVICEABLE,
    scope=Scope.FLIGHT,
    serial="V 1187",
    papers="release certificate HW-221, work report R-88",
    hours="312.50 h before receipt",
    why="Preferred part; its mate goes back with it",
)
EXHAUST_VALVE = PickRow(
    pull_number="P-0012",
    bin_name="B-02-2",
    walking_order=41,
    station="exhaust valve",
    part_number="LV0431-7",
    part_name="Exhaust valve, sodium-filled",
    tag="T000140-2",
    tracking=Tracking.PIECE,
    quantity=1,
    measure=Measure.COUNT,
    condition=Condition.SERVICEABLE,
    scope=Scope.FLIGHT,
    serial="E 41",
    papers="maker's certificate 1938/12",
    hours="none",
    why="Alternate; the preferred part is not held",
    alternate_for="LV0420-5",
    authority="service letter PS 14",
    hazards=(HazardNote("sodium-filled", "Never cut, grind or scrap with others."),),
    remarks=("Ream the guide to 12.02 after pressing",),
)
SPRINGS = PickRow(
    pull_number="P-0012",
    bin_name="A-11-3",
    walking_order=10,
    station="valve springs",
    part_number="LS0207-C",
    part_name="Valve spring, outer",
    tag="B000017-X",
    tracking=Tracking.BATCH,
    quantity=4,
    measure=Measure.COUNT,
    condition=Condition.SERVICEABLE,
    scope=Scope.FLIGHT,
    papers="maker's certificate 4471",
    why="Preferred part; oldest receipt",
)
LOCKING_WIRE = PickRow(
    pull_number="P-0012",
    bin_name="A-01-1",
    walking_order=2,
    station="locking",
    part_number="LW0003-4",
    part_name="Locking wire 0.8 mm",
    tag="B000002-1",
    tracking=Tracking.BATCH,
    quantity=1_250_000,
    measure=Measure.LENGTH,
    condition=Condition.SERVICEABLE,
    scope=Scope.FLIGHT,
)
BARREL_SHORT = ShortRow(
    pull_number="P-0012",
    station="barrel",
    part_number="LB0101-R",
    part_name="Cylinder barrel",
    quantity_missing=1,
    measure=Measure.COUNT,
    near_misses=(
        NearMiss("T000077-5", "accepted for ground running only"),
        NearMiss("T000078-3", "out for work at Brackwell Plating, due 2024-07-15"),
    ),
)
KIT = PickList(
    workshop="Harrowmere Flying Museum",
    printed_at=PRINTED_AT,
    pulls=(LINNET_5,),
    rows=(INLET_VALVE, EXHAUST_VALVE, SPRINGS, LOCKING_WIRE),
    short_rows=(BARREL_SHORT,),
)


MASTER_ROD = TraceSheet(
    workshop="Harrowmere Flying Museum",
    printed_at=PRINTED_AT,
    tag="T000301-M",
    is_batch=False,
    part_number="LR0301-9",
    part_name="Master rod",
    owner="Harrowmere Flying Museum",
    condition=Condition.SERVICEABLE,
    origin=Origin.SALVAGED,
    received_on=date(2019, 3, 2),
    where_now="bin C-04-1",
    last_entry=1204,
    last_hash="9f2c" * 16,
    other_numbers=(("maker's number", "PL-301/B"), ("drawing", "D 1107")),
    serial="R 17",
    scope=Scope.FLIGHT,
    accepted_by="Ines Varga",
    accepted_on=date(2019, 4, 11),
    work_state=WorkState.INSPECTED,
    work_reference="crack test report R-88",
    used=True,
    life_limited=True,
    origin_firm="Brackwell Salvage",
    donor="Linnet PL-0102",
    prior_hours=PriorLife(HoursKnown.AT_LEAST, 30000),
    prior_starts=PriorLife(HoursKnown.UNKNOWN),
    checks=(
        ReceivingCheck("right part", "yes, number etched on the shank"),
        ReceivingCheck("papers match", "statement of the seller only"),
        ReceivingCheck("damage", ""),
    ),
    hazards=(HazardNote("cadmium-plated", "No dry sanding."),),
    holds=(
        HoldLine("Was in PL-0102 at its propeller strike", date(2019, 3, 2), "Tom Arlow", "the piece"),
        HoldLine(
            "Serial hard to read",
            date(2019, 3, 2),
            "Tom Arlow",
            "the piece",
            date(2019, 3, 9),
            "Ines Varga",
            "etched and photographed",
        ),
    ),
    papers=(
        PaperLine(PaperKind.STATEMENT, "letter of 1964", date(1964, 5, 1), "Brackwell Salvage"),
        PaperLine(PaperKind.WORK_REPORT, "R-88", date(2019, 4, 10), content_held=True, title="Crack test"),
    ),
    stays=(
        Stretch(date(2019, 3, 2), date(2019, 4, 11), "quarantine cage", PlaceKind.QUARANTINE),
        Stretch(date(2019, 4, 11), None, "C-04-1", PlaceKind.BIN),
    ),
    engine_times=(
        EngineTime(
            date(2020, 1, 9),
            date(2021, 6, 30),
            "Linnet One",
            "cylinder 1, master rod",
            PriorLife(HoursKnown.EXACT, 4120, 4120),
            PriorLife(HoursKnown.EXACT, 55, 55),
        ),
    ),
    part_of=(
        Stretch(date(2019, 4, 11), None, "C-04-1", PlaceKind.BIN),
        Stretch(None, date(1964, 5, 1), "Linnet PL-0102, cylinder 1", PlaceKind.ENGINE),
    ),
    entries=(
        TraceEntry(
            number=311,
            happened_on=date(2019, 3, 2),
            recorded_at=datetime(2019, 3, 2, 16, 40, 12, tzinfo=UTC),
            kind="goods in",
            who="Tom Arlow",
            what="Booked in from Brackwell Salvage, salvaged from Linnet PL-0102, to the quarantine cage.",
            note="Came with one letter.",
        ),
        TraceEntry(
            number=330,
            happened_on=date(2019, 4, 1),
            recorded_at=datetime(2019, 4, 12, 8, 1, tzinfo=UTC),
            kind="accepted",
            who="Ines Varga",
            what="Accepted for ground running.",
            licence="engineer's licence HM-0442",
            reversed_by=331,
        ),
        TraceEntry(
            number=331,
            happened_on=date(2019, 4, 11),
            recorded_at=datetime(2019, 4, 12, 8, 9, tzinfo=UTC),
            kind="reversed",
            who="Ines Varga",
            what="Reverses entry 330.",
            licence="engineer's licence HM-0442",
            reverses=330,
        ),
    ),
    gaps=(
        Gap(None, date(1964, 5, 1), "when it was made and where it was until then is not known"),
        Gap(date(1964, 5, 1), date(2019, 3, 2), "no paper covers these 54 years 10 months"),
    ),
)
SPRING_BATCH = TraceSheet(
    workshop="Harrowmere Flying Museum",
    printed_at=PRINTED_AT,
    tag="B000017-X",
    is_batch=True,
    part_number="LS0207-C",
    part_name="Valve spring, outer",
    owner="Harrowmere Flying Museum",
    condition=Condition.SERVICEABLE,
    origin=Origin.MADE_HERE,
    received_on=date(2022, 8, 9),
    where_now="2 places",
    last_entry=1204,
    last_hash="9f2c" * 16,
    scope=Scope.FLIGHT,
    made_here=MadeHere("HS-207", "C", "spring steel wire 3.6 mm", "heat 88412", "Tom Arlow", "Ines Varga"),
    quantities=(QuantityAt("bin A-11-3", 31, 4), QuantityAt("Linnet PL-0117, cylinder 5", 11)),
    kin=(
        KinBatch("B000016-0", "split from", Condition.UNINSPECTED, 40, date(2022, 8, 20)),
        KinBatch("B000018-V", "split into", Condition.UNSERVICEABLE, 5),
    ),
)


def pages_text(content: bytes) -> list[str]:
    """The text of each page of a PDF."""
    return [page.extract_text() for page in pypdf.PdfReader(BytesIO(content)).pages]


def bar_codes(content: bytes, page: int = 0) -> list[str]:
    """What the bar codes on one page say, from the top down, as read off a picture of it."""
    picture = pypdfium2.PdfDocument(content)[page].render(scale=DOTS_PER_INCH / 72).to_pil()
    found = [
        code for code in zxingcpp.read_barcodes(picture) if code.format == zxingcpp.BarcodeFormat.Code128
    ]
    return [code.text for code in sorted(found, key=lambda code: code.position.top_left.y)]
