"""A small invented workshop to begin tests from, on either database: built once, then copied.

The fixture ``shop`` gives its ids and its open store; ``store`` gives the store alone. What the time is lies
in the hands of the test: see `Clock`.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path

from sqlalchemy.orm import Session

from invdb import store as stores
from invdb.acts import catalogue, shop
from invdb.acts.begin import Workshop, begin
from invdb.acts.by import By
from invdb.acts.catalogue import NewKitLine, NewOtherNumber, NewPart
from invdb.acts.goods_in import GoodsIn, NewBatch, NewPiece, Received, receive
from invdb.acts.numbers import Thing, place_named
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.store import Store
from invdb.terms import (
    EntryKind,
    FirmRole,
    Hazard,
    Layout,
    Measure,
    Origin,
    PlaceKind,
    Scope,
    Tracking,
)
from tests.postgres import fresh_postgres_url, postgres_template

BEGUN_AT = datetime(2025, 1, 6, 8, 0, tzinfo=UTC)
BEGUN_ON = BEGUN_AT.date()
NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
TODAY = NOW.date()
WORKSHOP = Workshop("Harrowmere Flying Museum", "Ada Farrow", "HL 2041", "engine inspector")


class Clock:
    """A clock that a test sets; each reading is a second after the one before unless it stands still."""

    def __init__(self, instant: datetime, step: timedelta = timedelta(seconds=1)) -> None:
        self.instant = instant
        self.step = step

    def __call__(self) -> datetime:
        self.instant += self.step
        return self.instant


@dataclass(frozen=True)
class Ids:
    """What stands in the workshop from the first day, by id."""

    inspector: int
    keeper: int
    workshop: int
    customer: int
    supplier: int
    goods_in: int
    quarantine: int
    bench: int
    scrap: int
    bin_a: int
    bin_b: int
    bonded: int
    works: int
    valve: int
    barrel: int
    spring: int
    gasket: int
    wire: int
    linnet: int
    engine: int
    engine_two: int
    kit_valve: int
    kit_spring: int
    kit_gasket: int


@dataclass(frozen=True)
class Shop(Ids):
    """The workshop with its store open. Everybody may act; Ada Farrow, the inspector, has a licence."""

    store: Store = field(kw_only=True)
    clock: Clock = field(kw_only=True)

    def by(self, on: date | None = None, note: str = "") -> By:
        """The inspector, today or on a day."""
        return By(self.inspector, on, note)

    def draft(
        self, on: date = TODAY, kind: EntryKind = EntryKind.MOVED, reverses: int | None = None, note: str = ""
    ) -> Draft:
        """The beginning of an entry, to be filled and posted by hand."""
        return Draft(kind, self.inspector, on, note, reverses=reverses)

    def book_in(
        self,
        session: Session,
        part: int,
        *,
        pieces: int = 0,
        quantity: int = 0,
        place: int | None = None,
        on: date | None = None,
        goods: GoodsIn | None = None,
    ) -> Received:
        """Book in new pieces or a batch of a part, into the bin A-01-01 unless another place is given."""
        given = replace(
            goods or GoodsIn(Origin.NEW, 0),
            part=part,
            place=place or self.bin_a,
            pieces=tuple(NewPiece() for _ in range(pieces)),
            batch=NewBatch(quantity) if quantity else None,
        )
        return receive(session, given, self.by(on))

    def piece(self, session: Session, *, place: int | None = None, on: date | None = None) -> int:
        """The id of a new exhaust valve."""
        (thing, _) = self.book_in(session, self.valve, pieces=1, place=place, on=on).things[0]
        assert thing.piece is not None
        return thing.piece

    def batch(
        self, session: Session, quantity: int = 40, *, place: int | None = None, on: date | None = None
    ) -> int:
        """The id of a new batch of valve springs."""
        (thing, _) = self.book_in(session, self.spring, quantity=quantity, place=place, on=on).things[0]
        assert thing.batch is not None
        return thing.batch

    def move(
        self, session: Session, thing: Thing, from_place: int, to_place: int, *, on: date, quantity: int = 1
    ) -> int:
        """Post one move on a day, just as told; returns the entry's number."""
        draft = self.draft(on)
        draft.move(from_place, to_place, piece=thing.piece, batch=thing.batch, quantity=quantity)
        return post(session, draft).number


