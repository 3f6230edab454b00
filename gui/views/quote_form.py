"""Record what a firm offers a part for: to an enquiry, or by itself."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, ChosenFile, Field, FieldKind
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, remark_field
from gui.views.form_plan import FormPlan, fields_renamed
from gui.views.trade_fields import (
    check_days,
    check_price,
    currency_field,
    days_of,
    firm_field,
    part_field,
)
from gui.views.withdraw_form import withdraw_form
from invdb.acts.enquiry_list import EnquiryFacts, QuoteFacts, quotes
from invdb.acts.papers import NewPaper, read_content
from invdb.acts.purchase_list import purchase_orders
from invdb.acts.quote import NewQuote, add_quote, withdraw_quote
from invdb.acts.trading import traded_part
from invdb.rules.money import read_currency, read_money
from invdb.rules.quantities import read_quantity
from invdb.terms import OrderKind, PaperKind

KINDS = tuple(Choice(kind, str(kind)) for kind in OrderKind)
OFFER = "What it offers"


def usual_currency(session: Any) -> str:
    """The currency in which was quoted or ordered last; "" while nothing was."""
    standing = quotes(session)
    if standing:
        return max(standing, key=lambda each: each.quote).currency
    orders = purchase_orders(session, only_open=False)
    return max(orders, key=lambda each: each.order).currency if orders else ""


def quote_form(sitting: Sitting, job: Job, enquiry: EnquiryFacts | None = None) -> FormPlan:
    """The form for a quote to an enquiry, or for one by itself; to be called on a worker."""
    with sitting.reading(job) as session:
        currency = usual_currency(session)

    def act(job: Job, values: dict[str, Any]) -> int:
        sure = bool(values.get("sure"))
        code = read_currency(values["currency"])
        scan = _paper(values.get("scan") or (), values["reference"], job)
        renamed = fields_renamed(prices="prices", papers="scan", price="prices", quantity="prices")
        with renamed, sitting.store.writing() as session:
            part, line = values.get("part"), values.get("line")
            if enquiry is not None:
                part = next(each.part for each in enquiry.lines if each.enquiry_line == line)
            measure = traded_part(session, part or 0).measure
            prices = tuple(
                (
                    read_quantity(row["from_quantity"], measure) if row["from_quantity"] else 1,
                    read_money(row["price"], code, field="prices", sure=sure).minor,
                )
                for row in values["prices"]
            )
            least = read_quantity(values["minimum"], measure) if values["minimum"] else prices[0][0]
            quote = NewQuote(
                values["firm"],
                code,
                prices,
                part,
                line,
                values["kind"],
                least,
                days_of(values["lead_days"]),
                values["valid_until"],
                values["reference"],
                paper=scan,
                note=values["note"],
                sure=sure,
            )
            made = add_quote(session, quote, sitting.by(values["happened_on"]))
            job.commit_begins()
        return made

    return FormPlan(
        title=f"A quote to enquiry {enquiry.number}" if enquiry is not None else "A quote",
        fields=(
            *(_asked_fields(enquiry) if enquiry is not None else _free_fields(sitting)),
            Field("kind", "To", FieldKind.CHOICE, needed=True, start=OrderKind.BUY, choices=KINDS),
            currency_field(currency),
            Field("prices", "Prices", FieldKind.ROWS, needed=True, section=OFFER, columns=(
                Field("from_quantity", "From how many", FieldKind.QUANTITY,
                      hint="Empty in the first: from one on"),
                Field("price", "Price of one", needed=True, check=check_price,
                      hint="Of a piece, a metre or a kilogram"),
            ), hint="One price for each quantity from which it holds, the least quantity first"),
            Field("minimum", "No fewer than", FieldKind.QUANTITY, section=OFFER,
                  unit="empty: the first quantity above", hint="The fewest that the firm sells at all"),
            Field("lead_days", "In", FieldKind.QUANTITY, section=OFFER, unit="20 weeks, 140 days",
                  check=check_days, hint="Empty where the firm does not say"),
            Field("valid_until", "Stands until", FieldKind.DATE, section=OFFER),
            Field("reference", "Its reference", section="Its paper", hint="The firm's own number of it"),
            Field("scan", "Its scan", FieldKind.FILES, section="Its paper", kept=False,
                  choices=(Choice(PaperKind.STATEMENT, "quote"),)),
            remark_field(),
            day_field(sitting, "Quoted on"),
        ),
        act=act,
        told=lambda _made: "The quote stands: it can be ordered by, and the board reckons with it.",
        save_word="Record it",
        another=True,
    )  # fmt: skip


def withdraw_quote_form(sitting: Sitting, quote: QuoteFacts) -> FormPlan:
    """The form to say that a firm no longer stands by a quote, and why."""
    return withdraw_form(
        sitting,
        f"the quote of {quote.firm_name} of {quote.quoted_on.isoformat()} for {quote.part_number}",
        lambda session, because, by: withdraw_quote(session, quote.quote, because, by),
        "Nothing can be ordered by it from that day on; what was ordered stays.",
    )


def _asked_fields(enquiry: EnquiryFacts) -> tuple[Field, ...]:
    firms = [firm for firm in enquiry.firms if firm.declined_on is None]
    lines = enquiry.lines
    return (
        Field("firm", "Firm", FieldKind.CHOICE, needed=True,
              start=firms[0].firm if len(firms) == 1 else None,
              choices=tuple(Choice(firm.firm, firm.firm_name) for firm in firms)),
        Field("line", "For", FieldKind.CHOICE, needed=True,
              start=lines[0].enquiry_line if len(lines) == 1 else None,
              choices=tuple(Choice(line.enquiry_line, f"{line.part_number} {line.part_name}")
                            for line in lines)),
    )  # fmt: skip


def _free_fields(sitting: Sitting) -> tuple[Field, ...]:
    return firm_field(sitting, "Firm"), part_field(sitting, "For")


def _paper(files: Sequence[ChosenFile], reference: str, job: Job) -> NewPaper | None:
    if not files:
        return None
    job.stop_here()
    path = files[0].path
    return NewPaper(
        PaperKind.STATEMENT, reference or path.stem, "Quote", content=read_content(path), file_name=path.name
    )
