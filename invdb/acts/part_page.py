"""A part's page: all that the catalogue says of it, where it is used, and what there is of it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.life_limit import read_limits
from invdb.acts.part_changes import PartChange, part_changes
from invdb.acts.part_size import PartSizeFacts, sizes_of
from invdb.acts.part_uses import PartFit, UseFacts, part_fits, part_uses
from invdb.acts.spec import spec_on, specs_of
from invdb.acts.stand_in_graph import StandInGraph, stand_in_graph
from invdb.acts.stock_filter import StockFilter
from invdb.acts.stock_list import FITTED_KINDS, PAGE_MAX, StockRow, stock_rows
from invdb.acts.things import things_of_parts
from invdb.acts.work_list import WorkOrderFacts, work_orders
from invdb.records.catalogue import Family, OtherNumber, Part, PartHazard, StandIn, StandInMember
from invdb.records.documents import Document, DocumentLink
from invdb.records.doubts import Directive
from invdb.records.people import Firm, Person
from invdb.records.specs import FitLimit, Spec
from invdb.records.stock import Batch, Hold
from invdb.rules.life_limits import limit_words
from invdb.rules.quantities import quantity_words
from invdb.rules.spec_shown import SpecLineShown, spec_shown
from invdb.rules.specification import SpecFacts
from invdb.terms import Condition, Hazard, Measure, PaperKind, Refused, Tracking


@dataclass(frozen=True)
class NumberFacts:
    """A number by which others know the part, and whose it is; ``entry`` is what last set it."""

    id: int
    number: str
    kind: str
    firm: str
    entry: int


@dataclass(frozen=True)
class HazardFacts:
    """What can hurt a person who handles the part, with its caution; ``entry`` is what last set it."""

    id: int
    hazard: Hazard
    caution: str
    entry: int


@dataclass(frozen=True)
class StockFacts:
    """How much of the part there is in one condition, and how much of that is fitted in engines or pieces.

    In the smallest unit and in the measure's words; ``things`` is how many tags.
    """

    condition: Condition
    quantity: int
    words: str
    fitted: int
    fitted_words: str
    things: int


@dataclass(frozen=True)
class PartPaper:
    """A document of the part; ``about`` is what it stands behind: the part, a specification, a fit or a
    stand-in. ``kept`` where its content is here.
    """

    document: int
    kind: PaperKind
    reference: str
    title: str
    dated_on: date | None
    kept: bool
    about: str


@dataclass(frozen=True)
class PartHold:
    """A hold that stands against every piece of the part."""

    hold: int
    reason: str
    raised_on: date
    raised_by: str


@dataclass(frozen=True)
class PartDirective:
    """A directive that stands, for the part or for one batch of it (its tag)."""

    directive: int
    reference: str
    issue: str
    title: str
    authority: str
    method: str
    effective_on: date
    due_on: date | None
    batch: str


@dataclass(frozen=True)
class PartPage:
    """Everything of one part on a day; ``entry`` is what last set it.

    ``stock`` counts by condition, ``stock_rows`` are the pieces, and the batches where they lie; both are as
    of now, as are the work, the holds and the directives. ``work`` holds of each order the part's lines.
    """

    part: int
    house_number: str
    name: str
    family: str
    note: str
    tracking: Tracking
    measure: Measure
    critical: bool
    life_limited: bool
    limits: tuple[str, ...]
    shelf_life_months: int | None
    size_class: str
    finish: str
    entry: int
    numbers: tuple[NumberFacts, ...]
    hazards: tuple[HazardFacts, ...]
    sizes: tuple[PartSizeFacts, ...]
    spec: SpecFacts | None
    spec_lines: tuple[SpecLineShown, ...]
    specs: tuple[SpecFacts, ...]
    fits: tuple[PartFit, ...]
    uses: tuple[UseFacts, ...]
    stock: tuple[StockFacts, ...]
    stock_rows: tuple[StockRow, ...]
    work: tuple[WorkOrderFacts, ...]
    graph: StandInGraph
    papers: tuple[PartPaper, ...]
    holds: tuple[PartHold, ...]
    directives: tuple[PartDirective, ...]
    changes: tuple[PartChange, ...]


def part_page(session: Session, part: int, on: date | None = None) -> PartPage:
    """The page of a part as of a day (None: today). Refused for a part that is not in the catalogue."""
    day = as_of(session, on)
    row = session.execute(
        select(Part, Family.letters, Family.name.label("family"))
        .join(Family, Family.id == Part.family_id)
        .where(Part.id == part)
        .execution_options(populate_existing=True)
    ).one_or_none()
    if row is None:
        raise Refused("There is no such part.", "Find it by any of its numbers.")
    own: Part = row.Part
    graph = stand_in_graph(session, part, day)
    uses = part_uses(session, part, graph, day)
    limits = read_limits(session.connection(), {part: own.life_limit_hours}, day)[part]
    spec = spec_on(session, part, day)
    return PartPage(
        part,
        own.house_number,
        own.name,
        f"{row.letters} {row.family}",
        own.note,
        own.tracking,
        own.measure,
        own.critical,
        own.life_limited,
        tuple(map(limit_words, limits)),
        own.shelf_life_months,
        own.size_class,
        own.finish,
        own.set_by,
        _numbers(session, part, day),
        _hazards(session, part, day),
        sizes_of(session, part, day),
        spec,
        () if spec is None else tuple(map(spec_shown, spec.lines)),
        specs_of(session, part),
        part_fits(session, part, uses, day),
        uses,
        _stock(session, part, own.measure),
        stock_rows(session, StockFilter(part=part), limit=PAGE_MAX).rows,
        _work(session, own.house_number),
        graph,
        _papers(session, part),
        _holds(session, part),
        _directives(session, part),
        part_changes(session, part),
    )


def _numbers(session: Session, part: int, on: date) -> tuple[NumberFacts, ...]:
    rows = session.execute(
        select(OtherNumber.id, OtherNumber.number, OtherNumber.kind, Firm.name, OtherNumber.set_by)
        .outerjoin(Firm, Firm.id == OtherNumber.firm_id)
        .where(
            OtherNumber.part_id == part,
            or_(OtherNumber.withdrawn_on.is_(None), OtherNumber.withdrawn_on > on),
        )
        .order_by(OtherNumber.id)
    )
    return tuple(NumberFacts(row.id, row.number, row.kind, row.name or "", row.set_by) for row in rows)


def _hazards(session: Session, part: int, on: date) -> tuple[HazardFacts, ...]:
    rows = session.execute(
        select(PartHazard.id, PartHazard.hazard, PartHazard.caution, PartHazard.set_by)
        .where(
            PartHazard.part_id == part,
            or_(PartHazard.withdrawn_on.is_(None), PartHazard.withdrawn_on > on),
        )
        .order_by(PartHazard.id)
    )
    return tuple(HazardFacts(*row) for row in rows)


def _stock(session: Session, part: int, measure: Measure) -> tuple[StockFacts, ...]:
    amounts: dict[Condition, int] = defaultdict(int)
    fitted: dict[Condition, int] = defaultdict(int)
    things: dict[Condition, int] = defaultdict(int)
    for state in things_of_parts(session, [part]).values():
        if state.where:
            amounts[state.condition] += sum(where.quantity for where in state.where)
            fitted[state.condition] += sum(
                where.quantity for where in state.where if where.kind in FITTED_KINDS
            )
            things[state.condition] += 1
    return tuple(
        StockFacts(
            each,
            amounts[each],
            quantity_words(amounts[each], measure),
            fitted[each],
            quantity_words(fitted[each], measure) if fitted[each] else "",
            things[each],
        )
        for each in Condition
        if each in amounts
    )


def _work(session: Session, house_number: str) -> tuple[WorkOrderFacts, ...]:
    """The open orders that have some of the part out, each with its lines of the part alone."""
    found = []
    for order in work_orders(session):
        lines = tuple(line for line in order.lines if line.part_number == house_number and line.out)
        if lines:
            found.append(replace(order, lines=lines))
    return tuple(found)


def _papers(session: Session, part: int) -> tuple[PartPaper, ...]:
    """The documents of the part itself, then of its specifications, its fits and what stands in for it."""
    in_sets = select(StandInMember.stand_in_id).where(StandInMember.part_id == part)
    links = {
        "the part": select(DocumentLink.document_id).where(DocumentLink.part_id == part),
        "a specification": select(Spec.document_id).where(Spec.part_id == part),
        "a fit": select(FitLimit.document_id).where(
            or_(FitLimit.outer_part_id == part, FitLimit.inner_part_id == part)
        ),
        "a stand-in": select(StandIn.document_id).where(
            or_(StandIn.part_id == part, StandIn.id.in_(in_sets))
        ),
    }
    found: dict[int, PartPaper] = {}
    for about, linked in links.items():
        rows = session.execute(
            select(
                Document.id,
                Document.kind,
                Document.reference,
                Document.title,
                Document.dated_on,
                Document.sha256.is_not(None).label("kept"),
            )
            .where(Document.id.in_(linked))
            .order_by(Document.id)
        )
        for row in rows:
            found.setdefault(row.id, PartPaper(*row, about))
    return tuple(found.values())


def _holds(session: Session, part: int) -> tuple[PartHold, ...]:
    rows = session.execute(
        select(Hold.id, Hold.reason, Hold.raised_on, Person.name)
        .join(Person, Person.id == Hold.raised_by)
        .where(Hold.part_id == part, Hold.cleared_on.is_(None))
        .order_by(Hold.raised_on, Hold.id)
    )
    return tuple(PartHold(*row) for row in rows)


def _directives(session: Session, part: int) -> tuple[PartDirective, ...]:
    rows = session.execute(
        select(
            Directive.id,
            Directive.reference,
            Directive.issue,
            Directive.title,
            Directive.authority,
            Directive.method,
            Directive.effective_on,
            Directive.due_on,
            Batch.tag,
        )
        .outerjoin(Batch, Batch.id == Directive.batch_id)
        .where(or_(Directive.part_id == part, Batch.part_id == part), Directive.withdrawn_on.is_(None))
        .order_by(Directive.effective_on, Directive.id)
    )
    return tuple(PartDirective(*row[:-1], row.tag or "") for row in rows)
