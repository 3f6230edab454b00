"""What is against a piece keeps it out: who may let it in all the same, and what an authority allows."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from invdb.acts import shop as shop_acts
from invdb.acts.accept import Acceptance, accept, set_condition
from invdb.acts.by import By
from invdb.acts.engine_event import NewEvent, record_event
from invdb.acts.fit import Fit, FitOrder, fit
from invdb.acts.goods_in import GoodsIn, NewPiece, receive
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.life_limit import NewLifeLimit, add_life_limit
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing, position_named
from invdb.terms import (
    ConcessionOver,
    Condition,
    EngineEventKind,
    FieldRefused,
    HoursKnown,
    LifeMeasure,
    Origin,
    PriorLife,
    Refused,
    Scope,
)
from tests.engine_shop import (
    LONG_AGO,
    METER,
    begin,
    came,
    conceded,
    fitted,
    note_of,
    sound,
    station,
    stripped,
    tag_of,
)
from tests.kit_shop import good
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)
LAST_WEEK = TODAY - 7 * DAY
USED = PriorLife(HoursKnown.EXACT, 605_00, 605_00)


def unfit(session: Session, shop: Shop, how: str) -> Thing:
    """A valve with something against it."""
    if how == "lesser scope":
        return good(session, shop, shop.valve, scope=Scope.GROUND_RUNNING)
    if how == "uninspected":
        return Thing(piece=shop.piece(session))
    if how == "expired":
        return lived(session, shop, 605_00)
    thing = good(session, shop, shop.valve)
    if how == "quarantined":
        move(session, (Shift(thing),), shop.quarantine, shop.by())
    if how == "unserviceable":
        set_condition(session, (thing,), Condition.UNSERVICEABLE, "bent", shop.by())
    if how == "unsalvageable":
        set_condition(session, (thing,), Condition.UNSALVAGEABLE, "bent", shop.by(), shop.quarantine)
    if how == "on hold":
        raise_hold(session, (Subject(piece=thing.piece),), "a crack somewhere", shop.by())
    if how == "customer's":
        owner = shop.customer
        return good(session, shop, shop.valve, owner=owner)
    return thing


WORDS = {
    "lesser scope": "accepted for ground running only",
    "uninspected": "uninspected",
    "quarantined": "in quarantine",
    "expired": "life expired: 605.00 h of 600.00 h",
    "unserviceable": "unserviceable",
    "unsalvageable": "unsalvageable",
    "on hold": "on hold: a crack somewhere",
    "customer's": "belongs to Dunmere",
}
BY_LICENCE_FOR_FLIGHT = {"lesser scope", "uninspected", "quarantined"}


@pytest.mark.parametrize("how", WORDS)
def test_what_is_against_a_piece_keeps_it_out_of_a_flying_engine(shop: Shop, how: str) -> None:
    begin(shop)
    with shop.store.writing() as session:
        thing = unfit(session, shop, how)
    with pytest.raises(Refused, match=WORDS[how]) as refused, shop.store.writing() as session:
        fitted(session, shop, thing, "exhaust valve")
    assert ("licensed person" in refused.value.remedy) == (how in BY_LICENCE_FOR_FLIGHT)
    if how in BY_LICENCE_FOR_FLIGHT:
        with shop.store.writing() as session:
            number = fitted(session, shop, thing, "exhaust valve", override="Looked at on the bench")
        note = note_of(shop, number)
        assert "Override: Looked at on the bench" in note and f"{tag_of(shop, thing)} {WORDS[how]}" in note
    else:
        with pytest.raises(Refused, match=WORDS[how]), shop.store.writing() as session:
            fitted(session, shop, thing, "exhaust valve", override="Looked at on the bench")
    assert sound(shop)


@pytest.mark.parametrize("how", ["unserviceable", "unsalvageable", "on hold", "expired"])
def test_on_an_engine_that_runs_on_the_ground_a_licensed_person_may(shop: Shop, how: str) -> None:
    begin(shop, shop.engine_two)
    with shop.store.writing() as session:
        thing = unfit(session, shop, how)
    with pytest.raises(Refused, match="licensed person"), shop.store.writing() as session:
        fitted(session, shop, thing, "exhaust valve", engine=shop.engine_two)
    with shop.store.writing() as session:
        number = fitted(
            session, shop, thing, "exhaust valve", override="For the stand", engine=shop.engine_two
        )
    assert WORDS[how] in note_of(shop, number)


def test_only_who_has_a_licence_overrides_and_only_where_there_is_something_to(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        thing, fine = unfit(session, shop, "uninspected"), good(session, shop, shop.valve)

    def order(thing: Thing, session: Session) -> FitOrder:
        position = position_named(session, shop.engine, "1")
        seat = station(session, shop.engine, "exhaust valve")
        return FitOrder(shop.engine, position, (Fit(seat, thing),), METER, override="Sound")

    with pytest.raises(FieldRefused, match="licence number"), shop.store.writing() as session:
        fit(session, order(thing, session), By(shop.keeper))
    with pytest.raises(FieldRefused, match="Nothing needs"), shop.store.writing() as session:
        fit(session, order(fine, session), shop.by())


def test_an_owners_piece_goes_in_with_an_agreement_and_not_on_a_licence(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        thing = unfit(session, shop, "customer's")
    with pytest.raises(Refused, match="no agreement") as refused, shop.store.writing() as session:
        fitted(session, shop, thing, "exhaust valve", override="They will not mind")
    assert refused.value.remedy == "Put that right first."
    with shop.store.writing() as session:
        shop_acts.add_agreement(session, shop.customer, shop.workshop, LAST_WEEK, "letter", shop.by())
        fitted(session, shop, thing, "exhaust valve")
    assert sound(shop)


def test_what_is_renewed_always_is_renewed_unless_a_licensed_person_says_why(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        gaskets = came(session, shop, shop.gasket, quantity=2, used=True, shelf_expiry_on=TODAY + 90 * DAY)
    with pytest.raises(Refused, match="always renewed"), shop.store.writing() as session:
        fitted(session, shop, gaskets, "head joint")
    with shop.store.writing() as session:
        fitted(session, shop, gaskets, "head joint", override="Never clamped")


def test_a_gasket_past_its_shelf_life_is_refused(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        gaskets = came(session, shop, shop.gasket, quantity=2, shelf_expiry_on=LAST_WEEK)
    with (
        pytest.raises(Refused, match=f"shelf life ended {LAST_WEEK}") as refused,
        shop.store.writing() as session,
    ):
        fitted(session, shop, gaskets, "head joint", override="Looks fresh")
    assert "concession" in refused.value.remedy


def test_at_least_three_hundred_hours_is_no_known_life(shop: Shop) -> None:
    begin(shop, shop.engine, shop.engine_two)
    at_least = PriorLife(HoursKnown.AT_LEAST, 300_00)
    with shop.store.writing() as session:
        thing = good(
            session,
            shop,
            shop.valve,
            scope=Scope.GROUND_RUNNING,
            pieces=(NewPiece(prior_hours=at_least),),
        )
    with pytest.raises(Refused, match="life used is not known"), shop.store.writing() as session:
        fitted(session, shop, thing, "exhaust valve", override="It looks new")
    with shop.store.writing() as session:
        fitted(session, shop, thing, "exhaust valve", engine=shop.engine_two)


def test_an_event_keeps_out_what_was_inside_till_it_is_cleared(shop: Shop) -> None:
    begin(shop, shop.engine, shop.engine_two)
    with shop.store.writing() as session:
        thing = came(session, shop, shop.valve)
        fitted(session, shop, thing, "exhaust valve", engine=shop.engine_two, on=LAST_WEEK)
        record_event(session, NewEvent(shop.engine_two, EngineEventKind.OVERSPEED), shop.by(LAST_WEEK))
        stripped(session, shop, thing, engine=shop.engine_two)
    with pytest.raises(Refused, match="overspeed"), shop.store.writing() as session:
        fitted(session, shop, thing, "exhaust valve", override="Looked at")


@pytest.mark.parametrize(
    ("how", "over"),
    [
        ("unserviceable", ConcessionOver.CONDITION),
        ("unsalvageable", ConcessionOver.WORN_LIMIT),
        ("on hold", ConcessionOver.HOLD),
        ("expired", ConcessionOver.LIFE_LIMIT),
    ],
)
def test_a_concession_lets_in_what_it_is_over_in_its_engine_alone(
    shop: Shop, how: str, over: ConcessionOver
) -> None:
    begin(shop)
    other = ConcessionOver.PART
    with shop.store.writing() as session:
        thing = unfit(session, shop, how)
        conceded(session, shop, thing, other, on=TODAY)
    # What lies in quarantine, or was not accepted, needs a licensed person's word besides.
    reason = "Looked at on the bench" if how in ("expired", "unsalvageable") else ""
    with pytest.raises(Refused, match=WORDS[how]), shop.store.writing() as session:
        fitted(session, shop, thing, "exhaust valve", override=reason)
    with shop.store.writing() as session:
        conceded(session, shop, thing, over, on=TODAY)
        number = fitted(session, shop, thing, "exhaust valve", override=reason)
    assert f"By concession C 12: {tag_of(shop, thing)} {WORDS[how]}" in note_of(shop, number)
    assert sound(shop)


def test_a_concession_over_a_part_lets_it_in_and_nothing_beside_it(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        barrel, valve = good(session, shop, shop.barrel), good(session, shop, shop.valve)
        conceded(session, shop, barrel, ConcessionOver.PART, on=TODAY)
        fitted(session, shop, barrel, "exhaust valve")
    with pytest.raises(Refused, match=f"holds {tag_of(shop, barrel)}"), shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
    with shop.store.writing() as session:
        stripped(session, shop, barrel)
        fitted(session, shop, valve, "exhaust valve")
    with pytest.raises(Refused, match=tag_of(shop, valve)), shop.store.writing() as session:
        accept(session, Acceptance((barrel,), Scope.FLIGHT), shop.by())
        fitted(session, shop, barrel, "exhaust valve")


def lived(session: Session, shop: Shop, hours: int) -> Thing:
    """A valve that ran so long before it came, past its 600 hours, and so was never accepted."""
    prior = PriorLife(HoursKnown.EXACT, hours, hours)
    goods = GoodsIn(Origin.UNKNOWN, shop.bin_a, part=shop.valve, pieces=(NewPiece(prior_hours=prior),))
    return receive(session, goods, shop.by()).things[0][0]


def test_a_limit_by_concession_lifts_the_parts_own_only_below_it(shop: Shop) -> None:
    begin(shop)
    by_610 = {"life_limit_hours": 610_00}
    with shop.store.writing() as session:
        below, beyond = lived(session, shop, 605_00), lived(session, shop, 615_00)
        for thing in (below, beyond):
            conceded(session, shop, thing, ConcessionOver.LIFE_LIMIT, on=TODAY, **by_610)
    with shop.store.writing() as session:
        fitted(session, shop, below, "exhaust valve", override="Looked at on the bench")
    with (
        pytest.raises(Refused, match=r"615.00 h of 610.00 h since new, by concession C 12"),
        shop.store.writing() as session,
    ):
        fitted(session, shop, beyond, "exhaust valve", cylinder="2", override="Looked at on the bench")


def test_a_limit_by_concession_leaves_other_limits_standing(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        limit = NewLifeLimit(LifeMeasure.STARTS, 50, shop.valve, source="Leaflet 12")
        add_life_limit(session, limit, shop.by(LONG_AGO))
        starts = PriorLife(HoursKnown.EXACT, 60, 60)
        pieces = (NewPiece(prior_hours=USED, prior_starts=starts),)
        goods = GoodsIn(Origin.UNKNOWN, shop.bin_a, part=shop.valve, pieces=pieces)
        thing = receive(session, goods, shop.by()).things[0][0]
        conceded(session, shop, thing, ConcessionOver.LIFE_LIMIT, on=TODAY, life_limit_hours=650_00)
    with pytest.raises(Refused, match="60 starts of 50 starts"), shop.store.writing() as session:
        fitted(session, shop, thing, "exhaust valve", override="Looked at on the bench")
