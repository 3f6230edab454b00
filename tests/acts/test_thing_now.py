"""Where a piece or batch sits now, what is inside it, what it ran in each engine, and what is due on it."""

from __future__ import annotations

from datetime import date, timedelta

from sqlalchemy.orm import Session

from invdb.acts.directive import NewDirective, add_directive
from invdb.acts.engine_event import NewEvent, clear_event, record_event
from invdb.acts.engine_runs import EngineRun
from invdb.acts.hold import Subject
from invdb.acts.in_doubt import tainted_batches, tainted_pieces
from invdb.acts.numbers import Thing
from invdb.acts.stock_filter import StockFilter
from invdb.acts.stock_list import StockRow, stock_rows
from invdb.acts.stock_sort import StockColumn, StockSort
from invdb.acts.thing_now import thing_now
from invdb.rules.life import LifeVerdict
from invdb.rules.running import Span
from invdb.terms import EngineEventKind
from tests.engine_shop import METER, begin, run
from tests.fitted_shop import Bench, add_barrel_station
from tests.kit_shop import good
from tests.shop import BEGUN_ON, TODAY, Shop


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


def a_barrel(shop: Shop, bench: Bench) -> Thing:
    add_barrel_station(shop, bench.session)
    thing, _ = shop.book_in(bench.session, shop.barrel, pieces=1, on=ago(200)).things[0]
    return thing


def valve_of(shop: Shop, session: Session, days: int = 200) -> Thing:
    return Thing(piece=shop.piece(session, on=ago(days)))


def springs_of(shop: Shop, session: Session) -> Thing:
    return Thing(batch=shop.batch(session, on=ago(200)))


def hours(runs: tuple[EngineRun, ...]) -> list[Span]:
    return [each.ran.hours for each in runs]


def rows(shop: Shop, which: StockFilter | None = None, sort: StockSort | None = None) -> list[StockRow]:
    with shop.store.reading() as session:
        return list(stock_rows(session, which or StockFilter(), sort).rows)


