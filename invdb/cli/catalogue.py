"""Commands on the catalogue: a part's page, and what changes in kit lists and among stand-ins."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Annotated

import typer

from invdb.acts import numbers
from invdb.acts.catalogue_edit import end_kit_line, end_stand_in
from invdb.acts.change import seen_of
from invdb.acts.part_page import PartPage, part_page
from invdb.acts.stand_in_graph import GraphStep
from invdb.cli.asked import by_whom, day_of, done, done_words, opened, say
from invdb.cli.options import Day
from invdb.terms import SAFETY_LINE

parts = typer.Typer()
Until = Annotated[
    datetime, typer.Option(help="The first day on which it holds no more.", formats=["%Y-%m-%d"])
]
Because = Annotated[str, typer.Option(help="Why it ends.")]


@parts.command("part")
def part_command(
    context: typer.Context,
    number: Annotated[str, typer.Argument(help="Any number of the part.")],
    on: Day = None,
) -> None:
    """Show a part's page: where it is used, what stands in for it, what there is of it, who changed it."""
    with opened(context.obj) as open_store, open_store.reading() as session:
        page = part_page(session, numbers.part_by_number(session, number), day_of(on, context.obj))
    say(context.obj, page, *_lines(page), SAFETY_LINE)


def _lines(page: PartPage) -> Iterator[str]:
    yield f"{page.house_number} {page.name} ({page.family})"
    marks = [str(page.tracking)]
    marks += ["critical"] if page.critical else []
    marks += [f"life {limit}" for limit in page.limits]
    marks += [f"shelf life {page.shelf_life_months} months"] if page.shelf_life_months else []
    marks += [each for each in (page.size_class, page.finish) if each]
    yield f"  held by {', '.join(marks)}"
    for number in page.numbers:
        yield f"  {number.kind} number {number.number}{f', {number.firm}' if number.firm else ''}"
    for hazard, caution in page.hazards:
        yield f"  {str(hazard).upper()}{f': {caution}' if caution else ''}"
    for reason in page.holds:
        yield f"  on hold: {reason}"
    if page.spec is None:
        yield "  no specification in force"
    else:
        lines = len(page.spec.lines)
        yield f"  specification {page.spec.revision} from {page.spec.from_on.isoformat()}, {lines} lines"
    for use in page.uses:
        instead = f" instead of {use.instead_of}" if use.instead_of else ""
        holds = f", {use.holds}" if use.holds else ""
        ended = "ended: " if use.ended else ""
        yield (
            f"  {ended}{use.engine_type} {use.group}, {use.station}: {use.quantity}{instead}{holds}"
            f" (kit line {use.kit_line})"
        )
    names = {node.part: node.number for node in page.graph.nodes}
    for step in page.graph.steps:
        yield f"  {_step_words(step, names)}"
    for stock in page.stock:
        yield f"  {stock.words} {stock.condition}"
    if not page.stock:
        yield "  none here"
    for paper in page.papers:
        yield f"  {paper.kind} {paper.reference} {paper.title}".rstrip()
    for change in page.changes:
        said = f"  entry {change.entry}, {change.happened_on.isoformat()}, {change.who}: "
        yield said + ", ".join(change.what) + (f" ({change.note})" if change.note else "")


def _step_words(step: GraphStep, names: dict[int, str]) -> str:
    members = " + ".join(f"{f'{each} × ' if each > 1 else ''}{names[part]}" for part, each in step.members)
    way = "and back" if step.both_ways else "one way"
    holds = f", {step.holds}" if step.holds else ""
    ended = "ended: " if step.ended else ""
    by = f", by {step.authority} (stand-in {step.stand_in})"
    return f"{ended}{members} for {names[step.part]}, {way}{holds}{by}"


@parts.command("end-kit-line")
def end_kit_line_command(
    context: typer.Context,
    line: Annotated[int, typer.Argument(help="The kit line, as `part` numbers it.")],
    until: Until,
    because: Because,
) -> None:
    """Say that a kit line holds no more from a day on."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj, because)
        end_kit_line(session, line, seen_of(session, "kit_line", line), until.date(), by)
        what = done(session, by)
    say(context.obj, what, done_words(what))


@parts.command("end-stand-in")
def end_stand_in_command(
    context: typer.Context,
    stand_in: Annotated[int, typer.Argument(help="The stand-in, as `part` numbers it.")],
    until: Until,
    because: Because,
) -> None:
    """Say that something stands in for a part no more from a day on."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj, because)
        end_stand_in(session, stand_in, seen_of(session, "stand_in", stand_in), until.date(), by)
        what = done(session, by)
    say(context.obj, what, done_words(what))
