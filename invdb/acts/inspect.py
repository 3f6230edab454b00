"""Inspect a piece or a batch: keep what it measured and how its tests went, and decide its condition."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.accept import (
    Acceptance,
    draft_accepted,
    draft_condition,
    licensed_to,
    refuse_reserved,
)
from invdb.acts.as_of import as_of
from invdb.acts.believed import When, records_believed
from invdb.acts.by import By, begin_draft, refuse_before_it_came
from invdb.acts.goods_in import ReceivingChecks
from invdb.acts.measured import KeptReading, latest_measurements
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, draft_paper, refuse_unknown_document
from invdb.acts.spec import spec_on
from invdb.acts.things import ThingState, things_by_id
from invdb.acts.typed_readings import BenchReader, ReadReading, ReadTest, TypedReading, TypedTest
from invdb.records.catalogue import Part
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.records.stock import Batch, Piece, Place, Stay
from invdb.records.work import Scrapping
from invdb.rules.inspecting import Proposed, check_decision, propose
from invdb.rules.limits import Reading
from invdb.rules.measuring import sort_key
from invdb.rules.photographs import is_picture
from invdb.rules.specification import SpecFacts, SpecLineFacts
from invdb.terms import Asked, Condition, EntryKind, PaperKind, PlaceKind, Refused, Scope, WorkState

_GONE = frozenset({PlaceKind.SCRAP, PlaceKind.OUTSIDE})
# Where what is there is seldom measured.
_OUT_OF_REACH = frozenset({PlaceKind.STATION, PlaceKind.FIRM})


@dataclass(frozen=True)
class InspectionOrder:
    """A sheet filled in for a piece or a batch, and what the person decided by it.

    ``scope``, ``checks`` and ``override`` are for what is decided to be serviceable, as in ``Acceptance``.
    ``reason`` is given for a decision against the figures. ``photographs`` are taken in with it;
    ``documents`` are here already. ``sure``: what was asked about is so.
    """

    thing: Thing
    readings: tuple[TypedReading, ...]
    tests: tuple[TypedTest, ...]
    decided: Condition
    scope: Scope | None = None
    checks: ReceivingChecks = ReceivingChecks()
    reason: str = ""
    to_place: int | None = None
    photographs: tuple[NewPaper, ...] = ()
    documents: tuple[int, ...] = ()
    override: str = ""
    note: str = ""
    sure: bool = False


@dataclass(frozen=True)
class Subject:
    """What is inspected, as it was on a day: its part, size ('' for standard), its condition and what it was
    accepted for as these stood, and the lines that hold for it."""

    state: ThingState
    part: int
    size_class: str
    standing: Condition
    scope: Scope | None
    spec: SpecFacts | None
    lines: tuple[SpecLineFacts, ...]

    @property
    def batch(self) -> bool:
        """Whether it is a batch, of which a sample is measured."""
        return self.state.thing.batch is not None


def inspect(session: Session, order: InspectionOrder, by: By) -> int:
    """Keep an inspection and set the condition that was decided; returns the inspection's id.

    By the specification in force on the day. What is decided to be serviceable is accepted in the same entry,
    by all that acceptance asks. FieldRefused for figures that can't be, for a decision that the figures
    forbid, and for one against them without a reason; Refused for what is scrapped or was not here that day;
    Asked for what may be a slip of the pen.
    """
    draft = begin_draft(session, EntryKind.INSPECTED, by)
    licensed = licensed_to(session, draft, order.override)
    subject, readings, tests, proposed = _looked_at(session, order, draft.happened_on)
    check_decision(proposed, order.decided, order.scope, order.reason)
    inspection = draft.new(
        session,
        "inspection",
        piece_id=order.thing.piece,
        batch_id=order.thing.batch,
        part_id=subject.part,
        spec_id=None if subject.spec is None else subject.spec.id,
        size_class=subject.size_class,
        inspected_on=draft.happened_on,
        inspected_by=by.person,
        licence_number=_licence_then(session, by.person, draft.happened_on),
        proposed=proposed.condition,
        decided=order.decided,
        scope=order.scope,
        reason=order.reason,
        note=order.note,
    )
    _draft_found(session, draft, inspection, order.thing, readings, tests)
    _draft_papers(session, draft, inspection, order)
    _draft_decision(session, draft, subject, order, proposed, licensed)
    _draft_work_state(session, draft, inspection, order)
    post(session, draft)
    return inspection


def called_for(session: Session, order: InspectionOrder, on: date | None = None) -> Proposed:
    """What a sheet's figures and tests call for on a day (None: today); nothing is kept or decided.

    Refused, and Asked, as ``inspect`` is.
    """
    return _looked_at(session, order, as_of(session, on))[3]


def _looked_at(
    session: Session, order: InspectionOrder, on: date
) -> tuple[Subject, tuple[ReadReading, ...], tuple[ReadTest, ...], Proposed]:
    """What is inspected, its figures and its tests as read, and what they call for."""
    subject = subject_on(session, order.thing, on)
    refuse_gone(session, subject.state, on)
    if not order.readings and not order.tests:
        raise Refused("Nothing was measured or tested.", "Give a figure, or how a test went.")
    last: Mapping[str, tuple[KeptReading, ...]] = {}
    if order.thing.piece is not None:
        last = latest_measurements(session, [order.thing.piece], on).get(order.thing.piece, {})
    reader = BenchReader(session, subject.lines, on, last=last, sampled=subject.batch, sure=order.sure)
    readings, tests = reader.readings(order.readings), reader.tests(order.tests)
    reader.ask()
    if readings and not order.sure:
        _ask_if_out_of_reach(session, subject.state, on)
    return subject, readings, tests, _proposal(subject, readings, tests)


def subject_on(session: Session, thing: Thing, on: date) -> Subject:
    """What a thing was on a day, and the specification that was in force for it; Refused before it came."""
    state = things_by_id(session, [thing])[thing]
    refuse_before_it_came(state.tag, state.received_on, on)
    record, record_id = _record(thing)
    then = records_believed(session, record, [record_id], When(on)).get(record_id, {})
    part = int(then.get("part_id") or state.part)
    own_size = session.scalars(select(Part.size_class).where(Part.id == part)).one()
    size_class = str(then.get("size_class") or "") or own_size
    spec = spec_on(session, part, on)
    standing = Condition(str(then.get("condition") or state.condition))
    scope = Scope(str(then["scope"])) if then.get("scope") else None
    lines = spec.lines_for(size_class) if spec is not None else ()
    return Subject(state, part, size_class, standing, scope, spec, lines)


def _record(thing: Thing) -> tuple[str, int]:
    if thing.piece is not None:
        return "piece", thing.piece
    assert thing.batch is not None
    return "batch", thing.batch


def refuse_gone(session: Session, state: ThingState, on: date) -> None:
    """Refuse to measure what was scrapped, or was no longer here, on a day."""
    piece = state.thing.piece
    kinds = {where.kind for where in state.where}
    if piece is not None:
        scrapped = session.scalar(
            select(Scrapping.scrapped_on)
            .where(Scrapping.piece_id == piece, Scrapping.scrapped_on <= on)
            .order_by(Scrapping.scrapped_on)
            .limit(1)
        )
        if scrapped is not None:
            raise Refused(
                f"{state.tag} was scrapped on {scrapped.isoformat()}.",
                "Check the tag: nothing measures it now.",
            )
        kinds = {kind for kind, _, left in _stays_on(session, piece, on) if left is None or left > on}
    if kinds <= _GONE:
        gone = "is in the scrap drum" if PlaceKind.SCRAP in kinds else "is no longer here"
        raise Refused(f"{state.tag} {gone}.", "Check the tag: only what is here can be measured.")


def _stays_on(session: Session, piece: int, on: date) -> list[tuple[PlaceKind, str, date | None]]:
    """Where a piece was at any hour of a day: the kind and the name of each place, and when it left that."""
    rows = session.execute(
        select(Place.kind, Place.name, Stay.to_on)
        .join(Stay, Stay.place_id == Place.id)
        .where(Stay.piece_id == piece, Stay.from_on <= on, or_(Stay.to_on.is_(None), Stay.to_on >= on))
    )
    return [(row.kind, row.name, row.to_on) for row in rows]


def _ask_if_out_of_reach(session: Session, state: ThingState, on: date) -> None:
    """Ask whether a piece that was in an engine or out at a firm was measured there: its tag may be wrong."""
    if state.thing.piece is None:
        return
    stays = _stays_on(session, state.thing.piece, on)
    if all(kind in _OUT_OF_REACH for kind, _, _ in stays):
        names = " and ".join(repr(name) for _, name, _ in stays)
        raise Asked(
            "decided",
            f"{state.tag} was not on the bench on {on.isoformat()}; its place was {names}.",
            "Check the tag, or say that it was measured there.",
        )


def _proposal(subject: Subject, readings: tuple[ReadReading, ...], tests: tuple[ReadTest, ...]) -> Proposed:
    """The condition that figures and tests call for."""
    by_name: dict[str, list[Reading]] = defaultdict(list)
    for each in readings:
        by_name[each.name].append(each.reading)
    return propose(
        subject.lines,
        by_name,
        (each.run for each in tests),
        subject.standing,
        sampled=subject.batch,
    )


def _licence_then(session: Session, person: int, on: date) -> str:
    """A person's licence number as it was on a day."""
    then = records_believed(session, "person", [person], When(on)).get(person, {})
    return str(then.get("licence_number") or "")


