"""The command that says which parts will be short, when, how sure that is, and what to do about it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, replace
from pathlib import Path
from typing import Annotated

import typer

from invdb.acts.short_board import short_board
from invdb.acts.short_list import short_list
from invdb.cli.asked import opened, say
from invdb.cli.options import Letter, Pdf, Xlsx
from invdb.paper.sheet_file import refuse_unwritable
from invdb.paper.sheet_words import PageName
from invdb.paper.short_words import chance_words
from invdb.rules.calendar import month_words
from invdb.rules.quantities import quantity_words
from invdb.rules.short_facts import ShortBoard, ShortList, ShortRow
from invdb.terms import SAFETY_LINE

shortage = typer.Typer()

BELIEF_ALONE = "* No inspection of ours stands behind this: the belief alone speaks, or a rule."
_COLUMNS = "{:>11}  {:>9}  {:14}  {:10}  {:34}  {}"


@shortage.command("short")
def short_command(
    context: typer.Context,
    months: Annotated[
        int | None, typer.Option(help="How many months ahead, not the shop's horizon.", min=1)
    ] = None,
    pdf: Pdf = None,
    xlsx: Xlsx = None,
    letter: Letter = False,
    as_json: Annotated[bool, typer.Option("--json", help="Answer in JSON, as before the command.")] = False,
) -> None:
    """List the parts that may run short, worst first: how sure, from when, and which engines they stop."""
    asked = replace(context.obj, as_json=context.obj.as_json or as_json)
    for path in (pdf, xlsx):
        if path is not None:
            refuse_unwritable(path)
    with opened(asked) as open_store, open_store.reading() as session:
        board = short_board(session, months)
        listed = short_list(session, board)
    _write_list(listed, pdf, xlsx, "Letter" if letter else "A4")
    say(asked, [_plain(row) for row in board.rows], *_lines(board))


def _write_list(listed: ShortList, pdf: Path | None, xlsx: Path | None, page: PageName) -> None:
    from invdb.paper.shortage_list import write_shortage_list_pdf, write_shortage_list_xlsx

    if pdf:
        write_shortage_list_pdf(listed, pdf, page)
    if xlsx:
        write_shortage_list_xlsx(listed, xlsx, page)


def _plain(row: ShortRow) -> dict[str, object]:
    """A row as JSON: ``part`` is the house number, chances are from 0 to 1, months their first days."""
    plain = asdict(row)
    part = plain.pop("house_number")
    return {
        **plain,
        "part": part,
        "part_id": row.part,
        "p_short": row.p_short,
        "expected_short": row.expected_short,
        "first_watch_month": plain.pop("first_watch", row.first_watch),
        "first_short_month": plain.pop("first_short", row.first_short),
    }


def _lines(board: ShortBoard) -> Iterator[str]:
    settings = board.settings
    shown = [row for row in board.rows if row.first_watch is not None]
    yield (
        f"{len(board.rows)} parts, {settings.horizon_months} months ahead, to the end of"
        f" {month_words(board.months[-1])}; watched from {settings.watch_percent} %, short from"
        f" {settings.short_percent} % on."
    )
    if not shown:
        yield "Nothing is to be watched."
    else:
        yield _COLUMNS.format("short", "on avg.", "from", "part", "name", "would stop")
    for row in shown:
        yield from _row_lines(row)
    if any(row.inspections == 0 for row in shown):
        yield BELIEF_ALONE
    yield SAFETY_LINE


def _row_lines(row: ShortRow) -> Iterator[str]:
    error = "" if row.error is None else f" (simulated, ± {row.error:.1%})"
    yield _COLUMNS.format(
        f"{chance_words(row.p_short)}{'' if row.inspections else ' *'}",
        quantity_words(round(row.expected_short), row.measure)
        if row.expected_short >= 10
        else f"{row.expected_short:.1f}",
        _from_words(row),
        row.house_number,
        row.name[:34],
        f"{', '.join(row.engines)}{error}",
    ).rstrip()
    if row.pooled:
        yield f"        shares its stock with {', '.join(row.pooled)}"
    for advice in row.advice:
        yield f"        {advice.action} {quantity_words(advice.quantity, row.measure)}: {advice.words}"


def _from_words(row: ShortRow) -> str:
    """``Feb 2028``, or ``watch Nov 2027`` for a part that is not short but watched from then on."""
    if row.first_short is not None:
        return month_words(row.first_short)
    return f"watch {month_words(row.first_watch)}" if row.first_watch is not None else ""
