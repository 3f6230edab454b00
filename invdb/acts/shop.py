"""The shop around the stock: people, firms, owners and their agreements, places, engine types and engines."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.records.draft import Draft
from invdb.records.people import Firm, Owner, Person
from invdb.records.posting import post
from invdb.records.registry import one_line
from invdb.records.stock import Place
from invdb.terms import EntryKind, FieldRefused, FirmRole, Layout, PlaceKind, Scope


@dataclass(frozen=True)
class NewPlace:
    """A place to add; ``parent`` is the id of the place it stands in."""

    name: str
    kind: PlaceKind
    parent: int | None = None
    walking_order: int = 0
    bonded: bool = False
    firm: int | None = None
    note: str = ""


@dataclass(frozen=True)
class NewPosition:
    """A position as drawn; see ``invdb.records.engines.Position`` for the units."""

    name: str
    x_thousandths: int
    y_thousandths: int
    turn_degrees: int = 0
    group: str = "cylinder"
    note: str = ""


@dataclass(frozen=True)
class NewStation:
    """A station within a position as drawn; see ``invdb.records.engines.Station``."""

    name: str
    x_thousandths: int
    y_thousandths: int
    group: str = "cylinder"


@dataclass(frozen=True)
class NewEngineType:
    """A design of an engine with its positions, in the maker's order, and its stations."""

    name: str
    layout: Layout
    maker_firm: int | None = None
    inverted: bool = False
    positions: tuple[NewPosition, ...] = ()
    stations: tuple[NewStation, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class NewEngine:
    """An engine to add. ``priority``: when stock does not go round, the lower number is served first."""

    engine_type: int
    serial: str
    name: str
    use: Scope
    owner: int
    priority: int = 5
    note: str = ""


def _unused(session: Session, column: object, name: str, what: str) -> None:
    if not name.strip():
        raise FieldRefused("name", f"The {what} has no name.", "Type one.")
    kept = one_line(name)
    if session.scalar(select(column).where(column == kept)) is not None:  # type: ignore[call-overload]
        raise FieldRefused("name", f"There is a {what} called {kept} already.", "Choose another name.")


def draft_person(
    session: Session,
    draft: Draft,
    name: str,
    licence_number: str | None = None,
    licence_kind: str | None = None,
) -> int:
    """Put a person into a draft; returns their id."""
    _unused(session, Person.name, name, "person")
    return draft.new(
        session,
        "person",
        name=name,
        licence_number=licence_number or None,
        licence_kind=licence_kind or None,
        works_here=True,
    )


def add_person(
    session: Session, name: str, by: By, licence_number: str | None = None, licence_kind: str | None = None
) -> int:
    """Add a person who works here; returns their id."""
    draft = begin_draft(session, EntryKind.PEOPLE, by)
    person = draft_person(session, draft, name, licence_number, licence_kind)
    post(session, draft)
    return person


def draft_firm(
    session: Session, draft: Draft, name: str, role: FirmRole, town: str = "", note: str = ""
) -> int:
    """Put a firm into a draft; returns its id."""
    _unused(session, Firm.name, name, "firm")
    return draft.new(session, "firm", name=name, role=role, town=town, note=note)


def add_firm(session: Session, name: str, role: FirmRole, by: By, town: str = "", note: str = "") -> int:
    """Add a firm; returns its id."""
    draft = begin_draft(session, EntryKind.PEOPLE, by)
    firm = draft_firm(session, draft, name, role, town, note)
    post(session, draft)
    return firm


def draft_owner(session: Session, draft: Draft, name: str, firm: int | None = None) -> int:
    """Put an owner into a draft; returns its id."""
    _unused(session, Owner.name, name, "owner")
    return draft.new(session, "owner", name=name, is_workshop=False, firm_id=firm)


def add_owner(session: Session, name: str, by: By, firm: int | None = None) -> int:
    """Add an owner of stock or engines; returns its id."""
    draft = begin_draft(session, EntryKind.PEOPLE, by)
    owner = draft_owner(session, draft, name, firm)
    post(session, draft)
    return owner


def draft_agreement(
    session: Session,
    draft: Draft,
    owner: int,
    for_owner: int,
    from_on: date,
    wording: str,
    until_on: date | None = None,
    engine: int | None = None,
    document: int | None = None,
) -> int:
    """Put an owner's agreement into a draft; returns its id."""
    if owner == for_owner:
        raise FieldRefused(
            "for_owner", "An owner needs no agreement with itself.", "Name the engine's owner."
        )
    if until_on is not None and until_on < from_on:
        raise FieldRefused(
            "until_on", f"It would end on {until_on}, before it begins.", "Check the two dates."
        )
    return draft.new(
        session,
        "owner_agreement",
        owner_id=owner,
        for_owner_id=for_owner,
        engine_id=engine,
        from_on=from_on,
        until_on=until_on,
        document_id=document,
        wording=wording,
    )


def add_agreement(
    session: Session,
    owner: int,
    for_owner: int,
    from_on: date,
    wording: str,
    by: By,
    until_on: date | None = None,
    engine: int | None = None,
    document: int | None = None,
) -> int:
    """Record that an owner's stock may go into another owner's engines, or into one engine."""
    draft = begin_draft(session, EntryKind.PEOPLE, by)
    agreement = draft_agreement(
        session, draft, owner, for_owner, from_on, wording, until_on, engine, document
    )
    post(session, draft)
    return agreement


def draft_place(session: Session, draft: Draft, place: NewPlace) -> int:
    """Put a place into a draft; returns its id."""
    _unused(session, Place.name, place.name, "place")
    return draft.new(
        session,
        "place",
        kind=place.kind,
        name=place.name,
        parent_id=place.parent,
        walking_order=place.walking_order,
        bonded=place.bonded,
        firm_id=place.firm,
        note=place.note,
    )


def add_place(session: Session, place: NewPlace, by: By) -> int:
    """Add a bin or another place; returns its id."""
    draft = begin_draft(session, EntryKind.PLACES, by)
    place_id = draft_place(session, draft, place)
    post(session, draft)
    return place_id


def draft_engine_type(session: Session, draft: Draft, engine_type: NewEngineType) -> int:
    """Put an engine type with its positions and stations into a draft; returns its id."""
    if not engine_type.name.strip():
        raise FieldRefused("name", "The engine type has no name.", "Type one.")
    type_id = draft.new(
        session,
        "engine_type",
        name=engine_type.name,
        maker_firm_id=engine_type.maker_firm,
        layout=engine_type.layout,
        inverted=engine_type.inverted,
        note=engine_type.note,
    )
    for sequence, position in enumerate(engine_type.positions, start=1):
        draft.new(
            session,
            "position",
            engine_type_id=type_id,
            group_name=position.group,
            name=position.name,
            sequence=sequence,
            x_thousandths=position.x_thousandths,
            y_thousandths=position.y_thousandths,
            turn_degrees=position.turn_degrees,
            note=position.note,
        )
    for sequence, station in enumerate(engine_type.stations, start=1):
        draft.new(
            session,
            "station",
            engine_type_id=type_id,
            group_name=station.group,
            name=station.name,
            sequence=sequence,
            x_thousandths=station.x_thousandths,
            y_thousandths=station.y_thousandths,
        )
    return type_id


def add_engine_type(session: Session, engine_type: NewEngineType, by: By) -> int:
    """Add an engine type; returns its id."""
    draft = begin_draft(session, EntryKind.ENGINES, by)
    type_id = draft_engine_type(session, draft, engine_type)
    post(session, draft)
    return type_id


def draft_engine(session: Session, draft: Draft, engine: NewEngine) -> int:
    """Put an engine, and the place that it is, into a draft; returns the engine's id."""
    for column in ("serial", "name"):
        if not getattr(engine, column).strip():
            raise FieldRefused(column, f"The engine has no {column}.", "Type it as it stands on its plate.")
    engine_id = draft.new(
        session,
        "engine",
        engine_type_id=engine.engine_type,
        serial=engine.serial,
        name=engine.name,
        use=engine.use,
        owner_id=engine.owner,
        priority=engine.priority,
        note=engine.note,
    )
    draft.new(session, "place", kind=PlaceKind.ENGINE, name=f"Engine {engine.name}", engine_id=engine_id)
    return engine_id


def add_engine(session: Session, engine: NewEngine, by: By) -> int:
    """Add an engine; returns its id."""
    draft = begin_draft(session, EntryKind.ENGINES, by)
    engine_id = draft_engine(session, draft, engine)
    post(session, draft)
    return engine_id


def draft_engine_mod(
    session: Session, draft: Draft, engine: int, mod: int, since_on: date | None = None
) -> int:
    """Put into a draft that an engine has a mod embodied; returns the record's id."""
    return draft.new(session, "engine_mod", engine_id=engine, mod_id=mod, embodied=True, since_on=since_on)
