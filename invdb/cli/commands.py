"""What may be typed: every command, and what stands before it."""

from __future__ import annotations

import os
import sys
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from invdb import store
from invdb.acts import check as checking
from invdb.acts import find as finding
from invdb.acts import reverse, trace
from invdb.acts.begin import Workshop, begin_store
from invdb.cli.additions import additions
from invdb.cli.asked import Asked, by_whom, opened, say
from invdb.cli.builds import builds
from invdb.cli.catalogue import parts
from invdb.cli.doubts import doubts
from invdb.cli.engines import engines
from invdb.cli.fits import fits
from invdb.cli.inspections import inspections
from invdb.cli.kits import kits
from invdb.cli.life import lives
from invdb.cli.orders import orders
from invdb.cli.shortage import shortage
from invdb.cli.stock import stock
from invdb.cli.window import open_window
from invdb.cli.work import work
from invdb.terms import SAFETY_LINE

app = typer.Typer(
    add_completion=False,
    no_args_is_help=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    help="Parts, specifications and spares for workshops that keep very old aero engines alive.\n\n"
    + SAFETY_LINE,
)
app.add_typer(stock)
app.add_typer(kits)
for group in (builds, engines, lives, doubts, orders, parts, inspections, fits, work, shortage):
    app.add_typer(group)
app.add_typer(additions, name="add")


@app.callback(invoke_without_command=True)
def before(
    context: typer.Context,
    where: Annotated[
        str | None, typer.Option("--store", help="A file, or the address of a database.", metavar="STORE")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Answer in JSON.")] = False,
    who: Annotated[str | None, typer.Option("--as", help="Who does this, by name.", metavar="NAME")] = None,
    on: Annotated[
        datetime | None, typer.Option("--on", help="The day it happened.", formats=["%Y-%m-%d"])
    ] = None,
) -> None:
    """Without a command, the window opens."""
    context.obj = Asked(where, as_json, who, on.date() if on else None)
    if context.invoked_subcommand is None:
        open_window(context.obj.where)


@app.command("open")
def open_command(context: typer.Context) -> None:
    """Open the window."""
    open_window(context.obj.where)


@app.command()
def demo(
    context: typer.Context,
    folder: Annotated[Path | None, typer.Option(help="Where to build it.")] = None,
    window: Annotated[bool, typer.Option("--window/--no-window", help="Open the window at the end.")] = True,
) -> None:
    """Build the invented workshop, pull one cylinder's kit, and print its papers."""
    from invdb.demo import run_demo

    report = run_demo(folder or Path("invdb-demo"))
    say(context.obj, report, *report.lines)
    if window and not context.obj.as_json and _has_display():
        open_window(str(report.store))


def _has_display() -> bool:
    return sys.platform in {"win32", "darwin"} or bool(os.environ.get("DISPLAY"))


@app.command()
def new(
    context: typer.Context,
    name: Annotated[str, typer.Option(help="The workshop's name.")],
    person: Annotated[str, typer.Option(help="The first person's name.")],
    licence: Annotated[str | None, typer.Option(help="Their licence number.")] = None,
    licence_kind: Annotated[str | None, typer.Option(help="The licence's kind.")] = None,
    zone: Annotated[str, typer.Option(help="The shop's time zone.")] = "UTC",
) -> None:
    """Begin an empty store."""
    where = context.obj.where or store.default_store()
    if "://" not in where and context.obj.where is None:
        Path(where).parent.mkdir(parents=True, exist_ok=True)
    begin_store(where, Workshop(name, person, licence, licence_kind, zone))
    say(context.obj, {"store": store.shown(where)}, f"Begun: {store.shown(where)}.")


@app.command()
def find(context: typer.Context, words: Annotated[list[str], typer.Argument(help="What to find.")]) -> None:
    """Find parts, pieces, batches, bins, papers, firms, engines and pulls."""
    with opened(context.obj) as open_store, open_store.reading() as session:
        result = finding.find(session, " ".join(words))
    lines = [f"{each.kind:12} {each.headline:16} {each.detail}" for each in result.found]
    if result.remark:
        lines.insert(0, result.remark)
    say(context.obj, result, *(lines or ["Nothing fits."]))


@app.command("trace")
def trace_command(
    context: typer.Context,
    tag: Annotated[str, typer.Argument(help="The tag of a piece or a batch.")],
    pdf: Annotated[Path | None, typer.Option(help="Write the sheet as PDF.")] = None,
    xlsx: Annotated[Path | None, typer.Option(help="Write the sheet as a workbook.")] = None,
    letter: Annotated[bool, typer.Option("--letter", help="US Letter paper, not A4.")] = False,
) -> None:
    """Say where a piece or a batch came from, and all that happened to it."""
    from invdb.paper.trace_sheet import write_trace_sheet_pdf, write_trace_sheet_xlsx

    with opened(context.obj) as open_store, open_store.reading() as session:
        sheet = trace.trace(session, tag)
    if pdf:
        write_trace_sheet_pdf(sheet, pdf, "Letter" if letter else "A4")
    if xlsx:
        write_trace_sheet_xlsx(sheet, xlsx, "Letter" if letter else "A4")
    lines = [f"{sheet.tag}  {sheet.part_number} {sheet.part_name}", f"{sheet.condition}, {sheet.where_now}"]
    lines += [f"{entry.number:6} {entry.happened_on}  {entry.what}" for entry in sheet.entries]
    lines += [f"Gap {gap.from_on or '…'} to {gap.to_on or '…'}: {gap.why}" for gap in sheet.gaps]
    say(context.obj, sheet, *lines, SAFETY_LINE)


@app.command("reverse")
def reverse_command(
    context: typer.Context,
    number: Annotated[int, typer.Argument(help="The entry's number.")],
    reason: Annotated[str, typer.Option(help="Why it should not have been.")],
) -> None:
    """Reverse an entry; it stays in the ledger and counts no more."""
    with opened(context.obj) as open_store, open_store.writing() as session:
        entry = reverse.reverse(session, number, reason, by_whom(session, context.obj))
    say(context.obj, {"entry": entry}, f"Entry {number} is reversed (entry {entry}).")


@app.command("check")
def check_command(context: typer.Context) -> None:
    """Replay the whole ledger and report every difference."""
    with opened(context.obj) as open_store:
        report = checking.check_store(open_store)
    lines = [str(difference) for difference in report.differences]
    say(context.obj, report, *lines, f"{report.entries} entries; last hash {report.last_hash}.")
    if report.differences:
        raise typer.Exit(1)
