"""What can be done about a part that runs short: buy, have made, recondition, rob an engine in store."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from invdb.acts.enquiry_list import QuoteFacts, quotes
from invdb.acts.firm_times import SupplierTimes
from invdb.acts.short_cases import ShortCase, ShortCases
from invdb.records.builds import Presumption
from invdb.records.engines import Engine
from invdb.records.life import Service
from invdb.records.stock import Batch, Holding, Piece, Place
from invdb.rules.counts import Counts, smallest_within
from invdb.rules.lead_time import DAYS_A_MONTH, LeadPrior, LeadRecord, lead_time
from invdb.rules.money import Money, money_words, price_at, price_of, price_words
from invdb.rules.pooled import Pool, pooled_shortages
from invdb.rules.quantities import quantity_words
from invdb.rules.short_facts import Advice, ShortAction
from invdb.rules.shortage import smallest_batch
from invdb.rules.supply import FREE_MAX
from invdb.rules.told import counted
from invdb.terms import Condition, OrderKind, Scope

# A firm is reckoned to be on time if it is by then with this chance.
ON_TIME = 0.8
_ACTIONS = {
    OrderKind.BUY: ShortAction.BUY,
    OrderKind.EXCHANGE: ShortAction.BUY,
    OrderKind.MAKE: ShortAction.MAKE,
}


@dataclass(frozen=True)
class InStore:
    """That an engine in store holds so much of a part, or is presumed to, since nobody has looked."""

    engine: str
    quantity: int
    presumed: bool = False


class WaysOut:
    """What firms have quoted and what engines in store hold, read once for all parts."""

    def __init__(self, session: Session, cases: ShortCases) -> None:
        self._cases = cases
        self.quotes: dict[int, list[QuoteFacts]] = defaultdict(list)
        for quote in quotes(session):
            self.quotes[quote.part].append(quote)
        self._in_store = _in_store(session)

    def of(self, case: ShortCase, pool: Pool, place: int, chance: float, need: Counts) -> tuple[Advice, ...]:
        """The ways out for a case at a place of its pool, by its greatest P(short); none if not watched.

        ``need`` is its need by the end of the horizon.
        """
        settings = self._cases.settings
        if chance * 100 <= settings.watch_percent:
            return ()
        found: list[Advice] = []
        if chance * 100 > settings.short_percent:
            found += self._to_get(case, pool, place, need)
        return (*found, *self._to_hand(case))

    def _to_get(self, case: ShortCase, pool: Pool, place: int, need: Counts) -> Iterator[Advice]:
        """The cheapest quote of each kind and currency, each with the smallest batch that helps enough."""
        offered = self.quotes.get(case.plan.part.id, ())
        batches: dict[int, int] = {}
        best: dict[tuple[ShortAction, str], tuple[int, Advice]] = {}
        for quote in offered:
            arrives = arrival_month(quote, self._cases.suppliers)
            # What comes after all that is looked at is at least enough for what is.
            month = min(arrives, self._cases.horizon)
            if month not in batches:
                batches[month] = self._batch(case, pool, place, month, need)
            wanted = batches[month] * case.unit
            quantity = max(wanted, quote.minimum, quote.prices[0][0])
            price = price_at(quote.prices, quantity)
            if not wanted or price is None:
                continue
            action = _ACTIONS[quote.kind]
            cost = price_of(Money(price, quote.currency), quantity, quote.measure)
            advice = Advice(action, quantity, _quote_words(quote, price, cost, wanted, quantity, arrives))
            if arrives > self._cases.horizon:
                advice = replace(advice, words=f"{advice.words}, after all that is looked at here")
            known = best.get((action, quote.currency))
            if known is None or cost.minor < known[0]:
                best[action, quote.currency] = (cost.minor, advice)
        yield from (advice for _, advice in best.values())
        if not offered:
            days = self._cases.settings.lead_days
            month = min(ceil(days / DAYS_A_MONTH), self._cases.horizon)
            wanted = self._batch(case, pool, place, month, need) * case.unit
            if wanted:
                words = f"no quote stands: ask firms; reckoned with {counted(days, 'day', 'days')} to come"
                yield Advice(ShortAction.BUY, wanted, words)

    def _to_hand(self, case: ShortCase) -> Iterator[Advice]:
        plan = case.plan
        waiting = [each for each in plan.stock.coming if each.wait_days and each.good is not None]
        for each in waiting:
            assert each.good is not None
            words = (
                "unserviceable here: send now; the figures reckon with it,"
                f" {each.good.mean * 100:.0f} % to come back good"
            )
            yield Advice(ShortAction.RECONDITION, each.count, words)
        for held in self._in_store.get(plan.part.id, ()):
            holds = "is presumed to hold, unidentified," if held.presumed else "holds"
            words = f"{held.engine}, in store, {holds} {quantity_words(held.quantity, plan.part.measure)}"
            yield Advice(ShortAction.ROB, held.quantity, words)

    def _batch(self, case: ShortCase, pool: Pool, place: int, month: int, need: Counts) -> int:
        """The fewest lots that bring P(short) under the threshold from a month on."""
        target = self._cases.settings.short_percent / 100
        horizon = self._cases.horizon
        if len(pool.cases) == 1 and case.case.supply.is_certain:
            # Need only grows, so what is enough at the end is enough before.
            return max(int(smallest_within(need, 1 - target)) - case.case.supply.free, 0)
        if len(pool.cases) == 1:
            return smallest_batch(case.case, horizon, target, month) or 0
        return _smallest_pooled(pool, place, horizon, target, month)


def arrival_month(quote: QuoteFacts, suppliers: SupplierTimes) -> int:
    """The month by whose end what is ordered now by a quote is here with a chance of ``ON_TIME``.

    By the firm's own record, for which the days that the quote states stand in the beginning.
    """
    record = suppliers.of(quote.firm)
    time = record.time
    if quote.lead_days is not None and not record.taken and not record.out:
        time = lead_time(LeadRecord(LeadPrior(quote.lead_days)))
    return ceil(time.days_until(ON_TIME) / DAYS_A_MONTH)


def _smallest_pooled(pool: Pool, place: int, horizon: int, target: float, month: int) -> int:
    """The same as ``smallest_batch`` with the stock of the whole pool: by halving, as more is never worse."""

    def short_with(more: int) -> bool:
        case = pool.cases[place]
        supply = replace(case.supply, free=min(case.supply.free + more, FREE_MAX))
        cases = (*pool.cases[:place], replace(case, supply=supply), *pool.cases[place + 1 :])
        (found,) = pooled_shortages([replace(pool, cases=cases)], horizon)
        return bool((found.shortages[place].chance[month:] > target).any())

    if not short_with(0):
        return 0
    few, many = 0, 1
    while short_with(many):
        few, many = many, 2 * many
    while many - few > 1:
        middle = (few + many) // 2
        few, many = (middle, many) if short_with(middle) else (few, middle)
    return many


def _quote_words(quote: QuoteFacts, price: int, cost: Money, wanted: int, quantity: int, month: int) -> str:
    words = f"{quote.firm_name}, at {price_words(Money(price, quote.currency), quote.measure)}"
    words += f": {money_words(cost)}"
    if quantity > wanted:
        fewest, enough = (quantity_words(each, quote.measure) for each in (quantity, wanted))
        verb = "makes" if quote.kind is OrderKind.MAKE else "sells"
        words += f"; it {verb} no fewer than {fewest}, {enough} would do"
    if quote.kind is OrderKind.EXCHANGE:
        words += "; in exchange for our old ones"
    return f"{words}; here in {counted(month, 'month', 'months')}"


def _in_store(session: Session) -> Mapping[int, Sequence[InStore]]:
    """What the engines in store hold, by part; nothing that cannot be saved."""
    found: dict[int, list[InStore]] = defaultdict(list)
    pieces = (
        select(Piece.part_id, Engine.name, func.count())
        .join(Service, Service.piece_id == Piece.id)
        .join(Engine, Engine.id == Service.engine_id)
        .where(
            Service.to_entry.is_(None),
            Engine.use == Scope.DISPLAY,
            Piece.condition != Condition.UNSALVAGEABLE,
        )
        .group_by(Piece.part_id, Engine.name)
        .order_by(Engine.name)
    )
    batches = (
        select(Batch.part_id, Engine.name, func.sum(Holding.quantity))
        .join(Holding, Holding.batch_id == Batch.id)
        .join(Place, Place.id == Holding.place_id)
        .join(Engine, Engine.id == Place.engine_id)
        .where(
            Holding.quantity > 0,
            Engine.use == Scope.DISPLAY,
            Batch.condition != Condition.UNSALVAGEABLE,
        )
        .group_by(Batch.part_id, Engine.name)
        .order_by(Engine.name)
    )
    presumed = (
        select(Presumption.part_id, Engine.name, func.sum(Presumption.quantity))
        .join(Engine, Engine.id == Presumption.engine_id)
        .where(Presumption.ended_on.is_(None), Engine.use == Scope.DISPLAY)
        .group_by(Presumption.part_id, Engine.name)
        .order_by(Engine.name)
    )
    for statement in (pieces, batches, presumed):
        for part, engine, quantity in session.execute(statement):
            found[part].append(InStore(engine, int(quantity), statement is presumed))
    return found
