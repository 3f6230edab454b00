"""Commands on kits: pull, issue, return and cancel."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any

import typer

from invdb.acts import numbers, propose, proposed, pull
from invdb.acts.pick_list import PulledLine, pick_list_of_proposal, pick_list_of_pulls, pull_lines
from invdb.acts.pull_fits import fit_notes
from invdb.cli.asked import by_whom, opened, say
from invdb.paper.sheet_file import refuse_unwritable
from invdb.rules.quantities import quantity_words, read_quantity
from invdb.terms import SAFETY_LINE, Refused, ReturnedAs

kits = typer.Typer()


@kits.command("pull")
def pull_command(
    context: typer.Context,
    engine: Annotated[str, typer.Argument(help="The engine's name or serial.")],
    positions: Annotated[list[str], typer.Argument(help="Cylinders, one or several.")],
    reserve: Annotated[bool, typer.Option("--reserve", help="Set aside what is proposed.")] = False,
    pdf: Annotated[Path | None, typer.Option(help="Write the pick list as PDF.")] = None,
    xlsx: Annotated[Path | None, typer.Option(help="Write the pick list as a workbook.")] = None,
    letter: Annotated[bool, typer.Option("--letter", help="US Letter paper, not A4.")] = False,
) -> None:
    """Propose the kit for cylinders of an engine, and reserve it if asked."""
    for path in (pdf, xlsx):
        if path is not None:
            refuse_unwritable(path)
    with opened(context.obj) as open_store:
        with open_store.reading() as session:
            engine_id = numbers.engine_named(session, engine)
            asked = tuple(
                proposed.Asked(engine_id, numbers.position_named(session, engine_id, each))
                for each in positions
            )
            proposal = propose.propose(session, asked)
        made: tuple[pull.ReservedPull, ...] = ()
        if reserve:
            with open_store.writing() as session:
                orders = tuple(pull.order_of(kit) for kit in proposal.kits)
                made = pull.reserve(session, orders, by_whom(session, context.obj))
        if pdf or xlsx:
            with open_store.reading() as session:
                if made:
                    sheet = pick_list_of_pulls(session, [each.pull for each in made])
                else:
                    sheet = pick_list_of_proposal(session, proposal, by_whom(session, context.obj).person)
            try:
                _write_pick_list(sheet, pdf, xlsx, letter)
            except Refused as refused:
                if not made:
                    raise
                numbers_made = ", ".join(each.number for each in made)
                raise Refused(
                    f"Pull {numbers_made} is reserved. {refused.reason}", refused.remedy
                ) from refused
    say(context.obj, {"proposal": proposal, "pulls": made}, *_kit_lines(proposal, made))


def _write_pick_list(sheet: Any, pdf: Path | None, xlsx: Path | None, letter: bool) -> None:
    from invdb.paper.pick_list import write_pick_list_pdf, write_pick_list_xlsx

    page = "Letter" if letter else "A4"
    if pdf is not None:
        write_pick_list_pdf(sheet, pdf, page)  # type: ignore[arg-type]
    if xlsx is not None:
        write_pick_list_xlsx(sheet, xlsx, page)  # type: ignore[arg-type]


def _kit_lines(proposal: proposed.Proposal, made: tuple[pull.ReservedPull, ...]) -> Iterator[str]:
    reserved = [each.number for each in made] or [""] * len(proposal.kits)
    for kit, number in zip(proposal.kits, reserved, strict=True):
        head = f"{kit.engine.name}, {kit.position.group} {kit.position.name}: {kit.state},"
        yield f"{head} {kit.lines_filled} of {len(kit.lines)} lines" + (f"; pull {number}" if number else "")
        for line in kit.lines:
            for held in line.held:
                yield f"  {line.station:28} {held.tag:10} on pull {held.pull_number}"
            for choice in line.choices:
                said = (
                    f"  {line.station:28} {choice.tag:10} {quantity_words(choice.quantity, line.measure):>8}"
                )
                yield f"{said}  {choice.bin:10} {choice.part_number} {choice.why}" + (
                    f" by {choice.authority}" if choice.authority else ""
                )
            if line.missing:
                missing = quantity_words(line.missing, line.measure)
                yield f"  {line.station:28} SHORT {missing} of {line.part_number} {line.part_name}"
                for miss in line.misses:
                    yield f"    {miss.tag} in {miss.where}: {', '.join(miss.bars)}"
            if line.selected:
                yield f"    {line.selected}"
        for note in fit_notes("", kit.fits):
            yield f"  fit: {note.name}, {note.between}: {note.sign}, {note.words}"
            if note.to_do:
                yield f"    {note.to_do}"
    for gain in proposal.gained:
        yield f"Over taking things in shelf order, {gain.what}: {gain.ours} instead of {gain.shelf}."
    if proposal.proven:
        yield "Proven: no better choice exists."
    else:
        yield f"Not proven, the time ran out; {proposal.gap}."
    yield SAFETY_LINE


def _lines_of(session: Any, pull_id: int, number: str, tag: str) -> list[PulledLine]:
    """The lines of a pull that a tag serves; Refused where there is none."""
    found = [line for line in pull_lines(session, pull_id) if line.tag == tag.strip().upper()]
    if not found:
        raise Refused(f"Pull {number} has no {tag}.", "Look at the pick list again.")
    return found


@kits.command("issue")
def issue_command(
    context: typer.Context,
    number: Annotated[str, typer.Argument(help="The pull's number.")],
    tag: Annotated[list[str] | None, typer.Option(help="Only these tags.")] = None,
) -> None:
    """Hand over what a pull has set aside."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        pull_id = numbers.pull_by_number(session, number)
        only = None
        if tag:
            lines = [line for each in tag for line in _lines_of(session, pull_id, number, each)]
            # A batch may serve several lines; those of which nothing waits are passed over, unless all are.
            waiting = [line for line in lines if line.reserved] or lines
            only = {line.pull_line: line.reserved for line in waiting}
        entry = pull.issue(session, pull_id, by_whom(session, context.obj), only)
    say(context.obj, {"entry": entry}, f"Issued for pull {number} (entry {entry}).")


