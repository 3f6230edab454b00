"""Commands on an engine: its log, its meter, its mods, and its status sheet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from typing import Annotated

import typer

from invdb.acts import mods, numbers, running, typed
from invdb.acts.as_of import as_of
from invdb.acts.engine_log import EngineLog, engine_log
from invdb.acts.mod_outlook import mod_outlook
from invdb.acts.status_sheet import status_sheet
from invdb.cli.asked import by_whom, day_of, done, done_words, hundredths, opened, refuse_passed_over, say
from invdb.cli.options import Day, EngineName, Letter, Pdf, Reading, Sure, Use, Xlsx
from invdb.paper.sheet_file import refuse_unwritable
from invdb.rules.against import against
from invdb.rules.life import (
    hours_and_starts_words,
    hours_words,
    prior_hours_words,
    prior_starts_words,
    read_prior,
)
from invdb.rules.life_limits import left_words, limit_words, used_words
from invdb.rules.mod_outlook import outlook_words
from invdb.rules.status import StatusSheet, meter_words, of_late_words
from invdb.terms import NO_PRIOR_LIFE, PRIOR_LIFE_UNKNOWN, SAFETY_LINE, RunningUse

engines = typer.Typer()


@engines.command("hours")
def hours_command(
    context: typer.Context,
    engine: EngineName,
    reading: Annotated[str | None, typer.Argument(help="What its meter reads afterwards.")] = None,
    hours: Annotated[str | None, typer.Option(help="The hours by hand, where it has no meter.")] = None,
    starts: Annotated[int, typer.Option(help="How many starts.", min=0)] = 0,
    use: Annotated[RunningUse | None, typer.Option(help="What it ran for, if not as usual.")] = None,
    note: Annotated[str, typer.Option(help="A remark.")] = "",
    sure: Sure = False,
) -> None:
    """Log what an engine ran; with no figure, show its log."""
    with opened(context.obj) as open_store:
        if reading is None and hours is None:
            refuse_passed_over(context, {"engine"}, "where the log is shown: give a reading, or --hours")
            with open_store.reading() as session:
                log = engine_log(session, numbers.engine_named(session, engine))
            say(context.obj, log, *_log_lines(log))
            return
        with open_store.writing() as session:
            by = by_whom(session, context.obj, note)
            engine_id = numbers.engine_named(session, engine)
            run = running.Run(
                use or typed.usual_use(session, engine_id),
                hundredths(reading, "reading"),
                hundredths(hours, "hours"),
                starts,
            )
            running.log_run(session, engine_id, run, by, sure=sure)
            what = done(session, by)
    say(context.obj, what, done_words(what))


def _log_lines(log: EngineLog) -> Iterator[str]:
    if log.begun_on is None:
        yield f"The log of {log.name} has not begun."
    else:
        before = hours_and_starts_words(log.prior_hours, log.prior_starts)
        yield f"The log of {log.name}, begun on {log.begun_on}; run before: {before}."
    for row in log.rows:
        read = "" if row.reading is None else hours_words(row.reading)
        starts = prior_starts_words(row.starts.known())
        total = prior_hours_words(row.total.hours.known())
        ran = prior_hours_words(row.hours.known())
        said = f"{row.number:6} {row.on}  {read:>12}  {ran} {row.use}, {starts}; in all {total}"
        yield f"{said}  {row.note}" if row.note else said
    yield f"Its meter {meter_words(log.meter)}." if log.meter is not None else "It has no meter."
    yield SAFETY_LINE


@engines.command("begin-log")
def begin_log_command(
    context: typer.Context,
    engine: EngineName,
    reading: Reading = None,
    hours: Annotated[
        str | None, typer.Option(help="Hours run until then: 120, 'at least 300', unknown.")
    ] = None,
    starts: Annotated[str | None, typer.Option(help="Starts until then, in the same way.")] = None,
    note: Annotated[str, typer.Option(help="A remark.")] = "",
) -> None:
    """Begin the log of an engine; without a reading it is logged by hand."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj, note)
        begun = running.LogBegin(
            hundredths(reading, "reading"),
            read_prior(hours, "hours") if hours is not None else PRIOR_LIFE_UNKNOWN,
            read_prior(starts, "starts", 1) if starts is not None else PRIOR_LIFE_UNKNOWN,
        )
        running.begin_log(session, numbers.engine_named(session, engine), begun, by)
        what = done(session, by)
    say(context.obj, what, done_words(what))


