"""What pieces have lived, read from the store: hours and starts by engine type, and the limits of parts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import (
    BigInteger,
    BindParameter,
    ColumnElement,
    Connection,
    Row,
    Select,
    bindparam,
    case,
    cast,
    func,
    or_,
    select,
)
from sqlalchemy.orm import InstrumentedAttribute, aliased

from invdb.acts.engine_use import EngineLogs, last_line
from invdb.records.chunks import chunks
from invdb.records.engines import Engine
from invdb.records.life import RAN_COLUMNS, LifeReset, Running, Service, figure
from invdb.records.stock import Piece
from invdb.rules.life_limits import Lived
from invdb.rules.points import BEGINNING, END, Point, end_of
from invdb.rules.running import RAN_NOTHING, Ran, ran_from, span_of
from invdb.terms import NO_PRIOR_LIFE, PriorLife

RanByType = dict[int | None, Ran]
_IDS: BindParameter[Any] = bindparam("ids", expanding=True)


def _served() -> Select[*tuple[Any, ...]]:
    """What pieces ran here until now, added up by engine type, and the engine in which each is."""
    total = aliased(Running)
    lasts = Service.to_entry.is_(None)

    def added(column: str) -> ColumnElement[int]:
        ran = getattr(Service, column) + case((lasts, func.coalesce(getattr(total, column), 0)), else_=0)
        # PostgreSQL adds whole numbers up to one that is no whole number any more.
        return cast(func.sum(ran), BigInteger)

    return (
        select(
            Service.piece_id,
            Engine.engine_type_id,
            func.max(case((lasts, Service.engine_id))).label("engine"),
            *(added(column) for column in RAN_COLUMNS),
        )
        .join(Engine, Engine.id == Service.engine_id)
        .outerjoin(total, lasts & (total.id == last_line(Service.engine_id)))
        .where(Service.piece_id.in_(_IDS))
        .group_by(Service.piece_id, Engine.engine_type_id)
    )


# Made once: putting a statement together costs more than executing it.
_SERVED = _served()
_STRETCHES = (
    select(
        Service.piece_id,
        Service.engine_id,
        Engine.engine_type_id,
        Service.from_on,
        Service.from_entry,
        Service.to_on,
        Service.to_entry,
        *(getattr(Service, column) for column in RAN_COLUMNS),
    )
    .join(Engine, Engine.id == Service.engine_id)
    .where(Service.piece_id.in_(_IDS))
    .order_by(Service.piece_id, Service.sequence)
)
_RESETS = (
    select(
        LifeReset.piece_id,
        LifeReset.engine_id,
        LifeReset.set_by,
        LifeReset.reset_on,
        LifeReset.overhauled_on,
        LifeReset.resets_hours,
        LifeReset.resets_starts,
        LifeReset.resets_calendar,
        LifeReset.hours_known,
        LifeReset.hours_low,
        LifeReset.hours_high,
        LifeReset.starts_known,
        LifeReset.starts_low,
        LifeReset.starts_high,
        LifeReset.report,
    )
    .where(
        LifeReset.reset_on <= bindparam("on"),
        or_(LifeReset.withdrawn_on.is_(None), LifeReset.withdrawn_on > bindparam("on")),
    )
    .order_by(LifeReset.reset_on, LifeReset.set_by, LifeReset.id)
)
RESETS_OF_PIECES = _RESETS.where(LifeReset.piece_id.in_(_IDS))
RESETS_OF_ENGINES = _RESETS.where(LifeReset.engine_id.in_(_IDS))


@dataclass(frozen=True)
class Before:
    """What a piece had run before it came, and the day it was made."""

    hours: PriorLife
    starts: PriorLife
    made_on: date | None = None

    @property
    def ran(self) -> Ran:
        """The same as running: nobody knows what of it was flight, so all of it counts as flight."""
        return Ran(flight=span_of(self.hours), starts=span_of(self.starts))


@dataclass(frozen=True)
class Reset:
    """Work that began counts since overhaul anew: at which point, from which figures, by which report.

    ``hours`` and ``starts`` are None where it did not reset them.
    """

    at: Point
    overhauled_on: date | None
    hours: PriorLife | None
    starts: PriorLife | None
    calendar: bool
    report: str

    @property
    def ran(self) -> Ran:
        """What had been run since that overhaul by then, all of it as flight, see `Before`."""
        hours, starts = self.hours or NO_PRIOR_LIFE, self.starts or NO_PRIOR_LIFE
        return Ran(flight=span_of(hours), starts=span_of(starts))


@dataclass(frozen=True)
class Stretch:
    """A piece's time in one engine; ``ended`` is None while it lasts, and then ``ran`` lacks the total."""

    engine: int
    engine_type: int
    began: Point
    ended: Point | None
    ran: Ran

    def lasts_at(self, point: Point) -> bool:
        """Whether it began by a point and had not ended."""
        return self.began <= point and (self.ended is None or self.ended > point)

    def between(self, logs: EngineLogs, after: Point, until: Point) -> Ran:
        """What it ran in this stretch after one point and up to another."""
        began = max(self.began, after)
        ended = until if self.ended is None else min(self.ended, until)
        if began >= ended:
            return RAN_NOTHING
        if (began, ended) == (self.began, self.ended):
            return self.ran
        total = logs.at(self.engine, ended)
        if self.ended is None and began == self.began:
            return total + self.ran
        return total - logs.at(self.engine, began)


