"""Money, exactly: whole minor units of a currency of ISO 4217, read and written as people write amounts.

A price is for one piece, one metre or one kilogram. Amounts of two currencies are never added: no rate is
known here. The number of decimal places of each currency is that of ISO 4217's own list.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache

from invdb.terms import Asked, FieldRefused, Measure

# Ten thousand million of most currencies: more than any workshop pays for anything.
MINOR_MAX = 10**12
TEXT_LENGTH_MAX = 40

PRICED_BY = {Measure.COUNT: "each", Measure.LENGTH: "a metre", Measure.WEIGHT: "a kilogram"}
"""What a price is for, by how the part is measured."""

_SMALLEST_IN_PRICED = {Measure.COUNT: 1, Measure.LENGTH: 10**6, Measure.WEIGHT: 10**6}
_PLAIN = re.compile(r"(\d+)(?:\.(\d+))?")
# Groups of three behind a mark: no comma alone between two groups, which could be a decimal comma as well.
_SPACED = re.compile(r"\d{1,3}(?:[ \u00a0\u2009\u202f'’]\d{3})+(?:\.\d+)?")
_COMMAS = re.compile(r"\d{1,3}(?:,\d{3}){2,}(?:\.\d+)?|\d{1,3}(?:,\d{3})+\.\d+")
_DECIMAL_COMMA = re.compile(r"\d+,\d+")


@dataclass(frozen=True, order=True)
class Money:
    """So many minor units (cents, pence) of a currency, by its code of three letters."""

    minor: int
    currency: str


@cache
def _exponents() -> dict[str, int | None]:
    """The decimal places of every currency of ISO 4217, None where there are none to speak of, as of gold."""
    from iso4217 import Currency

    return {each.code: each.exponent for each in Currency}


def exponent_of(currency: str) -> int:
    """How many decimal places a currency has; FieldRefused for none of ISO 4217's and for one without."""
    exponents = _exponents()
    if currency not in exponents:
        raise FieldRefused(
            "currency",
            f"{currency!r} is no currency of ISO 4217.",
            "Type its code of three letters, such as EUR.",
        )
    exponent = exponents[currency]
    if exponent is None:
        raise FieldRefused(
            "currency",
            f"{currency} has no minor unit, so no price is given in it.",
            "Choose another currency.",
        )
    return exponent


def read_currency(text: str) -> str:
    """The code of a currency as typed, in capitals; FieldRefused as in ``exponent_of``."""
    code = text.strip().upper()
    if not code:
        raise FieldRefused("currency", "No currency is given.", "Type its code, such as EUR.")
    exponent_of(code)
    return code


def read_money(text: str, currency: str, *, field: str = "price", sure: bool = False) -> Money:
    """The amount that a person typed in a currency: ``1250``, ``12.50``, ``12.5``, ``EUR 12.50``.

    A comma or a mark between thousands is Asked about; said to be meant (``sure``), one comma alone is a
    decimal point and the others are marks between thousands. FieldRefused for what is no amount, is below
    zero, is in another currency, has more decimal places than the currency, or is absurdly much.
    """
    exponent = exponent_of(currency)
    typed = " ".join(text.split())
    figure = _figure(typed, currency, field)
    if _SPACED.fullmatch(figure) or _COMMAS.fullmatch(figure):
        if not sure:
            raise Asked(
                field,
                f"{typed!r} has a mark between thousands.",
                "Is it that? Then type it without, or say so.",
            )
        figure = re.sub(r"[^\d.]", "", figure)
    elif _DECIMAL_COMMA.fullmatch(figure):
        if not sure:
            raise Asked(
                field, f"{typed!r} has a comma.", "Is it a decimal point? Then type a point, or say so."
            )
        figure = figure.replace(",", ".")
    match = _PLAIN.fullmatch(figure) if figure.isascii() else None
    if match is None:
        raise FieldRefused(field, f"{typed!r} is no amount.", "Type it like 1250 or 12.50.")
    whole, rest = match.group(1), match.group(2) or ""
    if len(rest) > exponent:
        places = {0: "no decimal places", 1: "1 decimal place"}.get(exponent, f"{exponent} decimal places")
        raise FieldRefused(field, f"{typed!r}: {currency} has {places}.", "Round it, or check the currency.")
    minor = int(whole + rest.ljust(exponent, "0"))
    refuse_absurd_price(minor, currency, field)
    return Money(minor, currency)


def _figure(typed: str, currency: str, field: str) -> str:
    """What was typed less the currency's code before or behind it."""
    if not typed:
        raise FieldRefused(field, "No amount is given.", f"Type it in {currency}.")
    if len(typed) > TEXT_LENGTH_MAX:
        raise FieldRefused(field, f"{typed!r} is too long for an amount.", "Type the figure alone.")
    if typed.startswith("-"):
        raise FieldRefused(field, f"{typed!r} is below zero.", "Check the figure.")
    for code, figure in ((typed[:3], typed[3:]), (typed[-3:], typed[:-3])):
        if code.upper() in _exponents():
            if code.upper() != currency:
                raise FieldRefused(
                    field, f"{typed!r} is not in {currency}.", "Type the amount in the currency named."
                )
            return figure.strip()
    return typed


def refuse_absurd_price(minor: int, currency: str, field: str = "price") -> None:
    """Refuse an amount below zero or beyond anything that a workshop pays."""
    if minor < 0:
        raise FieldRefused(
            field, f"{money_words(Money(minor, currency))} is below zero.", "Check the figure."
        )
    if minor > MINOR_MAX:
        raise FieldRefused(
            field,
            f"{money_words(Money(minor, currency))} is more than any workshop pays.",
            "Check the figure.",
        )


def money_words(money: Money) -> str:
    """``12.50 EUR``, ``1250 JPY``: exactly, with a decimal point and no mark between thousands.

    Of a currency that is not in the list, such as one that was withdrawn since, the minor units are said.
    """
    exponent = _exponents().get(money.currency)
    if exponent is None:
        return f"{money.minor} minor units of {money.currency}"
    sign = "-" if money.minor < 0 else ""
    whole, rest = divmod(abs(money.minor), 10**exponent)
    figure = f"{whole}.{rest:0{exponent}d}" if exponent else f"{whole}"
    return f"{sign}{figure} {money.currency}"


def price_words(price: Money, measure: Measure) -> str:
    """``12.50 EUR each``, ``3.20 EUR a metre``."""
    return f"{money_words(price)} {PRICED_BY[measure]}"


def price_of(price: Money, quantity: int, measure: Measure) -> Money:
    """What a quantity costs at a price for one piece, metre or kilogram; ``quantity`` in pieces, µm or mg.

    Reckoned in whole numbers and rounded once, half up, to the minor unit.
    """
    unit = _SMALLEST_IN_PRICED[measure]
    return Money((2 * price.minor * quantity + unit) // (2 * unit), price.currency)


def price_at(prices: Sequence[tuple[int, int]], quantity: int) -> int | None:
    """The price of one at a quantity, of prices each from a quantity on; None below the first of them."""
    reached = [(start, price) for start, price in prices if start <= quantity]
    return max(reached, key=lambda each: each[0])[1] if reached else None


def totals(amounts: Iterable[Money]) -> tuple[Money, ...]:
    """The sum of each currency by itself, by code: amounts of two currencies are never added up."""
    sums: dict[str, int] = defaultdict(int)
    for amount in amounts:
        sums[amount.currency] += amount.minor
    return tuple(Money(sums[currency], currency) for currency in sorted(sums))
