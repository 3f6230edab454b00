"""The form that each act of the Engines view begins with."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any

from gui.job import Job
from gui.shown import Hit
from gui.sitting import Sitting
from gui.views.built_stations import StationKey
from gui.views.clear_event_form import clear_event_form
from gui.views.concession_form import concession_form
from gui.views.directive_form import directive_form
from gui.views.due_soon_form import due_soon_form
from gui.views.engine_acts import Act, Subject
from gui.views.engine_hold_form import clear_engine_form, engine_hold_form
from gui.views.event_form import event_form
from gui.views.fit_form import IssuedKit, Offered, fit_form, fit_pull_form
from gui.views.fit_inside_form import fit_inside_form
from gui.views.form_plan import FormPlan
from gui.views.limit_form import limit_form
from gui.views.mod_form import ModChange, mod_form
from gui.views.overhaul_form import engine_overhaul_form
from gui.views.presumed_form import PresumedAt, identify_form, presume_form
from gui.views.recall_form import recall_form
from gui.views.rob_form import rob_form
from gui.views.run_form import begin_log_form, meter_form, run_form
from gui.views.strip_form import StripPlaces, ToStrip, strip_form
from gui.views.take_over_form import take_over_form
from invdb.acts.as_fitted import as_fitted
from invdb.acts.due_soon import due_soon
from invdb.acts.engine_list import engines
from invdb.acts.event_lines import events_of_engine
from invdb.acts.hold import OpenHold, holds_on, holds_on_engine
from invdb.acts.life import life_of
from invdb.acts.mod_outlook import mod_outlook
from invdb.acts.mods import mods_on
from invdb.acts.numbers import Thing, thing_by_tag
from invdb.acts.offers import parts_by_ids, people_here, places_to_put
from invdb.acts.pick_list import hazard_notes, pull_lines, pulls
from invdb.acts.running import log_at
from invdb.acts.seated_at import seats_of
from invdb.acts.station_list import stations_drawn
from invdb.acts.strip import Strip
from invdb.acts.strip_plan import plan_strip
from invdb.acts.things import ThingState, things_by_id
from invdb.acts.typed import engine_type_of
from invdb.rules.build import Build, BuiltPosition, Fitted, WantedLine, fitted
from invdb.terms import PlaceKind, Refused

# Only how a thing is stripped is asked for; where it goes is for the form to say.
NO_PLACE = 0


class EnginePlans:
    """Reads what a form needs and makes its plan. ``plan`` runs on a worker."""

    def __init__(self, sitting: Sitting) -> None:
        self._sitting = sitting

    def plan(self, job: Job, act: Act, on: Subject) -> FormPlan:
        """The form of an act; Refused where it makes no sense."""
        sitting = self._sitting
        with sitting.reading(job) as session:
            match act:
                case Act.BEGIN_LOG:
                    return begin_log_form(sitting, on.engine, on.name)
                case Act.EVENT:
                    return event_form(sitting, on.engine, on.name)
                case Act.CLEAR:
                    events = events_of_engine(session, on.engine)
                    return clear_event_form(sitting, on.engine, on.name, events, _chosen(on.keys))
                case Act.MOD:
                    return mod_form(sitting, on.engine, on.name, _mod_changes(session, on.engine, sitting))
                case Act.OVERHAUL:
                    return engine_overhaul_form(sitting, on.engine, on.name)
                case Act.HOLD:
                    return engine_hold_form(sitting, on.engine, on.name, _states(session, on))
                case Act.CLEAR_HOLD:
                    return clear_engine_form(sitting, on.name, _holds(session, on))
                case Act.DIRECTIVE:
                    return directive_form(sitting, _type_of(session, on))
                case Act.CONCESSION:
                    return _concession_form(sitting, session, on)
                case Act.LIMIT:
                    return _limit_form(sitting, session, on)
                case Act.DUE_SOON:
                    return due_soon_form(sitting, due_soon(session))
                case Act.RECALL:
                    return recall_form(sitting)
                case Act.FIT_INSIDE:
                    drawn = stations_drawn(session, on.engine)
                    return fit_inside_form(sitting, on.engine_type, drawn.values())
                case Act.PRESUME:
                    build = as_fitted(session, on.engine)
                    return presume_form(sitting, on.engine, on.name, _position(build, on.position))
            log = log_at(session, on.engine, sitting.today())
            match act:
                case Act.RUN:
                    return run_form(sitting, log)
                case Act.METER:
                    return meter_form(sitting, log)
                case Act.TAKE_OVER:
                    build = as_fitted(session, on.engine)
                    wanted = {line.part for line in _lines(build)}
                    return take_over_form(sitting, log, build, on.position, parts_by_ids(session, wanted))
                case Act.FIT_PULL:
                    build = as_fitted(session, on.engine)
                    named = _position(build, on.position)
                    return fit_pull_form(sitting, log, issued_kits(session, on.engine), _name(named))
                case Act.FIT:
                    build = as_fitted(session, on.engine)
                    position = _position(build, on.position)
                    if position is None:
                        raise Refused("No cylinder is chosen.", "Choose one in the picture first.")
                    stations = [key.station for key in on.keys if key.station is not None]
                    return fit_form(
                        sitting, log, position, stations, offered_for(session, on.engine, _name(position))
                    )
                case Act.STRIP:
                    presumed = _presumed(as_fitted(session, on.engine), on.keys)
                    if presumed:
                        where = _where(as_fitted(session, on.engine), on)
                        return identify_form(sitting, log, where, presumed, _places(session))
                    return self._strip(session, log, on, chosen_only=True)
                case Act.STRIP_POSITION | Act.STRIP_ENGINE:
                    whole = Subject(on.engine, on.name, on.position if act is Act.STRIP_POSITION else None)
                    return self._strip(session, log, whole, chosen_only=False)
                case Act.ROB:
                    things = _to_strip(session, as_fitted(session, on.engine), on, chosen_only=True)
                    return rob_form(
                        sitting, log, things, engines(session), people_here(session), _places(session)
                    )
        raise AssertionError(f"no form for {act}")

    def _strip(self, session: Any, log: Any, on: Subject, *, chosen_only: bool) -> FormPlan:
        build = as_fitted(session, on.engine)
        things = _to_strip(session, build, on, chosen_only=chosen_only)
        return strip_form(self._sitting, log, _where(build, on), things, _places(session))


def issued_kits(session: Any, engine: int) -> tuple[IssuedKit, ...]:
    """The pulls of an engine with something out on them, newest first."""
    found = []
    for pull in pulls(session, engine):
        out = [line for line in pull_lines(session, pull.pull) if line.issued > line.returned]
        if out:
            found.append(IssuedKit(pull.pull, pull.number, pull.position, len(out)))
    return tuple(found)


def offered_for(session: Any, engine: int, position: str) -> tuple[Offered, ...]:
    """What was issued for the stations of a position of an engine, and waits to be fitted."""
    lines = [
        (pull.number, line)
        for pull in pulls(session, engine)
        if pull.position == position
        for line in pull_lines(session, pull.pull)
        if line.tag and line.issued > line.returned
    ]
    things = {line.tag: thing_by_tag(session, line.tag) for _number, line in lines}
    states = things_by_id(session, list(things.values()))
    found = []
    for number, line in lines:
        thing = things[line.tag]
        # What was fitted inside another piece meanwhile has left the pull's place.
        here = next((each for each in states[thing].where if each.pull == number), None)
        if here is not None:
            found.append(Offered(line.station, thing, line.tag, line.part_name, here.place, here.name))
    return tuple(found)


def _chosen(keys: Sequence[StationKey]) -> tuple[Thing, ...]:
    """The pieces and batches at some stations."""
    return tuple(Thing(key.piece, key.batch) for key in keys if (key.piece or key.batch) is not None)


def _states(session: Any, on: Subject) -> list[ThingState]:
    """What is at the chosen stations, as it stands."""
    things = list(dict.fromkeys(_chosen(on.keys)))
    states = things_by_id(session, things)
    return [states[thing] for thing in things]


def _holds(session: Any, on: Subject) -> list[tuple[str, OpenHold]]:
    """The holds on the engine itself, and on what is at the chosen stations, each with what it is on."""
    found = [(on.name, hold) for hold in holds_on_engine(session, on.engine)]
    for state in _states(session, on):
        found += [(state.tag, hold) for hold in holds_on(session, state.thing)]
    return found


def _type_of(session: Any, on: Subject) -> Hit | None:
    """The type of the shown engine, as a field begins with it."""
    if not on.engine_type:
        return None
    return Hit(on.engine_type, "", "engine type", engine_type_of(session, on.engine))


def _limit_form(sitting: Sitting, session: Any, on: Subject) -> FormPlan:
    mods = mods_on(session, on.engine, sitting.today()) if on.engine_type else ()
    chosen = next(iter(_states(session, on)), None)
    part = Hit(chosen.part_number, chosen.part_name, "part", chosen.part) if chosen is not None else None
    return limit_form(sitting, _type_of(session, on), mods, part)


def _concession_form(sitting: Sitting, session: Any, on: Subject) -> FormPlan:
    pieces = [state for state in _states(session, on) if state.thing.piece is not None]
    if len(pieces) != 1:
        raise Refused(
            "A concession is for one piece, and not one alone is chosen.", "Choose the station of one piece."
        )
    piece = pieces[0].thing.piece
    assert piece is not None, "it is a piece"
    return concession_form(sitting, pieces[0], seats_of(session, {piece}).get(piece))


def _lines(build: Build) -> list[WantedLine]:
    """All that is wanted anywhere in an engine."""
    return [line for each in build.positions for station in each.stations for line in station.lines]


def _mod_changes(session: Any, engine: int, sitting: Sitting) -> tuple[ModChange, ...]:
    """Every mod of the engine's type, with what turning it would change and need."""
    return tuple(
        ModChange(mod, mod_outlook(session, engine, mod.mod, not mod.embodied))
        for mod in mods_on(session, engine, sitting.today())
    )


