"""Amounts as people write them, and prices by the piece, the metre and the kilogram: exact to the cent."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.money import (
    MINOR_MAX,
    Money,
    exponent_of,
    money_words,
    price_at,
    price_of,
    price_words,
    read_currency,
    read_money,
    totals,
)
from invdb.terms import Asked, FieldRefused, Measure

CURRENCIES = ("EUR", "JPY", "KWD", "CLF")


@given(st.integers(0, MINOR_MAX), st.sampled_from(CURRENCIES))
def test_what_is_written_is_read_back(minor: int, currency: str) -> None:
    money = Money(minor, currency)
    assert read_money(money_words(money), currency) == money


@pytest.mark.parametrize(
    ("typed", "currency", "minor"),
    [
        ("12.50", "EUR", 1250),
        ("12.5", "EUR", 1250),
        ("12", "EUR", 1200),
        ("0", "EUR", 0),
        (" eur 12.50 ", "EUR", 1250),
        ("12.50EUR", "EUR", 1250),
        ("1250", "JPY", 1250),
        ("1.25", "KWD", 1250),
    ],
)
def test_amounts_are_read_in_the_places_of_their_currency(typed: str, currency: str, minor: int) -> None:
    assert read_money(typed, currency) == Money(minor, currency)


@pytest.mark.parametrize(
    ("typed", "minor"),
    [("12,50", 1250), ("1,250.00", 125000), ("1,250,000", 125000000), ("1 250", 125000), ("1'250.5", 125050)],
)
def test_a_comma_and_a_mark_between_thousands_are_asked_about(typed: str, minor: int) -> None:
    with pytest.raises(Asked, match="comma|thousands"):
        read_money(typed, "EUR")
    assert read_money(typed, "EUR", sure=True) == Money(minor, "EUR")


def test_a_comma_that_could_be_either_is_never_taken_for_a_decimal_point_too_fine() -> None:
    with pytest.raises(Asked):
        read_money("1,250", "EUR")
    with pytest.raises(FieldRefused, match="EUR has 2 decimal places"):
        read_money("1,250", "EUR", sure=True)


@pytest.mark.parametrize(
    ("typed", "currency", "reason"),
    [
        ("", "EUR", "No amount"),
        ("twelve", "EUR", "no amount"),
        ("-5", "EUR", "below zero"),
        ("1.250", "EUR", "2 decimal places"),
        ("12.50", "JPY", "no decimal places"),
        ("GBP 5", "EUR", "not in EUR"),
        ("1.250,50", "EUR", "no amount"),
        ("١٢", "EUR", "no amount"),
        ("1e5", "EUR", "no amount"),
        ("9" * 39, "EUR", "more than any workshop pays"),
        ("9" * 99, "EUR", "too long"),
    ],
)
def test_what_is_no_amount_is_refused(typed: str, currency: str, reason: str) -> None:
    with pytest.raises(FieldRefused, match=reason) as refused:
        read_money(typed, currency, sure=True)
    assert refused.value.field == "price"


def test_a_currency_is_one_of_the_standard_with_a_minor_unit() -> None:
    assert read_currency(" gbp ") == "GBP"
    assert [exponent_of(each) for each in CURRENCIES] == [2, 0, 3, 4]
    for typed, reason in (("", "No currency"), ("ZZZ", "no currency of ISO 4217"), ("XAU", "no minor unit")):
        with pytest.raises(FieldRefused, match=reason) as refused:
            read_currency(typed)
        assert refused.value.field == "currency"


def test_an_amount_of_a_currency_that_is_no_more_is_still_said() -> None:
    assert money_words(Money(1250, "ZZZ")) == "1250 minor units of ZZZ"


@given(st.integers(0, 10**9), st.integers(0, 10**10), st.sampled_from(list(Measure)))
def test_a_quantity_costs_its_price_rounded_once_half_up(price: int, quantity: int, measure: Measure) -> None:
    unit = 1 if measure is Measure.COUNT else 10**6
    exact = Fraction(price * quantity, unit)
    off = price_of(Money(price, "EUR"), quantity, measure).minor - exact
    assert -Fraction(1, 2) < off <= Fraction(1, 2)


def test_prices_are_by_the_piece_the_metre_and_the_kilogram() -> None:
    price = Money(333, "EUR")
    assert price_of(price, 12, Measure.COUNT) == Money(3996, "EUR")
    assert price_of(price, 1_250_000, Measure.LENGTH) == Money(416, "EUR")
    assert price_of(price, 500_000, Measure.WEIGHT) == Money(167, "EUR"), "half up"
    assert price_words(price, Measure.LENGTH) == "3.33 EUR a metre"


def test_the_price_at_a_quantity_is_that_of_the_last_step_reached() -> None:
    prices = ((12, 900), (1, 1000), (50, 700))
    assert [price_at(prices, each) for each in (0, 1, 11, 12, 49, 50)] == [None, 1000, 1000, 900, 900, 700]


@given(st.lists(st.builds(Money, st.integers(0, 10**6), st.sampled_from(CURRENCIES))))
def test_sums_keep_currencies_apart(amounts: list[Money]) -> None:
    summed = totals(amounts)
    assert [each.currency for each in summed] == sorted({each.currency for each in amounts})
    for each in summed:
        assert each.minor == sum(one.minor for one in amounts if one.currency == each.currency)
