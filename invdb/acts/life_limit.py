"""The limits on the lives of parts and of engines themselves: set one, withdraw one, read them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, bindparam, or_, select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.papers import refuse_unknown_document
from invdb.records.catalogue import Mod, Part
from invdb.records.chunks import chunks
from invdb.records.draft import Draft
from invdb.records.engines import EngineType
from invdb.records.life import LifeLimit
from invdb.records.posting import post
from invdb.rules.life_limits import Limit, amount_words
from invdb.terms import (
    EntryKind,
    FieldRefused,
    LifeMeasure,
    LifeSince,
    Refused,
    RunningCounted,
    Tracking,
)

# Made once: putting a statement together costs more than executing it.
_LIMITS = (
    select(
        LifeLimit.id,
        LifeLimit.part_id,
        LifeLimit.engine_type_id,
        LifeLimit.mod_id,
        LifeLimit.mod_embodied,
        LifeLimit.measure,
        LifeLimit.counted,
        LifeLimit.since,
        LifeLimit.amount,
        LifeLimit.prorated,
        LifeLimit.source,
        EngineType.name.label("type_name"),
        Mod.code.label("mod_code"),
    )
    .outerjoin(EngineType, EngineType.id == LifeLimit.engine_type_id)
    .outerjoin(Mod, Mod.id == LifeLimit.mod_id)
    .where(or_(LifeLimit.withdrawn_on.is_(None), LifeLimit.withdrawn_on > bindparam("on")))
    .order_by(LifeLimit.id)
)
_LIMITS_OF_PARTS = _LIMITS.where(LifeLimit.part_id.in_(bindparam("ids", expanding=True)))
_LIMITS_OF_ENGINES = _LIMITS.where(LifeLimit.part_id.is_(None))
# Above these a limit is a slip of the pen: hundredths of an hour, starts, months.
AMOUNT_MAX = {
    LifeMeasure.HOURS: 100_000_00,
    LifeMeasure.STARTS: 1_000_000,
    LifeMeasure.MONTHS: 1200,
}


@dataclass(frozen=True)
class NewLifeLimit:
    """A limit: see ``invdb.records.life.LifeLimit`` for the units.

    Without ``part`` it is a limit of the engine itself, and then ``engine_type`` must be given. With ``mod``
    it holds where that is embodied, or is not, and is one of the mod's engine type.
    """

    measure: LifeMeasure
    amount: int
    part: int | None = None
    engine_type: int | None = None
    mod: int | None = None
    mod_embodied: bool = True
    counted: RunningCounted = RunningCounted.ALL
    since: LifeSince = LifeSince.NEW
    prorated: bool = False
    source: str = ""
    document: int | None = None


def add_life_limit(session: Session, limit: NewLifeLimit, by: By) -> int:
    """Add a limit; returns its id. A part that gets one is life-limited from then on.

    Refused when it makes no sense, when the like of it stands, and for what is held by batch.
    """
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    limit_id = draft_life_limit(session, draft, limit)
    post(session, draft)
    return limit_id


def draft_life_limit(session: Session, draft: Draft, limit: NewLifeLimit) -> int:
    """Put a limit into a draft; returns its id. See ``add_life_limit``."""
    limit = _of_the_mod(session, limit)
    _check_amount(limit)
    _check_subject(session, draft, limit)
    if limit.prorated and (limit.engine_type is None or limit.part is None):
        raise FieldRefused(
            "prorated",
            "Only a limit of a part that differs by engine type is prorated.",
            "Name its part and its engine type.",
        )
    if not limit.source.strip() and limit.document is None:
        raise FieldRefused(
            "source", "It isn't said what sets the limit.", "Name the publication, or its document."
        )
    refuse_unknown_document(session, limit.document)
    _refuse_like(session, limit)
    return draft.new(
        session,
        "life_limit",
        part_id=limit.part,
        engine_type_id=limit.engine_type,
        mod_id=limit.mod,
        mod_embodied=None if limit.mod is None else limit.mod_embodied,
        measure=limit.measure,
        counted=limit.counted,
        since=limit.since,
        amount=limit.amount,
        prorated=limit.prorated,
        source=limit.source,
        document_id=limit.document,
    )


def _of_the_mod(session: Session, limit: NewLifeLimit) -> NewLifeLimit:
    if limit.mod is None:
        return limit
    engine_type = session.scalar(select(Mod.engine_type_id).where(Mod.id == limit.mod))
    if engine_type is None:
        raise FieldRefused("mod", "There is no such mod.", "Choose one, or add it first.")
    if limit.engine_type not in (None, engine_type):
        raise FieldRefused("mod", "That mod is not one of that engine type.", "Choose one of its own.")
    return replace(limit, engine_type=engine_type)


def _check_amount(limit: NewLifeLimit) -> None:
    most = AMOUNT_MAX[limit.measure]
    if not 0 < limit.amount <= most:
        raise FieldRefused(
            "amount",
            f"A life limit of {amount_words(limit.amount, limit.measure)} makes no sense.",
            f"Give more than nothing and at most {amount_words(most, limit.measure)}.",
        )
    if limit.counted is RunningCounted.FLIGHT and limit.measure is not LifeMeasure.HOURS:
        raise FieldRefused(
            "counted",
            f"Flight and ground running are told apart by hours, not by {limit.measure}.",
            "Count all running.",
        )
    if limit.prorated and limit.measure is LifeMeasure.MONTHS:
        raise FieldRefused("prorated", "A limit by the calendar is not prorated.", "Leave that out.")


def _check_subject(session: Session, draft: Draft, limit: NewLifeLimit) -> None:
    if limit.engine_type is not None and not session.scalar(
        select(EngineType.id).where(EngineType.id == limit.engine_type)
    ):
        raise FieldRefused("engine_type", "There is no such engine type.", "Choose one, or add it first.")
    if limit.part is None:
        if limit.engine_type is None:
            raise FieldRefused(
                "part", "It isn't said what the limit is on.", "Name a part or an engine type."
            )
        if limit.measure is LifeMeasure.MONTHS and limit.since is LifeSince.NEW:
            raise FieldRefused(
                "since",
                "The day on which an engine was made is not kept.",
                "Count the months since overhaul.",
            )
        return
    part = session.execute(
        select(Part.house_number, Part.tracking, Part.life_limited).where(Part.id == limit.part)
    ).one_or_none()
    if part is None:
        raise FieldRefused("part", "There is no such part.", "Choose one, or add it first.")
    if part.tracking is Tracking.BATCH:
        raise FieldRefused(
            "part",
            f"A life-limited part is always held as single pieces, and {part.house_number} is held by batch.",
            "Add it as a part of its own that is held as pieces.",
        )
    if not part.life_limited:
        draft.set("part", limit.part, life_limited=True)


def _refuse_like(session: Session, limit: NewLifeLimit) -> None:
    """Refuse a second limit of the same kind for the same engines: nobody could say which holds."""
    embodied = None if limit.mod is None else limit.mod_embodied
    standing = session.execute(
        select(LifeLimit.amount, LifeLimit.set_by).where(
            LifeLimit.part_id == limit.part if limit.part is not None else LifeLimit.part_id.is_(None),
            LifeLimit.engine_type_id.is_not_distinct_from(limit.engine_type),
            LifeLimit.mod_id.is_not_distinct_from(limit.mod),
            LifeLimit.mod_embodied.is_not_distinct_from(embodied),
            LifeLimit.measure == limit.measure,
            LifeLimit.counted == limit.counted,
            LifeLimit.since == limit.since,
            LifeLimit.withdrawn_on.is_(None),
        )
    ).first()
    if standing is not None:
        raise FieldRefused(
            "amount",
            f"Entry {standing.set_by} sets such a limit already:"
            f" {amount_words(standing.amount, limit.measure)}.",
            "Withdraw that one first.",
        )


def withdraw_life_limit(session: Session, limit: int, because: str, by: By) -> int:
    """Say that a limit holds no more from that day on, and why; returns the entry's number."""
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    row = session.execute(select(LifeLimit.withdrawn_on).where(LifeLimit.id == limit)).one_or_none()
    if row is None:
        raise Refused("There is no such life limit.", "Look again.")
    if row.withdrawn_on is not None:
        raise Refused(
            f"That limit was withdrawn on {row.withdrawn_on.isoformat()}.", "There is nothing to withdraw."
        )
    if not because.strip():
        raise FieldRefused("because", "It isn't said why the limit is withdrawn.", "Type it.")
    draft.remark(because)
    draft.set("life_limit", limit, withdrawn_on=draft.happened_on)
    return post(session, draft).number


