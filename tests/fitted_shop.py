"""What is fitted in the engines of the small workshop of tests/shop.py, put there line by line."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts.catalogue import NewKitLine
from invdb.acts.numbers import Thing
from invdb.records.draft import Draft
from invdb.records.engines import Position, Station
from invdb.records.posting import post
from invdb.records.stock import Batch, Piece, Place
from invdb.terms import EntryKind, PlaceKind
from tests.shop import BEGUN_ON, TODAY, Shop


def add_barrel_station(shop: Shop, session: Session) -> int:
    """A station for the cylinder barrel, which the kit list asks for; returns the kit line."""
    draft = shop.draft(kind=EntryKind.ENGINES)
    draft.new(
        session,
        "station",
        engine_type_id=shop.linnet,
        group_name="cylinder",
        name="barrel",
        sequence=4,
        x_thousandths=0,
        y_thousandths=0,
    )
    post(session, draft)
    line = NewKitLine(shop.linnet, "cylinder", 4, "barrel", shop.barrel, 1)
    return catalogue.add_kit_line(session, line, shop.by())


def add_mod(shop: Shop, session: Session, code: str, engine_type: int | None = None) -> int:
    """A mod of the Linnet, unless of another type; returns its id."""
    draft = shop.draft(BEGUN_ON, EntryKind.CATALOGUE)
    mod = catalogue.draft_mod(session, draft, engine_type or shop.linnet, code, f"Mod {code}")
    post(session, draft)
    return mod


@dataclass(frozen=True)
class Bench:
    """Fits and strips things on any day, just as told."""

    shop: Shop
    session: Session

    def position(self, name: str) -> int:
        return self.session.scalars(
            select(Position.id).where(Position.engine_type_id == self.shop.linnet, Position.name == name)
        ).one()

    def station(self, name: str) -> int:
        return self.session.scalars(
            select(Station.id).where(Station.engine_type_id == self.shop.linnet, Station.name == name)
        ).one()

    def seat(self, draft: Draft, cylinder: str, station: str, engine: int | None = None) -> int:
        """The place of a station of a cylinder, made by the draft if there is none."""
        engine = engine or self.shop.engine
        position, at = self.position(cylinder), self.station(station)
        place = self.session.scalar(
            select(Place.id).where(
                Place.engine_id == engine, Place.position_id == position, Place.station_id == at
            )
        )
        if place is not None:
            return place
        return draft.new(
            self.session,
            "place",
            kind=PlaceKind.STATION,
            name=f"Engine {engine}, cylinder {cylinder}, {station}",
            parent_id=self.session.scalars(
                select(Place.id).where(Place.engine_id == engine, Place.kind == PlaceKind.ENGINE)
            ).one(),
            engine_id=engine,
            position_id=position,
            station_id=at,
        )

    def seat_in(self, draft: Draft, holder: int, station: str) -> int:
        """The place of a station in a piece, made by the draft if there is none."""
        own = self.session.scalar(select(Place.id).where(Place.piece_id == holder))
        if own is None:
            own = draft.new(
                self.session, "place", kind=PlaceKind.PIECE, name=f"In piece {holder}", piece_id=holder
            )
        at = self.station(station)
        place = self.session.scalar(select(Place.id).where(Place.parent_id == own, Place.station_id == at))
        if place is not None:
            return place
        return draft.new(
            self.session,
            "place",
            kind=PlaceKind.STATION,
            name=f"In piece {holder}, {station}",
            parent_id=own,
            station_id=at,
        )

    def fit(
        self,
        thing: Thing,
        cylinder: str,
        station: str,
        on: date = TODAY,
        *,
        quantity: int = 1,
        engine: int | None = None,
        from_place: int | None = None,
    ) -> int:
        """Fit a thing at a station of a cylinder, from the bin A-01-01; returns the entry's number."""
        draft = self.shop.draft(on, EntryKind.FITTED)
        seat = self.seat(draft, cylinder, station, engine)
        draft.move(
            from_place or self.shop.bin_a,
            seat,
            piece=thing.piece,
            batch=thing.batch,
            quantity=quantity,
            engine=engine or self.shop.engine,
        )
        return post(self.session, draft).number

    def fit_inside(self, thing: Thing, holder: int, station: str, on: date = TODAY, quantity: int = 1) -> int:
        """Fit a thing in a piece on the bench, from the bin A-01-01; returns the entry's number."""
        draft = self.shop.draft(on, EntryKind.FITTED)
        seat = self.seat_in(draft, holder, station)
        draft.move(self.shop.bin_a, seat, piece=thing.piece, batch=thing.batch, quantity=quantity)
        return post(self.session, draft).number

    def strip(self, thing: Thing, on: date = TODAY, *, quantity: int = 1, from_place: int = 0) -> int:
        """Take a thing out to the bench, from where it is; returns the entry's number."""
        draft = self.shop.draft(on, EntryKind.STRIPPED)
        place = (
            from_place or self.session.scalars(select(Piece.place_id).where(Piece.id == thing.piece)).one()
        )
        draft.move(
            place,
            self.shop.bench,
            piece=thing.piece,
            batch=thing.batch,
            quantity=quantity,
            engine=self.shop.engine,
        )
        return post(self.session, draft).number

    def reverse(self, number: int, on: date = TODAY) -> int:
        """Reverse an entry; returns the reversal's number."""
        return post(self.session, self.shop.draft(on, EntryKind.REVERSED, reverses=number)).number

    def tag(self, thing: Thing) -> str:
        table = Piece if thing.piece is not None else Batch
        return self.session.scalars(select(table.tag).where(table.id == (thing.piece or thing.batch))).one()
