"""Find every piece of a doubtful part, batch or origin, wherever it now is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import BindParameter, ColumnElement, Connection, Select, bindparam, false, select
from sqlalchemy.orm import InstrumentedAttribute, Session, aliased

from invdb.acts.batch_fates import Fate, descendants, fates
from invdb.acts.engine_use import EngineLogs
from invdb.acts.lived import read_stretches
from invdb.acts.numbers import Thing
from invdb.acts.seated_at import SeatedAt, seats_at
from invdb.acts.shown import printed_at, workshop_name
from invdb.acts.stays import STEPS_MAX, Standing, path, read_places
from invdb.acts.things import ThingState, things_by_id
from invdb.records.catalogue import Part
from invdb.records.chunks import chunks
from invdb.records.documents import Document, DocumentLink
from invdb.records.engines import Engine
from invdb.records.ledger import LedgerHead
from invdb.records.people import Firm, Person
from invdb.records.stock import Batch, Hold, Piece
from invdb.rules.points import BEGINNING, END
from invdb.rules.recall import (
    RecallAt,
    RecallLetter,
    RecallLine,
    RecallQuestion,
    RecallReport,
    RecallRun,
    RecallWhere,
    SplitOffBatch,
)
from invdb.rules.running import Ran
from invdb.terms import FieldRefused, PlaceKind, Refused

# What a person is told of a few things; more are counted.
_NAMED_MAX = 3
_BY_KIND = {
    PlaceKind.OUTSIDE: RecallWhere.OUT,
    PlaceKind.STORES: RecallWhere.STORES,
    PlaceKind.BIN: RecallWhere.STORES,
    PlaceKind.QUARANTINE: RecallWhere.STORES,
    PlaceKind.FIRM: RecallWhere.FIRM,
    PlaceKind.SCRAP: RecallWhere.SCRAPPED,
    PlaceKind.BENCH: RecallWhere.SHOP,
    PlaceKind.PULL: RecallWhere.SHOP,
}
_IDS: BindParameter[Any] = bindparam("ids", expanding=True)


def _holds(of: InstrumentedAttribute[int | None]) -> Select[*tuple[Any, ...]]:
    return (
        select(of, Hold.reason, Hold.raised_on)
        .where(of.in_(_IDS), Hold.cleared_on.is_(None))
        .order_by(Hold.raised_on, Hold.id)
    )


_HOLDS_ON_PIECES = _holds(Hold.piece_id)
_HOLDS_ON_BATCHES = _holds(Hold.batch_id)
_HOLDS_ON_PARTS = _holds(Hold.part_id)


def recall(session: Session, question: RecallQuestion | tuple[Thing, ...]) -> RecallReport:
    """Every piece and batch that a question, or a choice of things, concerns; with all split off those.

    Refused when the question sets no bound, its days are the wrong way round, or names what isn't here.
    """
    asked = asked_words(session, question)
    things = things_concerned(session, question)
    head = session.execute(select(LedgerHead.number, LedgerHead.hash)).one()
    return RecallReport(
        workshop_name(session),
        printed_at(session),
        asked,
        _lines(session, things),
        head.number,
        head.hash,
    )


def recall_letter(
    session: Session,
    question: RecallQuestion | tuple[Thing, ...],
    reason: str,
    person: int,
    addressee: str = "",
    request: str = "",
) -> RecallLetter:
    """The letter of a recall as things now stand, to be signed by a person (their id)."""
    signs = session.execute(
        select(Person.name, Person.licence_kind, Person.licence_number).where(Person.id == person)
    ).one_or_none()
    if signs is None:
        raise Refused(f"Nobody here has the number {person}.", "Say who signs.")
    if not reason.strip():
        raise Refused("No reason is given.", "Say what the doubt is.")
    licence = " ".join(word for word in (signs.licence_kind, signs.licence_number) if word)
    return RecallLetter(recall(session, question), reason, addressee, request, signs.name, licence)


def things_concerned(session: Session, question: RecallQuestion | tuple[Thing, ...]) -> tuple[Thing, ...]:
    """The pieces and batches that a question, or a choice of things, concerns; with all split off those."""
    connection = session.connection()
    if isinstance(question, RecallQuestion):
        pieces = set(connection.scalars(select(Piece.id).where(*_bounds(connection, question, Piece))))
        batches = set(connection.scalars(select(Batch.id).where(*_bounds(connection, question, Batch))))
    else:
        pieces = {thing.piece for thing in question if thing.piece is not None}
        batches = {thing.batch for thing in question if thing.batch is not None}
    return (
        *(Thing(piece=piece) for piece in sorted(pieces)),
        *(Thing(batch=batch) for batch in sorted(descendants(connection, batches))),
    )


def _bounds(
    connection: Connection, question: RecallQuestion, table: type[Piece] | type[Batch]
) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    if question.batch is not None:
        family = descendants(connection, [question.batch])
        found.append(Batch.id.in_(family) if table is Batch else false())
    if question.part is not None:
        found.append(table.part_id == question.part)
    if question.firm is not None:
        found.append(table.origin_firm_id == question.firm)
    if question.document is not None:
        linked = DocumentLink.piece_id if table is Piece else DocumentLink.batch_id
        behind = select(linked).where(DocumentLink.document_id == question.document, linked.is_not(None))
        found.append(table.id.in_(behind))
    if question.received_from is not None:
        found.append(table.received_on >= question.received_from)
    if question.received_to is not None:
        found.append(table.received_on <= question.received_to)
    return found


def asked_words(session: Session, question: RecallQuestion | tuple[Thing, ...]) -> str:
    """What is asked for: 'batch B000017-X with all split off it, received from 2024-01-01 on'.

    Refused when the question sets no bound, its days are the wrong way round, or names what isn't here.
    """
    if not isinstance(question, RecallQuestion):
        if not question:
            raise Refused("Nothing is named that would be recalled.", "Choose pieces or batches.")
        tags = [state.tag for state in things_by_id(session, question).values()]
        more = len(tags) - _NAMED_MAX
        return ", ".join(tags[:_NAMED_MAX]) + (f" and {more} more" if more > 0 else "")
    if not question.bounded:
        raise Refused("Nothing is asked for.", "Name a part, a batch, a firm, a document or days of receipt.")
    words: list[str] = []
    if question.part is not None:
        words.append(
            _named(session, "part", "part {} {}", Part.house_number, Part.name, of=Part.id == question.part)
        )
    if question.batch is not None:
        words.append(
            _named(
                session, "batch", "batch {} with all split off it", Batch.tag, of=Batch.id == question.batch
            )
        )
    if question.firm is not None:
        words.append(_named(session, "firm", "from {}", Firm.name, of=Firm.id == question.firm))
    if question.document is not None:
        bound = Document.id == question.document
        words.append(_named(session, "document", "with {} {}", Document.kind, Document.reference, of=bound))
    return ", ".join([*words, *_days_words(question)])


def _named(
    session: Session, what: str, words: str, *columns: InstrumentedAttribute[Any], of: ColumnElement[bool]
) -> str:
    row = session.execute(select(*columns).where(of)).one_or_none()
    if row is None:
        raise Refused(f"That {what} is not in the store.", "Look again.")
    return words.format(*row)


def _days_words(question: RecallQuestion) -> list[str]:
    first, last = question.received_from, question.received_to
    if first is not None and last is not None:
        if first > last:
            raise FieldRefused(
                "received_to",
                f"{last.isoformat()} is before {first.isoformat()}.",
                "Give the earlier day first.",
            )
        return [f"received from {first.isoformat()} to {last.isoformat()}"]
    if first is not None:
        return [f"received from {first.isoformat()} on"]
    return [f"received until {last.isoformat()}"] if last is not None else []


@dataclass(frozen=True)
class Spot:
    """Where a place is, as a recall tells it, and what is around it: an engine, pieces, the quarantine."""

    where: RecallWhere
    path: str
    at: str = ""
    engine: int | None = None
    holders: frozenset[int] = frozenset()
    quarantined: bool = False


def spots(session: Session, places: Collection[int]) -> dict[int, Spot]:
    """Where each of these places is: in an engine, in the stores, at a firm, and so on outward from it."""
    standing = read_places(session, places)
    seats = seats_at(session, places)
    return {place: _spot(place, standing, seats.get(place)) for place in places}


def _engine_names(session: Session) -> dict[int, str]:
    return dict(session.execute(select(Engine.id, Engine.name)).all())


def _spot(place: int, standing: Mapping[int, Standing], seat: SeatedAt | None) -> Spot:
    if seat is not None and seat.engine is not None:
        return Spot(RecallWhere.FITTED, seat.words, seat.engine_name, seat.engine)
    outward: list[Standing] = []
    at: int | None = place
    for _ in range(STEPS_MAX):
        if at is None or at not in standing:
            break
        outward.append(standing[at])
        at = standing[at].around
    where = next((_BY_KIND[each.kind] for each in outward if each.kind in _BY_KIND), RecallWhere.SHOP)
    firm = next((each.name for each in outward if each.kind is PlaceKind.FIRM), "")
    holders = frozenset(each.piece for each in outward if each.piece is not None)
    apart = any(each.kind is PlaceKind.QUARANTINE for each in outward)
    return Spot(where, path(place, standing) if seat is None else seat.words, firm, None, holders, apart)


def _lines(session: Session, things: Collection[Thing]) -> tuple[RecallLine, ...]:
    states = things_by_id(session, things)
    by_place = spots(session, {where.place for state in states.values() for where in state.where})
    connection = session.connection()
    became = fates(connection, descendants(connection, _batch_ids(things)))
    runs = _runs(session, states, became)
    held = _held(session, states)
    tags = _tags(session, became)
    lines = [
        RecallLine(
            thing.piece,
            thing.batch,
            state.tag,
            state.part_number,
            state.part_name,
            state.serial,
            state.measure,
            1 if thing.batch is None else became[thing.batch].received,
            state.condition,
            state.owner_name,
            _at(state, by_place, None if thing.batch is None else became[thing.batch]),
            runs.get(thing, ()),
            tags.get(thing, ""),
            tuple(
                SplitOffBatch(states[Thing(batch=child)].tag, quantity)
                for child, quantity in (() if thing.batch is None else became[thing.batch].split_off)
            ),
            held[thing],
        )
        for thing, state in states.items()
    ]
    return tuple(
        sorted(lines, key=lambda line: (line.urgency, line.part_number, line.piece is None, line.tag))
    )


def _batch_ids(things: Iterable[Thing]) -> set[int]:
    return {thing.batch for thing in things if thing.batch is not None}


def _at(state: ThingState, by_place: Mapping[int, Spot], fate: Fate | None) -> tuple[RecallAt, ...]:
    found = []
    for where in state.where:
        spot = by_place[where.place]
        reserved = state.reserved_for if where.reserved else ()
        found.append(RecallAt(spot.where, spot.path, where.quantity, spot.at, reserved))
    if fate is not None and fate.out:
        found.append(RecallAt(RecallWhere.OUT, str(RecallWhere.OUT), fate.out))
    if fate is not None and fate.used_up:
        found.append(RecallAt(RecallWhere.USED_UP, str(RecallWhere.USED_UP), fate.used_up))
    order = list(RecallWhere)
    return tuple(sorted(found, key=lambda at: (order.index(at.where), at.path)))


def _runs(
    session: Session, things: Iterable[Thing], became: Mapping[int, Fate]
) -> dict[Thing, tuple[RecallRun, ...]]:
    connection = session.connection()
    logs = EngineLogs(connection)
    pieces = {thing.piece for thing in things if thing.piece is not None}
    served = read_stretches(connection, pieces)
    names = _engine_names(session)
    found: dict[Thing, tuple[RecallRun, ...]] = {
        Thing(piece=piece): tuple(
            RecallRun(
                names[each.engine],
                each.began[0],
                None if each.ended is None else each.ended[0],
                each.between(logs, BEGINNING, END),
            )
            for each in stretches
        )
        for piece, stretches in served.items()
    }
    for batch, fate in became.items():
        # What went in on one day and came out on one is one run, however many entries it took.
        amounts: dict[tuple[str, date, date | None, Ran], int] = defaultdict(int)
        for run in fate.runs:
            ended = None if run.ended is None else run.ended[0]
            amounts[names[run.engine], run.began[0], ended, run.ran] += run.quantity
        found[Thing(batch=batch)] = tuple(RecallRun(*run, much) for run, much in amounts.items())
    return found


def _held(session: Session, states: Mapping[Thing, ThingState]) -> dict[Thing, tuple[str, ...]]:
    """For each thing, since when and why it is on hold, itself or its part."""
    connection = session.connection()

    def words(statement: Select[*tuple[Any, ...]], ids: Iterable[int | None]) -> dict[int, list[str]]:
        found: dict[int, list[str]] = defaultdict(list)
        for some in chunks({each for each in ids if each is not None}):
            for of, reason, raised_on in connection.execute(statement, {"ids": some}):
                found[of].append(f"on hold since {raised_on.isoformat()}: {reason}")
        return found

    pieces = words(_HOLDS_ON_PIECES, (thing.piece for thing in states))
    batches = words(_HOLDS_ON_BATCHES, (thing.batch for thing in states))
    parts = words(_HOLDS_ON_PARTS, (state.part for state in states.values()))
    return {
        thing: (
            *(batches[thing.batch] if thing.batch is not None else pieces[thing.piece or 0]),
            *(f"its part is {each}" for each in parts[state.part]),
        )
        for thing, state in states.items()
    }


def _tags(session: Session, became: Collection[int]) -> dict[Thing, str]:
    """Of which batch each was split off, by its tag."""
    parent = aliased(Batch)
    statement = (
        select(Batch.id, parent.tag)
        .join(parent, parent.id == Batch.parent_batch_id)
        .where(Batch.id.in_(_IDS))
    )
    return {
        Thing(batch=batch): tag
        for some in chunks(became)
        for batch, tag in session.connection().execute(statement, {"ids": some})
    }
