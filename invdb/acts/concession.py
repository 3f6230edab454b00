"""What an authority allows beyond a limit, for one piece in one engine: granted, withdrawn, and read."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Row, Select, select
from sqlalchemy.orm import Session, aliased

from invdb.acts.by import By, begin_draft
from invdb.acts.due_soon import due_soon
from invdb.acts.engine_use import recent_use
from invdb.acts.ran_since import RanSince
from invdb.records.catalogue import Part
from invdb.records.chunks import chunks
from invdb.records.clock import today
from invdb.records.documents import Document
from invdb.records.doubts import Concession
from invdb.records.engines import Engine, Position, Station
from invdb.records.posting import post
from invdb.records.stock import Piece, Place
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
from invdb.rules.life import LifeVerdict, hours_words
from invdb.rules.points import end_of, start_of
from invdb.rules.running import Span
from invdb.terms import ConcessionOver, EntryKind, FieldRefused, LifeMeasure, Refused


@dataclass(frozen=True)
class NewConcession:
    """What is allowed, by whom, on which document, and till when; hours in hundredths.

    ``position`` None holds for the piece wherever it is in that engine; ``from_on`` None from the day of the
    act. ``life_limit_hours`` stands instead of the part's own limit by hours since new.
    """

    reference: str
    authority: str
    over: ConcessionOver
    allows: str
    document: int
    piece: int
    engine: int
    position: int | None = None
    from_on: date | None = None
    until_on: date | None = None
    hours_allowed: int | None = None
    life_limit_hours: int | None = None


def grant_concession(session: Session, new: NewConcession, by: By) -> int:
    """Record a concession; returns its id.

    Refused without an authority, a document that is here, an end by date or hours, or words for what it
    allows; for a position of another engine type; and when it would end before it begins.
    """
    draft = begin_draft(session, EntryKind.CONCESSION, by)
    from_on = new.from_on or draft.happened_on
    for field, value, what in (
        ("reference", new.reference, "reference"),
        ("authority", new.authority, "authority"),
        ("allows", new.allows, "word of what it allows"),
    ):
        if not value.strip():
            raise FieldRefused(field, f"The concession has no {what}.", "Type it as the document has it.")
    if session.scalar(select(Document.id).where(Document.id == new.document)) is None:
        raise FieldRefused(
            "document", "A concession needs its document, and that one is not here.", "Take it in first."
        )
    _refuse_subject(session, new, from_on)
    if new.until_on is None and new.hours_allowed is None:
        raise FieldRefused(
            "until_on",
            "A concession has an end, and none is given.",
            "Give its last day, its hours, or both.",
        )
    if new.until_on is not None and new.until_on < from_on:
        raise FieldRefused(
            "until_on",
            f"It would end on {new.until_on.isoformat()}, before it begins on {from_on.isoformat()}.",
            "Check both dates.",
        )
    for field, hours in (("hours_allowed", new.hours_allowed), ("life_limit_hours", new.life_limit_hours)):
        if hours is not None and hours <= 0:
            raise FieldRefused(field, f"{hours_words(hours)} are no hours to allow.", "Give more than none.")
    if new.life_limit_hours is not None and new.over is not ConcessionOver.LIFE_LIMIT:
        raise FieldRefused(
            "life_limit_hours",
            f"A concession over the {new.over} sets no life limit.",
            "Leave it empty, or say that it is over the life limit.",
        )
    concession = draft.new(
        session,
        "concession",
        reference=new.reference,
        authority=new.authority,
        over=new.over,
        allows=new.allows,
        document_id=new.document,
        piece_id=new.piece,
        engine_id=new.engine,
        position_id=new.position,
        from_on=from_on,
        until_on=new.until_on,
        hours_allowed=new.hours_allowed,
        life_limit_hours=new.life_limit_hours,
    )
    post(session, draft)
    return concession


def _refuse_subject(session: Session, new: NewConcession, from_on: date) -> None:
    piece = session.execute(select(Piece.tag, Piece.received_on).where(Piece.id == new.piece)).one_or_none()
    if piece is None:
        raise FieldRefused("piece", "That piece is not in the store.", "Choose another.")
    if from_on < piece.received_on:
        raise FieldRefused(
            "from_on",
            f"{piece.tag} came on {piece.received_on.isoformat()}.",
            "Give a date on or after that day.",
        )
    engine = session.execute(
        select(Engine.name, Engine.engine_type_id).where(Engine.id == new.engine)
    ).one_or_none()
    if engine is None:
        raise FieldRefused("engine", "That engine is not in the store.", "Choose another.")
    if new.position is not None:
        of_type = session.scalar(select(Position.engine_type_id).where(Position.id == new.position))
        if of_type != engine.engine_type_id:
            raise FieldRefused(
                "position", f"{engine.name} has no such position.", "Choose one of its own, or none."
            )


def withdraw_concession(session: Session, concession: int, because: str, by: By) -> int:
    """Say that a concession holds no more from the day of the act on; returns the entry's number."""
    draft = begin_draft(session, EntryKind.CONCESSION, by)
    row = session.execute(
        select(Concession.reference, Concession.from_on, Concession.withdrawn_on).where(
            Concession.id == concession
        )
    ).one_or_none()
    if row is None:
        raise Refused("There is no such concession.", "Look again.")
    if row.withdrawn_on is not None:
        raise Refused(
            f"Concession {row.reference} was withdrawn on {row.withdrawn_on.isoformat()}.",
            "There is nothing to withdraw.",
        )
    if not because.strip():
        raise FieldRefused("because", "It isn't said why it is withdrawn.", "Type it.")
    if draft.happened_on < row.from_on:
        raise FieldRefused(
            "happened_on",
            f"Concession {row.reference} began on {row.from_on.isoformat()}.",
            "Give a date on or after that day, or reverse its entry.",
        )
    draft.remark(because)
    draft.set("concession", concession, withdrawn_on=draft.happened_on)
    return post(session, draft).number


