"""The shortage board: worst part first, from when, which engines it stops, what to do, and why."""

from __future__ import annotations

from datetime import date

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.overhaul_plan import plan_overhaul
from invdb.acts.presume import presume
from invdb.acts.quote import NewQuote, add_quote
from invdb.acts.shop import NewEngine, add_engine
from invdb.acts.short_board import short_board, short_reasons, spend
from invdb.acts.short_facts import ShortAction, ShortReasons, ShortRow, ShortSettings
from invdb.acts.short_settings import set_short_settings
from invdb.records.stock import Piece
from invdb.rules.need import Need, Overhaul
from invdb.rules.reject_rate import RejectPrior, RejectRecord
from invdb.rules.shortage import PartCase, shortage
from invdb.rules.supply import Supply
from invdb.terms import FieldRefused, OrderKind, Refused, Scope
from tests.engine_shop import begin, came, fitted
from tests.kit_shop import standing_in
from tests.shop import TODAY, Shop

JULY = date(2026, 7, 1)


def row_of(shop: Shop, part: int, months: int = 12) -> ShortRow:
    with shop.store.reading() as session:
        return next(row for row in short_board(session, months).rows if row.part == part)


def reasons_of(shop: Shop, part: int) -> ShortReasons:
    with shop.store.reading() as session:
        return short_reasons(session, part, 12)


def open_up(session: Session, shop: Shop) -> None:
    plan_overhaul(session, shop.engine, JULY, shop.by())


def test_what_is_renewed_is_short_for_certain_from_the_month_of_the_overhaul(shop: Shop) -> None:
    with shop.store.writing() as session:
        open_up(session, shop)
        came(session, shop, shop.gasket, quantity=3, shelf_expiry_on=date(2028, 1, 1))
    row = row_of(shop, shop.gasket)
    assert row.chances == (0.0,) * 4 + (1.0,) * 9
    assert row.expected == (0.0,) * 4 + (4.0,) * 9
    assert (row.first_watch, row.first_short) == (JULY, JULY)
    assert (row.free, row.need_low, row.need_high) == (3, 7, 7)
    assert row.engines == ("Linnet One", "Linnet Two")
    assert row.stops_flying


def test_the_worst_stands_first_and_what_is_looked_at_is_as_the_rule_has_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        open_up(session, shop)
        came(session, shop, shop.spring, quantity=3)
        for _ in range(4):
            came(session, shop, shop.valve)
    with shop.store.reading() as session:
        board = short_board(session)
    assert [row.part for row in board.rows] == [shop.gasket, shop.spring, shop.valve]
    assert (board.day, board.months[0], board.months[4], len(board.months)) == (
        TODAY,
        date(2026, 3, 1),
        JULY,
        25,
    )
    need = Need((Overhaul("Linnet One", 4, 14),), RejectRecord(RejectPrior(0.15, 5.0, 8.0)))
    stated = shortage(PartCase("spring", need, Supply(3)), 24)
    spring = board.rows[1]
    assert spring.chances == pytest.approx(stated.chance)
    assert spring.expected == pytest.approx(stated.expected)
    assert 0.05 < spring.p_short < 0.95
    assert spring.inspections == 0


def test_the_thresholds_and_the_horizon_are_the_shops(shop: Shop) -> None:
    with shop.store.writing() as session:
        open_up(session, shop)
        came(session, shop, shop.spring, quantity=4)
        chance = next(row.p_short for row in short_board(session).rows if row.part == shop.spring)
        percent = int(chance * 100)
        set_short_settings(session, ShortSettings(1, percent, 3), shop.by())
        assert {row.first_watch for row in short_board(session).rows} == {None}
        set_short_settings(session, ShortSettings(1, percent, 5), shop.by())
        row = next(row for row in short_board(session).rows if row.part == shop.spring)
        assert (len(row.chances), row.first_short) == (6, JULY)
        set_short_settings(session, ShortSettings(1, percent + 1, 5), shop.by())
        row = next(row for row in short_board(session).rows if row.part == shop.spring)
        assert (row.first_watch, row.first_short) == (JULY, None)


