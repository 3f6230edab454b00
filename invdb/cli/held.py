"""For which engines a kit line or a stand-in holds, as it is typed."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Annotated, Any

import typer

from invdb.acts.catalogue import Holds
from invdb.acts.typed import mod_named

_DAY = ["%Y-%m-%d"]

Positions = Annotated[str | None, typer.Option(help="Only in these, with commas between; '' for all.")]
SerialFrom = Annotated[str | None, typer.Option(help="Only from this engine serial on; '' for all.")]
SerialTo = Annotated[str | None, typer.Option(help="Only up to this engine serial; '' for all.")]
OfMod = Annotated[str | None, typer.Option("--mod", help="Only where this mod is embodied.")]
WithoutMod = Annotated[str | None, typer.Option(help="Only where this mod is not embodied.")]
AnyMod = Annotated[bool, typer.Option("--any-mod", help="Whatever mods are embodied.")]
From = Annotated[
    datetime | None, typer.Option("--from", help="The first day on which it holds.", formats=_DAY)
]
FromDay = Annotated[
    datetime, typer.Option("--from", help="The first day on which the new one holds.", formats=_DAY)
]
Until = Annotated[datetime, typer.Option(help="The first day on which it holds no more.", formats=_DAY)]
Because = Annotated[str, typer.Option(help="Why; kept with the change.")]


def held(
    session: Any,
    kept: Holds,
    engine_type: int | None,
    positions: str | None,
    serial_from: str | None,
    serial_to: str | None,
    mod: str | None,
    without_mod: str | None,
    any_mod: bool,
    from_on: datetime | None = None,
) -> Holds:
    """What it holds for: as kept, but for what was typed; '' clears a bound."""
    if sum((mod is not None, without_mod is not None, any_mod)) > 1:
        raise typer.BadParameter("Give one of --mod, --without-mod and --any-mod.")
    found = replace(
        kept,
        positions=kept.positions if positions is None else positions.strip() or None,
        serial_from=kept.serial_from if serial_from is None else serial_from.strip() or None,
        serial_to=kept.serial_to if serial_to is None else serial_to.strip() or None,
    )
    of_mod = mod if mod is not None else without_mod
    if any_mod:
        found = replace(found, mod=None, mod_embodied=None)
    if of_mod is not None:
        found = replace(found, mod=mod_named(session, of_mod, engine_type), mod_embodied=without_mod is None)
    return found if from_on is None else replace(found, from_on=from_on.date())