def _draft_found(
    session: Session,
    draft: Draft,
    inspection: int,
    thing: Thing,
    readings: tuple[ReadReading, ...],
    tests: tuple[ReadTest, ...],
) -> None:
    for each in readings:
        measured = each.reading.measured
        draft.new(
            session,
            "measurement",
            inspection_id=inspection,
            piece_id=thing.piece,
            batch_id=thing.batch,
            spec_line_id=None if each.line is None else each.line.id,
            kind=each.kind,
            name=each.name,
            point=each.reading.point,
            direction=each.reading.direction,
            figure=measured.text,
            unit=measured.unit,
            sorted_by=sort_key(measured),
            measured_on=draft.happened_on,
            instrument_id=None if each.instrument is None else each.instrument.id,
            calibrated_on=None if each.instrument is None else each.instrument.calibrated_on,
        )
    for test in tests:
        start, end = test.run.start, test.run.end
        draft.new(
            session,
            "bench_test",
            inspection_id=inspection,
            spec_line_id=None if test.line is None else test.line.id,
            kind=test.run.kind,
            name=test.run.name,
            method=test.run.method,
            medium=test.medium,
            unit="" if start is None else start.unit,
            start_figure=None if start is None else start.text,
            end_figure=None if end is None else end.text,
            held_seconds=test.run.held_seconds,
            passed=test.judged.passed,
            found=test.run.found,
            instrument_id=None if test.instrument is None else test.instrument.id,
            calibrated_on=None if test.instrument is None else test.instrument.calibrated_on,
        )


