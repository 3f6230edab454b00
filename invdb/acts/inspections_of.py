"""What inspections found: their figures, judged by the revision in force then and by the present one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.numbers import Thing
from invdb.acts.shown import printed_at, workshop_name
from invdb.acts.spec import spec_by_id, spec_on
from invdb.records.catalogue import Part, PartHazard
from invdb.records.documents import Document
from invdb.records.inspections import BenchTest, Inspection, InspectionPaper, Instrument, Measurement
from invdb.records.people import Person
from invdb.records.stock import Batch, Piece
from invdb.rules.inspecting import RunOfTest, judge_test, limits_of_sample
from invdb.rules.inspection_sheet import BenchTested, FilledSheet, InspectionDone, LineDone, ReadingDone
from invdb.rules.limits import Judged, LineJudged, LineLimits, Reading, judge_line
from invdb.rules.measuring import kept, same_kind
from invdb.rules.pick_list import HazardNote
from invdb.rules.specification import SpecFacts, SpecLineFacts
from invdb.terms import Refused

_Lines = dict[str, SpecLineFacts]


def inspections_of(session: Session, thing: Thing, on: date | None = None) -> tuple[InspectionDone, ...]:
    """Every inspection of a piece or a batch by a day (None: today), the latest first.

    The present revision is that of the part, and for the size, which it was when it was inspected.
    """
    day = as_of(session, on)
    column = Inspection.piece_id if thing.piece is not None else Inspection.batch_id
    rows = session.scalars(
        select(Inspection)
        .where(column == (thing.piece or thing.batch), Inspection.inspected_on <= day)
        .order_by(Inspection.inspected_on.desc(), Inspection.set_by.desc())
    ).all()
    return _done(session, rows, day)


def filled_sheet(session: Session, inspection: int) -> FilledSheet:
    """One inspection as a sheet to print; Refused for one that is not here."""
    row = session.get(Inspection, inspection)
    if row is None:
        raise Refused("There is no such inspection.", "Look at the piece's inspections again.")
    (done,) = _done(session, [row], as_of(session, None))
    serial: str | None
    if row.piece_id is not None:
        serial = session.scalar(select(Piece.serial).where(Piece.id == row.piece_id))
    else:
        serial = session.scalar(select(Batch.maker_batch).where(Batch.id == row.batch_id))
    hazards = session.execute(
        select(PartHazard.hazard, PartHazard.caution)
        .where(PartHazard.part_id == row.part_id, PartHazard.withdrawn_on.is_(None))
        .order_by(PartHazard.id)
    )
    return FilledSheet(
        workshop_name(session),
        printed_at(session),
        serial or "",
        done,
        tuple(HazardNote(str(hazard), caution) for hazard, caution in hazards),
    )


def _done(session: Session, rows: Sequence[Inspection], on: date) -> tuple[InspectionDone, ...]:
    ids = [row.id for row in rows]
    measured: dict[int, list[Measurement]] = defaultdict(list)
    for figure in session.scalars(
        select(Measurement).where(Measurement.inspection_id.in_(ids)).order_by(Measurement.id)
    ):
        measured[figure.inspection_id].append(figure)
    tests: dict[int, list[BenchTest]] = defaultdict(list)
    for test in session.scalars(
        select(BenchTest).where(BenchTest.inspection_id.in_(ids)).order_by(BenchTest.id)
    ):
        tests[test.inspection_id].append(test)
    papers: dict[int, list[str]] = defaultdict(list)
    for inspection, kind, reference in session.execute(
        select(InspectionPaper.inspection_id, Document.kind, Document.reference)
        .join(Document, Document.id == InspectionPaper.document_id)
        .where(InspectionPaper.inspection_id.in_(ids))
        .order_by(InspectionPaper.id)
    ):
        papers[inspection].append(f"{kind} {reference}")
    instruments = {
        row.id: f"{row.number} {row.name}"
        for row in session.execute(select(Instrument.id, Instrument.number, Instrument.name))
    }
    return tuple(
        _one(session, row, measured[row.id], tests[row.id], tuple(papers[row.id]), instruments, on)
        for row in rows
    )


def _one(
    session: Session,
    row: Inspection,
    measured: Sequence[Measurement],
    tests: Sequence[BenchTest],
    papers: tuple[str, ...],
    instruments: dict[int, str],
    on: date,
) -> InspectionDone:
    then = None if row.spec_id is None else spec_by_id(session, row.spec_id)
    now = spec_on(session, row.part_id, on)
    lines_then, lines_now = _by_name(then, row.size_class), _by_name(now, row.size_class)
    by_name: dict[str, list[Measurement]] = defaultdict(list)
    for figure in measured:
        by_name[figure.name].append(figure)
    part = session.execute(select(Part.house_number, Part.name).where(Part.id == row.part_id)).one()
    sampled = row.batch_id is not None
    return InspectionDone(
        id=row.id,
        entry=row.set_by,
        tag=_tag(session, row),
        is_batch=sampled,
        part_number=part.house_number,
        part_name=part.name,
        size_class=row.size_class,
        inspected_on=row.inspected_on,
        inspected_by=session.scalars(select(Person.name).where(Person.id == row.inspected_by)).one(),
        licence_number=row.licence_number,
        proposed=row.proposed,
        decided=row.decided,
        scope=row.scope,
        reason=row.reason,
        note=row.note,
        revision="" if then is None else then.words,
        revision_present="" if now is None else now.words,
        lines=tuple(
            _line_done(figures, lines_then.get(name), lines_now.get(name), instruments, sampled)
            for name, figures in by_name.items()
        ),
        tests=tuple(_tested(test, lines_then.get(test.name), instruments) for test in tests),
        papers=papers,
    )


def _tag(session: Session, row: Inspection) -> str:
    if row.piece_id is not None:
        return session.scalars(select(Piece.tag).where(Piece.id == row.piece_id)).one()
    return session.scalars(select(Batch.tag).where(Batch.id == row.batch_id)).one()


def _by_name(spec: SpecFacts | None, size_class: str) -> _Lines:
    return {} if spec is None else {line.name: line for line in spec.lines_for(size_class)}


def _line_done(
    figures: Sequence[Measurement],
    then: SpecLineFacts | None,
    now: SpecLineFacts | None,
    instruments: dict[int, str],
    sampled: bool,
) -> LineDone:
    readings = [Reading(each.point, each.direction, kept(each.figure, each.unit)) for each in figures]
    limits_then, judged_then = _judged(readings, then, sampled)
    limits_now, judged_now = _judged(readings, now, sampled)
    return LineDone(
        figures[0].kind,
        figures[0].name,
        tuple(
            ReadingDone(
                each.point,
                each.direction,
                each.figure,
                each.unit,
                _instrument_words(each.instrument_id, each.calibrated_on, instruments),
                _of(judged_then, place),
                _of(judged_now, place),
            )
            for place, each in enumerate(figures)
        ),
        limits_then,
        limits_now,
        judged_then,
        judged_now,
    )


def _judged(
    readings: Sequence[Reading], line: SpecLineFacts | None, sampled: bool
) -> tuple[LineLimits | None, LineJudged | None]:
    """By a line of one revision; by nothing where it has none, or measures it as another kind of thing."""
    if line is None or not line.kind.measured:
        return None, None
    if any(not same_kind(reading.measured.unit, line.unit) for reading in readings):
        return None, None
    limits = limits_of_sample(line.limits) if sampled else line.limits
    return limits, judge_line(readings, limits)


def _of(judged: LineJudged | None, place: int) -> Judged | None:
    return None if judged is None else judged.readings[place]


def _instrument_words(instrument: int | None, calibrated_on: date | None, known: dict[int, str]) -> str:
    """``M-03 bore gauge, calibrated on 2025-08-14``, as it was that day; '' for none."""
    if instrument is None:
        return ""
    said = f"calibrated on {calibrated_on.isoformat()}" if calibrated_on is not None else "not calibrated"
    return f"{known[instrument]}, {said}"


def _tested(test: BenchTest, line: SpecLineFacts | None, instruments: dict[int, str]) -> BenchTested:
    start = None if test.start_figure is None else kept(test.start_figure, test.unit)
    end = None if test.end_figure is None else kept(test.end_figure, test.unit)
    run = RunOfTest(
        *(test.kind, test.name, test.passed, test.found, test.method, start, end, test.held_seconds)
    )
    judged = judge_test(line, run)
    return BenchTested(
        test.kind,
        test.name,
        test.passed,
        f"against its figures: {judged.words}" if judged.against_figures else judged.words,
        test.found,
        test.method,
        test.medium,
        test.start_figure or "",
        test.end_figure or "",
        test.unit,
        test.held_seconds,
        _instrument_words(test.instrument_id, test.calibrated_on, instruments),
    )
