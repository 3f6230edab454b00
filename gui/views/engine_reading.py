"""All that the Engines view reads of one engine for one day, at once, on a worker."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from gui.views.standings import NOT_WORKED_OUT, Standing
from invdb.acts.as_fitted import as_fitted
from invdb.acts.build_days import BuildDay, build_days
from invdb.acts.due_soon import due_soon
from invdb.acts.event_doubts import events_on
from invdb.acts.life import EngineLife, LifeStanding, engine_life, life_of
from invdb.acts.numbers import Thing
from invdb.acts.station_list import DrawnStation, stations_drawn
from invdb.acts.things import things_by_id
from invdb.rules.build import Build, Difference, difference, fitted
from invdb.rules.due import DueSoon
from invdb.rules.events import event_words


@dataclass(frozen=True)
class EngineReading:
    """An engine as fitted on a day, the life of what was in it then, and how that differs from today.

    ``standings`` are by piece or batch. ``since`` is empty for today. ``life`` is None for what was believed
    at an earlier instant, when lives are not worked out.
    """

    build: Build
    drawn: Mapping[int, DrawnStation]
    days: tuple[BuildDay, ...]
    soon: DueSoon
    life: EngineLife | None
    standings: Mapping[Thing, Standing] = field(default_factory=dict)
    since: Difference = Difference()


def read_engine_on(
    session: Any, engine: int, on: date | None = None, believed_at: datetime | None = None
) -> EngineReading:
    """The reading of a day (None: now); with ``believed_at`` as was believed at that instant."""
    build = as_fitted(session, engine, on, believed_at)
    believed = believed_at is not None
    return EngineReading(
        build,
        stations_drawn(session, engine),
        build_days(session, engine),
        due_soon(session),
        None if believed else engine_life(session, engine, on),
        dict.fromkeys(_things(build, pieces_alone=True), NOT_WORKED_OUT)
        if believed
        else _standings(session, build, on),
        difference(build, as_fitted(session, engine)) if on is not None or believed else Difference(),
    )


def _things(build: Build, *, pieces_alone: bool = False) -> list[Thing]:
    found = [Thing(each.thing.piece, each.thing.batch) for each in fitted(build)]
    return [thing for thing in dict.fromkeys(found) if thing.piece is not None or not pieces_alone]


def _standings(session: Any, build: Build, on: date | None) -> dict[Thing, Standing]:
    things = _things(build)
    lives = life_of(session, {thing.piece for thing in things if thing.piece is not None}, on)
    if on is not None:
        # What is held against a piece today says nothing of how it stood then.
        return {Thing(piece=piece): Standing(life.stands) for piece, life in lives.items()}
    states, events = things_by_id(session, things), events_on(session, things)
    return {
        thing: Standing(
            lives[thing.piece].stands if thing.piece is not None else LifeStanding(),
            states[thing].holds,
            tuple(event_words(each.kind, each.engine_name, each.on) for each in events.get(thing, ())),
        )
        for thing in things
    }
