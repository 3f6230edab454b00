"""What the Bench view asks before it issues a part of a line, takes kit back, or cancels a pull."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field
from gui.views.form_plan import FormPlan
from gui.views.kit_sheet_pulls import PulledKit
from gui.views.place_fields import place_field
from invdb.acts.pick_list import PulledLine
from invdb.acts.pull import GiveBack, cancel, give_back, issue
from invdb.rules.quantities import quantity_words, read_quantity
from invdb.terms import Measure, ReturnedAs

# The strictest first: a slip of the keys must not make good stock of a piece that was dropped.
_COMES_BACK = (
    Choice(ReturnedAs.ALTERED, "altered: unserviceable until put right"),
    Choice(ReturnedAs.HANDLED, "handled: to be inspected again"),
    Choice(ReturnedAs.UNTOUCHED, "untouched: good stock again at once"),
)


def issue_form(sitting: Sitting, pulled: PulledKit, line: PulledLine) -> FormPlan:
    """The form to hand over some of what one line has set aside."""

    def check(written: Any, _values: Values) -> None:
        read_quantity(written, line.measure)

    def act(job: Job, values: dict[str, Any]) -> int:
        quantity = read_quantity(values["quantity"], line.measure)
        with sitting.store.writing() as session:
            entry = issue(
                session,
                pulled.summary.pull,
                sitting.by(values["happened_on"]),
                {line.pull_line: quantity},
            )
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Issue some of {line.tag} for pull {pulled.summary.number}",
        fields=(
            _quantity_field("Hand over", line.reserved, line.measure, "set aside", check),
            day_field(sitting, "Handed over on"),
        ),
        act=act,
        told=lambda entry: f"Issued for pull {pulled.summary.number} (entry {entry}).",
        save_word="Issue it",
    )


def return_form(sitting: Sitting, pulled: PulledKit, lines: Sequence[PulledLine]) -> FormPlan:
    """The form to take back what was issued and not used: of one line some or all, of several all."""
    single = lines[0] if len(lines) == 1 else None
    divisible = single is not None and single.issued - single.returned > 1

    def check(written: Any, _values: Values) -> None:
        assert single is not None, "only a single line asks how much"
        read_quantity(written, single.measure)

    def act(job: Job, values: dict[str, Any]) -> int:
        back = tuple(
            GiveBack(
                line.pull_line,
                read_quantity(values["quantity"], line.measure) if divisible else line.issued - line.returned,
                values["returned_as"],
                line.taken_from if values.get("each_back") and line.taken_from else values["to_place"],
                values["note"],
            )
            for line in lines
        )
        with sitting.store.writing() as session:
            entry = give_back(session, pulled.summary.pull, back, sitting.by(values["happened_on"]))
            job.commit_begins()
        return entry

    quantity = (
        (_quantity_field("How much", single.issued - single.returned, single.measure, "out", check),)
        if single is not None and divisible
        else ()
    )
    each_back = (
        (Field("each_back", "Each to the bin it was taken from", FieldKind.TICK, start=True),)
        if len({line.taken_from for line in lines}) > 1
        else ()
    )
    return FormPlan(
        title=f"Take back {_tags(lines)} from pull {pulled.summary.number}",
        fields=(
            *quantity,
            Field(
                "returned_as",
                "It comes back",
                FieldKind.CHOICE,
                needed=True,
                choices=_COMES_BACK,
                hint="Only what was left untouched is good stock again without being looked at",
            ),
            *each_back,
            replace(
                place_field(
                    sitting,
                    "to_place",
                    "To bin",
                    needed=True,
                    start=None if each_back else _came_from(lines),
                    hint="What was handled or altered does not go back among good stock",
                ),
                shown_when=lambda values: not values.get("each_back"),
            ),
            Field("note", "What was seen or done", FieldKind.LINES),
            day_field(sitting, "Came back on"),
        ),
        act=act,
        told=lambda entry: f"Taken back from pull {pulled.summary.number} (entry {entry}).",
        save_word="Take it back",
    )


def cancel_form(sitting: Sitting, pulled: PulledKit) -> FormPlan:
    """The form to let go of what a pull has set aside."""

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            entry = cancel(session, pulled.summary.pull, values["reason"], sitting.by(values["happened_on"]))
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Cancel pull {pulled.summary.number}: {pulled.summary.engine}, {pulled.summary.position}",
        fields=(
            Field("reason", "Why it is not wanted", FieldKind.LINES, needed=True),
            day_field(sitting, "Cancelled on"),
        ),
        act=act,
        told=lambda entry: f"Pull {pulled.summary.number} is cancelled (entry {entry}).",
        save_word="Cancel the pull",
    )


def _quantity_field(word: str, most: int, measure: Measure, where: str, check: Any) -> Field:
    figure = quantity_words(most, measure)
    return Field(
        "quantity",
        word,
        FieldKind.QUANTITY,
        needed=True,
        start=figure.removesuffix(" off"),
        unit=f"of {figure} {where}",
        check=check,
    )


def _came_from(lines: Sequence[PulledLine]) -> Hit | None:
    """The one bin that all of it was taken from."""
    first = lines[0]
    return Hit(first.taken_from_name, "where it was taken from", "place", first.taken_from)


def _tags(lines: Sequence[PulledLine]) -> str:
    return lines[0].tag if len(lines) == 1 else f"{len(lines)} lines"