@engines.command("meter")
def meter_command(
    context: typer.Context,
    engine: EngineName,
    new: Annotated[str, typer.Argument(metavar="READING", help="What the new meter reads.")],
    old: Annotated[str | None, typer.Option(help="What the old one read last, if it can be read.")] = None,
    unread: Annotated[
        str | None, typer.Option(help="Hours that neither shows: 3, 'between 1 and 4', unknown.")
    ] = None,
    starts: Annotated[str | None, typer.Option(help="Starts in that time, in the same way.")] = None,
    use: Use = None,
    note: Annotated[str, typer.Option(help="A remark.")] = "",
    sure: Sure = False,
) -> None:
    """Record that an engine has another meter, or the same one put right."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj, note)
        change = running.MeterChange(
            hundredths(new, "new_reading") or 0,
            hundredths(old, "old_reading"),
            read_prior(unread, "unread") if unread is not None else NO_PRIOR_LIFE,
            read_prior(starts, "unread_starts", 1) if starts is not None else NO_PRIOR_LIFE,
            use,
        )
        running.change_meter(session, numbers.engine_named(session, engine), change, by, sure=sure)
        what = done(session, by)
    say(context.obj, what, done_words(what))


@engines.command("mod")
def mod_command(
    context: typer.Context,
    engine: EngineName,
    mod: Annotated[str | None, typer.Argument(help="The mod's code.")] = None,
    remove: Annotated[bool, typer.Option("--remove", help="It is removed, not embodied.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Do it, where it would only be shown.")] = False,
    on: Annotated[
        datetime | None, typer.Option("--on", help="The day of which it is.", formats=["%Y-%m-%d"])
    ] = None,
) -> None:
    """Show what embodying a mod would need, and embody it with --yes; with no mod, show how all stand."""
    with opened(context.obj) as open_store:
        if mod is None:
            refuse_passed_over(context, {"engine", "on"}, "where no mod is named")
            with open_store.reading() as session:
                day = as_of(session, day_of(on, context.obj))
                standing = mods.mods_on(session, numbers.engine_named(session, engine), day)
            say(context.obj, standing, *(_mod_line(each) for each in standing))
            return
        with open_store.reading() as session:
            engine_id = numbers.engine_named(session, engine)
            mod_id = typed.mod_named(session, mod, typed.engine_type_of(session, engine_id))
            outlook = mod_outlook(session, engine_id, mod_id, not remove)
        if not yes:
            say(context.obj, outlook, *outlook_words(outlook), "Nothing is done yet: add --yes to do it.")
            return
        with open_store.writing() as session:
            by = by_whom(session, replace(context.obj, on=day_of(on, context.obj)))
            act = mods.remove if remove else mods.embody
            act(session, engine_id, mod_id, by)
            what = done(session, by)
    say(context.obj, what, *outlook_words(outlook), done_words(what))


def _mod_line(mod: mods.ModOn) -> str:
    since = f" since {mod.since_on}" if mod.since_on else ""
    return f"{mod.code:10} {'embodied' if mod.embodied else 'not embodied'}{since}  {mod.name}"


@engines.command("status")
def status_command(
    context: typer.Context,
    engine: EngineName,
    on: Day = None,
    pdf: Pdf = None,
    xlsx: Xlsx = None,
    letter: Letter = False,
) -> None:
    """Draw up the status sheet of an engine, as of a day."""
    from invdb.paper.status_sheet import write_status_sheet_pdf, write_status_sheet_xlsx

    for path in (pdf, xlsx):
        if path is not None:
            refuse_unwritable(path)
    with opened(context.obj) as open_store, open_store.reading() as session:
        sheet = status_sheet(session, numbers.engine_named(session, engine), day_of(on, context.obj))
    if pdf:
        write_status_sheet_pdf(sheet, pdf, "Letter" if letter else "A4")
    if xlsx:
        write_status_sheet_xlsx(sheet, xlsx, "Letter" if letter else "A4")
    say(context.obj, sheet, *_status_lines(sheet))


def _status_lines(sheet: StatusSheet) -> Iterator[str]:
    yield f"{sheet.name}, {sheet.type_name}, serial {sheet.serial}, for {sheet.use}, owner {sheet.owner}"
    yield f"As of {sheet.as_of}"
    totals = sheet.totals
    yield f"Run in all: {hours_and_starts_words(totals.hours, totals.starts)}"
    yield f"Meter: {meter_words(sheet.meter)}"
    yield f"Ran of late: {of_late_words(sheet)}"
    for line in sheet.life:
        named = f"  {line.station:28} {line.tag:10} {line.part_name}"
        if not line.limits:
            yield f"{named}: no limit on record, ran {prior_hours_words(line.since_new.hours.known())}"
        for standing in line.limits:
            limit = standing.line
            said = f"{named}: used {used_words(limit)} of {limit_words(limit.limit)}; {left_words(limit)}"
            yield f"{said} ({limit.verdict})" + (f"; {standing.forecast}" if standing.forecast else "")
    stands_against = against(sheet)
    yield "What stands against it:" if stands_against else "Nothing on record stands against it."
    for each in stands_against:
        yield f"  {each.words}"
    yield SAFETY_LINE
