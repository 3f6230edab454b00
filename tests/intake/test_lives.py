"""The lives of the invented workshop's engines: what they ran, what is in them, and what falls due."""

from __future__ import annotations

from collections import Counter, defaultdict
from datetime import date

import pytest
from sqlalchemy import select

from invdb.acts.as_fitted import as_fitted
from invdb.acts.believed import NOW
from invdb.acts.concession_lines import concessions_of
from invdb.acts.due import due_list
from invdb.acts.event_lines import events_of_engine
from invdb.acts.life import engine_life, life_of
from invdb.acts.numbers import engine_named, part_by_number, thing_by_tag
from invdb.acts.presumed import read_owed, read_presumed
from invdb.acts.status_sheet import status_sheet
from invdb.intake.lives import log_lines
from invdb.intake.workshop import Workshop
from invdb.records.life import Running
from invdb.records.stock import Piece
from invdb.rules.life import LifeVerdict
from invdb.rules.running import NOTHING, Ran, span_of, totals
from invdb.store import Store
from invdb.terms import HoursKnown, RunningUse

TODAY = date(2026, 11, 25)


def sight(workshop: Workshop, what: str) -> str:
    return next(sight.number for sight in workshop.sights if sight.what == what)


def undone(workshop: Workshop) -> set[str]:
    return {line.undoes for line in workshop.happenings if line.undoes is not None}


def flights(workshop: Workshop, engine: str, year: int) -> int:
    return sum(
        run.engine == engine and run.ran_on.year == year and run.use is RunningUse.FLIGHT
        for run in workshop.lives.running
    )


def test_each_engine_runs_as_it_is_said_to(workshop: Workshop) -> None:
    assert {log.engine for log in workshop.lives.logs} == {engine.name for engine in workshop.engines}
    assert len(workshop.lives.running) >= 150
    for year in range(2020, 2027):
        assert flights(workshop, "Linnet 117", year) >= 12
        assert flights(workshop, "Twelve 204", year) == 2
    for year in range(2022, 2026):
        assert flights(workshop, "Linnet 142", year) >= 12
    for engine in ("Linnet 163", "Twelve 219", "Dabchick 58"):
        assert not any(flights(workshop, engine, year) for year in range(2020, 2027))
    by_hand = [run for run in workshop.lives.running if run.reading is None]
    assert {run.engine for run in by_hand} == {"Dabchick 31"}
    stored = [run.ran_on.year for run in workshop.lives.running if run.engine == "Dabchick 58"]
    assert max(stored) == 2021


def test_some_lines_of_the_logs_were_booked_late_and_one_was_reversed(workshop: Workshop) -> None:
    late = [run for run in workshop.lives.running if (run.booked_on - run.ran_on).days > 14]
    assert {run.engine for run in late} >= {"Linnet 117", "Linnet 142", "Dabchick 31", "Twelve 204"}
    assert len({run.number for run in workshop.lives.running} & undone(workshop)) == 1
    (change,) = workshop.lives.meter_changes
    assert change.unread.known is HoursKnown.BETWEEN


def test_what_each_engine_ran_in_all_is_what_its_log_adds_up_to(
    harrowmere: Store, workshop: Workshop
) -> None:
    with harrowmere.reading() as session:
        for log in workshop.lives.logs:
            ran = totals(log_lines(workshop.lives, log.engine, undone(workshop)), log.reading)[-1].ran
            life = engine_life(session, engine_named(session, log.engine))
            assert life.logged == ran, log.engine
            assert life.since_new.hours == ran.hours + span_of(log.hours_before)
        first = engine_life(session, engine_named(session, "Dabchick 31"))
        assert first.since_new.hours.known().known is HoursKnown.AT_LEAST
        changed = engine_life(session, engine_named(session, "Linnet 142"))
        assert changed.logged.hours.high - changed.logged.hours.low == 250
        assert session.scalar(select(Running.id).where(Running.new_reading.is_not(None))) is not None


