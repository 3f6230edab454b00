"""Commands on doubts: what befell an engine, what clears it, and the recall of what is doubtful."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from invdb.acts import engine_event, numbers, recall, typed
from invdb.acts.event_lines import EngineEventLine, events_of_engine
from invdb.acts.hold import subject_named
from invdb.acts.hold_recalled import Recalled, hold_recalled
from invdb.acts.numbers import Thing
from invdb.cli.asked import by_whom, done, done_words, named, opened, refuse_passed_over, say
from invdb.cli.options import EngineName, Letter, Pdf, Sure, Xlsx
from invdb.paper.sheet_file import refuse_unwritable
from invdb.paper.sheet_words import PageName
from invdb.rules.recall import RecallLetter, RecallQuestion, RecallReport, count_words, run_words, where_words
from invdb.terms import SAFETY_LINE, EngineEventKind, Refused

doubts = typer.Typer()
_DAY = ["%Y-%m-%d"]


@doubts.command("event")
def event_command(
    context: typer.Context,
    engine: EngineName,
    kind: Annotated[EngineEventKind | None, typer.Argument(help="What befell it.")] = None,
    note: Annotated[str, typer.Option(help="What was seen.")] = "",
    sure: Sure = False,
) -> None:
    """Record what befell an engine, which puts all inside it in doubt; with no kind, list its events."""
    with opened(context.obj) as open_store:
        if kind is None:
            refuse_passed_over(context, {"engine"}, "where events are listed: say what befell it")
            with open_store.reading() as session:
                lines = events_of_engine(session, numbers.engine_named(session, engine))
            say(context.obj, lines, *_event_lines(lines), SAFETY_LINE)
            return
        with open_store.writing() as session:
            by = by_whom(session, context.obj)
            new = engine_event.NewEvent(numbers.engine_named(session, engine), kind, note)
            number = engine_event.record_event(session, new, by, sure)
            what = {**done(session, by), "event": number}
    say(context.obj, what, f"{done_words(what)} It is event {number}.")


def _event_lines(lines: tuple[EngineEventLine, ...]) -> Iterator[str]:
    if not lines:
        yield "Nothing has befallen it."
    for line in lines:
        cleared = "cleared" if line.cleared else "not cleared"
        yield f"Event {line.event}: {line.words}: {line.note or 'no note'}; the engine itself {cleared}"
        for thing in line.not_cleared:
            yield f"  not cleared: {thing.tag} {thing.part_name}, now {thing.where}"
        if line.presumed:
            yield f"  and {line.presumed} presumed, unidentified"


@doubts.command("clear-event")
def clear_event_command(
    context: typer.Context,
    number: Annotated[int, typer.Argument(help="The event's number.")],
    names: Annotated[list[str], typer.Argument(metavar="TAG | ENGINE", help="What was inspected.")],
    inspection: Annotated[str, typer.Option(help="The inspection, by name and method.")],
    document: Annotated[str | None, typer.Option(help="The reference of its report.")] = None,
) -> None:
    """Clear pieces, batches or the engine itself of an event, by an inspection named for it."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj)
        engine_event.clear_event(
            session,
            number,
            [subject_named(session, name) for name in names],
            inspection,
            by,
            named(session, typed.document_named, document),
        )
        what = done(session, by)
    say(context.obj, what, done_words(what))


