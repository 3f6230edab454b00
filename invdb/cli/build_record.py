"""A build record as a CSV file: what is at each station of an engine, a line for each thing."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from invdb.acts import numbers, typed
from invdb.acts.offers import parts_by_ids
from invdb.acts.take_over import StationFill
from invdb.intake.table import Row, read_table
from invdb.terms import PRIOR_LIFE_UNKNOWN, Measure, PriorLife, Refused

HOURS_PARTS, STARTS_PARTS = 100, 1
COLUMNS = ("position", "station", "part", "serial", "quantity", "hours", "starts", "tag", "inside")
# More than any engine has pieces.
LINES_MAX = 5_000

T = TypeVar("T")


def read_build_record(session: Any, engine: int, file: Path) -> tuple[StationFill, ...]:
    """The lines of a build record, what they name looked up; ``COLUMNS`` are its headings.

    An empty quantity is one, empty hours and starts are not known, and an empty tag is issued. ``inside`` is
    the tag of a piece in a line above. Refused with the file, line, column and value of what can't be read,
    and for more than ``LINES_MAX`` lines.
    """
    # A pipe would be waited for, and a device read for ever.
    if not file.is_file():
        raise Refused(f"There is no CSV file {file}.", "Check its name.")
    names = _Names(session, engine)
    fills: list[StationFill] = []
    for row in read_table(file.parent, file.name, COLUMNS):
        if len(fills) == LINES_MAX:
            raise Refused(
                f"{file.name} has more than {LINES_MAX:,} lines, and no engine so many pieces.",
                "Check that it is the build record of one engine.",
            )
        fills.append(names.fill(row))
    return tuple(fills)


class _Names:
    """Looks up what the lines name; most of them name what others did."""

    def __init__(self, session: Any, engine: int) -> None:
        self._position = cache(lambda name: numbers.position_named(session, engine, name))
        self._station = cache(lambda position, name: typed.station_named(session, engine, position, name))

        def part(number: str) -> tuple[int, Measure]:
            found = numbers.part_by_number(session, number)
            return found, parts_by_ids(session, [found])[found].measure

        self._part = cache(part)

    def fill(self, row: Row) -> StationFill:
        """What a line says of its station."""
        position = _looked_up(row, "position", self._position)
        station = _looked_up(row, "station", lambda name: self._station(position, name))
        part, measure = _looked_up(row, "part", self._part)
        return StationFill(
            position,
            station,
            part,
            row.text("serial"),
            row.quantity("quantity", measure) if row.text("quantity") else 1,
            _prior(row, "hours", HOURS_PARTS),
            _prior(row, "starts", STARTS_PARTS),
            tag=row.maybe("tag"),
            inside=row.maybe("inside"),
        )


def _looked_up(row: Row, column: str, find: Callable[[str], T]) -> T:
    name = row.needed(column)
    try:
        return find(name)
    except Refused as error:
        said = f"{row.file}, line {row.line}, column {column}: {error.reason}"
        raise Refused(said, error.remedy) from error


def _prior(row: Row, column: str, parts: int) -> PriorLife:
    return row.prior_life(column, parts) if row.text(column) else PRIOR_LIFE_UNKNOWN
