"""The status sheet of an engine: all that its owner hands over with it, now or as of a past day."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy import BindParameter, Row, Select, bindparam, or_, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from invdb.acts.as_fitted import as_fitted
from invdb.acts.as_of import as_of
from invdb.acts.concession_lines import ConcessionFacts, concession_lines
from invdb.acts.directive_lines import DirectiveFacts, directives_of
from invdb.acts.event_doubts import taints_on
from invdb.acts.event_lines import events_of_engine
from invdb.acts.life import EngineLife, LifeStanding, PieceLife, engine_life, life_of
from invdb.acts.mods import mods_on
from invdb.acts.numbers import Thing
from invdb.acts.shown import printed_at, workshop_name
from invdb.acts.status_gaps import PieceTold, gaps_of
from invdb.records.builds import Debt
from invdb.records.catalogue import Part
from invdb.records.chunks import chunks
from invdb.records.engines import Engine, EngineType
from invdb.records.ledger import LedgerHead
from invdb.records.people import Firm, Owner, Person
from invdb.records.stock import Hold
from invdb.rules.build import Build, Fitted, fitted
from invdb.rules.concessions import ConcessionVerdict
from invdb.rules.directives import next_due_words
from invdb.rules.forecast import windows_words
from invdb.rules.history import HoldLine
from invdb.rules.quantities import quantity_words
from invdb.rules.status import (
    ConcessionLine,
    DebtLine,
    DirectiveLine,
    EventLine,
    LifeLine,
    LimitStanding,
    ModLine,
    OverhaulStatus,
    PresumedStation,
    RunTotals,
    StatusSheet,
    directives_together,
    incomplete_positions,
    station_words,
)
from invdb.rules.told import counted
from invdb.terms import Refused

_IDS: BindParameter[Any] = bindparam("ids", expanding=True)
_ENGINE = (
    select(
        Engine.name,
        Engine.serial,
        Engine.use,
        EngineType.name.label("type_name"),
        Firm.name.label("maker"),
        Owner.name.label("owner"),
    )
    .join(EngineType, EngineType.id == Engine.engine_type_id)
    .outerjoin(Firm, Firm.id == EngineType.maker_firm_id)
    .join(Owner, Owner.id == Engine.owner_id)
    .where(Engine.id == bindparam("engine"))
)
_LIFE_LIMITED = select(Part.id).where(Part.id.in_(_IDS), Part.life_limited)
_CRITICAL = select(Part.id).where(Part.id.in_(_IDS), Part.critical)
_DEBTS = (
    select(Debt.id, Debt.reason, Person.name)
    .join(Person, Person.id == Debt.authorised_by)
    .where(Debt.id.in_(_IDS))
)


@dataclass(frozen=True)
class Inside:
    """A thing in the engine: at which station in words ('' for none), and what it is called."""

    fitted: Fitted
    station: str

    @property
    def piece(self) -> int | None:
        """Its id, of a piece."""
        return self.fitted.thing.piece

    @property
    def name(self) -> str:
        """'Exhaust valve T000140-2'."""
        return f"{self.fitted.thing.part_name} {self.fitted.thing.tag}"

    @property
    def at(self) -> str:
        """Its name, and its station."""
        return f"{self.name}, {self.station}" if self.station else self.name


def status_sheet(session: Session, engine: int, on: date | None = None) -> StatusSheet:
    """The status of an engine at the end of a day (None: now), by all that is known now.

    Its name, owner and use are those it has now. Refused when the engine is not in the store, and for a day
    to come.
    """
    day = as_of(session, on)
    row = session.execute(_ENGINE, {"engine": engine}).one_or_none()
    if row is None:
        raise Refused("That engine is not in the store.", "Choose another.")
    build = as_fitted(session, engine, on)
    inside = _inside(build)
    pieces = [each.piece for each in inside if each.piece is not None]
    lives = life_of(session, pieces, on) if pieces else {}
    life = engine_life(session, engine, on)
    limited = _parts_that(session, inside, _LIFE_LIMITED)
    critical = _parts_that(session, inside, _CRITICAL)
    head = session.execute(select(LedgerHead.number, LedgerHead.hash)).one()
    totals = RunTotals(life.before_hours, life.before_starts, life.logged, life.log_begun_on)
    with_life = [each for each in inside if each.piece is not None and _has_life(each, lives, limited)]
    told = {
        each.piece: PieceTold(each.name, each.fitted.thing.tag)
        for each in inside
        if each.piece is not None and (each in with_life or each.fitted.thing.part in critical)
    }
    return StatusSheet(
        workshop=workshop_name(session),
        printed_at=printed_at(session),
        as_of=day,
        name=row.name,
        type_name=" ".join(word for word in (row.maker, row.type_name) if word),
        serial=row.serial,
        owner=row.owner,
        use=row.use,
        totals=totals,
        meter=life.meter,
        overhaul=_overhaul(life),
        last_entry=head.number,
        last_hash=head.hash,
        ran_of_late=windows_words(life.windows),
        life=tuple(_life_line(each, lives) for each in with_life),
        directives=directives_together(map(_directive, directives_of(session, engine, on))),
        concessions=_concessions(session, engine, on),
        holds=_holds(session, engine, inside, day),
        events=_events(session, engine, row.name, inside, day),
        mods=_mods(session, engine, day),
        incomplete=incomplete_positions(build),
        debts=_debts(session, build),
        presumed=_presumed(build),
        gaps=gaps_of(session, engine, totals, told, pieces, day),
    )


def _inside(build: Build) -> list[Inside]:
    stations = {
        (position.position, station.station): station_words(position, station.name)
        for position in build.positions
        for station in position.stations
    }
    return [
        Inside(each, stations.get((each.spot.position or 0, each.spot.station), "")) for each in fitted(build)
    ]


def _has_life(each: Inside, lives: Mapping[int, PieceLife], limited: Collection[int]) -> bool:
    """Whether a piece is life-limited, by its part or by a limit that holds for it in this engine."""
    decides = any(not line.depends for line in lives[each.piece or 0].stands.lines)
    return decides or each.fitted.thing.part in limited


def _parts_that(session: Session, inside: Iterable[Inside], which: Select[int]) -> set[int]:
    return {
        part
        for some in chunks({each.fitted.thing.part for each in inside})
        for part in session.connection().scalars(which, {"ids": some})
    }


def _overhaul(life: EngineLife) -> OverhaulStatus:
    return OverhaulStatus(
        life.overhauled_on,
        life.report,
        life.since_overhaul.hours.known(),
        life.since_overhaul.starts.known(),
        _standings(life.stands),
    )


def _standings(stands: LifeStanding) -> tuple[LimitStanding, ...]:
    """Every limit that decides, the governing one first."""
    forecasts = [forecast.when for forecast in stands.forecasts] or [""] * len(stands.lines)
    found = [
        LimitStanding(line, words)
        for line, words in zip(stands.lines, forecasts, strict=True)
        if not line.depends
    ]
    return tuple(sorted(found, key=lambda standing: standing.line is not stands.governing))


def _life_line(each: Inside, lives: Mapping[int, PieceLife]) -> LifeLine:
    thing = each.fitted.thing
    assert thing.piece is not None
    life = lives[thing.piece]
    return LifeLine(
        each.station,
        thing.tag,
        thing.part_number,
        thing.part_name,
        thing.serial,
        _standings(life.stands),
        life.since_new,
    )


def _directive(facts: DirectiveFacts) -> DirectiveLine:
    named = DirectiveLine(facts.reference, facts.issue, facts.title, facts.method, terms=facts.when)
    if facts.standing is None:
        return replace(named, not_applicable=facts.not_applicable)
    done = facts.complied
    return replace(
        named,
        part_name=facts.part_name,
        pieces=(f"{facts.tag} ({facts.position})" if facts.position else facts.tag,) if facts.tag else (),
        complied_on=None if done is None else done.at[0],
        complied_by="" if done is None else done.by,
        complied_method="" if done is None else done.method,
        next_due=next_due_words(facts.standing),
        verdict=facts.standing.verdict,
    )


def _concessions(session: Session, engine: int, on: date | None) -> tuple[ConcessionLine, ...]:
    """Those under which pieces in the engine run, or ran until it ended; none that was withdrawn."""
    return tuple(
        ConcessionLine(
            facts.reference,
            facts.authority,
            f"{facts.part_name} {facts.tag}",
            facts.station or facts.position_name,
            f"over the {facts.over}: {facts.allows}",
            facts.ends,
            _left(facts),
            facts.document_words,
            facts.standing.verdict,
        )
        for facts in concession_lines(session, engine, on=on)
        if facts.fitted and facts.standing.verdict is not ConcessionVerdict.WITHDRAWN
    )


def _left(facts: ConcessionFacts) -> str:
    if facts.standing.verdict is ConcessionVerdict.IN_FORCE:
        return f"{facts.left} left" if facts.left else "in force"
    return facts.standing.why


def _holds(session: Session, engine: int, inside: Sequence[Inside], day: date) -> tuple[HoldLine, ...]:
    """The holds that stood on the engine, on what is in it, and on the parts of that; the oldest first."""
    pieces: dict[int, list[str]] = defaultdict(list)
    batches: dict[int, list[str]] = defaultdict(list)
    parts: dict[int, list[str]] = defaultdict(list)
    for each in inside:
        thing = each.fitted.thing
        if thing.piece is not None:
            pieces[thing.piece].append(each.at)
        if thing.batch is not None:
            batches[thing.batch].append(each.at)
        parts[thing.part].append(f"the part {thing.part_number}")
    found: list[tuple[date, int, HoldLine]] = []
    for of, named in (
        (Hold.engine_id, {engine: ["the engine"]}),
        (Hold.piece_id, pieces),
        (Hold.batch_id, batches),
        (Hold.part_id, parts),
    ):
        for some in chunks(named):
            for row in session.execute(_holds_on(of, some, day)):
                for name in dict.fromkeys(named[row.of]):
                    found.append((row.raised_on, row.id, HoldLine(row.reason, row.raised_on, row.name, name)))
    return tuple(line for _, _, line in sorted(found, key=lambda each: each[:2]))


def _holds_on(
    of: InstrumentedAttribute[int | None], ids: Collection[int], day: date
) -> Select[*tuple[Any, ...]]:
    return (
        select(Hold.id, of.label("of"), Hold.reason, Hold.raised_on, Person.name)
        .join(Person, Person.id == Hold.raised_by)
        .where(of.in_(ids), Hold.raised_on <= day, or_(Hold.cleared_on.is_(None), Hold.cleared_on > day))
    )


def _events(
    session: Session, engine: int, name: str, inside: Iterable[Inside], day: date
) -> tuple[EventLine, ...]:
    """The events of which the engine or something in it was not cleared by then, the oldest first."""
    known: dict[int, tuple[date, str, str, str]] = {}
    uncleared: dict[int, list[str]] = defaultdict(list)
    for line in events_of_engine(session, engine, day):
        known[line.event] = (line.on, str(line.kind), name, line.note)
        if line.cleared is None:
            uncleared[line.event].append("the engine itself")
        if line.presumed:
            uncleared[line.event].append(counted(line.presumed, "presumed thing", "presumed things"))
    things: dict[Thing, list[str]] = defaultdict(list)
    for each in inside:
        thing = each.fitted.thing
        things[Thing(thing.piece, thing.batch)].append(each.at)
    for tainted, taints in taints_on(session, things).items():
        for taint in taints:
            event = taint.event
            open_then = taint.cleared is None or taint.cleared.on > day
            if event.on <= day and open_then:
                known.setdefault(event.event, (event.on, str(event.kind), event.engine_name, event.note))
                uncleared[event.event] += things[tainted]
    return tuple(
        EventLine(kind, on, of_engine, note, tuple(uncleared[event]))
        for event, (on, kind, of_engine, note) in sorted(
            known.items(), key=lambda item: (item[1][0], item[0])
        )
        if uncleared[event]
    )


def _mods(session: Session, engine: int, day: date) -> tuple[ModLine, ...]:
    return tuple(
        ModLine(mod.code, mod.name, mod.since_on) for mod in mods_on(session, engine, day) if mod.embodied
    )


def _debts(session: Session, build: Build) -> tuple[DebtLine, ...]:
    owed = [
        (station_words(position, station.name), each)
        for position in build.positions
        for station in position.stations
        for each in station.owed
    ]
    said: dict[int, Row[*tuple[Any, ...]]] = {}
    for some in chunks([each.debt for _, each in owed]):
        said |= {row.id: row for row in session.execute(_DEBTS, {"ids": some})}
    return tuple(
        DebtLine(
            where,
            f"{quantity_words(each.quantity, each.measure)} {each.part_name} {each.part_number} ({each.tag})",
            each.owed_on,
            said[each.debt].name,
            each.for_engine,
            said[each.debt].reason,
        )
        for where, each in owed
    )


def _presumed(build: Build) -> tuple[PresumedStation, ...]:
    return tuple(
        PresumedStation(
            position.group,
            position.name,
            station.name,
            f"{quantity_words(each.quantity, each.measure)} {each.part_name} {each.part_number}",
            each.since_on,
            each.part in {line.part for line in station.lines if line.renewed_always},
        )
        for position in build.positions
        for station in position.stations
        for each in station.presumed
    )
