"""What several commands take alike: a meter's reading, what an engine ran for, where a sheet goes."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from invdb.terms import LifeControl, RunningUse

EngineName = Annotated[str, typer.Argument(metavar="ENGINE", help="The engine's name or serial.")]
Reading = Annotated[str | None, typer.Option(help="What the engine's meter reads, in hours.")]
Use = Annotated[
    RunningUse | None, typer.Option(help="What the engine ran for since its log's last line, if it ran.")
]
Sure = Annotated[bool, typer.Option("--sure", help="What is asked about is so.")]
Control = Annotated[
    LifeControl | None,
    typer.Option(help="How a life-limited piece is kept from being fitted past its limit."),
]
Day = Annotated[
    datetime | None, typer.Option("--on", help="As of the end of that day.", formats=["%Y-%m-%d"])
]
Pdf = Annotated[Path | None, typer.Option(help="Write it as PDF.")]
Xlsx = Annotated[Path | None, typer.Option(help="Write it as a workbook.")]
Letter = Annotated[bool, typer.Option("--letter", help="US Letter paper, not A4.")]
