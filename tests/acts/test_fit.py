"""Fitting things in engines and stripping them again."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from invdb.acts.by import By
from invdb.acts.check import check_store
from invdb.acts.fit import fit_pull
from invdb.acts.numbers import Thing
from invdb.acts.pull import issue
from invdb.acts.reverse import reverse
from invdb.acts.running import Run, log_run
from invdb.records.ledger import Entry
from invdb.records.life import Service
from invdb.records.stock import Piece, PullLine
from invdb.terms import Condition, Refused, RunningUse
from tests.engine_shop import METER, begin, fitted, run, stripped
from tests.kit_shop import good, reserved, state_of, stock
from tests.shop import TODAY, Shop


def served(shop: Shop, piece: int | None) -> list[tuple[int, int, int, bool]]:
    """The stretches of a piece in engines: engine, flight low, ground low, and whether it lasts."""
    with shop.store.reading() as session:
        rows = session.scalars(select(Service).where(Service.piece_id == piece).order_by(Service.sequence))
        return [(row.engine_id, row.flight_low, row.ground_low, row.to_entry is None) for row in rows]


def test_a_pull_is_fitted_in_one_act(shop: Shop) -> None:
    begin(shop)
    stock(shop)
    (pull,) = reserved(shop, "1")
    with shop.store.writing() as session:
        issue(session, pull.pull, By(shop.keeper))
    with shop.store.writing() as session:
        fit_pull(session, pull.pull, METER, shop.by())
    with shop.store.reading() as session:
        lines = session.scalars(select(PullLine).where(PullLine.pull_id == pull.pull)).all()
        assert [(line.issued, line.returned, line.fitted) for line in lines] == [
            (1, 1, 1),
            (2, 2, 2),
            (1, 1, 1),
        ]
    assert check_store(shop.store).differences == ()


def test_a_piece_runs_what_its_engine_runs_while_it_is_in_it(shop: Shop) -> None:
    begin(shop, shop.engine, shop.engine_two)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        run(session, shop, METER + 10_00)
        fitted(session, shop, valve, "exhaust valve", reading=METER + 10_00)
        run(session, shop, METER + 12_50)
        run(session, shop, METER + 13_00, use=RunningUse.GROUND)
    assert served(shop, valve.piece) == [(shop.engine, -10_00, 0, True)]
    with shop.store.writing() as session:
        stripped(session, shop, valve, reading=METER + 14_00)
    assert served(shop, valve.piece) == [(shop.engine, 3_50, 50, False)]
    state = state_of(shop, valve)
    assert (state.condition, state.used, state.where[0].name) == (Condition.UNINSPECTED, True, "Bench")
    assert check_store(shop.store).differences == ()


def test_a_late_run_lands_at_its_day_and_what_ran_then_follows(shop: Shop) -> None:
    begin(shop, reading=None)
    valve = stock(shop)["valves"][0]
    day = timedelta(days=1)
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve", reading=None, on=TODAY)
    shop.clock.instant += timedelta(days=10)
    with shop.store.writing() as session:
        stripped(session, shop, valve, reading=None)
    with shop.store.writing() as session:
        late = log_run(session, shop.engine, Run(RunningUse.FLIGHT, hours=2_00), shop.by(TODAY + 3 * day))
        log_run(session, shop.engine, Run(RunningUse.FLIGHT, hours=1_00), shop.by(TODAY - 3 * day))
    assert served(shop, valve.piece) == [(shop.engine, 2_00, 0, False)]
    with shop.store.writing() as session:
        reverse(session, late, "flown by another engine", shop.by())
    assert served(shop, valve.piece) == [(shop.engine, 0, 0, False)]
    assert check_store(shop.store).differences == ()


def test_a_station_takes_one_piece(shop: Shop) -> None:
    begin(shop)
    first, second = stock(shop, valves=2)["valves"]
    with shop.store.writing() as session:
        fitted(session, shop, first, "exhaust valve")
    tag = state_of(shop, first).tag
    with shop.store.writing() as session, pytest.raises(Refused, match=f"takes 1 off, and holds {tag}"):
        fitted(session, shop, second, "exhaust valve")


def test_the_wrong_part_is_refused_with_the_rule(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        barrel = good(session, shop, shop.barrel)
    with shop.store.writing() as session, pytest.raises(Refused, match="the kit list wants VX") as refused:
        fitted(session, shop, barrel, "exhaust valve", override="It looks alike")
    assert "concession" in refused.value.remedy


def test_an_uninspected_piece_is_refused_and_may_be_overridden(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        piece = shop.piece(session)
    valve = Thing(piece=piece)
    with shop.store.writing() as session, pytest.raises(Refused, match="uninspected") as refused:
        fitted(session, shop, valve, "exhaust valve")
    assert "licensed person" in refused.value.remedy
    with shop.store.writing() as session:
        number = fitted(session, shop, valve, "exhaust valve", override="Looked at on the bench")
    with shop.store.reading() as session:
        note = session.scalar(select(Entry.note).where(Entry.number == number))
        assert note is not None and "Looked at on the bench" in note and "uninspected" in note


def test_reversing_a_fit_takes_it_out_again(shop: Shop) -> None:
    begin(shop)
    valve = stock(shop)["valves"][0]
    with shop.store.writing() as session:
        number = fitted(session, shop, valve, "exhaust valve", reading=METER + 1_00)
        run(session, shop, METER + 5_00)
        reverse(session, number, "Fitted in the other engine", shop.by())
    assert served(shop, valve.piece) == []
    assert state_of(shop, valve).where[0].name == "A-01-01"
    assert check_store(shop.store).differences == ()
    with shop.store.reading() as session:
        assert session.scalar(select(Piece.used).where(Piece.id == valve.piece)) is False
