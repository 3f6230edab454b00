"""Which engines are to be opened when, as planned, and else as their hours and their flying call for it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy.orm import Session

from invdb.acts.flying_plan import EngineFlying, flying_plan, plan_flying
from invdb.acts.life_limit import NewLifeLimit, add_life_limit
from invdb.acts.life_reset import LifeResetOrder, reset_life
from invdb.acts.overhaul_plan import (
    PlannedOpening,
    change_overhaul,
    overhaul_plan,
    plan_overhaul,
    withdraw_overhaul,
)
from invdb.terms import (
    NO_PRIOR_LIFE,
    Asked,
    FieldRefused,
    HoursKnown,
    LifeMeasure,
    LifeSince,
    PriorLife,
    Refused,
)
from tests.engine_shop import METER, begin, run, sound
from tests.shop import TODAY, Shop

JUNE, AUGUST = date(2026, 6, 15), date(2026, 8, 1)


def overhaul_life(session: Session, shop: Shop, left: int, months: int | None = None) -> None:
    """The Linnet's life between overhauls is 500 hours, of which Linnet One has so much left."""
    for measure, amount in ((LifeMeasure.HOURS, 500_00), (LifeMeasure.MONTHS, months)):
        if amount is not None:
            limit = NewLifeLimit(
                measure, amount, engine_type=shop.linnet, since=LifeSince.OVERHAUL, source="Manual 4"
            )
            add_life_limit(session, limit, shop.by())
    since = PriorLife(HoursKnown.EXACT, 500_00 - left, 500_00 - left)
    order = LifeResetOrder("OH 7", engine=shop.engine, hours=since, starts=NO_PRIOR_LIFE)
    reset_life(session, order, shop.by())


def plan(shop: Shop, months: int = 24) -> list[PlannedOpening]:
    with shop.store.reading() as session:
        return [each for each in overhaul_plan(session, months) if each.engine == shop.engine]


def flying(shop: Shop, engine: int | None = None) -> EngineFlying:
    with shop.store.reading() as session:
        every = flying_plan(session, 6)
    return next(each for each in every if each.engine == (engine or shop.engine))


def test_months_without_a_plan_go_on_as_of_late(shop: Shop) -> None:
    begin(shop)
    assert [each.hours for each in flying(shop).months] == [0] * 7
    with shop.store.writing() as session:
        run(session, shop, METER + 119_92, on=TODAY - timedelta(days=20))
        plan_flying(session, shop.engine, {JUNE: 40_00, AUGUST: 0}, shop.by())
    own = flying(shop)
    assert [(each.hours, each.planned) for each in own.months] == [
        (10_00, False),
        (10_00, False),
        (10_00, False),
        (40_00, True),
        (10_00, False),
        (0, True),
        (10_00, False),
    ]
    assert own.of_late == "as in the last 365 days: 10.00 h a month"
    assert "too few days" in flying(shop, shop.engine_two).of_late
    with shop.store.writing() as session:
        plan_flying(session, shop.engine, {JUNE: None}, shop.by())
        with pytest.raises(Refused, match="that already"):
            plan_flying(session, shop.engine, {JUNE: None}, shop.by())
    assert not flying(shop).months[3].planned
    assert sound(shop)


@pytest.mark.parametrize(
    ("month", "hours", "field"),
    [
        (date(2026, 2, 28), 10_00, "month"),
        (date(2226, 2, 28), 10_00, "month"),
        (JUNE, 745_00, "hours"),
        (JUNE, -1, "hours"),
    ],
)
def test_an_absurd_plan_of_flying_is_refused(shop: Shop, month: date, hours: int, field: str) -> None:
    with shop.store.writing() as session, pytest.raises(FieldRefused) as refused:
        plan_flying(session, shop.engine, {month: hours}, shop.by())
    assert refused.value.field == field


def test_an_overhaul_is_proposed_for_the_month_in_which_the_planned_flying_uses_up_what_is_left(
    shop: Shop,
) -> None:
    begin(shop)
    with shop.store.writing() as session:
        overhaul_life(session, shop, 100_00)
    assert plan(shop) == []
    with shop.store.writing() as session:
        plan_flying(session, shop.engine, {JUNE: 60_00, AUGUST: 50_00}, shop.by())
    (proposed,) = plan(shop)
    assert (proposed.on, proposed.planned) == (AUGUST, False)
    assert proposed.why.startswith("proposed: 100.00 h left of 500.00 h since overhaul")
    assert plan(shop, 4) == []


def test_the_calendar_calls_for_an_overhaul_too_and_again(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        overhaul_life(session, shop, 400_00, months=12)
    assert [each.on for each in plan(shop)] == [date(2027, 3, 1), date(2028, 3, 1)]
    assert plan(shop)[1].why.endswith("counted on from the overhaul before")


def test_a_planned_overhaul_goes_before_the_proposal_until_it_is_done_or_withdrawn(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        overhaul_life(session, shop, 30_00)
        plan_flying(session, shop.engine, {JUNE: 40_00}, shop.by())
        first = plan_overhaul(session, shop.engine, AUGUST, shop.by(), "after the show")
        with pytest.raises(FieldRefused, match="already"):
            plan_overhaul(session, shop.engine, AUGUST + timedelta(days=5), shop.by())
    (planned,) = plan(shop)
    assert (planned.on, planned.plan, planned.note) == (AUGUST, first, "after the show")
    with shop.store.writing() as session:
        change_overhaul(session, first, shop.by(), on=JUNE, note="before it")
        assert {(each.on, each.note) for each in overhaul_plan(session)} == {(JUNE, "before it")}
        withdraw_overhaul(session, first, shop.by())
        with pytest.raises(Refused, match="not planned any more"):
            withdraw_overhaul(session, first, shop.by())
    assert [(each.on, each.planned) for each in plan(shop)] == [(date(2026, 6, 1), False)]
    with shop.store.writing() as session:
        second = plan_overhaul(session, shop.engine, TODAY, shop.by())
        change_overhaul(session, second, shop.by(), done_on=TODAY)
    assert [each.planned for each in plan(shop)] == [False]
    assert sound(shop)


def test_an_overhaul_put_off_past_its_month_is_still_to_come(shop: Shop) -> None:
    with shop.store.writing() as session:
        plan_overhaul(session, shop.engine, AUGUST, shop.by())
        with pytest.raises(FieldRefused, match="gone by"):
            plan_overhaul(session, shop.engine, date(2026, 2, 1), shop.by())
    shop.clock.instant += timedelta(days=300)
    (late,) = plan(shop)
    assert late.why == "planned for Aug 2026, and not done yet"


def test_a_month_that_is_hardly_meant_is_asked_about(shop: Shop) -> None:
    with shop.store.writing() as session:
        with pytest.raises(Asked, match="more than 10 years ahead"):
            plan_overhaul(session, shop.engine, date(2099, 5, 1), shop.by())
        plan_overhaul(session, shop.engine, date(2027, 3, 1), shop.by())
        with pytest.raises(Asked, match="One is planned for Mar 2027 already"):
            plan_overhaul(session, shop.engine, date(2027, 8, 1), shop.by())
        plan_overhaul(session, shop.engine, date(2027, 8, 1), shop.by(), sure=True)
