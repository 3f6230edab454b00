"""What went into need, into supply, and what each rate rests on: a row of the board explained in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from invdb.acts.beliefs import Belief
from invdb.acts.overhaul_plan import month_of
from invdb.acts.short_cases import PartPlan, ShortCase, ShortCases
from invdb.rules.calendar import month_words
from invdb.rules.lead_time import DAYS_A_MONTH
from invdb.rules.quantities import quantity_words
from invdb.rules.reject_rate import RejectRecord, reject_rate
from invdb.rules.short_facts import Ground
from invdb.rules.told import counted


def need_grounds(case: ShortCase, cases: ShortCases) -> tuple[Ground, ...]:
    """What went into need: each overhaul, failures in running, lives that run out, what is owed."""
    return (
        *_overhauls(case.plan, cases),
        *_failures(case, cases),
        *_lives(case.plan, cases),
        *(Ground(each.why, each.quantity) for each in case.plan.owed),
    )


def supply_grounds(case: ShortCase, cases: ShortCases) -> tuple[Ground, ...]:
    """What went into supply: free stock, what is coming with its chances, and what lies here uncounted."""
    import numpy as np

    plan, measure = case.plan, case.plan.part.measure
    grounds = [Ground("free and serviceable", plan.stock.free)]
    for each in plan.stock.coming:
        days = np.array([cases.horizon * DAYS_A_MONTH - each.wait_days])
        here = float(each.firm.time.arrival(each.elapsed_days, days)[0])
        good = 1.0 if each.good is None else each.good.mean
        words = f"{quantity_words(each.count, measure)} {each.what} ({each.firm.words})"
        words += "" if each.good is None else f", {good * 100:.0f} % to come back good"
        grounds.append(Ground(words, each.count * here * good))
    for why, count in sorted(plan.stock.uncounted.items()):
        grounds.append(Ground(f"{quantity_words(count, measure)} here, {why}: not counted", 0.0))
    return tuple(grounds)


def rate_words(case: ShortCase) -> tuple[str, ...]:
    """What each rate rests on; where no inspection stands behind it, that the belief alone speaks."""
    plan = case.plan
    words = [] if plan.renewed_only else [_reject_words(plan)]
    if plan.renewed_only:
        words.append("Renewed always: a rule, not a rate.")
    if any(plan.piece_hours):
        record = plan.failures
        words.append(
            f"Failures in running: {counted(record.failures, 'failure', 'failures')} in {record.hours:,.0f} h"
            f" of our own, on a belief of {record.prior_failures:g} in {record.prior_hours:,.0f} h"
            f" ({_whose(plan.belief)})."
        )
    return (*words, *dict.fromkeys(_yield_words(plan)))


def _overhauls(plan: PartPlan, cases: ShortCases) -> Iterator[Ground]:
    rate = 0.0 if plan.renewed_only else reject_rate(RejectRecord(plan.belief.rejects, plan.inspected)).mean
    replaced = _replaced(plan, cases)
    for at, (opening, judged, renewed) in enumerate(plan.openings):
        if month_of(opening.on, cases.day) > cases.horizon:
            continue
        what = f"{opening.engine_name} opened in {month_words(opening.on)}"
        what += "" if opening.planned else ", proposed"
        measure = plan.part.measure
        if renewed:
            yield Ground(f"{what}: {quantity_words(renewed, measure)} renewed always", renewed)
        looked = judged - replaced[at]
        if looked > 0:
            yield Ground(f"{what}: {quantity_words(looked, measure)} looked at", looked * rate)


def _replaced(plan: PartPlan, cases: ShortCases) -> Counter[int]:
    """How many at each overhaul are surely replaced there, as their life runs out by the horizon."""
    replaced: Counter[int] = Counter()
    for life in plan.lives:
        at = [
            place
            for place, (opening, _, _) in enumerate(plan.openings)
            if opening.engine == life.engine and month_of(opening.on, cases.day) <= life.month
        ]
        if at and life.month <= cases.horizon:
            replaced[at[-1]] += life.count
    return replaced


def _failures(case: ShortCase, cases: ShortCases) -> Iterator[Ground]:
    plan = case.plan
    hours = sum(plan.piece_hours[: cases.horizon])
    if hours:
        mean = plan.failures.shape * hours / plan.failures.rate
        yield Ground(f"failures in {hours:,.0f} h of pieces' running, as planned", mean)


def _lives(plan: PartPlan, cases: ShortCases) -> Iterator[Ground]:
    names = {engine.id: engine.name for engine in plan.engines}
    for life in plan.lives:
        if life.month > cases.horizon:
            continue
        when = month_words(cases.months[life.month]) if life.month else "now"
        opened = any(
            opening.engine == life.engine and month_of(opening.on, cases.day) <= life.month
            for opening, _, _ in plan.openings
        )
        words = f"{life.count} in {names[life.engine]} out of life {'by ' if life.month else ''}{when}"
        if opened and plan.renewed_only:
            yield Ground(f"{words}, renewed at the overhaul before", 0.0)
        else:
            yield Ground(f"{words}{', replaced at the overhaul before' if opened else ''}", life.count)


def _reject_words(plan: PartPlan) -> str:
    rate = reject_rate(RejectRecord(plan.belief.rejects, plan.inspected))
    belief = (
        f"{float(plan.belief.reject_mean) * 100:g} % of pieces rejected, worth"
        f" {float(plan.belief.reject_weight):g} pieces looked at ({_whose(plan.belief)})"
    )
    looked = sum(each.looked for each in plan.inspected)
    if not looked:
        return (
            f"Rejected when looked at: no inspection of ours stands behind it; the belief speaks: {belief}."
        )
    rejected = sum(each.rejected for each in plan.inspected)
    openings = counted(len(plan.inspected), "opening", "openings")
    return (
        f"Rejected when looked at: {rate.mean * 100:.0f} % (80 %: {rate.low * 100:.0f} to"
        f" {rate.high * 100:.0f} %); {rejected} of {looked} of our own, at {openings},"
        f" on a belief of {belief}."
    )


def _yield_words(plan: PartPlan) -> Iterator[str]:
    for each in plan.stock.coming:
        if each.good is not None:
            yield (
                f"Back good from {each.firm.name}: {each.good.mean * 100:.0f} %; {each.good.good} good and"
                f" {each.good.failed} not so far, on a belief of {float(plan.belief.yield_mean) * 100:g} %"
                f" ({_whose(plan.belief)})."
            )


def _whose(belief: Belief) -> str:
    return f"{belief.family_name}: {belief.source}"
