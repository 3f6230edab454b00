"""The whole story of one piece or batch: where it came from, every entry, papers, places, doubts and gaps."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from sqlalchemy import Row, select
from sqlalchemy.orm import Session, aliased

from invdb.acts.concession_lines import ConcessionFacts, concession_lines
from invdb.acts.engine_runs import engine_runs
from invdb.acts.event_doubts import Taint, taints_on
from invdb.acts.inspections_of import inspections_of
from invdb.acts.life import life_of
from invdb.acts.numbers import Thing, thing_by_tag
from invdb.acts.shown import printed_at, workshop_name
from invdb.acts.stays import parts_of, place_words, quantities_at, stays_of
from invdb.acts.story import entries_about, licence_words, of_thing, on_part, refuse_if_reversed
from invdb.records.catalogue import OtherNumber, Part, PartHazard
from invdb.records.documents import Document, DocumentLink
from invdb.records.doubts import Compliance, Directive
from invdb.records.engines import Engine
from invdb.records.ledger import Entry, EntryLine, LedgerHead
from invdb.records.life import figure
from invdb.records.people import Firm, Owner, Person
from invdb.records.stock import Batch, Hold, Piece, Pull, PullLine
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.history import (
    ComplianceLine,
    ConcessionLine,
    EngineTime,
    EventLine,
    HoldLine,
    KinBatch,
    MadeHere,
    PaperLine,
    QuantityAt,
    ReceivingCheck,
    TraceSheet,
    gaps,
)
from invdb.rules.pick_list import HazardNote
from invdb.rules.quantities import quantity_words
from invdb.terms import LineKind, Measure, Origin, PriorLife, Refused

_MADE_HERE = (
    "drawing",
    "drawing_revision",
    "material",
    "material_certificate",
    "made_by",
    "made_inspected_by",
)


def trace(session: Session, tag_text: str) -> TraceSheet:
    """Everything recorded of the piece or batch whose tag a person typed or scanned.

    Refused when the tag is mistyped, not known, or was booked in and that was reversed; each said apart.
    """
    refuse_if_reversed(session, tag_text)
    return trace_thing(session, thing_by_tag(session, tag_text))


def trace_thing(session: Session, thing: Thing) -> TraceSheet:
    """Everything recorded of one piece or batch by its id; Refused when it is not in the store."""
    row = _thing_row(session, thing)
    papers = _papers(session, thing)
    stays = stays_of(session, thing.piece) if thing.piece is not None else ()
    quantities = quantities_at(session, thing.batch) if thing.batch is not None else ()
    prior_hours, prior_starts = _prior(row, "hours"), _prior(row, "starts")
    life = life_of(session, [thing.piece])[thing.piece] if thing.piece is not None else None
    overhauled = life is not None and bool(life.report)
    head = session.execute(select(LedgerHead.number, LedgerHead.hash)).one()
    made = tuple(getattr(row, name) for name in _MADE_HERE)
    return TraceSheet(
        workshop=workshop_name(session),
        printed_at=printed_at(session),
        tag=row.tag,
        is_batch=thing.batch is not None,
        part_number=row.part_number,
        part_name=row.part_name,
        owner=row.owner,
        condition=row.condition,
        origin=row.origin,
        received_on=row.received_on,
        where_now=_where_now(session, thing, row, quantities),
        last_entry=head.number,
        last_hash=head.hash,
        other_numbers=_other_numbers(session, row.part_id),
        serial=row.serial or "" if thing.piece is not None else "",
        maker_batch=row.maker_batch if thing.batch is not None else "",
        scope=row.scope,
        accepted_by=_signed(row.accepted_by_name, row.licence_kind, row.licence_number),
        accepted_on=row.accepted_on,
        work_state=row.work_state,
        work_reference=row.work_reference,
        used=row.used,
        life_limited=row.life_limited,
        origin_firm=row.origin_firm or "",
        donor=" ".join(part for part in (row.donor_engine, row.donor) if part),
        prior_hours=prior_hours,
        prior_starts=prior_starts,
        hours_in_all=life.since_new.hours.known() if life is not None else None,
        starts_in_all=life.since_new.starts.known() if life is not None else None,
        overhauled_on=life.overhauled_on if life is not None else None,
        hours_since_overhaul=life.since_overhaul.hours.known() if life is not None and overhauled else None,
        starts_since_overhaul=life.since_overhaul.starts.known() if life is not None and overhauled else None,
        limits=life.stands.lines if life is not None else (),
        made_here=MadeHere(*made) if row.origin is Origin.MADE_HERE or any(made) else None,
        checks=(
            ReceivingCheck("right part", row.check_right_part),
            ReceivingCheck("papers", row.check_papers),
            ReceivingCheck("damage", row.check_damage),
            ReceivingCheck("hazards", row.check_hazards),
        ),
        shelf_expiry_on=row.shelf_expiry_on,
        hazards=_hazards(session, row.part_id),
        holds=_holds(session, thing, row),
        events=tuple(map(_event, taints_on(session, [thing]).get(thing, ()))),
        concessions=tuple(map(_concession, concession_lines(session, piece=thing.piece)))
        if thing.piece is not None
        else (),
        compliances=_compliances(session, thing.piece) if thing.piece is not None else (),
        inspections=inspections_of(session, thing),
        papers=papers,
        stays=stays,
        engine_times=tuple(_engine_times(session, thing, row.measure)),
        part_of=parts_of(session, thing.piece) if thing.piece is not None else (),
        entries=entries_about(session, thing, row.part_id, row.received_on),
        gaps=gaps(
            row.origin,
            row.received_on,
            prior_hours=prior_hours,
            prior_starts=prior_starts,
            papers=papers,
            stays=stays,
        ),
        measure=row.measure,
        quantities=quantities,
        kin=_kin(session, thing.batch, row) if thing.batch is not None else (),
        note=row.note,
    )


def _thing_row(session: Session, thing: Thing) -> Row[*tuple[Any, ...]]:
    table: type[Piece] | type[Batch] = Piece if thing.piece is not None else Batch
    accepted = aliased(Person)
    query = (
        select(
            *table.__table__.columns.values(),
            Part.house_number.label("part_number"),
            Part.name.label("part_name"),
            Part.measure,
            Part.life_limited,
            Owner.name.label("owner"),
            Firm.name.label("origin_firm"),
            Engine.name.label("donor_engine"),
            accepted.name.label("accepted_by_name"),
            accepted.licence_kind,
            accepted.licence_number,
        )
        .join(Part, Part.id == table.part_id)
        .join(Owner, Owner.id == table.owner_id)
        .outerjoin(Firm, Firm.id == table.origin_firm_id)
        .outerjoin(Engine, Engine.id == table.donor_engine_id)
        .outerjoin(accepted, accepted.id == table.accepted_by)
    )
    row = session.execute(
        query.where(table.id == (thing.piece if thing.piece is not None else thing.batch))
    ).one_or_none()
    if row is None:
        raise Refused("That piece or batch is no longer in the store.", "Look again.")
    return row


def _signed(name: str | None, licence_kind: str | None, licence_number: str | None) -> str:
    """``Ada Farrow (engine inspector HL 2041)``; the name alone of one who holds no licence."""
    licence = licence_words(licence_kind, licence_number)
    return f"{name or ''} ({licence})" if licence else name or ""


def _prior(row: Row[*tuple[Any, ...]], what: str) -> PriorLife | None:
    """Prior hours or starts of a piece; a batch has none kept."""
    known, low, high = (getattr(row, f"prior_{what}_{end}", None) for end in ("known", "low", "high"))
    return None if known is None else figure(known, low, high)


def _where_now(
    session: Session, thing: Thing, row: Row[*tuple[Any, ...]], quantities: Sequence[QuantityAt]
) -> str:
    if thing.piece is not None:
        pull = session.scalar(
            select(Pull.number)
            .join(PullLine, PullLine.pull_id == Pull.id)
            .where(PullLine.id == row.reserved_for)
        )
        reserved = f" (reserved for pull {pull})" if pull else ""
        return f"{place_words(session, row.place_id)}{reserved}"
    if len(quantities) > 1:
        return f"{len(quantities)} places"
    return quantities[0].place if quantities else "nowhere: nothing is left of it"


def _other_numbers(session: Session, part: int) -> tuple[tuple[str, str], ...]:
    rows = session.execute(
        select(OtherNumber.kind, OtherNumber.number)
        .where(OtherNumber.part_id == part, OtherNumber.withdrawn_on.is_(None))
        .order_by(OtherNumber.id)
    )
    return tuple((f"{kind} number", number) for kind, number in rows)


def _hazards(session: Session, part: int) -> tuple[HazardNote, ...]:
    rows = session.execute(
        select(PartHazard.hazard, PartHazard.caution)
        .where(PartHazard.part_id == part, PartHazard.withdrawn_on.is_(None))
        .order_by(PartHazard.id)
    )
    return tuple(HazardNote(str(hazard), caution) for hazard, caution in rows)


def _holds(session: Session, thing: Thing, row: Row[*tuple[Any, ...]]) -> tuple[HoldLine, ...]:
    raiser, clearer = aliased(Person), aliased(Person)
    holds = session.execute(
        select(
            Hold.part_id,
            Hold.reason,
            Hold.raised_on,
            raiser.name.label("raised_by"),
            Hold.cleared_on,
            clearer.name.label("cleared_by"),
            Hold.cleared_because,
        )
        .join(raiser, raiser.id == Hold.raised_by)
        .outerjoin(clearer, clearer.id == Hold.cleared_by)
        .where(of_thing(Hold, thing) | on_part(row.part_id, row.received_on))
        .order_by(Hold.raised_on, Hold.id)
    )
    this = "this piece" if thing.piece is not None else "this batch"
    return tuple(
        HoldLine(
            hold.reason,
            hold.raised_on,
            hold.raised_by,
            f"the part {row.part_number}" if hold.part_id is not None else this,
            hold.cleared_on,
            hold.cleared_by or "",
            hold.cleared_because,
        )
        for hold in holds
    )


def _event(taint: Taint) -> EventLine:
    event, cleared = taint.event, taint.cleared
    if cleared is None:
        return EventLine(event.words, event.on, event.note, event.fitted_only)
    return EventLine(
        event.words,
        event.on,
        event.note,
        event.fitted_only,
        cleared.on,
        cleared.by,
        cleared.inspection,
    )


def _concession(facts: ConcessionFacts) -> ConcessionLine:
    where = ", ".join(word for word in (facts.engine_name, facts.position_name) if word)
    return ConcessionLine(
        facts.reference,
        facts.authority,
        str(facts.over),
        facts.allows,
        where,
        facts.document_words,
        facts.terms.from_on,
        facts.ends,
        facts.left,
        str(facts.standing.verdict),
        facts.standing.in_force,
    )


def _engine_times(session: Session, thing: Thing, measure: Measure) -> Iterator[EngineTime]:
    """What went into an engine on one day and came out on one, of a batch, is told once."""
    amounts: dict[tuple[date, date | None, str, str, PriorLife, PriorLife], int] = {}
    for run in engine_runs(session, thing):
        ended = None if run.ended is None else run.ended[0]
        ran = (run.ran.hours.known(), run.ran.starts.known())
        time = (run.began[0], ended, run.engine_name, run.seat, *ran)
        amounts[time] = amounts.get(time, 0) + run.quantity
    for (from_on, to_on, engine, seat, hours, starts), quantity in amounts.items():
        where = seat if thing.piece is not None else quantity_words(quantity, measure)
        yield EngineTime(from_on, to_on, engine, where, hours, starts)


def _compliances(session: Session, piece: int) -> tuple[ComplianceLine, ...]:
    rows = session.execute(
        select(
            Directive.reference,
            Directive.issue,
            Directive.title,
            Compliance.complied_on,
            Person.name,
            Compliance.method,
        )
        .join(Directive, Directive.id == Compliance.directive_id)
        .join(Person, Person.id == Compliance.complied_by)
        .where(Compliance.piece_id == piece)
        .order_by(Compliance.complied_on, Compliance.set_by)
    )
    return tuple(
        ComplianceLine(
            f"{row.reference}{f' issue {row.issue}' if row.issue else ''}: {row.title}",
            row.complied_on,
            row.name,
            row.method,
        )
        for row in rows
    )


def _papers(session: Session, thing: Thing) -> tuple[PaperLine, ...]:
    rows = session.execute(
        select(
            Document.kind,
            Document.reference,
            Document.dated_on,
            Firm.name.label("firm"),
            Document.title,
            Document.sha256,
        )
        .join(DocumentLink, DocumentLink.document_id == Document.id)
        .outerjoin(Firm, Firm.id == Document.firm_id)
        .where(of_thing(DocumentLink, thing))
        .order_by(Document.dated_on.is_(None), Document.dated_on, Document.id)
    )
    return tuple(
        PaperLine(row.kind, row.reference, row.dated_on, row.firm or "", row.title, row.sha256 is not None)
        for row in rows
    )


def _kin(session: Session, batch: int, row: Row[*tuple[Any, ...]]) -> tuple[KinBatch, ...]:
    """The batch that this one was split from, and those split from it, each with how much and when."""
    of_children = Batch.parent_batch_id == batch
    relatives = session.execute(
        select(Batch.id, Batch.tag, Batch.condition, Batch.parent_batch_id)
        .where(of_children | (Batch.id == row.parent_batch_id))
        .order_by(Batch.id)
    ).all()
    children = [relative.id for relative in relatives if relative.parent_batch_id == batch]
    reversal = aliased(Entry)
    # A batch begins with the first line that brings it from outside; here that is the split.
    began: dict[int, tuple[int, date]] = {}
    for split_off, quantity, happened_on in session.execute(
        select(EntryLine.batch_id, EntryLine.quantity, Entry.happened_on)
        .join(Entry, Entry.number == EntryLine.entry_number)
        .where(
            EntryLine.batch_id.in_([*children, batch]),
            EntryLine.kind == LineKind.MOVE,
            EntryLine.from_place_id == OUTSIDE_PLACE,
            ~select(reversal.number).where(reversal.reverses == Entry.number).exists(),
        )
        .order_by(Entry.number)
    ):
        began.setdefault(split_off or 0, (quantity, happened_on))
    return tuple(
        KinBatch(
            relative.tag,
            "split from" if relative.id == row.parent_batch_id else "split into",
            relative.condition,
            *began.get(batch if relative.id == row.parent_batch_id else relative.id, (None, None)),
        )
        for relative in relatives
    )
