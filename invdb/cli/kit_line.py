"""Commands on kit lists: add a line, correct one, end one, or replace it from a day on."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any

import typer

from invdb.acts import kit_line_edit as edit
from invdb.acts.catalogue import Holds, NewKitLine
from invdb.acts.change import seen_of
from invdb.acts.numbers import part_by_number
from invdb.acts.typed import engine_type_named
from invdb.cli.asked import by_whom, done, done_words, named, opened, say
from invdb.cli.held import (
    AnyMod,
    Because,
    From,
    FromDay,
    OfMod,
    Positions,
    SerialFrom,
    SerialTo,
    Until,
    WithoutMod,
    held,
)

kit_line = typer.Typer(help="Add to a kit list, correct a line, end one, or replace it from a day on.")

Line = Annotated[int, typer.Argument(help="The kit line, as `part` numbers it.")]
Part = Annotated[str | None, typer.Option(help="Any number of the part it asks for.")]
Station = Annotated[str | None, typer.Option(help="Where in the position it is fitted.")]
Quantity = Annotated[str | None, typer.Option(help="How much: 2, 1.25 m, 350 g.")]
Sequence = Annotated[int | None, typer.Option(help="Its turn in the list.", min=0)]
Renewed = Annotated[
    bool | None, typer.Option("--renewed/--not-renewed", help="Whether it is renewed always.")
]
Note = Annotated[str | None, typer.Option(help="What the list says of it.")]


@kit_line.command("add")
def add_command(
    context: typer.Context,
    engine_type: Annotated[str, typer.Argument(help="The engine type.")],
    group: Annotated[str, typer.Argument(help="The group of positions, such as cylinder.")],
    station: Annotated[str, typer.Argument(help="Where in the position it is fitted.")],
    part: Annotated[str, typer.Argument(help="Any number of the part.")],
    because: Because,
    quantity: Annotated[str, typer.Option(help="How much: 2, 1.25 m, 350 g.")] = "1",
    sequence: Annotated[int, typer.Option(help="Its turn in the list.", min=0)] = 0,
    renewed: Annotated[bool, typer.Option("--renewed", help="Renewed always: unused stock only.")] = False,
    note: Annotated[str, typer.Option(help="What the list says of it.")] = "",
    positions: Positions = None,
    serial_from: SerialFrom = None,
    serial_to: SerialTo = None,
    mod: OfMod = None,
    without_mod: WithoutMod = None,
    from_on: From = None,
) -> None:
    """Add a line to the kit list of a group."""
    bounds = (positions, serial_from, serial_to, mod, without_mod, False, from_on)
    with opened(context.obj) as open_store, open_store.writing() as session:
        type_id = engine_type_named(session, engine_type)
        part_id = part_by_number(session, part)
        amount = edit.read_asked_for(session, part_id, quantity)
        holds = held(session, Holds(), type_id, *bounds)
        by = by_whom(session, context.obj, because)
        line = NewKitLine(type_id, group, sequence, station, part_id, amount, renewed, holds, note)
        made = edit.add_to_kit_list(session, line, by)
        what = {**done(session, by), "kit_line": made}
    say(context.obj, what, f"{done_words(what)} It is kit line {made}.")


@kit_line.command("change")
def change_command(
    context: typer.Context,
    line: Line,
    because: Because,
    part: Part = None,
    station: Station = None,
    quantity: Quantity = None,
    sequence: Sequence = None,
    renewed: Renewed = None,
    note: Note = None,
    positions: Positions = None,
    serial_from: SerialFrom = None,
    serial_to: SerialTo = None,
    mod: OfMod = None,
    without_mod: WithoutMod = None,
    any_mod: AnyMod = False,
    from_on: From = None,
) -> None:
    """Correct a line that was written wrongly; what was right till now is replaced instead."""
    bounds = (positions, serial_from, serial_to, mod, without_mod, any_mod, from_on)
    with opened(context.obj) as open_store, open_store.writing() as session:
        kept = edit.kit_line_as_kept(session, line)
        corrected = _typed(session, kept, part, station, quantity, sequence, renewed, note, bounds)
        by = by_whom(session, context.obj, because)
        edit.correct_kit_line(session, line, seen_of(session, "kit_line", line), corrected, by)
        what = done(session, by)
    say(context.obj, what, done_words(what))


@kit_line.command("replace")
def replace_command(
    context: typer.Context,
    line: Line,
    from_on: FromDay,
    because: Because,
    part: Part = None,
    station: Station = None,
    quantity: Quantity = None,
    sequence: Sequence = None,
    renewed: Renewed = None,
    note: Note = None,
    positions: Positions = None,
    serial_from: SerialFrom = None,
    serial_to: SerialTo = None,
    mod: OfMod = None,
    without_mod: WithoutMod = None,
    any_mod: AnyMod = False,
) -> None:
    """End a line on a day and begin another in its stead, which is as it but for what is said."""
    bounds = (positions, serial_from, serial_to, mod, without_mod, any_mod, None)
    with opened(context.obj) as open_store, open_store.writing() as session:
        kept = edit.kit_line_as_kept(session, line)
        new = _typed(session, kept, part, station, quantity, sequence, renewed, note, bounds)
        by = by_whom(session, context.obj, because)
        seen = seen_of(session, "kit_line", line)
        made = edit.replace_kit_line(session, line, seen, new, from_on.date(), by)
        what = {**done(session, by), "kit_line": made}
    say(context.obj, what, f"{done_words(what)} The new one is kit line {made}.")


@kit_line.command("end")
def end_command(context: typer.Context, line: Line, until: Until, because: Because) -> None:
    """Say that a line holds no more from a day on."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj, because)
        edit.end_kit_line(session, line, seen_of(session, "kit_line", line), until.date(), by)
        what = done(session, by)
        pulls = edit.pulls_on_kit_line(session, line)
    warned = [f"Not to be issued from that day on: pull {', '.join(pulls)}."] if pulls else []
    say(context.obj, {**what, "pulls": pulls}, done_words(what), *warned)


def _typed(
    session: Any,
    kept: NewKitLine,
    part: str | None,
    station: str | None,
    quantity: str | None,
    sequence: int | None,
    renewed: bool | None,
    note: str | None,
    bounds: Any,
) -> NewKitLine:
    """The line as kept, but for what was typed."""
    part_id = named(session, part_by_number, part) or kept.part
    given: dict[str, Any] = {
        "part": part_id,
        "station": station,
        "quantity": None if quantity is None else edit.read_asked_for(session, part_id, quantity),
        "sequence": sequence,
        "renewed_always": renewed,
        "note": note,
        "holds": held(session, kept.holds, kept.engine_type, *bounds),
    }
    return replace(kept, **{name: value for name, value in given.items() if value is not None})
