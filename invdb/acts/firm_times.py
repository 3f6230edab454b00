"""How long each firm takes to deliver and to send work back, from its own record, and how much comes good."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date
from statistics import median

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from invdb.records.buying import Delivery, OrderLine, PurchaseOrder, Quote
from invdb.records.people import Firm
from invdb.records.stock import Piece, Place
from invdb.records.work import WorkLine, WorkOrder
from invdb.rules.lead_time import LeadPrior, LeadRecord, LeadTime, lead_time
from invdb.rules.short_facts import ShortSettings
from invdb.terms import Condition


@dataclass
class FirmRecord:
    """What a firm has done so far: days that things took, days for which others are out, and what was good.

    ``time`` is what that says of its time; ``quoted`` its own usual days, None where it never said.
    """

    name: str
    usual_days: float
    quoted: bool = False
    taken: list[int] = field(default_factory=list)
    out: list[int] = field(default_factory=list)
    good: int = 0
    failed: int = 0
    _time: LeadTime | None = None

    @property
    def time(self) -> LeadTime:
        """What is known of its time; one and the same for all that is out with it."""
        if self._time is None:
            prior = LeadPrior(self.usual_days)
            self._time = lead_time(LeadRecord(prior, tuple(self.taken), tuple(self.out)))
        return self._time

    @property
    def words(self) -> str:
        """``Saltenham Valve Company: 3 deliveries, 84 days in the middle``."""
        if not self.taken:
            usual = "as quoted" if self.quoted else "as the shop has set it"
            return f"{self.name}: no record yet; {self.usual_days:g} days, {usual}"
        times = "once" if len(self.taken) == 1 else f"{len(self.taken)} times"
        return f"{self.name}: took {median(self.taken):g} days in the middle, {times} so far"


class SupplierTimes:
    """The record of every firm that was ordered of or quoted, by its id."""

    def __init__(self, session: Session, settings: ShortSettings, day: date) -> None:
        self._usual = settings.lead_days
        names = {firm: name for firm, name in session.execute(select(Firm.id, Firm.name))}
        quoted: dict[int, list[int]] = defaultdict(list)
        for firm, days in session.execute(
            select(Quote.firm_id, Quote.lead_days).where(Quote.lead_days.is_not(None))
        ):
            quoted[firm].append(days or 0)
        self._of = {
            firm: FirmRecord(
                name, float(median(quoted[firm])) if firm in quoted else float(self._usual), firm in quoted
            )
            for firm, name in names.items()
        }
        # What came of one order on one day came together: ten lines of it say no more than one.
        for _order, firm, ordered_on, delivered_on in session.execute(
            select(PurchaseOrder.id, PurchaseOrder.firm_id, PurchaseOrder.ordered_on, Delivery.delivered_on)
            .join(OrderLine, OrderLine.purchase_order_id == PurchaseOrder.id)
            .join(Delivery, Delivery.order_line_id == OrderLine.id)
            .distinct()
        ):
            self._of[firm].taken.append(max((delivered_on - ordered_on).days, 0))
        for _order, firm, ordered_on in session.execute(
            select(PurchaseOrder.id, PurchaseOrder.firm_id, PurchaseOrder.ordered_on)
            .join(OrderLine, OrderLine.purchase_order_id == PurchaseOrder.id)
            .where(OrderLine.closed_on.is_(None), OrderLine.quantity > OrderLine.received)
            .distinct()
        ):
            self._of[firm].out.append(max((day - ordered_on).days, 0))

    def of(self, firm: int) -> FirmRecord:
        """The record of a firm."""
        return self._of[firm]


class WorkTimes:
    """The record of every place where work is done, a firm's or our own bench, by the place; and of all.

    What came back was good unless it was scrapped there, came back unserviceable or unsalvageable, or is
    unsalvageable by now.
    """

    def __init__(self, session: Session, settings: ShortSettings, day: date) -> None:
        self._usual = float(settings.turn_round_days)
        self._of: dict[int, FirmRecord] = {}
        self.all = FirmRecord("all firms", self._usual)
        for row in session.execute(
            select(
                WorkOrder.place_id,
                func.coalesce(Firm.name, Place.name).label("name"),
                WorkOrder.sent_on,
                WorkLine.quantity,
                WorkLine.returned,
                WorkLine.scrapped,
                WorkLine.returned_on,
                WorkLine.condition,
                Piece.condition.label("now"),
            )
            .join(WorkLine, WorkLine.work_order_id == WorkOrder.id)
            .join(Place, Place.id == WorkOrder.place_id)
            .outerjoin(Firm, Firm.id == Place.firm_id)
            .outerjoin(Piece, Piece.id == WorkLine.piece_id)
            .order_by(WorkLine.id)
        ):
            own = self._of.setdefault(row.place_id, FirmRecord(row.name, self._usual))
            # Where some of a line was scrapped, its condition is of those.
            bad = row.scrapped
            if not bad and (row.condition in _BAD or row.now is Condition.UNSALVAGEABLE):
                bad = row.returned
            for record in (own, self.all):
                if row.returned_on is not None and row.returned:
                    record.taken.append(max((row.returned_on - row.sent_on).days, 0))
                if row.returned < row.quantity:
                    record.out.append(max((day - row.sent_on).days, 0))
                record.good += row.returned - bad
                record.failed += bad

    def of(self, place: int) -> FirmRecord:
        """The record of a place where work is done; one without any yet where nothing was sent there."""
        return self._of[place]


_BAD = frozenset({Condition.UNSERVICEABLE, Condition.UNSALVAGEABLE})
