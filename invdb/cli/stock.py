"""Commands on stock: receive, accept, split, move, hold and clear."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from invdb.acts import accept as accepting
from invdb.acts import goods_in, hold, move, numbers, papers, split
from invdb.acts.offers import parts_by_ids
from invdb.cli.asked import by_whom, opened, say
from invdb.rules.life import read_prior
from invdb.rules.quantities import read_quantity
from invdb.terms import Condition, Origin, PaperKind, Refused, Scope, Tracking, WorkState

stock = typer.Typer()


@stock.command()
def receive(
    context: typer.Context,
    part: Annotated[str, typer.Argument(help="Any number of the part.")],
    origin: Annotated[Origin, typer.Option(help="How it began.")],
    quantity: Annotated[
        str | None,
        typer.Option(help="How many, or how much: 12, '1.5 m', '200 g'; else one for each serial."),
    ] = None,
    place: Annotated[str, typer.Option("--bin", help="Where it is put.")] = "Goods in",
    serial: Annotated[list[str] | None, typer.Option(help="A maker's serial; once for each piece.")] = None,
    hours: Annotated[str | None, typer.Option(help="Hours run before: 120, 'at least 300', unknown.")] = None,
    starts: Annotated[str | None, typer.Option(help="Starts before, in the same way.")] = None,
    firm: Annotated[str | None, typer.Option(help="The firm it came from.")] = None,
    owner: Annotated[str | None, typer.Option(help="Whose it is, if not ours.")] = None,
    donor: Annotated[str, typer.Option(help="The engine it was salvaged from.")] = "",
    work: Annotated[WorkState, typer.Option(help="What was done to it since.")] = WorkState.AS_RECEIVED,
    report: Annotated[str, typer.Option(help="The report of that work.")] = "",
    made_on: Annotated[
        datetime | None, typer.Option(help="The day it was made, by its papers.", formats=["%Y-%m-%d"])
    ] = None,
    expires: Annotated[datetime | None, typer.Option(help="Shelf expiry.", formats=["%Y-%m-%d"])] = None,
    maker_batch: Annotated[str, typer.Option(help="The maker's batch mark.")] = "",
    drawing: Annotated[str, typer.Option(help="Made here: its drawing.")] = "",
    revision: Annotated[str, typer.Option(help="Made here: the drawing's revision.")] = "",
    material: Annotated[str, typer.Option(help="Made here: its material.")] = "",
    certificate: Annotated[str, typer.Option(help="Made here: the material's certificate or heat.")] = "",
    made_by: Annotated[str, typer.Option(help="Made here: by whom.")] = "",
    inspected_by: Annotated[str, typer.Option(help="Made here: who inspected it.")] = "",
    right_part: Annotated[str, typer.Option(help="Check: is it the right part?")] = "",
    papers_match: Annotated[str, typer.Option(help="Check: do the papers match?")] = "",
    damage: Annotated[str, typer.Option(help="Check: is it damaged?")] = "",
    hazards: Annotated[str, typer.Option(help="Check: what hazards were seen to?")] = "",
    paper: Annotated[
        list[str] | None, typer.Option(help="KIND:REFERENCE, or KIND:REFERENCE:FILE to keep the file.")
    ] = None,
    note: Annotated[str, typer.Option(help="A remark.")] = "",
) -> None:
    """Book goods in; they stay uninspected until accepted."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        part_id = numbers.part_by_number(session, part)
        details = parts_by_ids(session, [part_id])[part_id]
        serials = serial or []
        amount = read_quantity(
            quantity if quantity is not None else str(max(len(serials), 1)), details.measure
        )
        if details.tracking is Tracking.BATCH and (serials or hours is not None or starts is not None):
            raise Refused(
                f"{details.house_number} is held by batch, which has no serials and no prior life.",
                "Leave out --serial, --hours and --starts.",
            )
        if details.tracking is Tracking.PIECE and maker_batch:
            raise Refused(
                f"{details.house_number} is held as single pieces, which have no maker's batch.",
                "Say it in the note.",
            )
        if serials and amount != len(serials):
            raise Refused(
                f"{amount} pieces and {len(serials)} serials do not agree.", "Give one for each piece."
            )
        prior_hours = read_prior(hours, "hours") if hours is not None else None
        prior_starts = read_prior(starts, "starts", 1) if starts is not None else None
        pieces = tuple(
            goods_in.NewPiece(each, prior_hours, prior_starts, made_on=made_on.date() if made_on else None)
            for each in (serials or [""] * amount)
        ) if details.tracking is Tracking.PIECE else ()  # fmt: skip
        batch = goods_in.NewBatch(amount, maker_batch) if details.tracking is Tracking.BATCH else None
        received = goods_in.receive(
            session,
            goods_in.GoodsIn(
                origin=origin,
                place=numbers.place_named(session, place),
                part=part_id,
                pieces=pieces,
                batch=batch,
                owner=numbers.owner_named(session, owner) if owner else None,
                work_state=work,
                work_reference=report,
                firm=numbers.firm_named(session, firm) if firm else None,
                donor=donor,
                shelf_expiry_on=expires.date() if expires else None,
                made_here=goods_in.MadeHere(drawing, revision, material, certificate, made_by, inspected_by),
                checks=goods_in.ReceivingChecks(right_part, papers_match, damage, hazards),
                papers=tuple(paper_named(each) for each in paper or ()),
                note=note,
            ),
            by_whom(session, context.obj, note),
        )
    tags = ", ".join(tag for _, tag in received.things)
    cautions = [f"Mind: {hazard}. {caution}".strip() for hazard, caution in received.hazards]
    say(
        context.obj,
        received,
        f"Booked in as {tags} (entry {received.entry}); uninspected until accepted.",
        *cautions,
    )


