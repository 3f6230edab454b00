"""What a mechanic carries to the stores: the things to fetch, in walking order, and what is short.

Every value is plain and already in words where a person reads it; nothing here is looked up.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from invdb.rules.effectivity import serial_key
from invdb.rules.fits import FitVerdict
from invdb.terms import Condition, Measure, Scope, Tracking


@dataclass(frozen=True)
class HazardNote:
    """What can hurt a person who handles the part, and the caution that goes with it ('' for none)."""

    word: str
    caution: str = ""


@dataclass(frozen=True)
class PickRow:
    """One thing to fetch from one bin for one pull.

    ``quantity`` is in the measure's smallest unit (pieces, µm, mg). ``alternate_for`` is the house number the
    kit asks for if this part only stands in for it, else ''; ``authority`` says who allows that. ``scope`` is
    None for a thing that was accepted for nothing.
    """

    pull_number: str
    bin_name: str
    walking_order: int
    station: str
    part_number: str
    part_name: str
    tag: str
    tracking: Tracking
    quantity: int
    measure: Measure
    condition: Condition
    scope: Scope | None
    serial: str = ""
    papers: str = ""
    hours: str = ""
    why: str = ""
    alternate_for: str = ""
    authority: str = ""
    hazards: tuple[HazardNote, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class NearMiss:
    """A thing that almost served (its tag, or what it is), and what bars it, in words."""

    what: str
    bar: str


@dataclass(frozen=True)
class ShortRow:
    """What a pull still lacks at one station; ``quantity_missing`` is in the measure's smallest unit."""

    pull_number: str
    station: str
    part_number: str
    part_name: str
    quantity_missing: int
    measure: Measure
    near_misses: tuple[NearMiss, ...] = ()


@dataclass(frozen=True)
class FitNote:
    """How two things of a kit fit: both by station and tag, the figure and its verdict in words, and what is
    done about it on assembly ('' for nothing).

    ``sign`` is the verdict alone; not ``measured``: from the limits of the parts.
    """

    pull_number: str
    name: str
    between: str
    words: str
    sign: FitVerdict
    to_do: str
    measured: bool


@dataclass(frozen=True)
class PullHead:
    """Which kit a pull gathers, for whom; ``use`` is what the engine is used for.

    ``number`` tells the pulls of one list apart. A kit that is only proposed has ``reserved`` False, and for
    a number whatever its rows name it by.
    """

    number: str
    engine: str
    engine_type: str
    position: str
    use: Scope
    asked_by: str
    asked_on: date
    reserved: bool = True

    @property
    def proposed(self) -> bool:
        """Whether nothing is reserved for it; a kit without a number is never more than proposed."""
        return not self.reserved or not self.number


@dataclass(frozen=True)
class PickList:
    """One walk through the stores for one pull or several; rows and short rows name their pull's number.

    ``printed_at`` is in the shop's own zone.
    Raises ValueError if two pulls have one number, or a row belongs to none of them.
    """

    workshop: str
    printed_at: datetime
    pulls: tuple[PullHead, ...]
    rows: tuple[PickRow, ...]
    short_rows: tuple[ShortRow, ...] = ()
    fits: tuple[FitNote, ...] = ()

    def __post_init__(self) -> None:
        numbers = [pull.number for pull in self.pulls]
        if len(set(numbers)) < len(numbers):
            raise ValueError(f"the pulls of a pick list need numbers of their own: {numbers}")
        named = {row.pull_number for row in self.rows} | {short.pull_number for short in self.short_rows}
        named |= {fit.pull_number for fit in self.fits}
        strays = named - set(numbers)
        if strays:
            raise ValueError(f"rows of pulls that are not on the list: {sorted(strays)}")

    @property
    def fits_checked(self) -> bool:
        """Whether there are fits to check and everything that makes them was measured."""
        return bool(self.fits) and all(fit.measured for fit in self.fits)


def in_walking_order(rows: Iterable[PickRow]) -> tuple[PickRow, ...]:
    """The rows as one walks: by the bin's walking order, then by bin and tag, each in natural order."""
    return tuple(
        sorted(
            rows,
            key=lambda row: (
                row.walking_order,
                serial_key(row.bin_name),
                row.bin_name,
                serial_key(row.tag),
                row.tag,
                serial_key(row.pull_number),
                row.station,
            ),
        )
    )