@doubts.command("recall")
def recall_command(
    context: typer.Context,
    tags: Annotated[list[str] | None, typer.Argument(help="Tags, where nothing else is asked.")] = None,
    part: Annotated[str | None, typer.Option(help="Any number of a part.")] = None,
    batch: Annotated[str | None, typer.Option(help="The tag of a batch, with all split off it.")] = None,
    firm: Annotated[str | None, typer.Option(help="The firm it came from.")] = None,
    document: Annotated[str | None, typer.Option(help="The reference of a document behind it.")] = None,
    first: Annotated[
        datetime | None, typer.Option("--from", help="Received from that day on.", formats=_DAY)
    ] = None,
    last: Annotated[
        datetime | None, typer.Option("--to", help="Received until that day.", formats=_DAY)
    ] = None,
    reason: Annotated[str, typer.Option(help="The doubt, as the letter says it.")] = "",
    addressee: Annotated[str, typer.Option(help="To whom the letter goes.")] = "",
    request: Annotated[str, typer.Option(help="What they are asked to do.")] = "",
    hold: Annotated[
        str | None, typer.Option(metavar="REASON", help="Put all of it on hold, and why.")
    ] = None,
    pdf: Pdf = None,
    xlsx: Xlsx = None,
    letter: Letter = False,
) -> None:
    """Find all of a doubtful part, batch or origin, wherever it now is; and put it on hold if asked."""
    for path in (pdf, xlsx):
        if path is not None:
            refuse_unwritable(path)
    if (pdf or xlsx) and not (reason or hold):
        raise typer.BadParameter("A letter says why: give --reason.")
    with opened(context.obj) as open_store:
        recalled: Recalled | None = None
        with open_store.reading() as session:
            question = _question(session, tags, part, batch, firm, document, first, last)
        if hold is not None:
            with open_store.writing() as session:
                recalled = hold_recalled(session, question, hold, by_whom(session, context.obj))
        with open_store.reading() as session:
            report = recall.recall(session, question)
            if pdf or xlsx:
                try:
                    signer = by_whom(session, context.obj).person
                    why = reason or hold or ""
                    told = recall.recall_letter(session, question, why, signer, addressee, request)
                    _write_letter(told, pdf, xlsx, "Letter" if letter else "A4")
                except Refused as refused:
                    if recalled is None:
                        raise
                    said = f"All of it is on hold (entry {recalled.entry}). {refused.reason}"
                    raise Refused(said, refused.remedy) from refused
    lines = [*_report_lines(report), *(_held_lines(recalled) if recalled else ()), SAFETY_LINE]
    say(context.obj, {"report": report, "held": recalled}, *lines)


def _write_letter(letter: RecallLetter, pdf: Path | None, xlsx: Path | None, page: PageName) -> None:
    from invdb.paper.recall_letter import write_recall_letter_pdf, write_recall_letter_xlsx

    if pdf:
        write_recall_letter_pdf(letter, pdf, page)
    if xlsx:
        write_recall_letter_xlsx(letter, xlsx, page)


def _question(
    session: Any,
    tags: list[str] | None,
    part: str | None,
    batch: str | None,
    firm: str | None,
    document: str | None,
    first: datetime | None,
    last: datetime | None,
) -> RecallQuestion | tuple[Thing, ...]:
    bounds = (part, batch, firm, document, first, last)
    if tags:
        if any(each is not None for each in bounds):
            raise typer.BadParameter("Give tags, or what they have in common, not both.")
        return tuple(numbers.thing_by_tag(session, tag) for tag in tags)
    return RecallQuestion(
        named(session, numbers.part_by_number, part),
        named(session, numbers.batch_by_tag, batch),
        named(session, numbers.firm_named, firm),
        named(session, typed.document_named, document),
        first.date() if first else None,
        last.date() if last else None,
    )


def _report_lines(report: RecallReport) -> Iterator[str]:
    yield f"Recall: {report.asked}"
    for count in report.counts:
        yield f"  {count_words(count)}"
    for line in report.lines:
        where = "; ".join(where_words(line)) or "nothing is left of it"
        yield f"{line.tag:10} {line.part_number} {line.part_name}: {where}"
        for run in line.runs:
            yield f"  ran in {run_words(line, run)}"
        for held in line.held:
            yield f"  {held}"
    if not report.lines:
        yield "Nothing here is concerned."


def _held_lines(recalled: Recalled) -> Iterator[str]:
    yield f"Put on hold (entry {recalled.entry}): {', '.join(recalled.held) or 'nothing more'}."
    for said, which in (
        ("On hold for that already", recalled.already),
        ("Engines on hold", recalled.engines),
        ("Taken to the quarantine", recalled.quarantined),
        ("Reserved, and not to be issued", recalled.reserved),
        ("To be fetched", recalled.elsewhere),
    ):
        if which:
            yield f"{said}: {'; '.join(which)}."
