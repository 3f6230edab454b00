"""What was planned, believed, asked for, quoted, ordered, exchanged and lent, told in one sentence without
a full stop.
"""

from __future__ import annotations

from invdb.rules.folding import Fact, RecordKey
from invdb.rules.money import Money, money_words, price_words
from invdb.rules.quantities import quantity_words
from invdb.rules.told import Told, counted, listed
from invdb.terms import EntryKind, LineKind, LoanWay, Measure, OrderKind

BUYING_KINDS = frozenset(
    {
        EntryKind.PLANNED,
        EntryKind.BELIEVED,
        EntryKind.ENQUIRY,
        EntryKind.QUOTED,
        EntryKind.ORDERED,
        EntryKind.ORDER_CLOSED,
        EntryKind.EXCHANGED,
        EntryKind.LENT,
        EntryKind.LOAN_ENDED,
        EntryKind.COSTED,
    }
)


def tell_buying(told: Told, about: RecordKey | None = None) -> str:
    """The sentence of an entry about buying; told about a piece, its tag is left out."""
    sentence = ""
    match told.kind:
        case EntryKind.PLANNED:
            sentence = _planned(told)
        case EntryKind.BELIEVED:
            sentence = _believed(told)
        case EntryKind.ENQUIRY:
            sentence = _enquiry(told)
        case EntryKind.QUOTED:
            sentence = _quoted(told)
        case EntryKind.ORDERED:
            sentence = _ordered(told)
        case EntryKind.ORDER_CLOSED:
            sentence = _order_closed(told)
        case EntryKind.EXCHANGED:
            sentence = _exchanged(told, about)
        case EntryKind.LENT:
            sentence = _lent(told, about)
        case EntryKind.LOAN_ENDED:
            sentence = _loan_ended(told, about)
        case EntryKind.COSTED:
            sentence = _costed(told)
    return sentence or str(told.kind).capitalize()


def order_told(told: Told) -> str:
    """`` on order D00003-M`` of goods in that came against one; '' for others."""
    lines = dict.fromkeys(
        told.name("order_line", fact.values["order_line_id"]) for fact in told.facts_of("delivery")
    )
    return f" on {listed(list(lines))}" if lines else ""


def _planned(told: Told) -> str:
    overhauls = told.facts_of("planned_overhaul")
    if overhauls:
        fact = overhauls[0]
        engine = told.name("planned_overhaul", fact.record_id)
        if fact.values.get("withdrawn_on"):
            return f"Withdrew the planned overhaul of {engine}"
        if fact.values.get("done_on"):
            return f"Recorded the planned overhaul of {engine} as done"
        on = fact.values.get("planned_on")
        return f"Planned to open {engine}{f' about {on}' if on else ''}"
    flying = told.facts_of("planned_flying")
    if flying:
        engines = dict.fromkeys(told.name("planned_flying", fact.record_id) for fact in flying)
        months = counted(told.fact_counts.get("planned_flying", len(flying)), "month", "months")
        return f"Planned the flying of {listed(list(engines))} for {months}"
    return ""


def _believed(told: Told) -> str:
    beliefs = told.facts_of("part_belief")
    if not beliefs:
        return ""
    fact = beliefs[0]
    family = told.name("part_belief", fact.record_id) if _has_family(told, fact) else "all other families"
    if fact.values.get("withdrawn_on"):
        return f"Withdrew what is believed of the parts of {family}"
    source = f", from {fact.values['source']}" if fact.values.get("source") else ""
    return f"Set what is believed of the parts of {family}{source}"


def _has_family(told: Told, fact: Fact) -> bool:
    return bool(told.names.get(("part_belief", fact.record_id)))


def _enquiry(told: Told) -> str:
    asked = told.facts_of("enquiry")
    firms = told.facts_of("enquiry_firm")
    if asked and asked[0].values.get("number"):
        names = [told.name("firm", fact.values["firm_id"]) for fact in firms]
        parts = [told.name("part", fact.values["part_id"]) for fact in told.facts_of("enquiry_line")]
        of = listed(names, told.fact_counts.get("enquiry_firm", 0))
        for_what = listed(parts, told.fact_counts.get("enquiry_line", 0))
        by = f", to answer by {asked[0].values['answer_by']}" if asked[0].values.get("answer_by") else ""
        return f"Asked {of} for {for_what} in enquiry {asked[0].values['number']}{by}"
    if asked:
        return f"Closed enquiry {told.name('enquiry', asked[0].record_id)}"
    if firms:
        return f"{told.name('enquiry_firm', firms[0].record_id)}: declined"
    return ""


