"""Commands on lives: what falls due, how much is left, limits, and overhauls that begin counts anew."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Annotated, Any

import typer

from invdb.acts import life, life_limit, life_reset, numbers, typed
from invdb.acts.as_fitted import as_fitted
from invdb.acts.due import due_list
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
from invdb.rules.build import Fitted, fitted
from invdb.rules.build_words import spot_words
from invdb.rules.due import DueLine
from invdb.rules.life import hours_and_starts_words, read_prior
from invdb.rules.life_limits import left_words, limit_words, used_words
from invdb.rules.running import Ran
from invdb.terms import NO_PRIOR_LIFE, SAFETY_LINE, LifeMeasure, LifeSince, RunningCounted

lives = typer.Typer()


@lives.command("life")
def life_command(
    context: typer.Context,
    engine: Annotated[str | None, typer.Argument(help="An engine's name or serial.")] = None,
    within_hours: Annotated[
        str | None, typer.Option(help="Also what has no more than so many hours left.")
    ] = None,
    within_months: Annotated[int | None, typer.Option(help="Also what may run out by then.", min=0)] = None,
    on: Day = None,
) -> None:
    """List what falls due on all engines; of one engine, each life with what is used and left."""
    with opened(context.obj) as open_store, open_store.reading() as session:
        day = day_of(on, context.obj)
        engine_id = numbers.engine_named(session, engine) if engine is not None else None
        due = due_list(
            session,
            engine_id,
            within_hours=hundredths(within_hours, "within_hours"),
            within_months=within_months,
            on=day,
        )
        if engine_id is None:
            say(context.obj, due, *_due_lines(due), SAFETY_LINE)
            return
        own = life.engine_life(session, engine_id, day)
        seated = [each for each in fitted(as_fitted(session, engine_id, day)) if each.thing.piece is not None]
        pieces = life.life_of(session, [each.thing.piece or 0 for each in seated], day)
    said = [
        f"{own.name} {_ran_words(own.since_new)}",
        *_limit_lines(own.stands),
        *(line for each in seated for line in _piece_lines(each, pieces[each.thing.piece or 0])),
        *_due_lines(due),
        SAFETY_LINE,
    ]
    say(context.obj, {"engine": own, "pieces": list(pieces.values()), "due": due}, *said)


def _due_lines(due: tuple[DueLine, ...]) -> Iterator[str]:
    if not due:
        yield "Nothing is over, due soon or unknown."
    for line in due:
        where = ", ".join(part for part in (line.engine_name, line.position, line.station) if part)
        subject = where if line.subject == line.engine_name else f"{line.subject}, in {where}"
        said = f"{line.verdict}: {subject}: {line.what}; {line.left}"
        yield f"{said}; {line.forecast}" if line.forecast else said


def _ran_words(ran: Ran) -> str:
    return f"ran {hours_and_starts_words(ran.hours.known(), ran.starts.known())}"


def _piece_lines(each: Fitted, piece: life.PieceLife) -> Iterator[str]:
    thing = each.thing
    yield f"{spot_words(each.spot)}: {thing.tag} {thing.part_name} {_ran_words(piece.since_new)}"
    yield from _limit_lines(piece.stands)


def _limit_lines(stands: life.LifeStanding) -> Iterator[str]:
    for place, line in enumerate(stands.lines):
        said = f"  {line.verdict}: used {used_words(line)} of {limit_words(line.limit)}; {left_words(line)}"
        said += f"; {stands.forecasts[place].words}" if stands.forecasts else ""
        yield f"{said} (limit {line.limit.key})" if line.limit.key is not None else said


@lives.command("limit")
def limit_command(
    context: typer.Context,
    part: Annotated[str | None, typer.Argument(help="A number of the part; none: an engine's own.")] = None,
    hours: Annotated[str | None, typer.Option(help="The limit in hours.")] = None,
    starts: Annotated[int | None, typer.Option(help="Or in starts.", min=1)] = None,
    months: Annotated[int | None, typer.Option(help="Or in calendar months.", min=1)] = None,
    since: Annotated[LifeSince, typer.Option(help="From when it counts.")] = LifeSince.NEW,
    counted: Annotated[RunningCounted, typer.Option(help="Which hours count.")] = RunningCounted.ALL,
    engine_type: Annotated[str | None, typer.Option("--for", help="Only in this engine type.")] = None,
    mod: Annotated[str | None, typer.Option(help="Only where this mod is embodied.")] = None,
    without_mod: Annotated[str | None, typer.Option(help="Only where this mod is not embodied.")] = None,
    prorated: Annotated[
        bool, typer.Option("--prorated", help="Its document states a proration over engine types.")
    ] = False,
    source: Annotated[str, typer.Option(help="The publication that sets it.")] = "",
    document: Annotated[str | None, typer.Option(help="The reference of its document.")] = None,
    withdraw: Annotated[int | None, typer.Option(help="Withdraw the limit of this number.")] = None,
    because: Annotated[str, typer.Option(help="Why it is withdrawn.")] = "",
) -> None:
    """Set a limit on the life of a part, or of the engines of a type; or withdraw one."""
    figures = [hours, starts, months]
    if sum(each is not None for each in figures) != (0 if withdraw is not None else 1):
        raise typer.BadParameter("Give one of --hours, --starts and --months, or --withdraw alone.")
    if mod is not None and without_mod is not None:
        raise typer.BadParameter("Give --mod or --without-mod, not both.")
    of_mod = mod if mod is not None else without_mod
    if withdraw is not None:
        refuse_passed_over(context, {"withdraw", "because"}, "with --withdraw")
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj)
        number = withdraw
        if withdraw is not None:
            life_limit.withdraw_life_limit(session, withdraw, because, by)
        else:
            measure, amount = _limit_of(hours, starts, months)
            type_id = named(session, typed.engine_type_named, engine_type)
            limit = life_limit.NewLifeLimit(
                measure,
                amount,
                named(session, numbers.part_by_number, part),
                type_id,
                None if of_mod is None else typed.mod_named(session, of_mod, type_id),
                without_mod is None,
                counted,
                since,
                prorated,
                source,
                named(session, typed.document_named, document),
            )
            number = life_limit.add_life_limit(session, limit, by)
        what = {**done(session, by), "limit": number}
    say(context.obj, what, f"{done_words(what)} It is limit {number}.")


def _limit_of(hours: str | None, starts: int | None, months: int | None) -> tuple[LifeMeasure, int]:
    if hours is not None:
        return LifeMeasure.HOURS, hundredths(hours, "amount") or 0
    if starts is not None:
        return LifeMeasure.STARTS, starts
    return LifeMeasure.MONTHS, months or 0


@lives.command("reset")
def reset_command(
    context: typer.Context,
    name: Annotated[str | None, typer.Argument(metavar="TAG | ENGINE", help="What was overhauled.")] = None,
    report: Annotated[str, typer.Option(help="The report that says what begins anew.")] = "",
    hours: Annotated[
        str | None, typer.Option(help="Hours run since that overhaul already, if it was before it came.")
    ] = None,
    starts: Annotated[str | None, typer.Option(help="Starts since then, in the same way.")] = None,
    keep: Annotated[
        list[LifeMeasure] | None, typer.Option(help="A count that the report does not begin anew.")
    ] = None,
    overhauled: Annotated[
        datetime | None, typer.Option(help="The day of the overhaul, if another.", formats=["%Y-%m-%d"])
    ] = None,
    document: Annotated[str | None, typer.Option(help="The reference of its document.")] = None,
    withdraw: Annotated[int | None, typer.Option(help="Withdraw the reset of this number.")] = None,
    because: Annotated[str, typer.Option(help="Why it is withdrawn.")] = "",
) -> None:
    """Begin the counts since overhaul anew for a piece or an engine, by a report; or withdraw that."""
    if (name is None) == (withdraw is None):
        raise typer.BadParameter("Give a tag or an engine, or --withdraw alone.")
    if withdraw is not None:
        refuse_passed_over(context, {"withdraw", "because"}, "with --withdraw")
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj)
        number = withdraw
        if withdraw is not None:
            life_reset.withdraw_life_reset(session, withdraw, because, by)
        else:
            number = life_reset.reset_life(
                session, _reset_of(session, name or "", report, hours, starts, keep, overhauled, document), by
            )
        what = {**done(session, by), "reset": number}
    say(context.obj, what, f"{done_words(what)} It is reset {number}.")


def _reset_of(
    session: Any,
    name: str,
    report: str,
    hours: str | None,
    starts: str | None,
    keep: list[LifeMeasure] | None,
    overhauled: datetime | None,
    document: str | None,
) -> life_reset.LifeResetOrder:
    kept = frozenset(keep or ())
    subject = subject_named(session, name)
    return life_reset.LifeResetOrder(
        report,
        subject.piece,
        subject.engine,
        LifeMeasure.HOURS not in kept,
        LifeMeasure.STARTS not in kept,
        LifeMeasure.MONTHS not in kept,
        overhauled.date() if overhauled else None,
        read_prior(hours, "hours") if hours is not None else NO_PRIOR_LIFE,
        read_prior(starts, "starts", 1) if starts is not None else NO_PRIOR_LIFE,
        named(session, typed.document_named, document),
    )
