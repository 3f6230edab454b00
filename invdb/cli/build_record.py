"""A build record as a CSV file: what is at each station of an engine, a line for each thing."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from invdb.acts import numbers, typed
from invdb.acts.offers import parts_by_ids
from invdb.acts.take_over import StationFill
from invdb.intake.table import read_table
from invdb.terms import PRIOR_LIFE_UNKNOWN, PriorLife

HOURS_PARTS, STARTS_PARTS = 100, 1
COLUMNS = ("position", "station", "part", "serial", "quantity", "hours", "starts", "tag", "inside")


def read_build_record(session: Any, engine: int, file: Path) -> tuple[StationFill, ...]:
    """The lines of a build record, what they name looked up; ``COLUMNS`` are its headings.

    An empty quantity is one, empty hours and starts are not known, and an empty tag is issued. ``inside`` is
    the tag of a piece in a line above. Refused with the file, line, column and value of what can't be read.
    """
    return tuple(_fill(session, engine, row) for row in read_table(file.parent, file.name, COLUMNS))


def _fill(session: Any, engine: int, row: Any) -> StationFill:
    position = numbers.position_named(session, engine, row.needed("position"))
    part = numbers.part_by_number(session, row.needed("part"))
    measure = parts_by_ids(session, [part])[part].measure
    return StationFill(
        position,
        typed.station_named(session, engine, position, row.needed("station")),
        part,
        row.text("serial"),
        row.quantity("quantity", measure) if row.text("quantity") else 1,
        _prior(row, "hours", HOURS_PARTS),
        _prior(row, "starts", STARTS_PARTS),
        tag=row.maybe("tag"),
        inside=row.maybe("inside"),
    )


def _prior(row: Any, column: str, parts: int) -> PriorLife:
    return row.prior_life(column, parts) if row.text(column) else PRIOR_LIFE_UNKNOWN
