"""The lives that run out, or nearly so, of pieces in engines and of the engines themselves."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy import BindParameter, Connection, bindparam, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.due_soon import due_soon
from invdb.acts.engine_use import recent_use
from invdb.acts.life import LifeStanding, engine_lives, life_of
from invdb.acts.near_limits import Reach, pieces_near_limits
from invdb.acts.seated_at import seats_of
from invdb.records.catalogue import Part
from invdb.records.chunks import chunks
from invdb.records.engines import Engine
from invdb.records.life import LifeLimit, Service
from invdb.records.stock import Piece
from invdb.rules.calendar import months_after
from invdb.rules.due import DueKind, DueLine, DueSoon
from invdb.rules.forecast import Pace, pace
from invdb.rules.life import LifeVerdict
from invdb.rules.life_limits import left_words, limit_words
from invdb.terms import LifeMeasure

# More than any limit.
NO_BOUND = 2**53
_IDS: BindParameter[Any] = bindparam("ids", expanding=True)
# Made once: putting a statement together costs more than executing it.
_NAMES = (
    select(Piece.id, Piece.tag, Part.house_number, Part.name)
    .join(Part, Part.id == Piece.part_id)
    .where(Piece.id.in_(_IDS))
)
_LIMITED = (
    select(Service.piece_id)
    .join(Piece, Piece.id == Service.piece_id)
    .join(Part, Part.id == Piece.part_id)
    .where(
        Service.from_on <= bindparam("on"),
        Service.to_entry.is_(None) | (Service.to_on > bindparam("on")),
        Part.life_limit_hours.is_not(None)
        | select(LifeLimit.id).where(LifeLimit.part_id == Part.id).exists(),
    )
    .distinct()
)
_ENGINES_LIMITED = select(Engine.id).where(
    Engine.engine_type_id.in_(select(LifeLimit.engine_type_id).where(LifeLimit.part_id.is_(None)))
)


@dataclass(frozen=True)
class Horizon:
    """How far ahead a due list looks beyond what is due soon: hundredths of an hour, or months."""

    hours: int | None = None
    months: int | None = None

    def until(self, day: date) -> date | None:
        """The last day that it looks at."""
        return None if self.months is None else months_after(day, self.months)

    def within(self, line: DueLine, day: date) -> bool:
        """Whether a line belongs on the list."""
        if line.verdict not in {LifeVerdict.WITHIN, LifeVerdict.NO_LIMIT}:
            return True
        if self.hours is not None and line.hours_left is not None and line.hours_left <= self.hours:
            return True
        until = self.until(day)
        days = [each for each in (line.due_on, line.earliest) if each is not None]
        return until is not None and bool(days) and min(days) <= until


def life_due_lines(
    session: Session, engine: int | None = None, horizon: Horizon | None = None, on: date | None = None
) -> tuple[DueLine, ...]:
    """A line for each limit, of a piece in an engine (None: in any) or of the engine, that is used up or due
    soon at the end of a day (None: now), that nobody can tell, or that runs out within the horizon."""
    day = as_of(session, on)
    horizon = horizon or Horizon()
    lines = [*_piece_lines(session, engine, horizon, on, day), *_engine_lines(session, engine, on)]
    return tuple(line for line in lines if horizon.within(line, day))


def _piece_lines(
    session: Session, engine: int | None, horizon: Horizon, on: date | None, day: date
) -> Iterator[DueLine]:
    connection = session.connection()
    if on is None:
        reach = _reach(connection, due_soon(session), horizon, engine, day)
        near: Collection[int] = pieces_near_limits(connection, reach, day, engine)
    else:
        chosen = _LIMITED if engine is None else _LIMITED.where(Service.engine_id == engine)
        near = connection.scalars(chosen, {"on": on}).all()
    lives = {piece: life for piece, life in life_of(session, near, on).items() if life.engine is not None}
    names = {
        row.id: row for some in chunks(lives.keys()) for row in connection.execute(_NAMES, {"ids": some})
    }
    engines = {each: name for each, name in connection.execute(select(Engine.id, Engine.name))}
    seats = seats_of(session, lives.keys(), on)
    for piece, life in lives.items():
        assert life.engine is not None
        row, seat = names[piece], seats.get(piece)
        subject = DueLine(
            kind=DueKind.PIECE_LIFE,
            subject=f"{row.name} {row.tag}",
            what="",
            left="",
            verdict=LifeVerdict.NO_LIMIT,
            engine=life.engine,
            engine_name=engines[life.engine],
            position="" if seat is None else seat.position_name,
            station="" if seat is None else seat.station,
            piece=piece,
            tag=row.tag,
            part_number=row.house_number,
            part_name=row.name,
        )
        yield from _lines_of(subject, life.stands)


def _engine_lines(session: Session, engine: int | None, on: date | None) -> Iterator[DueLine]:
    limited = _ENGINES_LIMITED if engine is None else _ENGINES_LIMITED.where(Engine.id == engine)
    engines = session.connection().scalars(limited).all()
    for each in engine_lives(session, engines, on).values():
        subject = DueLine(
            kind=DueKind.ENGINE_LIFE,
            subject=each.name,
            what="",
            left="",
            verdict=LifeVerdict.NO_LIMIT,
            engine=each.engine,
            engine_name=each.name,
        )
        yield from _lines_of(subject, each.stands)


def _lines_of(subject: DueLine, stands: LifeStanding) -> Iterator[DueLine]:
    """The subject's line for each of its limits that decides."""
    for line, forecast in zip(stands.lines, stands.forecasts, strict=True):
        if line.depends:
            continue
        measure = line.limit.measure
        by_running = measure is not LifeMeasure.MONTHS
        yield replace(
            subject,
            what=f"life limit of {limit_words(line.limit)}",
            left=left_words(line),
            verdict=line.verdict,
            record=line.limit.key,
            hours_left=line.left_worst if measure is LifeMeasure.HOURS else None,
            starts_left=line.left_worst if measure is LifeMeasure.STARTS else None,
            due_on=line.due_on,
            earliest=forecast.earliest if by_running else None,
            latest=forecast.latest if by_running else None,
            forecast=forecast.words,
        )


def _reach(connection: Connection, soon: DueSoon, horizon: Horizon, engine: int | None, day: date) -> Reach:
    """What is near: what is due soon, and what the horizon or an engine's own use brings near in time."""
    hours = max(soon.hours, horizon.hours or 0)
    until = months_after(day, max(soon.months, horizon.months or 0))
    last = horizon.until(day)
    if last is None:
        return Reach(hours, soon.starts, until)
    engines = [engine] if engine is not None else connection.scalars(select(Engine.id)).all()
    by_engine: dict[int, tuple[int, int]] = {}
    for each, windows in recent_use(connection, engines, day).items():
        ran = [pace(windows, measure) for measure in (LifeMeasure.HOURS, LifeMeasure.STARTS)]
        figures = [_ran_by(last, day, one) for one in ran]
        by_engine[each] = (max(hours, figures[0]), max(soon.starts, figures[1]))
    return Reach(hours, soon.starts, until, by_engine)


def _ran_by(last: date, day: date, ran: Pace | None) -> int:
    """At most how much is run by a day at a pace; without bound where no one knows the pace's upper end."""
    if ran is None:
        return 0
    if ran.most is None:
        return NO_BOUND
    # What runs out on a day is forecast by its whole days.
    most = ran.most * ((last - day).days + 1)
    return -(-most.numerator // most.denominator)
