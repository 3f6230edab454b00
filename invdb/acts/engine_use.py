"""What engines ran: their totals at points of the ledger, and over the windows of a forecast."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta
from typing import Any

from sqlalchemy import (
    BindParameter,
    Connection,
    ScalarSelect,
    Select,
    bindparam,
    func,
    or_,
    select,
    tuple_,
)
from sqlalchemy.orm import InstrumentedAttribute, aliased

from invdb.records.chunks import chunks
from invdb.records.engines import Engine
from invdb.records.life import RAN_COLUMNS, Running
from invdb.rules.forecast import WINDOW_DAYS, Window, windows_covered
from invdb.rules.points import Point
from invdb.rules.running import RAN_NOTHING, Ran, Span, ran_from

_NOT_LOGGED = Ran(flight=Span(open=1), starts=Span(open=1))
_RAN = tuple(getattr(Running, column) for column in RAN_COLUMNS)
_LAST_FIRST = (Running.ran_on.desc(), Running.set_by.desc(), Running.id.desc())
_UP_TO = tuple_(Running.ran_on, Running.set_by) <= tuple_(
    bindparam("on", type_=Running.ran_on.type), bindparam("number", type_=Running.set_by.type)
)
# Made once: putting a statement together costs more than executing it.
_TOTAL_AT = (
    select(*_RAN).where(Running.engine_id == bindparam("engine"), _UP_TO).order_by(*_LAST_FIRST).limit(1)
)
_METER_AT = (
    select(func.coalesce(Running.new_reading, Running.reading))
    .where(
        Running.engine_id == bindparam("engine"),
        _UP_TO,
        or_(Running.new_reading.is_not(None), Running.reading.is_not(None)),
    )
    .order_by(*_LAST_FIRST)
    .limit(1)
)
_LOGS_BEGUN = select(Engine.id, Engine.log_begun_on)
_TOTALS = select(Running.id, *_RAN).where(Running.id.in_(bindparam("ids", expanding=True)))


class EngineLogs:
    """The totals of engines at any point; each is read when it is first asked for."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._totals: dict[tuple[int, Point], Ran] = {}
        self._begun_on: dict[int, date | None] | None = None

    def at(self, engine: int, point: Point) -> Ran:
        """What an engine had run since its log began by a point, with what that very entry logged."""
        total = self._totals.get((engine, point))
        if total is None:
            asked = {"engine": engine, "on": point[0], "number": point[1]}
            row = self._connection.execute(_TOTAL_AT, asked).one_or_none()
            total = self._totals[engine, point] = RAN_NOTHING if row is None else ran_from(row)
        return total

    def ran(self, engine: int, after: Point, until: Point) -> Ran:
        """What an engine ran after one point and up to another.

        With no upper end where its log had not begun by the first.
        """
        if self._begun_on is None:
            self._begun_on = {each: begun_on for each, begun_on in self._connection.execute(_LOGS_BEGUN)}
        begun_on = self._begun_on.get(engine)
        known = RAN_NOTHING if begun_on is not None and begun_on <= after[0] else _NOT_LOGGED
        return self.at(engine, until) - self.at(engine, after) + known


def meter_at(connection: Connection, engine: int, point: Point) -> int | None:
    """What an engine's meter read last by a point, by its log; None if its log has no reading by then."""
    asked = {"engine": engine, "on": point[0], "number": point[1]}
    return connection.scalar(_METER_AT, asked)


def last_line(engine: InstrumentedAttribute[int], on: BindParameter[date] | None = None) -> ScalarSelect[int]:
    """The id of the last line of an engine's log, up to the end of a day if one is given."""
    line = aliased(Running)
    chosen = select(line.id).where(line.engine_id == engine)
    if on is not None:
        chosen = chosen.where(line.ran_on <= on)
    ordered = chosen.order_by(line.ran_on.desc(), line.set_by.desc(), line.id.desc())
    return ordered.limit(1).correlate_except(line).scalar_subquery()


def _last_lines() -> Select[*tuple[Any, ...]]:
    days: list[BindParameter[date]] = [bindparam(f"on_{each}") for each in (0, *WINDOW_DAYS)]
    return select(Engine.id, Engine.log_begun_on, *(last_line(Engine.id, day) for day in days)).where(
        Engine.id.in_(bindparam("ids", expanding=True))
    )


_LAST_LINES = _last_lines()


def recent_use(connection: Connection, engines: Collection[int], on: date) -> dict[int, tuple[Window, ...]]:
    """What each engine ran over the windows of a forecast that its log covers, up to the end of a day."""
    days = {f"on_{days}": on - timedelta(days=days) for days in (0, *WINDOW_DAYS)}
    rows = [row for some in chunks(engines) for row in connection.execute(_LAST_LINES, {"ids": some, **days})]
    lines = {line for row in rows for line in row[2:] if line is not None}
    totals = {
        line: ran_from(figures)
        for some in chunks(lines)
        for line, *figures in connection.execute(_TOTALS, {"ids": some})
    }
    found: dict[int, tuple[Window, ...]] = {}
    for engine, begun_on, now, *before in rows:
        total = totals.get(now, RAN_NOTHING)
        covered = windows_covered(begun_on, on)
        found[engine] = tuple(
            Window(each, total - totals.get(line, RAN_NOTHING))
            for each, line in zip(WINDOW_DAYS, before, strict=True)
            if each in covered
        )
    return found