def test_a_firm_that_makes_no_fewer_is_advised_with_its_minimum_and_what_would_do(shop: Shop) -> None:
    with shop.store.writing() as session:
        open_up(session, shop)
        came(session, shop, shop.gasket, quantity=3, shelf_expiry_on=date(2028, 1, 1))
        for currency, kind, minimum, price in (
            ("GBP", OrderKind.MAKE, 12, 250),
            ("GBP", OrderKind.BUY, 1, 400),
            ("GBP", OrderKind.BUY, 1, 300),
            ("EUR", OrderKind.BUY, 1, 100),
        ):
            quote = NewQuote(
                shop.supplier,
                currency,
                ((minimum, price),),
                part=shop.gasket,
                kind=kind,
                minimum=minimum,
                lead_days=20,
                sure=True,
            )
            add_quote(session, quote, shop.by())
    made, bought, in_euros = row_of(shop, shop.gasket).advice
    assert {(each.action, each.quantity) for each in (made, bought, in_euros)} == {
        (ShortAction.MAKE, 12),
        (ShortAction.BUY, 4),
    }
    said = "\n".join(each.words for each in (made, bought, in_euros))
    assert "2.50 GBP each: 30.00 GBP; it makes no fewer than 12 off, 4 off would do; here in 2 months" in said
    assert "3.00 GBP each: 12.00 GBP" in said
    assert "1.00 EUR each: 4.00 EUR" in said
    assert "4.00 GBP" not in said
    with shop.store.reading() as session:
        plan = spend(session, 12_00, "gbp", 12)
    assert [(buy.part, buy.quantity, buy.cost) for buy in plan.buys] == [(shop.gasket, 4, 12_00)]
    assert plan.before - plan.after == pytest.approx(4 * 3)
    assert plan.buys[0].short_before - plan.buys[0].short_after == pytest.approx(4)
    assert plan.proven
    assert plan.apart == ("1 quote in EUR kept apart: no rate is known here",)
    (nothing, shortage_now), *_ = plan.curve
    assert nothing == 0
    assert shortage_now == pytest.approx(plan.before)
    assert [shortage for _, shortage in plan.curve] == sorted(
        (shortage for _, shortage in plan.curve), reverse=True
    )


def test_without_a_quote_one_is_told_how_many_to_ask_for(shop: Shop) -> None:
    with shop.store.writing() as session:
        open_up(session, shop)
    (advice,) = row_of(shop, shop.gasket).advice
    assert (advice.action, advice.quantity) == (ShortAction.BUY, 7)
    assert "no quote stands" in advice.words


def test_an_engine_in_store_is_not_stopped_and_is_named_for_what_it_holds(shop: Shop) -> None:
    with shop.store.writing() as session:
        stored = NewEngine(shop.linnet, "L0900", "Linnet Old", Scope.DISPLAY, shop.workshop)
        engine = add_engine(session, stored, shop.by())
    begin(shop, engine, reading=None, on=TODAY)
    with shop.store.writing() as session:
        valve = came(session, shop, shop.valve)
        fitted(session, shop, valve, "exhaust valve", engine=engine, reading=None)
        open_up(session, shop)
    row = row_of(shop, shop.valve)
    assert row.engines == ("Linnet One", "Linnet Two")
    robbed = next(each for each in row.advice if each.action is ShortAction.ROB)
    assert (robbed.quantity, robbed.words) == (1, "Linnet Old, in store, holds 1 off")


