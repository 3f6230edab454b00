"""What the store says now of pieces and batches, read at once for an act that must judge them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import BindParameter, Connection, Row, Select, bindparam, func, select
from sqlalchemy.orm import InstrumentedAttribute, Session, aliased

from invdb.acts.event_doubts import doubts_on
from invdb.acts.life_limit import plain_limits, read_limits
from invdb.acts.lived import Before, prior_columns, priors, read_lived
from invdb.acts.numbers import Thing
from invdb.acts.out_for_work import out_for_work
from invdb.records.catalogue import Part, PartHazard
from invdb.records.chunks import chunks
from invdb.records.clock import today
from invdb.records.documents import DocumentLink
from invdb.records.life import LifeLimit
from invdb.records.people import Firm, Owner
from invdb.records.stock import Batch, Hold, Holding, Piece, Place, Pull, PullLine
from invdb.rules.life_limits import Limit, Lived
from invdb.terms import Condition, LifeSince, Measure, Origin, PlaceKind, PriorLife, Refused, Scope

# The pull whose place a thing lies at, beside the pull that has it set aside.
_PULL_HERE = aliased(Pull)


@dataclass(frozen=True)
class Whereabouts:
    """Where a thing, or some of a batch, lies: quantities in the smallest unit."""

    place: int
    name: str
    kind: PlaceKind
    walking_order: int
    bonded: bool
    firm: str
    note: str
    quantity: int
    reserved: int
    pull: str


@dataclass(frozen=True)
class ThingState:
    """A piece or a batch as the store has it; hours in hundredths.

    ``run_hours`` is what it ran in all: ``prior_hours`` and what it ran here since. ``limits`` are those of
    its part, the plain ``life_limit`` among them. ``doubts`` are of the engine events that it was inside for
    and has not been cleared of. ``size_class`` and ``finish``, '' for standard, are its own or its part's.
    ``work`` is the order that it is out on and when it is due back, '' for none.
    """

    thing: Thing
    tag: str
    serial: str
    part: int
    part_number: str
    part_name: str
    measure: Measure
    condition: Condition
    scope: Scope | None
    origin: Origin
    used: bool
    owner: int
    owner_name: str
    received_on: date
    shelf_expiry_on: date | None
    shelf_life_months: int | None
    prior_hours: PriorLife | None
    run_hours: PriorLife | None
    life_limit: int | None
    life_limited: bool
    lived: Lived | None
    limits: tuple[Limit, ...]
    note: str
    checks: tuple[tuple[str, str], ...]
    papers: int
    holds: tuple[str, ...]
    hazards: bool
    where: tuple[Whereabouts, ...]
    reserved_for: tuple[str, ...]
    doubts: tuple[str, ...] = ()
    size_class: str = ""
    finish: str = ""
    work: str = ""


# Where work is done: at a firm, or at our own bench.
_WORKED_AT = frozenset({PlaceKind.FIRM, PlaceKind.BENCH})
_SHARED = (
    "tag",
    "part_id",
    "condition",
    "scope",
    "origin",
    "used",
    "owner_id",
    "received_on",
    "shelf_expiry_on",
    "note",
    "check_right_part",
    "check_papers",
    "check_damage",
    "check_hazards",
    "size_class",
    "finish",
)


def _stock(table: type[Piece] | type[Batch], key: InstrumentedAttribute[int]) -> Select[*tuple[Any, ...]]:
    """What is known of pieces and batches alike, of those whose key is among ``ids``."""
    return (
        select(
            table.id,
            *(getattr(table, name) for name in _SHARED),
            Part.house_number,
            Part.name.label("part_name"),
            Part.measure,
            Part.shelf_life_months,
            Part.life_limit_hours,
            Part.life_limited,
            Part.size_class.label("part_size_class"),
            Part.finish.label("part_finish"),
            Owner.name.label("owner_name"),
        )
        .join(Part, Part.id == table.part_id)
        .join(Owner, Owner.id == table.owner_id)
        .where(key.in_(_IDS))
    )


def _pieces(key: InstrumentedAttribute[int]) -> Select[*tuple[Any, ...]]:
    """Pieces with the place where each lies and the pull that has it set aside."""
    return (
        _stock(Piece, key)
        .add_columns(
            Piece.serial,
            *prior_columns(Piece),
            Piece.made_on,
            select(LifeLimit.id).where(LifeLimit.part_id == Piece.part_id).exists().label("has_limits"),
            Place.id.label("place_id"),
            Place.name.label("place_name"),
            Place.kind.label("place_kind"),
            Place.walking_order,
            Place.bonded,
            Place.note.label("place_note"),
            Firm.name.label("firm_name"),
            Pull.number.label("pull_number"),
            _PULL_HERE.number.label("pull_here"),
        )
        .join(Place, Place.id == Piece.place_id)
        .outerjoin(Firm, Firm.id == Place.firm_id)
        .outerjoin(PullLine, PullLine.id == Piece.reserved_for)
        .outerjoin(Pull, Pull.id == PullLine.pull_id)
        .outerjoin(_PULL_HERE, _PULL_HERE.id == Place.pull_id)
    )


# Made once: putting a statement together costs more than executing it.
_IDS: BindParameter[Any] = bindparam("ids", expanding=True)
_PIECES = _pieces(Piece.id)
_PIECES_OF_PARTS = _pieces(Piece.part_id)
_BATCHES = _stock(Batch, Batch.id).add_columns(Batch.maker_batch)
_BATCHES_OF_PARTS = _stock(Batch, Batch.part_id).add_columns(Batch.maker_batch)
_HOLDINGS = (
    select(
        Holding.batch_id,
        Holding.quantity,
        Holding.reserved,
        Place.id,
        Place.name,
        Place.kind,
        Place.walking_order,
        Place.bonded,
        Place.note,
        Firm.name.label("firm_name"),
        _PULL_HERE.number.label("pull_here"),
    )
    .join(Place, Place.id == Holding.place_id)
    .outerjoin(Firm, Firm.id == Place.firm_id)
    .outerjoin(_PULL_HERE, _PULL_HERE.id == Place.pull_id)
    .where(Holding.batch_id.in_(_IDS))
    .order_by(Place.walking_order, Place.name)
)
_PAPERS_OF_PIECES = (
    select(DocumentLink.piece_id, func.count())
    .where(DocumentLink.piece_id.in_(_IDS))
    .group_by(DocumentLink.piece_id)
)
_PAPERS_OF_BATCHES = (
    select(DocumentLink.batch_id, func.count())
    .where(DocumentLink.batch_id.in_(_IDS))
    .group_by(DocumentLink.batch_id)
)
_PULLS_OF_BATCHES = (
    select(PullLine.batch_id, Pull.number)
    .join(Pull, Pull.id == PullLine.pull_id)
    .where(PullLine.batch_id.in_(_IDS), PullLine.reserved > 0)
    .order_by(Pull.id)
)


def _holds(subject: InstrumentedAttribute[int | None]) -> Select[int | None, str]:
    return select(subject, Hold.reason).where(subject.in_(_IDS), Hold.cleared_on.is_(None)).order_by(Hold.id)


_HOLDS_ON_PIECES = _holds(Hold.piece_id)
_HOLDS_ON_BATCHES = _holds(Hold.batch_id)
_HOLDS_ON_PARTS = _holds(Hold.part_id)
_HAZARDOUS = select(PartHazard.part_id).where(PartHazard.part_id.in_(_IDS), PartHazard.withdrawn_on.is_(None))


def things_by_id(session: Session, things: Collection[Thing]) -> dict[Thing, ThingState]:
    """The state of these things, in the order given; Refused when one is not in the store."""
    pieces = [thing.piece for thing in things if thing.piece is not None]
    batches = [thing.batch for thing in things if thing.batch is not None]
    connection = session.connection()
    on = today(session)
    found = _read_pieces(connection, _PIECES, pieces, on) | _read_batches(connection, _BATCHES, batches)
    if any(thing not in found for thing in things):
        raise Refused("One of these is no longer in the store.", "Look again.")
    return {thing: found[thing] for thing in things}


def things_of_parts(session: Session, parts: Collection[int]) -> dict[Thing, ThingState]:
    """The state of every piece and batch of these parts that is, or was, here."""
    connection = session.connection()
    return _read_pieces(connection, _PIECES_OF_PARTS, parts, today(session)) | _read_batches(
        connection, _BATCHES_OF_PARTS, parts
    )


def _read_pieces(
    connection: Connection, pieces: Select[*tuple[Any, ...]], ids: Collection[int], on: date
) -> dict[Thing, ThingState]:
    found: dict[Thing, ThingState] = {}
    for chunk in chunks(ids):
        rows = connection.execute(pieces, {"ids": chunk}).all()
        extra = _Extras(connection, [row.id for row in rows], [], {row.part_id for row in rows})
        at_work = [row.id for row in rows if row.place_kind in _WORKED_AT]
        extra.work = out_for_work(connection, at_work, [])
        lives = _Lives(connection, rows, on)
        for row in rows:
            thing = Thing(piece=row.id)
            reserved = (row.pull_number,) if row.pull_number else ()
            where = Whereabouts(
                row.place_id,
                row.place_name,
                row.place_kind,
                row.walking_order,
                row.bonded,
                row.firm_name or "",
                row.place_note,
                1,
                len(reserved),
                row.pull_here or "",
            )
            found[thing] = _state(thing, row, row.serial or "", lives, (where,), reserved, extra)
    return found


def _read_batches(
    connection: Connection, batches: Select[*tuple[Any, ...]], ids: Collection[int]
) -> dict[Thing, ThingState]:
    found: dict[Thing, ThingState] = {}
    for chunk in chunks(ids):
        rows = connection.execute(batches, {"ids": chunk}).all()
        batch_ids = [row.id for row in rows]
        extra = _Extras(connection, [], batch_ids, {row.part_id for row in rows})
        where: dict[int, list[Whereabouts]] = defaultdict(list)
        for some in chunks(batch_ids):
            for row in connection.execute(_HOLDINGS, {"ids": some}):
                where[row.batch_id].append(
                    Whereabouts(
                        row.id,
                        row.name,
                        row.kind,
                        row.walking_order,
                        row.bonded,
                        row.firm_name or "",
                        row.note,
                        row.quantity,
                        row.reserved,
                        row.pull_here or "",
                    )
                )
        at_work = [each for each in where if any(w.kind in _WORKED_AT for w in where[each])]
        extra.work = out_for_work(connection, [], at_work)
        for row in rows:
            thing = Thing(batch=row.id)
            found[thing] = _state(
                thing, row, row.maker_batch, None, tuple(where[row.id]), extra.pulls_of_batch(row.id), extra
            )
    return found


def _state(
    thing: Thing,
    row: object,
    serial: str,
    lives: _Lives | None,
    where: tuple[Whereabouts, ...],
    reserved_for: tuple[str, ...],
    extra: _Extras,
) -> ThingState:
    get = row._mapping  # type: ignore[attr-defined]
    lived = lives.lived[get["id"]] if lives is not None else None
    return ThingState(
        thing=thing,
        tag=get["tag"],
        serial=serial,
        part=get["part_id"],
        part_number=get["house_number"],
        part_name=get["part_name"],
        measure=get["measure"],
        condition=get["condition"],
        scope=get["scope"],
        origin=get["origin"],
        used=get["used"],
        owner=get["owner_id"],
        owner_name=get["owner_name"],
        received_on=get["received_on"],
        shelf_expiry_on=get["shelf_expiry_on"],
        shelf_life_months=get["shelf_life_months"],
        prior_hours=lives.before[get["id"]].hours if lives is not None else None,
        run_hours=lived.hours(LifeSince.NEW).known() if lived is not None else None,
        life_limit=get["life_limit_hours"],
        life_limited=get["life_limited"],
        lived=lived,
        limits=lives.limits[get["part_id"]] if lives is not None else (),
        note=get["note"],
        checks=tuple((name, get[f"check_{name}"]) for name in ("right_part", "papers", "damage", "hazards")),
        papers=extra.papers[thing],
        holds=tuple(extra.holds[thing] + extra.part_holds[get["part_id"]]),
        hazards=get["part_id"] in extra.hazardous,
        where=where,
        reserved_for=reserved_for,
        doubts=extra.doubts.get(thing, ()),
        size_class=get["size_class"] or get["part_size_class"],
        finish=get["finish"] or get["part_finish"],
        work=extra.work.get(thing, ""),
    )


class _Lives:
    """What pieces had run before they came, what they have lived in all, and the limits of their parts."""

    def __init__(self, connection: Connection, rows: Sequence[Row[*tuple[Any, ...]]], on: date) -> None:
        self.before = {row.id: Before(*priors(row), row.made_on) for row in rows}
        self.limits = plain_limits({row.part_id: row.life_limit_hours for row in rows})
        limited = {row.part_id: row.life_limit_hours for row in rows if row.has_limits}
        if limited:
            self.limits |= read_limits(connection, limited, on)
        overhauled = any(
            limit.since is LifeSince.OVERHAUL for limits in self.limits.values() for limit in limits
        )
        lived = read_lived(connection, self.before, on, resets=overhauled)
        self.lived = {piece: each.lived for piece, each in lived.items()}


class _Extras:
    """What stands in other tables about the same things, read so many at a time as one statement takes."""

    def __init__(
        self, connection: Connection, pieces: list[int], batches: list[int], parts: Collection[int]
    ) -> None:
        self.papers: dict[Thing, int] = defaultdict(int)
        self.holds: dict[Thing, list[str]] = defaultdict(list)
        self.part_holds: dict[int, list[str]] = defaultdict(list)
        self.hazardous: set[int] = set()
        self.work: dict[Thing, str] = {}
        self._pulls: dict[int, list[str]] = defaultdict(list)
        self.doubts = doubts_on(
            connection,
            [*(Thing(piece=piece) for piece in pieces), *(Thing(batch=batch) for batch in batches)],
        )
        for some in chunks(pieces):
            for piece, number in connection.execute(_PAPERS_OF_PIECES, {"ids": some}):
                self.papers[Thing(piece=piece)] = number
            for piece, reason in connection.execute(_HOLDS_ON_PIECES, {"ids": some}):
                self.holds[Thing(piece=piece)].append(reason)
        for some in chunks(batches):
            for batch, number in connection.execute(_PAPERS_OF_BATCHES, {"ids": some}):
                self.papers[Thing(batch=batch)] = number
            for batch, reason in connection.execute(_HOLDS_ON_BATCHES, {"ids": some}):
                self.holds[Thing(batch=batch)].append(reason)
            for batch, pull in connection.execute(_PULLS_OF_BATCHES, {"ids": some}):
                if pull not in self._pulls[batch or 0]:
                    self._pulls[batch or 0].append(pull)
        for some in chunks(parts):
            for part, reason in connection.execute(_HOLDS_ON_PARTS, {"ids": some}):
                self.part_holds[part or 0].append(reason)
            self.hazardous.update(connection.scalars(_HAZARDOUS, {"ids": some}))

    def pulls_of_batch(self, batch: int) -> tuple[str, ...]:
        """The pulls that have some of a batch set aside."""
        return tuple(self._pulls[batch])
