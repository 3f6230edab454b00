"""Commands on what is in an engine: fit, strip, rob, take a build over, and see what is or was fitted."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

import typer

from invdb.acts import fit, fit_inside, numbers, presume, rob, strip, take_over, typed
from invdb.acts.as_fitted import as_fitted
from invdb.acts.numbers import Thing
from invdb.acts.split import measure_of
from invdb.acts.strip_plan import plan_strip
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
from invdb.cli.build_record import read_build_record
from invdb.cli.options import Control, Day, EngineName, Reading, Sure, Use
from invdb.cli.stock import paper_named
from invdb.rules.build import difference
from invdb.rules.build_words import build_words, difference_words
from invdb.rules.quantities import read_quantity
from invdb.terms import SAFETY_LINE, Asked, Condition, Refused, RunningUse

builds = typer.Typer()


@contextmanager
def _asking_use(use: RunningUse | None) -> Iterator[None]:
    """What the engine ran since its log's last line is the first thing asked; --use answers it."""
    try:
        yield
    except Asked as asked:
        if use is None and asked.field == "reading":
            raise Refused(asked.reason, f"{asked.remedy.removesuffix('.')} (--use).") from asked
        raise


def _amount(session: Any, thing: Thing, quantity: str | None) -> int | None:
    return None if quantity is None else read_quantity(quantity, measure_of(session, thing))


@builds.command("fit")
def fit_command(
    context: typer.Context,
    tag: Annotated[str | None, typer.Argument(help="The tag of what is fitted.")] = None,
    engine: Annotated[str | None, typer.Argument(help="The engine's name or serial.")] = None,
    position: Annotated[str | None, typer.Argument(help="The cylinder, or another position.")] = None,
    station: Annotated[str | None, typer.Argument(help="The station there.")] = None,
    pull: Annotated[str | None, typer.Option(help="Fit all that is out on a pull.")] = None,
    reading: Reading = None,
    use: Use = None,
    quantity: Annotated[str | None, typer.Option(help="How much of a batch; one unless said.")] = None,
    from_place: Annotated[
        str | None, typer.Option("--from", help="The place it is taken from, if it lies in several.")
    ] = None,
    override: Annotated[str, typer.Option(help="A licensed person's written reason.")] = "",
    sure: Sure = False,
) -> None:
    """Fit a thing at a station of an engine, or with --pull a whole kit that was issued."""
    if (pull is None) == (station is None) or (pull is not None and tag is not None):
        raise typer.BadParameter("Give TAG ENGINE POSITION STATION, or --pull.")
    if pull is not None:
        refuse_passed_over(context, {"pull", "reading", "use", "override", "sure"}, "with --pull")
    with opened(context.obj) as open_store, open_store.writing() as session, _asking_use(use):
        by = by_whom(session, context.obj)
        at = hundredths(reading, "reading")
        if pull is not None:
            pull_id = numbers.pull_by_number(session, pull)
            fit.fit_pull(session, pull_id, at, by, use=use, override=override, sure=sure)
        else:
            assert tag is not None and engine is not None and position is not None and station is not None
            thing = numbers.thing_by_tag(session, tag)
            engine_id = numbers.engine_named(session, engine)
            position_id = numbers.position_named(session, engine_id, position)
            each = fit.Fit(
                typed.station_named(session, engine_id, position_id, station),
                thing,
                _amount(session, thing, quantity) or 1,
                named(session, numbers.place_named, from_place),
            )
            fit.fit(session, fit.FitOrder(engine_id, position_id, (each,), at, use, override, sure), by)
        what = done(session, by)
    say(context.obj, what, done_words(what))