def test_what_an_engine_in_store_is_presumed_to_hold_is_named_as_presumed(shop: Shop) -> None:
    with shop.store.writing() as session:
        stored = NewEngine(shop.linnet, "L0900", "Linnet Old", Scope.DISPLAY, shop.workshop)
        engine = add_engine(session, stored, shop.by())
    begin(shop, engine, reading=None, on=TODAY)
    with shop.store.writing() as session:
        presume(session, engine, shop.by())
        open_up(session, shop)
    robbed = next(each for each in row_of(shop, shop.valve).advice if each.action is ShortAction.ROB)
    assert robbed.words == "Linnet Old, in store, is presumed to hold, unidentified, 7 off"


def test_a_stand_in_on_the_shelf_makes_the_part_less_short(shop: Shop) -> None:
    with shop.store.writing() as session:
        open_up(session, shop)
    alone = row_of(shop, shop.valve)
    plain = standing_in(shop)
    row = row_of(shop, shop.valve)
    assert row.p_short < alone.p_short
    assert row.free == 0
    with shop.store.reading() as session:
        assert plain.piece is not None
        part = session.scalar(select(Piece.part_id).where(Piece.id == plain.piece))
    assert part is not None
    assert row.pooled == ("VX0002-W",)
    batch = next(each.quantity for each in row.advice if each.action is ShortAction.BUY)
    before = next(each.quantity for each in alone.advice if each.action is ShortAction.BUY)
    assert batch == before - 1


def test_a_row_says_what_its_figures_rest_on(shop: Shop) -> None:
    with shop.store.writing() as session:
        open_up(session, shop)
        came(session, shop, shop.spring, quantity=3)
        came(session, shop, shop.spring, quantity=2, scope=Scope.GROUND_RUNNING)
    why = reasons_of(shop, shop.spring)
    assert sum(each.mean for each in why.need) == pytest.approx(why.row.need_mean)
    assert sum(each.mean for each in why.supply) == pytest.approx(why.months[-1].supply_mean)
    assert [each.words for each in why.supply] == [
        "free and serviceable",
        "2 off here, not accepted for flight: not counted",
    ]
    assert [each.words for each in why.need] == ["Linnet One opened in Jul 2026: 14 off looked at"]
    assert "no inspection of ours stands behind it; the belief speaks: 15 % of pieces" in why.rates[0]
    assert "comes with the program; the shop has set none" in why.rates[0]
    before, after = why.months[3], why.months[4]
    assert (before.need_high, after.need_low <= after.need_mean <= after.need_high) == (0, True)
    assert tuple(each.p_short for each in why.months) == why.row.chances


def test_what_cannot_be_answered_is_refused(shop: Shop) -> None:
    with shop.store.reading() as session:
        with pytest.raises(Refused, match="not on the board"):
            short_reasons(session, shop.barrel)
        with pytest.raises(Refused, match="horizon of 1000 months"):
            short_board(session, 1000)
        with pytest.raises(FieldRefused, match="no currency"):
            spend(session, 100, "XYZ")
        with pytest.raises(FieldRefused, match="no sum to spend"):
            spend(session, 0, "GBP")


def test_with_no_history_and_nothing_planned_nothing_is_short(shop: Shop) -> None:
    with shop.store.reading() as session:
        board = short_board(session)
    assert {row.p_short for row in board.rows} == {0.0}
    assert {row.inspections for row in board.rows} == {0}
    assert not any(row.advice for row in board.rows)


def test_what_comes_after_all_that_is_looked_at_is_said_to_and_no_money_is_spent_on_it(shop: Shop) -> None:
    with shop.store.writing() as session:
        open_up(session, shop)
        slow = NewQuote(shop.supplier, "GBP", ((1, 100),), shop.gasket, lead_days=900)
        add_quote(session, slow, shop.by())
    (advice,) = row_of(shop, shop.gasket).advice
    assert advice.words.endswith("months, after all that is looked at here")
    with shop.store.reading() as session:
        plan = spend(session, 100_000, "GBP", 12)
    assert (plan.buys, plan.spent, plan.after) == ((), 0, plan.before)
