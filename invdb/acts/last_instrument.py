"""With what each line of a part was measured last, so that it can be offered again."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.records.inspections import BenchTest, Inspection, Instrument, Measurement


def last_instruments(session: Session, part: int) -> dict[str, int]:
    """The instrument last used for each line of any piece of a part, by the line's name.

    Not one that has been withdrawn since.
    """
    found: dict[str, int] = {}
    for table in (Measurement, BenchTest):
        rows = session.execute(
            select(table.name, table.instrument_id)
            .join(Inspection, Inspection.id == table.inspection_id)
            .join(Instrument, Instrument.id == table.instrument_id)
            .where(Inspection.part_id == part, Instrument.withdrawn_on.is_(None))
            .order_by(Inspection.inspected_on, table.id)
        )
        found |= {row.name: row.instrument_id for row in rows}
    return found
