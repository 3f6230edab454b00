"""Whether things may be fitted at stations of an engine, judged under the lock."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, licence_of
from invdb.acts.concession import concessions_on
from invdb.acts.kit_facts import (
    Catalogue,
    EngineFacts,
    LineFacts,
    PositionFacts,
    asking,
    offered_at,
)
from invdb.acts.numbers import Thing
from invdb.acts.seats import Seat, Seated
from invdb.acts.things import ThingState, Whereabouts
from invdb.records.draft import Draft
from invdb.records.engines import Station
from invdb.rules.availability import Bar, BarKind, every_bar
from invdb.rules.fitting import standing_bars, way_out
from invdb.rules.pulling import Option, units_filled
from invdb.rules.quantities import quantity_words
from invdb.terms import ConcessionOver, FieldRefused, PlaceKind, Refused

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
        self._passed_over: list[str] = []

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
    ) -> LineFacts | None:
        """Judge one thing at a station, and what is inside it; returns the kit line that it fills.

        Refused with every bar that stands. ``inside`` are pieces with the station at which each sits in it.
        """
        name = self.station(station).name
        if quantity <= 0:
            raise FieldRefused("quantity", f"{quantity} is nothing to fit.", "Give more than zero.")
        line = self._line(state, name)
        bars = [*self._bars_by_part(state, name, line), *self._bars_by_reach(state, where)]
        offered = replace(offered_at(state, where), free=quantity, reserved_for=())
        bars += _but_for_place(every_bar(offered, asking(self.engine, bool(line and line.renewed_always))))
        self._refuse(state, bars, f"fitted as the {name}")
        self._refuse_too_many((self.position.id, station), name, state, quantity, line)
        for inner, inner_station in inside:
            own = replace(offered_at(inner, inner.where[0]), free=1, reserved_for=())
            own_bars = _but_for_place(every_bar(own, asking(self.engine, False)))
            self._refuse(inner, own_bars, f"fitted inside {state.tag}")
            if inner_station in self.stations:
                inner_name = self.stations[inner_station].name
                inner_line = self._line(inner, inner_name)
                self._refuse(
                    inner,
                    list(self._bars_by_part(inner, inner_name, inner_line)),
                    f"fitted inside {state.tag} as the {inner_name}",
                )
                seat = (self.position.id, inner_station)
                self._refuse_too_many(seat, inner_name, inner, 1, inner_line)
        return line

    def close(self) -> None:
        """Remark on what was passed over, once all is judged."""
        if self._override and not self._passed_over:
            raise FieldRefused(
                "override", "Nothing needs an override here.", "Leave the reason for an override empty."
            )
        if self._override:
            self._draft.remark(f"Override: {self._override}")
        for words in self._passed_over:
            self._draft.remark(words)

    def _options(self, line: LineFacts) -> list[Option]:
        return self._catalogue.options_for(line.part, self.engine, self.position)

    def _line(self, state: ThingState, station: str) -> LineFacts | None:
        """The kit line at a station that a thing's part fills, itself or by standing in."""
        here = [line for line in self._lines if line.station == station]
        own = next((line for line in here if line.part == state.part), None)
        if own is not None:
            return own
        for line in here:
            if any(state.part in {part for part, _ in option.members} for option in self._options(line)):
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

    def _bars_by_reach(self, state: ThingState, where: Whereabouts) -> Iterable[Bar]:
        if where.kind not in TAKEN_FROM:
            words = {
                PlaceKind.FIRM: f"it is out for work at {where.firm or where.name}",
                PlaceKind.SCRAP: "it is scrapped",
                PlaceKind.OUTSIDE: "it is no longer here",
            }.get(where.kind, f"it is fitted in {where.name}; strip it first")
            yield Bar(BarKind.PLACE, words)
        if state.thing.piece is not None and state.reserved_for:
            yield Bar(BarKind.RESERVED, f"it is reserved for pull {state.reserved_for[0]}; issue that first")

    def _refuse(self, state: ThingState, bars: list[Bar], what: str) -> None:
        if not bars:
            return
        conceded = self._conceded(state.thing)
        use = self.engine.use
        standing = standing_bars(bars, use, conceded.keys(), self._overridden)
        if standing:
            raise Refused(
                f"{state.tag} can't be {what} of {self.engine.name}, {self.position.group}"
                f" {self.position.name}: {'; '.join(bar.words for bar in standing)}.",
                way_out(standing, use),
            )
        by_concession = standing_bars(bars, use, conceded.keys(), False)
        lifted = [bar for bar in bars if bar not in by_concession]
        if lifted:
            references = ", ".join(dict.fromkeys(conceded.values()))
            words = "; ".join(bar.words for bar in lifted)
            self._passed_over.append(f"By concession {references}: {state.tag} {words}")
        self._passed_over += [f"Overridden: {state.tag} {bar.words}" for bar in by_concession]

    def _conceded(self, thing: Thing) -> Mapping[ConcessionOver, str]:
        """What concessions in force set aside for a piece here, with their references."""
        if thing.piece is None:
            return {}
        on = self.engine.state.on
        found = concessions_on(self._session, thing.piece, self.engine.id, self.position.id, on)
        return {each.over: each.reference for each in found}

    def _refuse_too_many(
        self, seat: Seat, name: str, state: ThingState, quantity: int, line: LineFacts | None
    ) -> None:
        at = f"The {name} of {self.engine.name}, {self.position.group} {self.position.name},"
        if seat in self._seated.presumed:
            raise Refused(
                f"{at} is presumed to hold something nobody has seen.",
                "Strip it first, or record that it was found empty.",
            )
        tags = self._seated.tags[seat]
        if line is None:
            # Fitted by concession: no kit line says how many, so it is one.
            if tags:
                raise Refused(f"{at} holds {', '.join(tags)} already.", "Strip that first.")
            self._seated.add(seat, state.part, quantity, state.tag)
            return
        options = self._options(line)
        amounts = self._seated.amounts[seat]
        before = units_filled(options, amounts)
        after = units_filled(options, {**amounts, state.part: amounts.get(state.part, 0) + quantity})
        if after > line.quantity or (before >= line.quantity and tags):
            raise Refused(
                f"{at} takes {quantity_words(line.quantity, line.measure)}, and holds"
                f" {', '.join(tags) or 'nothing'}.",
                "Strip that first, or fit less." if tags else "Fit less.",
            )
        self._seated.add(seat, state.part, quantity, state.tag)


def _but_for_place(bars: Iterable[Bar]) -> list[Bar]:
    """Bars of what the thing is, not of where it lies; the quarantine counts, since it says a doubt."""
    return [bar for bar in bars if bar.kind is not BarKind.PLACE]
