"""Find anything by any of its numbers and names, from one line of text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.found import Found, described
from invdb.records.buying import Enquiry, Loan, PurchaseOrder
from invdb.records.catalogue import Part
from invdb.records.searching import Hit, fitting, fitting_but_for_a_slip
from invdb.records.stock import Batch, Piece, Pull
from invdb.records.work import WorkOrder
from invdb.rules.finding import QUERY_WORDS_MAX, TEXT_LENGTH_MAX, readings
from invdb.rules.numbering import NumberKind, NumberReading, Verdict, format_number, read_number

__all__ = ["FOUND_MAX", "FindResult", "Found", "find"]

FOUND_MAX = 50


@dataclass(frozen=True)
class FindResult:
    """What was found, best first; ``more`` if there is more than that.

    ``remark`` is empty or a plain sentence or two: that a slip was undone, that a number is mistyped or not
    known here, that not all of the text was looked for.
    """

    found: tuple[Found, ...]
    more: bool
    remark: str


def find(session: Session, text: str, limit: int = FOUND_MAX) -> FindResult:
    """The first records, at most ``limit``, that have every word of the text, whole or as a beginning.

    Case, accents, hyphens, spaces, leading zeros and the order of words do not matter. If nothing fits,
    records that fit when one typing slip is undone.
    """
    queries = readings(text)
    connection = session.connection()
    hits: list[Hit] = []
    cut = slip = False
    for query in queries:
        hits, cut = fitting(connection, query, limit + 1), query.cut
        if hits:
            break
    else:
        slip = bool(queries)
        hits = fitting_but_for_a_slip(connection, queries[0], limit + 1) if slip else []
    reading = read_number(text)
    named = _named(session, reading)
    if named is not None:
        # What is the same but for its zeros comes after the one number that was typed or scanned.
        hits = [named, *(hit for hit in hits if (hit.kind, hit.ref) != (named.kind, named.ref))]
    found = tuple(described(connection, hits[:limit], slip))
    return FindResult(found, len(hits) > limit, _remark(text, reading, found, cut=cut))


def _named(session: Session, reading: NumberReading) -> Hit | None:
    """The one record that has just this number of ours, its check character typed or left off."""
    unchecked = reading.verdict is Verdict.MISTYPED and not reading.check
    if reading.kind is None or not (reading.verdict is Verdict.RIGHT or unchecked):
        return None
    kind, ref, number = _OWN_NUMBERS[reading.kind]
    named = session.scalar(select(ref).where(number == format_number(reading.prefix, reading.sequence)))
    return None if named is None else Hit(kind, named, "")


def _remark(text: str, reading: NumberReading, found: Sequence[Found], *, cut: bool) -> str:
    remarks = []
    if cut:
        remarks.append(
            f"Only the first {QUERY_WORDS_MAX} words and {TEXT_LENGTH_MAX} characters were looked for."
        )
    slip = any(each.slip for each in found)
    if not any(each.exact and _plain(text) in _plain(f"{each.headline} {each.detail}") for each in found):
        if reading.verdict is Verdict.MISTYPED and reading.check:
            perhaps = f" Perhaps {' or '.join(reading.perhaps)} was meant." if reading.perhaps else ""
            remarks.append(
                f"If {reading.number} should be one of our numbers, it is mistyped:"
                f" its check character does not fit the rest.{perhaps}"
            )
        elif reading.verdict is Verdict.RIGHT:
            remarks.append(f"{reading.number} is a rightly typed number, but nothing here has it.")
    if slip:
        remarks.append("Nothing fits as typed; this fits but for one slip.")
    return " ".join(remarks)


def _plain(text: str) -> str:
    return "".join(character for character in text.casefold() if character.isalnum())


_OWN_NUMBERS = {
    NumberKind.HOUSE: ("part", Part.id, Part.house_number),
    NumberKind.PIECE: ("piece", Piece.id, Piece.tag),
    NumberKind.BATCH: ("batch", Batch.id, Batch.tag),
    NumberKind.PULL: ("pull", Pull.id, Pull.number),
    NumberKind.WORK: ("work_order", WorkOrder.id, WorkOrder.number),
    NumberKind.ENQUIRY: ("enquiry", Enquiry.id, Enquiry.number),
    NumberKind.ORDER: ("purchase_order", PurchaseOrder.id, PurchaseOrder.number),
    NumberKind.LOAN: ("loan", Loan.id, Loan.number),
}
