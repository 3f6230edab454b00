"""The command on fits: clearances and masses of a whole engine, by cylinder."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

import typer

from invdb.acts import numbers
from invdb.acts.engine_fits import EngineFits, FitRow, MassRow, built_fits
from invdb.acts.group_stations import GroupStations
from invdb.acts.typed import engine_type_of
from invdb.cli.asked import opened, say
from invdb.cli.options import EngineName
from invdb.terms import SAFETY_LINE

fits = typer.Typer()


@fits.command("fits")
def fits_command(
    context: typer.Context,
    engine: EngineName,
    group: Annotated[str, typer.Option(help="Another group of its positions.")] = "cylinder",
) -> None:
    """Show how what is fitted in an engine fits together, and how its masses agree."""
    with opened(context.obj) as open_store, open_store.reading() as session:
        engine_id = numbers.engine_named(session, engine)
        named = GroupStations(session, engine_type_of(session, engine_id), group).group
        found = built_fits(session, engine_id, named)
    say(context.obj, found, *_lines(found))


def _lines(found: EngineFits) -> Iterator[str]:
    yield f"{found.engine_name}, as it is built"
    if not found.fits and not found.masses:
        yield "  No fits and no masses are in its specifications, or nothing is fitted that they are of."
    for row in found.fits:
        yield from _fit_lines(row)
    for masses in found.masses:
        yield from _mass_lines(masses)
    yield SAFETY_LINE


def _fit_lines(row: FitRow) -> Iterator[str]:
    yield f"  {row.name} ({row.kind}), {row.limits_words}"
    for point in row.points:
        yield f"    {point.position:4} {point.verdict:20} {point.words}"


def _mass_lines(row: MassRow) -> Iterator[str]:
    yield f"  {row.name}: {row.words}"
    for point in row.points:
        yield f"    {point.position:4} {point.words}"