@dataclass(frozen=True)
class PieceLived:
    """What a piece has lived, the engine that it is in, and the works that reset a count of its."""

    lived: Lived
    engine: int | None
    resets: tuple[Reset, ...] = ()


def read_lived(
    connection: Connection,
    pieces: Mapping[int, Before],
    today: date,
    on: date | None = None,
    *,
    resets: bool = True,
) -> dict[int, PieceLived]:
    """What pieces have lived by the end of a day (None: by now).

    Without ``resets`` nothing is asked of overhauls, which matter only to limits since overhaul, and what is
    since overhaul is given as since new.
    """
    reset = read_resets(connection, RESETS_OF_PIECES, pieces.keys(), on or today) if resets else {}
    logs = EngineLogs(connection)
    found: dict[int, PieceLived] = {}
    if on is None:
        added = _added_up(connection, pieces.keys())
        stretches = read_stretches(connection, reset.keys())
        for piece, before in pieces.items():
            served, engine = added.get(piece, ({}, None))
            own = reset.get(piece, ())
            lived = lived_since(before, served, own, _ran_after(stretches.get(piece, ()), logs, END))
            found[piece] = PieceLived(lived, engine, own)
        return found
    stretches = read_stretches(connection, pieces.keys())
    until = end_of(on)
    for piece, before in pieces.items():
        own, inside = reset.get(piece, ()), stretches.get(piece, ())
        ran_after = _ran_after(inside, logs, until)
        lived = lived_since(before, ran_after(BEGINNING), own, ran_after)
        engines = [each.engine for each in inside if each.lasts_at(until)]
        found[piece] = PieceLived(lived, engines[0] if engines else None, own)
    return found


def lived_since(
    before: Before,
    served: RanByType,
    resets: Sequence[Reset],
    ran_after: Callable[[Point], RanByType],
) -> Lived:
    """A life: what it ran before and what it ``served``, and since the works that reset a count.

    ``resets`` are the oldest first; ``ran_after`` says what of ``served`` was run after a point.
    """
    since_new = {None: before.ran, **served}
    hours = next((each for each in reversed(resets) if each.hours is not None), None)
    starts = next((each for each in reversed(resets) if each.starts is not None), None)
    calendar = next((each for each in reversed(resets) if each.calendar), None)
    overhauled_on = before.made_on if calendar is None else calendar.overhauled_on
    if hours is None and starts is None:
        return Lived(since_new, since_new, before.made_on, overhauled_on)
    by_hours = since_new if hours is None else {None: hours.ran, **ran_after(hours.at)}
    by_starts = since_new if starts is None else {None: starts.ran, **ran_after(starts.at)}
    since_overhaul = {
        engine_type: Ran(
            by_hours.get(engine_type, RAN_NOTHING).flight,
            by_hours.get(engine_type, RAN_NOTHING).ground,
            by_starts.get(engine_type, RAN_NOTHING).starts,
        )
        for engine_type in {**by_hours, **by_starts}
    }
    return Lived(since_new, since_overhaul, before.made_on, overhauled_on)


