"""Commands at the bench: inspect a thing, what parts must be, and what measures them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager
from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from invdb.acts import numbers
from invdb.acts.goods_in import ReceivingChecks
from invdb.acts.inspect import InspectionOrder, called_for, inspect
from invdb.acts.inspection_sheet import inspection_sheet, sheet_for_part
from invdb.acts.inspections_of import filled_sheet, inspections_of
from invdb.acts.instrument import (
    InstrumentFacts,
    NewInstrument,
    add_instrument,
    calibrate,
    instrument_numbered,
    instruments,
    withdraw_instrument,
)
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, read_content
from invdb.acts.part_size import NewPartSize, add_part_size, sizes_of, withdraw_part_size
from invdb.acts.spec import NewSpec, add_spec, ask_of_sizes, spec_on, specs_of, withdraw_spec
from invdb.acts.typed import document_named
from invdb.cli.asked import by_whom, day_of, named, opened, refuse_passed_over, say
from invdb.cli.bench_words import READING_SHAPE, TEST_SHAPE, read_spec_lines, typed_reading, typed_test
from invdb.cli.options import Day, Letter, Pdf, Sure
from invdb.paper.sheet_file import refuse_unwritable
from invdb.paper.sheet_words import PageName
from invdb.rules.inspecting import Proposed, place_words
from invdb.rules.inspection_sheet import InspectionDone, SheetLine, SheetToFill, asked_words
from invdb.rules.measuring import both_ways, kept
from invdb.rules.specification import SpecFacts, SpecLineFacts, range_words, single_spaced
from invdb.store import Store
from invdb.terms import SAFETY_LINE, Condition, PaperKind, Refused, Scope

inspections = typer.Typer()
_DAY = ["%Y-%m-%d"]


@inspections.command("inspect")
def inspect_command(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="TAG | PART", help="What is on the bench.")],
    reading: Annotated[list[str] | None, typer.Option(help=f"{READING_SHAPE}; once for each.")] = None,
    test: Annotated[list[str] | None, typer.Option(help=f"{TEST_SHAPE}; once for each.")] = None,
    decide: Annotated[Condition | None, typer.Option(help="Keep it, and decide its condition.")] = None,
    scope: Annotated[Scope | None, typer.Option(help="What it is accepted for.")] = None,
    reason: Annotated[str, typer.Option(help="Why it is decided against the figures.")] = "",
    to: Annotated[str | None, typer.Option("--bin", help="Where it goes.")] = None,
    right_part: Annotated[str, typer.Option(help="Check: is it the right part?")] = "",
    papers_match: Annotated[str, typer.Option(help="Check: do the papers match?")] = "",
    damage: Annotated[str, typer.Option(help="Check: is it damaged?")] = "",
    hazards: Annotated[str, typer.Option(help="Check: what hazards were seen to?")] = "",
    override: Annotated[str, typer.Option(help="A licensed person's written reason.")] = "",
    photograph: Annotated[list[Path] | None, typer.Option(help="A photograph's file.")] = None,
    note: Annotated[str, typer.Option(help="What else is to be said.")] = "",
    size: Annotated[str, typer.Option(help="Of a part: the size that the sheet is for.")] = "",
    kept_as: Annotated[int | None, typer.Option("--inspection", help="One kept before, by number.")] = None,
    pdf: Pdf = None,
    letter: Letter = False,
    sure: Sure = False,
) -> None:
    """Lay out a sheet to fill in, say what figures call for, or keep an inspection with its decision."""
    if pdf is not None:
        refuse_unwritable(pdf)
    page: PageName = "Letter" if letter else "A4"
    if kept_as is not None:
        refuse_passed_over(context, {"name", "kept_as", "pdf", "letter"}, "with --inspection")
        _show_kept(context.obj, name, kept_as, pdf, page)
        return
    if not reading and not test:
        heeded = {"name", "size", "pdf", "letter"}
        refuse_passed_over(context, heeded, "without --reading or --test")
        _show_sheet(context.obj, name, size, pdf, page)
        return
    if decide is None:
        refuse_passed_over(context, {"name", "reading", "test", "sure"}, "without --decide")
    with opened(context.obj) as open_store, _looking(open_store, decide) as session:
        order = InspectionOrder(
            numbers.thing_by_tag(session, name),
            tuple(typed_reading(session, each) for each in reading or ()),
            tuple(typed_test(session, each) for each in test or ()),
            decide or Condition.UNINSPECTED,
            scope,
            ReceivingChecks(right_part, papers_match, damage, hazards),
            reason,
            named(session, numbers.place_named, to),
            tuple(
                NewPaper(PaperKind.PHOTOGRAPH, each.stem, content=read_content(each), file_name=each.name)
                for each in photograph or ()
            ),
            override=override,
            note=note,
            sure=sure,
        )
        proposed = called_for(session, order, context.obj.on)
        made = None if decide is None else inspect(session, order, by_whom(session, context.obj))
    lines = [each.words for each in proposed.lines if each.judged is not None or each.test is not None]
    lines += [each.words for each in proposed.further]
    lines += [f"{name}: no line asks for it, so nothing judges it" for name in unasked(order, proposed)]
    called = f"The figures call for {proposed.condition}: {'; '.join(proposed.reasons)}."
    if made is None:
        ending = "Nothing is kept: decide with --decide."
    else:
        ending = f"Kept as inspection {made}: {decide}{f' for {scope}' if scope else ''}."
    say(context.obj, {"proposed": _plain(proposed), "inspection": made}, *lines, called, ending, SAFETY_LINE)


def unasked(order: InspectionOrder, proposed: Proposed) -> list[str]:
    """The figures given that no line asks for, each once, so that a mistyped name is seen."""
    asked = {single_spaced(each.line.name).casefold() for each in proposed.lines}
    given = dict.fromkeys(single_spaced(each.name) for each in order.readings)
    return [name for name in given if name.casefold() not in asked]


def _looking(open_store: Store, decide: Condition | None) -> AbstractContextManager[Any]:
    """A session that keeps what is decided; only to look where nothing is."""
    return open_store.reading() if decide is None else open_store.writing()


def _plain(proposed: Proposed) -> dict[str, object]:
    return {
        "condition": proposed.condition,
        "reasons": proposed.reasons,
        "missing": proposed.missing,
        "out": proposed.bad,
    }


def _show_sheet(asked: Any, name: str, size: str, pdf: Path | None, page: PageName) -> None:
    with opened(asked) as open_store, open_store.reading() as session:
        thing, part = _thing_or_part(session, name)
        past: tuple[InspectionDone, ...] = ()
        if thing is not None:
            sheet = inspection_sheet(session, thing, asked.on)
            past = inspections_of(session, thing, asked.on)
        else:
            assert part is not None
            sheet = sheet_for_part(session, part, size, asked.on)
    if pdf is not None:
        from invdb.paper.inspection_sheet import write_inspection_sheet_pdf

        write_inspection_sheet_pdf(sheet, pdf, page)
    say(asked, {"sheet": sheet, "past": past}, *_sheet_lines(sheet), *map(_past_line, past), SAFETY_LINE)


def _thing_or_part(session: Any, name: str) -> tuple[Thing | None, int | None]:
    """A piece or batch by its tag, else a part by its number; Refused as a tag is where it is neither."""
    try:
        return numbers.thing_by_tag(session, name), None
    except Refused as no_tag:
        try:
            return None, numbers.part_by_number(session, name)
        except Refused:
            raise no_tag from None


def _sheet_lines(sheet: SheetToFill) -> Iterator[str]:
    of = f"{sheet.tag}  " if sheet.tag else ""
    yield f"{of}{sheet.part_number} {sheet.part_name}, {sheet.size_class or 'standard size'}"
    if not sheet.revision:
        yield f"No specification is in force on {sheet.on.isoformat()}."
        return
    yield f"By revision {sheet.revision}, {sheet.source}, in force on {sheet.on.isoformat()}"
    for each in sheet.lines:
        yield f"  {_line_words(each.line)}"
        yield from _places(each)


def _line_words(line: SpecLineFacts) -> str:
    new = range_words(line.limits.new_low, line.limits.new_high, line.unit)
    worn = range_words(line.limits.worn_low, line.limits.worn_high, line.unit)
    said = [f"new {new}"] if new else []
    said += [f"worn {worn}"] if worn else []
    said += [words] if (words := asked_words(line)) else []
    return f"{line.name} ({line.kind}): {'; '.join(said)}" if said else f"{line.name} ({line.kind})"


def _places(each: SheetLine) -> Iterator[str]:
    """Where a line is measured, and what it last read there."""
    if not each.line.kind.measured:
        return
    last = {(reading.point, reading.direction): reading for reading in each.last}
    for point, direction in each.line.limits.places:
        where = place_words(point, direction) or "once"
        reading = last.get((point, direction))
        read = ""
        if reading is not None:
            figure = both_ways(kept(reading.figure, reading.unit))
            read = f": last {figure} on {reading.measured_on.isoformat()}, {reading.judged.verdict}"
        yield f"    {where}{read}"


def _past_line(done: InspectionDone) -> str:
    scope = f" for {done.scope}" if done.scope else ""
    words = (
        f"Inspection {done.id}, {done.inspected_on.isoformat()} by {done.inspected_by}: {done.decided}{scope}"
    )
    differs = f"; judged otherwise today: {'; '.join(done.differs)}" if done.differs else ""
    return f"{words}{differs}"


def _show_kept(asked: Any, name: str, inspection: int, pdf: Path | None, page: PageName) -> None:
    with opened(asked) as open_store, open_store.reading() as session:
        past = inspections_of(session, numbers.thing_by_tag(session, name))
        done = next((each for each in past if each.id == inspection), None)
        if done is None:
            known = ", ".join(str(each.id) for each in past) or "none yet"
            raise Refused(f"{name} has no inspection {inspection}.", f"Its inspections are: {known}.")
        sheet = filled_sheet(session, inspection)
    if pdf is not None:
        from invdb.paper.inspection_filled import write_inspection_pdf

        write_inspection_pdf(sheet, pdf, page)
    say(asked, done, *_done_lines(done), SAFETY_LINE)


def _done_lines(done: InspectionDone) -> Iterator[str]:
    yield _past_line(done)
    yield f"By {done.revision}" if done.revision else "No specification was in force."
    for line in done.lines:
        for reading in line.readings:
            where = place_words(reading.point, reading.direction)
            verdict = reading.then.words if reading.then is not None else "no limits"
            with_ = f", with {reading.instrument}" if reading.instrument else ""
            yield f"  {f'{line.name} {where}'.strip()}: {reading.words}, {verdict}{with_}"
    for test in done.tests:
        yield f"  {test.name}: {'passed' if test.passed else 'not passed'}; {test.words}"
    if done.reason:
        yield f"The figures called for {done.proposed}; the reason given: {done.reason}"


@inspections.command("spec")
def spec_command(
    context: typer.Context,
    part: Annotated[str, typer.Argument(help="The part's number.")],
    file: Annotated[Path | None, typer.Option("--put-in", help="A CSV file of its lines.")] = None,
    revision: Annotated[str, typer.Option(help="The name of that revision.")] = "",
    begins: Annotated[
        datetime | None, typer.Option("--from", help="In force from that day.", formats=_DAY)
    ] = None,
    source: Annotated[str, typer.Option(help="What publishes it.")] = "",
    document: Annotated[str | None, typer.Option(help="The reference of its document.")] = None,
    note: Annotated[str, typer.Option(help="What else is to be said.")] = "",
    withdraw: Annotated[str | None, typer.Option(metavar="REVISION", help="Withdraw that revision.")] = None,
    add_size: Annotated[str | None, typer.Option(metavar="SIZE", help="Add an over- or undersize.")] = None,
    withdraw_size: Annotated[str | None, typer.Option(metavar="SIZE", help="Withdraw a size.")] = None,
    because: Annotated[str, typer.Option(help="Why it is withdrawn.")] = "",
    on: Day = None,
    sure: Sure = False,
) -> None:
    """Show what a part must be, put in a revision of that or withdraw one, and add or withdraw a size."""
    acts = [each for each in (file, withdraw, add_size, withdraw_size) if each is not None]
    if len(acts) > 1:
        raise typer.BadParameter("Do one thing at a time.")
    if not acts:
        refuse_passed_over(context, {"part", "on"}, "when a specification is shown")
        _show_spec(context.obj, part, day_of(on, context.obj))
        return
    with opened(context.obj) as open_store, open_store.writing() as session:
        part_id, by = numbers.part_by_number(session, part), by_whom(session, context.obj, note)
        if file is not None:
            heeded = {"part", "file", "revision", "begins", "source", "document", "note", "sure"}
            refuse_passed_over(context, heeded, "with --put-in")
            if begins is None:
                raise typer.BadParameter("Say with --from since which day it is in force.")
            spec = NewSpec(
                part_id,
                revision,
                begins.date(),
                source,
                read_spec_lines(file),
                named(session, document_named, document),
                note,
            )
            made = add_spec(session, spec, by, sure)
            if not sure:
                ask_of_sizes(spec.lines)
            count = len(spec.lines)
            said = f"Put in: revision {revision} of {part}, {count} {'line' if count == 1 else 'lines'}."
            standing = spec_on(session, part_id)
            if standing is None or standing.id != made:
                now = "no revision" if standing is None else f"revision {standing.revision}"
                said = f"{said} In force today is {now}."
        elif withdraw is not None:
            refuse_passed_over(context, {"part", "withdraw", "because"}, "with --withdraw")
            withdraw_spec(session, _revision(session, part_id, part, withdraw), because, by)
            standing = spec_on(session, part_id)
            now = "no revision" if standing is None else f"revision {standing.revision}"
            said = f"Withdrawn: revision {withdraw} of {part}. In force today is {now}."
        elif add_size is not None:
            refuse_passed_over(context, {"part", "add_size", "note"}, "with --add-size")
            add_part_size(session, NewPartSize(part_id, add_size, note), by)
            said = f"Added: {part} in {add_size}."
        else:
            assert withdraw_size is not None
            refuse_passed_over(context, {"part", "withdraw_size", "because"}, "with --withdraw-size")
            withdraw_part_size(session, _size(session, part_id, part, withdraw_size), because, by)
            said = f"Withdrawn: {part} in {withdraw_size}."
    say(context.obj, {"said": said}, said)


def _revision(session: Any, part: int, number: str, name: str) -> int:
    standing = [each for each in specs_of(session, part) if each.withdrawn_on is None]
    for each in standing:
        if each.revision.casefold() == name.strip().casefold():
            return each.id
    known = ", ".join(each.revision for each in standing) or "none yet"
    raise Refused(f"{number} has no revision {name.strip()!r}.", f"Its revisions are: {known}.")


def _size(session: Any, part: int, number: str, name: str) -> int:
    sizes = [each for each in sizes_of(session, part) if each.id is not None]
    for each in sizes:
        if (
            each.id is not None
            and single_spaced(each.size_class).casefold() == single_spaced(name).casefold()
        ):
            return each.id
    known = ", ".join(each.size_class for each in sizes) or "none yet"
    raise Refused(f"{number} is not made in {name.strip()!r} besides its own size.", f"Others are: {known}.")


def _show_spec(asked: Any, part: str, on: date | None) -> None:
    with opened(asked) as open_store, open_store.reading() as session:
        part_id = numbers.part_by_number(session, part)
        standing, every = spec_on(session, part_id, on), specs_of(session, part_id)
        sizes = sizes_of(session, part_id, on)
    lines = [f"Made in: {', '.join(each.size_class or 'standard size' for each in sizes)}"]
    if standing is None:
        lines.append("No specification is in force.")
    else:
        lines.append(f"{_spec_head(standing)}, in force{f' on {on.isoformat()}' if on is not None else ''}")
        for line in standing.lines:
            size = f"{line.size_class}: " if line.size_class else ""
            lines.append(f"  {size}{_line_words(line)}")
    lines += [_spec_head(each) for each in every if standing is None or each.id != standing.id]
    say(asked, {"in force": standing, "revisions": every, "sizes": sizes}, *lines, SAFETY_LINE)


def _spec_head(spec: SpecFacts) -> str:
    ended = f", withdrawn on {spec.withdrawn_on.isoformat()}" if spec.withdrawn_on is not None else ""
    return f"Revision {spec.revision} from {spec.from_on.isoformat()}: {spec.source or spec.document}{ended}"


@inspections.command("instrument")
def instrument_command(
    context: typer.Context,
    number: Annotated[str | None, typer.Argument(help="The instrument's own number.")] = None,
    name: Annotated[str | None, typer.Option(help="What it is; adds it.")] = None,
    calibrated: Annotated[
        datetime | None, typer.Option(help="The day of its calibration.", formats=_DAY)
    ] = None,
    due: Annotated[datetime | None, typer.Option(help="The last day that that holds.", formats=_DAY)] = None,
    note: Annotated[str, typer.Option(help="What else is to be said.")] = "",
    withdraw: Annotated[str | None, typer.Option(metavar="BECAUSE", help="Withdraw it, and why.")] = None,
    on: Day = None,
) -> None:
    """Show the instruments, add one, record that one was calibrated again, or withdraw one."""
    if number is None:
        refuse_passed_over(context, {"on"}, "without an instrument's number")
        with opened(context.obj) as open_store, open_store.reading() as session:
            found = instruments(session, day_of(on, context.obj))
        say(context.obj, found, *(map(_instrument_line, found) if found else ["There is no instrument."]))
        return
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj)
        if withdraw is not None:
            refuse_passed_over(context, {"number", "withdraw"}, "with --withdraw")
            withdraw_instrument(session, instrument_numbered(session, number), withdraw, by)
            said = f"Withdrawn: {number}."
        elif name is not None:
            refuse_passed_over(context, {"number", "name", "calibrated", "due", "note"}, "with --name")
            days = (calibrated.date() if calibrated else None, due.date() if due else None)
            add_instrument(session, NewInstrument(number, name, *days, note), by)
            said = f"Added: {number} {name}."
        elif calibrated is not None and due is not None:
            refuse_passed_over(context, {"number", "calibrated", "due"}, "of a calibration")
            instrument = instrument_numbered(session, number)
            calibrate(session, instrument, calibrated.date(), due.date(), by)
            said = f"Calibrated: {number} on {calibrated.date().isoformat()}, until {due.date().isoformat()}."
        else:
            raise typer.BadParameter("Give --name to add it, --calibrated and --due, or --withdraw.")
    say(context.obj, {"said": said}, said)


def _instrument_line(each: InstrumentFacts) -> str:
    if each.doubt:
        return f"{each.number:10} {each.name:24} {each.doubt}"
    assert each.calibrated_on is not None
    until = f", until {each.calibration_due_on.isoformat()}" if each.calibration_due_on else ""
    return f"{each.number:10} {each.name:24} calibrated on {each.calibrated_on.isoformat()}{until}"
