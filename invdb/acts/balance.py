"""How an engine type's masses are matched: put in a set of masses that agree, withdraw one, read them."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.by import By, begin_draft
from invdb.acts.group_stations import GroupStations
from invdb.acts.station_dimensions import dimension_named
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.records.specs import BalanceMass, BalanceSet
from invdb.rules.measuring import UNITS, Kind, read_measured, unit_named
from invdb.rules.specification import single_spaced
from invdb.terms import BalanceKind, EntryKind, FieldRefused, Refused, SpecKind


@dataclass(frozen=True)
class NewBalanceSet:
    """Positions whose masses agree within ``spread``, or with ``target``; figures are texts, in ``unit``.

    ``positions`` are names with commas between, None for all of the group; ``masses`` are (station, name of
    the mass in the specification) and are added up at each position.
    """

    engine_type: int
    group: str
    name: str
    kind: BalanceKind
    unit: str
    spread: str
    masses: tuple[tuple[str, str], ...]
    source: str
    positions: str | None = None
    target: str | None = None


@dataclass(frozen=True)
class BalanceSetFacts:
    """A set of masses as kept; see ``NewBalanceSet``."""

    id: int
    group: str
    name: str
    kind: BalanceKind
    unit: str
    spread: str
    target: str | None
    positions: str | None
    masses: tuple[tuple[str, str], ...]
    source: str
    withdrawn_on: date | None
    entry: int


def add_balance_set(session: Session, balance: NewBalanceSet, by: By, sure: bool = False) -> int:
    """Add a set of masses that agree; returns its id. FieldRefused where it contradicts itself or stands.

    Asked, unless ``sure``, about a comma, and about a mass that no part at its station has.
    """
    draft = begin_draft(session, EntryKind.SPECIFICATION, by)
    balance_id = draft_balance_set(session, draft, balance, sure)
    post(session, draft)
    return balance_id


def draft_balance_set(session: Session, draft: Draft, balance: NewBalanceSet, sure: bool = False) -> int:
    """Put a set of masses into a draft; returns its id. See ``add_balance_set``."""
    names = GroupStations(session, balance.engine_type, balance.group)
    name = single_spaced(balance.name)
    if not name:
        raise FieldRefused("name", "The set has no name.", "Type what it is called, such as pistons.")
    positions = names.positions_named(balance.positions)
    unit = unit_named(balance.unit)
    if UNITS[unit].kind is not Kind.MASS:
        masses = ", ".join(each.name for each in UNITS.values() if each.kind is Kind.MASS)
        raise FieldRefused("unit", f"A mass is not measured in {unit}.", f"Use one of: {masses}.")
    spread = _figure(balance.spread, unit, "spread", sure)
    target = None if balance.target is None else _figure(balance.target, unit, "target", sure)
    if balance.kind is BalanceKind.AGAINST and target is None:
        raise FieldRefused("target", f"{name}: the mass that it is set against is missing.", "Give it.")
    alone = names.positions if positions is None else positions.split(", ")
    if target is None and len(alone) == 1:
        raise FieldRefused(
            "positions",
            f"{name}: of one position alone there is nothing that its mass could agree with.",
            "Name more, or the mass that it is set against.",
        )
    if not balance.source.strip():
        raise FieldRefused("source", "It isn't said what publishes this.", "Name the publication.")
    counted = _masses(session, names, balance, sure)
    _refuse_like(session, draft, balance.engine_type, names.group, name)
    balance_id = draft.new(
        session,
        "balance_set",
        engine_type_id=balance.engine_type,
        group_name=names.group,
        name=name,
        kind=balance.kind,
        positions=positions,
        unit=unit,
        spread=spread,
        target=target,
        source=balance.source,
    )
    for station, mass in counted:
        draft.new(session, "balance_mass", balance_set_id=balance_id, station=station, mass_name=mass)
    return balance_id


def _figure(text: str, unit: str, field: str, sure: bool) -> str:
    measured = read_measured(text, unit, field, sure=sure)
    if measured.unit != unit:
        raise FieldRefused(
            field, f"{text.strip()!r} is in {measured.unit}, and the set in {unit}.", "Give all in one unit."
        )
    if measured.value == 0:
        raise FieldRefused(field, f"{text.strip()!r} is nothing.", "Check the figure.")
    return measured.text


def _masses(
    session: Session, names: GroupStations, balance: NewBalanceSet, sure: bool
) -> list[tuple[str, str]]:
    """The stations and masses that count, as the drawing and the specifications name them."""
    if not balance.masses:
        raise FieldRefused("masses", "No mass is named.", "Name at least one station and its mass.")
    masses = []
    for typed_station, mass in balance.masses:
        if not single_spaced(mass):
            raise FieldRefused("masses", "A mass has no name.", "Name it as its part's line does.")
        station = names.station(typed_station, "masses")
        at = (balance.engine_type, names.group, station)
        name, _ = dimension_named(session, at, SpecKind.MASS, (mass, ""), "masses", sure=sure)
        masses.append((station, name))
    if len({(station, name.casefold()) for station, name in masses}) < len(masses):
        raise FieldRefused("masses", "One mass is named twice.", "Name each once.")
    return masses


def _refuse_like(session: Session, draft: Draft, engine_type: int, group: str, name: str) -> None:
    standing = session.scalars(
        select(BalanceSet.name).where(
            BalanceSet.engine_type_id == engine_type,
            BalanceSet.group_name == group,
            BalanceSet.withdrawn_on.is_(None),
        )
    )
    drafted = (
        str(fact.values["name"])
        for fact in draft.facts
        if fact.record == "balance_set"
        and (fact.values.get("engine_type_id"), fact.values.get("group_name")) == (engine_type, group)
    )
    if name.casefold() in {each.casefold() for each in (*standing, *drafted)}:
        raise FieldRefused("name", f"A set {name} stands already.", "Withdraw that one first.")


def withdraw_balance_set(session: Session, balance: int, because: str, by: By) -> int:
    """Say that a set of masses holds no more from that day on, and why; returns the entry's number."""
    draft = begin_draft(session, EntryKind.SPECIFICATION, by)
    row = session.execute(select(BalanceSet.withdrawn_on).where(BalanceSet.id == balance)).one_or_none()
    if row is None:
        raise Refused("There is no such set of masses.", "Look again.")
    if row.withdrawn_on is not None:
        raise Refused(
            f"That set was withdrawn on {row.withdrawn_on.isoformat()}.", "There is nothing to withdraw."
        )
    if not because.strip():
        raise FieldRefused("because", "It isn't said why the set is withdrawn.", "Type it.")
    draft.remark(because)
    draft.set("balance_set", balance, withdrawn_on=draft.happened_on)
    return post(session, draft).number


