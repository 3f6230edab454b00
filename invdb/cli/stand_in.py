"""Commands on stand-ins: add one, correct one, end one, or replace it from a day on."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from typing import Annotated, Any

import typer

from invdb.acts import stand_in_edit as edit
from invdb.acts.catalogue import Holds, NewStandIn
from invdb.acts.change import seen_of
from invdb.acts.numbers import part_by_number
from invdb.acts.typed import document_named, engine_type_named
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

stand_in = typer.Typer(help="Add what stands in for a part, correct it, end it, or replace it from a day on.")

Number = Annotated[int, typer.Argument(metavar="STAND-IN", help="The stand-in, as `part` numbers it.")]
Members = Annotated[
    list[str], typer.Argument(help="What stands in for it, by number; 2*NUMBER for two of one for each.")
]
Authority = Annotated[str | None, typer.Option(help="The document or decision that allows it.")]
BothWays = Annotated[
    bool | None, typer.Option("--both-ways/--one-way", help="Whether each may stand in for the other.")
]
Superseding = Annotated[
    bool | None, typer.Option("--superseding/--not-superseding", help="Whether it takes the part's place.")
]
For = Annotated[str | None, typer.Option("--for", help="Only in this engine type.")]
Paper = Annotated[str | None, typer.Option(help="The reference of its document.")]
_COUNTED = re.compile(r"\s*(\d{1,4})\s*\*\s*(.*)", re.DOTALL)


@stand_in.command("add")
def add_command(
    context: typer.Context,
    part: Annotated[str, typer.Argument(help="Any number of the part that is stood in for.")],
    members: Members,
    authority: Annotated[str, typer.Option(help="The document or decision that allows it.")],
    because: Because,
    both_ways: Annotated[bool, typer.Option("--both-ways", help="Each may stand in for the other.")] = False,
    superseding: Annotated[bool, typer.Option("--superseding", help="It takes the part's place.")] = False,
    engine_type: For = None,
    document: Paper = None,
    positions: Positions = None,
    serial_from: SerialFrom = None,
    serial_to: SerialTo = None,
    mod: OfMod = None,
    without_mod: WithoutMod = None,
    from_on: From = None,
) -> None:
    """Say that a part, or a set of several, may stand in for a part."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        type_id = named(session, engine_type_named, engine_type)
        new = NewStandIn(
            part_by_number(session, part),
            _members(session, members),
            authority,
            both_ways,
            superseding,
            type_id,
            named(session, document_named, document),
            held(
                *(session, Holds(), type_id, positions, serial_from, serial_to),
                *(mod, without_mod, False, from_on),
            ),
        )
        by = by_whom(session, context.obj, because)
        made = edit.add_stand_in_for(session, new, by)
        what = {**done(session, by), "stand_in": made}
    say(context.obj, what, f"{done_words(what)} It is stand-in {made}.")


@stand_in.command("change")
def change_command(
    context: typer.Context,
    number: Number,
    because: Because,
    authority: Authority = None,
    both_ways: BothWays = None,
    superseding: Superseding = None,
    engine_type: For = None,
    document: Paper = None,
    positions: Positions = None,
    serial_from: SerialFrom = None,
    serial_to: SerialTo = None,
    mod: OfMod = None,
    without_mod: WithoutMod = None,
    any_mod: AnyMod = False,
    from_on: From = None,
) -> None:
    """Correct a stand-in that was written wrongly; what was right till now is replaced instead."""
    bounds = (positions, serial_from, serial_to, mod, without_mod, any_mod, from_on)
    with opened(context.obj) as open_store, open_store.writing() as session:
        kept = edit.stand_in_as_kept(session, number)
        corrected = _typed(session, kept, authority, both_ways, superseding, engine_type, document, bounds)
        by = by_whom(session, context.obj, because)
        edit.correct_stand_in(session, number, seen_of(session, "stand_in", number), corrected, by)
        what = done(session, by)
    say(context.obj, what, done_words(what))


@stand_in.command("replace")
def replace_command(
    context: typer.Context,
    number: Number,
    from_on: FromDay,
    because: Because,
    members: Annotated[
        list[str] | None, typer.Argument(help="What stands in from then on; as before if none is named.")
    ] = None,
    authority: Authority = None,
    both_ways: BothWays = None,
    superseding: Superseding = None,
    engine_type: For = None,
    document: Paper = None,
    positions: Positions = None,
    serial_from: SerialFrom = None,
    serial_to: SerialTo = None,
    mod: OfMod = None,
    without_mod: WithoutMod = None,
    any_mod: AnyMod = False,
) -> None:
    """End a stand-in on a day and begin another in its stead, which is as it but for what is said."""
    bounds = (positions, serial_from, serial_to, mod, without_mod, any_mod, None)
    with opened(context.obj) as open_store, open_store.writing() as session:
        kept = edit.stand_in_as_kept(session, number)
        new = _typed(session, kept, authority, both_ways, superseding, engine_type, document, bounds)
        if members:
            new = replace(new, members=_members(session, members))
        by = by_whom(session, context.obj, because)
        seen = seen_of(session, "stand_in", number)
        made = edit.replace_stand_in(session, number, seen, new, from_on.date(), by)
        what = {**done(session, by), "stand_in": made}
    say(context.obj, what, f"{done_words(what)} The new one is stand-in {made}.")


@stand_in.command("end")
def end_command(context: typer.Context, number: Number, until: Until, because: Because) -> None:
    """Say that something stands in for a part no more from a day on."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        by = by_whom(session, context.obj, because)
        edit.end_stand_in(session, number, seen_of(session, "stand_in", number), until.date(), by)
        what = done(session, by)
    say(context.obj, what, done_words(what))


def _members(session: Any, texts: Iterable[str]) -> tuple[tuple[int, int], ...]:
    found = []
    for text in texts:
        counted = _COUNTED.fullmatch(text)
        each, number = (int(counted[1]), counted[2]) if counted else (1, text)
        found.append((part_by_number(session, number), each))
    return tuple(found)


def _typed(
    session: Any,
    kept: NewStandIn,
    authority: str | None,
    both_ways: bool | None,
    superseding: bool | None,
    engine_type: str | None,
    document: str | None,
    bounds: Any,
) -> NewStandIn:
    """The stand-in as kept, but for what was typed."""
    type_id = named(session, engine_type_named, engine_type) or kept.engine_type
    given: dict[str, Any] = {
        "authority": authority,
        "both_ways": both_ways,
        "superseding": superseding,
        "engine_type": type_id,
        "document": named(session, document_named, document),
        "holds": held(session, kept.holds, type_id, *bounds),
    }
    return replace(kept, **{name: value for name, value in given.items() if value is not None})
