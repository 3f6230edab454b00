"""Commands on what is done to things: send for work and book back, scrap, re-identify, match."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Annotated, Any

import typer

from invdb.acts import numbers
from invdb.acts.life_reset import LifeResetOrder
from invdb.acts.matched import NewMatch, end_match, match_pieces, matched_with
from invdb.acts.reidentify import NewIdentity, reidentify
from invdb.acts.scrap import ScrapOrder, scrap
from invdb.acts.things import things_by_id
from invdb.acts.typed import document_named
from invdb.acts.work import BackLine, ToSend, WorkBack, WorkSent, back_from_work, send_for_work
from invdb.acts.work_list import WorkLineFacts, WorkOrderFacts, work_order_by_number, work_orders
from invdb.cli.asked import by_whom, done, done_words, named, opened, say
from invdb.cli.options import Sure
from invdb.rules.quantities import quantity_words, read_quantity
from invdb.terms import SAFETY_LINE, Condition, FieldRefused, MatchedAs, Refused, Unusable, WorkWanted

work = typer.Typer()
_DAY = ["%Y-%m-%d"]
Document = Annotated[str | None, typer.Option(help="The document behind it, by its reference.")]
Why = Annotated[str, typer.Option(help="Why, in words.")]


@work.command("send")
def send_command(
    context: typer.Context,
    place: Annotated[str | None, typer.Argument(help="The firm's place, or a bench.")] = None,
    tag: Annotated[list[str] | None, typer.Option(help="What is sent; once for each.")] = None,
    kind: Annotated[WorkWanted | None, typer.Option("--for", help="What it is sent for.")] = None,
    wanted: Annotated[str, typer.Option(help="What is to be done.")] = "",
    due: Annotated[datetime | None, typer.Option(help="When it is due back.", formats=_DAY)] = None,
    quantity: Annotated[str | None, typer.Option(help="Of a batch, how much.")] = None,
    every: Annotated[bool, typer.Option("--all", help="List what is back too.")] = False,
    sure: Sure = False,
) -> None:
    """Send things out for work; without a place, list what is out, overdue first."""
    if place is None:
        with opened(context.obj) as open_store, open_store.reading() as session:
            orders = work_orders(session, only_open=not every)
        say(context.obj, orders, *_order_lines(orders))
        return
    with opened(context.obj) as open_store, open_store.writing() as session:
        if not tag or kind is None:
            raise Refused("It isn't said what is sent, and for what.", "Name --tag and --for.")
        things = tuple(_to_send(session, each, quantity) for each in tag)
        order = WorkSent(
            numbers.place_named(session, place), kind, wanted, things, due.date() if due else None, sure
        )
        by = by_whom(session, context.obj)
        made = send_for_work(session, order, by)
        what = {**done(session, by), "order": made.number}
    say(context.obj, what, done_words(what))


def _to_send(session: Any, tag: str, quantity: str | None) -> ToSend:
    thing = numbers.thing_by_tag(session, tag)
    if thing.piece is not None:
        if quantity is not None:
            raise FieldRefused("quantity", f"{tag} is one piece.", "Leave the quantity out.")
        return ToSend(thing)
    if quantity is None:
        raise FieldRefused("quantity", f"{tag} is a batch.", "Say how much of it with --quantity.")
    return ToSend(thing, read_quantity(quantity, things_by_id(session, [thing])[thing].measure))


def _order_lines(orders: tuple[WorkOrderFacts, ...]) -> Iterator[str]:
    if not orders:
        yield "Nothing is out for work."
    for order in orders:
        due = f", {order.due_words}" if order.due_words else ""
        yield f"{order.number}  {order.place_name}, {order.kind}, sent {order.sent_on.isoformat()}{due}"
        for line in order.lines:
            out = f"{quantity_words(line.out, line.measure)} out" if line.out else "back"
            scrapped = f", {quantity_words(line.scrapped, line.measure)} scrapped" if line.scrapped else ""
            yield f"  {line.tag:10} {line.part_number} {line.part_name}: {out}{scrapped}"


@work.command("back")
def back_command(
    context: typer.Context,
    number: Annotated[str, typer.Argument(metavar="ORDER", help="The order's number.")],
    tag: Annotated[str, typer.Argument(help="What came back.")],
    to: Annotated[str, typer.Option("--bin", help="Where it goes.")],
    report: Annotated[str, typer.Option(help="Its report, and what that says was done.")],
    condition: Annotated[Condition, typer.Option(help="As it came back.")] = Condition.UNINSPECTED,
    quantity: Annotated[str | None, typer.Option(help="Of a batch, how much.")] = None,
    document: Document = None,
    resets: Annotated[bool, typer.Option("--resets", help="Its life since overhaul begins anew.")] = False,
    part: Annotated[str | None, typer.Option(help="The part that it has become.")] = None,
    size: Annotated[str, typer.Option(help="The size that it has now.")] = "",
    finish: Annotated[str, typer.Option(help="The finish that it has now.")] = "",
    authority: Annotated[str, typer.Option(help="What makes it another part.")] = "",
    scrapped: Annotated[Unusable | None, typer.Option(help="It is scrapped: how it was destroyed.")] = None,
    sure: Sure = False,
) -> None:
    """Book back what came of a work order."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        order = work_order_by_number(session, number)
        if order is None:
            raise Refused(f"There is no work order {number}.", "Look at its number again.")
        line = _line_of(session, order, number, tag)
        identity = None
        if part is not None or size or finish:
            new_part = named(session, numbers.part_by_number, part)
            now = things_by_id(session, [line.thing])[line.thing].part
            identity = NewIdentity(0, new_part or now, authority, report, size, finish)
        back = BackLine(
            line.work_line,
            numbers.place_named(session, to),
            report,
            condition,
            _amount(line, quantity),
            named(session, document_named, document),
            LifeResetOrder(report) if resets else None,
            identity,
            ScrapOrder(line.thing, report, scrapped, 0, hazards_seen=sure) if scrapped is not None else None,
        )
        by = by_whom(session, context.obj)
        back_from_work(session, WorkBack(order, (back,)), by)
        what = done(session, by)
    say(context.obj, what, done_words(what))


