"""How every directive stands on an engine and on what is inside it, and which are due."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Row, or_, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.directive import applicability_of
from invdb.acts.directive_subjects import DirectiveSubject, DirectiveSubjects
from invdb.acts.due_soon import due_soon
from invdb.acts.engine_use import recent_use
from invdb.acts.ran_since import RanSince
from invdb.records.catalogue import Part
from invdb.records.clock import today
from invdb.records.documents import Document
from invdb.records.doubts import Compliance, Directive
from invdb.records.engines import Engine, EngineType
from invdb.records.people import Person
from invdb.records.stock import Batch
from invdb.rules.directives import (
    DirectiveStanding,
    DirectiveTerms,
    DirectiveVerdict,
    engine_bar,
    left_words,
    standing,
    terms_words,
)
from invdb.rules.due import DueKind, DueLine, DueSoon, worst_first
from invdb.rules.forecast import Window, forecast, pace
from invdb.rules.points import Point, end_of, start_of
from invdb.rules.told import counted
from invdb.terms import LifeMeasure, Refused


@dataclass(frozen=True)
class Complied:
    """When a directive was last complied with, by whom and how."""

    at: Point
    by: str
    method: str


@dataclass(frozen=True)
class DirectiveFacts:
    """A directive on one engine, or on a piece in it, and how it stands on a day.

    With ``not_applicable`` it says why it is not for this engine, and nothing stands. ``subject`` is what it
    is on, in words; ``station`` where a piece is. Hours in hundredths.
    """

    directive: int
    reference: str
    issue: str
    title: str
    authority: str
    method: str
    document_words: str
    when: str
    engine: int
    engine_name: str
    subject: str
    piece: int | None = None
    tag: str = ""
    part_number: str = ""
    part_name: str = ""
    position: str = ""
    station: str = ""
    not_applicable: str = ""
    standing: DirectiveStanding | None = None
    complied: Complied | None = None

    @property
    def words(self) -> str:
        """``directive D 7 issue 2: crack test of the rods``."""
        issue = f" issue {self.issue}" if self.issue else ""
        return f"directive {self.reference}{issue}: {self.title}"

    @property
    def left(self) -> str:
        """What is left until it is due, in words; '' where nothing is due."""
        return "" if self.standing is None else left_words(self.standing)

    @property
    def overdue(self) -> bool:
        """Whether it should have been complied with by now."""
        return self.standing is not None and self.standing.verdict is DirectiveVerdict.OVERDUE


def directives_of(session: Session, engine: int, on: date | None = None) -> tuple[DirectiveFacts, ...]:
    """Every directive in effect at the end of a day (None: today) for an engine, by reference.

    A line for the engine itself or for each piece that the directive is for; one that is not for this engine
    or for anything in it says why.
    """
    lines = tuple(_lines(session, [engine], as_of(session, on), due_soon(session)))
    if not lines and session.scalar(select(Engine.id).where(Engine.id == engine)) is None:
        raise Refused("That engine is not in the store.", "Choose another.")
    return lines


def directive_due_lines(
    session: Session, engine: int | None = None, on: date | None = None
) -> tuple[DueLine, ...]:
    """When directives are next due on an engine (None: on any) and on the pieces in it, the worst first."""
    day = as_of(session, on)
    lines = [
        line
        for line in _lines(session, None if engine is None else [engine], day, due_soon(session))
        if line.standing is not None and line.standing.verdict is not DirectiveVerdict.COMPLIED
    ]
    windows = recent_use(session.connection(), {line.engine for line in lines}, day)
    return worst_first(
        _due_line(line, line.standing, windows[line.engine], day)
        for line in lines
        if line.standing is not None
    )


def _due_line(
    line: DirectiveFacts, standing: DirectiveStanding, windows: Sequence[Window], day: date
) -> DueLine:
    left = standing.hours_left
    worst = None if left is None or left.open else left.low
    runs_out = None
    if left is not None:
        runs_out = forecast(worst, left.high, pace(windows, LifeMeasure.HOURS), day)
    return DueLine(
        kind=DueKind.DIRECTIVE,
        subject=line.subject,
        what=f"{line.words}, {line.when}",
        left=line.left or standing.why,
        verdict=standing.verdict.as_life,
        engine=line.engine,
        engine_name=line.engine_name,
        position=line.position,
        station=line.station,
        piece=line.piece,
        tag=line.tag,
        part_number=line.part_number,
        part_name=line.part_name,
        record=line.directive,
        hours_left=worst,
        due_on=standing.due_on,
        earliest=None if runs_out is None else runs_out.earliest,
        latest=None if runs_out is None else runs_out.latest,
        forecast="" if runs_out is None else runs_out.words,
    )


def overdue_directives(session: Session, engines: Collection[int]) -> tuple[DirectiveFacts, ...]:
    """The directives that should have been complied with by today on these engines or what is in them."""
    return tuple(line for line in _lines(session, engines, today(session), None) if line.overdue)


def _lines(
    session: Session, on_engines: Collection[int] | None, day: date, soon: DueSoon | None
) -> Iterator[DirectiveFacts]:
    directives = _read_directives(session, day)
    if not directives:
        return
    engines = _read_engines(session, on_engines)
    inside = DirectiveSubjects(session, directives, {row.id for row in engines}, day)
    done = _read_done(session, {row.id for row in directives}, day)
    ran = RanSince(session.connection(), inside.piece_ids)
    for row in directives:
        applicability = applicability_of(row)
        terms = DirectiveTerms(
            row.effective_on,
            row.within_hours,
            row.within_months,
            row.due_on,
            row.every_hours,
            row.every_months,
        )
        for on_engine in engines:
            why = engine_bar(applicability, on_engine.type_name, on_engine.serial, day)
            if why is not None:
                yield _line(row, terms, on_engine, None, not_applicable=why)
                continue
            if applicability.on_engines:
                subjects: list[DirectiveSubject | None] = [None]
            else:
                subjects = list(inside.of(row, on_engine.id))
            for subject in subjects:
                piece = None if subject is None else subject.piece
                complied = done.get((row.id, piece, on_engine.id if piece is None else None))
                since = start_of(row.effective_on) if complied is None else complied.at
                if piece is None:
                    hours = ran.of_engine(on_engine.id, since, end_of(day))
                else:
                    hours = ran.of_piece(piece, since, end_of(day))
                complied_on = None if complied is None else complied.at[0]
                stands = standing(terms, day, complied_on=complied_on, ran=hours, soon=soon)
                yield _line(row, terms, on_engine, subject, stands, complied)
            presumed = inside.presumed(row, on_engine.id)
            if presumed:
                stations = counted(presumed, "station is", "stations are")
                unknown = DirectiveStanding(
                    DirectiveVerdict.UNKNOWN,
                    f"{stations} presumed to hold it, and nobody has seen what is there",
                )
                yield _line(row, terms, on_engine, None, unknown)
            elif not subjects:
                what = row.house_number or f"batch {row.batch_tag}"
                yield _line(row, terms, on_engine, None, not_applicable=f"none of {what} is inside")


def _line(
    row: Row[*tuple[Any, ...]],
    terms: DirectiveTerms,
    engine: Row[*tuple[Any, ...]],
    subject: DirectiveSubject | None,
    stands: DirectiveStanding | None = None,
    complied: Complied | None = None,
    not_applicable: str = "",
) -> DirectiveFacts:
    return DirectiveFacts(
        row.id,
        row.reference,
        row.issue,
        row.title,
        row.authority,
        row.method,
        " ".join(word for word in (row.document_kind, row.document_reference) if word),
        terms_words(terms),
        engine.id,
        engine.name,
        engine.name if subject is None else subject.subject,
        None if subject is None else subject.piece,
        "" if subject is None else subject.tag,
        "" if subject is None else subject.part_number,
        "" if subject is None else subject.part_name,
        "" if subject is None else subject.position,
        "" if subject is None else subject.station,
        not_applicable,
        stands,
        complied,
    )


def _read_directives(session: Session, day: date) -> Sequence[Row[*tuple[Any, ...]]]:
    return session.execute(
        select(
            *Directive.__table__.columns.values(),
            EngineType.name.label("type_name"),
            Part.house_number,
            Batch.tag.label("batch_tag"),
            Document.kind.label("document_kind"),
            Document.reference.label("document_reference"),
        )
        .outerjoin(EngineType, EngineType.id == Directive.engine_type_id)
        .outerjoin(Part, Part.id == Directive.part_id)
        .outerjoin(Batch, Batch.id == Directive.batch_id)
        .outerjoin(Document, Document.id == Directive.document_id)
        .where(
            Directive.effective_on <= day,
            or_(Directive.withdrawn_on.is_(None), Directive.withdrawn_on > day),
        )
        .order_by(Directive.reference, Directive.issue, Directive.id)
    ).all()


def _read_engines(session: Session, engines: Collection[int] | None) -> Sequence[Row[*tuple[Any, ...]]]:
    query = (
        select(Engine.id, Engine.name, Engine.serial, EngineType.name.label("type_name"))
        .join(EngineType, EngineType.id == Engine.engine_type_id)
        .order_by(Engine.name)
    )
    return session.execute(query if engines is None else query.where(Engine.id.in_(engines))).all()


def _read_done(
    session: Session, directives: Collection[int], day: date
) -> dict[tuple[int, int | None, int | None], Complied]:
    """The last compliance with each directive, by its piece or its engine."""
    rows = session.execute(
        select(
            Compliance.directive_id,
            Compliance.piece_id,
            Compliance.engine_id,
            Compliance.complied_on,
            Compliance.set_by,
            Person.name,
            Compliance.method,
        )
        .join(Person, Person.id == Compliance.complied_by)
        .where(Compliance.directive_id.in_(directives), Compliance.complied_on <= day)
        .order_by(Compliance.complied_on, Compliance.set_by)
    )
    return {
        (directive, piece, engine): Complied((on, number), by, method)
        for directive, piece, engine, on, number, by, method in rows
    }
