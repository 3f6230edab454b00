"""What is wrong with a field of the goods-in form, said as one leaves it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from gui.shown import Values
from gui.views.goods_in_offers import lines_of, measure_of, pieces_count
from invdb.rules.life import read_prior
from invdb.rules.money import Money, read_currency, read_money
from invdb.rules.quantities import read_quantity
from invdb.terms import FieldRefused, Measure, Origin, Refused

MONTHS_MAX = 1200


def pieces(written: str, _values: Values) -> None:
    """How many pieces: a whole number above zero."""
    read_quantity(written, Measure.COUNT)


def serials(written: str, values: Values) -> None:
    """No more serials than pieces, and none twice."""
    given, count = lines_of(written), pieces_count(values)
    if len(given) > count:
        raise Refused(f"{len(given)} serials are given for {count} pieces.", "Give one a line.")
    twice = sorted({serial for serial in given if given.count(serial) > 1})
    if twice:
        raise Refused(f"The serial {twice[0]} is given twice.", "Check the pieces in hand.")


def quantity(written: str, values: Values) -> None:
    """How much of a batch, in a unit of the part's own measure."""
    if written:
        read_quantity(written, measure_of(values))


def months(written: str, _values: Values) -> None:
    """A whole number of months, or nothing."""
    if written and not (written.isascii() and written.isdigit() and 0 < int(written) <= MONTHS_MAX):
        raise Refused(f"“{written}” is no number of months.", f"Give a whole number up to {MONTHS_MAX}.")


def hours(written: str, _values: Values) -> None:
    """Hours run before we had it, as exactly as they are known."""
    read_prior(written, "prior_hours")


def starts(written: str, _values: Values) -> None:
    """Starts before we had it, as exactly as they are known."""
    read_prior(written, "prior_starts", 1)


def life_limit(written: str, _values: Values) -> None:
    """A limit in hours, or nothing."""
    if written:
        limit_of(written)


def cost(written: str, _values: Values) -> None:
    """An amount with its currency, or nothing; a comma is asked about when it is booked in."""
    cost_of(written, sure=True)


def cost_of(written: str, sure: bool) -> Money | None:
    """What one cost, with its currency behind or before the figure; None where nothing was typed."""
    typed = written.strip()
    if not typed:
        return None
    code = next((each for each in (typed[-3:], typed[:3]) if each.isalpha()), "")
    if not code:
        raise FieldRefused("cost", f"{typed!r} has no currency.", "Type it behind, such as 12.50 GBP.")
    return read_money(typed, read_currency(code), field="cost", sure=sure)


def limit_of(written: str) -> int:
    """The limit in hundredths of an hour; Refused unless it is one figure above zero."""
    limit = read_prior(written, "life_limit_hours")
    if not limit.low or limit.low != limit.high:
        raise Refused(f"“{written}” is no limit.", "Give hours, such as 600.")
    return limit.low


def donor(written: str, values: Values) -> None:
    """A salvaged piece says which engine it came from."""
    if not written and values["origin"] is Origin.SALVAGED and values["donor_engine"] is None:
        raise Refused("It isn't said which engine it came from.", "Choose one above, or type what is known.")


def damage(written: str, values: Values) -> None:
    """Damage is not both seen and not seen."""
    if written and "damage" in values["checks"]:
        raise Refused("“No damage seen” is ticked above.", "Take the tick off, or empty this.")


def not_after(today: date) -> Callable[[date | None, Values], None]:
    """The check that nothing happens in the future."""

    def happened_on(day: date | None, _values: Values) -> None:
        if day is not None and day > today:
            raise Refused(f"{day.isoformat()} is in the future.", "Give the day on which it happened.")

    return happened_on