@builds.command("fit-inside")
def fit_inside_command(
    context: typer.Context,
    tag: Annotated[str, typer.Argument(help="The tag of the piece that is fitted.")],
    holder: Annotated[str, typer.Argument(help="The tag of the piece that it goes into.")],
    station: Annotated[str, typer.Argument(help="The station that it fills.")],
    engine_type: Annotated[str, typer.Option("--for", help="The engine type whose station that is.")],
    group: Annotated[str, typer.Option(help="The group of positions that has that station.")] = "cylinder",
) -> None:
    """Fit a piece into another on the bench, such as a guide in its barrel."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj)
        pieces = [numbers.thing_by_tag(session, each).piece for each in (holder, tag)]
        if pieces[0] is None or pieces[1] is None:
            raise Refused("Only single pieces are fitted into one another.", "Give the tags of two pieces.")
        type_id = typed.engine_type_named(session, engine_type)
        at = typed.station_of_type(session, type_id, group, station)
        fit_inside.fit_inside(session, (fit_inside.InsideFit(pieces[0], pieces[1], at),), by)
        what = done(session, by)
    say(context.obj, what, done_words(what))


@builds.command("strip")
def strip_command(
    context: typer.Context,
    names: Annotated[
        list[str], typer.Argument(metavar="TAG... | ENGINE [POSITION]", help="Tags; with --all the engine.")
    ],
    found: Annotated[str, typer.Option(help="How it was found.")],
    everything: Annotated[bool, typer.Option("--all", help="All of a position, or of the engine.")] = False,
    to: Annotated[str, typer.Option("--bin", help="Where it goes.")] = "Bench",
    condition: Annotated[Condition, typer.Option(help="Its condition now.")] = Condition.UNINSPECTED,
    reading: Reading = None,
    use: Use = None,
    orientation: Annotated[str, typer.Option(help="How it sat.")] = "",
    control: Control = None,
    quantity: Annotated[str | None, typer.Option(help="How much of a batch, if not all there.")] = None,
    from_place: Annotated[
        str | None, typer.Option("--from", help="The place it comes from, if it is fitted in several.")
    ] = None,
    scrapped: Annotated[bool, typer.Option("--scrapped", help="Thrown away untagged.")] = False,
    sure: Sure = False,
) -> None:
    """Strip things from an engine or out of another piece; with --all a whole position or engine."""
    with opened(context.obj) as open_store, open_store.writing() as session, _asking_use(use):
        by = by_whom(session, context.obj)
        place = numbers.place_named(session, to)
        engine_id: int | None
        if everything:
            if len(names) > 2:
                raise typer.BadParameter("With --all give an engine, and at most one position.")
            heeded = {"names", "everything", "found", "to", "control", "reading", "use", "sure"}
            refuse_passed_over(context, heeded, "with --all")
            engine_id = numbers.engine_named(session, names[0])
            position = numbers.position_named(session, engine_id, names[1]) if len(names) > 1 else None
            strips = plan_strip(session, engine_id, place, found, position=position, control=control)
        else:
            things = [numbers.thing_by_tag(session, tag) for tag in names]
            taken_from = named(session, numbers.place_named, from_place)
            engine_id = typed.engine_around(session, things[0], taken_from)
            strips = tuple(
                strip.Strip(
                    thing,
                    found,
                    place,
                    condition,
                    orientation,
                    control,
                    _amount(session, thing, quantity),
                    taken_from,
                    scrapped,
                )
                for thing in things
            )
        order = strip.StripOrder(engine_id, strips, hundredths(reading, "reading"), use, sure)
        stripped = strip.strip(session, order, by)
        what = {**done(session, by), "new_tags": stripped.new_tags}
    say(context.obj, what, done_words(what))


@builds.command("rob")
def rob_command(
    context: typer.Context,
    tags: Annotated[list[str], typer.Argument(help="Tags of what is taken.")],
    needed_by: Annotated[str, typer.Option("--for", help="The engine that needs it.")],
    authorised_by: Annotated[str, typer.Option(help="Who allowed it, by name.")],
    reason: Annotated[str, typer.Option(help="Why the engine is robbed.")],
    reading: Reading = None,
    use: Use = None,
    to: Annotated[str, typer.Option("--bin", help="Where it goes.")] = "Bench",
    control: Control = None,
    sure: Sure = False,
) -> None:
    """Rob an engine of what another needs; it is owed back until its station is filled again."""
    with opened(context.obj) as open_store, open_store.writing() as session, _asking_use(use):
        by = by_whom(session, context.obj)
        things = tuple(numbers.thing_by_tag(session, tag) for tag in tags)
        donor = typed.engine_around(session, things[0])
        if donor is None:
            raise Refused(f"{tags[0]} is in no engine.", "Look at its trace.")
        robbery = rob.Robbery(
            donor,
            things,
            numbers.place_named(session, to),
            numbers.person_named(session, authorised_by),
            numbers.engine_named(session, needed_by),
            reason,
            hundredths(reading, "reading"),
            control=control,
            use=use,
            sure=sure,
        )
        stripped = rob.rob(session, robbery, by)
        what = {**done(session, by), "new_tags": stripped.new_tags}
    say(context.obj, what, done_words(what))


@builds.command("take-over")
def take_over_command(
    context: typer.Context,
    engine: EngineName,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A CSV file, a line for each thing in it.")],
    paper: Annotated[
        str | None, typer.Option(help="The build record: KIND:REFERENCE, or KIND:REFERENCE:FILE.")
    ] = None,
    document: Annotated[str | None, typer.Option(help="Or its reference, if it is here already.")] = None,
    reading: Reading = None,
    use: Use = None,
    as_found: Annotated[
        bool, typer.Option("--as-found", help="Take also what the kit list does not allow there.")
    ] = False,
    sure: Sure = False,
) -> None:
    """Take over the build record of an engine: book in what it says is at each station."""
    with opened(context.obj) as open_store, open_store.writing() as session, _asking_use(use):
        by = by_whom(session, context.obj)
        engine_id = numbers.engine_named(session, engine)
        record = take_over.TakenOver(
            engine_id,
            read_build_record(session, engine_id, file),
            hundredths(reading, "reading"),
            named(session, typed.document_named, document),
            paper_named(paper) if paper is not None else None,
            use,
            as_found,
            sure,
        )
        built = take_over.take_over(session, record, by)
        what = {**done(session, by), "tags": [tag for _, tag in built.things]}
    say(context.obj, what, done_words(what))


@builds.command("presume")
def presume_command(
    context: typer.Context,
    engine: EngineName,
    positions: Annotated[
        list[str] | None, typer.Argument(help="Only these positions; all unless named.")
    ] = None,
) -> None:
    """Presume the stations of an engine filled that came with no build record."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj)
        engine_id = numbers.engine_named(session, engine)
        presume.presume(session, engine_id, by, typed.positions_named(session, engine_id, positions or ()))
        what = done(session, by)
    say(context.obj, what, done_words(what))


