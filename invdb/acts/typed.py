"""What a person names by typing it: stations, documents, engine types, mods, directives, concessions."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.numbers import Thing, position_named
from invdb.acts.recall import spots
from invdb.acts.shown import printed_at
from invdb.acts.things import things_by_id
from invdb.records.builds import Presumption
from invdb.records.catalogue import Mod
from invdb.records.documents import Document
from invdb.records.doubts import Concession, Directive
from invdb.records.engines import Engine, EngineType, Position, Station
from invdb.terms import FieldRefused, Refused, RunningUse, Scope

# Of a long list of what could be meant, no more than this many are named.
_NAMED_MAX = 20


def _folded(text: str) -> str:
    return " ".join(unicodedata.normalize("NFC", text).casefold().split())


def _one(wanted: str, named: Iterable[tuple[int, tuple[str, ...]]]) -> int | None:
    """The id of the only one that goes by a name, whatever the case; None where none does, or several do."""
    alike = [found for found, names in named if _folded(wanted) in {_folded(name) for name in names}]
    return alike[0] if len(alike) == 1 else None


def _listed(names: Iterable[str]) -> str:
    known = sorted(set(names))
    more = f" and {len(known) - _NAMED_MAX} more" if len(known) > _NAMED_MAX else ""
    return f"{', '.join(known[:_NAMED_MAX])}{more}" if known else "none yet"


def station_named(session: Session, engine: int, position: int, text: str) -> int:
    """The station of that name at a position of an engine."""
    rows = session.execute(
        select(Station.id, Station.name)
        .join(Engine, Engine.engine_type_id == Station.engine_type_id)
        .join(
            Position,
            (Position.engine_type_id == Station.engine_type_id) & (Position.group_name == Station.group_name),
        )
        .where(Engine.id == engine, Position.id == position)
    ).all()
    found = _one(text, ((row.id, (row.name,)) for row in rows))
    if found is None:
        raise FieldRefused(
            "station",
            f"There is no station {text.strip()!r} there.",
            f"Its stations are: {_listed(row.name for row in rows)}.",
        )
    return found


def station_of_type(session: Session, engine_type: int, group: str, text: str) -> int:
    """The station of that name in a group of an engine type's positions, such as its cylinders."""
    rows = session.execute(
        select(Station.id, Station.name, Station.group_name).where(Station.engine_type_id == engine_type)
    ).all()
    found = _one(f"{group} {text}", ((row.id, (f"{row.group_name} {row.name}",)) for row in rows))
    if found is None:
        raise FieldRefused(
            "station",
            f"There is no station {text.strip()!r} in the group {group.strip()!r}.",
            f"The stations are: {_listed(f'{row.group_name} {row.name}' for row in rows)}.",
        )
    return found


def engine_type_named(session: Session, text: str) -> int:
    """The engine type of that name."""
    rows = session.execute(select(EngineType.id, EngineType.name)).all()
    found = _one(text, ((row.id, (row.name,)) for row in rows))
    if found is None:
        raise FieldRefused(
            "engine_type",
            f"There is no engine type {text.strip()!r}.",
            f"The types are: {_listed(row.name for row in rows)}.",
        )
    return found


def mod_named(session: Session, text: str, engine_type: int | None = None) -> int:
    """The mod of that code, of an engine type if it is given."""
    query = select(Mod.id, Mod.code)
    if engine_type is not None:
        query = query.where(Mod.engine_type_id == engine_type)
    rows = session.execute(query).all()
    found = _one(text, ((row.id, (row.code,)) for row in rows))
    if found is None:
        raise FieldRefused(
            "mod",
            f"{text.strip()!r} names no one mod.",
            f"The mods are: {_listed(row.code for row in rows)}; where two share one, name the engine type.",
        )
    return found


