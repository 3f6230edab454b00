"""What an enquiry asks one firm."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from invdb.rules.order_sheet import OrderedPart


@dataclass(frozen=True)
class EnquirySheet:
    """One enquiry as it goes to one of the firms asked; it names none of the others."""

    workshop: str
    printed_at: datetime
    number: str
    asked_on: date
    asked_by: str
    firm: str
    parts: tuple[OrderedPart, ...]
    town: str = ""
    answer_by: date | None = None
    wording: str = ""
