"""Lay out a pick list: of pulls that are reserved, or of a proposal that is not yet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from invdb.acts.concession_lines import ConcessionFacts, concessions_of
from invdb.acts.numbers import Thing
from invdb.acts.proposed import KitLineProposal, KitProposal, Proposal
from invdb.acts.pull_fits import fit_notes, fits_of_pulls
from invdb.acts.shown import papers_words, printed_at, workshop_name
from invdb.acts.things import ThingState, things_by_id
from invdb.records.catalogue import KitLine, Part, PartHazard
from invdb.records.engines import Engine, EngineType, Position
from invdb.records.people import Person
from invdb.records.stock import Piece, Place, Pull, PullLine
from invdb.rules.life import prior_hours_words
from invdb.rules.numbering import NumberKind, read_number
from invdb.rules.pick_list import (
    FitNote,
    HazardNote,
    NearMiss,
    PickList,
    PickRow,
    PullHead,
    ShortRow,
    in_walking_order,
)
from invdb.rules.pulling import LineCounts, pull_state
from invdb.terms import Measure, PullState, Refused, Tracking


def pick_list_of_pulls(session: Session, pulls: Collection[int]) -> PickList:
    """The pick list of pulls: what is still to fetch for each, and what each lacks."""
    heads = {pull: _head(session, pull) for pull in pulls}
    lines = session.execute(
        select(
            PullLine.pull_id,
            PullLine.piece_id,
            PullLine.batch_id,
            PullLine.place_id,
            PullLine.quantity,
            PullLine.reserved,
            PullLine.why,
            PullLine.authority,
            PullLine.wanted_part_id,
            PullLine.part_id,
            KitLine.station,
            Part.house_number.label("wanted_number"),
            Part.name.label("wanted_name"),
            Part.measure,
            Piece.place_id.label("piece_place"),
        )
        .join(KitLine, KitLine.id == PullLine.kit_line_id)
        .join(Part, Part.id == PullLine.wanted_part_id)
        .outerjoin(Piece, Piece.id == PullLine.piece_id)
        .where(PullLine.pull_id.in_(pulls))
        .order_by(PullLine.id)
    ).all()
    held = [line for line in lines if line.piece_id is not None or line.batch_id is not None]
    states = things_by_id(session, [Thing(line.piece_id, line.batch_id) for line in held])
    hazards = hazard_notes(session, {line.part_id for line in lines})
    allowed = concessions_of(session, [line.piece_id for line in held if line.piece_id is not None])
    places = _places(session, {line.piece_place or line.place_id for line in held})
    rows = []
    for line in held:
        if line.reserved <= 0:
            continue
        state = states[Thing(line.piece_id, line.batch_id)]
        name, order = places[line.piece_place or line.place_id]
        rows.append(
            _row(
                heads[line.pull_id].number,
                line.station,
                state,
                name,
                order,
                line.reserved,
                line.why,
                line.wanted_number if line.part_id != line.wanted_part_id else "",
                line.authority,
                hazards.get(line.part_id, ()),
                allowed.get(line.piece_id, ()),
            )
        )
    short = tuple(
        ShortRow(
            heads[line.pull_id].number,
            line.station,
            line.wanted_number,
            line.wanted_name,
            line.quantity,
            line.measure,
            _near_misses(line.why),
        )
        for line in lines
        if line.piece_id is None and line.batch_id is None
    )
    return PickList(
        workshop_name(session),
        printed_at(session),
        tuple(heads.values()),
        in_walking_order(rows),
        short,
        tuple(
            note
            for pull, fits in fits_of_pulls(session, pulls).items()
            for note in fit_notes(heads[pull].number, fits)
        ),
    )


def pick_list_of_proposal(session: Session, proposal: Proposal, asked_by: int) -> PickList:
    """The pick list of a proposal that nothing holds yet: its kits have no pull numbers.

    Where there are several, they are told apart as ``Kit 1``, ``Kit 2`` and so on.
    """
    who = session.scalar(select(Person.name).where(Person.id == asked_by)) or ""
    heads = []
    rows: list[PickRow] = []
    short: list[ShortRow] = []
    choices = [choice for kit in proposal.kits for line in kit.lines for choice in line.choices]
    states = things_by_id(session, {choice.thing for choice in choices})
    hazards = hazard_notes(session, {choice.part for choice in choices})
    allowed = concessions_of(
        session, [choice.thing.piece for choice in choices if choice.thing.piece is not None]
    )
    fits: list[FitNote] = []
    for place, kit in enumerate(proposal.kits, start=1):
        number = f"Kit {place}" if len(proposal.kits) > 1 else ""
        fits += fit_notes(number, kit.fits)
        heads.append(_proposed_head(number, kit, who, proposal.proposed_on))
        for line in kit.lines:
            for choice in line.choices:
                rows.append(
                    _row(
                        number,
                        line.station,
                        states[choice.thing],
                        choice.bin,
                        choice.walking_order,
                        choice.quantity,
                        choice.why,
                        line.part_number if choice.authority else "",
                        choice.authority,
                        hazards.get(choice.part, ()),
                        allowed.get(choice.thing.piece or 0, ()),
                    )
                )
            if line.missing:
                short.append(_proposed_short(number, line))
    return PickList(
        workshop_name(session),
        printed_at(session),
        tuple(heads),
        in_walking_order(rows),
        tuple(short),
        tuple(fits),
    )


def _proposed_head(number: str, kit: KitProposal, who: str, on: date) -> PullHead:
    return PullHead(
        number,
        f"{kit.engine.name} ({kit.engine.serial})",
        kit.engine.engine_type_name,
        f"{kit.position.group} {kit.position.name}",
        kit.engine.use,
        who,
        on,
        reserved=False,
    )


def _proposed_short(number: str, line: KitLineProposal) -> ShortRow:
    misses = tuple(NearMiss(f"{miss.tag} in {miss.where}", ", ".join(miss.bars)) for miss in line.misses)
    return ShortRow(
        number, line.station, line.part_number, line.part_name, line.missing, line.measure, misses
    )


def _near_misses(words: str) -> tuple[NearMiss, ...]:
    """The near misses as a pull line keeps them: each its tag and its bars, with ``; `` between them.

    A bar may hold a ``; `` of its own, as in the words of a hold; a new one begins only with a tag.
    """
    found: list[NearMiss] = []
    for said in words.split("; ") if words else ():
        tag, _, bar = said.partition(" ")
        if read_number(tag).kind in {NumberKind.PIECE, NumberKind.BATCH}:
            found.append(NearMiss(tag, bar))
        elif found:
            found[-1] = NearMiss(found[-1].what, f"{found[-1].bar}; {said}")
        else:
            found.append(NearMiss("", said))
    return tuple(found)


def _row(
    pull_number: str,
    station: str,
    state: ThingState,
    bin_name: str,
    walking_order: int,
    quantity: int,
    why: str,
    alternate_for: str,
    authority: str,
    hazards: tuple[HazardNote, ...],
    concessions: tuple[ConcessionFacts, ...],
) -> PickRow:
    return PickRow(
        pull_number=pull_number,
        bin_name=bin_name,
        walking_order=walking_order,
        station=station,
        part_number=state.part_number,
        part_name=state.part_name,
        tag=state.tag,
        tracking=Tracking.PIECE if state.thing.piece is not None else Tracking.BATCH,
        quantity=quantity,
        measure=state.measure,
        condition=state.condition,
        scope=state.scope,
        serial=state.serial,
        papers=papers_words(state.papers),
        hours=prior_hours_words(state.run_hours) if state.run_hours is not None else "",
        why=why,
        alternate_for=alternate_for,
        authority=authority,
        hazards=hazards,
        remarks=(
            *(f"on hold: {reason}" for reason in state.holds),
            *state.doubts,
            *(concession.words for concession in concessions),
        ),
    )


def _head(session: Session, pull: int) -> PullHead:
    row = session.execute(
        select(
            Pull.number,
            Pull.asked_on,
            Person.name.label("asked_by"),
            Engine.name.label("engine"),
            Engine.serial,
            Engine.use,
            EngineType.name.label("engine_type"),
            Position.group_name,
            Position.name.label("position"),
        )
        .join(Person, Person.id == Pull.asked_by)
        .join(Engine, Engine.id == Pull.engine_id)
        .join(EngineType, EngineType.id == Engine.engine_type_id)
        .join(Position, Position.id == Pull.position_id)
        .where(Pull.id == pull)
    ).one_or_none()
    if row is None:
        raise Refused("There is no such pull.", "Look at its number again.")
    return PullHead(
        row.number,
        f"{row.engine} ({row.serial})",
        row.engine_type,
        f"{row.group_name} {row.position}",
        row.use,
        row.asked_by,
        row.asked_on,
    )


def hazard_notes(session: Session, parts: Iterable[int]) -> dict[int, tuple[HazardNote, ...]]:
    """What can hurt a person who handles these parts, by part; those with no hazard are left out."""
    found: dict[int, list[HazardNote]] = defaultdict(list)
    query = select(PartHazard.part_id, PartHazard.hazard, PartHazard.caution).where(
        PartHazard.part_id.in_(set(parts)), PartHazard.withdrawn_on.is_(None)
    )
    for part, hazard, caution in session.execute(query.order_by(PartHazard.id)):
        found[part].append(HazardNote(str(hazard), caution))
    return {part: tuple(notes) for part, notes in found.items()}


def _places(session: Session, places: Collection[int]) -> dict[int, tuple[str, int]]:
    query = select(Place.id, Place.name, Place.walking_order).where(Place.id.in_(places))
    return {place: (name, order) for place, name, order in session.execute(query)}


@dataclass(frozen=True)
class PullSummary:
    """A pull in a list: which kit, how far it has come, and how many of its lines are short."""

    pull: int
    number: str
    engine: str
    position: str
    asked_by: str
    asked_on: date
    state: PullState
    lines: int
    short: int


@dataclass(frozen=True)
class PulledLine:
    """One line of a pull as it stands; quantities in the smallest unit.

    ``returned`` is all that left the pull again, and ``fitted`` what of that went into an engine or a piece.
    ``taken_from`` is the place where it lay when it was reserved, and None for a short line.
    """

    pull_line: int
    station: str
    tag: str
    part_number: str
    part_name: str
    measure: Measure
    quantity: int
    reserved: int
    issued: int
    returned: int
    fitted: int
    authority: str
    why: str
    taken_from: int | None
    taken_from_name: str


def pulls(session: Session, engine: int | None = None, only_open: bool = True) -> tuple[PullSummary, ...]:
    """The pulls, newest first: of one engine or of all, and by default only those not yet settled."""
    query = (
        select(
            Pull.id,
            Pull.number,
            Pull.cancelled,
            Pull.asked_on,
            Engine.name.label("engine"),
            Position.group_name,
            Position.name.label("position"),
            Person.name.label("asked_by"),
        )
        .join(Engine, Engine.id == Pull.engine_id)
        .join(Position, Position.id == Pull.position_id)
        .join(Person, Person.id == Pull.asked_by)
        .order_by(Pull.id.desc())
    )
    if engine is not None:
        query = query.where(Pull.engine_id == engine)
    if only_open:
        query = query.where(
            Pull.cancelled.is_(False),
            Pull.id.in_(
                select(PullLine.pull_id).where(
                    (PullLine.reserved > 0) | (PullLine.issued > PullLine.returned)
                )
            ),
        )
    rows = session.execute(query).all()
    counts: dict[int, list[LineCounts]] = defaultdict(list)
    short: dict[int, int] = defaultdict(int)
    lines = select(
        PullLine.pull_id,
        func.coalesce(PullLine.piece_id, PullLine.batch_id).label("thing"),
        PullLine.quantity,
        PullLine.reserved,
        PullLine.issued,
        PullLine.returned,
    )
    listed = query.with_only_columns(Pull.id).order_by(None)
    for line in session.execute(lines.where(PullLine.pull_id.in_(listed))):
        if line.thing is None:
            short[line.pull_id] += 1
        counts[line.pull_id].append(LineCounts(line.quantity, line.reserved, line.issued, line.returned))
    return tuple(
        PullSummary(
            row.id,
            row.number,
            row.engine,
            f"{row.group_name} {row.position}",
            row.asked_by,
            row.asked_on,
            pull_state(counts[row.id], row.cancelled),
            len(counts[row.id]),
            short[row.id],
        )
        for row in rows
    )


def pull_lines(session: Session, pull: int) -> tuple[PulledLine, ...]:
    """Every line of a pull as it stands, in the kit list's order; a short line has no tag."""
    rows = session.execute(
        select(PullLine, KitLine.station, Part.house_number, Part.name, Part.measure, Place.name)
        .join(KitLine, KitLine.id == PullLine.kit_line_id)
        .join(Part, Part.id == PullLine.part_id)
        .outerjoin(Place, Place.id == PullLine.place_id)
        .where(PullLine.pull_id == pull)
        .order_by(KitLine.sequence, PullLine.id)
        .execution_options(populate_existing=True)
    )
    found = list(rows)
    things = [
        Thing(line.piece_id, line.batch_id)
        for line, *_ in found
        if line.piece_id is not None or line.batch_id is not None
    ]
    states = things_by_id(session, things)
    return tuple(
        PulledLine(
            line.id,
            station,
            states[Thing(line.piece_id, line.batch_id)].tag if (line.piece_id or line.batch_id) else "",
            number,
            name,
            measure,
            line.quantity,
            line.reserved,
            line.issued,
            line.returned,
            line.fitted,
            line.authority,
            line.why,
            line.place_id,
            place or "",
        )
        for line, station, number, name, measure, place in found
    )
