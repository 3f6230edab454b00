"""What falls due over 200,000 pieces with 5,000,000 lines in the ledger, and one engine's status there.

``python -m tests.bench.bench_due [STORE]`` builds the store in a folder of its own unless it is named one,
which takes some minutes and a good gigabyte. The reference finds the same lines by the tightest SQL that we
could write by hand: it knows this store's kinds of limit, and neither ranges, resets, concessions and mods
nor forecasts. The status of an engine is the whole of its status sheet, as plain values.
"""

from __future__ import annotations

import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import UTC, datetime
from datetime import time as time_of_day
from pathlib import Path
from typing import TypeVar

from sqlalchemy import create_engine
from sqlalchemy.orm import Session

from invdb.acts.due import due_list
from invdb.acts.status_sheet import status_sheet
from invdb.rules.due import DueKind, DueSoon
from tests.bench.large_fleet import TODAY, FleetSize, build_fleet
from tests.bench.measure import Measure

ROUNDS = 7
RATIO_MAX_DUE = 3.0
SECONDS_MAX_STATUS = 0.100
SOON = DueSoon()

T = TypeVar("T")

# One row for each limit that is used up or due soon: of the piece, by which limit, and what is left.
BY_HAND = f"""
WITH total AS MATERIALIZED (
    SELECT e.id, e.name, e.engine_type_id, r.flight_high AS flight, r.ground_high AS ground,
        r.starts_high AS starts
    FROM engine e JOIN running r ON r.id = (
        SELECT id FROM running WHERE engine_id = e.id ORDER BY ran_on DESC, set_by DESC, id DESC LIMIT 1)
),
lived AS MATERIALIZED (
    SELECT o.piece_id, o.engine_id, p.tag, p.part_id, p.place_id, p.prior_hours_high AS hours,
        p.prior_starts_high AS starts_before, t.engine_type_id,
        t.flight + SUM(s.flight_high) AS flight, t.ground + SUM(s.ground_high) AS ground,
        t.starts + SUM(s.starts_high) AS starts
    FROM service o
    JOIN piece p ON p.id = o.piece_id
    JOIN part a ON a.id = p.part_id
    JOIN total t ON t.id = o.engine_id
    JOIN service s ON s.piece_id = o.piece_id
    WHERE o.to_entry IS NULL
        AND (a.life_limit_hours IS NOT NULL OR EXISTS (SELECT 1 FROM life_limit l WHERE l.part_id = a.id))
    GROUP BY o.piece_id
),
due AS (
    SELECT l.piece_id, l.tag, l.part_id, l.engine_id, l.place_id, NULL AS limit_id,
        a.life_limit_hours - l.hours - l.flight - l.ground AS left
    FROM lived l JOIN part a ON a.id = l.part_id
    WHERE l.hours + l.flight + l.ground >= a.life_limit_hours - {SOON.hours}
    UNION ALL
    SELECT l.piece_id, l.tag, l.part_id, l.engine_id, l.place_id, m.id,
        m.amount - l.starts_before - l.starts
    FROM lived l JOIN life_limit m ON m.part_id = l.part_id
    WHERE m.measure = 'starts' AND l.starts_before + l.starts >= m.amount - {SOON.starts}
    UNION ALL
    SELECT l.piece_id, l.tag, l.part_id, l.engine_id, l.place_id, m.id, m.amount - l.hours - l.flight
    FROM lived l JOIN life_limit m ON m.part_id = l.part_id
    WHERE m.measure = 'hours' AND l.hours + l.flight >= m.amount - {SOON.hours}
        AND (m.engine_type_id = l.engine_type_id OR l.hours > 0 OR EXISTS (
            SELECT 1 FROM service s JOIN engine e ON e.id = s.engine_id
            WHERE s.piece_id = l.piece_id AND e.engine_type_id = m.engine_type_id))
)
SELECT d.tag, d.limit_id, d.left, a.house_number, a.name, t.name, o.group_name, o.name, s.name
FROM due d
JOIN part a ON a.id = d.part_id
JOIN total t ON t.id = d.engine_id
JOIN place c ON c.id = d.place_id
JOIN position o ON o.id = c.position_id
JOIN station s ON s.id = c.station_id
ORDER BY d.left > 0, d.left
"""


def timed(act: Callable[[], T]) -> tuple[float, T]:
    """The median of some rounds in seconds, and what the last one gave."""
    rounds = []
    for _ in range(ROUNDS):
        began = time.perf_counter()
        given = act()
        rounds.append(time.perf_counter() - began)
    return statistics.median(rounds), given


def measure(path: Path) -> Iterator[Measure]:
    """The due list against the hand-written one, which must find the same lines; then one engine's status."""
    engine = create_engine(f"sqlite:///{path}")
    with Session(engine) as session, closing(sqlite3.connect(path)) as connection:
        session.info["clock"] = lambda: datetime.combine(TODAY, time_of_day(9), tzinfo=UTC)
        # Both read the pages that they need once before they are timed.
        due_list(session)
        connection.execute(BY_HAND).fetchall()
        ours, lines = timed(lambda: due_list(session))
        reference, rows = timed(lambda: connection.execute(BY_HAND).fetchall())
        said = {
            (line.tag, line.record, line.hours_left if line.hours_left is not None else line.starts_left)
            for line in lines
            if line.kind is DueKind.PIECE_LIFE
        }
        assert said == {row[:3] for row in rows}, "both find the same"
        yield Measure(f"due list of {len(rows)} lines", ours, reference, ratio_max=RATIO_MAX_DUE)
        status, sheet = timed(lambda: status_sheet(session, 7))
        yield Measure("status of one engine", status, seconds_max=SECONDS_MAX_STATUS)
        assert sheet
    engine.dispose()


def main() -> int:
    """Measure in the store named, or in one of its own; 0 if all is within what is promised."""
    within = True
    with tempfile.TemporaryDirectory(prefix="invdb-bench-") as folder:
        path = Path(*sys.argv[1:2] or (folder, "fleet.invdb"))
        if not path.exists():
            build_fleet(path, FleetSize())
        for measured in measure(path):
            print(measured, flush=True)
            within &= measured.within
    return 0 if within else 1


if __name__ == "__main__":
    raise SystemExit(main())
