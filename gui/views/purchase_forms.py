"""Order parts of a firm, close a line short, and give our old piece for an exchange."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, remark_field
from gui.views.form_plan import FormPlan, fields_renamed
from gui.views.searches import search_for
from gui.views.trade_fields import check_price, currency_field, firm_field, part_field, quantity_of
from gui.views.withdraw_form import withdraw_form
from gui.views.work_words import Hazards, hazards_said
from invdb.acts.enquiry_list import QuoteFacts, quotes
from invdb.acts.exchange import GivenInExchange, give_in_exchange
from invdb.acts.purchase_list import OrderFacts, OrderLineFacts
from invdb.acts.purchase_order import NewOrder, NewOrderLine, OrderMade, close_order_line, place_order
from invdb.acts.things import ThingState
from invdb.rules.money import money_words, price_of, price_words, read_currency, read_money
from invdb.rules.quantities import quantity_words, read_quantity
from invdb.terms import FieldRefused, OrderKind

BOUGHT = (Choice(OrderKind.BUY, "buy"), Choice(OrderKind.MAKE, "have made"))
FOLLOWS = "No more of it is awaited from that day on."


def order_form(
    sitting: Sitting, currency: str, asked: Sequence[tuple[Hit, str]] = (), firm: Hit | None = None
) -> FormPlan:
    """The form to order parts of a firm; where no price is typed, that of its quote if one stands."""

    def act(job: Job, values: dict[str, Any]) -> OrderMade:
        sure, code = bool(values.get("sure")), read_currency(values["currency"])
        renamed = fields_renamed(quantity="lines", price="lines", quote="lines", part="lines")
        with renamed, sitting.store.writing() as session:
            lines = tuple(
                _line(session, values["firm"], code, values["kind"], row, sure) for row in values["lines"]
            )
            order = NewOrder(
                values["firm"],
                code,
                lines,
                values["kind"],
                values["due_on"],
                values["reference"],
                values["note"],
                sure,
            )
            made = place_order(session, order, sitting.by(values["happened_on"]))
            job.commit_begins()
        return made

    return FormPlan(
        title="Order of a firm",
        fields=(
            firm_field(sitting, "Firm", start=firm),
            Field("kind", "To", FieldKind.CHOICE, needed=True, start=OrderKind.BUY, choices=BOUGHT),
            currency_field(currency),
            Field("lines", "Parts", FieldKind.ROWS, needed=True,
                  start=tuple({"part": hit, "quantity": much, "price": "", "wanted": ""}
                              for hit, much in asked),
                  columns=(
                      Field("part", "Part", FieldKind.FIND, needed=True, find=search_for(sitting, ("part",))),
                      Field("quantity", "How many", FieldKind.QUANTITY, needed=True,
                            hint="12, or 1.5 m, or 350 g"),
                      Field("price", "Price of one", check=check_price,
                            hint="Empty: by the firm's quote, if one stands"),
                      Field("wanted", "To be known of it"),
                  )),
            Field("due_on", "Due", FieldKind.DATE, hint="Empty: as its slowest quote says"),
            Field("reference", "Firm's reference"),
            Field("note", "Besides", FieldKind.LINES, hint="Stands on the order"),
            day_field(sitting, "Ordered on"),
        ),
        act=act,
        told=_placed,
        save_word="Order",
    )  # fmt: skip


def _line(session: Any, firm: int, currency: str, kind: OrderKind, row: Values, sure: bool) -> NewOrderLine:
    part = row["part"]
    quantity = quantity_of(session, part, row["quantity"])
    if row["price"]:
        price = read_money(row["price"], currency, sure=sure).minor
        return NewOrderLine(part, quantity, price, wanted=row["wanted"])
    standing = [
        each
        for each in quotes(session, parts=(part,), firm=firm)
        if each.currency == currency and each.kind is kind
    ]
    return NewOrderLine(part, quantity, quote=standing[0].quote if standing else None, wanted=row["wanted"])


def order_by_quote_form(sitting: Sitting, quote: QuoteFacts) -> FormPlan:
    """The form to order by one quote: how many, and what they cost."""
    exchange = quote.kind is OrderKind.EXCHANGE

    def quantity(values: Values) -> int:
        return 1 if exchange else read_quantity(values["quantity"], quote.measure)

    def check(written: str, _values: Values) -> None:
        if written:
            read_quantity(written, quote.measure)

    def act(job: Job, values: dict[str, Any]) -> OrderMade:
        line = NewOrderLine(
            quote.part, quantity(values), quote=quote.quote, wanted=values["wanted"],
            given_piece=values.get("given"),
        )  # fmt: skip
        order = NewOrder(
            quote.firm,
            quote.currency,
            (line,),
            quote.kind,
            values["due_on"],
            quote.reference,
            values["note"],
            bool(values.get("sure")),
        )
        with fields_renamed(given_piece="given"), sitting.store.writing() as session:
            made = place_order(session, order, sitting.by(values["happened_on"]))
            job.commit_begins()
        return made

    def said(values: Values) -> str:
        try:
            much = quantity(values)
        except FieldRefused:
            return f"The firm sells no fewer than {quantity_words(quote.minimum, quote.measure)}."
        price = quote.price(much)
        whole = price_of(price, much, quote.measure)
        return f"{price_words(price, quote.measure)}, {money_words(whole)} in all."

    much = Field("quantity", "How many", FieldKind.QUANTITY, needed=True, check=check,
                 start=_figure(quote), hint="12, or 1.5 m, or 350 g")  # fmt: skip
    given = Field("given", "Our piece", FieldKind.FIND, needed=True, find=search_for(sitting, ("piece",)),
                  hint="What the firm gets for it, by its tag")  # fmt: skip
    return FormPlan(
        title=f"Order {quote.part_number} {quote.part_name} of {quote.firm_name}",
        fields=(
            given if exchange else much,
            Field("wanted", "To be known of it"),
            Field("due_on", "Due", FieldKind.DATE, hint="Empty: as the quote says"),
            Field("note", "Besides", FieldKind.LINES, hint="Stands on the order"),
            day_field(sitting, "Ordered on"),
        ),
        act=act,
        told=_placed,
        save_word="Order",
        said=said,
    )


def exchange_form(sitting: Sitting, currency: str) -> FormPlan:
    """The form to order a piece for which the firm gets one of ours."""

    def act(job: Job, values: dict[str, Any]) -> OrderMade:
        sure, code = bool(values.get("sure")), read_currency(values["currency"])
        price = read_money(values["price"], code, sure=sure).minor if values["price"] else None
        line = NewOrderLine(values["part"], 1, price, wanted=values["wanted"], given_piece=values["given"])
        order = NewOrder(
            values["firm"], code, (line,), OrderKind.EXCHANGE, values["due_on"], values["reference"],
            values["note"], sure,
        )  # fmt: skip
        with fields_renamed(given_piece="given"), sitting.store.writing() as session:
            made = place_order(session, order, sitting.by(values["happened_on"]))
            job.commit_begins()
        return made

    return FormPlan(
        title="Exchange: our old piece for theirs",
        fields=(
            firm_field(sitting, "Firm"),
            part_field(sitting, "We get"),
            Field("given", "They get", FieldKind.FIND, needed=True, find=search_for(sitting, ("piece",)),
                  hint="Our piece, by its tag; it goes when you say so on the order"),
            currency_field(currency),
            Field("price", "Price", check=check_price, hint="What is paid besides, if anything"),
            Field("wanted", "To be known of it"),
            Field("due_on", "Due", FieldKind.DATE),
            Field("reference", "Firm's reference"),
            Field("note", "Besides", FieldKind.LINES, hint="Stands on the order"),
            day_field(sitting, "Ordered on"),
        ),
        act=act,
        told=_placed,
        save_word="Order",
    )  # fmt: skip


def close_line_form(sitting: Sitting, order: OrderFacts, line: OrderLineFacts) -> FormPlan:
    """The form to say that no more of a line will come, and why."""
    return withdraw_form(
        sitting,
        f"what is still to come of {line.part_number} on order {order.number}",
        lambda session, because, by: close_order_line(session, line.order_line, because, by),
        FOLLOWS,
    )


def give_form(
    sitting: Sitting, order: OrderFacts, line: OrderLineFacts, piece: ThingState, hazards: Hazards
) -> FormPlan:
    """The form to give the firm our piece."""

    def act(job: Job, values: dict[str, Any]) -> int:
        given = GivenInExchange(line.order_line, bool(values.get("sure")))
        with sitting.store.writing() as session:
            entry = give_in_exchange(session, given, sitting.by(values["happened_on"], values["note"]))
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Give {line.given_tag} to {order.firm_name} for order {order.number}",
        fields=(remark_field(), day_field(sitting, "Went on")),
        act=act,
        told=lambda entry: f"{line.given_tag} has gone to {order.firm_name} (entry {entry}).",
        save_word="It has gone",
        said=lambda _values: (
            hazards_said([piece], {piece.part: hazards}, "Whoever gets it must be told.")
            or "It leaves for good, and its record with it."
        ),
    )


def _placed(made: OrderMade) -> str:
    return f"Order {made.number} stands; save its sheet to send it."


def _figure(quote: QuoteFacts) -> str:
    return quantity_words(quote.minimum, quote.measure).removesuffix(" off")