def _ran_after(stretches: Iterable[Stretch], logs: EngineLogs, until: Point) -> Callable[[Point], RanByType]:
    """What was run in each engine type after a point that is asked for, and up to another."""

    def ran_after(after: Point) -> RanByType:
        found: RanByType = {}
        for each in stretches:
            if each.began < until:
                ran = found.get(each.engine_type, RAN_NOTHING)
                found[each.engine_type] = ran + each.between(logs, after, until)
        return found

    return ran_after


def _added_up(connection: Connection, pieces: Collection[int]) -> dict[int, tuple[RanByType, int | None]]:
    """What each piece ran here by engine type, and the engine that it is in; those that ran nowhere lack."""
    found: dict[int, tuple[RanByType, int | None]] = {}
    for some in chunks(pieces):
        for piece, engine_type, engine, *figures in connection.execute(_SERVED, {"ids": some}):
            served, inside = found.get(piece, ({}, None))
            found[piece] = (served | {engine_type: ran_from(figures)}, engine if inside is None else inside)
    return found


def read_stretches(connection: Connection, pieces: Collection[int]) -> dict[int, list[Stretch]]:
    """Every time of pieces in an engine, in order."""
    found: dict[int, list[Stretch]] = defaultdict(list)
    for some in chunks(pieces):
        for row in connection.execute(_STRETCHES, {"ids": some}):
            ended = None if row.to_entry is None else (row.to_on, row.to_entry)
            found[row.piece_id].append(
                Stretch(
                    row.engine_id,
                    row.engine_type_id,
                    (row.from_on, row.from_entry),
                    ended,
                    ran_from(row[7:]),
                )
            )
    return dict(found)


def read_resets(
    connection: Connection, of: Select[*tuple[Any, ...]], ids: Collection[int], on: date
) -> dict[int, tuple[Reset, ...]]:
    """The resets of pieces or engines (``RESETS_OF_…``) that count on a day, the oldest first."""
    found: dict[int, tuple[Reset, ...]] = defaultdict(tuple)
    for some in chunks(ids):
        for row in connection.execute(of, {"ids": some, "on": on}):
            key = row.piece_id if row.piece_id is not None else row.engine_id
            found[key] += (_reset(row),)
    return dict(found)


def _reset(row: Row[*tuple[Any, ...]]) -> Reset:
    hours = figure(row.hours_known, row.hours_low, row.hours_high)
    starts = figure(row.starts_known, row.starts_low, row.starts_high)
    return Reset(
        (row.reset_on, row.set_by),
        row.overhauled_on,
        hours if row.resets_hours else None,
        starts if row.resets_starts else None,
        row.resets_calendar,
        row.report,
    )


def prior_columns(of: type[Piece] | type[Engine]) -> tuple[InstrumentedAttribute[Any], ...]:
    """What `priors` reads of a piece or an engine."""
    return tuple(
        getattr(of, f"prior_{what}_{end}") for what in ("hours", "starts") for end in ("known", "low", "high")
    )


def priors(row: Any) -> tuple[PriorLife, PriorLife]:
    """The hours and the starts run before we had it, of a row of a piece or before its log of an engine."""
    return (
        figure(row.prior_hours_known, row.prior_hours_low, row.prior_hours_high),
        figure(row.prior_starts_known, row.prior_starts_low, row.prior_starts_high),
    )
