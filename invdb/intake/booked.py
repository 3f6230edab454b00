"""The acts of a workshop's tables in the order in which they were booked."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date
from enum import IntEnum, auto
from functools import partial
from typing import Protocol, TypeVar

from invdb.terms import Refused


class Turn(IntEnum):
    """What is booked before what on one day, where the tables don't say."""

    DOCUMENT = auto()
    RULE = auto()
    SIZE = auto()
    SPECIFIED = auto()
    PLANNED = auto()
    ENQUIRED = auto()
    DECLINED = auto()
    QUOTED = auto()
    ORDERED = auto()
    ENQUIRY_CLOSED = auto()
    GOODS_IN = auto()
    LOOKED_AT = auto()
    CALIBRATED = auto()
    INSPECTED = auto()
    LOG_BEGUN = auto()
    BUILD = auto()
    RUN = auto()
    METER_CHANGED = auto()
    DAY_BOOK = auto()
    SENT_FOR_WORK = auto()
    BACK_FROM_WORK = auto()
    REIDENTIFIED = auto()
    SCRAPPED = auto()
    GIVEN = auto()
    ORDER_CLOSED = auto()
    LENT = auto()
    LOAN_ENDED = auto()
    MATCHED = auto()
    EVENT = auto()
    STRIPPED = auto()
    ROBBED = auto()
    MOD = auto()
    FITTED_INSIDE = auto()
    FITTED = auto()
    SIGNED = auto()
    PULLED = auto()
    CANCELLED = auto()


@dataclass(order=True)
class Booking:
    """One act to do: on which day it was booked, its turn on that day, its line, and the act itself."""

    booked_on: date
    turn: Turn
    line: int
    act: Callable[[], None] = field(compare=False)


class Line(Protocol):
    """What the lines of all tables have that are booked on a day."""

    @property
    def line(self) -> int: ...

    @property
    def booked_on(self) -> date: ...


B = TypeVar("B", bound=Line)


def singly(rows: Iterable[B]) -> list[tuple[B, ...]]:
    """Each row as an act of its own."""
    return [(row,) for row in rows]


def booked(
    file: str, turn: Turn, acts: Iterable[tuple[B, ...]], do: Callable[[tuple[B, ...]], None]
) -> list[Booking]:
    """The acts of a table, each refused by the line that it begins in."""
    return [
        Booking(
            rows[0].booked_on, turn, rows[0].line, partial(_done, f"{file}, line {rows[0].line}", do, rows)
        )
        for rows in acts
    ]


class Numbered(Protocol):
    """What lines have that are booked on several days, each of them an act."""

    @property
    def line(self) -> int: ...


N = TypeVar("N", bound=Numbered)


def booked_on_day(
    file: str, turn: Turn, acts: Iterable[tuple[date, N]], do: Callable[[N], None]
) -> list[Booking]:
    """An act of a table's line on a day that the line names beside its own, refused by that line."""
    return [
        Booking(day, turn, row.line, partial(_done_alone, f"{file}, line {row.line}", do, row))
        for day, row in acts
    ]


def _done_alone(at: str, do: Callable[[N], None], row: N) -> None:
    _done(at, lambda rows: do(rows[0]), (row,))


def _done(at: str, do: Callable[[tuple[N, ...]], None], rows: tuple[N, ...]) -> None:
    try:
        do(rows)
    except Refused as refused:
        raise Refused(f"{at}: {refused.reason}", refused.remedy) from refused
