"""What the story of a piece or batch says of its life: where it is fitted, what it ran, and its limits."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from gui.shown import Gauge
from gui.views.standings import gauge_of
from invdb.acts.engine_runs import EngineRun
from invdb.acts.thing_now import FittedNow, ThingNow
from invdb.rules.forecast import Forecast
from invdb.rules.history import TraceSheet
from invdb.rules.life import LifeVerdict, hours_and_starts_words, prior_hours_words, prior_starts_words
from invdb.rules.life_limits import LimitLine, left_words
from invdb.rules.quantities import quantity_words
from invdb.rules.running import Ran
from invdb.terms import LifeMeasure, LifeSince, Measure

Fact = tuple[str, str]
NAMED_MAX = 8
NO_FORECAST = "no forecast: "
NOT_KNOWN = "not known"
# What a verdict is called among the signs of a whole piece, where its limit does not stand beside it.
VERDICT_SIGNS = {
    LifeVerdict.EXPIRED: "expired",
    LifeVerdict.UNKNOWN: "life unknown",
    LifeVerdict.DUE_SOON: "due soon",
}


@dataclass(frozen=True)
class LimitShown:
    """One limit of a life: its gauge, and what is left, when it runs out, and what sets it, in a sentence."""

    gauge: Gauge
    told: str


def limits_of(now: ThingNow) -> tuple[LimitShown, ...]:
    """Every limit of a piece's life, the one that governs first."""
    if now.life is None:
        return ()
    stands = now.life.stands
    forecasts = stands.forecasts or (None,) * len(stands.lines)
    pairs = sorted(
        zip(stands.lines, forecasts, strict=True),
        key=lambda pair: (pair[0] is not stands.governing, pair[0].depends),
    )
    return tuple(LimitShown(gauge_of(line, now.soon), _told(line, forecast)) for line, forecast in pairs)


def _told(line: LimitLine, forecast: Forecast | None) -> str:
    said = ["holds only in some engines"] if line.depends else []
    said.append(left_words(line))
    # A day fixed by the calendar, or a life that is over, is told by what is left.
    foretold = line.limit.measure is not LifeMeasure.MONTHS and line.verdict is not LifeVerdict.EXPIRED
    if forecast is not None and foretold:
        if forecast.words.startswith(NO_FORECAST):
            said.append(forecast.words)
        else:
            said.append(f"forecast: {forecast.words}")
    if line.limit.source:
        said.append(f"set by {line.limit.source}")
    sentence = "; ".join(said)
    return f"{sentence[0].upper()}{sentence[1:]}."


def fitted_words(sheet: TraceSheet, now: ThingNow) -> str:
    """Where a piece, or some of a batch, is fitted, and since when; '' for what is fitted nowhere."""
    if not sheet.is_batch:
        return "; ".join(_since(fitted, now) for fitted in now.fitted)
    seats: dict[tuple[str, str], list[FittedNow]] = {}
    for fitted in now.fitted:
        seat = fitted.seat
        alike = (seat.engine_name, seat.station) if seat.engine is not None else ("", seat.words)
        seats.setdefault(alike, []).append(fitted)
    named = []
    for (engine, what), some in seats.items():
        much = quantity_words(sum(each.quantity for each in some), sheet.measure)
        at = ", ".join(map(_at_position, some))
        named.append(f"{much} in {engine}, {what}: {at}" if engine else f"{much} in {what}")
    return _shortened(named, "stations")


def _at_position(fitted: FittedNow) -> str:
    holders = fitted.seat.holders
    return f"{fitted.seat.position_name} in {holders[0].tag}" if holders else fitted.seat.position_name


def _since(fitted: FittedNow, now: ThingNow) -> str:
    assert fitted.since is not None, "a piece has been where it is since some entry"
    on, entry = fitted.since
    since = f"since {on.isoformat()} (entry {entry})"
    run = next((run for run in now.runs if run.ended is None), None)
    if not fitted.seat.holders:
        return f"{fitted.seat.words}, {since}"
    within = f"{fitted.seat.words}; in {fitted.seat.holders[0].tag} {since}"
    if run is None or run.began == fitted.since:
        return within
    return f"{within}, with it in the engine since {run.began[0].isoformat()} (entry {run.began[1]})"


def life_facts(sheet: TraceSheet, now: ThingNow) -> Iterator[Fact]:
    """What it ran: in all, since overhaul, and before it came; of a batch, what ran of it where."""
    if now.life is None:
        if now.runs:
            yield "Ran", _shortened(_batch_ran(now.runs, sheet.measure), "times")
        return
    life = now.life
    ran = _ran_words(life.since_new)
    if now.runs and sheet.prior_hours is not None and sheet.prior_starts is not None:
        before = hours_and_starts_words(sheet.prior_hours, sheet.prior_starts)
        ran += f"; of that before it came: {before}"
    yield "Ran in all", ran
    if life.report:
        on = f" of {life.overhauled_on.isoformat()}" if life.overhauled_on is not None else ""
        yield "Since overhaul", f"{_ran_words(life.since_overhaul)} since that{on}, {life.report}"
    elif any(line.limit.since is LifeSince.OVERHAUL for line in life.stands.lines):
        yield "Since overhaul", "no overhaul is recorded, so all of it counts"


def _ran_words(ran: Ran) -> str:
    return hours_and_starts_words(ran.hours.known(), ran.starts.known())


def run_words(run: EngineRun) -> str:
    """What was run in one stretch: ``312.50 h: 300.00 h flight, 12.50 h ground running; 40 starts``."""
    said = prior_hours_words(run.ran.hours.known())
    if run.ran.ground.high or run.ran.ground.open:
        flight, ground = (prior_hours_words(span.known()) for span in (run.ran.flight, run.ran.ground))
        said += f": {flight} flight, {ground} ground running"
    starts = prior_starts_words(run.ran.starts.known())
    return f"{said}; {'starts ' if starts == NOT_KNOWN else ''}{starts}"


def _batch_ran(runs: Sequence[EngineRun], measure: Measure) -> Iterator[str]:
    """What ran of a batch in which engine, the latest first; what ran together is told together."""
    together: dict[str, int] = {}
    for run in reversed(runs):
        ran = f"{prior_hours_words(run.ran.hours.known())} in {run.engine_name}, {_days(run)}"
        together[ran] = together.get(ran, 0) + run.quantity
    for ran, quantity in together.items():
        yield f"{quantity_words(quantity, measure)} {ran}"


def _days(run: EngineRun) -> str:
    began: date = run.began[0]
    if run.ended is None:
        return f"since {began.isoformat()}"
    return f"{began.isoformat()} to {run.ended[0].isoformat()}"


def _shortened(said: Iterable[str], what: str) -> str:
    lines = list(said)
    more = f"; and {len(lines) - NAMED_MAX} {what} more" if len(lines) > NAMED_MAX else ""
    return "; ".join(lines[:NAMED_MAX]) + more
