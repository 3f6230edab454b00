"""How much life pieces and engines have used, how much is left, and when it runs out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import BindParameter, Connection, Row, bindparam, or_, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.believed import When
from invdb.acts.due_soon import due_soon
from invdb.acts.engine_use import EngineLogs, meter_at, recent_use
from invdb.acts.life_limit import read_engine_limits, read_limits
from invdb.acts.lived import (
    RESETS_OF_ENGINES,
    Before,
    RanByType,
    Reset,
    lived_since,
    prior_columns,
    priors,
    read_lived,
    read_resets,
)
from invdb.acts.mods_embodied import mods_embodied
from invdb.acts.part_then import parts_then
from invdb.acts.ran_since import RanSince
from invdb.records.catalogue import Part
from invdb.records.chunks import chunks
from invdb.records.doubts import Concession
from invdb.records.engines import Engine, EngineType
from invdb.records.stock import Piece
from invdb.rules.concessions import ConcessionTerms, standing
from invdb.rules.due import DueSoon
from invdb.rules.forecast import Forecast, Window, forecast_line
from invdb.rules.life import LifeVerdict
from invdb.rules.life_limits import Limit, LimitLine, Lived, Serving, first_to_run_out, judge
from invdb.rules.points import END, Point, end_of, start_of
from invdb.rules.running import Ran
from invdb.terms import ConcessionOver, LifeMeasure, LifeSince, PriorLife, Refused

_IDS: BindParameter[Any] = bindparam("ids", expanding=True)
_ON: BindParameter[date] = bindparam("on")
# Made once: putting a statement together costs more than executing it.
_PIECES = (
    select(
        Piece.id,
        Piece.part_id,
        Piece.made_on,
        *prior_columns(Piece),
        Part.life_limit_hours,
    )
    .join(Part, Part.id == Piece.part_id)
    .where(Piece.id.in_(_IDS))
)
_ENGINES = (
    select(
        Engine.id,
        Engine.name,
        Engine.engine_type_id,
        EngineType.name.label("type_name"),
        Engine.log_begun_on,
        Engine.log_reading,
        *prior_columns(Engine),
    )
    .join(EngineType, EngineType.id == Engine.engine_type_id)
    .where(Engine.id.in_(_IDS))
)
_TYPES = select(Engine.id, Engine.engine_type_id).where(Engine.id.in_(_IDS))
_CONCESSIONS = (
    select(
        Concession.piece_id,
        Concession.engine_id,
        Concession.reference,
        Concession.from_on,
        Concession.until_on,
        Concession.hours_allowed,
        Concession.life_limit_hours,
        Concession.withdrawn_on,
    )
    .where(
        Concession.piece_id.in_(_IDS),
        Concession.over == ConcessionOver.LIFE_LIMIT,
        Concession.life_limit_hours.is_not(None),
        Concession.from_on <= _ON,
        or_(Concession.withdrawn_on.is_(None), Concession.withdrawn_on > _ON),
    )
    .order_by(Concession.from_on, Concession.id)
)


@dataclass(frozen=True)
class LifeStanding:
    """How a life stands: a line and a forecast for each limit, the line that governs, the worst verdict.

    ``forecasts`` go with ``lines`` one by one; there are none for a piece that is in no engine.
    """

    lines: tuple[LimitLine, ...] = ()
    forecasts: tuple[Forecast, ...] = ()
    governing: LimitLine | None = None
    verdict: LifeVerdict = LifeVerdict.NO_LIMIT

    @property
    def forecast(self) -> Forecast | None:
        """When the governing limit runs out, by the use of the engine that it is in."""
        if self.governing is None or not self.forecasts:
            return None
        return self.forecasts[self.lines.index(self.governing)]


@dataclass(frozen=True)
class PieceLife:
    """The life of a piece on a day: what it ran since new and since overhaul, and how it stands.

    ``engine`` is the one that it was in then, at first hand or inside another piece. With no overhaul
    recorded, what is since overhaul is since new.
    """

    piece: int
    since_new: Ran
    since_overhaul: Ran
    engine: int | None
    stands: LifeStanding
    overhauled_on: date | None = None
    report: str = ""


@dataclass(frozen=True)
class EngineLife:
    """The life of an engine on a day.

    ``before_…`` is what it had run before its log began, ``logged`` since; ``since_overhaul`` is since new
    where no overhaul is recorded. ``meter`` is what it read last, None where it has none.
    """

    engine: int
    name: str
    type_name: str
    before_hours: PriorLife
    before_starts: PriorLife
    logged: Ran
    since_new: Ran
    since_overhaul: Ran
    stands: LifeStanding
    log_begun_on: date | None
    meter: int | None
    overhauled_on: date | None = None
    report: str = ""
    windows: tuple[Window, ...] = ()


def life_of(session: Session, pieces: Collection[int], on: date | None = None) -> dict[int, PieceLife]:
    """The life of pieces at the end of a day (None: now), by all that is known now.

    A piece is judged by the part that it was on that day. What it had run before it came, the plain limit of
    a part and the type of its engine are as recorded now. While a concession gives a piece in its engine a
    life limit of its own, that stands instead of every limit by hours since new. Refused when one is not in
    the store.
    """
    connection = session.connection()
    day = as_of(session, on)
    rows = [row for some in chunks(pieces) for row in connection.execute(_PIECES, {"ids": some})]
    if len(rows) != len(set(pieces)):
        raise Refused("One of these pieces is no longer in the store.", "Look again.")
    before = {row.id: Before(*priors(row), row.made_on) for row in rows}
    lived = read_lived(connection, before, day, on)
    parts = _parts(session, rows, on)
    limits = read_limits(connection, dict(parts.values()), day)
    in_engines = {piece: each.engine for piece, each in lived.items() if each.engine is not None}
    serving = _serving(session, set(in_engines.values()), limits.values(), day)
    windows = recent_use(connection, set(in_engines.values()), day)
    instead = _life_concessions(connection, in_engines, day, END if on is None else end_of(on))
    soon = due_soon(session)
    found: dict[int, PieceLife] = {}
    for row in rows:
        each = lived[row.id]
        own = limits[parts[row.id][0]]
        if row.id in instead:
            own = (instead[row.id], *(limit for limit in own if not _is_set_aside(limit)))
        stands = _stands(
            each.lived,
            own,
            day,
            None if each.engine is None else serving[each.engine],
            windows.get(each.engine) if each.engine is not None else None,
            soon,
        )
        found[row.id] = PieceLife(
            row.id,
            each.lived.total(LifeSince.NEW),
            each.lived.total(LifeSince.OVERHAUL),
            each.engine,
            stands,
            *_last_overhaul(each.resets),
        )
    return found


def _parts(
    session: Session, rows: Collection[Row[Any]], on: date | None
) -> dict[int, tuple[int, int | None]]:
    """The part that each piece was at the end of a day (None: now), and the plain limit of that."""
    found = {row.id: (row.part_id, row.life_limit_hours) for row in rows}
    then = {} if on is None else parts_then(session, found, When(on))
    if then:
        were = {each.part for each in then.values()}
        plain: dict[int, int | None] = dict(
            session.execute(select(Part.id, Part.life_limit_hours).where(Part.id.in_(were))).all()
        )
        found |= {piece: (each.part, plain[each.part]) for piece, each in then.items()}
    return found


def engine_life(session: Session, engine: int, on: date | None = None) -> EngineLife:
    """The life of an engine at the end of a day (None: now), by all that is known now.

    Before its log began, what it had run by then stands for what it had run. Refused when it is not in the
    store.
    """
    return engine_lives(session, [engine], on)[engine]


def engine_lives(session: Session, engines: Collection[int], on: date | None = None) -> dict[int, EngineLife]:
    """The same of several engines."""
    connection = session.connection()
    day = as_of(session, on)
    until = END if on is None else end_of(on)
    rows = [row for some in chunks(engines) for row in connection.execute(_ENGINES, {"ids": some})]
    if len(rows) != len(set(engines)):
        raise Refused("That engine is not in the store.", "Choose another.")
    resets = read_resets(connection, RESETS_OF_ENGINES, engines, day)
    limits = read_engine_limits(connection, day)
    windows = recent_use(connection, engines, day)
    serving = _serving(session, engines, [limits], day)
    logs = EngineLogs(connection)
    soon = due_soon(session)
    found: dict[int, EngineLife] = {}
    for row in rows:
        hours, starts = priors(row)
        logged = logs.at(row.id, until)
        begun_on = row.log_begun_on if row.log_begun_on is not None and row.log_begun_on <= day else None
        own = resets.get(row.id, ())

        def ran_after(after: Point, engine: int = row.id, engine_type: int = row.engine_type_id) -> RanByType:
            return {engine_type: logs.ran(engine, after, until)}

        lived = lived_since(Before(hours, starts), {row.engine_type_id: logged}, own, ran_after)
        of_type = [each for each in limits if each.engine_type in (None, row.engine_type_id)]
        found[row.id] = EngineLife(
            engine=row.id,
            name=row.name,
            type_name=row.type_name,
            before_hours=hours,
            before_starts=starts,
            logged=logged,
            since_new=lived.total(LifeSince.NEW),
            since_overhaul=lived.total(LifeSince.OVERHAUL),
            stands=_stands(lived, of_type, day, serving.get(row.id), windows[row.id], soon),
            log_begun_on=begun_on,
            meter=_meter(connection, row, until, begun_on),
            overhauled_on=_last_overhaul(own)[0],
            report=_last_overhaul(own)[1],
            windows=windows[row.id],
        )
    return found


def _serving(
    session: Session, engines: Collection[int], limits: Iterable[Sequence[Limit]], day: date
) -> dict[int, Serving]:
    """The type of each engine, and its mods where any of the limits asks for one."""
    asks = any(limit.mods_required or limit.mods_barred for each in limits for limit in each)
    rows = [row for some in chunks(engines) for row in session.connection().execute(_TYPES, {"ids": some})]
    return {
        engine: Serving(engine_type, mods_embodied(session, engine, day) if asks else frozenset())
        for engine, engine_type in rows
    }


def _stands(
    lived: Lived,
    limits: Sequence[Limit],
    day: date,
    serving: Serving | None,
    windows: Sequence[Window] | None,
    soon: DueSoon,
) -> LifeStanding:
    judged = judge(lived, limits, day, serving, soon)
    if windows is None:
        return LifeStanding(judged.lines, (), judged.governing, judged.verdict)
    forecasts = tuple(forecast_line(line, windows, day) for line in judged.lines)
    runs_out = {
        line.limit: forecast.earliest
        for line, forecast in zip(judged.lines, forecasts, strict=True)
        if forecast.earliest is not None
    }
    # With too short a log nothing is known of when the rest runs out, so only what is left can be compared.
    governing = first_to_run_out(judged.lines, runs_out) if windows else judged.governing
    return LifeStanding(judged.lines, forecasts, governing, judged.verdict)


def _last_overhaul(resets: Sequence[Reset]) -> tuple[date | None, str]:
    if not resets:
        return None, ""
    return resets[-1].overhauled_on, resets[-1].report


def _is_set_aside(limit: Limit) -> bool:
    return (limit.measure, limit.since) == (LifeMeasure.HOURS, LifeSince.NEW)


def _life_concessions(
    connection: Connection, in_engines: Mapping[int, int], day: date, until: Point
) -> dict[int, Limit]:
    """The limit that a concession in force puts instead, by piece; the last one where there are several."""
    rows = [
        row
        for some in chunks(in_engines.keys())
        for row in connection.execute(_CONCESSIONS, {"ids": some, "on": day})
        if in_engines[row.piece_id] == row.engine_id
    ]
    if not rows:
        return {}
    ran = RanSince(connection, {row.piece_id for row in rows})
    found: dict[int, Limit] = {}
    for row in rows:
        used = ran.of_piece(row.piece_id, start_of(row.from_on), until, row.engine_id)
        terms = ConcessionTerms(row.from_on, row.until_on, row.hours_allowed, row.withdrawn_on)
        if standing(terms, day, used).in_force:
            found[row.piece_id] = Limit(LifeMeasure.HOURS, row.life_limit_hours, concession=row.reference)
    return found


def _meter(connection: Connection, row: Any, until: Point, begun_on: date | None) -> int | None:
    if begun_on is None:
        return None
    read = meter_at(connection, row.id, until)
    return row.log_reading if read is None else read