def plain_limits(plain: Mapping[int, int | None]) -> dict[int, tuple[Limit, ...]]:
    """The plain limits of parts: hundredths of an hour since new, None for none."""
    return {
        part: () if hours is None else (Limit(LifeMeasure.HOURS, hours),) for part, hours in plain.items()
    }


def read_limits(
    connection: Connection, plain: Mapping[int, int | None], on: date
) -> dict[int, tuple[Limit, ...]]:
    """The limits of parts on a day, by part: the plain one (hundredths since new), which is given, first."""
    found = plain_limits(plain)
    for some in chunks(plain.keys()):
        for row in connection.execute(_LIMITS_OF_PARTS, {"ids": some, "on": on}):
            found[row.part_id] += (_limit(row),)
    return found


def read_engine_limits(connection: Connection, on: date) -> tuple[Limit, ...]:
    """The limits of engines themselves on a day, of every type."""
    return tuple(_limit(row) for row in connection.execute(_LIMITS_OF_ENGINES, {"on": on}))


def _limit(row: Row[*tuple[Any, ...]]) -> Limit:
    mod = frozenset() if row.mod_id is None else frozenset({row.mod_id})
    words = [] if row.type_name is None else [f"for the {row.type_name}"]
    if row.mod_code is not None:
        words.append(f"{'with' if row.mod_embodied else 'without'} mod {row.mod_code}")
    return Limit(
        row.measure,
        row.amount,
        row.counted,
        row.since,
        row.engine_type_id,
        mod if row.mod_embodied else frozenset(),
        frozenset() if row.mod_embodied else mod,
        row.prorated,
        row.id,
        " ".join(words),
        row.source,
    )
