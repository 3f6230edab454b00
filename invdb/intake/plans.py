"""What is planned and believed, as tables: overhauls, the hours of the season, and beliefs by family."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from importlib.resources.abc import Traversable

from invdb.intake.table import Row, read_table, unique


@dataclass(frozen=True)
class OverhaulRow:
    """That an overhaul is planned, or, with the number of a plan above, moved or done.

    ``on`` is the day it is planned for, None where only its being done is said.
    """

    line: int
    plan: str
    booked_on: date
    who: str
    engine: str
    on: date | None
    done_on: date | None
    note: str


@dataclass(frozen=True)
class FlyingRow:
    """What an engine is meant to run in the month of a day, in hundredths of an hour."""

    line: int
    engine: str
    month: date
    hours: int
    booked_on: date
    who: str


@dataclass(frozen=True)
class BeliefRow:
    """What is believed of the parts of a family, by its letters; None for those of all others.

    The figures are those of ``invdb.records.buying.PartBelief``; ``failure_hours`` in hundredths.
    """

    line: int
    family: str | None
    reject_mean: Decimal
    reject_weight: Decimal
    concentration: Decimal
    failures: Decimal
    failure_hours: int
    yield_mean: Decimal
    yield_weight: Decimal
    source: str
    booked_on: date
    who: str


@dataclass(frozen=True)
class Plans:
    """All of these tables."""

    overhauls: tuple[OverhaulRow, ...] = ()
    flying: tuple[FlyingRow, ...] = ()
    beliefs: tuple[BeliefRow, ...] = ()


@dataclass(frozen=True)
class PlanNames:
    """What these tables may name."""

    engines: Collection[str]
    families: Collection[str]
    people: Collection[str]


def read_plans(folder: Traversable, names: PlanNames) -> Plans:
    """The tables; a plan is changed only below the line that made it."""
    return Plans(_overhauls(folder, names), _flying(folder, names), _beliefs(folder, names))


def _overhauls(folder: Traversable, names: PlanNames) -> tuple[OverhaulRow, ...]:
    made: dict[str, OverhaulRow] = {}
    read = []
    for row in read_table(
        folder, "planned_overhauls.csv", ("Plan", "Date", "Who", "Engine", "For", "Done on", "Note")
    ):
        overhaul = OverhaulRow(
            row.line,
            row.needed("Plan"),
            row.day("Date"),
            row.name_of("Who", names.people, "person"),
            row.name_of("Engine", names.engines, "engine"),
            row.day_or_none("For"),
            row.day_or_none("Done on"),
            row.text("Note"),
        )
        _refuse_odd_plan(row, overhaul, made)
        made.setdefault(overhaul.plan, overhaul)
        read.append(overhaul)
    return tuple(read)


def _refuse_odd_plan(row: Row, overhaul: OverhaulRow, made: Mapping[str, OverhaulRow]) -> None:
    first = made.get(overhaul.plan)
    if first is None:
        row.needed("For")
        if overhaul.done_on is not None:
            raise row.refuse("Done on", "is given where it is planned", "Say it in a line below.")
        return
    if first.engine != overhaul.engine:
        raise row.refuse("Engine", f"is not {first.engine}, which plan {first.plan} is for", "Look at both.")
    if overhaul.booked_on < first.booked_on:
        raise row.refuse("Date", "is before it was planned", "Look at both dates.")
    if overhaul.done_on is not None and overhaul.done_on > overhaul.booked_on:
        raise row.refuse("Done on", "is after it was booked", "Look at both dates.")


def _flying(folder: Traversable, names: PlanNames) -> tuple[FlyingRow, ...]:
    rows = list(read_table(folder, "planned_flying.csv", ("Engine", "Month", "Hours", "Date", "Who")))
    keys = [(row, f"{row.text('Engine')} {row.text('Date')} {row.text('Month')}") for row in rows]
    unique(keys, "Month", "month of an engine")
    read = []
    for row in rows:
        month = row.day("Month")
        if month.day != 1:
            raise row.refuse("Month", "is not the first day of a month", "Write it as 2024-05-01.")
        read.append(
            FlyingRow(
                row.line,
                row.name_of("Engine", names.engines, "engine"),
                month,
                row.hundredths("Hours"),
                row.day("Date"),
                row.name_of("Who", names.people, "person"),
            )
        )
    return tuple(read)


def _beliefs(folder: Traversable, names: PlanNames) -> tuple[BeliefRow, ...]:
    columns = ("Family", "Rejected", "Worth pieces", "Alike in an engine", "Failures", "In hours",
               "Good after work", "Worth sent", "Source", "Date", "Who")  # fmt: skip
    return tuple(
        BeliefRow(
            row.line,
            row.name_or_none("Family", names.families, "family"),
            _figure(row, "Rejected"),
            _figure(row, "Worth pieces"),
            _figure(row, "Alike in an engine"),
            _figure(row, "Failures"),
            row.hundredths("In hours"),
            _figure(row, "Good after work"),
            _figure(row, "Worth sent"),
            row.needed("Source"),
            row.day("Date"),
            row.name_of("Who", names.people, "person"),
        )
        for row in read_table(folder, "beliefs.csv", columns)
    )


def _figure(row: Row, column: str) -> Decimal:
    try:
        figure = Decimal(row.needed(column))
    except InvalidOperation as error:
        raise row.refuse(column, "is no figure", "Write it like 0.15.") from error
    if not figure.is_finite():
        raise row.refuse(column, "is no figure", "Write it like 0.15.")
    return figure