class _ByHand:
    """The life of every piece by its moves in and out of engines and the logs' totals on those days.

    A plain second reckoning: what is logged on a day ran before that day's fitting and stripping.
    """

    def __init__(self, workshop: Workshop) -> None:
        self._gained = {
            log.engine: list(
                zip(
                    (line.on for line in log_lines(workshop.lives, log.engine, undone(workshop))),
                    totals(log_lines(workshop.lives, log.engine, undone(workshop)), log.reading),
                    strict=True,
                )
            )
            for log in workshop.lives.logs
        }
        self._holder: dict[str, str] = {}
        self._stays: dict[str, list[tuple[str, date, date]]] = defaultdict(list)
        self._in: dict[str, tuple[str, date]] = {}
        lives = workshop.lives
        taken = {build.engine: build.taken_on for build in lives.builds if build.document is not None}
        moves: list[tuple[date, int, str, str | None]] = []
        for filled in lives.filled:
            if filled.inside is None:
                moves.append((taken[filled.engine], 2, filled.tag, filled.engine))
            else:
                self._holder[filled.tag] = filled.inside
        self._holder |= {inside.of: inside.into for inside in lives.insides}
        moves += [(strip.stripped_on, 0, strip.of, None) for strip in lives.strippings]
        moves += [(robbery.robbed_on, 0, robbery.of, None) for robbery in lives.robberies]
        moves += [(fit.fitted_on, 1, fit.of, fit.engine) for fit in lives.fittings]
        for on, _, tag, engine in sorted(moves, key=lambda move: move[:2]):
            if tag in self._in:
                where, since = self._in.pop(tag)
                self._stays[tag].append((where, since, on))
            if engine is not None:
                self._in[tag] = (engine, on)

    def ran(self, tag: str) -> Ran:
        """All that a piece ran in our engines; what is inside another ran what the other did."""
        tag = self._holder.get(tag, tag)
        stays = list(self._stays[tag])
        if tag in self._in:
            stays.append((*self._in[tag], TODAY))
        gained = (self._total(engine, end) - self._total(engine, since) for engine, since, end in stays)
        return sum(gained, Ran())

    def _total(self, engine: str, on: date) -> Ran:
        until = [state.ran for day, state in self._gained[engine] if day <= on]
        return until[-1] if until else Ran()


def test_the_life_of_every_piece_is_what_a_second_reckoning_makes_of_it(
    harrowmere: Store, workshop: Workshop
) -> None:
    by_hand = _ByHand(workshop)
    prior = {piece.tag: (piece.prior_hours, piece.prior_starts) for piece in workshop.pieces}
    prior |= {filled.tag: (filled.prior_hours, filled.prior_starts) for filled in workshop.lives.filled}
    with harrowmere.reading() as session:
        ids = dict(session.execute(select(Piece.tag, Piece.id)).all())
        lives = life_of(session, [ids[tag] for tag in prior if tag in ids])
    compared = 0
    for tag, (hours, starts) in prior.items():
        if tag not in ids:
            continue
        ran, life = by_hand.ran(tag), lives[ids[tag]]
        assert life.since_new.hours == ran.hours + span_of(hours), tag
        assert life.since_new.starts == ran.starts + span_of(starts), tag
        compared += ran.hours != NOTHING
    assert compared > 150


def test_builds_were_taken_over_and_the_rest_presumed(harrowmere: Store, workshop: Workshop) -> None:
    carded = {build.engine for build in workshop.lives.builds if build.document is not None}
    assert carded == {"Linnet 117", "Linnet 163", "Dabchick 31", "Twelve 204", "Twelve 219"}
    with harrowmere.reading() as session:
        for name in carded - {"Linnet 163"}:
            sheet = status_sheet(session, engine_named(session, name))
            assert not sheet.incomplete, name
            assert sheet.presumed, name
        build = as_fitted(session, engine_named(session, "Dabchick 58"))
        assert not any(s.contents for position in build.positions for s in position.stations)
        assert read_presumed(session, engine_named(session, "Dabchick 58"), NOW)
        opened = as_fitted(session, engine_named(session, "Linnet 163"))
        (four,) = (position for position in opened.positions if position.name == "4")
        assert not any(station.contents or station.presumed for station in four.stations)


def test_eleven_springs_of_one_heat_are_in_three_engines(harrowmere: Store, workshop: Workshop) -> None:
    tag = sight(workshop, "springs to watch")
    fitted: Counter[str] = Counter()
    with harrowmere.reading() as session:
        for engine in workshop.engines:
            build = as_fitted(session, engine_named(session, engine.name))
            for position in build.positions:
                for station in position.stations:
                    fitted[engine.name] += sum(t.quantity for t in station.contents if t.tag == tag)
    assert +fitted == {"Linnet 117": 4, "Linnet 142": 4, "Dabchick 31": 3}