def furnish(session: Session) -> Ids:
    """Write the workshop into an empty store."""
    inspector = begin(session, WORKSHOP)
    by = By(inspector)
    places = {
        name: place_named(session, name)
        for name in ("Stores", "Goods in", "Quarantine", "Bench", "Scrap drum")
    }

    def bin_(name: str, order: int, bonded: bool = False) -> int:
        return shop.add_place(
            session, shop.NewPlace(name, PlaceKind.BIN, places["Stores"], order, bonded), by
        )

    def part(letters: str, name: str, tracking: Tracking, **more: object) -> int:
        family = catalogue.add_family(session, letters, f"{name}s", by)
        return catalogue.add_part(session, NewPart(family, name, tracking, **more), by)  # type: ignore[arg-type]

    supplier = shop.add_firm(session, "Aldermoor Aero Spares", FirmRole.SUPPLIER, by, town="Saltby")
    plater = shop.add_firm(session, "Brackwater Plating", FirmRole.WORKS, by)
    customer = shop.add_owner(session, "Dunmere Gliding Club", by)
    valve = part(
        "VX",
        "Exhaust valve",
        Tracking.PIECE,
        life_limit_hours=600_00,
        hazards=((Hazard.SODIUM, "Do not cut the stem."),),
        other_numbers=(NewOtherNumber("PW 1187", firm=supplier),),
    )
    barrel = part("BA", "Cylinder barrel", Tracking.PIECE)
    spring = part("SP", "Valve spring", Tracking.BATCH)
    gasket = part("GK", "Head gasket", Tracking.BATCH, shelf_life_months=60)
    wire = part("WI", "Locking wire", Tracking.BATCH, measure=Measure.LENGTH)
    linnet = shop.add_engine_type(
        session,
        shop.NewEngineType(
            "Linnet",
            Layout.RADIAL,
            positions=tuple(
                shop.NewPosition(str(cylinder), 0, 0, (cylinder - 1) * 360 // 7) for cylinder in range(1, 8)
            ),
            stations=tuple(
                shop.NewStation(name, 0, 0) for name in ("exhaust valve", "exhaust springs", "head joint")
            ),
        ),
        by,
    )
    workshop = 1

    def line(sequence: int, station: str, part: int, quantity: int, renewed: bool = False) -> int:
        return catalogue.add_kit_line(
            session, NewKitLine(linnet, "cylinder", sequence, station, part, quantity, renewed), by
        )

    return Ids(
        inspector=inspector,
        keeper=shop.add_person(session, "Ben Hollis", by),
        workshop=workshop,
        customer=customer,
        supplier=supplier,
        goods_in=places["Goods in"],
        quarantine=places["Quarantine"],
        bench=places["Bench"],
        scrap=places["Scrap drum"],
        bin_a=bin_("A-01-01", 10),
        bin_b=bin_("A-01-02", 20),
        bonded=bin_("B-01-01", 30, bonded=True),
        works=shop.add_place(session, shop.NewPlace("At Brackwater", PlaceKind.FIRM, firm=plater), by),
        valve=valve,
        barrel=barrel,
        spring=spring,
        gasket=gasket,
        wire=wire,
        linnet=linnet,
        engine=shop.add_engine(
            session, shop.NewEngine(linnet, "L1007", "Linnet One", Scope.FLIGHT, workshop, 1), by
        ),
        engine_two=shop.add_engine(
            session, shop.NewEngine(linnet, "L1044", "Linnet Two", Scope.GROUND_RUNNING, workshop), by
        ),
        kit_valve=line(1, "exhaust valve", valve, 1),
        kit_spring=line(2, "exhaust springs", spring, 2),
        kit_gasket=line(3, "head joint", gasket, 1, renewed=True),
    )


@cache
def _furnished(url: str) -> Ids:
    with stores.creating(url) as (made, session):
        session.info["clock"] = Clock(BEGUN_AT)
        ids = furnish(session)
    made.close()
    return ids


@cache
def _sqlite_template() -> tuple[Path, Ids]:
    folder = Path(_templates().name)
    path = folder / "template.invdb"
    return path, _furnished(str(path))


@cache
def _templates() -> tempfile.TemporaryDirectory[str]:
    return tempfile.TemporaryDirectory(prefix="invdb-shop-")


@contextmanager
def sqlite_shop(folder: Path) -> Iterator[Shop]:
    """A copy of the workshop as a file of its own in a folder."""
    template, ids = _sqlite_template()
    path = folder / "shop.invdb"
    shutil.copyfile(template, path)
    with _opened(str(path), ids) as opened:
        yield opened


@contextmanager
def postgres_shop() -> Iterator[Shop]:
    """A copy of the workshop as a PostgreSQL database of its own."""
    _, ids = _sqlite_template()
    with fresh_postgres_url(postgres_template(_furnished)) as url, _opened(url, ids) as opened:
        yield opened


@contextmanager
def _opened(where: str, ids: Ids) -> Iterator[Shop]:
    with closing(stores.open_store(where)) as opened:
        clock = Clock(NOW)
        opened.clock = clock
        yield Shop(**vars(ids), store=opened, clock=clock)
