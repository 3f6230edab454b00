"""What falls due, across all engines: lives of pieces and engines, directives, ends of concessions."""

from __future__ import annotations

from datetime import date

from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.concession_lines import concession_due_lines
from invdb.acts.directive_lines import directive_due_lines
from invdb.acts.life_due import Horizon, life_due_lines
from invdb.rules.due import DueLine, worst_first
from invdb.terms import FieldRefused

# Beyond these a due list says nothing: hundredths of an hour, months.
HOURS_MAX = 10_000_00
MONTHS_MAX = 600


def due_list(
    session: Session,
    engine: int | None = None,
    *,
    within_hours: int | None = None,
    within_months: int | None = None,
    on: date | None = None,
) -> tuple[DueLine, ...]:
    """Everything that is over, due soon, or that nobody can tell, the worst first; of one engine or of all.

    ``within_hours`` (hundredths) and ``within_months`` bring in what runs out further ahead: with so much
    left, or by then at the engine's own pace. ``on`` is a past day, at whose end it is judged (None: now).
    """
    for column, figure, most in (
        ("within_hours", within_hours, HOURS_MAX),
        ("within_months", within_months, MONTHS_MAX),
    ):
        if figure is not None and not 0 <= figure <= most:
            raise FieldRefused(
                column, f"A due list can't look {figure} ahead.", f"Give a figure from 0 to {most}."
            )
    day = as_of(session, on)
    horizon = Horizon(within_hours, within_months)
    others = (*directive_due_lines(session, engine, on), *concession_due_lines(session, engine, on))
    return worst_first(
        [
            *life_due_lines(session, engine, horizon, on),
            *(line for line in others if horizon.within(line, day)),
        ]
    )
