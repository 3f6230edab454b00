"""Fields and words that the forms of enquiries, quotes, orders and loans share."""

from __future__ import annotations

import re
from typing import Any

from gui.shown import Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views.searches import search_for
from invdb.acts.trading import traded_part
from invdb.rules.money import exponent_of, read_currency, read_money
from invdb.rules.quantities import read_quantity
from invdb.terms import FieldRefused

DAYS_IN = {"d": 1, "day": 1, "days": 1, "w": 7, "week": 7, "weeks": 7, "month": 30, "months": 30}
_SPAN = re.compile(r"(\d{1,5})\s*([a-z]*)")


def firm_field(sitting: Sitting, word: str, *, start: Hit | None = None, hint: str = "") -> Field:
    """A firm, found by its name or town."""
    return Field("firm", word, FieldKind.FIND, needed=True, start=start,
                 find=search_for(sitting, ("firm",)), hint=hint)  # fmt: skip


def part_field(sitting: Sitting, word: str = "Part", *, start: Hit | None = None) -> Field:
    """A part, found by any of its numbers or its name."""
    return Field("part", word, FieldKind.FIND, needed=True, start=start,
                 find=search_for(sitting, ("part",)), hint="By any of its numbers or its name")  # fmt: skip


def currency_field(start: str) -> Field:
    """The currency of all prices of a form, by its three letters."""

    def check(written: str, _values: Values) -> None:
        if written:
            read_currency(written)

    return Field("currency", "Currency", needed=True, start=start, check=check,
                 hint="Its code of three letters, such as GBP; currencies are never added up")  # fmt: skip


def check_price(written: str, values: Values) -> None:
    """That a price can be read in the form's currency, if that is given by now; a comma is asked of later."""
    currency = (values.get("currency") or "").strip().upper()
    if written and currency:
        exponent_of(currency)
        read_money(written, currency, sure=True)


def quantity_of(session: Any, part: int, written: str) -> int:
    """The quantity that was typed, in the smallest unit of how the part is measured."""
    return read_quantity(written, traded_part(session, part).measure)


def days_of(written: str) -> int | None:
    """``20 weeks`` or ``140 days`` in days; None where nothing was typed. A month counts 30 days."""
    typed = written.strip().lower()
    if not typed:
        return None
    match = _SPAN.fullmatch(typed)
    if match is None or match.group(2) not in DAYS_IN:
        raise FieldRefused(
            "lead_days", f"{written.strip()!r} is no length of time.", "Type it like 20 weeks, or 140 days."
        )
    return int(match.group(1)) * DAYS_IN[match.group(2)]


def check_days(written: str, _values: Values) -> None:
    """That a length of time can be read."""
    days_of(written)
