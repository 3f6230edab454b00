"""Find anything by any of its numbers and names, from one line of text."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, exists, or_, select
from sqlalchemy.orm import Session, aliased

from invdb.records.catalogue import Family, Mod, OtherNumber, Part
from invdb.records.documents import Document
from invdb.records.engines import Engine, EngineType, Position
from invdb.records.people import Firm
from invdb.records.searching import Hit, fitting, fitting_but_for_a_slip
from invdb.records.stock import Batch, Hold, Holding, Piece, Place, Pull
from invdb.rules.finding import QUERY_WORDS_MAX, TEXT_LENGTH_MAX, readings
from invdb.rules.numbering import NumberKind, NumberReading, Verdict, format_number, read_number
from invdb.terms import Condition, Scope

FOUND_MAX = 50
ON_HOLD = "on hold"


@dataclass(frozen=True)
class Found:
    """One record that fits.

    ``kind`` is its table and ``ref`` its id there; ``headline`` its number, tag or name, and ``detail`` what
    tells it apart. ``exact`` if it has each word whole; ``slip`` if only with one typing slip undone.
    ``sign`` is ``on hold``, else the condition of a piece or a batch, else empty.
    """

    kind: str
    ref: int
    headline: str
    detail: str
    exact: bool
    slip: bool
    sign: str = ""


@dataclass(frozen=True)
class FindResult:
    """What was found, best first; ``more`` if there is more than that.

    ``remark`` is empty or a plain sentence or two: that a slip was undone, that a number is mistyped or not
    known here, that not all of the text was looked for.
    """

    found: tuple[Found, ...]
    more: bool
    remark: str


def find(session: Session, text: str, limit: int = FOUND_MAX) -> FindResult:
    """The first records, at most ``limit``, that have every word of the text, whole or as a beginning.

    Case, accents, hyphens, spaces, leading zeros and the order of words do not matter. If nothing fits,
    records that fit when one typing slip is undone.
    """
    queries = readings(text)
    connection = session.connection()
    hits: list[Hit] = []
    cut = slip = False
    for query in queries:
        hits, cut = fitting(connection, query, limit + 1), query.cut
        if hits:
            break
    else:
        slip = bool(queries)
        hits = fitting_but_for_a_slip(connection, queries[0], limit + 1) if slip else []
    reading = read_number(text)
    named = _named(session, reading)
    if named is not None:
        # What is the same but for its zeros comes after the one number that was typed or scanned.
        hits = [named, *(hit for hit in hits if (hit.kind, hit.ref) != (named.kind, named.ref))]
    found = tuple(_described(connection, hits[:limit], slip))
    return FindResult(found, len(hits) > limit, _remark(text, reading, found, cut=cut))


def _named(session: Session, reading: NumberReading) -> Hit | None:
    """The one record that has just this number of ours, its check character typed or left off."""
    unchecked = reading.verdict is Verdict.MISTYPED and not reading.check
    if reading.kind is None or not (reading.verdict is Verdict.RIGHT or unchecked):
        return None
    kind, ref, number = _OWN_NUMBERS[reading.kind]
    named = session.scalar(select(ref).where(number == format_number(reading.prefix, reading.sequence)))
    return None if named is None else Hit(kind, named, "")


def _remark(text: str, reading: NumberReading, found: Sequence[Found], *, cut: bool) -> str:
    remarks = []
    if cut:
        remarks.append(
            f"Only the first {QUERY_WORDS_MAX} words and {TEXT_LENGTH_MAX} characters were looked for."
        )
    slip = any(each.slip for each in found)
    if not any(each.exact and _plain(text) in _plain(f"{each.headline} {each.detail}") for each in found):
        if reading.verdict is Verdict.MISTYPED and reading.check:
            perhaps = f" Perhaps {' or '.join(reading.perhaps)} was meant." if reading.perhaps else ""
            remarks.append(
                f"If {reading.number} should be one of our numbers, it is mistyped:"
                f" its check character does not fit the rest.{perhaps}"
            )
        elif reading.verdict is Verdict.RIGHT:
            remarks.append(f"{reading.number} is a rightly typed number, but nothing here has it.")
    if slip:
        remarks.append("Nothing fits as typed; this fits but for one slip.")
    return " ".join(remarks)


def _plain(text: str) -> str:
    return "".join(character for character in text.casefold() if character.isalnum())


_OWN_NUMBERS = {
    NumberKind.HOUSE: ("part", Part.id, Part.house_number),
    NumberKind.PIECE: ("piece", Piece.id, Piece.tag),
    NumberKind.BATCH: ("batch", Batch.id, Batch.tag),
    NumberKind.PULL: ("pull", Pull.id, Pull.number),
}


@dataclass(frozen=True)
class _Shown:
    """What is shown of a record."""

    headline: str
    detail: str
    sign: str = ""


def _described(connection: Connection, hits: Sequence[Hit], slip: bool) -> Iterator[Found]:
    """The hits with what is shown of them, in their order; a few statements for each kind."""
    refs: dict[str, list[int]] = defaultdict(list)
    for hit in hits:
        refs[hit.kind].append(hit.ref)
    shown = {kind: _SHOW[kind](connection, some) for kind, some in refs.items()}
    for hit in hits:
        says = shown[hit.kind][hit.ref]
        yield Found(
            hit.kind, hit.ref, says.headline, says.detail, hit.exact and not slip, slip=slip, sign=says.sign
        )


def _sentence(*items: str | None) -> str:
    return ", ".join(item for item in items if item)


def _accepted(condition: Condition, scope: Scope | None) -> str:
    return f"{condition} for {scope}" if condition is Condition.SERVICEABLE and scope else str(condition)


def _held(*subjects: ColumnElement[bool]) -> ColumnElement[bool]:
    """Whether a doubt is raised on one of these that no entry has cleared."""
    held = (exists().where(subject, Hold.cleared_on.is_(None)) for subject in subjects)
    return or_(*held).label("held")


def _sign(held: bool, condition: Condition | None = None) -> str:
    return ON_HOLD if held else str(condition or "")


def _parts(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    numbers: dict[int, list[str]] = defaultdict(list)
    others = select(OtherNumber.part_id, OtherNumber.number).where(OtherNumber.part_id.in_(refs))
    for ref, number in connection.execute(others.order_by(OtherNumber.id)):
        numbers[ref].append(number)
    parts = select(Part.id, Part.house_number, Part.name, _held(Hold.part_id == Part.id))
    return {
        ref: _Shown(house_number, _sentence(name, *numbers[ref]), _sign(held))
        for ref, house_number, name, held in connection.execute(parts.where(Part.id.in_(refs)))
    }


def _pieces(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(
        select(
            Piece.id,
            Piece.tag,
            Piece.serial,
            Piece.condition,
            Piece.scope,
            Part.house_number,
            Part.name,
            Place.name.label("place"),
            _held(Hold.piece_id == Piece.id, Hold.part_id == Piece.part_id),
        )
        .join(Part, Part.id == Piece.part_id)
        .join(Place, Place.id == Piece.place_id)
        .where(Piece.id.in_(refs))
    )
    return {
        row.id: _Shown(
            row.tag,
            _sentence(
                f"{row.house_number} {row.name}",
                row.serial and f"serial {row.serial}",
                _accepted(row.condition, row.scope),
                row.place,
            ),
            _sign(row.held, row.condition),
        )
        for row in rows
    }


def _batches(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    places: dict[int, list[str]] = defaultdict(list)
    holdings = (
        select(Holding.batch_id, Place.name)
        .join(Place, Place.id == Holding.place_id)
        .where(Holding.batch_id.in_(refs), Holding.quantity > 0)
        .order_by(Place.walking_order, Place.id)
    )
    for ref, place in connection.execute(holdings):
        places[ref].append(place)
    rows = connection.execute(
        select(
            Batch.id,
            Batch.tag,
            Batch.maker_batch,
            Batch.condition,
            Batch.scope,
            Part.house_number,
            Part.name,
            _held(Hold.batch_id == Batch.id, Hold.part_id == Batch.part_id),
        )
        .join(Part, Part.id == Batch.part_id)
        .where(Batch.id.in_(refs))
    )
    return {
        row.id: _Shown(
            row.tag,
            _sentence(
                f"{row.house_number} {row.name}",
                row.maker_batch and f"maker's batch {row.maker_batch}",
                _accepted(row.condition, row.scope),
                *(places[row.id] or ["none left"]),
            ),
            _sign(row.held, row.condition),
        )
        for row in rows
    }


def _places(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    parent = aliased(Place)
    rows = connection.execute(
        select(Place.id, Place.name, Place.kind, Place.bonded, parent.name)
        .outerjoin(parent, parent.id == Place.parent_id)
        .where(Place.id.in_(refs))
    )
    return {
        ref: _Shown(name, _sentence(f"bonded {kind}" if bonded else str(kind), within and f"in {within}"))
        for ref, name, kind, bonded, within in rows
    }


def _pulls(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(
        select(
            Pull.id,
            Pull.number,
            Engine.name,
            Position.group_name,
            Position.name,
            Pull.asked_on,
            Pull.cancelled,
        )
        .join(Engine, Engine.id == Pull.engine_id)
        .join(Position, Position.id == Pull.position_id)
        .where(Pull.id.in_(refs))
    )
    return {
        ref: _Shown(
            number,
            _sentence(
                engine, f"{group} {position}", asked_on.isoformat(), "cancelled" if cancelled else None
            ),
        )
        for ref, number, engine, group, position, asked_on, cancelled in rows
    }


def _engines(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(
        select(
            Engine.id,
            Engine.name,
            EngineType.name,
            Engine.serial,
            Engine.use,
            _held(Hold.engine_id == Engine.id),
        )
        .join(EngineType, EngineType.id == Engine.engine_type_id)
        .where(Engine.id.in_(refs))
    )
    return {
        ref: _Shown(name, _sentence(type_name, f"serial {serial}", str(use)), _sign(held))
        for ref, name, type_name, serial, use, held in rows
    }


def _engine_types(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(
        select(EngineType.id, EngineType.name, EngineType.layout, Firm.name)
        .outerjoin(Firm, Firm.id == EngineType.maker_firm_id)
        .where(EngineType.id.in_(refs))
    )
    return {
        ref: _Shown(name, _sentence("engine type", str(layout), maker and f"by {maker}"))
        for ref, name, layout, maker in rows
    }


def _documents(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(
        select(Document.id, Document.reference, Document.kind, Document.title, Document.dated_on).where(
            Document.id.in_(refs)
        )
    )
    return {
        ref: _Shown(
            reference or title,
            _sentence(str(kind), title, dated_on.isoformat() if dated_on is not None else None),
        )
        for ref, reference, kind, title, dated_on in rows
    }


def _firms(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(select(Firm.id, Firm.name, Firm.role, Firm.town).where(Firm.id.in_(refs)))
    return {ref: _Shown(name, _sentence(str(role), town)) for ref, name, role, town in rows}


def _mods(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(
        select(Mod.id, Mod.code, Mod.name, EngineType.name)
        .join(EngineType, EngineType.id == Mod.engine_type_id)
        .where(Mod.id.in_(refs))
    )
    return {ref: _Shown(code, _sentence(name, f"mod of the {of_type}")) for ref, code, name, of_type in rows}


def _families(connection: Connection, refs: list[int]) -> dict[int, _Shown]:
    rows = connection.execute(select(Family.id, Family.letters, Family.name).where(Family.id.in_(refs)))
    return {ref: _Shown(letters, _sentence(name, "family of parts")) for ref, letters, name in rows}


_SHOW: dict[str, Callable[[Connection, list[int]], dict[int, _Shown]]] = {
    "part": _parts,
    "piece": _pieces,
    "batch": _batches,
    "place": _places,
    "pull": _pulls,
    "engine": _engines,
    "engine_type": _engine_types,
    "document": _documents,
    "firm": _firms,
    "mod": _mods,
    "family": _families,
}
