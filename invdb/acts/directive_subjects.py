"""What is inside engines of what directives are for: pieces, batches, and stations nobody has looked into."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Row, func, or_, select
from sqlalchemy.orm import Session, aliased

from invdb.acts.batch_fates import descendants
from invdb.acts.batch_lines import gains_at
from invdb.acts.event_doubts import covers
from invdb.acts.seated_at import seats_of
from invdb.records.builds import Presumption
from invdb.records.catalogue import Part
from invdb.records.chunks import chunks
from invdb.records.engines import Position
from invdb.records.life import Service
from invdb.records.stock import Batch, Piece, Place
from invdb.rules.points import end_of
from invdb.rules.told import listed


@dataclass(frozen=True)
class DirectiveSubject:
    """A piece in an engine that a directive is for; or the batches there that it is for (no ``piece``)."""

    piece: int | None
    tag: str
    part_number: str
    part_name: str
    position: str = ""
    station: str = ""

    @property
    def subject(self) -> str:
        """What it is and its tag, or the tags of the batches."""
        return f"{self.part_name} {self.tag}"


class DirectiveSubjects:
    """What is inside engines on a day of what directives are for, read at once for all of them."""

    def __init__(
        self,
        session: Session,
        directives: Iterable[Row[*tuple[Any, ...]]],
        engines: Collection[int],
        day: date,
    ) -> None:
        self._session = session
        self._engines = engines
        self._at = end_of(day)
        rows = list(directives)
        # Where a batch is named, it alone is what the directive is for.
        parts = {row.part_id for row in rows if row.part_id is not None and row.batch_id is None}
        self._pieces: dict[tuple[int, int], list[DirectiveSubject]] = defaultdict(list)
        self._presumed: dict[tuple[int, int], int] = {}
        self.piece_ids: set[int] = set()
        if parts:
            self._read_pieces(parts)
            self._read_presumed(parts)
        of_batch = self._named({row.batch_id for row in rows if row.batch_id is not None})
        self._batches = self._read_batches(parts, of_batch)

    def of(self, directive: Row[*tuple[Any, ...]], engine: int) -> Iterator[DirectiveSubject]:
        """The pieces in an engine that a directive is for, then its batches there all together."""
        if directive.batch_id is None:
            yield from self._pieces.get((engine, directive.part_id), ())
            key = ("part", directive.part_id)
        else:
            key = ("batch", directive.batch_id)
        batches = sorted(self._batches.get((engine, *key), ()))
        if batches:
            _, number, name = batches[0]
            yield DirectiveSubject(None, listed([tag for tag, _, _ in batches]), number, name)

    def presumed(self, directive: Row[*tuple[Any, ...]], engine: int) -> int:
        """At how many stations of an engine something nobody has seen is presumed to be of its part."""
        return self._presumed.get((engine, directive.part_id), 0) if directive.batch_id is None else 0

    def _read_pieces(self, parts: Collection[int]) -> None:
        rows = self._session.execute(
            select(
                Service.engine_id,
                Piece.id,
                Piece.tag,
                Piece.part_id,
                Part.house_number,
                Part.name.label("part_name"),
            )
            .join(Piece, Piece.id == Service.piece_id)
            .join(Part, Part.id == Piece.part_id)
            .where(Service.engine_id.in_(self._engines), Piece.part_id.in_(parts), covers(Service, *self._at))
        ).all()
        self.piece_ids = {row.id for row in rows}
        seats = seats_of(self._session, self.piece_ids, self._at[0])
        order = {None: -1} | {
            position: at
            for at, position in enumerate(
                self._session.scalars(select(Position.id).order_by(Position.group_name, Position.sequence))
            )
        }
        for row in sorted(rows, key=lambda row: (order[seats[row.id].position], seats[row.id].spot, row.tag)):
            seat = seats[row.id]
            self._pieces[row.engine_id, row.part_id].append(
                DirectiveSubject(
                    row.id, row.tag, row.house_number, row.part_name, seat.position_name, seat.station
                )
            )

    def _read_presumed(self, parts: Collection[int]) -> None:
        rows = self._session.execute(
            select(Presumption.engine_id, Presumption.part_id, func.count())
            .where(
                Presumption.engine_id.in_(self._engines),
                Presumption.part_id.in_(parts),
                Presumption.presumed_on <= self._at[0],
                or_(Presumption.ended_on.is_(None), Presumption.ended_on > self._at[0]),
            )
            .group_by(Presumption.engine_id, Presumption.part_id)
        )
        for engine, part, stations in rows:
            self._presumed[engine, part] = stations

    def _named(self, batches: Collection[int]) -> dict[int, set[int]]:
        """The batches named and all split off from them, each with those named that it comes from."""
        found: dict[int, set[int]] = defaultdict(set)
        for named in batches:
            for batch in descendants(self._session.connection(), [named]):
                found[batch].add(named)
        return found

    def _read_batches(
        self, parts: Collection[int], named: Mapping[int, Collection[int]]
    ) -> dict[tuple[int, str, int], set[tuple[str, str, str]]]:
        """Batches of which some is in an engine, by engine and by the part or the batch that is named.

        Each is its tag with its part's number and name.
        """
        found: dict[tuple[int, str, int], set[tuple[str, str, str]]] = defaultdict(set)
        if not parts and not named:
            return found
        rows = {
            row.id: row
            for row in self._session.execute(
                select(Batch.id, Batch.tag, Batch.part_id, Part.house_number, Part.name)
                .join(Part, Part.id == Batch.part_id)
                .where(or_(Batch.part_id.in_(parts), Batch.id.in_(named.keys())))
            )
        }
        held: dict[int, set[int]] = defaultdict(set)
        for (batch, place), gains in gains_at(self._session.connection(), rows.keys()).items():
            if sum(gain.quantity for gain in gains if gain.at <= self._at) > 0:
                held[place].add(batch)
        for place, engine in self._engines_of(held.keys()).items():
            for batch in held[place]:
                row = rows[batch]
                known = (row.tag, row.house_number, row.name)
                if row.part_id in parts:
                    found[engine, "part", row.part_id].add(known)
                for each in named.get(batch, ()):
                    found[engine, "batch", each].add(known)
        return found

    def _engines_of(self, places: Collection[int]) -> dict[int, int]:
        """The engine that each of these places is part of, or whose piece it is in; those in none lack."""
        around = aliased(Place)
        query = (
            select(Place.id, func.coalesce(Place.engine_id, Service.engine_id))
            .outerjoin(around, around.id == Place.parent_id)
            .outerjoin(
                Service,
                (Service.piece_id == func.coalesce(Place.piece_id, around.piece_id))
                & covers(Service, *self._at),
            )
        )
        rows = (
            row for some in chunks(places) for row in self._session.execute(query.where(Place.id.in_(some)))
        )
        return {place: engine for place, engine in rows if engine in self._engines}
