"""Add a part to the kit list of a group, and correct, replace or end a line of one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan, fields_renamed
from gui.views.held_where_fields import group_choices, holds_fields, holds_of_values
from gui.views.meter_fields import read_count
from gui.views.reason_fields import by_of, reason_fields, set_last
from gui.views.searches import search_for
from invdb.acts.catalogue import Holds, NewKitLine
from invdb.acts.kit_line_edit import (
    add_to_kit_list,
    correct_kit_line,
    end_kit_line,
    replace_kit_line,
)
from invdb.acts.offers import parts_by_ids
from invdb.acts.type_groups import TypeGroup
from invdb.rules.quantities import quantity_words, read_quantity
from invdb.terms import Measure, Refused

STATION = "station of group {}"


def add_kit_line_form(
    sitting: Sitting, part: Hit, measure: Measure, groups: Sequence[TypeGroup], sequence: int
) -> FormPlan:
    """The form to let the kits of a group ask for a part; ``sequence`` is the place offered."""
    if not groups:
        raise Refused("No engine type is in the store.", "Enter one, with its positions and stations, first.")

    def act(job: Job, values: dict[str, Any]) -> int:
        at = values["where"]
        line = _line(values, groups[at], values[STATION.format(at)], part.ref, measure, Holds())
        with sitting.store.writing() as session:
            made = add_to_kit_list(session, line, by_of(sitting, values))
            job.commit_begins()
        return made

    one = len(groups) == 1
    return FormPlan(
        title=f"Let a kit ask for {part.headline} {part.detail}",
        fields=(
            Field("where", "Kit list of", FieldKind.CHOICE, needed=True, start=0 if one else None,
                  choices=group_choices(groups)),
            *(_station_field(at, group) for at, group in enumerate(groups)),
            *_line_fields(measure, None, sequence),
            *holds_fields(_mods(groups), Holds()),
            *reason_fields(sitting),
        ),
        act=act,
        told=lambda made: f"Kits of that group ask for {part.headline} from now on (kit line {made}).",
        save_word="Add it",
        another=True,
    )  # fmt: skip


def correct_kit_line_form(
    sitting: Sitting, line: int, kept: NewKitLine, seen: int, part: Hit, measure: Measure,
    group: TypeGroup, last: str,
) -> FormPlan:  # fmt: skip
    """The form to correct a line that was written wrongly, for the past too; ``last`` is who set it last."""

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            new = _changed_line(session, values, group, kept.holds)
            entry = correct_kit_line(session, line, seen, new, by_of(sitting, values))
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Correct the {kept.station} in the kit list of {group.words}",
        fields=(*_changed_fields(sitting, kept, part, measure, group), *reason_fields(sitting)),
        act=act,
        told=lambda entry: f"The kit line is corrected (entry {entry}).",
        save_word="Correct it",
        said=lambda _values: " ".join(
            [
                "For what was written wrongly: it is then so for the past too.",
                set_last(last),
            ]
        ),
    )


def replace_kit_line_form(
    sitting: Sitting, line: int, kept: NewKitLine, seen: int, part: Hit, measure: Measure,
    group: TypeGroup, last: str,
) -> FormPlan:  # fmt: skip
    """The form to end a line on a day and begin another in its stead."""

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session, fields_renamed(until_on="begins_on", from_on="begins_on"):
            new = _changed_line(session, values, group, Holds())
            made = replace_kit_line(session, line, seen, new, values["begins_on"], by_of(sitting, values))
            job.commit_begins()
        return made

    return FormPlan(
        title=f"Replace the {kept.station} in the kit list of {group.words}, from a day on",
        fields=(
            Field("begins_on", "From", FieldKind.DATE, needed=True, start=sitting.today(),
                  hint="The first day on which the new line holds, and the old one no more"),
            *_changed_fields(sitting, kept, part, measure, group, begins=False),
            *reason_fields(sitting),
        ),
        act=act,
        told=lambda made: f"The new line holds from that day on (kit line {made}).",
        save_word="Replace it",
        said=lambda _values: " ".join(
            ["What was in force until then stays as it was.", set_last(last)]
        ),
    )  # fmt: skip


def end_kit_line_form(sitting: Sitting, line: int, seen: int, called: str, last: str) -> FormPlan:
    """The form to end a line on a day; ``called`` is what a sentence calls it."""

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            entry = end_kit_line(session, line, seen, values["until_on"], by_of(sitting, values))
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"End {called}",
        fields=(
            Field("until_on", "From", FieldKind.DATE, needed=True, start=sitting.today(),
                  hint="The first day on which it holds no more"),
            *reason_fields(sitting),
        ),
        act=act,
        told=lambda entry: f"It ends on that day (entry {entry}).",
        save_word="End it",
        said=lambda _values: set_last(last),
    )  # fmt: skip


def _station_field(at: int, group: TypeGroup) -> Field:
    return Field(
        STATION.format(at),
        "Station",
        FieldKind.CHOICE,
        needed=True,
        choices=tuple(Choice(station, station) for station in group.stations),
        shown_when=lambda values: values.get("where") == at,
    )


def _mods(groups: Sequence[TypeGroup]) -> list[Any]:
    """The mods of every type, each offered while a group of its type is chosen."""
    found = []
    for type_name in dict.fromkeys(group.type_name for group in groups):
        places = [at for at, group in enumerate(groups) if group.type_name == type_name]

        def chosen(values: Values, places: list[int] = places) -> bool:
            return values.get("where") in places

        found += [(mod, chosen, type_name) for mod in groups[places[0]].mods]
    return found


def _line_fields(measure: Measure, kept: NewKitLine | None, sequence: int) -> tuple[Field, ...]:
    def check_quantity(written: str, values: Values) -> None:
        # Another part may be measured otherwise, which is found out when it is saved.
        if kept is None or values.get("part") == kept.part:
            read_quantity(written, measure)

    def check_sequence(written: str, _values: Values) -> None:
        read_count(written, "sequence")

    start = "1" if measure is Measure.COUNT else None
    return (
        Field("quantity", "How much", FieldKind.QUANTITY, needed=True, check=check_quantity,
              start=quantity_words(kept.quantity, measure) if kept is not None else start,
              unit="" if measure is Measure.COUNT else f"with its unit, of a {measure}"),
        Field("renewed_always", "Renewed always: unused stock only", FieldKind.TICK,
              start=kept is not None and kept.renewed_always),
        Field("sequence", "Place in the list", FieldKind.QUANTITY, needed=True, check=check_sequence,
              start=str(kept.sequence if kept is not None else sequence),
              hint="Lines stand in the order of these figures"),
        Field("note", "Note", start=kept.note if kept is not None else ""),
    )  # fmt: skip


def _changed_fields(
    sitting: Sitting,
    kept: NewKitLine,
    part: Hit,
    measure: Measure,
    group: TypeGroup,
    *,
    begins: bool = True,
) -> tuple[Field, ...]:
    mods = [(mod, _always, group.type_name) for mod in group.mods]
    return (
        Field("station", "Station", FieldKind.CHOICE, needed=True, start=kept.station,
              choices=tuple(Choice(station, station) for station in group.stations)),
        Field("part", "Part", FieldKind.FIND, needed=True, start=part, find=search_for(sitting, ("part",))),
        *_line_fields(measure, kept, kept.sequence),
        *holds_fields(mods, kept.holds, begins=begins,
                      positions_hint=f"Some of {', '.join(group.positions)}; empty for all of them"),
    )  # fmt: skip


def _always(_values: Values) -> bool:
    return True


def _changed_line(session: Any, values: dict[str, Any], group: TypeGroup, start: Holds) -> NewKitLine:
    part = values["part"]
    measure = parts_by_ids(session, [part])[part].measure
    return _line(values, group, values["station"], part, measure, start)


def _line(
    values: dict[str, Any], group: TypeGroup, station: str, part: int, measure: Measure, start: Holds
) -> NewKitLine:
    return NewKitLine(
        group.engine_type,
        group.group,
        read_count(values["sequence"], "sequence"),
        station,
        part,
        read_quantity(values["quantity"], measure),
        values["renewed_always"],
        holds_of_values(values, group.type_name, start),
        values["note"],
    )