def balance_sets_of(
    session: Session, engine_type: int, group: str | None = None, on: date | None = None
) -> tuple[BalanceSetFacts, ...]:
    """The sets of masses of an engine type, or of one group of it, on a day (None: today)."""
    day = as_of(session, on)
    query = select(BalanceSet).where(
        BalanceSet.engine_type_id == engine_type,
        or_(BalanceSet.withdrawn_on.is_(None), BalanceSet.withdrawn_on > day),
    )
    if group is not None:
        query = query.where(BalanceSet.group_name == group)
    rows = session.scalars(query.order_by(BalanceSet.group_name, BalanceSet.id)).all()
    masses: dict[int, list[tuple[str, str]]] = defaultdict(list)
    for mass in session.scalars(
        select(BalanceMass)
        .where(BalanceMass.balance_set_id.in_([row.id for row in rows]))
        .order_by(BalanceMass.id)
    ):
        masses[mass.balance_set_id].append((mass.station, mass.mass_name))
    return tuple(
        BalanceSetFacts(
            row.id,
            row.group_name,
            row.name,
            row.kind,
            row.unit,
            row.spread,
            row.target,
            row.positions,
            tuple(masses[row.id]),
            row.source,
            row.withdrawn_on,
            row.set_by,
        )
        for row in rows
    )
