"""The ledger lived through entry by entry, to see what pieces ran; and what the books say of it."""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.records.ledger import Entry, EntryFact, EntryLine
from invdb.records.life import RAN_COLUMNS, Running, Service
from invdb.records.stock import Piece
from invdb.rules.running import Ran, Span, ran_from
from invdb.terms import LineKind, RunningUse


class LivedThrough:
    """The ledger lived through entry by entry: where each piece was, and what it ran there, by engine."""

    def __init__(self, session: Session) -> None:
        undone = {each for each in session.scalars(select(Entry.reverses)) if each is not None}
        self.at: dict[int, int] = {}
        self.ran: dict[tuple[int, int], Counter[str]] = defaultdict(Counter)
        self.meters: dict[int, int | None] = {}
        self.places: dict[int, dict[str, Any]] = defaultdict(dict)
        entries = session.execute(select(Entry.number, Entry.happened_on).order_by(Entry.number)).all()
        counting = [each for each in entries if each.number not in undone]
        # A place is told of by the entry that made it, whenever a late one uses it.
        for each in counting:
            for record_id, values in self._facts(session, each.number, "place"):
                self.places[record_id].update(values)
        for each in sorted(counting, key=lambda entry: (entry.happened_on, entry.number)):
            for record_id, values in self._facts(session, each.number, "engine"):
                if "log_reading" in values:
                    self.meters[record_id] = values["log_reading"]
            for _, values in self._facts(session, each.number, "running"):
                self._run(values)
            for line in session.scalars(
                select(EntryLine).where(EntryLine.entry_number == each.number).order_by(EntryLine.ordinal)
            ):
                if line.kind is LineKind.MOVE and line.piece_id is not None:
                    assert self.at.get(line.piece_id, 1) == line.from_place_id
                    self.at[line.piece_id] = line.to_place_id

    @staticmethod
    def _facts(session: Session, number: int, record: str) -> list[tuple[int, dict[str, Any]]]:
        rows = session.execute(
            select(EntryFact.record_id, EntryFact.values)
            .where(EntryFact.entry_number == number, EntryFact.record == record)
            .order_by(EntryFact.ordinal)
        )
        return [(record_id, json.loads(values)) for record_id, values in rows]

    def _run(self, line: dict[str, Any]) -> None:
        engine = line["engine_id"]
        assert engine is not None
        meter, reading = self.meters.get(engine), line["reading"]
        over_the_meter = reading - meter if reading is not None and meter is not None else 0
        assert over_the_meter >= 0
        new_reading = line.get("new_reading")
        self.meters[engine] = (
            new_reading if new_reading is not None else reading if reading is not None else meter
        )
        use = "flight" if line["use"] == str(RunningUse.FLIGHT) else "ground"
        gained = Counter[str]()
        for what, low, high, more in (
            (use, line.get("hours_low"), line.get("hours_high"), over_the_meter),
            ("starts", line.get("line_starts_low", 0), line.get("line_starts_high", 0), 0),
        ):
            gained[f"{what}_low"] += (low or 0) + more
            gained[f"{what}_high"] += (high if high is not None else low or 0) + more
            gained[f"{what}_open"] += high is None
        for piece in self.at:
            if self.engine_of(piece) == engine:
                self.ran[piece, engine].update(gained)

    def engine_of(self, piece: int) -> int | None:
        """The engine that a piece is in, found by asking what it lies in, and what that lies in."""
        place: int | None = self.at[piece]
        while place is not None:
            values = self.places[place]
            if values.get("engine_id") is not None:
                return values["engine_id"]
            holder = values.get("piece_id")
            place = self.at[holder] if holder is not None else values.get("parent_id")
        return None


def kept(session: Session) -> dict[tuple[int, int], Ran]:
    """What the books say that each piece ran in each engine."""
    totals: dict[int, Ran] = {}
    for row in session.execute(
        select(Running).order_by(Running.ran_on, Running.set_by, Running.id)
    ).scalars():
        totals[row.engine_id] = ran_from(getattr(row, column) for column in RAN_COLUMNS)
    found: dict[tuple[int, int], Ran] = defaultdict(Ran)
    for service in session.scalars(select(Service)):
        ran = ran_from(getattr(service, column) for column in RAN_COLUMNS)
        if service.to_entry is None:
            ran += totals.get(service.engine_id, Ran())
        found[service.piece_id, service.engine_id] += ran
    return {key: ran for key, ran in found.items() if ran != Ran()}


def lived(session: Session) -> dict[tuple[int, int], Ran]:
    """What each piece ran in each engine, by the ledger lived through."""
    through = LivedThrough(session)
    for piece in session.scalars(select(Piece)):
        assert through.at[piece.id] == piece.place_id
    return {
        key: Ran(
            *(
                Span(*(ran[f"{what}_{end}"] for end in ("low", "high", "open")))
                for what in ("flight", "ground", "starts")
            )
        )
        for key, ran in through.ran.items()
        if any(ran.values())
    }