@kits.command("return")
def return_command(
    context: typer.Context,
    number: Annotated[str, typer.Argument(help="The pull's number.")],
    tag: Annotated[str, typer.Argument(help="The tag that comes back.")],
    returned_as: Annotated[ReturnedAs, typer.Option("--state", help="How it comes back.")],
    to: Annotated[str, typer.Option("--bin", help="Where it goes.")],
    quantity: Annotated[str | None, typer.Option(help="How much, if not all of it.")] = None,
    note: Annotated[str, typer.Option(help="What was seen or done.")] = "",
) -> None:
    """Take back what was issued and not used."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        pull_id = numbers.pull_by_number(session, number)
        lines = _lines_of(session, pull_id, number, tag)
        out = sum(line.issued - line.returned for line in lines)
        left = out if quantity is None else read_quantity(quantity, lines[0].measure)
        place = numbers.place_named(session, to)
        back: list[pull.GiveBack] = []
        # A batch may have served several lines; what comes back is taken off the first first, and what is
        # more than went out is left to be refused on the last.
        for line in lines:
            amount = left if line is lines[-1] else min(left, line.issued - line.returned)
            if amount or (line is lines[-1] and not back):
                back.append(pull.GiveBack(line.pull_line, amount, returned_as, place, note))
            left -= amount
        entry = pull.give_back(session, pull_id, tuple(back), by_whom(session, context.obj))
    say(context.obj, {"entry": entry}, f"{tag} came back {returned_as} (entry {entry}).")


@kits.command("cancel")
def cancel_command(
    context: typer.Context,
    number: Annotated[str, typer.Argument(help="The pull's number.")],
    reason: Annotated[str, typer.Option(help="Why it is not wanted.")],
) -> None:
    """Cancel a pull and let go of what it has set aside."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        entry = pull.cancel(
            session, numbers.pull_by_number(session, number), reason, by_whom(session, context.obj)
        )
    say(context.obj, {"entry": entry}, f"Pull {number} is cancelled (entry {entry}).")