def _position(build: Build, position: int | None) -> BuiltPosition | None:
    return next((each for each in build.positions if each.position == position), None)


def _name(position: BuiltPosition | None) -> str:
    """A position as a pull names it."""
    return f"{position.group} {position.name}" if position is not None else ""


def _where(build: Build, on: Subject) -> str:
    position = _position(build, on.position)
    return f"{on.name}, {_name(position)}" if position is not None else on.name


def _places(session: Any) -> StripPlaces:
    bench = places_to_put(session, (PlaceKind.BENCH,))
    scrap = places_to_put(session, (PlaceKind.SCRAP,))
    return StripPlaces(next(iter(bench), None), next(iter(scrap), None))


def _presumed(build: Build, keys: Sequence[StationKey]) -> list[PresumedAt]:
    wanted = {key.presumption for key in keys if key.presumption is not None}
    return [
        PresumedAt(station.name, presumed)
        for position in build.positions
        for station in position.stations
        for presumed in station.presumed
        if presumed.presumption in wanted
    ]


def _to_strip(session: Any, build: Build, on: Subject, *, chosen_only: bool) -> tuple[ToStrip, ...]:
    """What is to be stripped: what the keys name, or everything in the position or the engine.

    What rides inside another piece comes out with it, unless it is named itself.
    """
    every = {_seat(each): each for each in fitted(build)}
    if chosen_only:
        named = (every.get((key.piece, key.batch, key.position, key.station)) for key in on.keys)
        chosen = [each for each in named if each is not None]
    else:
        chosen = [
            each
            for each in every.values()
            if each.spot.holder is None and on.position in (None, each.spot.position)
        ]
    things = [Thing(each.thing.piece, each.thing.batch) for each in chosen]
    states = things_by_id(session, list(dict.fromkeys(things)))
    lives = life_of(session, {thing.piece for thing in things if thing.piece is not None})
    orders = _orders(session, build, {each.spot.position for each in chosen})
    hazards = hazard_notes(session, {state.part for state in states.values()})
    found = []
    for each, thing in zip(chosen, things, strict=True):
        order = orders.get(_seat(each))
        life = lives[thing.piece] if thing.piece is not None else None
        found.append(
            ToStrip(
                states[thing],
                f"{each.spot.position_name} {each.spot.station_name}".strip(),
                each.thing.quantity,
                order.from_place if order is not None else None,
                order is not None and order.scrapped,
                life is not None and (states[thing].life_limited or bool(life.stands.lines)),
                tuple(
                    f"{note.word}. {note.caution}".removesuffix(". ")
                    for note in hazards.get(states[thing].part, ())
                ),
            )
        )
    return tuple(found)


_Seat = tuple[int | None, int | None, int | None, int | None]


def _seat(each: Fitted) -> _Seat:
    return each.thing.piece, each.thing.batch, each.spot.position, each.spot.station


def _orders(session: Any, build: Build, positions: Collection[int | None]) -> dict[_Seat, Strip]:
    """How each thing at first hand in these positions is stripped when all of it is: from where, and whether
    it is thrown away."""
    found: dict[_Seat, Strip] = {}
    for position in build.positions:
        seats = [
            (thing.piece, thing.batch, position.position, station.station)
            for station in position.stations
            for thing in station.contents
        ]
        if seats and position.position in positions:
            # It goes over the stations, and what is at each, in the same order as the build.
            orders = plan_strip(
                session, build.engine, NO_PLACE, "", position=position.position, scrap_place=NO_PLACE
            )
            found |= dict(zip(seats, orders, strict=True))
    return found
