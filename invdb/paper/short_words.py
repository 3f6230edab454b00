"""How the shortage list says its figures: chances, counts, months, and what each rests on."""

from __future__ import annotations

import math
from datetime import date
from decimal import Decimal

from invdb.rules.quantities import quantity_words
from invdb.rules.short_facts import Advice, ShortBoard, ShortRow, ShortSettings
from invdb.rules.told import counted
from invdb.terms import Measure

BELIEF_ALONE = "BELIEF ALONE, or a rule: no inspection of ours stands behind it"
NO_WAY_KNOWN = "No firm, piece or engine to get it from is on record: ask round"
NOTHING_SHORT = "No part on this list"

# With how many decimal places each is over the part's smallest unit.
_UNITS = {Measure.COUNT: ("off", 0), Measure.LENGTH: ("m", 6), Measure.WEIGHT: ("kg", 6)}


def chance_words(chance: float) -> str:
    """'62 %', 'under 1 %', '0 %': the whole per cents reached, so that none reads as over a threshold it is
    under."""
    if chance <= 0:
        return "0 %"
    # Rounding alone must not take 0.29 for 28 per cent.
    whole = math.floor(chance * 100 + 1e-9)
    return f"{whole} %" if whole else "under 1 %"


def month_words(day: date) -> str:
    """'2026-11'."""
    return f"{day:%Y-%m}"


def mean_words(mean: float, measure: Measure) -> str:
    """'4.2 off', '1.30 m': an average of quantities in smallest units, rounded to be read."""
    return f"{rounded(mean, measure):f} {unit_of(measure)}"


def need_words(row: ShortRow) -> str:
    """'Need 4.2 off (2 to 7)': the average and the range that holds it with 80 %."""
    low, high = (f"{in_unit(each, row.measure):f}" for each in (row.need_low, row.need_high))
    return f"Need {mean_words(row.need_mean, row.measure)} ({low if low == high else f'{low} to {high}'})"


def unit_of(measure: Measure) -> str:
    """The one unit in which all figures of a row stand, so that they compare."""
    return _UNITS[measure][0]


def in_unit(quantity: int, measure: Measure) -> Decimal:
    """A quantity in smallest units, exactly, in that unit."""
    figure = Decimal(quantity).scaleb(-_UNITS[measure][1]).normalize()
    # 20 normalised is 2E+1.
    return figure.quantize(Decimal(1)) if figure == figure.to_integral_value() else figure


def rounded(mean: float, measure: Measure) -> Decimal:
    """An average of smallest units in that unit: to a tenth of a piece, to a hundredth of m or kg."""
    decimals = 1 if measure is Measure.COUNT else 2
    return Decimal(f"{mean / 10 ** _UNITS[measure][1]:.{decimals}f}")


def supply_words(row: ShortRow) -> str:
    """'1 off free, 2 off coming'."""
    return f"{quantity_words(row.free, row.measure)} free, {quantity_words(row.coming, row.measure)} coming"


def stops_words(row: ShortRow) -> str:
    """'Would stop Linnet One, Linnet Three', and that one of them flies; empty where it stops none."""
    if not row.engines:
        return ""
    which = "Would stop a flying engine:" if row.stops_flying else "Would stop"
    return f"{which} {', '.join(row.engines)}"


def advice_words(advice: Advice, measure: Measure) -> str:
    """'Have made, 12 off: Alder Foundry makes no fewer'."""
    how_many = f", {quantity_words(advice.quantity, measure)}" if advice.quantity else ""
    said = f": {advice.words}" if advice.words else ""
    return f"{str(advice.action).capitalize()}{how_many}{said}"


def rests_words(row: ShortRow) -> str:
    """On how many inspections the rate rests, or that the belief alone speaks; and if it is simulated."""
    rests = BELIEF_ALONE
    if row.inspections:
        rests = f"Rests on {counted(row.inspections, 'piece', 'pieces')} looked at"
    return rests if row.error is None else f"{rests}; {simulated_words(row.error)}"


def simulated_words(error: float) -> str:
    """'simulated, ± 0.4 % (one standard error)'."""
    return f"simulated, ± {error * 100:.1f} % (one standard error)"


def pooled_words(row: ShortRow) -> str:
    """'Shares its stock with LV0432-5'; empty where it stands alone."""
    return f"Shares its stock with {', '.join(row.pooled)}" if row.pooled else ""


def horizon_words(board: ShortBoard) -> str:
    """'as of 2024-06-01, looking 24 months ahead, to the end of 2026-05'."""
    months = counted(board.settings.horizon_months, "month", "months")
    last = f", to the end of {month_words(board.months[-1])}" if board.months else ""
    return f"As of {board.day.isoformat()}, looking {months} ahead{last}"


def threshold_words(settings: ShortSettings) -> str:
    """From which chances on a part is watched and short, and what stands in for a firm without a record."""
    lead, turn = (counted(days, "day", "days") for days in (settings.lead_days, settings.turn_round_days))
    return (
        f"Watched from a chance of {settings.watch_percent} % on, short from {settings.short_percent} % on. "
        f"A firm without a record is taken to deliver in {lead} and to turn work round in {turn}."
    )


def summary(board: ShortBoard) -> str:
    """'12 parts: 4 short, of which 2 would stop a flying engine; 5 to watch'."""
    if not board.rows:
        return NOTHING_SHORT
    short = [row for row in board.rows if row.first_short is not None]
    watched = sum(row.first_short is None and row.first_watch is not None for row in board.rows)
    flying = sum(row.stops_flying for row in short)
    stops = f", of which {flying} would stop a flying engine" if flying else ""
    parts = counted(len(board.rows), "part", "parts")
    return f"{parts}: {len(short) or 'none'} short{stops}; {watched or 'none'} to watch"