def _quoted(told: Told) -> str:
    quotes = told.facts_of("quote")
    if not quotes:
        return ""
    fact = quotes[0]
    if fact.values.get("withdrawn_on") and "firm_id" not in fact.values:
        return f"Withdrew the quote of {told.name('quote', fact.record_id)}"
    steps = told.fact_counts.get("quote_price", 0)
    reference = f" ({fact.values['reference']})" if fact.values.get("reference") else ""
    prices = counted(steps, "price", "prices")
    whose = told.name("quote", fact.record_id)
    return f"Recorded the quote of {whose}{reference}, {prices} in {fact.values.get('currency')}"


def _ordered(told: Told) -> str:
    orders = told.facts_of("purchase_order")
    if not orders:
        return ""
    values = orders[0].values
    lines = told.facts_of("order_line")
    parts = [_ordered_line(told, fact, str(values["currency"])) for fact in lines]
    what = listed(parts, told.fact_counts.get("order_line", 0))
    way = {
        OrderKind.MAKE: "Ordered to be made by",
        OrderKind.EXCHANGE: "Ordered in exchange from",
    }.get(OrderKind(str(values["kind"])), "Ordered of")
    due = f", due {values['due_on']}" if values.get("due_on") else ""
    return f"{way} {told.name('firm', values['firm_id'])} on order {values['number']}: {what}{due}"


def _ordered_line(told: Told, fact: Fact, currency: str) -> str:
    part, quantity = int(str(fact.values["part_id"])), int(str(fact.values["quantity"]))
    measure = told.measures.get(("part", part), Measure.COUNT)
    price = fact.values.get("price")
    at = f" at {price_words(Money(int(str(price)), currency), measure)}" if price is not None else ""
    return f"{quantity_words(quantity, measure)} of {told.name('part', part)}{at}"


def _order_closed(told: Told) -> str:
    lines = told.facts_of("order_line")
    if not lines:
        return ""
    orders = dict.fromkeys(told.name("order_line", fact.record_id) for fact in lines)
    because = str(lines[0].values.get("closed_because") or "no reason given")
    return f"Closed a line of {listed(list(orders))}, of which no more comes: {because}"


def _exchanged(told: Told, about: RecordKey | None) -> str:
    lines = told.facts_of("order_line")
    if not lines:
        return ""
    return f"Gave{_tags(told, about)} in exchange on {told.name('order_line', lines[0].record_id)}"


def _tags(told: Told, about: RecordKey | None) -> str:
    """The things moved, with a space before them, unless it is told about one."""
    lines = told.lines_of(LineKind.MOVE, about)
    if about is not None or not lines:
        return ""
    return f" {told.handled(lines, told.line_counts.get(LineKind.MOVE, 0))}"


def _lent(told: Told, about: RecordKey | None) -> str:
    loans = told.facts_of("loan")
    if not loans:
        return ""
    values = loans[0].values
    firm = told.name("firm", values["firm_id"])
    rest = f"on loan {values['number']}, to be back by {values['back_by']}"
    if values["way"] == LoanWay.IN:
        lines = told.lines_of(LineKind.MOVE, about)
        into = f", into {told.name('place', lines[0].to_place)}" if lines else ""
        return f"Borrowed{_tags(told, about)} from {firm} {rest}{into}"
    return f"Lent{_tags(told, about)} to {firm} {rest}"


def _loan_ended(told: Told, about: RecordKey | None) -> str:
    loans = told.facts_of("loan")
    if not loans:
        return ""
    number = told.name("loan", loans[0].record_id)
    lines = told.lines_of(LineKind.MOVE, about)
    pieces = told.facts_of("piece")
    if not pieces:
        return f"Gave{_tags(told, about)} back to its lender, loan {number}"
    into = f", into {told.name('place', lines[0].to_place)}" if lines else ""
    tag = "" if about is not None else f" {told.name('piece', pieces[0].record_id)}"
    return f"Got{tag} back from loan {number}{into}"


def _costed(told: Told) -> str:
    costs = told.facts_of("cost")
    if not costs:
        return ""
    first = costs[0].values
    price = money_words(Money(int(str(first["price"])), str(first["currency"])))
    source = f", by {first['source']}" if first.get("source") else ""
    things = counted(told.fact_counts.get("cost", len(costs)), "thing", "things")
    return f"Recorded a cost of {price} for {things} in stock{source}"
