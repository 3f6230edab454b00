"""What became of things that came out of engines: rejected or not as they were looked at, or failed running.

A thing came out when it was stripped from an engine of ours, or was salvaged from another. Strips of one
engine no more than 30 days apart are one opening. What was found unserviceable or unsalvageable as it was
stripped, when its engine was opened at one position alone, failed in running. Everything else counts as
looked at by the first decision on it after it came out: as it was found, by an inspection, or as accepted.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import BigInteger, cast, func, select
from sqlalchemy.orm import Session

from invdb.acts.believed import NOW, Said, facts_of
from invdb.records.builds import Stripping
from invdb.records.engines import Engine
from invdb.records.inspections import Inspection
from invdb.records.ledger import EntryLine
from invdb.records.life import Running, Service
from invdb.records.stock import Batch, Piece, Place
from invdb.rules.reject_rate import LOOKED_MAX, Inspected
from invdb.terms import Condition, Origin, PlaceKind

OPENING_DAYS = timedelta(days=30)
_REJECTED = frozenset({Condition.UNSERVICEABLE, Condition.UNSALVAGEABLE})
_DECIDED = _REJECTED | {Condition.SERVICEABLE}


@dataclass(frozen=True)
class StripRecord:
    """What our own ledger says of each part, by its id: engine by engine those looked at, and failures."""

    inspected: dict[int, tuple[Inspected, ...]]
    failures: dict[int, int]


@dataclass(frozen=True)
class _CameOut:
    """That a piece, or ``count`` of a batch, came out: of which engine, when, by which entry.

    ``found`` is how, where that is known from the stripping itself. An engine that is not ours is its name.
    """

    record: str
    thing: int
    part: int
    engine: int | str
    position: int | None
    on: date
    entry: int
    count: int = 1
    found: Condition | None = None


def strip_record(session: Session) -> StripRecord:
    """All that came out of engines, by part."""
    stripped = [*_pieces(session), *_batches(session)]
    salvaged = [*_salvaged(session)]
    first = _Decisions(session, [*stripped, *salvaged])
    looked: dict[tuple[int, int], list[int]] = defaultdict(lambda: [0, 0])
    failures: dict[int, int] = defaultdict(int)

    def look(each: _CameOut, opening: int) -> None:
        condition = first.of(each)
        if condition is not None:
            counts = looked[each.part, opening]
            counts[0] += each.count
            counts[1] += each.count if condition in _REJECTED else 0

    openings = _openings(stripped)
    for opening, together in enumerate(openings):
        alone = len({each.position for each in together}) == 1
        for each in together:
            if alone and first.as_found(each) in _REJECTED:
                failures[each.part] += each.count
            else:
                look(each, opening)
    lots: dict[tuple[int | str, date], int] = {}
    for each in salvaged:
        look(each, lots.setdefault((each.engine, each.on), len(openings) + len(lots)))
    inspected: dict[int, tuple[Inspected, ...]] = defaultdict(tuple)
    for (part, _), (count, rejected) in looked.items():
        inspected[part] += tuple(_lots(count, rejected))
    return StripRecord(dict(inspected), dict(failures))


def hours_logged(session: Session) -> dict[int, float]:
    """What each engine ran since its log began, in hours: at least so many."""
    ran = func.max(Running.flight_low + Running.ground_low)
    rows = session.execute(select(Running.engine_id, ran).group_by(Running.engine_id))
    return {engine: hundredths / 100 for engine, hundredths in rows}


def hours_of_pieces(session: Session, logged: Mapping[int, float]) -> dict[int, float]:
    """The hours that the pieces of each part ran in our engines, of which each logged so many: at least."""
    ran = (
        select(
            Piece.part_id,
            Service.engine_id,
            Service.to_entry.is_(None).label("lasts"),
            func.count(),
            cast(func.sum(Service.flight_low + Service.ground_low), BigInteger),
        )
        .join(Piece, Piece.id == Service.piece_id)
        .group_by(Piece.part_id, Service.engine_id, Service.to_entry.is_(None))
    )
    hours: dict[int, float] = defaultdict(float)
    for part, engine, lasts, count, own in session.execute(ran):
        # While a piece is in an engine its stretch is kept as that engine's total below zero.
        hours[part] += own / 100 + (count * logged.get(engine, 0.0) if lasts else 0.0)
    return dict(hours)


def _lots(count: int, rejected: int) -> Iterator[Inspected]:
    """So many in one opening, in lots of a size that the rule takes."""
    while count > 0:
        some = min(count, LOOKED_MAX)
        bad = min(rejected, some)
        yield Inspected(some, bad)
        count, rejected = count - some, rejected - bad


def _openings(stripped: Iterable[_CameOut]) -> list[list[_CameOut]]:
    """What came out of one engine, each no more than so many days after the one before, together."""
    found: list[list[_CameOut]] = []
    last: dict[int | str, tuple[date, list[_CameOut]]] = {}
    for each in sorted(stripped, key=lambda each: (each.on, each.entry)):
        before = last.get(each.engine)
        if before is None or each.on - before[0] > OPENING_DAYS:
            before = (each.on, [])
            found.append(before[1])
        before[1].append(each)
        last[each.engine] = (each.on, before[1])
    return found


def _pieces(session: Session) -> Iterator[_CameOut]:
    for piece, part, engine, position, on, entry in session.execute(
        select(
            Piece.id,
            Piece.part_id,
            Stripping.engine_id,
            Stripping.position_id,
            Stripping.stripped_on,
            Stripping.set_by,
        ).join(Piece, Piece.id == Stripping.piece_id)
    ):
        if engine is not None:
            yield _CameOut("piece", piece, part, engine, position, on, entry)


def _batches(session: Session) -> Iterator[_CameOut]:
    """What came out of a batch is one of its own, unless it was scrapped as it came out."""
    for row in session.execute(
        select(
            Batch.id,
            Batch.part_id,
            Stripping.engine_id,
            Stripping.position_id,
            Stripping.stripped_on,
            Stripping.set_by,
            EntryLine.quantity,
            (EntryLine.from_place_id == Stripping.from_place_id).label("as_it_was"),
            Place.kind,
        )
        .join(Batch, Batch.id == Stripping.batch_id)
        .join(
            EntryLine,
            (EntryLine.entry_number == Stripping.set_by) & (EntryLine.batch_id == Stripping.batch_id),
        )
        .join(Place, Place.id == EntryLine.to_place_id)
    ):
        if row.engine_id is not None:
            yield _CameOut(
                "batch",
                row.id,
                row.part_id,
                row.engine_id,
                row.position_id,
                row.stripped_on,
                row.set_by,
                row.quantity,
                Condition.UNSALVAGEABLE if row.kind is PlaceKind.SCRAP and row.as_it_was else None,
            )


def _salvaged(session: Session) -> Iterator[_CameOut]:
    """Pieces that came out of an engine elsewhere; the lot of one day is one opening."""
    for piece, part, engine, name, donor, on in session.execute(
        select(
            Piece.id,
            Piece.part_id,
            Piece.donor_engine_id,
            Engine.name,
            Piece.donor,
            Piece.received_on,
        )
        .outerjoin(Engine, Engine.id == Piece.donor_engine_id)
        .where(Piece.origin == Origin.SALVAGED)
        .order_by(Piece.id)
    ):
        yield _CameOut("piece", piece, part, name if engine is not None else donor, None, on, 0)


class _Decisions:
    """What was decided on things that came out, read at once for all of them."""

    def __init__(self, session: Session, came_out: Iterable[_CameOut]) -> None:
        ids: dict[str, set[int]] = defaultdict(set)
        for each in came_out:
            ids[each.record].add(each.thing)
        self._said: dict[tuple[str, int], list[Said]] = {}
        for record, some in ids.items():
            for thing, said in facts_of(session, record, some, NOW).items():
                self._said[record, thing] = [each for each in said if "condition" in each[2]]
        self._inspected: dict[int, list[tuple[date, int, Condition]]] = defaultdict(list)
        for piece, on, entry, condition in session.execute(
            select(Inspection.piece_id, Inspection.inspected_on, Inspection.set_by, Inspection.decided)
            .where(Inspection.piece_id.is_not(None))
            .order_by(Inspection.inspected_on, Inspection.set_by)
        ):
            if piece in ids["piece"]:
                self._inspected[piece].append((on, entry, condition))

    def as_found(self, each: _CameOut) -> Condition | None:
        """The condition in which a thing was found as it came out."""
        if each.found is not None:
            return each.found
        return next((condition for _, entry, condition in self._after(each) if entry == each.entry), None)

    def of(self, each: _CameOut) -> Condition | None:
        """The first decision on a thing from when it came out; None while there is none."""
        if each.found is not None:
            return each.found
        return next((condition for _, _, condition in self._after(each) if condition in _DECIDED), None)

    def _after(self, each: _CameOut) -> list[tuple[date, int, Condition]]:
        said = self._said.get((each.record, each.thing), ())
        decided = [(on, entry, Condition(str(values["condition"]))) for on, entry, values in said]
        if each.record == "piece":
            decided += self._inspected.get(each.thing, ())
        return sorted(one for one in decided if one[:2] >= (each.on, each.entry))
