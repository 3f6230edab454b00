"""Giving the next number of ours, and finding what a number given by a person names."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session

from invdb.records.catalogue import Family, OtherNumber, Part
from invdb.records.draft import Draft
from invdb.records.engines import Engine, Position
from invdb.records.ledger import Entry, EntryFact
from invdb.records.people import Firm, Owner, Person
from invdb.records.registry import TABLES
from invdb.records.stock import Batch, Piece, Place, Pull
from invdb.rules import numbering
from invdb.rules.numbering import NumberKind, Verdict
from invdb.terms import FieldRefused, Refused


@dataclass(frozen=True)
class Thing:
    """A piece or a batch, by its id; exactly one is set."""

    piece: int | None = None
    batch: int | None = None

    def __post_init__(self) -> None:
        assert (self.piece is None) != (self.batch is None)


def next_number(session: Session, draft: Draft, record: str, column: str, prefix: str) -> str:
    """The next number with this prefix: above every one in the table and in the draft, and above those whose
    entry was reversed, since a label may still bear it.
    """
    key = (record, column, prefix)
    known = draft.last_sequences.get(key)
    after, counted = known if known is not None else (_last_sequence(session, *key), 0)
    drafted = (fact.values.get(column, "") for fact in draft.facts[counted:] if fact.record == record)
    after = max(after, _highest(prefix, map(str, drafted)))
    draft.last_sequences[key] = after, len(draft.facts)
    return numbering.next_sequence(prefix, after)[1]


def _last_sequence(session: Session, record: str, column: str, prefix: str) -> int:
    """The highest sequence of this prefix that was ever given; 0 where there is none."""
    table = TABLES[record]
    # Longer numbers are higher; among numbers of one length, text order is number order.
    length = func.length(table.c[column])
    standing = session.scalars(
        select(table.c[column])
        .where(table.c[column] >= f"{prefix}0", table.c[column] < f"{prefix}:")
        .order_by(length.desc(), table.c[column].desc())
        .limit(1)
    ).all()
    # Few entries are reversed, and many facts are of one table: so their table is looked at here.
    undone = select(Entry.reverses).where(Entry.reverses.is_not(None))
    facts = select(EntryFact.record, EntryFact.values).where(EntryFact.entry_number.in_(undone))
    once = [
        str(json.loads(values).get(column, ""))
        for of_record, values in session.execute(facts)
        if of_record == record
    ]
    return _highest(prefix, [*standing, *once])


def _highest(prefix: str, numbers: Iterable[str]) -> int:
    readings = (numbering.read_number(number) for number in numbers if number.startswith(prefix))
    return max((reading.sequence for reading in readings if reading.prefix == prefix), default=0)


def issue_tag(session: Session, draft: Draft, record: str, given: str | None) -> str:
    """The tag for a new piece or batch: the one given if it is free, else the next one."""
    kind = NumberKind.PIECE if record == "piece" else NumberKind.BATCH
    if given is None:
        return next_number(session, draft, record, "tag", numbering.TAG_LETTERS[kind])
    tag = numbering.right_number(given)
    if numbering.read_number(tag).kind is not kind:
        raise FieldRefused("tag", f"{tag} is no {kind}.", "Leave it empty, and the next one is issued.")
    table = Piece if record == "piece" else Batch
    drafted = {fact.values.get("tag") for fact in draft.facts if fact.record == record}
    if tag in drafted or session.scalar(select(table.id).where(table.tag == tag)) is not None:
        raise FieldRefused("tag", f"The tag {tag} is taken.", "Leave it empty, and the next one is issued.")
    return tag


def thing_by_tag(session: Session, text: str) -> Thing:
    """The piece or batch whose tag a person typed or scanned.

    Refused with the check character's word when it is mistyped, and otherwise as unknown.
    """
    tag = _ours(text, "tag")
    piece = session.scalar(select(Piece.id).where(Piece.tag == tag))
    if piece is not None:
        return Thing(piece=piece)
    batch = session.scalar(select(Batch.id).where(Batch.tag == tag))
    if batch is not None:
        return Thing(batch=batch)
    raise Refused(
        f"No piece or batch has the tag {tag}.", "Its check character is right, so look at the label."
    )


def piece_by_tag(session: Session, text: str) -> int:
    """The piece with this tag; Refused for a batch's too."""
    thing = thing_by_tag(session, text)
    if thing.piece is None:
        raise Refused(f"{text.strip()} is a batch.", "Give the tag of a single piece.")
    return thing.piece


def batch_by_tag(session: Session, text: str) -> int:
    """The batch with this tag; Refused for a piece's too."""
    thing = thing_by_tag(session, text)
    if thing.batch is None:
        raise Refused(f"{text.strip()} is a single piece.", "Give the tag of a batch.")
    return thing.batch


