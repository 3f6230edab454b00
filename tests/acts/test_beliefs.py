"""What is believed of a family of parts before our own record, and who says so."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from invdb.acts.beliefs import BUILT_IN, beliefs, set_belief, withdraw_belief
from invdb.terms import FieldRefused, Refused
from tests.engine_shop import sound
from tests.shop import Shop

VALVES = replace(BUILT_IN, reject_mean=Decimal("0.35"), source="Ada Farrow, from forty years", family=1)


def test_without_any_set_the_belief_is_one_that_comes_with_the_program_and_says_so(shop: Shop) -> None:
    with shop.store.reading() as session:
        own = beliefs(session).of(1)
    assert own.built_in
    assert own.source == "comes with the program; the shop has set none"


def test_a_family_goes_by_its_own_belief_and_the_rest_by_the_general_one(shop: Shop) -> None:
    with shop.store.writing() as session:
        set_belief(session, VALVES, shop.by())
        set_belief(session, replace(BUILT_IN, reject_weight=Decimal(9), source="the shop"), shop.by())
        held = beliefs(session)
        assert (held.of(1).reject_mean, held.of(1).family_name) == (Decimal("0.35"), "VX Exhaust valves")
        assert (held.of(2).reject_weight, held.of(2).built_in) == (Decimal(9), False)
        with pytest.raises(Refused, match="believed already"):
            set_belief(session, VALVES, shop.by())
        own = held.of(1).id
        assert own is not None
        withdraw_belief(session, own, shop.by())
        assert beliefs(session).of(1).reject_weight == Decimal(9)
        with pytest.raises(Refused, match="withdrawn already"):
            withdraw_belief(session, own, shop.by())
        set_belief(session, VALVES, shop.by())
        assert beliefs(session).of(1).id == own
    assert sound(shop)


@pytest.mark.parametrize(
    ("field", "figure"),
    [
        ("reject_mean", Decimal(1)),
        ("reject_weight", Decimal(0)),
        ("concentration", Decimal(20_000)),
        ("failures", Decimal(0)),
        ("failure_hours", 0),
        ("yield_mean", Decimal(0)),
        ("source", "  "),
        ("family", 999),
    ],
)
def test_a_belief_out_of_reason_is_refused(shop: Shop, field: str, figure: object) -> None:
    with shop.store.writing() as session, pytest.raises(FieldRefused) as refused:
        set_belief(session, replace(VALVES, **{field: figure}), shop.by())  # type: ignore[arg-type]
    assert refused.value.field == field
