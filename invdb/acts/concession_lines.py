"""How what authorities allow beyond limits stands, piece by piece, and which of it ends soon."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Row, Select, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.due_soon import due_soon
from invdb.acts.engine_use import recent_use
from invdb.acts.ran_since import RanSince
from invdb.acts.seated_at import SeatedAt, seats_of
from invdb.records.catalogue import Part
from invdb.records.chunks import chunks
from invdb.records.clock import today
from invdb.records.documents import Document
from invdb.records.doubts import Concession
from invdb.records.engines import Engine, Position
from invdb.records.stock import Piece
from invdb.rules.calendar import months_after
from invdb.rules.concessions import (
    ConcessionStanding,
    ConcessionTerms,
    ConcessionVerdict,
    end_words,
    hours_left_words,
    standing,
)
from invdb.rules.due import DueKind, DueLine, DueSoon, worst_first
from invdb.rules.forecast import Window, forecast, pace
from invdb.rules.life import LifeVerdict
from invdb.rules.points import end_of, start_of
from invdb.rules.running import Span
from invdb.terms import ConcessionOver, LifeMeasure


@dataclass(frozen=True)
class ConcessionFacts:
    """A concession and how it stands on a day; hours in hundredths.

    ``hours_used`` is what the piece ran in that engine since it began. ``fitted`` says whether the piece is
    in that engine on that day, and ``seat`` where (None: it is in no engine).
    """

    concession: int
    reference: str
    authority: str
    over: ConcessionOver
    allows: str
    document: int
    document_words: str
    terms: ConcessionTerms
    life_limit_hours: int | None
    piece: int
    tag: str
    part_number: str
    part_name: str
    engine: int
    engine_name: str
    position: int | None
    position_name: str
    seat: SeatedAt | None
    fitted: bool
    hours_used: Span
    standing: ConcessionStanding

    @property
    def station(self) -> str:
        """Where in that engine the piece is: 'cylinder 5, exhaust valve'; '' where it is not in it."""
        return self.seat.spot if self.fitted and self.seat is not None else ""

    @property
    def ends(self) -> str:
        """When it ends, in words."""
        return end_words(self.terms)

    @property
    def left(self) -> str:
        """What is left of its hours, in words; '' where no hours end it."""
        left = self.standing.hours_left
        return "" if left is None else hours_left_words(left)

    @property
    def words(self) -> str:
        """``concession C 12 of the authority, over the worn limit: …; for 50.00 h, 38.00 h left``."""
        ends = f"{self.ends}, {self.left} left" if self.left else self.ends
        return (
            f"concession {self.reference} of {self.authority}, over the {self.over}: {self.allows}; {ends}"
            f" ({self.standing.verdict})"
        )


_FACTS: Select[*tuple[Any, ...]] = (
    select(
        Concession.id,
        Concession.reference,
        Concession.authority,
        Concession.over,
        Concession.allows,
        Concession.document_id,
        Document.kind.label("document_kind"),
        Document.reference.label("document_reference"),
        Concession.from_on,
        Concession.until_on,
        Concession.hours_allowed,
        Concession.withdrawn_on,
        Concession.life_limit_hours,
        Concession.piece_id,
        Piece.tag,
        Part.house_number,
        Part.name.label("part_name"),
        Concession.engine_id,
        Engine.name.label("engine_name"),
        Concession.position_id,
        Position.group_name,
        Position.name.label("position_name"),
    )
    .join(Document, Document.id == Concession.document_id)
    .join(Piece, Piece.id == Concession.piece_id)
    .join(Part, Part.id == Piece.part_id)
    .join(Engine, Engine.id == Concession.engine_id)
    .outerjoin(Position, Position.id == Concession.position_id)
    .order_by(Concession.from_on, Concession.id)
)


def concession_lines(
    session: Session, engine: int | None = None, piece: int | None = None, on: date | None = None
) -> tuple[ConcessionFacts, ...]:
    """Concessions and how each stands at the end of a day (None: today), by when they began.

    Of one engine or piece, or all; those that begin later are left out, those that have ended are not.
    """
    day = as_of(session, on)
    query = _FACTS.where(Concession.from_on <= day)
    if engine is not None:
        query = query.where(Concession.engine_id == engine)
    if piece is not None:
        query = query.where(Concession.piece_id == piece)
    return _read(session, query, day)


def concessions_of(session: Session, pieces: Collection[int]) -> dict[int, tuple[ConcessionFacts, ...]]:
    """The concessions in force today for each of these pieces, in whichever engine; none: it has no key."""
    day = today(session)
    found: dict[int, tuple[ConcessionFacts, ...]] = {}
    for some in chunks(pieces):
        query = _FACTS.where(Concession.from_on <= day, Concession.piece_id.in_(some))
        for line in _read(session, query, day):
            if line.standing.in_force:
                found[line.piece] = (*found.get(line.piece, ()), line)
    return found


def _read(session: Session, query: Select[*tuple[Any, ...]], day: date) -> tuple[ConcessionFacts, ...]:
    rows = session.execute(query).all()
    if not rows:
        return ()
    pieces = {row.piece_id for row in rows}
    ran = RanSince(session.connection(), pieces)
    seats = seats_of(session, pieces, day)
    return tuple(_facts(row, ran, seats.get(row.piece_id), day) for row in rows)


def concessions_on(
    session: Session, piece: int, engine: int, position: int | None, on: date
) -> tuple[ConcessionFacts, ...]:
    """The concessions in force on a day for a piece at a position of an engine."""
    lines = concession_lines(session, engine, piece, on)
    return tuple(line for line in lines if line.standing.in_force and line.position in (None, position))


def _facts(row: Row[*tuple[Any, ...]], ran: RanSince, seat: SeatedAt | None, day: date) -> ConcessionFacts:
    terms = ConcessionTerms(row.from_on, row.until_on, row.hours_allowed, row.withdrawn_on)
    # What it ran on its first day counts, and so does what it ran on the last.
    used = ran.of_piece(row.piece_id, start_of(row.from_on), end_of(day), row.engine_id)
    return ConcessionFacts(
        row.id,
        row.reference,
        row.authority,
        row.over,
        row.allows,
        row.document_id,
        f"{row.document_kind} {row.document_reference}",
        terms,
        row.life_limit_hours,
        row.piece_id,
        row.tag,
        row.house_number,
        row.part_name,
        row.engine_id,
        row.engine_name,
        row.position_id,
        " ".join(word for word in (row.group_name, row.position_name) if word),
        seat,
        seat is not None and seat.engine == row.engine_id,
        used,
        standing(terms, day, used),
    )


def concession_due_lines(
    session: Session, engine: int | None = None, on: date | None = None
) -> tuple[DueLine, ...]:
    """The ends of the concessions that pieces in an engine (None: in any) run under, the worst first.

    One that has ended stands here as long as its piece is in that engine, unless it is withdrawn.
    """
    day = as_of(session, on)
    lines = [
        line
        for line in concession_lines(session, engine, on=day)
        if line.fitted and line.standing.verdict is not ConcessionVerdict.WITHDRAWN
    ]
    if not lines:
        return ()
    soon = due_soon(session)
    windows = recent_use(session.connection(), {line.engine for line in lines}, day)
    return worst_first(_due_line(line, windows[line.engine], soon, day) for line in lines)


def _due_line(line: ConcessionFacts, windows: Sequence[Window], soon: DueSoon, day: date) -> DueLine:
    left = line.standing.hours_left
    worst = None if left is None or line.hours_used.open else left.low
    runs_out = None
    if left is not None:
        runs_out = forecast(worst, left.high, pace(windows, LifeMeasure.HOURS), day)
    return DueLine(
        kind=DueKind.CONCESSION,
        subject=f"{line.part_name} {line.tag}",
        what=f"concession {line.reference} over the {line.over}, {line.ends}",
        left=line.left or line.ends,
        verdict=_verdict(line, soon, day),
        engine=line.engine,
        engine_name=line.engine_name,
        position="" if line.seat is None else line.seat.position_name,
        station="" if line.seat is None else line.seat.station,
        piece=line.piece,
        tag=line.tag,
        part_number=line.part_number,
        part_name=line.part_name,
        record=line.concession,
        hours_left=worst,
        due_on=line.terms.until_on,
        earliest=None if runs_out is None else runs_out.earliest,
        latest=None if runs_out is None else runs_out.latest,
        forecast="" if runs_out is None else runs_out.words,
    )


def _verdict(line: ConcessionFacts, soon: DueSoon, day: date) -> LifeVerdict:
    if line.standing.verdict is ConcessionVerdict.UNKNOWN:
        return LifeVerdict.UNKNOWN
    if not line.standing.in_force:
        return LifeVerdict.EXPIRED
    left, until = line.standing.hours_left, line.terms.until_on
    near = (left is not None and left.low <= soon.hours) or (
        until is not None and until <= months_after(day, soon.months)
    )
    return LifeVerdict.DUE_SOON if near else LifeVerdict.WITHIN