def document_named(session: Session, text: str) -> int:
    """The document of that reference, with its kind before it where several share it."""
    rows = session.execute(select(Document.id, Document.kind, Document.reference)).all()
    found = _one(text, ((row.id, (row.reference, f"{row.kind} {row.reference}")) for row in rows))
    if found is None:
        alike = [row for row in rows if _folded(row.reference) == _folded(text)]
        said = "the reference of several documents" if alike else "no document here"
        raise FieldRefused(
            "document",
            f"{text.strip()!r} is {said}.",
            "Give its kind too, as 'statement AL 9'." if alike else "Take it in first.",
        )
    return found


def directive_named(session: Session, reference: str, issue: str | None = None) -> int:
    """The directive of that reference that stands, and of that issue if it is given.

    One whose next issue takes its place on a day to come stands until then.
    """
    rows = session.execute(
        select(Directive.id, Directive.reference, Directive.issue).where(
            or_(Directive.withdrawn_on.is_(None), Directive.withdrawn_on > as_of(session, None))
        )
    ).all()
    of_issue = [row for row in rows if issue is None or _folded(row.issue) == _folded(issue)]
    found = _one(
        reference, ((row.id, (row.reference, f"{row.reference} issue {row.issue}")) for row in of_issue)
    )
    if found is None:
        names = _listed(f"{row.reference} issue {row.issue}" if row.issue else row.reference for row in rows)
        raise Refused(
            f"{reference.strip()!r} is no one directive that stands.", f"The directives are: {names}."
        )
    return found


def concession_named(session: Session, reference: str) -> int:
    """The concession of that reference that was not withdrawn."""
    rows = session.execute(
        select(Concession.id, Concession.reference).where(Concession.withdrawn_on.is_(None))
    ).all()
    found = _one(reference, ((row.id, (row.reference,)) for row in rows))
    if found is None:
        raise Refused(
            f"{reference.strip()!r} is no one concession that stands.",
            f"The concessions are: {_listed(row.reference for row in rows)}.",
        )
    return found


def presumption_at(session: Session, engine: int, position: int, station: int) -> int:
    """Something presumed at a station that nobody has stripped yet; the one presumed first, of several."""
    found = session.scalar(
        select(Presumption.id)
        .where(
            Presumption.engine_id == engine,
            Presumption.position_id == position,
            Presumption.station_id == station,
            Presumption.ended_on.is_(None),
        )
        .order_by(Presumption.id)
        .limit(1)
    )
    if found is None:
        raise Refused("Nothing is presumed at that station.", "Look at what is fitted in the engine.")
    return found


def engine_around(session: Session, thing: Thing, place: int | None = None) -> int | None:
    """The engine that a thing is fitted in, at first hand or inside another piece; None if it is in none.

    With ``place``, the engine that this place is in.
    """
    state = things_by_id(session, [thing])[thing]
    places = {place} if place is not None else {where.place for where in state.where}
    engines = {spot.engine: spot.at for spot in spots(session, places).values() if spot.engine is not None}
    if len(engines) > 1:
        raise Refused(
            f"{state.tag} is fitted in several engines: {_listed(engines.values())}.",
            "Say from which place.",
        )
    return next(iter(engines), None)


def positions_named(session: Session, engine: int, names: Iterable[str]) -> tuple[int, ...]:
    """Positions of an engine by their names."""
    return tuple(position_named(session, engine, name) for name in names)


def engine_type_of(session: Session, engine: int) -> int:
    """The type of an engine."""
    return session.scalars(select(Engine.engine_type_id).where(Engine.id == engine)).one()


def usual_use(session: Session, engine: int) -> RunningUse:
    """What an engine runs for when nothing else is said."""
    use = session.scalars(select(Engine.use).where(Engine.id == engine)).one()
    return RunningUse.FLIGHT if use is Scope.FLIGHT else RunningUse.GROUND


def end_of_day(session: Session, on: date) -> datetime:
    """The last instant of a day in the shop's own zone; Refused for a day to come."""
    begins = datetime.combine(as_of(session, on) + timedelta(days=1), time.min, printed_at(session).tzinfo)
    return begins - timedelta(microseconds=1)
