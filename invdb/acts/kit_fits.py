"""The fits, sizes, finishes and masses that an engine type asks for, and what is known of what could go in.

Read at once for a kit choice, for the check of what is fitted, and for the picture of a whole engine.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.measured import latest_measurements
from invdb.acts.numbers import Thing
from invdb.acts.things import ThingState
from invdb.records.chunks import chunks
from invdb.records.specs import BalanceMass, BalanceSet, FitLimit, MatchRule, Spec, SpecLine
from invdb.rules.effectivity import names_of
from invdb.rules.fits import FitTerms
from invdb.rules.limits import LineLimits, Reading
from invdb.rules.measuring import kept
from invdb.rules.suiting import BalanceLine, FitEnd, FitLine, Known, MatchLine, Suiting

_MG_PER_G = 1000


def read_suiting(session: Session, engine_type: int, group: str, on: date) -> Suiting:
    """The fits and the rules of size and finish of a group that hold on a day."""
    fits = session.scalars(
        select(FitLimit)
        .where(
            FitLimit.engine_type_id == engine_type,
            FitLimit.group_name == group,
            FitLimit.from_on <= on,
            or_(FitLimit.withdrawn_on.is_(None), FitLimit.withdrawn_on > on),
        )
        .order_by(FitLimit.from_on.desc(), FitLimit.sequence, FitLimit.id)
    )
    matches = session.scalars(
        select(MatchRule)
        .where(
            MatchRule.engine_type_id == engine_type,
            MatchRule.group_name == group,
            or_(MatchRule.withdrawn_on.is_(None), MatchRule.withdrawn_on > on),
        )
        .order_by(MatchRule.id)
    )
    return Suiting(
        (_fit_line(each) for each in fits),
        (
            MatchLine(each.what, each.station, each.other_station, each.finish, each.other_finish)
            for each in matches
        ),
    )


def _fit_line(row: FitLimit) -> FitLine:
    return FitLine(
        row.id,
        FitTerms(row.name, row.kind, row.unit, row.low, row.high, row.worn_high, row.target, row.operation),
        FitEnd(row.outer_station, row.outer_name, row.outer_point, row.outer_part_id),
        FitEnd(row.inner_station, row.inner_name, row.inner_point, row.inner_part_id),
        row.gap,
        row.makes_matched,
    )


def read_balances(session: Session, engine_type: int, group: str, on: date) -> tuple[BalanceLine, ...]:
    """The sets of masses of a group that hold on a day."""
    sets = session.scalars(
        select(BalanceSet)
        .where(
            BalanceSet.engine_type_id == engine_type,
            BalanceSet.group_name == group,
            or_(BalanceSet.withdrawn_on.is_(None), BalanceSet.withdrawn_on > on),
        )
        .order_by(BalanceSet.id)
    ).all()
    masses: dict[int, list[tuple[str, str]]] = defaultdict(list)
    rows = session.execute(
        select(BalanceMass.balance_set_id, BalanceMass.station, BalanceMass.mass_name)
        .where(BalanceMass.balance_set_id.in_([each.id for each in sets]))
        .order_by(BalanceMass.id)
    )
    for balance, station, name in rows:
        masses[balance].append((station, name))
    return tuple(
        BalanceLine(
            each.id,
            each.name,
            each.unit,
            in_mg(each.spread, each.unit),
            None if each.target is None else in_mg(each.target, each.unit),
            names_of(each.positions),
            tuple(masses[each.id]),
        )
        for each in sets
    )


def in_mg(text: str, unit: str) -> int:
    """A published mass in milligrams, rounded: no balance of ours reads finer."""
    return round(kept(text, unit).value * _MG_PER_G)


def read_known(session: Session, states: Iterable[ThingState], on: date) -> dict[Thing, Known]:
    """What is known of things by a day: their latest figures, and their parts' limits for their size.

    Batches of one part, size and finish, and unmeasured pieces, share what is known of them.
    """
    states = list(states)
    readings = latest_measurements(session, [each.thing.piece for each in states if each.thing.piece], on)
    limits = read_limits_of_parts(session, {each.part for each in states}, on)
    alike: dict[tuple[int, str, str], Known] = {}
    found: dict[Thing, Known] = {}
    for state in states:
        own = readings.get(state.thing.piece or 0, {})
        key = (state.part, state.size_class, state.finish)
        if not own and key in alike:
            found[state.thing] = alike[key]
            continue
        known = Known(
            state.part,
            state.part_number,
            state.size_class,
            state.finish,
            {
                name: [Reading(each.point, each.direction, kept(each.figure, each.unit)) for each in figures]
                for name, figures in own.items()
            },
            limits_for(limits.get(state.part, {}), state.size_class),
            max((each.measured_on.isoformat() for figures in own.values() for each in figures), default=""),
        )
        if not own:
            alike[key] = known
        found[state.thing] = known
    return found


LimitsBySize = Mapping[tuple[str, str], LineLimits]
"""The limits of a part's specification by (name of the line, size class as compared)."""


def read_limits_of_parts(session: Session, parts: Iterable[int], on: date) -> dict[int, LimitsBySize]:
    """The limits of each part's specification in force on a day; parts without one are left out."""
    current: dict[int, int] = {}
    for some in chunks(set(parts)):
        rows = session.execute(
            select(Spec.part_id, Spec.id)
            .where(
                Spec.part_id.in_(some),
                Spec.from_on <= on,
                or_(Spec.withdrawn_on.is_(None), Spec.withdrawn_on > on),
            )
            .order_by(Spec.from_on, Spec.id)
        )
        current |= {part: spec for part, spec in rows}
    found: dict[int, dict[tuple[str, str], LineLimits]] = defaultdict(dict)
    part_by_spec = {spec: part for part, spec in current.items()}
    for some in chunks(part_by_spec):
        lines = session.scalars(
            select(SpecLine).where(SpecLine.spec_id.in_(some)).order_by(SpecLine.sequence, SpecLine.id)
        )
        for line in lines:
            if line.kind.measured:
                key = (line.name, line.size_class.casefold())
                found[part_by_spec[line.spec_id]][key] = line_limits(line)
    return dict(found)


def line_limits(line: SpecLine) -> LineLimits:
    """The limits of a line of a specification."""
    return LineLimits(
        line.name,
        line.unit,
        line.new_low,
        line.new_high,
        line.worn_low,
        line.worn_high,
        line.oval_max,
        line.taper_max,
        tuple(name.strip() for name in line.points.split(",") if name.strip()),
        tuple(name.strip() for name in line.directions.split(",") if name.strip()),
    )


def limits_for(limits: LimitsBySize, size_class: str) -> dict[str, LineLimits]:
    """The limits that hold for one size: its own, and for what has none the line without a size."""
    chosen = {name: line for (name, size), line in limits.items() if not size}
    chosen |= {name: line for (name, size), line in limits.items() if size == size_class.casefold()}
    return chosen
