"""The beginning of a store from a workshop's tables: people, firms, places, engines and the catalogue.

Each returns the ids that later acts name things by. All of it is as it stood on the day the store begins;
what came later (a document, an agreement, a mod embodied) has its own day.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.catalogue import (
    Holds,
    NewKitLine,
    NewOtherNumber,
    NewPart,
    NewStandIn,
    draft_family,
    draft_kit_line,
    draft_mod,
    draft_part,
    draft_stand_in,
)
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.shop import (
    NewEngine,
    NewEngineType,
    NewPlace,
    NewPosition,
    NewStation,
    draft_engine,
    draft_engine_type,
    draft_firm,
    draft_owner,
    draft_person,
    draft_place,
)
from invdb.intake.catalogue import EffectivityCells, StandInRow
from invdb.intake.shop import DocumentRow
from invdb.intake.workshop import Workshop
from invdb.records.engines import Position, Station
from invdb.records.people import Owner, Person
from invdb.records.posting import post
from invdb.records.stock import Place
from invdb.terms import EntryKind


@dataclass
class Ids:
    """The permanent ids of what has been put into the store so far, by the names the tables use."""

    people: dict[str, int] = field(default_factory=dict)
    firms: dict[str, int] = field(default_factory=dict)
    owners: dict[str, int] = field(default_factory=dict)
    places: dict[str, int] = field(default_factory=dict)
    engine_types: dict[str, int] = field(default_factory=dict)
    positions: dict[tuple[str, str], int] = field(default_factory=dict)
    stations: dict[tuple[str, str, str], int] = field(default_factory=dict)
    engines: dict[str, int] = field(default_factory=dict)
    mods: dict[str, int] = field(default_factory=dict)
    parts: dict[str, int] = field(default_factory=dict)
    documents: dict[str, int] = field(default_factory=dict)


def set_up(session: Session, workshop: Workshop, by: By) -> Ids:
    """Put everything but stock into a store that has been begun; returns the ids of it all."""
    ids = Ids(
        people=dict(session.execute(select(Person.name, Person.id)).all()),
        owners=dict(session.execute(select(Owner.name, Owner.id)).all()),
        places=dict(session.execute(select(Place.name, Place.id)).all()),
    )
    _people_and_firms(session, workshop, ids, by)
    _places(session, workshop, ids, by)
    _engines(session, workshop, ids, by)
    _parts(session, workshop, ids, by)
    _kit_lists(session, workshop, ids, by)
    return ids


def take_document(session: Session, document: DocumentRow, ids: Ids, by: By) -> int:
    """Take a document in with its text as a file; returns its id."""
    paper = NewPaper(
        document.kind,
        document.reference,
        document.title,
        document.dated_on,
        ids.firms.get(document.firm or ""),
        document.content,
        f"{document.reference}.txt",
    )
    ids.documents[document.reference] = add_paper(session, paper, by)
    return ids.documents[document.reference]


def record_stand_in(session: Session, stand_in: StandInRow, ids: Ids, by: By) -> None:
    """Record one stand-in, in an entry of its own."""
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    draft_stand_in(
        session,
        draft,
        NewStandIn(
            ids.parts[stand_in.house_number],
            tuple((ids.parts[part], each) for part, each in stand_in.members),
            stand_in.authority,
            stand_in.both_ways,
            stand_in.superseding,
            ids.engine_types.get(stand_in.engine_type or ""),
            ids.documents.get(stand_in.document or ""),
            _holds(stand_in.holds, ids.mods),
        ),
    )
    post(session, draft)


def _people_and_firms(session: Session, workshop: Workshop, ids: Ids, by: By) -> None:
    draft = begin_draft(session, EntryKind.PEOPLE, by)
    for person in workshop.people:
        if person.name not in ids.people:
            ids.people[person.name] = draft_person(
                session, draft, person.name, person.licence_number, person.licence_kind
            )
    for firm in workshop.firms:
        ids.firms[firm.name] = draft_firm(session, draft, firm.name, firm.role, firm.town, firm.note)
    for owner in workshop.owners:
        if owner.name not in ids.owners:
            ids.owners[owner.name] = draft_owner(session, draft, owner.name, ids.firms.get(owner.firm or ""))
    post(session, draft)


def _places(session: Session, workshop: Workshop, ids: Ids, by: By) -> None:
    draft = begin_draft(session, EntryKind.PLACES, by)
    for place in workshop.places:
        if place.name in ids.places:
            continue
        ids.places[place.name] = draft_place(
            session,
            draft,
            NewPlace(
                place.name,
                place.kind,
                ids.places.get(place.stands_in or ""),
                place.walking_order,
                place.bonded,
                ids.firms.get(place.firm or ""),
                place.note,
            ),
        )
    post(session, draft)


def _engines(session: Session, workshop: Workshop, ids: Ids, by: By) -> None:
    draft = begin_draft(session, EntryKind.ENGINES, by)
    for engine_type in workshop.engine_types:
        name = engine_type.name
        ids.engine_types[name] = draft_engine_type(
            session,
            draft,
            NewEngineType(
                name,
                engine_type.layout,
                ids.firms[engine_type.maker],
                engine_type.inverted,
                tuple(
                    NewPosition(p.name, p.x_thousandths, p.y_thousandths, p.turn_degrees, p.group, p.note)
                    for p in sorted(workshop.positions, key=lambda p: p.sequence)
                    if p.engine_type == name
                ),
                tuple(
                    NewStation(s.name, s.x_thousandths, s.y_thousandths, s.group)
                    for s in sorted(workshop.stations, key=lambda s: s.sequence)
                    if s.engine_type == name
                ),
                engine_type.note,
            ),
        )
    for engine in workshop.engines:
        ids.engines[engine.name] = draft_engine(
            session,
            draft,
            NewEngine(
                ids.engine_types[engine.engine_type],
                engine.serial,
                engine.name,
                engine.use,
                ids.owners[engine.owner],
                engine.priority,
                engine.note,
            ),
        )
    for mod in workshop.mods:
        ids.mods[mod.code] = draft_mod(
            session, draft, ids.engine_types[mod.engine_type], mod.code, mod.name, mod.note
        )
    post(session, draft)
    type_names = {type_id: name for name, type_id in ids.engine_types.items()}
    for position_id, type_id, name in session.execute(
        select(Position.id, Position.engine_type_id, Position.name)
    ):
        ids.positions[type_names[type_id], name] = position_id
    for station_id, type_id, group, name in session.execute(
        select(Station.id, Station.engine_type_id, Station.group_name, Station.name)
    ):
        ids.stations[type_names[type_id], group, name] = station_id


def _parts(session: Session, workshop: Workshop, ids: Ids, by: By) -> None:
    others = defaultdict(list)
    for other in workshop.other_numbers:
        others[other.house_number].append(
            NewOtherNumber(other.number, other.kind, ids.firms.get(other.firm or ""))
        )
    hazards = defaultdict(list)
    for hazard in workshop.hazards:
        hazards[hazard.house_number].append((hazard.hazard, hazard.caution))
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    families = {
        family.letters: draft_family(session, draft, family.letters, family.name)
        for family in workshop.families
    }
    post(session, draft)
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    for part in workshop.parts:
        ids.parts[part.house_number] = draft_part(
            session,
            draft,
            NewPart(
                families[part.family],
                part.name,
                part.tracking,
                part.measure,
                part.house_number,
                part.life_limited,
                part.critical,
                part.life_limit_hours,
                part.shelf_life_months,
                part.size_class,
                part.finish,
                other_numbers=tuple(others[part.house_number]),
                hazards=tuple(hazards[part.house_number]),
                note=part.note,
            ),
        )
    post(session, draft)


def _kit_lists(session: Session, workshop: Workshop, ids: Ids, by: By) -> None:
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    for line in workshop.kit_lines:
        draft_kit_line(
            session,
            draft,
            NewKitLine(
                ids.engine_types[line.engine_type],
                line.group,
                line.sequence,
                line.station,
                ids.parts[line.house_number],
                line.quantity,
                line.renewed_always,
                _holds(line.holds, ids.mods),
                line.note,
            ),
        )
    post(session, draft)


def _holds(cells: EffectivityCells, mods: Mapping[str, int]) -> Holds:
    return Holds(
        ",".join(cells.positions) if cells.positions else None,
        cells.serial_from,
        cells.serial_to,
        mods[cells.mod] if cells.mod is not None else None,
        cells.mod_embodied,
        cells.from_on,
    )
