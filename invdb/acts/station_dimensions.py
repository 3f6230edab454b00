"""What the parts at a station are measured by, so that a fit or a set of masses names it as they do."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.records.catalogue import KitLine
from invdb.records.specs import Spec, SpecLine
from invdb.rules.specification import single_spaced
from invdb.terms import Asked, SpecKind


def dimension_named(
    session: Session,
    at: tuple[int, str, str],
    kind: SpecKind,
    typed: tuple[str, str],
    field: str,
    *,
    part: int | None = None,
    sure: bool = False,
) -> tuple[str, str]:
    """The name and point of a dimension or mass as the specifications of the parts at a station have them.

    ``at`` is the engine type, the group and the station; ``typed`` a name and a point, '' for every point.
    With ``part`` it is of that part alone. As typed, single-spaced, where these parts have no specification
    yet; Asked, unless ``sure``, where they have and none of them says it.
    """
    name, point = map(single_spaced, typed)
    lines = _lines(session, at, kind, part)
    if not lines:
        return name, point
    alike = [line for line in lines if line.name.casefold() == name.casefold()]
    if not alike:
        if sure:
            return name, point
        known = ", ".join(dict.fromkeys(line.name for line in lines))
        raise Asked(
            field,
            f"No part at the {at[2]} has a {kind} called {name!r}; they have: {known}.",
            "Correct it, or say that it is meant.",
        )
    points = [each.strip() for line in alike for each in line.points.split(",") if each.strip()]
    as_written = next((each for each in points if each.casefold() == point.casefold()), None)
    if point and as_written is None and not sure:
        known = ", ".join(dict.fromkeys(points)) or "no points at all"
        raise Asked(
            field,
            f"The {alike[0].name} of the {at[2]} is not measured at {point!r}; it has: {known}.",
            "Correct it, or say that it is meant.",
        )
    return alike[0].name, as_written or point


def _lines(session: Session, at: tuple[int, str, str], kind: SpecKind, part: int | None) -> list[SpecLine]:
    """The lines of a kind in all that the parts at a station are specified by."""
    engine_type, group, station = at
    query = (
        select(SpecLine)
        .join(Spec, Spec.id == SpecLine.spec_id)
        .where(Spec.withdrawn_on.is_(None), SpecLine.kind == kind)
        .order_by(SpecLine.id)
    )
    if part is not None:
        return list(session.scalars(query.where(Spec.part_id == part)))
    here = select(KitLine.part_id).where(
        KitLine.engine_type_id == engine_type, KitLine.group_name == group, KitLine.station == station
    )
    return list(session.scalars(query.where(Spec.part_id.in_(here))))
