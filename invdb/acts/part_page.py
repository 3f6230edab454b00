"""A part's page: all that the catalogue says of it, where it is used, and what there is of it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.fit_limit import FitLimitFacts, fit_limits_of
from invdb.acts.life_limit import read_limits
from invdb.acts.mods_embodied import mod_names
from invdb.acts.part_size import PartSizeFacts, sizes_of
from invdb.acts.scrap import hazards_of
from invdb.acts.spec import spec_on, specs_of
from invdb.acts.stand_in_graph import StandInGraph, stand_in_graph
from invdb.acts.things import things_of_parts
from invdb.records.catalogue import Family, KitLine, OtherNumber, Part
from invdb.records.documents import Document, DocumentLink
from invdb.records.engines import EngineType
from invdb.records.ledger import Entry, EntryFact
from invdb.records.people import Firm, Person
from invdb.records.stock import Hold
from invdb.rules.effectivity import Effectivity, effectivity_words, names_of
from invdb.rules.life_limits import limit_words
from invdb.rules.quantities import quantity_words
from invdb.rules.specification import SpecFacts
from invdb.terms import Condition, Hazard, Measure, PaperKind, Refused, Tracking

CHANGES_MAX = 200


@dataclass(frozen=True)
class NumberFacts:
    """A number by which others know the part, and whose it is."""

    id: int
    number: str
    kind: str
    firm: str
    entry: int


@dataclass(frozen=True)
class UseFacts:
    """A kit line that asks for the part, or for another that it may stand in for (its number, '' for
    itself).
    """

    kit_line: int
    engine_type: str
    group: str
    sequence: int
    station: str
    quantity: str
    holds: str
    renewed_always: bool
    instead_of: str
    note: str
    ended: bool
    entry: int


@dataclass(frozen=True)
class StockFacts:
    """How much of the part there is in one condition, in the measure's words, and in how many places."""

    condition: Condition
    quantity: int
    words: str
    things: int


@dataclass(frozen=True)
class PartPaper:
    """A document of the part."""

    document: int
    kind: PaperKind
    reference: str
    title: str
    dated_on: date | None
    kept: bool


@dataclass(frozen=True)
class PartChange:
    """That somebody changed what the catalogue says of the part, and what: dated, signed and kept."""

    entry: int
    happened_on: date
    who: str
    what: tuple[str, ...]
    note: str


@dataclass(frozen=True)
class PartPage:
    """Everything of one part on a day; ``entry`` is what last set it."""

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
    hazards: tuple[tuple[Hazard, str], ...]
    sizes: tuple[PartSizeFacts, ...]
    spec: SpecFacts | None
    specs: tuple[SpecFacts, ...]
    fits: tuple[FitLimitFacts, ...]
    uses: tuple[UseFacts, ...]
    stock: tuple[StockFacts, ...]
    graph: StandInGraph
    papers: tuple[PartPaper, ...]
    holds: tuple[str, ...]
    changes: tuple[PartChange, ...]


def part_page(session: Session, part: int, on: date | None = None) -> PartPage:
    """The page of a part as of a day (None: today). Refused for a part that is not in the catalogue."""
    day = as_of(session, on)
    row = session.execute(
        select(Part, Family.letters, Family.name.label("family"))
        .join(Family, Family.id == Part.family_id)
        .where(Part.id == part)
    ).one_or_none()
    if row is None:
        raise Refused("There is no such part.", "Find it by any of its numbers.")
    own: Part = row.Part
    graph = stand_in_graph(session, part, day)
    uses = _uses(session, part, graph, day)
    limits = read_limits(session.connection(), {part: own.life_limit_hours}, day)[part]
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
        _numbers(session, part),
        hazards_of(session, part),
        sizes_of(session, part, day),
        spec_on(session, part, day),
        specs_of(session, part),
        _fits(session, part, uses, day),
        uses,
        _stock(session, part, own.measure),
        graph,
        _papers(session, part),
        tuple(
            session.scalars(
                select(Hold.reason).where(Hold.part_id == part, Hold.cleared_on.is_(None)).order_by(Hold.id)
            )
        ),
        _changes(session, part),
    )


def _numbers(session: Session, part: int) -> tuple[NumberFacts, ...]:
    rows = session.execute(
        select(OtherNumber.id, OtherNumber.number, OtherNumber.kind, Firm.name, OtherNumber.set_by)
        .outerjoin(Firm, Firm.id == OtherNumber.firm_id)
        .where(OtherNumber.part_id == part)
        .order_by(OtherNumber.id)
    )
    return tuple(NumberFacts(row.id, row.number, row.kind, row.name or "", row.set_by) for row in rows)