@dataclass(frozen=True)
class ConcessionFacts:
    """A concession and how it stands on a day; hours in hundredths.

    ``hours_used`` is what the piece ran in that engine since it began. ``fitted`` says whether the piece is
    in that engine on that day, and ``station`` at which station.
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
    station: str
    fitted: bool
    hours_used: Span
    standing: ConcessionStanding

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


_FITTED_AT = aliased(Place)
_POSITION_AT = aliased(Position)
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
        _POSITION_AT.group_name.label("at_group"),
        _POSITION_AT.name.label("at_position"),
        Station.name.label("station"),
    )
    .join(Document, Document.id == Concession.document_id)
    .join(Piece, Piece.id == Concession.piece_id)
    .join(Part, Part.id == Piece.part_id)
    .join(Engine, Engine.id == Concession.engine_id)
    .outerjoin(Position, Position.id == Concession.position_id)
    .join(_FITTED_AT, _FITTED_AT.id == Piece.place_id)
    .outerjoin(_POSITION_AT, _POSITION_AT.id == _FITTED_AT.position_id)
    .outerjoin(Station, Station.id == _FITTED_AT.station_id)
    .order_by(Concession.from_on, Concession.id)
)


def concession_lines(
    session: Session, engine: int | None = None, piece: int | None = None, on: date | None = None
) -> tuple[ConcessionFacts, ...]:
    """Concessions and how each stands at the end of a day (None: today), by when they began.

    Of one engine or piece, or all; those that begin later are left out, those that have ended are not.
    """
    day = on or today(session)
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
    ran = RanSince(session.connection(), {row.piece_id for row in rows})
    return tuple(_facts(row, ran, day) for row in rows)


def concessions_on(
    session: Session, piece: int, engine: int, position: int | None, on: date
) -> tuple[ConcessionFacts, ...]:
    """The concessions in force on a day for a piece at a position of an engine."""
    lines = concession_lines(session, engine, piece, on)
    return tuple(line for line in lines if line.standing.in_force and line.position in (None, position))


def _facts(row: Row[*tuple[Any, ...]], ran: RanSince, day: date) -> ConcessionFacts:
    terms = ConcessionTerms(row.from_on, row.until_on, row.hours_allowed, row.withdrawn_on)
    # What it ran on its first day counts, and so does what it ran on the last.
    used = ran.of_piece(row.piece_id, start_of(row.from_on), end_of(day), row.engine_id)
    fitted = ran.engine_of(row.piece_id, end_of(day)) == row.engine_id
    at = " ".join(word for word in (row.at_group, row.at_position, row.station) if word)
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
        at if fitted else "",
        fitted,
        used,
        standing(terms, day, used),
    )


def concession_due_lines(
    session: Session, engine: int | None = None, on: date | None = None
) -> tuple[DueLine, ...]:
    """The ends of the concessions that pieces in an engine (None: in any) run under, the worst first.

    One that has ended stands here as long as its piece is in that engine, unless it is withdrawn.
    """
    day = on or today(session)
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


def _due_line(line: ConcessionFacts, windows: Iterable[Window], soon: DueSoon, day: date) -> DueLine:
    left = line.standing.hours_left
    worst = None if left is None or line.hours_used.open else left.low
    words = None
    if left is not None:
        words = forecast(worst, left.high, pace(tuple(windows), LifeMeasure.HOURS), day)
    return DueLine(
        kind=DueKind.CONCESSION,
        subject=f"{line.part_name} {line.tag}",
        what=f"concession {line.reference} over the {line.over}, {line.ends}",
        left=line.left or line.ends,
        verdict=_verdict(line, soon, day),
        engine=line.engine,
        engine_name=line.engine_name,
        position=line.position_name,
        station=line.station.removeprefix(line.position_name).strip(),
        piece=line.piece,
        tag=line.tag,
        part_number=line.part_number,
        part_name=line.part_name,
        record=line.concession,
        hours_left=worst,
        due_on=line.terms.until_on,
        earliest=None if words is None else words.earliest,
        latest=None if words is None else words.latest,
        forecast="" if words is None else words.words,
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
