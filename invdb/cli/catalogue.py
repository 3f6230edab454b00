"""Commands on the catalogue: a part's page; what changes in kit lists and among stand-ins is beneath."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

import typer

from invdb.acts import numbers
from invdb.acts.part_page import PartPage, part_page
from invdb.acts.stand_in_graph import GraphStep
from invdb.cli.asked import day_of, opened, say
from invdb.cli.kit_line import kit_line
from invdb.cli.options import Day
from invdb.cli.stand_in import stand_in
from invdb.rules.spec_shown import SpecLineShown
from invdb.terms import SAFETY_LINE

parts = typer.Typer()
parts.add_typer(kit_line, name="kit-line")
parts.add_typer(stand_in, name="stand-in")


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
    for each in page.hazards:
        yield f"  {str(each.hazard).upper()}{f': {each.caution}' if each.caution else ''}"
    for hold in page.holds:
        yield f"  on hold since {hold.raised_on.isoformat()}: {hold.reason}"
    for order in page.directives:
        of_batch = f" for batch {order.batch}" if order.batch else ""
        yield f"  directive {order.reference} {order.issue}".rstrip() + f", {order.title}{of_batch}"
    if page.spec is None:
        yield "  no specification in force"
    else:
        yield f"  specification {page.spec.revision} from {page.spec.from_on.isoformat()}, {page.spec.source}"
    for line in page.spec_lines:
        yield f"    {_spec_words(line)}"
    for fit in page.fits:
        worn = f", worn {fit.worn}" if fit.worn else ""
        target = f", target {fit.target}" if fit.target else ""
        yield f"  fit {fit.fit.terms.name}, {fit.between} ({fit.engine_type}): {fit.limits}{worn}{target}"
    for use in page.uses:
        instead = f" instead of {use.instead_of}" if use.instead_of else ""
        holds = f", {use.holds}" if use.holds else ""
        ended = "ended: " if use.ended else "to come: " if use.waits else ""
        yield (
            f"  {ended}{use.engine_type} {use.group}, {use.station}: {use.quantity}{instead}{holds}"
            f" (kit line {use.kit_line})"
        )
    names = {node.part: node.number for node in page.graph.nodes}
    for step in page.graph.steps:
        yield f"  {_step_words(step, names)}"
    for stock in page.stock:
        fitted = f", {stock.fitted_words} of that fitted" if stock.fitted else ""
        yield f"  {stock.words} {stock.condition}{fitted}"
    if not page.stock:
        yield "  none here"
    for row in page.stock_rows:
        scope = f" for {row.scope}" if row.scope else ""
        hours = f", hours {row.hours}" if row.hours else ""
        yield f"    {row.tag} {row.quantity_words} {row.condition}{scope}, {row.bin}{hours}"
    for job in page.work:
        tags = ", ".join(each.tag for each in job.lines)
        due = f", {job.due_words}" if job.due_words else ""
        yield f"  out for work: {tags}, {job.place_name}, order {job.number}{due}"
    for paper in page.papers:
        yield f"  {paper.kind} {paper.reference} {paper.title}".rstrip() + f" (of {paper.about})"
    for change in page.changes:
        said = f"  entry {change.entry}, {change.happened_on.isoformat()}, {change.who}: "
        yield said + ". ".join(change.what) + (f" ({change.note})" if change.note else "")


def _spec_words(line: SpecLineShown) -> str:
    said = [f"new {line.new}"] if line.new else []
    said += [f"worn {line.worn}"] if line.worn else []
    said += [f"oval {line.oval}"] if line.oval else []
    said += [f"taper {line.taper}"] if line.taper else []
    said += [line.asked] if line.asked else []
    size = f" of {line.size_class}" if line.size_class else ""
    called = f"{line.name}{size} ({line.kind})"
    return f"{called}: {'; '.join(said)}" if said else called


def _step_words(step: GraphStep, names: dict[int, str]) -> str:
    members = " + ".join(f"{f'{each} × ' if each > 1 else ''}{names[part]}" for part, each in step.members)
    way = "and back" if step.both_ways else "one way"
    holds = f", {step.holds}" if step.holds else ""
    ended = "ended: " if step.ended else "to come: " if step.waits else ""
    by = f", by {step.authority} (stand-in {step.stand_in})"
    return f"{ended}{members} for {names[step.part]}, {way}{holds}{by}"
