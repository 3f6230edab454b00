"""What is gathered for each part: need by the plan and our record, supply by what lies here and is due."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts.accept import Acceptance, accept, set_condition
from invdb.acts.beliefs import BUILT_IN, set_belief
from invdb.acts.catalogue import Holds, NewKitLine, NewPart, NewStandIn
from invdb.acts.flying_plan import plan_flying
from invdb.acts.goods_in import NewPiece
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.life_limit import NewLifeLimit, add_life_limit
from invdb.acts.numbers import Thing
from invdb.acts.overhaul_plan import plan_overhaul
from invdb.acts.pull import issue
from invdb.acts.purchase_order import NewOrder, NewOrderLine, place_order
from invdb.acts.quote import NewQuote, add_quote
from invdb.acts.short_cases import ShortCase, short_cases
from invdb.acts.work import BackLine, ToSend, WorkBack, WorkSent, back_from_work, send_for_work
from invdb.rules.lead_time import LeadPrior, LeadRecord, lead_time
from invdb.rules.need import FailureRecord, Need, Overhaul, RunningOut
from invdb.rules.reject_rate import Inspected, RejectRecord
from invdb.rules.supply import YieldRecord
from invdb.terms import Condition, HoursKnown, LifeMeasure, PriorLife, Scope, Tracking, WorkWanted
from tests.engine_shop import METER, begin, came, fitted, run, stripped
from tests.fitted_shop import add_barrel_station
from tests.kit_shop import CHECKS, reserved, standing_in, stock
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)
JULY = date(2026, 7, 10)


def case_of(shop: Shop, part: int, months: int = 12) -> ShortCase:
    with shop.store.reading() as session:
        gathered = short_cases(session, months)
    return next(case for own, _ in gathered.pools for case in own if case.plan.part.id == part)


def open_up(shop: Shop, session: Session, engine: int | None = None) -> None:
    plan_overhaul(session, engine or shop.engine, JULY, shop.by())


def test_an_overhaul_asks_for_what_is_renewed_and_looks_at_the_rest(shop: Shop) -> None:
    with shop.store.writing() as session:
        open_up(shop, session)
        open_up(shop, session, shop.engine_two)
    opened = (Overhaul("Linnet One", 4, 7), Overhaul("Linnet Two", 4, 7))
    assert case_of(shop, shop.gasket).case.need == Need(overhauls=opened)
    looked = tuple(replace(each, looked=14) for each in opened)
    springs = case_of(shop, shop.spring).case.need
    assert (springs.overhauls, springs.rejects) == (looked, RejectRecord(BUILT_IN.rejects))
    assert springs.failures is None


def test_kit_lines_count_where_they_hold(shop: Shop) -> None:
    with shop.store.writing() as session:
        by = shop.by()
        holds = Holds(positions="1,2", serial_from="L1040")
        line = NewKitLine(shop.linnet, "cylinder", 4, "head joint", shop.barrel, 3, holds=holds)
        catalogue.add_kit_line(session, line, by)
        open_up(shop, session)
        open_up(shop, session, shop.engine_two)
    assert case_of(shop, shop.barrel).case.need.overhauls == (Overhaul("Linnet Two", 4, 6),)


def test_a_part_may_be_renewed_at_one_station_and_looked_at_at_another(shop: Shop) -> None:
    with shop.store.writing() as session:
        line = NewKitLine(shop.linnet, "cylinder", 4, "head joint", shop.spring, 1, True)
        catalogue.add_kit_line(session, line, shop.by())
        open_up(shop, session)
    need = case_of(shop, shop.spring).case.need
    assert need.overhauls == (Overhaul("Linnet One", 4, 14),)
    assert need.running_out == (RunningOut("Linnet One, renewed always", 4, 7),)


def test_flying_counts_for_every_piece_that_runs_and_lives_run_out_by_it(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        for cylinder, hours in (("1", 570_00), ("2", 100_00), ("3", 599_00)):
            piece = NewPiece(
                prior_hours=PriorLife(HoursKnown.EXACT, hours, hours),
                prior_starts=PriorLife(HoursKnown.EXACT, 0, 0),
            )
            valve = came(session, shop, shop.valve, pieces=(piece,))
            fitted(session, shop, valve, "exhaust valve", cylinder=cylinder)
        plan_flying(session, shop.engine, {date(2026, 4, 1): 20_00, date(2026, 6, 1): 10_00}, shop.by())
    need = case_of(shop, shop.valve, 6).case.need
    assert need.hours == (140.0, 0.0, 70.0, 0.0, 0.0, 0.0)
    assert need.running_out == (RunningOut("Linnet One", 1), RunningOut("Linnet One", 3))


def test_what_came_out_together_is_one_opening_and_what_broke_in_one_cylinder_failed_in_running(
    shop: Shop,
) -> None:
    begin(shop)
    with shop.store.writing() as session:
        valves = [came(session, shop, shop.valve) for _ in range(4)]
        springs = came(session, shop, shop.spring, quantity=4)
        for cylinder, valve in zip("1234", valves, strict=True):
            fitted(session, shop, valve, "exhaust valve", cylinder=cylinder, on=TODAY - 90 * DAY)
        fitted(session, shop, springs, "exhaust springs", quantity=2, on=TODAY - 90 * DAY)
        run(session, shop, METER + 50_00, on=TODAY - 80 * DAY)
        reading = METER + 50_00
        broken = Condition.UNSALVAGEABLE
        stripped(
            session, shop, valves[0], reading=reading, on=TODAY - 80 * DAY, condition=Condition.UNSERVICEABLE
        )
        for valve, on in zip(valves[1:], (40, 39, 12), strict=True):
            stripped(session, shop, valve, reading=reading, on=TODAY - on * DAY)
        stripped(session, shop, springs, reading=reading, on=TODAY - 40 * DAY)
        accept(session, Acceptance((valves[1],), Scope.FLIGHT, CHECKS, shop.bin_a), shop.by(TODAY - 20 * DAY))
        set_condition(session, (valves[2],), broken, "cracked", shop.by(TODAY - 20 * DAY), shop.scrap)
    need = case_of(shop, shop.valve).case.need
    assert need.rejects is not None
    # The fourth has not been looked at yet; it came out within the same opening.
    assert need.rejects.inspected == (Inspected(2, 1),)
    with shop.store.writing() as session:
        set_condition(session, (valves[3],), Condition.UNSERVICEABLE, "worn", shop.by())
        plan_flying(session, shop.engine, {JULY: 10_00}, shop.by())
    need = case_of(shop, shop.valve).case.need
    assert need.rejects is not None
    assert need.rejects.inspected == (Inspected(3, 2),)
    assert need.failures == FailureRecord(0.5, 20_000.0, 1, 200.0)


def test_a_belief_of_its_family_goes_before_the_general_one(shop: Shop) -> None:
    with shop.store.writing() as session:
        own = replace(BUILT_IN, family=1, reject_mean=Decimal("0.4"), failures=Decimal(2), source="Farrow")
        set_belief(session, own, shop.by())
        plan_flying(session, shop.engine, {JULY: 10_00}, shop.by())
    valve, spring = (case_of(shop, part).case.need for part in (shop.valve, shop.spring))
    assert valve.rejects is not None and spring.rejects is not None
    assert (valve.rejects.prior.mean, spring.rejects.prior.mean) == (0.4, 0.15)
    assert valve.failures == FailureRecord(2.0, 20_000.0)


def test_a_short_line_is_owed_while_its_pull_is_open(shop: Shop) -> None:
    stock(shop, valves=0)
    (pull,) = reserved(shop, "1")
    assert case_of(shop, shop.valve).case.need.owed == 1
    assert case_of(shop, shop.valve).plan.owed[0].why == f"short on pull {pull.number} for Linnet One"
    with shop.store.writing() as session:
        issue(session, pull.pull, shop.by())
        came(session, shop, shop.valve, on=TODAY)
    assert case_of(shop, shop.valve).case.need.owed == 1
    reserved(shop, "1")
    assert case_of(shop, shop.valve).case.need.owed == 0


def test_free_is_what_a_flying_engine_could_have_now(shop: Shop) -> None:
    with shop.store.writing() as session:
        valves = [came(session, shop, shop.valve) for _ in range(4)]
        came(session, shop, shop.valve, scope=Scope.GROUND_RUNNING)
        came(session, shop, shop.valve, owner=shop.customer)
        shop.piece(session)
        raise_hold(session, (Subject(piece=valves[0].piece),), "odd mark", shop.by())
        set_condition(session, (valves[1],), Condition.UNSERVICEABLE, "stretched", shop.by())
        ran = PriorLife(HoursKnown.EXACT, 550_00, 550_00)
        came(session, shop, shop.valve, pieces=(NewPiece(prior_hours=ran),))
        lower = NewLifeLimit(LifeMeasure.HOURS, 550_00, shop.valve, source="Leaflet 40")
        add_life_limit(session, lower, shop.by())
    plan = case_of(shop, shop.valve).plan
    assert plan.stock.free == 2
    assert dict(plan.stock.uncounted) == {
        "on hold": 1,
        "not accepted for flight": 1,
        "another owner's, with no agreement": 1,
        "uninspected": 1,
        "with no life left that is known": 1,
    }
    ((waiting, _),) = [(each, each.firm) for each in plan.stock.coming]
    assert (waiting.count, waiting.wait_days > 0) == (1, True)


def test_what_is_out_for_work_comes_back_by_the_record_of_its_firm(shop: Shop) -> None:
    with shop.store.writing() as session:
        add_barrel_station(shop, session)
        barrels = [came(session, shop, shop.barrel) for _ in range(3)]
        orders = [_sent(session, shop, each, TODAY - 80 * DAY) for each in barrels[:2]]
        _back(session, shop, orders[0], TODAY - 50 * DAY, Condition.UNSALVAGEABLE)
        _sent(session, shop, barrels[2], TODAY - 7 * DAY)
    supply = case_of(shop, shop.barrel).case.supply
    assert [(each.count, each.elapsed_days) for each in supply.in_work] == [(1, 80), (1, 7)]
    one, other = supply.in_work
    assert one.turn_round is other.turn_round
    expected = lead_time(LeadRecord(LeadPrior(60), (30,), (80, 7)))
    assert list(one.turn_round.weights) == list(expected.weights)
    assert one.good == YieldRecord(0.8, 5.0, 0, 1)
    assert supply.free == 0


def test_what_is_on_order_comes_by_the_record_of_its_firm_or_as_quoted(shop: Shop) -> None:
    with shop.store.writing() as session:
        on = TODAY - 40 * DAY
        quote = NewQuote(shop.supplier, "GBP", ((1, 900),), part=shop.spring, lead_days=120)
        add_quote(session, quote, shop.by(on))
        line = NewOrderLine(shop.spring, 30, 900)
        place_order(session, NewOrder(shop.supplier, "GBP", (line,)), shop.by(on))
    (due,) = case_of(shop, shop.spring).case.supply.on_order
    assert (due.count, due.elapsed_days) == (30, 40)
    expected = lead_time(LeadRecord(LeadPrior(120), (), (40,)))
    assert list(due.lead_time.weights) == list(expected.weights)


def test_stand_ins_share_their_stock_only_as_far_as_they_hold(shop: Shop) -> None:
    standing_in(shop)
    with shop.store.writing() as session:
        spare = catalogue.add_part(session, NewPart(2, "Barrel, oversize", Tracking.PIECE), shop.by())
        somewhere = NewStandIn(shop.spring, ((spare, 1),), "leaflet 2", holds=Holds("1"))
        catalogue.add_stand_in(session, somewhere, shop.by())
    with shop.store.reading() as session:
        gathered = short_cases(session)
    pools = {tuple(case.plan.part.name for case in own): pool for own, pool in gathered.pools}
    assert pools["Exhaust valve", "Exhaust valve, plain"].stands_in == {(1, 0)}
    assert not pools["Valve spring",].stands_in


def _sent(session: Session, shop: Shop, barrel: Thing, on: date) -> int:
    sent = WorkSent(shop.works, WorkWanted.PLATING, "Plate the bore", (ToSend(barrel),))
    return send_for_work(session, sent, shop.by(on)).order


def _back(session: Session, shop: Shop, order: int, on: date, condition: Condition) -> None:
    line = BackLine(order, shop.quarantine, "BP 1", condition)
    back_from_work(session, WorkBack(order, (line,)), shop.by(on))
