"""What the story of a piece says of its life: where it sits, what it ran, its limits, doubts and orders."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest
from sqlalchemy.orm import Session

from gui.job import Job
from gui.shown import Stretch
from gui.views.piece_presenter import PieceStory
from gui.views.stores_presenter import StoresPresenter
from invdb.acts.concession import NewConcession, grant_concession
from invdb.acts.directive import NewDirective, add_directive, comply
from invdb.acts.engine_event import NewEvent, clear_event, record_event
from invdb.acts.hold import Subject
from invdb.acts.life_limit import NewLifeLimit, add_life_limit
from invdb.acts.life_reset import LifeResetOrder, reset_life
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, add_paper
from invdb.terms import (
    SAFETY_LINE,
    ConcessionOver,
    EngineEventKind,
    LifeMeasure,
    LifeSince,
    PaperKind,
)
from tests.engine_shop import METER, begin, run
from tests.fitted_shop import Bench, add_barrel_station
from tests.gui.stores_shop import sit, state_of
from tests.shop import TODAY, Shop, sqlite_shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        begin(opened)
        yield opened


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


def story(shop: Shop, thing: Thing) -> PieceStory:
    return StoresPresenter(sit(shop)).story(Job(), thing)


def a_valve(shop: Shop, session: Session) -> Thing:
    return Thing(piece=shop.piece(session, on=ago(300)))


def fitted_valve(shop: Shop) -> Thing:
    """In cylinder 5 of Linnet One for 200 days, and 590 hours of its 600."""
    with shop.store.writing() as session:
        valve = a_valve(shop, session)
        Bench(shop, session).fit(valve, "5", "exhaust valve", ago(200))
        run(session, shop, METER + 590_00, on=ago(10), starts=120)
    return valve


def lines(told: PieceStory, title: str) -> list[tuple[str, str]]:
    """The lines of the section of that title, each with the word of its sign."""
    found = [section for section in told.sections if section.title == title]
    return [(line.sign, line.words) for section in found for line in section.lines]


def bands(told: PieceStory) -> list[Stretch]:
    return [each for each in told.life.stretches if each.sign != "history missing"]


def test_a_fitted_piece_says_where_it_sits_and_what_it_ran(shop: Shop) -> None:
    told = story(shop, fitted_valve(shop))
    facts = dict(told.facts)
    assert facts["Where"].startswith(
        f"Linnet One, cylinder 5, exhaust valve, since {ago(200).isoformat()} (entry "
    )
    assert facts["Ran in all"] == ("590.00 h and 120 starts; of that before it came: 0.00 h and 0 starts")
    assert "fitted" in told.signs
    assert told.caution == SAFETY_LINE


def test_a_life_near_its_limit_is_due_soon_with_what_is_left_and_when_that_runs_out(shop: Shop) -> None:
    told = story(shop, fitted_valve(shop))
    assert "due soon" in told.signs
    (limit,) = told.limits
    assert (limit.gauge.sign, limit.gauge.figure) == ("due soon", "590.00 h of 600.00 h since new")
    assert (limit.gauge.used_low, limit.gauge.limit) == (590_00, 600_00)
    assert limit.told.startswith("10.00 h left; forecast: ")
    assert " 2026 " in limit.told, "a range of months, from the use of its engine"


def test_each_limit_has_its_gauge_the_governing_one_first(shop: Shop) -> None:
    valve = fitted_valve(shop)
    with shop.store.writing() as session:
        limit = NewLifeLimit(LifeMeasure.STARTS, 100, shop.valve, source="letter 7")
        add_life_limit(session, limit, shop.by())
    told = story(shop, valve)
    assert [(each.gauge.sign, each.gauge.figure) for each in told.limits] == [
        ("expired", "120 starts of 100 starts since new"),
        ("due soon", "590.00 h of 600.00 h since new"),
    ]
    assert told.limits[0].told == "Over by 20 starts; set by letter 7."
    assert "expired" in told.signs


def test_a_spare_is_judged_without_a_forecast_and_nobody_knows_what_nobody_wrote_down(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing, _ = shop.book_in(session, shop.barrel, pieces=1, on=ago(300)).things[0]
        limit = NewLifeLimit(LifeMeasure.MONTHS, 120, shop.barrel, source="letter 7")
        add_life_limit(session, limit, shop.by())
    told = story(shop, thing)
    (limit_shown,) = told.limits
    assert limit_shown.gauge.sign == "unknown"
    assert limit_shown.told == "The day from which it counts is not known; set by letter 7."
    assert "life unknown" in told.signs


def test_since_overhaul_is_told_with_its_report(shop: Shop) -> None:
    valve = fitted_valve(shop)
    with shop.store.writing() as session:
        overhaul = LifeSince.OVERHAUL
        limit = NewLifeLimit(LifeMeasure.HOURS, 50_00, shop.valve, since=overhaul, source="letter 7")
        add_life_limit(session, limit, shop.by())
    assert "no overhaul is recorded" in dict(story(shop, valve).facts)["Since overhaul"]
    with shop.store.writing() as session:
        reset_life(session, LifeResetOrder("WR 12, new stem", piece=valve.piece), shop.by(ago(5)))
        run(session, shop, METER + 594_50, on=ago(2), starts=3)
    told = story(shop, valve)
    assert dict(told.facts)["Since overhaul"] == (
        f"4.50 h and 3 starts since that of {ago(5).isoformat()}, WR 12, new stem"
    )
    assert ("overhauled", ago(5)) in [(each.sign, each.on) for each in told.life.moments]


def test_a_band_for_each_time_in_an_engine_says_the_station_and_what_it_ran_there(shop: Shop) -> None:
    with shop.store.writing() as session:
        bench = Bench(shop, session)
        valve = a_valve(shop, session)
        fitted = bench.fit(valve, "5", "exhaust valve", ago(200))
        run(session, shop, METER + 30_00, on=ago(150), starts=9)
        bench.strip(valve, ago(100))
        bench.fit(valve, "2", "exhaust valve", ago(50), from_place=shop.bench)
        run(session, shop, METER + 42_50, on=ago(40), starts=4)
    told = story(shop, valve)
    assert [(each.sign, each.word, each.since, each.until) for each in bands(told)] == [
        ("in stores", "Stores › A-01-01", ago(300), ago(200)),
        ("fitted", "Linnet One, cylinder 5, exhaust valve: 30.00 h", ago(200), ago(100)),
        ("on the bench", "Bench", ago(100), ago(50)),
        ("fitted", "Linnet One, cylinder 2, exhaust valve: 12.50 h", ago(50), None),
    ]
    assert bands(told)[1].detail.startswith("Ran 30.00 h; 9 starts\n")
    assert bands(told)[1].ref == fitted
    marks = [(each.on, each.sign) for each in told.life.moments]
    assert marks == [(ago(200), "fitted"), (ago(100), "stripped"), (ago(50), "fitted")]


def test_what_rides_in_a_barrel_has_a_band_for_each_time_in_an_engine_and_between(shop: Shop) -> None:
    with shop.store.writing() as session:
        bench = Bench(shop, session)
        add_barrel_station(shop, session)
        barrel, _ = shop.book_in(session, shop.barrel, pieces=1, on=ago(300)).things[0]
        valve = a_valve(shop, session)
        assert barrel.piece is not None
        bench.fit_inside(valve, barrel.piece, "exhaust valve", ago(250))
        bench.fit(barrel, "3", "barrel", ago(200))
        run(session, shop, METER + 30_00, on=ago(150))
        bench.strip(barrel, ago(100))
        tag = bench.tag(barrel)
    told = story(shop, valve)
    assert [(each.word, each.since, each.until) for each in bands(told)[1:]] == [
        (f"at In piece {barrel.piece}, exhaust valve, in no engine", ago(250), ago(200)),
        (f"Linnet One, exhaust valve in {tag}: 30.00 h", ago(200), ago(100)),
        (f"at In piece {barrel.piece}, exhaust valve, in no engine", ago(100), None),
    ]
    assert dict(told.facts)["Where"].startswith(f"exhaust valve in {tag}, in Bench; in {tag} since")
    assert lines(story(shop, barrel), "Inside it") == [
        ("fitted", f"exhaust valve: {state_of(shop, valve).tag} Exhaust valve.")
    ]


def test_an_event_is_told_until_an_inspection_clears_it_and_after(shop: Shop) -> None:
    valve = fitted_valve(shop)
    with shop.store.writing() as session:
        event = NewEvent(shop.engine, EngineEventKind.PROPELLER_STRIKE, "in soft grass")
        struck = record_event(session, event, shop.by(ago(8)))
    told = story(shop, valve)
    what = f"propeller strike of Linnet One on {ago(8).isoformat()}"
    assert told.signs[0] == "event not cleared"
    assert dict(told.facts)["In doubt"] == f"not cleared of the {what}"
    ((sign, words),) = lines(told, "Engine events")
    assert sign == "event not cleared"
    assert words == f"Inside at the {what} (in soft grass), and no inspection named for it has cleared it."
    assert ("event not cleared", ago(8)) in [(each.sign, each.on) for each in told.life.moments]
    with shop.store.writing() as session:
        clear_event(session, struck, (Subject(piece=valve.piece),), "magnetic, no indications", shop.by())
    told = story(shop, valve)
    assert "event not cleared" not in told.signs
    assert "In doubt" not in dict(told.facts)
    ((sign, words),) = lines(told, "Engine events")
    assert sign == "inspection"
    assert words.endswith(f"cleared {TODAY.isoformat()} by Ada Farrow: magnetic, no indications.")


def test_concessions_are_told_in_force_and_ended(shop: Shop) -> None:
    valve = fitted_valve(shop)
    assert valve.piece is not None
    with shop.store.writing() as session:
        paper = add_paper(session, NewPaper(PaperKind.STATEMENT, "C 12"), shop.by(), (valve,))
        for reference, from_on, until_on, hours in (
            ("C 11", ago(100), ago(50), None),
            ("C 12", ago(9), None, 40_00),
        ):
            new = NewConcession(
                reference,
                "the authority",
                ConcessionOver.WORN_LIMIT,
                "stem 0.01 mm under",
                paper,
                valve.piece,
                shop.engine,
                from_on=from_on,
                until_on=until_on,
                hours_allowed=hours,
            )
            grant_concession(session, new, shop.by())
        run(session, shop, METER + 595_00, on=ago(1))
    told = story(shop, valve)
    assert "concession" in told.signs
    ended, in_force = lines(told, "Concessions")
    assert ended[0] == "closed"
    assert ended[1].startswith("Ended: C 11 of the authority, over the worn limit: stem 0.01 mm under;")
    assert in_force[0] == "concession"
    assert in_force[1].startswith("In force: C 12 of the authority")
    assert "for 40.00 h, 35.00 h left; statement C 12." in in_force[1]


def test_directives_are_told_due_and_complied_with(shop: Shop) -> None:
    valve = fitted_valve(shop)
    with shop.store.writing() as session:
        once = NewDirective("D 7", "crack test", "dye", ago(90), part=shop.valve, within_months=1)
        again = NewDirective("D 8", "stem wear", "gauge", ago(90), part=shop.valve, every_hours=50_00)
        first, second = (add_directive(session, each, shop.by()) for each in (once, again))
        comply(session, second, (Subject(piece=valve.piece),), "gauged, 0.01 mm", shop.by(ago(12)))
    told = lines(story(shop, valve), "Directives")
    assert [sign for sign, _ in told] == ["expired", "expired", "serviceable"]
    assert told[0][1].startswith("D 7: crack test")
    assert told[1][1].startswith("D 8: stem wear")
    assert told[2][1].endswith(f"complied with {ago(12).isoformat()} by Ada Farrow: gauged, 0.01 mm.")
    with shop.store.writing() as session:
        comply(session, first, (Subject(piece=valve.piece),), "dye, none", shop.by())
        comply(session, second, (Subject(piece=valve.piece),), "gauged", shop.by())
    told = lines(story(shop, valve), "Directives")
    assert [sign for sign, _ in told] == ["within limits", "serviceable", "serviceable", "serviceable"]


def test_a_batch_says_what_of_it_is_fitted_and_what_lies(shop: Shop) -> None:
    with shop.store.writing() as session:
        bench = Bench(shop, session)
        springs = Thing(batch=shop.batch(session, on=ago(300)))
        bench.fit(springs, "5", "exhaust springs", ago(200), quantity=2)
        bench.fit(springs, "2", "exhaust springs", ago(200), quantity=2)
        run(session, shop, METER + 30_00, on=ago(150))
    facts = dict(story(shop, springs).facts)
    assert facts["Where"] == "36 off in Stores › A-01-01"
    assert facts["Fitted"] == "4 off in Linnet One, exhaust springs: cylinder 5, cylinder 2"
    assert facts["Ran"] == f"4 off 30.00 h in Linnet One, since {ago(200).isoformat()}"