def _draft_papers(session: Session, draft: Draft, inspection: int, order: InspectionOrder) -> None:
    """Photographs belong to the inspection alone: they are no papers that a piece is accepted by.

    Asked for a file that is to be a photograph and is no picture.
    """
    for paper in order.photographs:
        picture = paper.kind is not PaperKind.PHOTOGRAPH or paper.content is None or is_picture(paper.content)
        if not picture and not order.sure:
            raise Asked(
                "photographs",
                f"{paper.file_name or paper.reference} is no picture of a kind known here.",
                "Choose the photograph's file, or say that it is one.",
            )
    for document in order.documents:
        refuse_unknown_document(session, document)
    taken = [draft_paper(session, draft, paper) for paper in order.photographs]
    for document in dict.fromkeys((*order.documents, *taken)):
        draft.new(session, "inspection_paper", inspection_id=inspection, document_id=document)


def _draft_decision(
    session: Session,
    draft: Draft,
    subject: Subject,
    order: InspectionOrder,
    proposed: Proposed,
    licensed: bool,
) -> None:
    """Put in the condition decided, unless it is what the thing was that day already and nothing speaks
    against it."""
    state = subject.state
    as_it_was = (order.decided, order.scope) == (subject.standing, subject.scope)
    if as_it_was and order.to_place is None and not proposed.bad:
        return
    if order.decided is not Condition.SERVICEABLE:
        draft_condition(session, draft, state, order.decided, order.to_place)
        return
    assert order.scope is not None, "check_decision asks for it"
    if state.scope is not None and not order.scope.covers(state.scope):
        refuse_reserved(state)
    # What made it unserviceable, or accepted it before, is what this inspection looked at.
    looked_at = (
        state
        if state.condition is Condition.UNSALVAGEABLE
        else replace(state, condition=Condition.UNINSPECTED, scope=None)
    )
    acceptance = Acceptance((state.thing,), order.scope, order.checks, order.to_place, order.override)
    draft_accepted(session, draft, looked_at, acceptance, licensed)


def _draft_work_state(session: Session, draft: Draft, inspection: int, order: InspectionOrder) -> None:
    """What was as it was received has been inspected, once anything was decided by it."""
    if order.decided is Condition.UNINSPECTED:
        return
    record, record_id = _record(order.thing)
    table = Piece if order.thing.piece is not None else Batch
    row = session.execute(select(table.work_state, table.work_reference).where(table.id == record_id)).one()
    if row.work_state is WorkState.AS_RECEIVED:
        draft.set(
            record,
            record_id,
            work_state=WorkState.INSPECTED,
            work_reference=row.work_reference or f"inspection {inspection}",
        )
