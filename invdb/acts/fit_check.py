"""Whether things may be fitted at stations of an engine, judged under the lock."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, licence_of
from invdb.acts.concession_lines import ConcessionFacts, concessions_on
from invdb.acts.kit_facts import (
    Catalogue,
    EngineFacts,
    LineFacts,
    PositionFacts,
    asking,
    offered_at,
    read_whom,
)
from invdb.acts.kit_suits import KitSuits
from invdb.acts.matched_in_kit import hard_sets, throws_now, throws_of
from invdb.acts.numbers import Thing
from invdb.acts.seats import Seat, Seated, SeatedThing, wanted_at
from invdb.acts.things import ThingState, Whereabouts, things_by_id
from invdb.records.clock import today
from invdb.records.draft import Draft
from invdb.records.engines import EngineType, Station
from invdb.records.stock import Piece, Place, Pull
from invdb.rules.availability import Asking, Bar, BarKind, Offered, every_bar
from invdb.rules.fitting import Wanted, conceded_bars, standing_bars, way_out
from invdb.rules.life_limits import Limit
from invdb.rules.quantities import quantity_words
from invdb.terms import (
    Condition,
    FieldRefused,
    LifeMeasure,
    LifeSince,
    PlaceKind,
    Refused,
)

# From here a mechanic takes things up to fit them.
TAKEN_FROM = frozenset(
    {PlaceKind.BIN, PlaceKind.STORES, PlaceKind.BENCH, PlaceKind.PULL, PlaceKind.QUARANTINE}
)


@dataclass(frozen=True)
class StationFacts:
    """A station of an engine type."""

    id: int
    name: str


def read_stations(session: Session, engine_type: int, group: str) -> dict[int, StationFacts]:
    """The stations of a group of an engine type, by id."""
    rows = session.execute(
        select(Station.id, Station.name).where(
            Station.engine_type_id == engine_type, Station.group_name == group
        )
    )
    return {row.id: StationFacts(row.id, row.name) for row in rows}


def check_override(session: Session, override: str, by: By) -> bool:
    """Whether lesser rules are overridden; Refused when one without a licence tries to."""
    if not override.strip():
        return False
    if licence_of(session, by.person) is None:
        raise FieldRefused(
            "override", "Only a person with a licence number may override a rule.", "Ask one who has."
        )
    return True


class FitCheck:
    """Judges what one act fits at one position of an engine, thing by thing, and counts it.

    What is passed over, by an override or by a concession, is remarked on in the draft.
    """

    def __init__(
        self,
        session: Session,
        draft: Draft,
        engine: EngineFacts,
        position: PositionFacts,
        seated: Seated,
        override: str,
        by: By,
    ) -> None:
        self._session = session
        self._draft = draft
        self.engine = engine
        self.position = position
        self._seated = seated
        self._overridden = check_override(session, override, by)
        self._override = override.strip()
        self._catalogue = Catalogue(session, {engine.engine_type})
        self._lines = self._catalogue.lines_for(engine, position)
        self.stations = read_stations(session, engine.engine_type, position.group)
        self._past = engine.state.on < today(session)
        self._group = (engine.engine_type, position.group)
        self._suits = KitSuits(session, [self._group], (), engine.state.on)
        self._states: dict[Thing, ThingState] = {}
        self._wanted: dict[str, tuple[Wanted, ...]] = {}
        self._passed_over: list[str] = []
        self._overrides: list[str] = []

    def station(self, station: int) -> StationFacts:
        """The station; Refused when the position has none such."""
        if station not in self.stations:
            raise FieldRefused(
                "station",
                f"{self.engine.name} has no such station at {self.position.group} {self.position.name}.",
                "Choose one of its own.",
            )
        return self.stations[station]

    def judge(
        self,
        state: ThingState,
        where: Whereabouts,
        quantity: int,
        station: int,
        inside: Collection[tuple[ThingState, int | None]] = (),
    ) -> None:
        """Judge one thing at a station, and what is inside it.

        Refused with every bar that stands. ``inside`` are pieces with the station at which each sits in it.
        """
        name = self.station(station).name
        if quantity <= 0:
            raise FieldRefused("quantity", f"{quantity} is nothing to fit.", "Give more than zero.")
        line = self._line(state, name)
        bars = [
            *self._bars_by_part(state, name, line),
            *self._bars_by_reach(state, where),
            *self._bars_by_suiting(state, name),
            *self._bars_by_set(state),
        ]
        self._refuse(
            state,
            replace(offered_at(state, where), free=quantity, reserved_for=()),
            bars,
            line,
            f"fitted as the {name}",
        )
        self._refuse_too_many((self.position.id, station), name, state, quantity, line)
        for inner, inner_station in inside:
            self._judge_inside(state, inner, inner_station)

    def _judge_inside(self, outer: ThingState, state: ThingState, station: int | None) -> None:
        name, line, bars = "", None, []
        if station in self.stations:
            name = self.stations[station].name
            line = self._line(state, name)
            bars = [*self._bars_by_part(state, name, line), *self._bars_by_suiting(state, name)]
        elif station is not None:
            bars = [Bar(BarKind.PART, f"it sits there as the {self._named_elsewhere(station)}")]
        offered = replace(offered_at(state, state.where[0]), free=1, reserved_for=())
        self._refuse(
            state, offered, bars, line, f"fitted inside {outer.tag}{f' as the {name}' if name else ''}"
        )
        if station in self.stations:
            self._refuse_too_many((self.position.id, station), name, state, 1, line)

    def _named_elsewhere(self, station: int) -> str:
        """A station of another engine type or group, with whose it is."""
        row = self._session.execute(
            select(Station.name, Station.group_name, EngineType.name.label("type_name"))
            .join(EngineType, EngineType.id == Station.engine_type_id)
            .where(Station.id == station)
        ).one()
        return f"{row.name} of a {row.type_name} {row.group_name}, which this is not"

    def close(self) -> None:
        """Remark on what was passed over, once all is judged."""
        if self._override and not self._overrides:
            raise FieldRefused(
                "override", "Nothing needs an override here.", "Leave the reason for an override empty."
            )
        if self._override:
            self._draft.remark(f"Override: {self._override}")
        for words in (*self._passed_over, *self._overrides):
            self._draft.remark(words)

    def wanted(self, station: str) -> tuple[Wanted, ...]:
        """What the kit list takes at a station, by its name."""
        if station not in self._wanted:
            self._wanted[station] = wanted_at(self._catalogue, self.engine, self.position, station)
        return self._wanted[station]

    def _line(self, state: ThingState, station: str) -> LineFacts | None:
        """The kit line at a station that a thing's part fills, itself or by standing in."""
        here = [line for line in self._lines if line.station == station]
        own = next((line for line in here if line.part == state.part), None)
        if own is not None:
            return own
        for line in here:
            options = self._catalogue.options_for(line.part, self.engine, self.position)
            if any(state.part in {part for part, _ in option.members} for option in options):
                return line
        return None

    def _bars_by_part(self, state: ThingState, station: str, line: LineFacts | None) -> Iterable[Bar]:
        if line is not None:
            return
        barred = [
            why
            for each, why in self._catalogue.barred_lines(self.engine, self.position)
            if each.station == station and each.part == state.part
        ]
        for wanted in (each for each in self._lines if each.station == station):
            barred += [
                f"as a stand-in for {wanted.part_number} it does not hold here: {why}"
                for part, why in self._catalogue.barred_stand_ins(wanted.part, self.engine, self.position)
                if part == state.part
            ]
        if barred:
            for why in dict.fromkeys(barred):
                yield Bar(BarKind.PART, f"{state.part_number} may not be fitted there: {why}")
            return
        wanted_numbers = ", ".join(
            dict.fromkeys(each.part_number for each in self._lines if each.station == station)
        )
        yield Bar(
            BarKind.PART,
            f"it is {state.part_number}, and the kit list wants {wanted_numbers} there"
            if wanted_numbers
            else f"the kit list wants nothing as the {station} there",
        )

    def _bars_by_suiting(self, state: ThingState, station: str) -> Iterable[Bar]:
        """What stands against a thing beside what sits at the position already, by fit, size and finish."""
        if station not in self._suits.suiting(self._group).stations:
            return ()
        others = [
            (self.stations[other].name, thing.thing)
            for (position, other), things in self._seated.things.items()
            if position == self.position.id and other in self.stations
            for thing in things
            if thing.thing is not None
        ]
        self._read({thing for _, thing in others} | {state.thing})
        at = [(name, self._states[thing]) for name, thing in others]
        return self._suits.bars(self._group, (station, state), at)

    def _bars_by_set(self, state: ThingState) -> Iterable[Bar]:
        """That the rest of a piece's matched set is, or is bound for, somewhere else."""
        each = hard_sets(self._session, [state.thing.piece] if state.thing.piece else []).get(
            state.thing.piece or 0
        )
        if each is None:
            return
        others = {piece: tag for piece, tag in each.members if piece != state.thing.piece}
        here = (self.engine.id, throws_of(self._session, {self.position.id})[self.position.id])
        there = throws_now(self._session, others)
        away = [tag for piece, tag in others.items() if there.get(piece, here) != here]
        if away:
            yield Bar(BarKind.MATCH, f"it goes only with {', '.join(away)}, which is elsewhere: {each.why}")

    def _read(self, things: Collection[Thing]) -> None:
        """Read what is known of things, once."""
        fresh = [thing for thing in things if thing not in self._states]
        if fresh:
            states = things_by_id(self._session, fresh)
            self._states |= states
            self._suits.learn(states.values())

    def _bars_by_reach(self, state: ThingState, where: Whereabouts) -> Iterable[Bar]:
        if where.kind not in TAKEN_FROM:
            words = {
                PlaceKind.FIRM: f"it is out for work at {where.firm or where.name}",
                PlaceKind.SCRAP: "it is scrapped",
                PlaceKind.OUTSIDE: "it is no longer here",
            }.get(where.kind, f"it is fitted in {where.name}; strip it first")
            yield Bar(BarKind.PLACE, words)
        elif state.work and where.kind is PlaceKind.BENCH:
            yield Bar(BarKind.PLACE, f"it is out for work on {state.work}; book it back first")
        if state.thing.piece is not None and state.reserved_for:
            yield Bar(BarKind.RESERVED, f"it is reserved for pull {state.reserved_for[0]}; issue that first")
        if where.kind is PlaceKind.PULL:
            pull = self._session.execute(
                select(Pull.engine_id, Pull.position_id)
                .join(Place, Place.pull_id == Pull.id)
                .where(Place.id == where.place)
            ).one()
            if (pull.engine_id, pull.position_id) != (self.engine.id, self.position.id):
                whom = read_whom(self._session, {where.pull}).get(where.pull, where.pull)
                yield Bar(BarKind.RESERVED, f"it is issued for pull {whom}; give it back first")

    def _refuse(
        self, state: ThingState, offered: Offered, bars: list[Bar], line: LineFacts | None, what: str
    ) -> None:
        """Refuse a thing with every bar that stands; ``bars`` are those of its part and its place."""
        engine = asking(self.engine, bool(line and line.renewed_always))
        judged = [*bars, *self._accepted_later(state), *_but_for_place(every_bar(offered, engine))]
        if not judged:
            return
        conceded = self._conceded(state.thing)
        use = self.engine.use
        over = {each.over for each in conceded if each.life_limit_hours is None}
        judged, lifted = _by_conceded_life(judged, conceded, offered, engine)
        lifted += conceded_bars(judged, over)
        left = [bar for bar in judged if bar not in lifted]
        standing = standing_bars(left, use, (), self._overridden)
        if standing:
            raise Refused(
                f"{state.tag} can't be {what} of {self.engine.name}, {self.position.group}"
                f" {self.position.name}: {'; '.join(bar.words for bar in standing)}.",
                way_out(standing, use),
            )
        if lifted:
            relied_on = (each.reference for each in conceded if conceded_bars(lifted, {each.over}))
            references = ", ".join(dict.fromkeys(relied_on))
            words = "; ".join(bar.words for bar in lifted)
            self._passed_over.append(f"By concession {references}: {state.tag} {words}")
        self._overrides += [f"Overridden: {state.tag} {bar.words}" for bar in left]

    def _accepted_later(self, state: ThingState) -> Iterable[Bar]:
        """That it was accepted only after the day on which it would be fitted."""
        if not self._past or state.thing.piece is None or state.condition is not Condition.SERVICEABLE:
            return
        on = self._session.scalar(select(Piece.accepted_on).where(Piece.id == state.thing.piece))
        if on is not None and on > self.engine.state.on:
            yield Bar(BarKind.UNINSPECTED, f"accepted only on {on.isoformat()}")

    def _conceded(self, thing: Thing) -> tuple[ConcessionFacts, ...]:
        """The concessions in force for a piece here."""
        if thing.piece is None:
            return ()
        on = self.engine.state.on
        return concessions_on(self._session, thing.piece, self.engine.id, self.position.id, on)

    def _refuse_too_many(
        self, seat: Seat, name: str, state: ThingState, quantity: int, line: LineFacts | None
    ) -> None:
        at = f"The {name} of {self.engine.name}, {self.position.group} {self.position.name},"
        if seat in self._seated.presumed:
            raise Refused(
                f"{at} is presumed to hold something nobody has seen.",
                "Strip it first, or record that it was found empty.",
            )
        tags = self._seated.tags(seat)
        thing = SeatedThing(state.part, quantity, state.tag, thing=state.thing)
        if not self._seated.has_room(seat, self.wanted(name), thing):
            takes = f"takes {quantity_words(line.quantity, line.measure)}, and " if line is not None else ""
            raise Refused(
                f"{at} {takes}holds {tags or 'nothing'}.",
                "Strip that first, or fit less." if tags else "Fit less.",
            )
        self._seated.add(seat, thing)


def _but_for_place(bars: Iterable[Bar]) -> list[Bar]:
    """Bars of what the thing is, not of where it lies; the quarantine counts, since it says a doubt."""
    return [bar for bar in bars if bar.kind is not BarKind.PLACE]


def _by_conceded_life(
    bars: list[Bar], conceded: Iterable[ConcessionFacts], offered: Offered, engine: Asking
) -> tuple[list[Bar], list[Bar]]:
    """The bars that stand, and those lifted, when the last limit granted stands instead of the part's own
    limits by hours since new."""
    limits = [each for each in conceded if each.life_limit_hours is not None]
    ours = [bar for bar in bars if bar.kind is BarKind.LIFE]
    if not limits or not ours:
        return bars, []
    kept = (
        each for each in offered.limits if (each.measure, each.since) != (LifeMeasure.HOURS, LifeSince.NEW)
    )
    instead = Limit(LifeMeasure.HOURS, limits[-1].life_limit_hours or 0, concession=limits[-1].reference)
    judged = every_bar(replace(offered, limits=(*kept, instead)), engine)
    still = [bar for bar in judged if bar.kind is BarKind.LIFE]
    others = [bar for bar in bars if bar.kind is not BarKind.LIFE]
    return [*others, *still], ([] if still else ours)
