"""The status sheet of an engine of the invented workshop, with something of everything in it."""

from __future__ import annotations

from datetime import date

from invdb.rules.directives import DirectiveVerdict
from invdb.rules.history import HoldLine
from invdb.rules.life_limits import Limit, Lived, judge
from invdb.rules.running import Ran, Span, span_of
from invdb.rules.status import (
    ConcessionLine,
    DebtLine,
    DirectiveLine,
    EventLine,
    IncompletePosition,
    LifeLine,
    LimitStanding,
    ModLine,
    OverhaulStatus,
    PresumedStation,
    RunTotals,
    StatusGap,
    StatusSheet,
)
from invdb.terms import (
    HoursKnown,
    LifeMeasure,
    LifeSince,
    PriorLife,
    RunningCounted,
    Scope,
)
from tests.paper.sheets import PRINTED_AT


def exactly(figure: int) -> PriorLife:
    return PriorLife(HoursKnown.EXACT, figure, figure)


def by_hours(used: PriorLife, limit: Limit, forecast: str = "") -> LimitStanding:
    """How a limit by hours stands after so much flying."""
    lived = Lived({None: Ran(span_of(used))}, {None: Ran(span_of(used))})
    return LimitStanding(judge(lived, [limit], date(2024, 5, 31), None).lines[0], forecast)


WITHIN = by_hours(
    exactly(31250),
    Limit(LifeMeasure.HOURS, 60000, source="manual PL-M 4, sheet 12"),
    "between Feb 2031 and Sep 2034",
)
EXPIRED = by_hours(
    PriorLife(HoursKnown.BETWEEN, 19000, 20300),
    Limit(LifeMeasure.HOURS, 20000, RunningCounted.FLIGHT, LifeSince.OVERHAUL),
)
_STARTED = Lived({None: Ran(starts=Span(300, 300, 1))}, made_on=date(2019, 12, 1))
UNKNOWN, CALENDAR = (
    LimitStanding(line, words)
    for line, words in zip(
        judge(
            _STARTED,
            [Limit(LifeMeasure.STARTS, 1200), Limit(LifeMeasure.MONTHS, 120)],
            date(2024, 5, 31),
            None,
        ).lines,
        ("no forecast", ""),
        strict=True,
    )
)

LINNET = StatusSheet(
    workshop="Harrowmere Flying Museum",
    printed_at=PRINTED_AT,
    as_of=date(2024, 5, 31),
    name="Linnet One",
    type_name="Pellworth Linnet",
    serial="PL-0117",
    owner="Dunmere Gliding Club",
    use=Scope.FLIGHT,
    totals=RunTotals(
        PriorLife(HoursKnown.BETWEEN, 80000, 95000),
        PriorLife(HoursKnown.UNKNOWN),
        Ran(Span(31250, 31250), Span(1210, 1210), Span(402, 402)),
        date(2018, 4, 1),
    ),
    meter=81240,
    overhaul=OverhaulStatus(
        date(2018, 3, 12),
        "HW-77",
        exactly(32460),
        exactly(402),
        (by_hours(exactly(32460), Limit(LifeMeasure.HOURS, 50000, since=LifeSince.OVERHAUL)),),
    ),
    last_entry=1204,
    last_hash="9f2c" * 16,
    ran_of_late="3.10 h and 4 starts in 90 days, 61.00 h and 80 starts in 730 days",
    life=(
        LifeLine(
            "cylinder 5, exhaust valve", "T000140-2", "LV0431-7", "Exhaust valve", "E 41", (WITHIN, CALENDAR)
        ),
        LifeLine("cylinder 1, master rod", "T000301-M", "LR0301-9", "Master rod", "R 17", (EXPIRED,)),
        LifeLine("rear cover, magneto coupling", "T000388-P", "LM0042-8", "Magneto coupling", "", (UNKNOWN,)),
    ),
    directives=(
        DirectiveLine(
            "HD 2019-04",
            "2",
            "Exhaust valves: look for cracks at the neck",
            "dye penetrant, each valve out",
            "Exhaust valve",
            ("T000140-2 (cylinder 5)", "T000141-K (cylinder 6)"),
            "every 50.00 h or 24 months, first from 2019-05-01 on",
            complied_on=date(2023, 9, 4),
            complied_by="Ines Varga",
            complied_method="dye penetrant, report R-131",
            next_due="48.20 h left, until 2025-09-04",
            verdict=DirectiveVerdict.DUE_LATER,
        ),
        DirectiveLine(
            "HD 2024-01",
            "1",
            "Oil pump drive: renew the quill",
            "renew",
            terms="once, by 2024-05-01",
            next_due="was due by 2024-05-01",
            verdict=DirectiveVerdict.OVERDUE,
        ),
        DirectiveLine(
            "HD 2016-02",
            "1",
            "Carburettor floats",
            "weigh the float",
            not_applicable="for serials up to PL-0090",
        ),
    ),
    concessions=(
        ConcessionLine(
            "C-2024/7",
            "Civil Aviation Board of Harrow",
            "Cylinder barrel T000077-5",
            "cylinder 3, barrel",
            "bore 0.03 mm over the worn limit",
            "after 50.00 h from 2024-01-15, or on 2024-12-31",
            "12.40 h",
            "letter 7/24",
        ),
    ),
    holds=(HoldLine("A spring of its batch broke", date(2024, 5, 20), "Tom Arlow", "batch B000017-X"),),
    events=(
        EventLine(
            "propeller strike",
            date(2021, 8, 14),
            "Linnet Two",
            "Taxied into a marker board at idle.",
            ("link rod T000312-5",),
        ),
    ),
    mods=(ModLine("M 14", "Oil jet to the rocker", date(2018, 3, 1)), ModLine("M 3", "Later spring seats")),
    incomplete=(IncompletePosition("cylinder 2", 1, ("valve springs: 1 of 2",)),),
    debts=(
        DebtLine(
            "cylinder 2, valve springs",
            "Valve spring, outer",
            date(2024, 4, 30),
            "Ines Varga",
            "Linnet Two",
            "to fly at the summer meeting",
        ),
    ),
    presumed=(
        PresumedStation("rear cover", "left", "oil pump", "1 off Oil pump", date(2018, 4, 1)),
        PresumedStation("rear cover", "left", "joint", "1 off Joint", date(2018, 4, 1), True),
    ),
    gaps=(
        StatusGap("the engine", None, date(2018, 4, 1), "hours before its log began are between two figures"),
        StatusGap("master rod T000301-M", date(1964, 5, 1), date(2019, 3, 2), "no paper covers these years"),
        StatusGap("magneto coupling T000388-P", date(2023, 1, 9), None, "starts are at least 300"),
    ),
)

BARE = StatusSheet(
    workshop="Harrowmere Flying Museum",
    printed_at=PRINTED_AT,
    as_of=date(2024, 5, 31),
    name="Dabchick Two",
    type_name="Pellworth Dabchick",
    serial="PD-0031",
    owner="Harrowmere Flying Museum",
    use=Scope.DISPLAY,
    totals=RunTotals(PriorLife(HoursKnown.UNKNOWN), PriorLife(HoursKnown.UNKNOWN)),
    meter=None,
    overhaul=OverhaulStatus(None, "", PriorLife(HoursKnown.UNKNOWN), PriorLife(HoursKnown.UNKNOWN)),
    last_entry=3,
    last_hash="0a" * 32,
)
