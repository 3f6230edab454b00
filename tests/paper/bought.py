"""What the invented workshop will be short of, what it orders and what it asks firms for."""

from __future__ import annotations

from datetime import date

from invdb.rules.enquiry_sheet import EnquirySheet
from invdb.rules.money import Money
from invdb.rules.order_sheet import GivenPiece, OrderedPart, OrderSheet, OrderSheetLine
from invdb.rules.pick_list import HazardNote
from invdb.rules.short_facts import Advice, ShortAction, ShortBoard, ShortList, ShortRow, ShortSettings
from invdb.terms import Measure, OrderKind
from tests.paper.sheets import PRINTED_AT

MONTHS = tuple(date(2024 + (5 + n) // 12, (5 + n) % 12 + 1, 1) for n in range(25))
VALVE_SHORT = ShortRow(
    part=31,
    house_number="LV0431-7",
    name="Exhaust valve",
    family="Valves",
    free=1,
    coming=2,
    need_mean=6.25,
    need_low=4,
    need_high=9,
    chances=tuple(min(0.9, 0.04 * n) for n in range(25)),
    expected=tuple(0.15 * n for n in range(25)),
    first_watch=date(2024, 8, 1),
    first_short=date(2024, 11, 1),
    engines=("Linnet One", "Dabchick Two"),
    stops_flying=True,
    advice=(
        Advice(ShortAction.MAKE, 12, "Alder Foundry makes no fewer than 12, at 41.50 EUR each"),
        Advice(ShortAction.ROB, 2, "Dabchick Two, in store"),
    ),
    pooled=("LV0432-5",),
    error=0.0042,
    inspections=14,
)
RING_WATCHED = ShortRow(
    part=40,
    house_number="LR0111-3",
    name="Scraper ring",
    family="Rings",
    free=8,
    coming=0,
    need_mean=7.0,
    need_low=7,
    need_high=7,
    chances=(0.0,) * 12 + (0.06,) * 12 + (0.196,),
    expected=(0.0,) * 24 + (0.1,),
    first_watch=date(2025, 6, 1),
    first_short=None,
    engines=(),
    stops_flying=False,
    advice=(),
)
WIRE_ENOUGH = ShortRow(
    part=50,
    house_number="LW0007-1",
    name="Locking wire",
    family="Wire",
    free=12_500_000,
    coming=0,
    need_mean=1_304_000.0,
    need_low=500_000,
    need_high=2_250_000,
    chances=(0.0,) * 24 + (0.004,),
    expected=(0.0,) * 24 + (4_000.0,),
    first_watch=None,
    first_short=None,
    engines=(),
    stops_flying=False,
    advice=(),
    inspections=1,
    measure=Measure.LENGTH,
)
BOARD = ShortBoard(date(2024, 6, 1), MONTHS, ShortSettings(), (VALVE_SHORT, RING_WATCHED, WIRE_ENOUGH))
SHORT_LIST = ShortList("Harrowmere Flying Museum", PRINTED_AT, BOARD)

VALVES = OrderedPart(
    "LV0431-7",
    "Exhaust valve",
    12,
    their_number="AF 77",
    other_numbers=(("maker's", "PL-431"), ("drawing", "HS-431 revision B")),
    wanted="Stem hard chromium plated, 8.97 mm",
)
WIRE = OrderedPart("LW0007-1", "Locking wire", 2_500_000, Measure.LENGTH)
MADE = OrderSheet(
    workshop="Harrowmere Flying Museum",
    printed_at=PRINTED_AT,
    number="D0003",
    kind=OrderKind.MAKE,
    ordered_on=date(2024, 5, 30),
    ordered_by="Ines Varga",
    firm="Alder Foundry",
    currency="EUR",
    lines=(OrderSheetLine(VALVES, Money(4150, "EUR")), OrderSheetLine(WIRE, Money(125, "EUR"))),
    town="Brackwell",
    due_on=date(2024, 9, 1),
    reference="Q 118",
    note="Send nothing before the first piece has been approved by us.",
)
GIVEN = GivenPiece("T000301-M", "Exhaust valve", "E 41", (HazardNote("sodium-filled", "Never cut open."),))
EXCHANGED = OrderSheet(
    workshop="Harrowmere Flying Museum",
    printed_at=PRINTED_AT,
    number="D0004",
    kind=OrderKind.EXCHANGE,
    ordered_on=date(2024, 5, 31),
    ordered_by="Tom Arlow",
    firm="Brackwell Salvage",
    currency="JPY",
    lines=(
        OrderSheetLine(OrderedPart("LV0431-7", "Exhaust valve", 1), Money(9800, "JPY"), GIVEN),
        OrderSheetLine(OrderedPart("LR0111-3", "Scraper ring", 4), closed_on=date(2024, 6, 1)),
        OrderSheetLine(OrderedPart("LV0430-9", "Inlet valve", 2)),
    ),
)
ENQUIRY = EnquirySheet(
    workshop="Harrowmere Flying Museum",
    printed_at=PRINTED_AT,
    number="E0002",
    asked_on=date(2024, 5, 20),
    asked_by="Ines Varga",
    firm="Alder Foundry",
    parts=(VALVES, WIRE),
    town="Brackwell",
    answer_by=date(2024, 6, 20),
    wording="We keep two Linnets flying and will need these within two years.",
)
