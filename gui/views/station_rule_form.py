"""Put in a rule: what sits at two stations is of one size, or two finishes may not meet there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.held_where_fields import group_choices
from gui.views.reason_fields import by_of, reason_fields
from invdb.acts.match_rule import NewMatchRule, add_match_rule
from invdb.acts.type_groups import TypeGroup
from invdb.terms import MatchOn, Refused

WHAT = (
    Choice(MatchOn.SIZE, "both are of one size"),
    Choice(MatchOn.FINISH, "two finishes may not meet"),
)


def station_rule_form(sitting: Sitting, part: Hit, groups: Sequence[TypeGroup]) -> FormPlan:
    """The form for a rule in the groups where a part is used."""
    if not groups:
        raise Refused(
            f"No kit list asks for {part.headline}, so it meets nothing yet.", "Add it to a kit list first."
        )

    def act(job: Job, values: dict[str, Any]) -> int:
        at = values["where"]
        rule = NewMatchRule(
            groups[at].engine_type,
            groups[at].group,
            values[f"station {at}"],
            values[f"other station {at}"],
            values["what"],
            values["source"],
            values.get("finish", ""),
            values.get("other_finish", ""),
        )
        with sitting.store.writing() as session:
            made = add_match_rule(session, rule, by_of(sitting, values))
            job.commit_begins()
        return made

    return FormPlan(
        title=f"What must suit {part.headline} {part.detail}",
        fields=(
            Field("where", "In", FieldKind.CHOICE, needed=True, start=0 if len(groups) == 1 else None,
                  choices=group_choices(groups)),
            Field("what", "Rule", FieldKind.CHOICE, needed=True, start=MatchOn.SIZE, choices=WHAT),
            *_end_fields("", "At the", groups, "finish"),
            *_end_fields("other ", "And at the", groups, "other_finish"),
            Field("source", "Publication", needed=True, hint="What publishes the rule"),
            *reason_fields(sitting),
        ),
        act=act,
        told=lambda made: f"Kits keep to it from now on (rule {made}).",
        save_word="Put it in",
    )  # fmt: skip


def _end_fields(which: str, word: str, groups: Sequence[TypeGroup], finish: str) -> tuple[Field, ...]:
    def station(at: int, group: TypeGroup) -> Field:
        return Field(
            f"{which}station {at}",
            word,
            FieldKind.CHOICE,
            needed=True,
            choices=tuple(Choice(each, each) for each in group.stations),
            shown_when=lambda values: values.get("where") == at,
        )

    def of_finish(values: Values) -> bool:
        return values.get("what") is MatchOn.FINISH

    return (
        *(station(at, group) for at, group in enumerate(groups)),
        Field(finish, "Finish there", needed=True, shown_when=of_finish, hint="Such as chromium plated"),
    )