def paper_named(text: str) -> papers.NewPaper:
    """A document as it is typed: KIND:REFERENCE, or KIND:REFERENCE:FILE with its content."""
    kind, _, rest = text.partition(":")
    reference, _, file = rest.partition(":")
    try:
        paper_kind = PaperKind(kind.strip().lower())
    except ValueError as error:
        kinds = ", ".join(PaperKind)
        raise Refused(f"{kind!r} is no kind of paper.", f"Use one of: {kinds}.") from error
    path = Path(file) if file else None
    return papers.NewPaper(
        paper_kind,
        reference,
        content=papers.read_content(path) if path else None,
        file_name=path.name if path else None,
    )


@stock.command()
def accept(
    context: typer.Context,
    tags: Annotated[list[str], typer.Argument(help="Tags of pieces and batches.")],
    scope: Annotated[Scope, typer.Option(help="What they are accepted for.")],
    to: Annotated[str | None, typer.Option("--bin", help="Where they go.")] = None,
    right_part: Annotated[str, typer.Option(help="Check: is it the right part?")] = "",
    papers_match: Annotated[str, typer.Option(help="Check: do the papers match?")] = "",
    damage: Annotated[str, typer.Option(help="Check: is it damaged?")] = "",
    hazards: Annotated[str, typer.Option(help="Check: what hazards were seen to?")] = "",
    override: Annotated[str, typer.Option(help="A licensed person's written reason.")] = "",
) -> None:
    """Accept uninspected stock for a scope."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        acceptance = accepting.Acceptance(
            tuple(numbers.thing_by_tag(session, tag) for tag in tags),
            scope,
            goods_in.ReceivingChecks(right_part, papers_match, damage, hazards),
            numbers.place_named(session, to) if to else None,
            override,
        )
        number = accepting.accept(session, acceptance, by_whom(session, context.obj))
    say(context.obj, {"entry": number}, f"Accepted for {scope}: {', '.join(tags)} (entry {number}).")


@stock.command("split")
def split_command(
    context: typer.Context,
    tag: Annotated[str, typer.Argument(help="The batch's tag.")],
    place: Annotated[str, typer.Option("--bin", help="Where the batch lies.")],
    share: Annotated[
        list[str], typer.Option(help="QUANTITY:CONDITION[:SCOPE[:BIN]], once for each new batch.")
    ],
) -> None:
    """Split a batch by what was found: 31:serviceable:flight, 5:unserviceable, …"""
    with opened(context.obj) as open_store, open_store.writing() as session:
        thing = numbers.thing_by_tag(session, tag)
        if thing.batch is None:
            raise Refused(f"{tag} is a single piece.", "Only a batch can be split.")
        shares = tuple(_share(session, thing, each) for each in share)
        done = split.split(
            session, thing.batch, numbers.place_named(session, place), shares, by_whom(session, context.obj)
        )
    tags = ", ".join(new_tag for _, new_tag in done.batches)
    say(context.obj, done, f"Split off: {tags} (entry {done.entry}).")


def _share(session: Any, thing: numbers.Thing, text: str) -> split.Share:
    amount, condition, scope, place = (text.split(":", 3) + ["", "", ""])[:4]
    measure = split.measure_of(session, thing)
    try:
        return split.Share(
            read_quantity(amount, measure),
            Condition(condition.strip().lower()),
            Scope(scope.strip().lower()) if scope.strip() else None,
            numbers.place_named(session, place) if place.strip() else None,
        )
    except ValueError as error:
        raise Refused(
            f"The share {text!r} can't be read.", "Write it as 31:serviceable:flight:Bin or 5:unserviceable."
        ) from error


@stock.command("move")
def move_command(
    context: typer.Context,
    tags: Annotated[list[str], typer.Argument(help="Tags of pieces and batches.")],
    to: Annotated[str, typer.Option("--to", help="The place they go to.")],
) -> None:
    """Move stock to another place."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        shifts = tuple(move.Shift(numbers.thing_by_tag(session, tag)) for tag in tags)
        number = move.move(session, shifts, numbers.place_named(session, to), by_whom(session, context.obj))
    say(context.obj, {"entry": number}, f"Moved to {to}: {', '.join(tags)} (entry {number}).")


@stock.command("hold")
def hold_command(
    context: typer.Context,
    what: Annotated[str, typer.Argument(help="A tag, a part's number, or an engine's name.")],
    reason: Annotated[str, typer.Option(help="The doubt.")],
) -> None:
    """Put a piece, a batch, a part or an engine on hold."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        subject = hold.subject_named(session, what)
        (made,) = hold.raise_hold(session, (subject,), reason, by_whom(session, context.obj))
    say(context.obj, {"hold": made}, f"On hold: {what} (hold {made}).")


@stock.command("clear")
def clear_command(
    context: typer.Context,
    number: Annotated[int, typer.Argument(help="The hold's number.")],
    because: Annotated[str, typer.Option(help="What settled the doubt.")],
) -> None:
    """Clear a hold."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        entry = hold.clear_hold(session, number, because, by_whom(session, context.obj))
    say(context.obj, {"entry": entry}, f"Hold {number} is cleared (entry {entry}).")
