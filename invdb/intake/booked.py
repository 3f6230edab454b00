"""The acts of a workshop's tables in the order in which they were booked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from enum import IntEnum, auto


class Turn(IntEnum):
    """What is booked before what on one day, where the tables don't say."""

    DOCUMENT = auto()
    RULE = auto()
    GOODS_IN = auto()
    LOOKED_AT = auto()
    LOG_BEGUN = auto()
    BUILD = auto()
    RUN = auto()
    METER_CHANGED = auto()
    DAY_BOOK = auto()
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
