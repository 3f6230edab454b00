"""What forms offer to choose from and begin with: people, places, firms, owners, families, parts."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session, aliased

from invdb.acts.goods_in import RECEIVING_PLACES
from invdb.acts.shown import workshop_name
from invdb.records.catalogue import Family, Part, PartHazard
from invdb.records.clock import ZONE_SETTING, today
from invdb.records.ledger import Entry, EntryFact, EntryLine
from invdb.records.people import Firm, Owner, Person, Setting
from invdb.records.stock import Place
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.terms import (
    EntryKind,
    FirmRole,
    Hazard,
    LineKind,
    Measure,
    PlaceKind,
    Tracking,
)

# How many bookings are looked back through for one with a firm.
LOOKED_BACK_MAX = 20
STOCK_PLACES = (
    PlaceKind.STORES,
    PlaceKind.BIN,
    PlaceKind.QUARANTINE,
    PlaceKind.BENCH,
    PlaceKind.FIRM,
    PlaceKind.SCRAP,
)


@dataclass(frozen=True)
class PersonOffer:
    """Someone who works here; ``licence`` is its kind and number, '' for none."""

    id: int
    name: str
    licence: str


@dataclass(frozen=True)
class PlaceOffer:
    """A place that stock is put into by hand; ``inside`` is the name of the place around it, '' for none."""

    id: int
    name: str
    kind: PlaceKind
    bonded: bool
    inside: str


@dataclass(frozen=True)
class FirmOffer:
    """A firm and what it is to the workshop."""

    id: int
    name: str
    role: FirmRole
    town: str


@dataclass(frozen=True)
class OwnerOffer:
    """An owner; ``is_workshop`` for ourselves."""

    id: int
    name: str
    is_workshop: bool


@dataclass(frozen=True)
class FamilyOffer:
    """A family of parts; its letters begin their house numbers."""

    id: int
    letters: str
    name: str


@dataclass(frozen=True)
class PartDetails:
    """A part as a form needs it; ``life_limit_hours`` in hundredths of an hour since new."""

    id: int
    house_number: str
    name: str
    family: int
    tracking: Tracking
    measure: Measure
    life_limited: bool
    critical: bool
    life_limit_hours: int | None
    shelf_life_months: int | None
    note: str
    hazards: tuple[tuple[Hazard, str], ...]


@dataclass(frozen=True)
class FirstOffers:
    """What a goods-in form begins with: today in the shop's zone, and where and from whom it last was."""

    today: date
    place: PlaceOffer | None
    firm: FirmOffer | None


@dataclass(frozen=True)
class ShopSettings:
    """The shop's own choices: the name on its papers, and its time zone."""

    workshop: str
    zone: str


def people_here(session: Session) -> tuple[PersonOffer, ...]:
    """Those who work here, by name."""
    rows = session.execute(
        select(Person.id, Person.name, Person.licence_kind, Person.licence_number)
        .where(Person.works_here)
        .order_by(Person.name)
    )
    return tuple(
        PersonOffer(row.id, row.name, f"{row.licence_kind or ''} {row.licence_number or ''}".strip())
        for row in rows
    )


def places_to_put(session: Session, kinds: Collection[PlaceKind] = STOCK_PLACES) -> tuple[PlaceOffer, ...]:
    """Places of these kinds in walking order."""
    query = _places().where(Place.kind.in_(kinds)).order_by(Place.walking_order, Place.name)
    return tuple(_place(row) for row in session.execute(query))


def _places() -> Select[*tuple[Any, ...]]:
    around = aliased(Place)
    return select(Place.id, Place.name, Place.kind, Place.bonded, around.name.label("inside")).outerjoin(
        around, around.id == Place.parent_id
    )


def _place(row: Any) -> PlaceOffer:
    return PlaceOffer(row.id, row.name, row.kind, row.bonded, row.inside or "")


def firms(session: Session, role: FirmRole | None = None) -> tuple[FirmOffer, ...]:
    """The firms by name, of one role or of all."""
    query = select(Firm.id, Firm.name, Firm.role, Firm.town).order_by(Firm.name)
    if role is not None:
        query = query.where(Firm.role == role)
    return tuple(FirmOffer(*row) for row in session.execute(query))


