"""What pieces measured: the figures that count now, and those of each inspection with their verdicts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.records.chunks import chunks
from invdb.records.inspections import Measurement
from invdb.records.work import Reidentification


@dataclass(frozen=True)
class KeptReading:
    """One figure as it was read, with the day and the inspection it belongs to."""

    inspection: int
    point: str
    direction: str
    figure: str
    unit: str
    measured_on: date


def latest_measurements(
    session: Session, pieces: Collection[int], on: date
) -> dict[int, dict[str, tuple[KeptReading, ...]]]:
    """What pieces measure by a day, by piece and name of the dimension or mass.

    Of each name all figures of the last inspection that measured it. Once a piece was made another part, only
    what was measured since counts, since nobody knows what the work left as it was.
    """
    found: dict[int, dict[str, tuple[KeptReading, ...]]] = defaultdict(dict)
    for some in chunks(set(pieces)):
        reworked: dict[int, tuple[date, int]] = {}
        rows = session.execute(
            select(Reidentification.piece_id, Reidentification.reidentified_on, Reidentification.set_by)
            .where(Reidentification.piece_id.in_(some), Reidentification.reidentified_on <= on)
            .order_by(Reidentification.reidentified_on, Reidentification.set_by)
        )
        for piece, day, entry in rows:
            reworked[piece] = (day, entry)
        measured = session.execute(
            select(
                Measurement.piece_id,
                Measurement.name,
                Measurement.inspection_id,
                Measurement.point,
                Measurement.direction,
                Measurement.figure,
                Measurement.unit,
                Measurement.measured_on,
                Measurement.set_by,
            )
            .where(Measurement.piece_id.in_(some), Measurement.measured_on <= on)
            .order_by(Measurement.measured_on, Measurement.set_by, Measurement.id)
        )
        for row in measured:
            piece = row.piece_id or 0
            if piece in reworked and (row.measured_on, row.set_by) < reworked[piece]:
                continue
            reading = KeptReading(
                row.inspection_id, row.point, row.direction, row.figure, row.unit, row.measured_on
            )
            standing = found[piece].get(row.name, ())
            same = standing and standing[0].inspection == row.inspection_id
            found[piece][row.name] = (*standing, reading) if same else (reading,)
    return dict(found)
