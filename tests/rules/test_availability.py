"""What bars a thing from a kit, and what bars it from being accepted, judged from plain values alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from invdb.rules.acceptance import Candidate, bars_to_acceptance
from invdb.rules.availability import Asking, Offered, bars
from invdb.rules.life_limits import Limit, Lived, Serving
from invdb.rules.running import Ran, span_of
from invdb.terms import NO_PRIOR_LIFE, Condition, HoursKnown, LifeMeasure, PlaceKind, PriorLife, Scope

TODAY = date(2026, 3, 2)
LINNET, DABCHICK = 1, 2
PLAIN = Limit(LifeMeasure.HOURS, 600_00)


def ran(hours: PriorLife) -> Lived:
    before: dict[int | None, Ran] = {None: Ran(flight=span_of(hours))}
    return Lived(before, before)


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
    lived=ran(NO_PRIOR_LIFE),
    limits=(PLAIN,),
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
    lived=ran(NO_PRIOR_LIFE),
    limits=(PLAIN,),
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
        ({"limits": ()}, "life-limited, and the limit is not recorded"),
        (
            {"lived": ran(PriorLife(HoursKnown.AT_LEAST, 300_00))},
            "life used is not known against 600.00 h since new",
        ),
        (
            {"lived": ran(PriorLife(HoursKnown.BETWEEN, 500_00, 600_00))},
            "life expired: between 500.00 h and 600.00 h of 600.00 h since new",
        ),
        (
            {"limits": (PLAIN, Limit(LifeMeasure.MONTHS, 120, source="the maker's handbook"))},
            "life used is not known: no day from which 120 months since new count",
        ),
        ({"owner": 2, "owner_name": "Dunmere"}, "belongs to Dunmere, with no agreement for this engine"),
    ],
)
def test_each_want_is_a_bar_of_its_own(change: dict[str, object], bar: str) -> None:
    assert bars(replace(GOOD, **change), FLYING) == (bar,)  # type: ignore[arg-type]


def test_what_is_not_known_of_its_life_does_not_bar_the_stand() -> None:
    for change in ({"limits": ()}, {"lived": ran(PriorLife(HoursKnown.AT_LEAST, 300_00))}):
        assert bars(replace(GOOD, **change), ON_THE_STAND) == ()
        candidate = replace(SEEN, **change)
        assert bars_to_acceptance(candidate, Scope.GROUND_RUNNING, TODAY, licensed=True) == []
        (bar,) = bars_to_acceptance(candidate, Scope.FLIGHT, TODAY, licensed=True)
        assert not bar.lesser


def test_a_limit_bars_only_the_engines_for_which_it_holds() -> None:
    shared = replace(
        GOOD,
        lived=Lived({DABCHICK: Ran(flight=span_of(PriorLife(HoursKnown.EXACT, 500_00, 500_00)))}),
        limits=(
            Limit(LifeMeasure.HOURS, 400_00, engine_type=LINNET, holds_for="for the Linnet"),
            Limit(LifeMeasure.HOURS, 800_00, engine_type=DABCHICK, holds_for="for the Dabchick"),
        ),
    )
    assert bars(shared, replace(FLYING, serving=Serving(DABCHICK))) == ()
    assert bars(shared, replace(FLYING, serving=Serving(LINNET))) == (
        "life expired: 500.00 h of 400.00 h since new, for the Linnet",
    )
    accepted = replace(SEEN, lived=shared.lived, limits=shared.limits)
    assert bars_to_acceptance(accepted, Scope.FLIGHT, TODAY, licensed=True) == []
    for_linnets_alone = replace(shared, limits=shared.limits[:1])
    assert bars(for_linnets_alone, replace(FLYING, serving=Serving(DABCHICK))) == (
        "life-limited, and the limit is not recorded",
    )


def test_shelf_life_lasts_to_the_day_before_it_ends() -> None:
    assert bars(replace(GOOD, shelf_expiry_on=TODAY + timedelta(days=1)), FLYING) == ()
