"""Lay out the sheet of an inspection: what is to be measured and tested, and what it read last."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.accept import CHECK_WORDS
from invdb.acts.as_of import as_of
from invdb.acts.inspect import refuse_gone, subject_on
from invdb.acts.instrument import instruments
from invdb.acts.measured import KeptReading, latest_measurements
from invdb.acts.numbers import Thing
from invdb.acts.part_size import STANDARD, sizes_of
from invdb.acts.shown import printed_at, workshop_name
from invdb.acts.spec import spec_on
from invdb.acts.things import ThingState
from invdb.records.catalogue import Part, PartHazard
from invdb.rules.inspection_sheet import InstrumentNote, LastReading, SheetLine, SheetToFill
from invdb.rules.limits import judge
from invdb.rules.measuring import kept, same_kind
from invdb.rules.pick_list import HazardNote
from invdb.rules.specification import SpecFacts, SpecLineFacts, single_spaced
from invdb.terms import FieldRefused

Last = Mapping[str, tuple[KeptReading, ...]]


def inspection_sheet(session: Session, thing: Thing, on: date | None = None) -> SheetToFill:
    """The sheet for a piece or a batch, by the specification in force on a day (None: today).

    Refused for what is scrapped or gone, and for a day before it came.
    """
    day = as_of(session, on)
    subject = subject_on(session, thing, day)
    state = subject.state
    refuse_gone(session, state, day)
    last: Last = {}
    if thing.piece is not None:
        last = latest_measurements(session, [thing.piece], day).get(thing.piece, {})
    sheet = _sheet(session, subject.part, subject.size_class, subject.spec, subject.lines, last, day)
    return replace(
        sheet,
        finish=state.finish,
        tag=state.tag,
        is_batch=subject.batch,
        serial=state.serial,
        condition=state.condition,
        scope=state.scope,
        where=", ".join(where.name for where in state.where),
        owner=state.owner_name,
        checks_missing=_checks_missing(state),
        against=_against(state, day),
    )


def sheet_for_part(session: Session, part: int, size_class: str = "", on: date | None = None) -> SheetToFill:
    """The sheet for any piece of a part in one of its sizes ('': its own); FieldRefused for another size."""
    day = as_of(session, on)
    sizes = [each.size_class for each in sizes_of(session, part, day)]
    wanted = single_spaced(size_class).casefold()
    if wanted in STANDARD and not sizes[0]:
        wanted = ""
    alike = (each for each in sizes if single_spaced(each).casefold() == wanted)
    named = sizes[0] if not wanted else next(alike, None)
    if named is None:
        known = ", ".join(size for size in sizes if size) or "none but the standard one"
        raise FieldRefused(
            "size_class", f"The part has no size {single_spaced(size_class)!r}.", f"Its sizes are: {known}."
        )
    spec = spec_on(session, part, day)
    lines = spec.lines_for(named) if spec is not None else ()
    return _sheet(session, part, named, spec, lines, {}, day)


def _sheet(
    session: Session,
    part: int,
    size_class: str,
    spec: SpecFacts | None,
    lines: tuple[SpecLineFacts, ...],
    last: Last,
    on: date,
) -> SheetToFill:
    row = session.execute(select(Part.house_number, Part.name, Part.finish).where(Part.id == part)).one()
    hazards = session.execute(
        select(PartHazard.hazard, PartHazard.caution)
        .where(PartHazard.part_id == part, PartHazard.withdrawn_on.is_(None))
        .order_by(PartHazard.id)
    )
    return SheetToFill(
        workshop=workshop_name(session),
        printed_at=printed_at(session),
        on=on,
        part_number=row.house_number,
        part_name=row.name,
        size_class=size_class,
        finish=row.finish,
        spec=None if spec is None else spec.id,
        revision="" if spec is None else spec.revision,
        source="" if spec is None else spec.source,
        document="" if spec is None else spec.document,
        lines=tuple(SheetLine(line, _last_of(line, last.get(line.name, ()))) for line in lines),
        hazards=tuple(HazardNote(str(hazard), caution) for hazard, caution in hazards),
        instruments=tuple(
            InstrumentNote(
                each.id, each.number, each.name, each.calibrated_on, each.calibration_due_on, each.doubt
            )
            for each in instruments(session, on)
        ),
    )


def _last_of(line: SpecLineFacts, readings: tuple[KeptReading, ...]) -> tuple[LastReading, ...]:
    """What a line read last, judged by its limits now; nothing where it was then measured in another kind."""
    return tuple(
        LastReading(
            each.point,
            each.direction,
            each.figure,
            each.unit,
            each.measured_on,
            judge(kept(each.figure, each.unit).value, line.limits),
        )
        for each in readings
        if line.kind.measured and same_kind(each.unit, line.unit)
    )


def _checks_missing(state: ThingState) -> tuple[str, ...]:
    """The receiving checks not recorded yet; that of hazards only for a part that has some."""
    return tuple(
        CHECK_WORDS[name]
        for name, found in state.checks
        if not found and (name != "hazards" or state.hazards)
    )


def _against(state: ThingState, on: date) -> tuple[str, ...]:
    """What stands against accepting it, apart from what the inspection itself finds."""
    said = [f"it is on hold: {reason}" for reason in state.holds]
    said += [f"it was {doubt}" for doubt in state.doubts]
    if state.shelf_expiry_on is not None and state.shelf_expiry_on <= on:
        said.append(f"its shelf life ended on {state.shelf_expiry_on.isoformat()}")
    if state.reserved_for:
        said.append(f"it is reserved for pull {state.reserved_for[0]}")
    return tuple(said)