def _line_of(session: Any, order: int, number: str, tag: str) -> WorkLineFacts:
    for each in work_orders(session, only_open=False):
        for line in each.lines if each.order == order else ():
            if line.tag == tag.strip().upper():
                return line
    raise Refused(f"{tag} is not on order {number}.", "Look at the order again.")


def _amount(line: WorkLineFacts, quantity: str | None) -> int:
    if quantity is None:
        return line.out
    return read_quantity(quantity, line.measure)


@work.command("scrap")
def scrap_command(
    context: typer.Context,
    tag: Annotated[str, typer.Argument(help="What is scrapped.")],
    how: Annotated[Unusable, typer.Option(help="How it was made unusable.")],
    because: Why = "",
    to: Annotated[str, typer.Option("--bin", help="The scrap drum.")] = "Scrap drum",
    place: Annotated[str | None, typer.Option("--from", help="From where, if it lies in several.")] = None,
    quantity: Annotated[str | None, typer.Option(help="Of a batch, how much.")] = None,
    witness: Annotated[str, typer.Option(help="Who saw it done.")] = "",
    sure: Sure = False,
) -> None:
    """Scrap a thing, saying how it was made unfit for any use."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        thing = numbers.thing_by_tag(session, tag)
        measure = things_by_id(session, [thing])[thing].measure
        order = ScrapOrder(
            thing,
            because,
            how,
            numbers.place_named(session, to),
            read_quantity(quantity, measure) if quantity is not None else None,
            named(session, numbers.place_named, place),
            witness,
            sure,
        )
        by = by_whom(session, context.obj)
        scrap(session, order, by)
        what = done(session, by)
    say(context.obj, what, done_words(what))


@work.command("reidentify")
def reidentify_command(
    context: typer.Context,
    tag: Annotated[str, typer.Argument(help="The piece.")],
    part: Annotated[str, typer.Argument(help="The part that it has become, by any number.")],
    authority: Annotated[str, typer.Option(help="The drawing or the scheme that makes it so.")],
    did: Annotated[str, typer.Option("--done", help="What was done.")],
    size: Annotated[str, typer.Option(help="Its size, if not the part's own.")] = "",
    finish: Annotated[str, typer.Option(help="Its finish, if not the part's own.")] = "",
    document: Document = None,
) -> None:
    """Make a piece another part, size or finish, under the same tag."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        identity = NewIdentity(
            numbers.piece_by_tag(session, tag),
            numbers.part_by_number(session, part),
            authority,
            did,
            size,
            finish,
            named(session, document_named, document),
        )
        by = by_whom(session, context.obj)
        reidentify(session, identity, by)
        what = done(session, by)
    say(context.obj, what, done_words(what), SAFETY_LINE)


@work.command("match")
def match_command(
    context: typer.Context,
    tags: Annotated[list[str], typer.Argument(help="Pieces that go together; one to see its sets.")],
    kind: Annotated[MatchedAs, typer.Option("--kind", help="Whether they must, or should.")] = MatchedAs.SET,
    because: Why = "",
    name: Annotated[str, typer.Option(help="What the set is called.")] = "",
    end: Annotated[bool, typer.Option("--end", help="They need go together no more.")] = False,
) -> None:
    """Record that pieces go back together, end that, or show what a piece goes with."""
    with opened(context.obj) as open_store:
        if len(tags) == 1 and not end:
            with open_store.reading() as session:
                piece = numbers.piece_by_tag(session, tags[0])
                sets = matched_with(session, [piece]).get(piece, ())
            lines = [f"{each.kind}: {each.others(piece)}, {each.why}" for each in sets]
            say(context.obj, sets, *(lines or [f"{tags[0]} goes with nothing."]))
            return
        with open_store.writing() as session:
            by = by_whom(session, context.obj)
            pieces = tuple(numbers.piece_by_tag(session, tag) for tag in tags)
            if end:
                sets = matched_with(session, pieces).get(pieces[0], ())
                if not sets:
                    raise Refused(f"{tags[0]} goes with nothing.", "There is nothing to end.")
                for each in sets:
                    end_match(session, each.id, because, by)
            else:
                match_pieces(session, NewMatch(kind, name, because, pieces), by)
            what = done(session, by)
    say(context.obj, what, done_words(what))
