"""A shortage board by hand: a valve that runs short, springs to be watched, and barrels enough."""

from __future__ import annotations

from datetime import date

from invdb.acts.short_facts import (
    Advice,
    Ground,
    MonthOutlook,
    ShortAction,
    ShortBoard,
    ShortReasons,
    ShortRow,
    ShortSettings,
)
from invdb.rules.calendar import months_after
from invdb.terms import Measure

THIS_MONTH = date(2026, 2, 1)
MONTHS = tuple(months_after(THIS_MONTH, at) for at in range(7))
SETTINGS = ShortSettings(horizon_months=6)
MAKE = Advice(ShortAction.MAKE, 12, "Alder Foundry makes no fewer, 84.00 GBP each")
VALVE = ShortRow(
    part=11, house_number="LV0432-5", name="exhaust valve", family="LV valves", free=1, coming=2,
    need_mean=4.2, need_low=2, need_high=7, chances=(0.0, 0.01, 0.04, 0.11, 0.24, 0.45, 0.62),
    expected=(0.0, 0.01, 0.1, 0.3, 0.7, 1.3, 2.1), first_watch=MONTHS[3], first_short=MONTHS[4],
    engines=("Linnet One", "Linnet Two"), stops_flying=True, advice=(MAKE,), pooled=("LV0432-6",),
    inspections=14,
)  # fmt: skip
SPRING = ShortRow(
    part=12, house_number="LS0410-2", name="valve spring", family="LS springs", free=9, coming=0,
    need_mean=6.1, need_low=4, need_high=9, chances=(0.0, 0.0, 0.01, 0.02, 0.04, 0.06, 0.08),
    expected=(0.0, 0.0, 0.0, 0.1, 0.1, 0.1, 0.2), first_watch=MONTHS[5], first_short=None,
    engines=("Dabchick One",), stops_flying=False, advice=(), inspections=0,
)  # fmt: skip
WIRE = ShortRow(
    part=13, house_number="LW0001-8", name="locking wire", family="LW wire", free=25_000_000, coming=0,
    need_mean=1_250_000.0, need_low=500_000, need_high=2_000_000, chances=(0.0,) * 7, expected=(0.0,) * 7,
    first_watch=None, first_short=None, engines=(), stops_flying=False, advice=(), error=0.004,
    inspections=1, measure=Measure.LENGTH,
)  # fmt: skip
BOARD = ShortBoard(date(2026, 2, 10), MONTHS, SETTINGS, (VALVE, SPRING, WIRE))


def outlook(row: ShortRow, at: int) -> MonthOutlook:
    """A month of a row: need that grows in even steps against what lies on the shelf."""
    share = at / (len(MONTHS) - 1)
    low, high = round(row.need_low * share), round(row.need_high * share)
    return MonthOutlook(
        MONTHS[at], row.need_mean * share, low, high, row.free + row.coming, row.free, row.free + row.coming,
        row.chances[at],
    )  # fmt: skip


def reasons(row: ShortRow) -> ShortReasons:
    """What a row rests on."""
    return ShortReasons(
        row,
        tuple(outlook(row, at) for at in range(len(MONTHS))),
        (
            Ground("Linnet One is opened in Apr 2026: 14 are looked at", 3.6),
            Ground("failures in running", 0.6),
        ),
        (Ground("free in the stores", 1.0), Ground("order D00004 of Alder Foundry, due 2026-05-01", 2.0)),
        ("26 % rejected: 4 of 14 looked at, and a belief worth 5 pieces",),
    )
