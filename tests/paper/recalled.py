"""A recall in the invented workshop: valve springs of which eleven went into engines, and a valve."""

from __future__ import annotations

from datetime import date

from invdb.rules.recall import (
    RecallAt,
    RecallLetter,
    RecallLine,
    RecallReport,
    RecallRun,
    RecallWhere,
    SplitOffBatch,
)
from invdb.rules.running import Ran, Span
from invdb.terms import Condition, Measure
from tests.paper.sheets import PRINTED_AT

SPRINGS = RecallLine(
    piece=None,
    batch=17,
    tag="B000017-X",
    part_number="LS0207-C",
    part_name="Valve spring, outer",
    serial="lot 88412",
    measure=Measure.COUNT,
    received=40,
    condition=Condition.SERVICEABLE,
    owner="Harrowmere Flying Museum",
    at=(
        RecallAt(RecallWhere.FITTED, "Linnet One, cylinder 5, exhaust springs", 4, "Linnet One"),
        RecallAt(RecallWhere.FITTED, "Linnet Two, cylinder 1, exhaust springs", 3, "Linnet Two"),
        RecallAt(RecallWhere.STORES, "Stores › A-11-3", 25, reserved_for=("P-0012",)),
        RecallAt(RecallWhere.FIRM, "At Brackwater", 2, "At Brackwater"),
        RecallAt(RecallWhere.OUT, "out of our hands", 2),
    ),
    runs=(
        RecallRun("Linnet One", date(2023, 3, 1), None, Ran(Span(4120, 4120), Span(310, 310)), 4),
        RecallRun("Dabchick One", date(2022, 11, 9), date(2024, 2, 2), Ran(Span(1000, 1400)), 4),
    ),
    split_off=(SplitOffBatch("B000021-9", 4),),
    held=("on hold since 2024-05-20: a spring of it broke",),
)
STRIPPED = RecallLine(
    piece=None,
    batch=21,
    tag="B000021-9",
    part_number="LS0207-C",
    part_name="Valve spring, outer",
    serial="lot 88412",
    measure=Measure.COUNT,
    received=4,
    condition=Condition.UNSALVAGEABLE,
    owner="Harrowmere Flying Museum",
    at=(RecallAt(RecallWhere.SCRAPPED, "Scrap drum", 4),),
    split_from="B000017-X",
)
VALVE = RecallLine(
    piece=140,
    batch=None,
    tag="T000140-2",
    part_number="LV0431-7",
    part_name="Exhaust valve",
    serial="E 41",
    measure=Measure.COUNT,
    received=1,
    condition=Condition.SERVICEABLE,
    owner="Dunmere Gliding Club",
    at=(RecallAt(RecallWhere.FITTED, "Linnet One, cylinder 5, exhaust valve", 1, "Linnet One"),),
    runs=(RecallRun("Linnet One", date(2023, 3, 1), None, Ran(Span(4120, 4120), Span(310, 310))),),
    held=("on hold since 2024-05-20: a spring of it broke",),
)
REPORT = RecallReport(
    workshop="Harrowmere Flying Museum",
    made_at=PRINTED_AT,
    asked="batch B000017-X and all split off it",
    lines=(SPRINGS, STRIPPED, VALVE),
    last_entry=1204,
    last_hash="9f2c" * 16,
)
LETTER = RecallLetter(
    REPORT,
    "A spring of this batch broke after 41 hours; the fracture began at an inclusion in the wire.",
    request="Take these springs out before the next flight and keep them apart until we have seen them.",
    signed_by="Ines Varga",
    licence="HM-0442",
)
