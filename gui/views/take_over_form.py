"""Take over a build record: what a document says is at each station of an engine, and what that had run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, remark_field
from gui.views.form_plan import FormPlan, fields_renamed
from gui.views.meter_fields import meter_fields, reading_of
from gui.views.paper_fields import paper_fields, papers_of
from gui.views.searches import search_for
from gui.widgets.dates import read_date
from invdb.acts.offers import PartDetails, parts_by_ids
from invdb.acts.papers import NewPaper
from invdb.acts.running import LogAt
from invdb.acts.take_over import BuiltIn, StationFill, TakenOver, take_over
from invdb.rules.build import Build, BuiltStation
from invdb.rules.life import read_prior
from invdb.rules.quantities import read_quantity
from invdb.terms import PRIOR_LIFE_UNKNOWN, FieldRefused, PriorLife, Tracking

TAGS_NAMED_MAX = 4
PARTS = {"hours": 100, "starts": 1}
HOW_KNOWN = "A figure, “between 100 and 140”, “at least 300”, or empty where nobody knows"
# What the act finds wrong in a line of the record is said beneath the rows.
ROW_FIELDS = dict.fromkeys(
    ("part", "quantity", "serial", "tag", "prior_hours", "prior_starts", "made_on", "inside"), "fills"
)


def take_over_form(
    sitting: Sitting,
    log: LogAt,
    build: Build,
    position: int | None,
    parts: Mapping[int, PartDetails],
) -> FormPlan:
    """The form for one document; it begins with a row for each thing wanted at the chosen position.

    ``parts`` are the parts that are wanted anywhere in the engine, in detail.
    """

    def act(job: Job, values: dict[str, Any]) -> BuiltIn:
        reading, use = reading_of(values)
        paper = _paper(values, job)
        with fields_renamed(**ROW_FIELDS), sitting.store.writing() as session:
            known = parts_by_ids(session, {row["part"] for row in values["fills"]})
            record = TakenOver(
                log.engine,
                tuple(_fill(row, build, known) for row in values["fills"]),
                reading,
                values["document"],
                paper,
                use,
                values["as_found"],
                values.get("sure", False),
            )
            made = take_over(session, record, sitting.by(values["happened_on"], values["note"]))
            job.commit_begins()
        return made

    return FormPlan(
        title=f"Take over the build record of {log.name}",
        fields=(
            Field(
                "document",
                "The record",
                FieldKind.FIND,
                find=search_for(sitting, ("document",)),
                hint="If it is here already; else name it below",
            ),
            *(_unless_here(field) for field in paper_fields(section="")),
            Field(
                "fills",
                "What it says is where",
                FieldKind.ROWS,
                needed=True,
                start=_rows_first(build, position, parts),
                columns=_columns(sitting, build),
                hint="A row for each piece or batch; each gets a tag, and all of it is one entry",
            ),
            Field("as_found", "It is so as found, though the kit list does not allow it", FieldKind.TICK),
            *meter_fields(log),
            day_field(sitting, "Taken over on"),
            remark_field(),
        ),
        act=act,
        told=lambda made: _told(log.name, made),
        save_word="Take it over",
        said=lambda _values: (
            f"All of it is taken as serviceable for {log.name} on the strength of this document alone."
        ),
    )


def _unless_here(field: Field) -> Field:
    """A field that names the record anew, shown while none that is here was chosen."""
    shown = field.shown_when

    def shown_when(values: Values) -> bool:
        return values.get("document") is None and (shown is None or shown(values))

    return replace(field, shown_when=shown_when)


def _columns(sitting: Sitting, build: Build) -> tuple[Field, ...]:
    names = [each.name for each in build.positions]
    plain = len(set(names)) == len(names)
    seats = tuple(
        Choice(
            (position.position, station.station),
            f"{'' if plain else f'{position.group} '}{position.name} {station.name}",
        )
        for position in build.positions
        for station in position.stations
        if station.station is not None
    )
    return (
        Field(
            "seat",
            "Where",
            FieldKind.CHOICE,
            needed=True,
            choices=seats,
            hint="The position and its station; type the position's name, then the station's first letters",
        ),
        Field("part", "Part", FieldKind.FIND, needed=True, find=search_for(sitting, ("part",))),
        Field("serial", "Serial", hint="Of a batch, its maker's number"),
        Field(
            "quantity",
            "How much",
            FieldKind.QUANTITY,
            hint="Empty for one piece, or for as much of a batch as the station takes",
        ),
        Field("hours", "Hours run", check=_check_prior("hours"), hint=HOW_KNOWN),
        Field("starts", "Starts", check=_check_prior("starts"), hint=HOW_KNOWN),
        Field("made_on", "Made on", check=_check_day, hint="Year-month-day; empty where nobody knows"),
        Field(
            "inside",
            "In row",
            FieldKind.QUANTITY,
            check=_check_row,
            hint="The row, counted from 1, of the piece that it sits in, such as the barrel of a guide",
        ),
    )


def _rows_first(
    build: Build, position: int | None, parts: Mapping[int, PartDetails]
) -> tuple[dict[str, Any], ...]:
    """A row for each piece or batch that is wanted at the position and that nothing is recorded of."""
    rows: list[dict[str, Any]] = []
    for built in build.positions:
        if built.position != position:
            continue
        for station in built.stations:
            if station.station is None or not station.open:
                continue
            line = station.lines[0]
            known = parts.get(line.part)
            each_by_itself = known is not None and known.tracking is Tracking.PIECE
            rows += [
                {
                    "seat": (built.position, station.station),
                    "part": Hit(line.part_number, line.part_name, "part", line.part),
                }
            ] * (line.quantity if each_by_itself else 1)
    return tuple(rows)


def _fill(row: Values, build: Build, parts: Mapping[int, PartDetails]) -> StationFill:
    part = parts[row["part"]]
    position, station = row["seat"]
    return StationFill(
        position,
        station,
        part.id,
        row["serial"],
        _quantity(row, build, part),
        _prior(row["hours"], "hours"),
        _prior(row["starts"], "starts"),
        read_date(row["made_on"]),
        inside=str(int(row["inside"])) if row["inside"] else None,
    )


def _quantity(row: Values, build: Build, part: PartDetails) -> int:
    """What the row says; else one piece, or as much of a batch as is wanted at its station."""
    if row["quantity"]:
        return read_quantity(row["quantity"], part.measure)
    if part.tracking is Tracking.PIECE:
        return 1
    station = _station(build, *row["seat"])
    wanted = max((line.quantity for line in station.lines), default=0) if station is not None else 0
    if not wanted:
        raise FieldRefused(
            "fills",
            f"It isn't said how much of {part.house_number} there is.",
            "Give how much; its kit list asks for none there.",
        )
    return wanted


def _station(build: Build, position: int, station: int) -> BuiltStation | None:
    return next(
        (
            each
            for built in build.positions
            if built.position == position
            for each in built.stations
            if each.station == station
        ),
        None,
    )


def _paper(values: Values, job: Job) -> NewPaper | None:
    """The document that the form names anew; None where it is here already."""
    if values["document"] is not None:
        return None
    papers: Sequence[NewPaper] = papers_of(values, job)
    if len(papers) > 1:
        raise FieldRefused(
            "papers",
            f"{len(papers)} papers are named, and a build record is one document.",
            "Name the one; attach the others to its pieces by Papers later.",
        )
    if not papers:
        raise FieldRefused(
            "document",
            "A build record is a document, and none is named.",
            "Find it here, or give its kind and number below.",
        )
    return papers[0]


def _prior(written: str, name: str) -> PriorLife:
    return read_prior(written, name, PARTS[name]) if written else PRIOR_LIFE_UNKNOWN


def _check_prior(name: str) -> Any:
    def check(written: str, _values: Values) -> None:
        _prior(written, name)

    return check


def _check_day(written: str, _values: Values) -> None:
    read_date(written)


def _check_row(written: str, _values: Values) -> None:
    if written and not (written.isascii() and written.isdigit() and int(written) > 0):
        raise FieldRefused("inside", f"“{written}” is no row.", "Give its number, counted from 1.")


def _told(name: str, made: BuiltIn) -> str:
    tags = [tag for _thing, tag in made.things]
    more = f" and {len(tags) - TAGS_NAMED_MAX} more" if len(tags) > TAGS_NAMED_MAX else ""
    named = ", ".join(tags[:TAGS_NAMED_MAX]) + more
    return f"Taken over into {name} (entry {made.entry}), tagged as {named}."
