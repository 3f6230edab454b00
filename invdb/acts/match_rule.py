"""What of size and finish must suit at two stations: put in a rule, withdraw one, read them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.by import By, begin_draft
from invdb.acts.group_stations import GroupStations
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.records.registry import one_line
from invdb.records.specs import MatchRule
from invdb.terms import EntryKind, FieldRefused, MatchOn, Refused


@dataclass(frozen=True)
class NewMatchRule:
    """That what sits at two stations is of one size class, or that two finishes may not meet there."""

    engine_type: int
    group: str
    station: str
    other_station: str
    what: MatchOn
    source: str
    finish: str = ""
    other_finish: str = ""


@dataclass(frozen=True)
class MatchRuleFacts:
    """A rule of size or finish as kept."""

    id: int
    group: str
    station: str
    other_station: str
    what: MatchOn
    finish: str
    other_finish: str
    source: str
    withdrawn_on: date | None
    entry: int


def add_match_rule(session: Session, rule: NewMatchRule, by: By) -> int:
    """Add a rule of size or finish; returns its id. FieldRefused where it contradicts itself or stands."""
    draft = begin_draft(session, EntryKind.SPECIFICATION, by)
    rule_id = draft_match_rule(session, draft, rule)
    post(session, draft)
    return rule_id


def draft_match_rule(session: Session, draft: Draft, rule: NewMatchRule) -> int:
    """Put a rule of size or finish into a draft; returns its id. See ``add_match_rule``."""
    names = GroupStations(session, rule.engine_type, rule.group)
    station = names.station(rule.station, "station")
    other_station = names.station(rule.other_station, "other_station")
    if station == other_station:
        raise FieldRefused("other_station", f"Both are the {station}.", "Name two stations.")
    finish, other_finish = one_line(rule.finish), one_line(rule.other_finish)
    if rule.what is MatchOn.SIZE and (finish or other_finish):
        raise FieldRefused("finish", "A rule of size names no finish.", "Leave the finishes empty.")
    if rule.what is MatchOn.FINISH and not (finish and other_finish):
        raise FieldRefused(
            "finish" if not finish else "other_finish",
            "It isn't said which two finishes may not meet.",
            "Name one for each station.",
        )
    if not rule.source.strip():
        raise FieldRefused("source", "It isn't said what publishes this.", "Name the publication.")
    values = {
        "engine_type_id": rule.engine_type,
        "group_name": names.group,
        "station": station,
        "other_station": other_station,
        "what": rule.what,
        "finish": finish,
        "other_finish": other_finish,
    }
    _refuse_like(session, draft, values)
    return draft.new(session, "match_rule", source=rule.source, **values)


def _refuse_like(session: Session, draft: Draft, values: dict[str, object]) -> None:
    """Refuse the same rule twice, the stations either way round."""
    rows = session.execute(
        select(*(getattr(MatchRule, name) for name in values)).where(
            MatchRule.engine_type_id == values["engine_type_id"], MatchRule.withdrawn_on.is_(None)
        )
    )
    standing = [dict(row._mapping) for row in rows]
    standing += [
        {name: fact.values.get(name) for name in values}
        for fact in draft.facts
        if fact.record == "match_rule"
    ]
    swapped = values | {
        "station": values["other_station"],
        "other_station": values["station"],
        "finish": values["other_finish"],
        "other_finish": values["finish"],
    }
    if any(_folded(each) in (_folded(values), _folded(swapped)) for each in standing):
        raise FieldRefused("other_station", "Such a rule stands already.", "There is nothing to add.")


def _folded(values: dict[str, object]) -> dict[str, str]:
    return {name: str(value).casefold() for name, value in values.items()}


def withdraw_match_rule(session: Session, rule: int, because: str, by: By) -> int:
    """Say that a rule holds no more from that day on, and why; returns the entry's number."""
    draft = begin_draft(session, EntryKind.SPECIFICATION, by)
    row = session.execute(select(MatchRule.withdrawn_on).where(MatchRule.id == rule)).one_or_none()
    if row is None:
        raise Refused("There is no such rule.", "Look again.")
    if row.withdrawn_on is not None:
        raise Refused(
            f"That rule was withdrawn on {row.withdrawn_on.isoformat()}.", "There is nothing to withdraw."
        )
    if not because.strip():
        raise FieldRefused("because", "It isn't said why the rule is withdrawn.", "Type it.")
    draft.remark(because)
    draft.set("match_rule", rule, withdrawn_on=draft.happened_on)
    return post(session, draft).number


def match_rules_of(
    session: Session, engine_type: int, group: str | None = None, on: date | None = None
) -> tuple[MatchRuleFacts, ...]:
    """The rules of size and finish of an engine type, or of one group of it, on a day (None: today)."""
    day = as_of(session, on)
    query = select(MatchRule).where(
        MatchRule.engine_type_id == engine_type,
        or_(MatchRule.withdrawn_on.is_(None), MatchRule.withdrawn_on > day),
    )
    if group is not None:
        query = query.where(MatchRule.group_name == group)
    return tuple(
        MatchRuleFacts(
            row.id,
            row.group_name,
            row.station,
            row.other_station,
            row.what,
            row.finish,
            row.other_finish,
            row.source,
            row.withdrawn_on,
            row.set_by,
        )
        for row in session.scalars(query.order_by(MatchRule.group_name, MatchRule.id))
    )
