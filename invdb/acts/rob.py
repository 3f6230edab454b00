"""Rob an engine of a piece that another needs: stripped, owed back, and the donor incomplete until then."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.numbers import Thing
from invdb.acts.strip import Strip, StripOrder, Stripped, draft_strip
from invdb.records.engines import Engine
from invdb.records.people import Person
from invdb.records.stock import Batch, Holding, Piece, Place
from invdb.terms import Condition, EntryKind, FieldRefused, LifeControl, Refused, RunningUse


@dataclass(frozen=True)
class Robbery:
    """What is robbed from an engine, for which other, on whose word (a person's id), and where it goes.

    ``from_places`` says for each thing from which place, where a batch is fitted at several; None where that
    needs no saying. For ``reading``, ``use`` and ``sure`` see ``FitOrder``.
    """

    engine: int
    things: tuple[Thing, ...]
    to_place: int
    authorised_by: int
    for_engine: int
    reason: str
    reading: int | None
    found: str = "robbed, not looked at"
    control: LifeControl | None = None
    use: RunningUse | None = None
    sure: bool = False
    from_places: tuple[int | None, ...] = ()


def rob(session: Session, robbery: Robbery, by: By) -> Stripped:
    """Strip things from a donor engine as uninspected, and write down what it is owed.

    Each debt stands, and the donor is incomplete, until its station is filled again.
    """
    draft = begin_draft(session, EntryKind.ROBBED, by)
    if not robbery.things:
        raise Refused("Nothing is named that would be robbed.", "Choose what comes off.")
    if not robbery.reason.strip():
        raise FieldRefused("reason", "No reason is given.", "Say why the engine is robbed.")
    if robbery.for_engine == robbery.engine:
        raise FieldRefused(
            "for_engine", "An engine is not robbed for itself.", "Name the engine that needs the piece."
        )
    names = dict(
        session.execute(
            select(Engine.id, Engine.name).where(Engine.id.in_((robbery.engine, robbery.for_engine)))
        ).all()
    )
    if robbery.for_engine not in names:
        raise FieldRefused("for_engine", "That engine is not in the store.", "Choose another.")
    authority = session.scalar(
        select(Person.name).where(Person.id == robbery.authorised_by, Person.works_here)
    )
    if authority is None:
        raise FieldRefused(
            "authorised_by", "Whoever authorised it does not work here.", "Name the person who did."
        )
    draft.remark(f"For {names[robbery.for_engine]}, authorised by {authority}: {robbery.reason.strip()}")
    places = robbery.from_places or (None,) * len(robbery.things)
    for thing, place in zip(robbery.things, places, strict=True):
        station = _station(session, thing, robbery.engine, place)
        draft.new(
            session,
            "debt",
            engine_id=robbery.engine,
            for_engine_id=robbery.for_engine,
            authorised_by=robbery.authorised_by,
            owed_on=draft.happened_on,
            reason=robbery.reason,
            piece_id=thing.piece,
            batch_id=thing.batch,
            **station,
        )
    strips = tuple(
        Strip(
            thing,
            robbery.found,
            robbery.to_place,
            Condition.UNINSPECTED,
            control=robbery.control,
            from_place=place,
        )
        for thing, place in zip(robbery.things, places, strict=True)
    )
    order = StripOrder(robbery.engine, strips, robbery.reading, robbery.use, robbery.sure)
    return draft_strip(session, draft, order)


def _station(session: Session, thing: Thing, engine: int, place: int | None) -> dict[str, int]:
    """Where a thing sits at first hand in the donor, what part it is and how much of it."""
    if thing.piece is not None:
        query = (
            select(Place.position_id, Place.station_id, Place.engine_id, Piece.part_id, Piece.tag)
            .join(Place, Place.id == Piece.place_id)
            .where(Piece.id == thing.piece)
        )
        rows = [(*row, 1) for row in session.execute(query)]
    else:
        batches = (
            select(
                Place.position_id,
                Place.station_id,
                Place.engine_id,
                Batch.part_id,
                Batch.tag,
                Holding.quantity,
            )
            .join(Holding, Holding.batch_id == Batch.id)
            .join(Place, Place.id == Holding.place_id)
            .where(Batch.id == thing.batch, Place.engine_id == engine)
        )
        if place is not None:
            batches = batches.where(Place.id == place)
        rows = list(session.execute(batches))
    if not rows:
        raise Refused("That is not fitted in the engine.", "Look again.")
    if len(rows) > 1:
        raise Refused(f"{rows[0][4]} is fitted at several stations.", "Say from which.")
    position, station, at, part, tag, quantity = rows[0]
    if at != engine or position is None or station is None:
        raise Refused(
            f"{tag} sits at no station of that engine at first hand.",
            "Rob the piece that holds it, or strip it.",
        )
    return {"position_id": position, "station_id": station, "part_id": part, "quantity": quantity}