def owners(session: Session) -> tuple[OwnerOffer, ...]:
    """The owners, ourselves first and then by name."""
    query = select(Owner.id, Owner.name, Owner.is_workshop).order_by(Owner.is_workshop.desc(), Owner.name)
    return tuple(OwnerOffer(*row) for row in session.execute(query))


def families(session: Session) -> tuple[FamilyOffer, ...]:
    """The families of parts by name."""
    query = select(Family.id, Family.letters, Family.name).order_by(Family.name, Family.letters)
    return tuple(FamilyOffer(*row) for row in session.execute(query))


def _hazards(session: Session, parts: Collection[int]) -> dict[int, tuple[tuple[Hazard, str], ...]]:
    found: dict[int, list[tuple[Hazard, str]]] = defaultdict(list)
    for part, hazard, caution in session.execute(
        select(PartHazard.part_id, PartHazard.hazard, PartHazard.caution)
        .where(PartHazard.part_id.in_(parts), PartHazard.withdrawn_on.is_(None))
        .order_by(PartHazard.id)
    ):
        found[part].append((hazard, caution))
    return {part: tuple(found[part]) for part in parts}


def parts_by_ids(session: Session, parts: Collection[int]) -> dict[int, PartDetails]:
    """Those of these parts that are in the catalogue, in detail."""
    hazards = _hazards(session, parts)
    rows = session.execute(
        select(
            Part.id,
            Part.house_number,
            Part.name,
            Part.family_id,
            Part.tracking,
            Part.measure,
            Part.life_limited,
            Part.critical,
            Part.life_limit_hours,
            Part.shelf_life_months,
            Part.note,
        ).where(Part.id.in_(parts))
    )
    return {row[0]: PartDetails(*row, hazards[row[0]]) for row in rows}


def first_offers(session: Session, person: int) -> FirstOffers:
    """What a person's goods-in form begins with: the bin and the firm of their last booking, if any.

    A bonded bin is not offered, since goods are not booked into one; nor is a place of another kind.
    """
    reversal = aliased(Entry)
    numbers = list(
        session.scalars(
            select(Entry.number)
            .where(
                Entry.kind == EntryKind.GOODS_IN,
                Entry.who == person,
                ~select(reversal.number).where(reversal.reverses == Entry.number).exists(),
            )
            .order_by(Entry.number.desc())
            .limit(LOOKED_BACK_MAX)
        )
    )
    into = session.scalar(
        select(EntryLine.to_place_id)
        .where(
            EntryLine.entry_number.in_(numbers[:1]),
            EntryLine.kind == LineKind.MOVE,
            EntryLine.from_place_id == OUTSIDE_PLACE,
        )
        .order_by(EntryLine.ordinal)
        .limit(1)
    )
    place = session.execute(
        _places().where(Place.id == into, Place.kind.in_(RECEIVING_PLACES), Place.bonded.is_(False))
    ).one_or_none()
    firm = session.execute(
        select(Firm.id, Firm.name, Firm.role, Firm.town).where(Firm.id == _last_firm(session, numbers))
    ).one_or_none()
    return FirstOffers(
        today(session),
        _place(place) if place is not None else None,
        FirmOffer(*firm) if firm is not None else None,
    )


def _last_firm(session: Session, bookings: Collection[int]) -> int | None:
    facts = session.scalars(
        select(EntryFact.values)
        .where(
            EntryFact.entry_number.in_(bookings),
            EntryFact.record.in_(("piece", "batch")),
        )
        .order_by(EntryFact.entry_number.desc(), EntryFact.ordinal)
    )
    for values in facts:
        firm = json.loads(values).get("origin_firm_id")
        if firm is not None:
            return int(firm)
    return None


def shop_settings(session: Session) -> ShopSettings:
    """The shop's own choices."""
    zone = session.scalar(select(Setting.value).where(Setting.name == ZONE_SETTING))
    return ShopSettings(workshop_name(session), zone or "UTC")
