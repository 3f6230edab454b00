"""Stock for kits in the small workshop of tests/shop.py, as a keeper would have put it there."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts.accept import Acceptance, accept
from invdb.acts.catalogue import NewPart, NewStandIn
from invdb.acts.goods_in import GoodsIn, NewBatch, NewPiece, ReceivingChecks, receive
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper
from invdb.acts.propose import propose
from invdb.acts.proposed import Asked, Proposal
from invdb.acts.pull import ReservedPull, order_of, reserve
from invdb.acts.things import ThingState, things_by_id
from invdb.records.engines import Engine, Position
from invdb.terms import Origin, PaperKind, Scope, Tracking
from tests.shop import TODAY, Shop

CHECKS = ReceivingChecks("yes", "match", "none", "sealed")
PAPER = NewPaper(PaperKind.RELEASE_CERTIFICATE, "RC 1")
AUTHORITY = "Pellworth leaflet 31"


def good(
    session: Session, shop: Shop, part: int, *, quantity: int = 0, scope: Scope = Scope.FLIGHT, **more: object
) -> Thing:
    """A piece, or a batch, of a part, accepted and lying in the bin A-01-01."""
    goods = GoodsIn(
        Origin.NEW,
        shop.bin_a,
        part=part,
        pieces=() if quantity else (NewPiece(),),
        batch=NewBatch(quantity) if quantity else None,
        papers=(PAPER,),
    )
    thing = receive(session, replace(goods, **more), shop.by()).things[0][0]  # type: ignore[arg-type]
    accept(session, Acceptance((thing,), scope, CHECKS), shop.by())
    return thing


def stock(shop: Shop, *, valves: int = 1, springs: int = 6, gaskets: int = 3) -> dict[str, list[Thing]]:
    """Put so much of what a cylinder needs on the shelf; one takes a valve, two springs and a gasket."""
    fresh = TODAY + timedelta(days=400)
    with shop.store.writing() as session:
        return {
            "valves": [good(session, shop, shop.valve) for _ in range(valves)],
            "springs": [good(session, shop, shop.spring, quantity=springs)] if springs else [],
            "gaskets": [good(session, shop, shop.gasket, quantity=gaskets, shelf_expiry_on=fresh)]
            if gaskets
            else [],
        }


def standing_in(shop: Shop) -> Thing:
    """A good plain valve, which may stand in for the exhaust valve by the maker's leaflet."""
    with shop.store.writing() as session:
        by = shop.by()
        plain = catalogue.add_part(session, NewPart(1, "Exhaust valve, plain", Tracking.PIECE), by)
        catalogue.add_stand_in(session, NewStandIn(shop.valve, ((plain, 1),), AUTHORITY), by)
        return good(session, shop, plain)


def asked(session: Session, engine: int, cylinder: str) -> Asked:
    """The kit of a cylinder by its name."""
    position = session.scalar(
        select(Position.id)
        .join(Engine, Engine.engine_type_id == Position.engine_type_id)
        .where(Engine.id == engine, Position.name == cylinder)
    )
    assert position is not None
    return Asked(engine, position)


def proposed(shop: Shop, *cylinders: str, engine: int | None = None) -> Proposal:
    """The kits of these cylinders, proposed together."""
    with shop.store.reading() as session:
        return propose(session, tuple(asked(session, engine or shop.engine, name) for name in cylinders))


def reserved(shop: Shop, *cylinders: str, person: int | None = None) -> tuple[ReservedPull, ...]:
    """The kits of these cylinders, set aside by the keeper unless it is somebody else."""
    kits = proposed(shop, *cylinders).kits
    with shop.store.writing() as session:
        by = replace(shop.by(), person=person or shop.keeper)
        return reserve(session, tuple(order_of(kit) for kit in kits), by)


def state_of(shop: Shop, thing: Thing) -> ThingState:
    """What the store says of a thing now."""
    with shop.store.reading() as session:
        return things_by_id(session, [thing])[thing]
