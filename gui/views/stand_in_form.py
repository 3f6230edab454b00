"""Say what may stand in for a part, or for what it may, and correct, replace or end that."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan, fields_renamed
from gui.views.held_where_fields import holds_fields, holds_of_values
from gui.views.meter_fields import read_count
from gui.views.reason_fields import by_of, reason_fields, set_last
from gui.views.searches import search_for
from invdb.acts.catalogue import Holds, NewStandIn
from invdb.acts.stand_in_edit import (
    add_stand_in_for,
    correct_stand_in,
    end_stand_in,
    replace_stand_in,
)
from invdb.acts.type_groups import TypeGroup
from invdb.terms import FieldRefused

FOR_IT, IT_FOR = "for it", "it for"
BY_WHAT = "By what authority"


def add_stand_in_form(sitting: Sitting, part: Hit, groups: Sequence[TypeGroup]) -> FormPlan:
    """The form for something that stands in for a part, or that the part stands in for."""

    def act(job: Job, values: dict[str, Any]) -> int:
        new = _new(values, part.ref, groups, Holds())
        with sitting.store.writing() as session:
            made = add_stand_in_for(session, new, by_of(sitting, values))
            job.commit_begins()
        return made

    def for_it(values: Values) -> bool:
        return values.get("way") == FOR_IT

    return FormPlan(
        title=f"What stands in for {part.headline} {part.detail}, or what it stands in for",
        fields=(
            Field("way", "Which", FieldKind.CHOICE, needed=True, start=FOR_IT,
                  choices=(Choice(FOR_IT, f"others may stand in for {part.headline}"),
                           Choice(IT_FOR, f"{part.headline} may stand in for another"))),
            _members_field(sitting, (), for_it),
            Field("instead_of", "Stands in for", FieldKind.FIND, needed=True, kept=False,
                  find=search_for(sitting, ("part",)), shown_when=lambda values: not for_it(values)),
            Field("each", "How many for one", FieldKind.QUANTITY, needed=True, start="1", check=_check_each,
                  shown_when=lambda values: not for_it(values)),
            *_how_fields(sitting, None, None, groups),
            *reason_fields(sitting),
        ),
        act=act,
        told=lambda made: f"It may stand in from now on (stand-in {made}).",
        save_word="Add it",
        said=_said,
    )  # fmt: skip


def change_stand_in_form(
    sitting: Sitting, stand_in: int, kept: NewStandIn, seen: int, called: str, document: Hit | None,
    groups: Sequence[TypeGroup], last: str,
) -> FormPlan:  # fmt: skip
    """The form to correct a stand-in that was written wrongly, for the past too; its parts stay."""

    def act(job: Job, values: dict[str, Any]) -> int:
        corrected = _changed(values, kept, groups, kept.holds)
        with sitting.store.writing() as session:
            entry = correct_stand_in(session, stand_in, seen, corrected, by_of(sitting, values))
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Correct {called}",
        fields=(*_how_fields(sitting, kept, document, groups), *reason_fields(sitting)),
        act=act,
        told=lambda entry: f"It is corrected (entry {entry}).",
        save_word="Correct it",
        said=lambda _values: " ".join(
            ["For what was written wrongly: it is then so for the past too.", set_last(last)]
        ),
    )


def replace_stand_in_form(
    sitting: Sitting, stand_in: int, kept: NewStandIn, seen: int, called: str, members: Sequence[Hit],
    document: Hit | None, groups: Sequence[TypeGroup], last: str,
) -> FormPlan:  # fmt: skip
    """The form to end a stand-in on a day and begin another in its stead; ``members`` are its parts now."""

    def act(job: Job, values: dict[str, Any]) -> int:
        new = replace(_changed(values, kept, groups, Holds()), members=_members(values))
        with sitting.store.writing() as session, fields_renamed(until_on="begins_on", from_on="begins_on"):
            by = by_of(sitting, values)
            made = replace_stand_in(session, stand_in, seen, new, values["begins_on"], by)
            job.commit_begins()
        return made

    rows = tuple(
        {"part": hit, "each": str(each)} for hit, (_, each) in zip(members, kept.members, strict=True)
    )
    return FormPlan(
        title=f"Replace {called}, from a day on",
        fields=(
            Field("begins_on", "From", FieldKind.DATE, needed=True, start=sitting.today(),
                  hint="The first day on which the new one holds, and the old one no more"),
            _members_field(sitting, rows, lambda _values: True),
            *_how_fields(sitting, kept, document, groups, begins=False),
            *reason_fields(sitting),
        ),
        act=act,
        told=lambda made: f"The new one holds from that day on (stand-in {made}).",
        save_word="Replace it",
        said=lambda _values: " ".join(
            ["What was in force until then stays as it was.", set_last(last)]
        ),
    )  # fmt: skip


def end_stand_in_form(sitting: Sitting, stand_in: int, seen: int, called: str, last: str) -> FormPlan:
    """The form to end a stand-in on a day; ``called`` is what a sentence calls it."""

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            entry = end_stand_in(session, stand_in, seen, values["until_on"], by_of(sitting, values))
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"End {called}",
        fields=(
            Field("until_on", "From", FieldKind.DATE, needed=True, start=sitting.today(),
                  hint="The first day on which it may stand in no more"),
            *reason_fields(sitting),
        ),
        act=act,
        told=lambda entry: f"It ends on that day (entry {entry}).",
        save_word="End it",
        said=lambda _values: set_last(last),
    )  # fmt: skip


def _members_field(
    sitting: Sitting, start: Sequence[Mapping[str, Any]], shown_when: Callable[[Values], bool]
) -> Field:
    return Field(
        "members",
        "What stands in",
        FieldKind.ROWS,
        needed=True,
        kept=False,
        start=start,
        shown_when=shown_when,
        hint="One part, or several that stand in together",
        columns=(
            Field("part", "Stands in", FieldKind.FIND, needed=True, find=search_for(sitting, ("part",))),
            Field("each", "How many for one", FieldKind.QUANTITY, check=_check_each, hint="Empty for one"),
        ),
    )


def _check_each(written: str, _values: Values) -> None:
    if written and read_count(written, "each") < 1:
        raise FieldRefused("each", "None of it stands in for nothing.", "Give one or more.")


def _how_fields(
    sitting: Sitting,
    kept: NewStandIn | None,
    document: Hit | None,
    groups: Sequence[TypeGroup],
    *,
    begins: bool = True,
) -> tuple[Field, ...]:
    types = {group.engine_type: group for group in groups}
    mods = [
        (mod, _of_type(group.engine_type), group.type_name) for group in types.values() for mod in group.mods
    ]
    return (
        Field("both_ways", "Good both ways: each may stand in for the other", FieldKind.TICK,
              start=kept is not None and kept.both_ways,
              shown_when=lambda values: len(values.get("members") or ()) < 2),
        Field("superseding", "It supersedes the other", FieldKind.TICK,
              start=kept is not None and kept.superseding),
        Field("authority", "Authority", needed=True, section=BY_WHAT,
              start=kept.authority if kept is not None else "",
              hint="The leaflet, drawing or letter that allows it"),
        Field("document", "Its document", FieldKind.FIND, section=BY_WHAT, start=document,
              find=search_for(sitting, ("document",))),
        Field("engine_type", "Engine type", FieldKind.CHOICE, section="For which engines",
              start=kept.engine_type if kept is not None else None,
              choices=tuple(Choice(each, group.type_name) for each, group in types.items()),
              hint="Empty for every type; Backspace empties it"),
        *holds_fields(mods, kept.holds if kept is not None else Holds(), begins=begins),
    )  # fmt: skip


def _of_type(engine_type: int) -> Callable[[Values], bool]:
    return lambda values: values.get("engine_type") == engine_type


def _members(values: Values) -> tuple[tuple[int, int], ...]:
    return tuple((row["part"], read_count(row["each"] or "1", "each")) for row in values["members"])


def _new(values: dict[str, Any], part: int, groups: Sequence[TypeGroup], start: Holds) -> NewStandIn:
    if values["way"] == FOR_IT:
        replaced, members = part, _members(values)
    else:
        replaced, members = values["instead_of"], ((part, read_count(values["each"], "each")),)
    return NewStandIn(
        replaced,
        members,
        values["authority"],
        bool(values.get("both_ways")),
        values["superseding"],
        values["engine_type"],
        values["document"],
        holds_of_values(values, _type_name(values, groups), start),
    )


def _changed(
    values: dict[str, Any], kept: NewStandIn, groups: Sequence[TypeGroup], start: Holds
) -> NewStandIn:
    return replace(
        kept,
        authority=values["authority"],
        both_ways=bool(values.get("both_ways")),
        superseding=values["superseding"],
        engine_type=values["engine_type"],
        document=values["document"],
        holds=holds_of_values(values, _type_name(values, groups), start),
    )


def _type_name(values: Values, groups: Sequence[TypeGroup]) -> str:
    return next((each.type_name for each in groups if each.engine_type == values["engine_type"]), "")


def _said(values: Values) -> str:
    if len(values.get("members") or ()) > 1 and values.get("way") == FOR_IT:
        return "All of them together stand in for one."
    return "A ring of one-way steps is refused; what is good both ways closes none."