def test_a_fitted_piece_says_where_and_since_when_and_what_it_ran_there(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        bench = Bench(shop, session)
        valve = valve_of(shop, session)
        fitted = bench.fit(valve, "5", "exhaust valve", ago(100))
        run(session, shop, METER + 30_00, on=ago(80))
        bench.strip(valve, ago(70))
        run(session, shop, METER + 40_00, on=ago(60))
        again = bench.fit(valve, "2", "exhaust valve", ago(50), from_place=shop.bench)
        run(session, shop, METER + 52_50, on=ago(40))
        now = thing_now(session, valve)
    (seat,) = now.fitted
    assert seat.seat.words == "Linnet One, cylinder 2, exhaust valve"
    assert (seat.since, now.engine) == ((ago(50), again), shop.engine)
    assert [(each.engine_name, each.seat, each.began) for each in now.runs] == [
        ("Linnet One", "cylinder 5, exhaust valve", (ago(100), fitted)),
        ("Linnet One", "cylinder 2, exhaust valve", (ago(50), again)),
    ]
    assert hours(now.runs) == [Span(30_00, 30_00), Span(12_50, 12_50)]
    assert now.runs[0].ended is not None
    assert now.runs[1].ended is None
    assert now.life is not None
    assert now.life.stands.verdict is LifeVerdict.WITHIN


def test_what_is_inside_another_piece_rides_along_and_is_named_with_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        bench = Bench(shop, session)
        barrel, valve = a_barrel(shop, bench), valve_of(shop, session)
        springs = springs_of(shop, session)
        assert barrel.piece is not None
        bench.fit_inside(valve, barrel.piece, "exhaust valve", ago(150))
        bench.fit_inside(springs, barrel.piece, "exhaust springs", ago(150), quantity=2)
        (at,) = thing_now(session, valve).fitted
        assert at.seat.words == f"exhaust valve in {bench.tag(barrel)}, in A-01-01"
        assert at.seat.engine is None
        bench.fit(barrel, "3", "barrel", ago(100))
        within = thing_now(session, valve)
        assert within.fitted[0].seat.words == (
            f"Linnet One, cylinder 3, exhaust valve in {bench.tag(barrel)}"
        )
        assert within.fitted[0].since == at.since, "it was put into the barrel, and not moved since"
        assert [(each.engine, each.began[0]) for each in within.runs] == [(shop.engine, ago(100))]
        assert [(each.tag, each.station, each.quantity) for each in thing_now(session, barrel).inside] == [
            (bench.tag(valve), "exhaust valve", 1),
            (bench.tag(springs), "exhaust springs", 2),
        ]


def test_a_batch_says_how_much_of_it_sits_where_and_what_that_ran(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        bench = Bench(shop, session)
        springs = springs_of(shop, session)
        bench.fit(springs, "5", "exhaust springs", ago(100), quantity=2)
        bench.fit(springs, "2", "exhaust springs", ago(90), quantity=1)
        run(session, shop, METER + 30_00, on=ago(80))
        now = thing_now(session, springs)
    assert {(each.seat.words, each.quantity) for each in now.fitted} == {
        ("Linnet One, cylinder 5, exhaust springs", 2),
        ("Linnet One, cylinder 2, exhaust springs", 1),
    }
    assert [(each.quantity, each.ran.hours) for each in now.runs] == [
        (2, Span(30_00, 30_00)),
        (1, Span(30_00, 30_00)),
    ]
    assert now.life is None


def test_an_event_and_a_due_directive_stand_on_the_piece(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        bench = Bench(shop, session)
        valve, other = valve_of(shop, session), valve_of(shop, session)
        bench.fit(valve, "5", "exhaust valve", ago(100))
        bench.fit(other, "2", "exhaust valve", ago(100))
        record_event(session, NewEvent(shop.engine, EngineEventKind.OVERSPEED), shop.by(ago(30)))
        directive = NewDirective("D 7", "crack test", "dye", ago(90), part=shop.valve, within_months=1)
        add_directive(session, directive, shop.by())
        now = thing_now(session, valve)
    assert [each.words for each in now.events] == [f"overspeed of Linnet One on {ago(30).isoformat()}"]
    assert [(each.tag, each.verdict) for each in now.directives] == [(bench.tag(valve), LifeVerdict.EXPIRED)]


def test_the_list_shows_where_what_is_fitted_sits_and_which_of_it_is_in_doubt(shop: Shop) -> None:
    with shop.store.writing() as session:
        bench = Bench(shop, session)
        came_out, stayed, shelved = (valve_of(shop, session) for _ in range(3))
        springs = springs_of(shop, session)
        bench.fit(came_out, "5", "exhaust valve", ago(100))
        bench.fit(stayed, "2", "exhaust valve", ago(100))
        bench.fit(springs, "5", "exhaust springs", ago(100), quantity=2)
        struck = record_event(
            session, NewEvent(shop.engine, EngineEventKind.PROPELLER_STRIKE), shop.by(ago(30))
        )
        bench.strip(came_out, ago(20))
        assert set(session.scalars(tainted_pieces())) == {came_out.piece, stayed.piece}
        assert set(tainted_batches(session)) == {springs.batch}
    (row,) = rows_by_thing(shop)[stayed]
    assert (row.bin, row.engine, row.fitted) == (
        "Linnet One, cylinder 2, exhaust valve",
        shop.engine,
        True,
    )
    assert "propeller strike" in row.doubts[0]
    in_doubt = StockFilter(in_doubt=True)
    assert {(row.thing, row.bin) for row in rows(shop, in_doubt)} == {
        (came_out, "Bench"),
        (stayed, "Linnet One, cylinder 2, exhaust valve"),
        (springs, "Linnet One, cylinder 5, exhaust springs"),
    }
    assert all(row.doubts for row in rows(shop, in_doubt))
    assert not rows_by_thing(shop)[shelved][0].doubts
    with shop.store.writing() as session:
        clear_event(
            session, struck, (Subject(piece=stayed.piece), Subject(batch=springs.batch)), "dye", shop.by()
        )
    assert [row.thing for row in rows(shop, in_doubt)] == [came_out]


def rows_by_thing(shop: Shop) -> dict[Thing, list[StockRow]]:
    found: dict[Thing, list[StockRow]] = {}
    for row in rows(shop):
        found.setdefault(row.thing, []).append(row)
    return found


def test_the_list_is_sorted_by_the_hours_run_in_all(shop: Shop) -> None:
    begin(shop, on=BEGUN_ON)
    with shop.store.writing() as session:
        bench = Bench(shop, session)
        long, short = good(session, shop, shop.valve), good(session, shop, shop.valve)
        springs = springs_of(shop, session)
        run(session, shop, METER + 5_00)
        bench.fit(long, "5", "exhaust valve")
        run(session, shop, METER + 25_00)
        bench.fit(short, "2", "exhaust valve")
        run(session, shop, METER + 30_00)
        bench.strip(short)
    up = StockSort(StockColumn.HOURS)
    assert [row.thing for row in rows(shop, sort=up)] == [short, long, springs]
    assert [row.thing for row in rows(shop, sort=StockSort(StockColumn.HOURS, descending=True))] == [
        long,
        short,
        springs,
    ]
    assert [row.hours for row in rows(shop, sort=up)] == ["5.00 h", "25.00 h", ""]
