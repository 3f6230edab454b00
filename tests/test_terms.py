"""The words of the trade that carry a rule of their own."""

from __future__ import annotations

from enum import StrEnum

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb import terms
from invdb.terms import SENTENCE_LENGTH_MAX, FieldRefused, HoursKnown, PriorLife, Refused, Scope


@pytest.mark.parametrize(
    ("accepted_for", "engine_used_for", "may_go_in"),
    [
        (Scope.FLIGHT, Scope.FLIGHT, True),
        (Scope.FLIGHT, Scope.GROUND_RUNNING, True),
        (Scope.FLIGHT, Scope.DISPLAY, True),
        (Scope.GROUND_RUNNING, Scope.FLIGHT, False),
        (Scope.GROUND_RUNNING, Scope.GROUND_RUNNING, True),
        (Scope.GROUND_RUNNING, Scope.DISPLAY, True),
        (Scope.DISPLAY, Scope.FLIGHT, False),
        (Scope.DISPLAY, Scope.GROUND_RUNNING, False),
        (Scope.DISPLAY, Scope.DISPLAY, True),
    ],
)
def test_a_piece_goes_only_into_engines_whose_use_it_was_accepted_for(
    accepted_for: Scope, engine_used_for: Scope, may_go_in: bool
) -> None:
    assert accepted_for.covers(engine_used_for) is may_go_in


@pytest.mark.parametrize(
    ("known", "low", "high"),
    [
        (HoursKnown.EXACT, 41250, 41250),
        (HoursKnown.BETWEEN, 30000, 36000),
        (HoursKnown.AT_LEAST, 30000, None),
        (HoursKnown.UNKNOWN, None, None),
    ],
)
def test_prior_life_holds_just_the_bounds_that_are_known(
    known: HoursKnown, low: int | None, high: int | None
) -> None:
    prior = PriorLife(known, low, high)
    assert (prior.low, prior.high) == (low, high)


@given(
    known=st.sampled_from(HoursKnown),
    low=st.none() | st.integers(0, 10_000_00),
    high=st.none() | st.integers(0, 10_000_00),
)
def test_prior_life_never_claims_a_bound_that_its_word_does_not_carry(
    known: HoursKnown, low: int | None, high: int | None
) -> None:
    try:
        prior = PriorLife(known, low, high)
    except ValueError:
        return
    assert (prior.low is not None) == (known is not HoursKnown.UNKNOWN)
    assert (prior.high is not None) == (known in {HoursKnown.EXACT, HoursKnown.BETWEEN})


def test_at_least_300_hours_has_no_worst_end() -> None:
    with pytest.raises(ValueError, match="at least"):
        PriorLife(HoursKnown.AT_LEAST, 300_00, 300_00)


def test_a_refusal_says_what_is_wrong_and_the_way_out() -> None:
    refusal = Refused("Tag P-00417 is on hold.", "Clear the hold first.")
    assert str(refusal) == "Tag P-00417 is on hold. Clear the hold first."
    assert (refusal.reason, refusal.remedy) == ("Tag P-00417 is on hold.", "Clear the hold first.")
    assert str(Refused("The store is locked.")) == "The store is locked."


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("red\x1b[31m", "redU+001B[31m"),
        ("bell\x07", "bellU+0007"),
        ("two\r\nlines\tand\u2028one", "two  lines and one"),
        ("half a letter \udce9", "half a letter U+DCE9"),
        ("turned \u202eround", "turned U+202Eround"),
        ("Ёлка, 👩‍🔧, עברית", "Ёлка, 👩‍🔧, עברית"),
    ],
)
def test_a_refusal_shows_what_was_typed_without_being_steered_by_it(typed: str, said: str) -> None:
    refusal = FieldRefused("name", f"There is no place {typed}.", f"Add {typed}.")
    assert (refusal.reason, refusal.remedy) == (f"There is no place {said}.", f"Add {said}.")
    assert str(refusal) == f"There is no place {said}. Add {said}."


def test_a_refusal_of_something_endless_still_ends_with_its_way_out() -> None:
    refusal = Refused(f"There is no place {'x' * 100_000} here.", "Choose one that stands.")
    assert len(refusal.reason) <= SENTENCE_LENGTH_MAX + 1
    assert refusal.reason.startswith("There is no place xxx") and refusal.reason.endswith("xxx here.")
    assert str(refusal).endswith("Choose one that stands.")


def test_a_refused_field_is_a_refusal_that_names_its_field() -> None:
    with pytest.raises(Refused) as caught:
        raise FieldRefused("quantity", "Nothing is booked in with a quantity of 0.", "Give 1 or more.")
    assert isinstance(caught.value, FieldRefused)
    assert caught.value.field == "quantity"


def test_every_word_fits_the_column_that_keeps_it() -> None:
    words = [
        word
        for kind in vars(terms).values()
        if isinstance(kind, type) and issubclass(kind, StrEnum) and kind is not StrEnum
        for word in kind
    ]
    assert len(words) > 100
    assert [word for word in words if len(word) > 40] == []