def part_by_number(session: Session, text: str) -> int:
    """The part with this house number, or else the one part with this other number."""
    reading = numbering.read_number(text)
    if reading.verdict is Verdict.RIGHT and reading.kind is NumberKind.HOUSE:
        found = session.scalar(select(Part.id).where(Part.house_number == reading.number))
        if found is not None:
            return found
    others = session.execute(
        select(Part.id, Part.house_number)
        .join(OtherNumber, OtherNumber.part_id == Part.id)
        .where(
            OtherNumber.withdrawn_on.is_(None),
            or_(
                OtherNumber.number == unicodedata.normalize("NFC", text.strip()),
                func.upper(OtherNumber.number) == text.strip().upper(),
            ),
        )
        .distinct()
    ).all()
    if len(others) == 1:
        return int(others[0].id)
    if others:
        names = ", ".join(sorted(row.house_number for row in others))
        raise Refused(
            f"{text.strip()} is a number of several parts: {names}.",
            "Give the house number.",
        )
    if reading.verdict is Verdict.MISTYPED:
        numbering.right_number(text)
    raise Refused(f"No part has the number {text.strip()!r}.", "Find it by name, or add it.")


def pull_by_number(session: Session, text: str) -> int:
    """The pull with this number."""
    number = _ours(text, "pull number")
    found = session.scalar(select(Pull.id).where(Pull.number == number))
    if found is None:
        raise Refused(f"There is no pull {number}.", "Look at the pick list again.")
    return found


def _ours(text: str, what: str) -> str:
    reading = numbering.read_number(text)
    if reading.verdict is Verdict.OTHER:
        raise Refused(
            f"{text.strip()[:64]!r} is not the shape of a {what}.", "Type it as it stands on the label."
        )
    return numbering.right_number(text)


def engine_named(session: Session, text: str) -> int:
    """The engine with this name or serial."""
    wanted = text.strip()
    rows = session.execute(select(Engine.id, Engine.name, Engine.serial)).all()
    found = [row.id for row in rows if wanted.casefold() in {row.name.casefold(), row.serial.casefold()}]
    if len(found) == 1:
        return int(found[0])
    names = ", ".join(sorted(row.name for row in rows)) or "none yet"
    if found:
        raise Refused(f"{wanted} is the serial of several engines.", f"Give the name: {names}.")
    raise Refused(f"There is no engine {wanted!r}.", f"The engines are: {names}.")


def position_named(session: Session, engine: int, text: str) -> int:
    """The position of that name on an engine; ``cylinder 5`` and ``5`` are the same."""
    rows = session.execute(
        select(Position.id, Position.group_name, Position.name)
        .join(Engine, Engine.engine_type_id == Position.engine_type_id)
        .where(Engine.id == engine)
        .order_by(Position.sequence)
    ).all()
    wanted = " ".join(text.casefold().split())
    for row in rows:
        if wanted in {row.name.casefold(), f"{row.group_name} {row.name}".casefold()}:
            return int(row.id)
    names = ", ".join(row.name for row in rows) or "none"
    raise Refused(f"That engine has no position {text.strip()!r}.", f"Its positions are: {names}.")


def place_named(session: Session, text: str) -> int:
    """The place of that name, whatever the case."""
    found = _id_named(session, Place, text)
    if found is None:
        raise Refused(f"There is no place {text.strip()!r}.", "Choose one that stands, or add it.")
    return found


def firm_named(session: Session, text: str) -> int:
    """The firm of that name, whatever the case."""
    found = _id_named(session, Firm, text)
    if found is None:
        raise Refused(f"There is no firm {text.strip()!r}.", "Add it first.")
    return found


def owner_named(session: Session, text: str) -> int:
    """The owner of that name, whatever the case."""
    found = _id_named(session, Owner, text)
    if found is None:
        raise Refused(f"There is no owner {text.strip()!r}.", "Add it first.")
    return found


def person_named(session: Session, text: str) -> int:
    """The person of that name, whatever the case."""
    found = _id_named(session, Person, text)
    if found is None:
        names = ", ".join(session.scalars(select(Person.name).where(Person.works_here).order_by(Person.name)))
        raise Refused(f"Nobody here is called {text.strip()!r}.", f"Those who work here: {names}.")
    return found


def _id_named(
    session: Session, table: type[Place] | type[Firm] | type[Owner] | type[Person], text: str
) -> int | None:
    """The id of what bears just this name, else of the only one that bears it in other case.

    Case is told here, since SQLite knows it of A to Z alone. Refused where several differ by case only.
    """
    wanted = unicodedata.normalize("NFC", text.strip())
    exact = session.scalar(select(table.id).where(table.name == wanted))
    if exact is not None:
        return exact
    folded = wanted.casefold()
    alike = [row for row in session.execute(select(table.id, table.name)) if row.name.casefold() == folded]
    if len(alike) > 1:
        names = ", ".join(sorted(row.name for row in alike))
        raise Refused(f"{wanted} could be any of: {names}.", "Type the name just as it stands.")
    return int(alike[0].id) if alike else None


def family_lettered(session: Session, text: str) -> int:
    """The family with these letters."""
    letters = text.strip().upper()
    found = session.scalar(select(Family.id).where(Family.letters == letters))
    if found is None:
        standing = ", ".join(session.scalars(select(Family.letters).order_by(Family.letters))) or "none yet"
        raise Refused(f"There is no family {letters}.", f"Add it, or use one of: {standing}.")
    return found


def house_number_of(session: Session, part: int) -> str:
    """A part's house number by its id."""
    return session.scalars(select(Part.house_number).where(Part.id == part)).one()
