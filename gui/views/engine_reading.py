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
from invdb.acts.life import EngineLife, engine_life, life_of
from invdb.acts.numbers import Thing
from invdb.acts.station_list import DrawnStation, stations_drawn
from invdb.acts.things import things_by_id
from invdb.rules.build import Build, Difference, difference, fitted
from invdb.rules.due import DueSoon
from invdb.rules.events import event_words


@dataclass(frozen=True)
class EngineReading:
    """An engine as fitted on a day, the life of what was in it then, and how that differs from today.

    ``standings`` are by piece. ``since`` is empty for today. ``life`` is None for what was believed at an
    earlier instant, when lives are not worked out.
    """

    build: Build
    drawn: Mapping[int, DrawnStation]
    days: tuple[BuildDay, ...]
    soon: DueSoon
    life: EngineLife | None
    standings: Mapping[int, Standing] = field(default_factory=dict)
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
        dict.fromkeys(_pieces(build), NOT_WORKED_OUT) if believed else _standings(session, build, on),
        difference(build, as_fitted(session, engine)) if on is not None or believed else Difference(),
    )


def _pieces(build: Build) -> set[int]:
    return {each.thing.piece for each in fitted(build) if each.thing.piece is not None}


def _standings(session: Any, build: Build, on: date | None) -> dict[int, Standing]:
    pieces = _pieces(build)
    lives = life_of(session, pieces, on)
    if on is not None:
        # What is held against a piece today says nothing of how it stood then.
        return {piece: Standing(life.stands) for piece, life in lives.items()}
    things = {Thing(piece=piece): piece for piece in pieces}
    states, events = things_by_id(session, list(things)), events_on(session, list(things))
    return {
        piece: Standing(
            lives[piece].stands,
            states[thing].holds,
            tuple(event_words(each.kind, each.engine_name, each.on) for each in events.get(thing, ())),
        )
        for thing, piece in things.items()
    }
