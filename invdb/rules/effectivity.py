"""Whether a kit line or an alternate holds for this engine, position, mod state and date."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import date

from invdb.terms import Refused, Scope

SERIAL_LENGTH_MAX = 64

SerialKey = tuple[tuple[int, int, str], ...]

_RUNS = re.compile(r"([0-9]+)|([^\W0-9_]+)")


def serial_key(serial: str) -> SerialKey:
    """A key that sorts serials naturally: letters by themselves, digits by their value.

    ``PL-0101`` < ``PL-0140`` < ``PL-0140A`` < ``PL-1000``; case, leading zeros, spaces and punctuation do not
    matter. A number sorts before letters, and a serial before the same one with something added.
    """
    key = []
    for digits, letters in _RUNS.findall(serial[:SERIAL_LENGTH_MAX]):
        value = digits.lstrip("0")
        key.append((0, len(value), value) if digits else (1, 0, letters.casefold()))
    return tuple(key)


def names_of(text: str | None) -> frozenset[str] | None:
    """The position names in a list with commas between them; None, for every position, where it has none."""
    names = frozenset(name.strip() for name in (text or "").split(",") if name.strip())
    return names or None


@dataclass(frozen=True)
class Effectivity:
    """Where something holds; each field left at its default sets no bound.

    ``positions`` are position names; ``serial_from`` and ``serial_to`` are both inclusive; every mod of
    ``mods_required`` must be embodied and none of ``mods_barred``; ``date_from`` is the first day it holds,
    ``date_until`` the first on which it holds no more. Mods are named or numbered as the engine's own are.
    """

    engine_type: str | None = None
    positions: frozenset[str] | None = None
    serial_from: str | None = None
    serial_to: str | None = None
    mods_required: frozenset[str | int] = field(default_factory=frozenset)
    mods_barred: frozenset[str | int] = field(default_factory=frozenset)
    date_from: date | None = None
    date_until: date | None = None

    def __post_init__(self) -> None:
        if self.positions is not None and not self.positions:
            raise Refused("It would hold for no position.", "Name at least one position or leave it at all.")
        for serial in (self.serial_from, self.serial_to):
            if serial is not None and (not serial_key(serial) or len(serial) > SERIAL_LENGTH_MAX):
                raise Refused(
                    f"{serial[:SERIAL_LENGTH_MAX]!r} cannot bound a range of engine serials.",
                    f"Give letters or digits, at most {SERIAL_LENGTH_MAX} characters.",
                )
        if (
            self.serial_from is not None
            and self.serial_to is not None
            and serial_key(self.serial_from) > serial_key(self.serial_to)
        ):
            raise Refused(
                f"The range of engine serials {self.serial_from} to {self.serial_to} is empty.",
                "Give the lower serial first.",
            )
        if self.date_from is not None and self.date_until is not None and self.date_until <= self.date_from:
            raise Refused(
                f"It would end on {self.date_until.isoformat()}, before it began.", "Give a later day."
            )
        if both := self.mods_required & self.mods_barred:
            raise Refused(f"Mod {_named(both)} is both required and barred.", "Keep one of the two.")


EVERYWHERE = Effectivity()


@dataclass(frozen=True)
class EngineState:
    """An engine as it stands on a day: its type, serial ('' if not known), mods embodied, and use."""

    engine_type: str
    serial: str
    mods: frozenset[str | int]
    on: date
    use: Scope


def applies(effectivity: Effectivity, engine: EngineState, position: str) -> str | None:
    """None if it holds for this engine and position, else why not, in one clause without a full stop."""
    return (
        _bar_by_engine_type(effectivity, engine)
        or _bar_by_position(effectivity, position)
        or _bar_by_serial(effectivity, engine)
        or _bar_by_mods(effectivity, engine)
        or _bar_by_date(effectivity, engine)
    )


def _bar_by_engine_type(effectivity: Effectivity, engine: EngineState) -> str | None:
    if effectivity.engine_type in (None, engine.engine_type):
        return None
    return f"only for engine type {effectivity.engine_type}, not {engine.engine_type}"


def _bar_by_position(effectivity: Effectivity, position: str) -> str | None:
    if effectivity.positions is None or position in effectivity.positions:
        return None
    return f"only for {_named(effectivity.positions)}, not {position}"


def _bar_by_serial(effectivity: Effectivity, engine: EngineState) -> str | None:
    lowest, highest = effectivity.serial_from, effectivity.serial_to
    if lowest is None and highest is None:
        return None
    key = serial_key(engine.serial)
    if not key:
        return f"only for engine serials {_range(lowest, highest)}, and this engine's serial is not known"
    below = lowest is not None and key < serial_key(lowest)
    # A range that ends at 140 takes in 140 itself but not 140A, which came after it.
    above = highest is not None and key > serial_key(highest)
    if below or above:
        return f"only for engine serials {_range(lowest, highest)}, not {engine.serial}"
    return None


def _bar_by_mods(effectivity: Effectivity, engine: EngineState) -> str | None:
    if missing := effectivity.mods_required - engine.mods:
        return f"only with mod {_named(missing)} embodied"
    if present := effectivity.mods_barred & engine.mods:
        return f"not with mod {_named(present)} embodied"
    return None


def _bar_by_date(effectivity: Effectivity, engine: EngineState) -> str | None:
    if effectivity.date_from is not None and engine.on < effectivity.date_from:
        return f"only from {effectivity.date_from.isoformat()}"
    if effectivity.date_until is not None and effectivity.date_until <= engine.on:
        return f"only until {effectivity.date_until.isoformat()}"
    return None


def effectivity_words(effectivity: Effectivity) -> str:
    """``Linnet, cylinders 4, 5, serials from PL-0140, with mod L22, from 2021-03-04``; '' for everywhere."""
    words = []
    if effectivity.engine_type is not None:
        words.append(effectivity.engine_type)
    if effectivity.positions is not None:
        words.append(f"only {_named(effectivity.positions)}")
    if effectivity.serial_from is not None or effectivity.serial_to is not None:
        words.append(f"serials {_range(effectivity.serial_from, effectivity.serial_to)}")
    if effectivity.mods_required:
        words.append(f"with mod {_named(effectivity.mods_required)}")
    if effectivity.mods_barred:
        words.append(f"without mod {_named(effectivity.mods_barred)}")
    if effectivity.date_from is not None:
        words.append(f"from {effectivity.date_from.isoformat()}")
    if effectivity.date_until is not None:
        words.append(f"until {effectivity.date_until.isoformat()}")
    return ", ".join(words)


def _named(names: frozenset[str] | frozenset[str | int]) -> str:
    """The names in natural order, as a person would list them."""
    return ", ".join(sorted((str(name) for name in names), key=lambda name: (serial_key(name), name)))


def _range(lowest: str | None, highest: str | None) -> str:
    if lowest is None:
        return f"up to {highest}"
    return f"from {lowest}" if highest is None else f"{lowest} to {highest}"
