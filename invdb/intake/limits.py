"""Limits of life and what began their count anew, as tables."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from importlib.resources.abc import Traversable

from invdb.intake.catalogue import PartRow
from invdb.intake.engines import ModRow
from invdb.intake.stock import HOURS_SCALE, STARTS_SCALE
from invdb.intake.table import Row, read_table
from invdb.terms import LifeMeasure, LifeSince, PriorLife, RunningCounted


@dataclass(frozen=True)
class LimitRow:
    """A limit of a part's life, or of an engine's own where no part is named; see ``LifeLimit``.

    ``amount`` is in hundredths of an hour, in starts or in months, as ``measure`` says.
    """

    line: int
    house_number: str | None
    engine_type: str | None
    mod: str | None
    mod_embodied: bool | None
    measure: LifeMeasure
    counted: RunningCounted
    since: LifeSince
    amount: int
    prorated: bool
    source: str
    document: str | None
    booked_on: date
    who: str


@dataclass(frozen=True)
class ResetRow:
    """That work on a piece or an engine (``of``) began its count anew, in what its report says.

    ``hours`` and ``starts`` are what it had run since that work by ``reset_on``.
    """

    line: int
    of: str
    reset_on: date
    overhauled_on: date | None
    measures: frozenset[LifeMeasure]
    hours: PriorLife
    starts: PriorLife
    report: str
    document: str | None
    booked_on: date
    who: str


def read_limits(
    folder: Traversable,
    parts: Mapping[str, PartRow],
    engine_types: Collection[str],
    mods: Mapping[str, ModRow],
    people: Collection[str],
    documents: Collection[str],
) -> tuple[LimitRow, ...]:
    """The limits; of a part held by piece, or of engines of a type."""
    columns = ("House number", "Engine type", "Mod", "With or without mod", "Measure", "Counted", "Since",
               "Amount", "Prorated", "Source", "Document", "Booked on", "Who")  # fmt: skip
    read = []
    for row in read_table(folder, "life_limits.csv", columns):
        part = row.one_of("House number", parts, "part") if row.text("House number") else None
        if part is not None and not part.life_limited:
            raise row.refuse("House number", "is no life-limited part", "Say so in parts.csv, or drop it.")
        if part is None:
            row.needed("Engine type")
        mod = row.one_of("Mod", mods, "mod") if row.text("Mod") else None
        if mod is not None and mod.engine_type != row.text("Engine type"):
            raise row.refuse("Mod", f"is a mod of the {mod.engine_type}", "Look at the engine type.")
        if row.text("With or without mod") not in ({"with", "without"} if mod else {""}):
            raise row.refuse("With or without mod", "does not go with the mod", "Write with or without.")
        measure = row.word("Measure", LifeMeasure)
        read.append(
            LimitRow(
                row.line,
                part.house_number if part is not None else None,
                row.name_or_none("Engine type", engine_types, "engine type"),
                mod.code if mod is not None else None,
                row.text("With or without mod") == "with" if mod is not None else None,
                measure,
                row.word_or_none("Counted", RunningCounted) or RunningCounted.ALL,
                row.word("Since", LifeSince),
                _amount(row, measure),
                row.yes("Prorated"),
                row.needed("Source"),
                row.name_or_none("Document", documents, "document"),
                row.day("Booked on"),
                row.name_of("Who", people, "person"),
            )
        )
    return tuple(read)


def _amount(row: Row, measure: LifeMeasure) -> int:
    amount = row.hundredths("Amount") if measure is LifeMeasure.HOURS else row.whole("Amount")
    if amount <= 0:
        raise row.refuse("Amount", "leaves no life at all", "Give the limit.")
    return amount


def read_resets(
    folder: Traversable,
    tags: Collection[str],
    engines: Collection[str],
    people: Collection[str],
    documents: Collection[str],
) -> tuple[ResetRow, ...]:
    """What began the count since overhaul anew; each on a report, and for something."""
    columns = ("Of", "Date", "Overhauled on", "Resets", "Hours since", "Starts since", "Report", "Document",
               "Booked on", "Who")  # fmt: skip
    read = []
    for row in read_table(folder, "life_resets.csv", columns):
        row.needed("Resets")
        measures = row.names("Resets", frozenset(LifeMeasure), "measure of life", ";")
        reset = ResetRow(
            row.line,
            row.name_of("Of", {*tags, *engines}, "piece or engine"),
            row.day("Date"),
            row.day_or_none("Overhauled on"),
            frozenset(LifeMeasure(measure) for measure in measures),
            row.prior_life("Hours since", HOURS_SCALE),
            row.prior_life("Starts since", STARTS_SCALE),
            row.needed("Report"),
            row.name_or_none("Document", documents, "document"),
            row.booked("Date"),
            row.name_of("Who", people, "person"),
        )
        if LifeMeasure.MONTHS in reset.measures:
            row.needed("Overhauled on")
        if reset.overhauled_on is not None and reset.overhauled_on > reset.reset_on:
            raise row.refuse("Overhauled on", "is after the count began anew", "Look at both dates.")
        read.append(reset)
    return tuple(read)