def test_after_the_propeller_strike_all_that_was_kept_is_cleared_but_one_pin(
    harrowmere: Store, workshop: Workshop
) -> None:
    with harrowmere.reading() as session:
        (event,) = events_of_engine(session, engine_named(session, "Linnet 142"))
    assert event.cleared is None
    kept = [thing.tag for thing in event.not_cleared if thing.where != "Scrap drum"]
    assert kept == [sight(workshop, "propeller strike")]
    assert sum(thing.cleared is not None for thing in event.things) > 30
    assert sight(workshop, "broken at the strike") in {thing.tag for thing in event.not_cleared}


def test_the_robbed_rod_is_in_another_engine_and_owed_back(harrowmere: Store, workshop: Workshop) -> None:
    rod = sight(workshop, "robbed rod")
    with harrowmere.reading() as session:
        piece = thing_by_tag(session, rod).piece
        assert piece is not None
        assert life_of(session, [piece])[piece].engine == engine_named(session, "Linnet 163")
        ((_, _, owed),) = read_owed(session, engine_named(session, "Linnet 142"), NOW)
    assert owed.tag == rod


@pytest.mark.parametrize(
    ("what", "verdict"),
    [
        ("nearly due, in an engine", LifeVerdict.DUE_SOON),
        ("early log lost", LifeVerdict.UNKNOWN),
        ("limit by calendar", LifeVerdict.WITHIN),
        ("unread meter", LifeVerdict.NO_LIMIT),
        ("life-expired", LifeVerdict.EXPIRED),
        ("nearly due", LifeVerdict.DUE_SOON),
    ],
)
def test_a_life_stands_as_it_is_said_to(
    harrowmere: Store, workshop: Workshop, what: str, verdict: LifeVerdict
) -> None:
    with harrowmere.reading() as session:
        piece = thing_by_tag(session, sight(workshop, what)).piece
        assert piece is not None
        assert life_of(session, [piece])[piece].stands.verdict is verdict


def test_a_valve_inside_a_head_runs_what_the_head_runs(harrowmere: Store, workshop: Workshop) -> None:
    tag = sight(workshop, "rides along")
    (inside,) = (each for each in workshop.lives.insides if each.of == tag)
    with harrowmere.reading() as session:
        valve, head = (thing_by_tag(session, each).piece for each in (tag, inside.into))
        assert valve is not None and head is not None
        lives = life_of(session, [valve, head])
    assert lives[valve].engine == lives[head].engine
    assert lives[valve].stands.verdict is LifeVerdict.WITHIN


def test_an_overhaul_of_one_head_began_its_hours_anew(harrowmere: Store, workshop: Workshop) -> None:
    with harrowmere.reading() as session:
        head = thing_by_tag(session, sight(workshop, "counts anew")).piece
        assert head is not None
        life = life_of(session, [head])[head]
    assert 0 < life.since_overhaul.hours.low < 120_00 < life.since_new.hours.low


def test_a_concession_has_a_few_of_its_fifty_hours_left(harrowmere: Store, workshop: Workshop) -> None:
    with harrowmere.reading() as session:
        barrel = thing_by_tag(session, sight(workshop, "concession")).piece
        assert barrel is not None
        (concession,) = concessions_of(session, [barrel])[barrel]
        lines = [line for line in due_list(session) if line.piece == barrel]
    assert concession.terms.hours_allowed == 50_00
    assert [line.verdict for line in lines] == [LifeVerdict.DUE_SOON]


def test_the_due_list_begins_with_what_is_over(harrowmere: Store, workshop: Workshop) -> None:
    with harrowmere.reading() as session:
        lines = due_list(session)
        part = part_by_number(session, sight(workshop, "directive on a part"))
        assert part
    over = [line for line in lines if line.verdict is LifeVerdict.EXPIRED]
    assert {line.engine_name for line in over} == {"Twelve 219"}
    assert lines[: len(over)] == tuple(over)
    pins = {line.engine_name for line in lines if "Gudgeon pins" in line.what}
    assert pins == {"Linnet 163"}