@builds.command("identify")
def identify_command(
    context: typer.Context,
    engine: EngineName,
    position: Annotated[str, typer.Argument(help="The cylinder, or another position.")],
    station: Annotated[str, typer.Argument(help="The station there.")],
    found: Annotated[str, typer.Option(help="How it was found, or that nothing was.")],
    part: Annotated[str | None, typer.Option(help="A number of the part that it is; none: empty.")] = None,
    to: Annotated[str, typer.Option("--bin", help="Where it goes.")] = "Bench",
    serial: Annotated[str, typer.Option(help="The maker's serial.")] = "",
    condition: Annotated[Condition, typer.Option(help="Its condition.")] = Condition.UNINSPECTED,
    orientation: Annotated[str, typer.Option(help="How it sat.")] = "",
    control: Control = None,
    quantity: Annotated[int | None, typer.Option(help="How many, if not as presumed.")] = None,
    reading: Reading = None,
    use: Use = None,
    sure: Sure = False,
) -> None:
    """Strip a station that was presumed filled, and say what came out of it."""
    with opened(context.obj) as open_store, open_store.writing() as session, _asking_use(use):
        by = by_whom(session, context.obj)
        engine_id = numbers.engine_named(session, engine)
        position_id = numbers.position_named(session, engine_id, position)
        at = typed.station_named(session, engine_id, position_id, station)
        find = presume.Unidentified(
            typed.presumption_at(session, engine_id, position_id, at),
            found,
            named(session, numbers.part_by_number, part),
            numbers.place_named(session, to),
            serial,
            condition,
            orientation,
            control,
            quantity,
        )
        made = presume.strip_presumed(
            session, engine_id, (find,), hundredths(reading, "reading"), by, use=use, sure=sure
        )
        what = {**done(session, by), "tags": [tag for _, tag in made.things]}
    say(context.obj, what, done_words(what))


@builds.command("fitted")
def fitted_command(
    context: typer.Context,
    engine: EngineName,
    on: Day = None,
    believed: Annotated[
        datetime | None, typer.Option(help="As was believed at the end of that day.", formats=["%Y-%m-%d"])
    ] = None,
    against: Annotated[
        datetime | None, typer.Option(help="Show what changed from that day on.", formats=["%Y-%m-%d"])
    ] = None,
) -> None:
    """Show what is fitted in an engine, or was on a day; with --against, what changed between two days."""
    with opened(context.obj) as open_store, open_store.reading() as session:
        engine_id = numbers.engine_named(session, engine)
        at = typed.end_of_day(session, believed.date()) if believed else None
        build = as_fitted(session, engine_id, day_of(on, context.obj), at)
        before = as_fitted(session, engine_id, against.date(), at) if against else None
    if before is None:
        say(context.obj, build, *build_words(build), SAFETY_LINE)
        return
    differs = difference(before, build)
    head = f"{build.engine_name}, from {before.on} to {build.on}:"
    say(context.obj, differs, head, *difference_words(differs), SAFETY_LINE)
