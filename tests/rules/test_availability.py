"""What bars a thing from a kit, and what bars it from being accepted, judged from plain values alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from invdb.rules.acceptance import Candidate, bars_to_acceptance
from invdb.rules.availability import Asking, Offered, bars
from invdb.terms import NO_PRIOR_LIFE, Condition, HoursKnown, PlaceKind, PriorLife, Scope

TODAY = date(2026, 3, 2)
FLYING = Asking(Scope.FLIGHT, owner=1, agreed_owners=frozenset(), on=TODAY, renewed_always=False)
ON_THE_STAND = replace(FLYING, use=Scope.GROUND_RUNNING)
GOOD = Offered(
    condition=Condition.SERVICEABLE,
    scope=Scope.FLIGHT,
    owner=1,
    owner_name="Harrowmere Flying Museum",
    used=False,
    holds=(),
    reserved_for=(),
    free=1,
    place_name="A-01-01",
    place_kind=PlaceKind.BIN,
    place_firm="",
    pull="",
    note="",
    shelf_expiry_on=None,
    prior_hours=NO_PRIOR_LIFE,
    life_limit=600_00,
    life_limited=True,
)
SEEN = Candidate(
    tag="T00001-X",
    condition=Condition.UNINSPECTED,
    scope=None,
    checks_missing=(),
    papers=1,
    hold_reasons=(),
    shelf_expiry_on=None,
    prior_hours=NO_PRIOR_LIFE,
    life_limit=600_00,
    life_limited=True,
)


def test_a_good_thing_is_barred_by_nothing() -> None:
    assert bars(GOOD, FLYING) == ()
    assert bars_to_acceptance(SEEN, Scope.FLIGHT, TODAY, licensed=True) == []


@pytest.mark.parametrize(
    ("change", "bar"),
    [
        ({"scope": None}, "not accepted for any scope"),
        ({"scope": Scope.DISPLAY}, "accepted for display only"),
        ({"shelf_expiry_on": TODAY}, "shelf life ended 2026-03-02"),
        ({"life_limit": None}, "life-limited, and the limit is not recorded"),
        ({"prior_hours": PriorLife(HoursKnown.AT_LEAST, 300_00)}, "life used is not known"),
        ({"prior_hours": PriorLife(HoursKnown.BETWEEN, 500_00, 600_00)}, "life expired"),
        ({"owner": 2, "owner_name": "Dunmere"}, "belongs to Dunmere, with no agreement for this engine"),
    ],
)
def test_each_want_is_a_bar_of_its_own(change: dict[str, object], bar: str) -> None:
    assert bars(replace(GOOD, **change), FLYING) == (bar,)  # type: ignore[arg-type]


def test_what_is_not_known_of_its_life_does_not_bar_the_stand() -> None:
    for change in ({"life_limit": None}, {"prior_hours": PriorLife(HoursKnown.AT_LEAST, 300_00)}):
        assert bars(replace(GOOD, **change), ON_THE_STAND) == ()
        candidate = replace(SEEN, **change)
        assert bars_to_acceptance(candidate, Scope.GROUND_RUNNING, TODAY, licensed=True) == []
        (bar,) = bars_to_acceptance(candidate, Scope.FLIGHT, TODAY, licensed=True)
        assert not bar.lesser


def test_shelf_life_lasts_to_the_day_before_it_ends() -> None:
    assert bars(replace(GOOD, shelf_expiry_on=TODAY + timedelta(days=1)), FLYING) == ()
