"""Fit things at stations of one position of an engine: piece by piece, or all of a kit that was issued."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, remark_field
from gui.views.form_plan import FormPlan
from gui.views.meter_fields import meter_fields, reading_of
from gui.views.place_fields import place_field
from gui.views.searches import search_things
from invdb.acts.fit import Fit, FitOrder, fit, fit_pull
from invdb.acts.numbers import Thing
from invdb.acts.running import LogAt
from invdb.acts.things import things_by_id
from invdb.rules.build import BuiltPosition, BuiltStation
from invdb.rules.quantities import quantity_words, read_quantity
from invdb.terms import FieldRefused, Refused


@dataclass(frozen=True)
class Offered:
    """Something that was issued for a station and waits to be fitted there."""

    station: str
    thing: Thing
    tag: str
    part_name: str
    place: int
    place_name: str


@dataclass(frozen=True)
class IssuedKit:
    """A pull of the engine with something out on it: its id, number and position, and how many lines."""

    pull: int
    number: str
    position: str
    lines: int


def fit_form(
    sitting: Sitting,
    log: LogAt,
    position: BuiltPosition,
    stations: Sequence[int],
    offered: Sequence[Offered] = (),
) -> FormPlan:
    """The form to fit things at stations of a position.

    It begins with a row for each of the ``stations`` (ids) that was chosen and takes something still, filled
    with what was issued for it; with none chosen, for each that waits for something issued.
    """
    by_id = {each.station: each for each in position.stations if each.station is not None}

    def act(job: Job, values: dict[str, Any]) -> int:
        reading, use = reading_of(values)
        with sitting.store.writing() as session:
            order = FitOrder(
                log.engine,
                position.position,
                _fits(session, by_id, values["fits"]),
                reading,
                use,
                values.get("override", ""),
                values.get("sure", False),
            )
            entry = fit(session, order, sitting.by(values["happened_on"], values["note"]))
            job.commit_begins()
        return entry

    where = f"{log.name}, {position.group} {position.name}"
    return FormPlan(
        title=f"Fit at {where}",
        fields=(
            Field(
                "fits",
                "What is fitted",
                FieldKind.ROWS,
                needed=True,
                start=_rows_first(by_id, stations, offered),
                columns=_columns(sitting, position),
                hint="One row for each station; all of it is fitted in one entry, or nothing",
            ),
            *meter_fields(log),
            day_field(sitting, "Fitted on"),
            remark_field(),
            # Last, so that nobody begins by typing into it.
            *override_fields(sitting),
        ),
        act=act,
        told=lambda entry: f"Fitted at {where} (entry {entry}).",
        save_word="Fit",
    )


def fit_pull_form(sitting: Sitting, log: LogAt, kits: Sequence[IssuedKit], position: str) -> FormPlan:
    """The form to fit all that an issued pull still has out, each thing at the station of its kit line."""
    if not kits:
        raise Refused(f"Nothing is out on any pull of {log.name}.", "Issue a pull at the Bench first.")
    own = [kit for kit in kits if kit.position == position]

    def act(job: Job, values: dict[str, Any]) -> int:
        reading, use = reading_of(values)
        with sitting.store.writing() as session:
            entry = fit_pull(
                session,
                values["pull"],
                reading,
                sitting.by(values["happened_on"], values["note"]),
                use=use,
                override=values.get("override", ""),
                sure=values.get("sure", False),
            )
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Fit a pulled kit to {log.name}",
        fields=(
            Field(
                "pull",
                "The kit",
                FieldKind.CHOICE,
                needed=True,
                start=own[0].pull if own else kits[0].pull if len(kits) == 1 else None,
                choices=tuple(Choice(kit.pull, kit_words(kit)) for kit in kits),
            ),
            *meter_fields(log),
            day_field(sitting, "Fitted on"),
            remark_field(),
            # Last, so that nobody begins by typing into it.
            *override_fields(sitting),
        ),
        act=act,
        told=lambda entry: f"The kit is fitted to {log.name} (entry {entry}).",
        save_word="Fit it all",
        said=lambda _values: "All of it goes in, or nothing; what is not to be fitted is taken back first.",
    )


def kit_words(kit: IssuedKit) -> str:
    """A pull that waits to be fitted, as a box offers it."""
    lines = f"{kit.lines} line{'s' if kit.lines != 1 else ''}"
    return f"{kit.number}: {kit.position}, {lines} out"


def override_fields(sitting: Sitting) -> tuple[Field, ...]:
    """Where a licensed person says why a lesser rule is overridden; nothing for anyone else."""
    if not sitting.licence:
        return ()
    return (
        Field(
            "override",
            "Override why",
            FieldKind.LINES,
            hint=f"Under your licence {sitting.licence} a lesser rule may be overridden with a written"
            " reason, which the ledger keeps and the trace prints; some rules never",
        ),
    )


def still_takes(station: BuiltStation) -> int:
    """How much more a station takes by its kit lines, in the smallest unit; 0 for nothing."""
    wanted = max((line.quantity for line in station.lines), default=0)
    return max(0, wanted - sum(thing.quantity for thing in station.filling))


def _columns(sitting: Sitting, position: BuiltPosition) -> tuple[Field, ...]:
    choices = tuple(
        Choice(each.station, _station_words(each)) for each in position.stations if each.station is not None
    )
    return (
        Field("station", "At", FieldKind.CHOICE, needed=True, choices=choices),
        Field("thing", "Piece or batch", FieldKind.FIND, needed=True, find=search_things(sitting)),
        Field(
            "quantity",
            "How much",
            FieldKind.QUANTITY,
            hint="Empty for one piece, or for as much of a batch as the station still takes",
        ),
        place_field(sitting, "from_place", "From", hint="Only where a batch lies in several places"),
    )


def _station_words(station: BuiltStation) -> str:
    takes = still_takes(station)
    if not takes or not station.lines:
        return station.name
    line = station.lines[0]
    return f"{station.name}: {quantity_words(takes, line.measure)} {line.part_number}"


def _rows_first(
    stations: Mapping[int, BuiltStation], chosen: Sequence[int], offered: Sequence[Offered]
) -> tuple[dict[str, Any], ...]:
    wanted = [stations[each] for each in dict.fromkeys(chosen) if each in stations]
    if not wanted:
        names = {each.station for each in offered}
        wanted = [each for each in stations.values() if each.name in names and still_takes(each)]
    rows: list[dict[str, Any]] = []
    for station in wanted:
        here = [each for each in offered if each.station == station.name]
        rows += [
            {
                "station": station.station,
                "thing": Hit(each.tag, each.part_name, "issued", each.thing),
                "from_place": Hit(each.place_name, "", "place", each.place),
            }
            for each in here
        ] or [{"station": station.station}]
    return tuple(rows)


def _fits(session: Any, stations: Mapping[int, BuiltStation], rows: Sequence[Values]) -> tuple[Fit, ...]:
    """What the rows say; a quantity left empty is one piece, or what the station still takes of a batch."""
    states = things_by_id(session, list(dict.fromkeys(row["thing"] for row in rows)))
    fits: list[Fit] = []
    for row in rows:
        state, written = states[row["thing"]], row["quantity"]
        quantity = 1
        if written:
            quantity = read_quantity(written, state.measure)
        elif state.thing.batch is not None:
            quantity = still_takes(stations[row["station"]])
            if not quantity:
                raise FieldRefused(
                    "fits",
                    f"{stations[row['station']].name} takes no more by its kit list.",
                    "Say how much is fitted there, or leave the row out.",
                )
        fits.append(Fit(row["station"], row["thing"], quantity, row["from_place"]))
    return tuple(fits)
