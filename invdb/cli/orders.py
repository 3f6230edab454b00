"""Commands on what authorities order and allow: directives, compliance with them, and concessions."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

import typer

from invdb.acts import concession as concessions
from invdb.acts import directive as directives
from invdb.acts import numbers, typed
from invdb.acts.concession_lines import concession_lines
from invdb.acts.directive_lines import DirectiveFacts, directives_of
from invdb.acts.hold import subject_named
from invdb.cli.asked import (
    by_whom,
    day_of,
    done,
    done_words,
    hundredths,
    named,
    opened,
    refuse_passed_over,
    say,
)
from invdb.cli.options import Day
from invdb.terms import SAFETY_LINE, ConcessionOver

orders = typer.Typer()
_DAY = ["%Y-%m-%d"]


@orders.command("directives")
def directives_command(
    context: typer.Context,
    engine: Annotated[str, typer.Argument(help="The engine's name or serial.")],
    on: Day = None,
) -> None:
    """Show how every directive stands on an engine and on what is in it."""
    with opened(context.obj) as open_store, open_store.reading() as session:
        lines = directives_of(session, numbers.engine_named(session, engine), day_of(on, context.obj))
    said = [_directive_line(line) for line in lines] or ["No directive is in effect."]
    say(context.obj, lines, *said, SAFETY_LINE)


def _directive_line(line: DirectiveFacts) -> str:
    if line.not_applicable:
        return f"{line.words}: not for {line.engine_name}: {line.not_applicable}"
    assert line.standing is not None
    verdict, why = str(line.standing.verdict), line.standing.why
    stands = why if why.startswith(verdict) else f"{verdict}, {why}"
    return f"{line.words}, {line.subject}: {stands}{f'; {line.left}' if line.left else ''}"


@orders.command("directive")
def directive_command(
    context: typer.Context,
    reference: Annotated[str, typer.Argument(help="The directive's reference.")],
    title: Annotated[str, typer.Option(help="What it is about.")] = "",
    method: Annotated[str, typer.Option(help="What it orders to be done.")] = "",
    effective: Annotated[datetime | None, typer.Option(help="The day it takes effect.", formats=_DAY)] = None,
    issue: Annotated[str | None, typer.Option(help="Its issue.")] = None,
    authority: Annotated[str, typer.Option(help="Whose it is.")] = "",
    engine_type: Annotated[str | None, typer.Option("--for", help="The engine type that it is for.")] = None,
    serial_from: Annotated[str | None, typer.Option(help="From this serial of the type.")] = None,
    serial_to: Annotated[str | None, typer.Option(help="To this serial of the type.")] = None,
    part: Annotated[str | None, typer.Option(help="The part that it is for.")] = None,
    batch: Annotated[str | None, typer.Option(help="The batch that it is for.")] = None,
    within_hours: Annotated[str | None, typer.Option(help="First due within so many hours.")] = None,
    within_months: Annotated[int | None, typer.Option(help="First due within so many months.")] = None,
    due: Annotated[datetime | None, typer.Option(help="First due by that day.", formats=_DAY)] = None,
    every_hours: Annotated[str | None, typer.Option(help="Then again every so many hours.")] = None,
    every_months: Annotated[int | None, typer.Option(help="Then again every so many months.")] = None,
    document: Annotated[str | None, typer.Option(help="The reference of its document.")] = None,
    in_place_of: Annotated[
        str | None, typer.Option(help="The directive that this issue takes the place of.")
    ] = None,
    withdraw: Annotated[str | None, typer.Option(metavar="BECAUSE", help="Withdraw it, and why.")] = None,
) -> None:
    """Record what an authority orders, put a new issue in its place, or withdraw it."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj)
        if withdraw is not None:
            refuse_passed_over(context, {"reference", "issue", "withdraw"}, "with --withdraw")
            standing = typed.directive_named(session, reference, issue)
            directives.withdraw_directive(session, standing, withdraw, by)
        else:
            if effective is None:
                raise typer.BadParameter("Say with --effective on which day it takes effect.")
            new = directives.NewDirective(
                reference,
                title,
                method,
                effective.date(),
                issue or "",
                authority,
                named(session, typed.engine_type_named, engine_type),
                serial_from,
                serial_to,
                named(session, numbers.part_by_number, part),
                named(session, numbers.batch_by_tag, batch),
                hundredths(within_hours, "within_hours"),
                within_months,
                due.date() if due else None,
                hundredths(every_hours, "every_hours"),
                every_months,
                named(session, typed.document_named, document),
            )
            if in_place_of is not None:
                standing = typed.directive_named(session, in_place_of)
                directives.reissue_directive(session, standing, new, by)
            else:
                directives.add_directive(session, new, by)
        what = done(session, by)
    say(context.obj, what, done_words(what))


