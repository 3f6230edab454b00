"""Lend a piece of ours, get it back, borrow a lender's, and give that back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, remark_field
from gui.views.form_plan import FormPlan, fields_renamed
from gui.views.place_fields import place_field
from gui.views.searches import search_for
from gui.views.trade_fields import part_field
from gui.views.work_words import Hazards, hazards_said, place_choices
from invdb.acts.goods_in import GoodsIn, NewPiece
from invdb.acts.loan import (
    BackFromLoan,
    Borrowed,
    Borrowing,
    LoanMade,
    NewLoan,
    borrow,
    get_back,
    give_back,
    lend,
)
from invdb.acts.loan_list import LoanFacts
from invdb.acts.offers import OwnerOffer, PlaceOffer
from invdb.acts.things import ThingState
from invdb.rules.life import read_prior
from invdb.terms import Origin

ORIGINS = tuple(Choice(origin, str(origin)) for origin in Origin if origin is not Origin.MADE_HERE)
RAN = "What it ran"


def lend_form(sitting: Sitting, firms: Sequence[PlaceOffer]) -> FormPlan:
    """The form to lend a piece of ours to one of the firms, by their places."""

    def act(job: Job, values: dict[str, Any]) -> LoanMade:
        loan = NewLoan(
            values["piece"],
            values["place"],
            values["back_by"],
            values["terms"],
            values["document"],
            bool(values.get("sure")),
        )
        with sitting.store.writing() as session:
            made = lend(session, loan, sitting.by(values["happened_on"], values["note"]))
            job.commit_begins()
        return made

    return FormPlan(
        title="Lend a piece of ours",
        fields=(
            Field("piece", "Piece", FieldKind.FIND, needed=True, find=search_for(sitting, ("piece",)),
                  hint="By its tag or serial"),
            Field("place", "To", FieldKind.CHOICE, needed=True, choices=place_choices(firms)),
            Field("back_by", "Back by", FieldKind.DATE, needed=True, hint="Overdue from the day after"),
            Field("terms", "On what terms", FieldKind.LINES),
            Field("document", "The agreement", FieldKind.FIND, find=search_for(sitting, ("document",))),
            remark_field(),
            day_field(sitting, "Lent on"),
        ),
        act=act,
        told=lambda made: f"Loan {made.number} stands.",
        save_word="Lend it",
    )  # fmt: skip


def borrow_form(sitting: Sitting, owners: Sequence[OwnerOffer]) -> FormPlan:
    """The form to book in a piece that one of the owners lends us."""

    def act(job: Job, values: dict[str, Any]) -> Borrowed:
        hours, starts = values["prior_hours"], values["prior_starts"]
        goods = GoodsIn(
            values["origin"],
            values["place"],
            part=values["part"],
            pieces=(
                NewPiece(
                    values["serial"] or None,
                    read_prior(hours, "prior_hours") if hours else None,
                    read_prior(starts, "prior_starts", 1) if starts else None,
                ),
            ),
            owner=values["owner"],
            note=values["note"],
        )
        borrowing = Borrowing(goods, values["back_by"], values["firm"], values["terms"], values["document"])
        with sitting.store.writing() as session:
            made = borrow(session, borrowing, sitting.by(values["happened_on"]))
            job.commit_begins()
        return made

    return FormPlan(
        title="Borrow a piece",
        fields=(
            part_field(sitting),
            Field("serial", "Serial", hint="The maker's; empty if it has none"),
            Field("owner", "Whose it is", FieldKind.CHOICE, needed=True,
                  choices=tuple(Choice(each.id, each.name) for each in owners if not each.is_workshop)),
            Field("firm", "Lent through", FieldKind.FIND, find=search_for(sitting, ("firm",)),
                  hint="Empty if the owner is a firm itself"),
            Field("back_by", "Back by", FieldKind.DATE, needed=True, hint="Overdue from the day after"),
            Field("terms", "On what terms", FieldKind.LINES),
            Field("document", "The agreement", FieldKind.FIND, find=search_for(sitting, ("document",))),
            Field("origin", "Origin", FieldKind.CHOICE, needed=True, section=RAN, choices=ORIGINS),
            Field("prior_hours", "Hours before", FieldKind.QUANTITY, section=RAN,
                  unit="120, 100 to 140, at least 300", check=_check("prior_hours", 100)),
            Field("prior_starts", "Starts before", FieldKind.QUANTITY, section=RAN,
                  unit="40, 30 to 50, at least 20", check=_check("prior_starts", 1)),
            place_field(sitting, "place", "Bin", section="Where", needed=True,
                        hint="Goods in or Quarantine until it is accepted"),
            remark_field(),
            day_field(sitting, "Came on"),
        ),
        act=act,
        told=lambda made: (
            f"Loan {made.number} stands: {made.received.things[0][1]} is uninspected until it is accepted."
        ),
        save_word="Book it in",
    )  # fmt: skip


def get_back_form(sitting: Sitting, loan: LoanFacts) -> FormPlan:
    """The form to book back a piece of ours, with what it ran there."""

    def act(job: Job, values: dict[str, Any]) -> int:
        back = BackFromLoan(
            loan.loan,
            values["place"],
            read_prior(values["hours"], "hours"),
            read_prior(values["starts"], "starts", 1),
            values["note"],
        )
        with fields_renamed(to_place="place"), sitting.store.writing() as session:
            entry = get_back(session, back, sitting.by(values["happened_on"]))
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"{loan.tag} is back from {loan.firm_name}",
        fields=(
            Field("hours", "Hours it ran there", FieldKind.QUANTITY, needed=True, section=RAN,
                  unit="0, 12.5, 10 to 20, unknown", check=_check("hours", 100)),
            Field("starts", "Starts there", FieldKind.QUANTITY, needed=True, section=RAN,
                  unit="0, 14, 10 to 20, unknown", check=_check("starts", 1)),
            place_field(sitting, "place", "Goes to", section="Where", needed=True),
            Field("note", "What they say of it", FieldKind.LINES, section="Where"),
            day_field(sitting, "Came back on"),
        ),
        act=act,
        told=lambda entry: f"{loan.tag} is back, uninspected until accepted (entry {entry}).",
        save_word="Book it back",
        said=lambda _values: "What it ran there is added to its life.",
    )  # fmt: skip


def give_back_form(sitting: Sitting, loan: LoanFacts, piece: ThingState, hazards: Hazards) -> FormPlan:
    """The form to give a lender's piece back."""

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            by = sitting.by(values["happened_on"], values["note"])
            entry = give_back(session, loan.loan, by, hazards_seen=bool(values.get("sure")))
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Give {loan.tag} back to {loan.firm_name}",
        fields=(remark_field(), day_field(sitting, "Went on")),
        act=act,
        told=lambda entry: f"{loan.tag} has gone back (entry {entry}).",
        save_word="It has gone",
        said=lambda _values: hazards_said([piece], {piece.part: hazards}, "Whoever gets it must be told."),
    )


def _check(name: str, parts: int) -> Any:
    def check(written: str, _values: Values) -> None:
        if written:
            read_prior(written, name, parts)

    return check
