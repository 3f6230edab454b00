"""What the page of plans shows: overhauls planned and proposed, and hours by engine and month.

Methods that take a job run on a worker and open their own session; the others are plain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from gui.job import Job
from gui.shown import Choice, Column, Empty, Page, Row, Sort
from gui.shown_grid import Changes, GridCell, GridRow
from gui.signs import sign
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.meter_fields import hours_figure, read_hours
from gui.views.part_tables import page_of
from gui.views.plan_forms import (
    change_overhaul_form,
    overhaul_done_form,
    plan_overhaul_form,
    withdraw_overhaul_form,
)
from invdb.acts.flying_plan import EngineFlying, flying_plan, plan_flying
from invdb.acts.overhaul_plan import PlannedOpening, openings
from invdb.acts.short_settings import short_settings
from invdb.rules.calendar import month_words
from invdb.rules.told import stopped
from invdb.terms import FieldRefused, Refused

PLANNED, PROPOSED = "planned", "proposed"
COLUMNS = (
    Column("month", "Month", 92),
    Column("engine", "Engine", 150),
    Column("state", "How", 108),
    Column("why", "Why", 560),
    Column("note", "Note", 120),
)
NO_OVERHAULS = Empty(
    "Here stand the engines that are to be opened: as planned, and as their hours and limits propose.",
    "Nothing is planned, and no limit since overhaul is reached as far as the board looks.",
)
NO_ENGINES = "No engine is on record. Hours are planned here once there is one."


@dataclass(frozen=True)
class OpeningKey:
    """One overhaul: its engine, and its plan where it has one, by which it is known if it is put off, else
    its month.
    """

    engine: int
    plan: int | None
    on: date | None


@dataclass(frozen=True)
class PlanRead:
    """What was read: overhauls by day, and what each engine is to run."""

    openings: tuple[PlannedOpening, ...]
    flying: tuple[EngineFlying, ...]


class PlanPresenter:
    """Holds the plans as they were read; knows no Tk."""

    def __init__(self, sitting: Sitting) -> None:
        self._sitting = sitting
        self.plans = PlanRead((), ())

    def read(self, job: Job) -> PlanRead:
        """Both plans as far as the shop looks ahead."""
        with self._sitting.reading(job) as session:
            flying = flying_plan(session, short_settings(session).horizon_months)
            return PlanRead(openings(session, flying), flying)

    # Overhauls

    def page(self, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        """Some of the overhauls, as far as they fit the words."""
        return page_of(map(_row, self.plans.openings), COLUMNS, offset, limit, sort, words)

    def told(self) -> str:
        """How many overhauls are planned and proposed."""
        planned = sum(each.planned for each in self.plans.openings)
        proposed = len(self.plans.openings) - planned
        return f"{planned or 'None'} planned, {proposed or 'none'} proposed." if self.plans.openings else ""

    def first(self) -> OpeningKey | None:
        """The overhaul that comes first."""
        return next(map(_key, self.plans.openings), None)

    def opening(self, key: OpeningKey) -> PlannedOpening | None:
        """The overhaul of a row, if it is there still."""
        return next((each for each in self.plans.openings if _key(each) == key), None)

    def said_of(self, key: OpeningKey) -> str:
        """All that is to be said of an overhaul."""
        opening = self.opening(key)
        if opening is None:
            return ""
        note = f" {stopped(opening.note)}" if opening.note else ""
        return f"{opening.engine_name} in {month_words(opening.on)}, {stopped(opening.why)}{note}"

    def add_plan(self, keys: Sequence[OpeningKey]) -> FormPlan:
        """The form for another overhaul, begun with what is proposed where that is what is chosen."""
        chosen = self.opening(keys[0]) if len(keys) == 1 else None
        engines = [Choice(each.engine, each.name) for each in self.plans.flying]
        if not engines:
            raise Refused("No engine is on record.", "Add one first.")
        if chosen is None:
            return plan_overhaul_form(self._sitting, engines, None, None)
        return plan_overhaul_form(
            self._sitting, engines, chosen.engine, None if chosen.planned else chosen.on
        )

    def change_plan(self, keys: Sequence[OpeningKey]) -> FormPlan:
        """The form to change what is planned; for what is proposed, the form to plan it."""
        opening = self._one(keys)
        return change_overhaul_form(self._sitting, opening) if opening.planned else self.add_plan(keys)

    def done_plan(self, keys: Sequence[OpeningKey]) -> FormPlan:
        """The form to say that it was done; Refused for what is only proposed."""
        return overhaul_done_form(self._sitting, self._planned(keys))

    def withdraw_plan(self, keys: Sequence[OpeningKey]) -> FormPlan:
        """The form to take it back; Refused for what is only proposed."""
        return withdraw_overhaul_form(self._sitting, self._planned(keys))

    def _planned(self, keys: Sequence[OpeningKey]) -> PlannedOpening:
        opening = self._one(keys)
        if not opening.planned:
            raise Refused(f"That overhaul of {opening.engine_name} is only proposed.", "Plan it first.")
        return opening

    def _one(self, keys: Sequence[OpeningKey]) -> PlannedOpening:
        opening = self.opening(keys[0]) if len(keys) == 1 else None
        if opening is None:
            raise Refused("No overhaul is chosen, or several are.", "Choose one in the list.")
        return opening

    # Hours

    def months(self) -> tuple[str, ...]:
        """The months of the grid."""
        return (
            tuple(f"{each.month:%Y-%m}" for each in self.plans.flying[0].months) if self.plans.flying else ()
        )

    def grid(self) -> tuple[GridRow, ...]:
        """A row an engine: its planned hours, and where none are planned what it runs of late."""
        return tuple(
            GridRow(
                each.engine,
                each.name,
                f"{each.name}: where nothing is planned, {stopped(each.of_late)}",
                tuple(GridCell(hours_figure(month.hours), month.planned) for month in each.months),
            )
            for each in self.plans.flying
        )

    def read_figure(self, typed: str) -> str:
        """Hours as they are written; Refused for what is no exact figure."""
        return hours_figure(read_hours(typed, "hours"))

    def sum_of(self, figures: Sequence[str]) -> str:
        """What a row comes to; a month that is taken back counts for nothing until it is saved."""
        return f"{hours_figure(sum(read_hours(each, 'hours') for each in figures if each))} h"

    def save_hours(self, job: Job, changes: Changes) -> int:
        """Plan what was typed, an entry for each engine; how many engines were changed."""
        by_engine: dict[int, dict[date, int | None]] = {}
        for (engine, column), text in changes.items():
            assert isinstance(engine, int), "a row is an engine"
            month = next(each for each in self.plans.flying if each.engine == engine).months[column].month
            hours = None if text is None else read_hours(text, "hours")
            by_engine.setdefault(engine, {})[month] = hours
        with self._sitting.store.writing() as session:
            for engine, hours_by_month in by_engine.items():
                try:
                    plan_flying(session, engine, hours_by_month, self._sitting.by())
                except FieldRefused as refused:
                    name = next(each.name for each in self.plans.flying if each.engine == engine)
                    raise Refused(f"{name}: {refused.reason}", refused.remedy) from refused
            job.commit_begins()
        return len(by_engine)


def _key(opening: PlannedOpening) -> OpeningKey:
    return OpeningKey(opening.engine, opening.plan, None if opening.planned else opening.on)


def _row(opening: PlannedOpening) -> Row:
    state = PLANNED if opening.planned else PROPOSED
    cells = (
        f"{opening.on:%Y-%m}",
        opening.engine_name,
        sign(state).text,
        opening.why.removeprefix("proposed: "),
        opening.note,
    )
    return Row(_key(opening), cells, state)