@orders.command("comply")
def comply_command(
    context: typer.Context,
    reference: Annotated[str, typer.Argument(help="The directive's reference.")],
    names: Annotated[list[str], typer.Argument(metavar="TAG | ENGINE", help="What it was done on.")],
    method: Annotated[str, typer.Option(help="How it was complied with.")],
    issue: Annotated[str | None, typer.Option(help="Its issue, where several stand.")] = None,
    document: Annotated[str | None, typer.Option(help="The reference of the report.")] = None,
) -> None:
    """Record that a directive was complied with, on engines or pieces."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj)
        directives.comply(
            session,
            typed.directive_named(session, reference, issue),
            [subject_named(session, name) for name in names],
            method,
            by,
            named(session, typed.document_named, document),
        )
        what = done(session, by)
    say(context.obj, what, done_words(what))


@orders.command("concessions")
def concessions_command(
    context: typer.Context,
    engine: Annotated[str | None, typer.Argument(help="An engine's name or serial.")] = None,
    on: Day = None,
) -> None:
    """Show every concession and how it stands."""
    with opened(context.obj) as open_store, open_store.reading() as session:
        engine_id = numbers.engine_named(session, engine) if engine is not None else None
        lines = concession_lines(session, engine_id, on=day_of(on, context.obj))
    said = [f"{line.tag} in {line.engine_name}: {line.words}" for line in lines]
    say(context.obj, lines, *(said or ["There is no concession."]), SAFETY_LINE)


@orders.command("concession")
def concession_command(
    context: typer.Context,
    reference: Annotated[str, typer.Argument(help="The concession's reference.")],
    tag: Annotated[str | None, typer.Argument(help="The tag of the piece that it is for.")] = None,
    engine: Annotated[str | None, typer.Argument(help="The engine that it holds in.")] = None,
    authority: Annotated[str, typer.Option(help="Who allows it.")] = "",
    over: Annotated[ConcessionOver | None, typer.Option(help="Which rule it sets aside.")] = None,
    allows: Annotated[str, typer.Option(help="What it allows.")] = "",
    document: Annotated[str, typer.Option(help="The reference of its document.")] = "",
    position: Annotated[str | None, typer.Option(help="Only at this position.")] = None,
    begins: Annotated[
        datetime | None, typer.Option("--from", help="Its first day, if another.", formats=_DAY)
    ] = None,
    until: Annotated[datetime | None, typer.Option(help="Its last day.", formats=_DAY)] = None,
    hours: Annotated[str | None, typer.Option(help="The hours that it allows.")] = None,
    life_limit: Annotated[str | None, typer.Option(help="The life limit that it puts instead.")] = None,
    withdraw: Annotated[str | None, typer.Option(metavar="BECAUSE", help="Withdraw it, and why.")] = None,
) -> None:
    """Record what an authority allows beyond a limit for one piece in one engine, or withdraw it."""
    if withdraw is None and (tag is None or engine is None or over is None):
        raise typer.BadParameter("Give TAG ENGINE and --over, or --withdraw.")
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj)
        if withdraw is not None:
            refuse_passed_over(context, {"reference", "withdraw"}, "with --withdraw")
            standing = typed.concession_named(session, reference)
            concessions.withdraw_concession(session, standing, withdraw, by)
        else:
            assert tag is not None and engine is not None and over is not None
            engine_id = numbers.engine_named(session, engine)
            new = concessions.NewConcession(
                reference,
                authority,
                over,
                allows,
                typed.document_named(session, document),
                numbers.piece_by_tag(session, tag),
                engine_id,
                None if position is None else numbers.position_named(session, engine_id, position),
                begins.date() if begins else None,
                until.date() if until else None,
                hundredths(hours, "hours_allowed"),
                hundredths(life_limit, "life_limit_hours"),
            )
            concessions.grant_concession(session, new, by)
        what = done(session, by)
    say(context.obj, what, done_words(what))