def _uses(session: Session, part: int, graph: StandInGraph, on: date) -> tuple[UseFacts, ...]:
    """The kit lines that ask for the part, then those for what it may stand in for."""
    stood_for = {each.part: each.number for each in graph.nodes if each.stood_in_for}
    mods = mod_names(session)
    rows = session.execute(
        select(KitLine, EngineType.name, Part.measure)
        .join(EngineType, EngineType.id == KitLine.engine_type_id)
        .join(Part, Part.id == KitLine.part_id)
        .where(KitLine.part_id.in_([part, *stood_for]))
        .order_by(EngineType.name, KitLine.group_name, KitLine.sequence, KitLine.id)
    )
    found = []
    for line, engine_type, measure in rows:
        mod = frozenset({mods[line.mod_id]}) if line.mod_id is not None else frozenset()
        holds = Effectivity(
            positions=names_of(line.positions),
            serial_from=line.serial_from or None,
            serial_to=line.serial_to or None,
            mods_required=mod if line.mod_embodied else frozenset(),
            mods_barred=frozenset() if line.mod_embodied else mod,
            date_from=line.from_on,
            date_until=line.until_on,
        )
        found.append(
            UseFacts(
                line.id,
                engine_type,
                line.group_name,
                line.sequence,
                line.station,
                quantity_words(line.quantity, measure),
                effectivity_words(holds),
                line.renewed_always,
                "" if line.part_id == part else stood_for[line.part_id],
                line.note,
                line.until_on is not None and line.until_on <= on,
                line.set_by,
            )
        )
    return tuple(sorted(found, key=lambda each: bool(each.instead_of)))


def _fits(session: Session, part: int, uses: tuple[UseFacts, ...], on: date) -> tuple[FitLimitFacts, ...]:
    """The fits at the stations where the part sits, less those that name another part there."""
    seats: dict[tuple[str, str], set[str]] = defaultdict(set)
    for use in uses:
        seats[use.engine_type, use.group].add(use.station)
    types: dict[str, int] = dict(session.execute(select(EngineType.name, EngineType.id)).all())
    found = []
    for (engine_type, group), stations in seats.items():
        for fit in fit_limits_of(session, types[engine_type], group, on):
            ends = [end for end in (fit.outer, fit.inner) if end.station in stations]
            if any(end.part in {None, part} for end in ends):
                found.append(fit)
    return tuple(found)


def _stock(session: Session, part: int, measure: Measure) -> tuple[StockFacts, ...]:
    amounts: dict[Condition, int] = defaultdict(int)
    things: dict[Condition, int] = defaultdict(int)
    for state in things_of_parts(session, [part]).values():
        if state.where:
            amounts[state.condition] += sum(where.quantity for where in state.where)
            things[state.condition] += 1
    return tuple(
        StockFacts(each, amounts[each], quantity_words(amounts[each], measure), things[each])
        for each in Condition
        if each in amounts
    )


def _papers(session: Session, part: int) -> tuple[PartPaper, ...]:
    rows = session.execute(
        select(
            Document.id,
            Document.kind,
            Document.reference,
            Document.title,
            Document.dated_on,
            Document.sha256.is_not(None).label("kept"),
        )
        .join(DocumentLink, DocumentLink.document_id == Document.id)
        .where(DocumentLink.part_id == part)
        .order_by(Document.id)
    )
    return tuple(PartPaper(*row) for row in rows)


def _changes(session: Session, part: int) -> tuple[PartChange, ...]:
    """Who set the part, its numbers, its specifications or its stand-ins, and when; the latest first."""
    pointing = EntryFact.values.like(f'%"part_id":{part},%') | EntryFact.values.like(f'%"part_id":{part}}}%')
    undone = select(Entry.reverses).where(Entry.reverses.is_not(None))
    rows = session.execute(
        select(Entry.number, Entry.happened_on, Person.name, Entry.note, EntryFact.record)
        .join(Entry, Entry.number == EntryFact.entry_number)
        .join(Person, Person.id == Entry.who)
        .where(
            or_(
                (EntryFact.record == "part") & (EntryFact.record_id == part),
                EntryFact.record.in_(_CATALOGUE_RECORDS) & pointing,
            ),
            Entry.number.not_in(undone),
        )
        .order_by(Entry.number.desc(), EntryFact.ordinal)
        .limit(CHANGES_MAX)
    )
    entries: dict[int, PartChange] = {}
    for number, happened_on, who, note, record in rows:
        what = _CATALOGUE_RECORDS.get(record, "the part")
        known = entries.get(number)
        said = (what,) if known is None else tuple(dict.fromkeys((*known.what, what)))
        entries[number] = PartChange(number, happened_on, who, said, note)
    return tuple(entries.values())


_CATALOGUE_RECORDS = {
    "other_number": "its numbers",
    "part_hazard": "its hazards",
    "part_size": "its sizes",
    "kit_line": "a kit list",
    "stand_in": "what stands in for it",
    "stand_in_member": "what it stands in for",
    "spec": "its specification",
    "life_limit": "its life limits",
}
