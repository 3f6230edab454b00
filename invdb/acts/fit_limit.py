"""How mating parts of an engine type fit together: put in the limits of a fit, withdraw one, read them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.by import By, begin_draft, refuse_odd_year
from invdb.acts.group_stations import GroupStations
from invdb.acts.papers import refuse_unknown_document
from invdb.acts.station_dimensions import dimension_named
from invdb.records.catalogue import Part
from invdb.records.documents import Document
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.records.specs import FitLimit
from invdb.rules.fits import FitTerms, check_terms
from invdb.rules.measuring import UNITS, Kind, read_measured, unit_named
from invdb.rules.specification import single_spaced
from invdb.terms import Asked, EntryKind, FieldRefused, FitKind, Refused, SpecKind


@dataclass(frozen=True)
class NewFitLimit:
    """The limits of a fit; see ``invdb.records.specs.FitLimit`` for what each field says.

    Figures are texts as published, in ``unit``; below zero for an interference. Without ``from_on`` it is in
    force from the day of the act.
    """

    engine_type: int
    group: str
    name: str
    kind: FitKind
    outer_station: str
    outer_name: str
    inner_station: str
    inner_name: str
    unit: str
    low: str
    high: str
    source: str
    worn_high: str | None = None
    target: str | None = None
    outer_point: str = ""
    outer_part: int | None = None
    inner_point: str = ""
    inner_part: int | None = None
    gap: bool = False
    operation: str = ""
    makes_matched: bool = False
    revision: str = ""
    document: int | None = None
    from_on: date | None = None


@dataclass(frozen=True)
class FitEndFacts:
    """One of the two parts of a fit: where it sits, its dimension and the point of that, and which part."""

    station: str
    name: str
    point: str
    part: int | None
    part_number: str


@dataclass(frozen=True)
class FitLimitFacts:
    """The limits of a fit as kept; ``entry`` is what last set them."""

    id: int
    group: str
    terms: FitTerms
    outer: FitEndFacts
    inner: FitEndFacts
    gap: bool
    makes_matched: bool
    revision: str
    source: str
    document: str
    from_on: date
    withdrawn_on: date | None
    entry: int


def add_fit_limit(session: Session, fit: NewFitLimit, by: By, sure: bool = False) -> int:
    """Add the limits of a fit; returns their id.

    FieldRefused when figures contradict one another or can't be read, or a station is not in the group.
    Asked, unless ``sure``, about a comma, about a figure below zero, which of a gap is refused, and about a
    dimension that no part at its station has.
    """
    draft = begin_draft(session, EntryKind.SPECIFICATION, by)
    fit_id = draft_fit_limit(session, draft, fit, sure)
    post(session, draft)
    return fit_id


def draft_fit_limit(session: Session, draft: Draft, fit: NewFitLimit, sure: bool = False) -> int:
    """Put the limits of a fit into a draft; returns their id. See ``add_fit_limit``."""
    names = GroupStations(session, fit.engine_type, fit.group)
    for part, field in ((fit.outer_part, "outer_part"), (fit.inner_part, "inner_part")):
        if part is not None and session.scalar(select(Part.id).where(Part.id == part)) is None:
            raise FieldRefused(field, "There is no such part.", "Choose one, or add it first.")
    fit = _named_as_measured(session, _checked(fit, names, sure), sure)
    from_on = fit.from_on or draft.happened_on
    refuse_odd_year("from_on", from_on)
    if not fit.source.strip() and fit.document is None:
        raise FieldRefused(
            "source", "It isn't said what publishes this.", "Name the publication, or its document."
        )
    refuse_unknown_document(session, fit.document)
    sequence = _refuse_like(session, draft, fit, from_on)
    return draft.new(
        session,
        "fit_limit",
        engine_type_id=fit.engine_type,
        group_name=fit.group,
        sequence=sequence,
        name=fit.name,
        kind=fit.kind,
        outer_station=fit.outer_station,
        outer_name=fit.outer_name,
        outer_point=fit.outer_point,
        outer_part_id=fit.outer_part,
        inner_station=fit.inner_station,
        inner_name=fit.inner_name,
        inner_point=fit.inner_point,
        inner_part_id=fit.inner_part,
        gap=fit.gap,
        unit=fit.unit,
        low=fit.low,
        high=fit.high,
        worn_high=fit.worn_high,
        target=fit.target,
        operation=fit.operation,
        makes_matched=fit.makes_matched,
        revision=fit.revision,
        source=fit.source,
        document_id=fit.document,
        from_on=from_on,
    )


def _checked(fit: NewFitLimit, names: GroupStations, sure: bool) -> NewFitLimit:
    """The fit as it is kept, its names, unit and figures as we write them."""
    if not single_spaced(fit.name):
        raise FieldRefused("name", "The fit has no name.", "Type what it is called, such as piston in bore.")
    fit = replace(
        fit,
        group=names.group,
        name=single_spaced(fit.name),
        outer_station=names.station(fit.outer_station, "outer_station"),
        inner_station=names.station(fit.inner_station, "inner_station"),
        outer_name=single_spaced(fit.outer_name),
        inner_name=single_spaced(fit.inner_name),
        outer_point=single_spaced(fit.outer_point),
        inner_point=single_spaced(fit.inner_point),
    )
    if not fit.outer_name:
        raise FieldRefused(
            "outer_name", f"{fit.name}: the outer dimension is not named.", "Name it as its part's line does."
        )
    if fit.gap and (fit.inner_name or fit.inner_point):
        raise FieldRefused(
            "inner_name", f"{fit.name} is a gap, and takes no inner dimension.", "Leave it empty."
        )
    if not fit.gap and not fit.inner_name:
        raise FieldRefused(
            "inner_name",
            f"{fit.name}: the inner dimension is not named.",
            "Name it, or say that it is a gap.",
        )
    if (fit.outer_station, fit.outer_name, fit.outer_point) == (
        *(fit.inner_station, fit.inner_name, fit.inner_point),
    ) and fit.outer_part == fit.inner_part:
        raise FieldRefused(
            "inner_name",
            f"{fit.name}: both are the {fit.outer_name} of the {fit.outer_station}.",
            "Name two parts that fit each other.",
        )
    unit = unit_named(fit.unit)
    if UNITS[unit].kind is not Kind.LENGTH:
        lengths = ", ".join(each.name for each in UNITS.values() if each.kind is Kind.LENGTH)
        raise FieldRefused("unit", f"A fit is not measured in {unit}.", f"Use one of: {lengths}.")
    low = _figure(fit.low, unit, "low", fit, sure)
    high = _figure(fit.high, unit, "high", fit, sure)
    if low is None or high is None:
        field = "low" if low is None else "high"
        raise FieldRefused(field, f"{fit.name}: a limit is missing.", "Give both of its new limits.")
    worn_high = _figure(fit.worn_high, unit, "worn_high", fit, sure)
    target = _figure(fit.target, unit, "target", fit, sure)
    fit = replace(fit, unit=unit, low=low, high=high, worn_high=worn_high, target=target)
    check_terms(FitTerms(fit.name, fit.kind, unit, low, high, worn_high, target, fit.operation))
    return fit


def _named_as_measured(session: Session, fit: NewFitLimit, sure: bool) -> NewFitLimit:
    """The fit with its dimensions and points named as the specifications of its parts name them."""

    def named(end: str, part: int | None) -> tuple[str, str]:
        at = (fit.engine_type, fit.group, getattr(fit, f"{end}_station"))
        typed = (getattr(fit, f"{end}_name"), getattr(fit, f"{end}_point"))
        return dimension_named(session, at, SpecKind.DIMENSION, typed, f"{end}_name", part=part, sure=sure)

    outer_name, outer_point = named("outer", fit.outer_part)
    if fit.gap:
        return replace(fit, outer_name=outer_name, outer_point=outer_point)
    inner_name, inner_point = named("inner", fit.inner_part)
    return replace(
        fit, outer_name=outer_name, outer_point=outer_point, inner_name=inner_name, inner_point=inner_point
    )


def _figure(text: str | None, unit: str, field: str, fit: NewFitLimit, sure: bool) -> str | None:
    if text is None or not text.strip():
        return None
    measured = read_measured(text, unit, field, signed=not fit.gap, sure=sure)
    if measured.unit != unit:
        raise FieldRefused(
            field,
            f"{fit.name}: {text.strip()!r} is in {measured.unit}, and the fit in {unit}.",
            "Give all of it in one unit.",
        )
    if measured.value < 0 and not sure:
        raise Asked(
            field,
            f"{fit.name}: {measured.words} is below zero, which is an interference.",
            "If the two are pressed together, say so; else check the figure.",
        )
    return measured.text


def _refuse_like(session: Session, draft: Draft, fit: NewFitLimit, from_on: date) -> int:
    """Refuse what stands already from the same day; returns the sequence: that of its earlier revision, else
    the one after all in the group."""
    rows = session.execute(
        select(
            FitLimit.sequence,
            FitLimit.name,
            FitLimit.outer_station,
            FitLimit.inner_station,
            FitLimit.outer_part_id,
            FitLimit.inner_part_id,
            FitLimit.from_on,
            FitLimit.withdrawn_on,
        ).where(FitLimit.engine_type_id == fit.engine_type, FitLimit.group_name == fit.group)
    )
    others = [dict(row._mapping) for row in rows]
    for fact in draft.facts:
        of_this = (fact.values.get("engine_type_id"), fact.values.get("group_name"))
        if fact.record == "fit_limit" and of_this == (fit.engine_type, fit.group):
            others.append({**fact.values, "from_on": date.fromisoformat(str(fact.values["from_on"]))})
    wanted = {
        "outer_station": fit.outer_station,
        "inner_station": fit.inner_station,
        "outer_part_id": fit.outer_part,
        "inner_part_id": fit.inner_part,
    }
    same = [
        other
        for other in others
        if str(other["name"]).casefold() == fit.name.casefold()
        and all(other.get(name) == value for name, value in wanted.items())
    ]
    if any(other["from_on"] == from_on and other.get("withdrawn_on") is None for other in same):
        raise FieldRefused(
            "name",
            f"The fit {fit.name} of these parts is in force from {from_on.isoformat()} already.",
            "Withdraw that one first, or give the day of this revision.",
        )
    if same:
        return int(same[-1]["sequence"])
    return max((int(other["sequence"]) for other in others), default=0) + 1


def withdraw_fit_limit(session: Session, fit: int, because: str, by: By) -> int:
    """Say that the limits of a fit hold no more from that day on, and why; returns the entry's number."""
    draft = begin_draft(session, EntryKind.SPECIFICATION, by)
    row = session.execute(select(FitLimit.withdrawn_on).where(FitLimit.id == fit)).one_or_none()
    if row is None:
        raise Refused("There is no such fit.", "Look again.")
    if row.withdrawn_on is not None:
        raise Refused(
            f"That fit was withdrawn on {row.withdrawn_on.isoformat()}.", "There is nothing to withdraw."
        )
    if not because.strip():
        raise FieldRefused("because", "It isn't said why the fit is withdrawn.", "Type it.")
    draft.remark(because)
    draft.set("fit_limit", fit, withdrawn_on=draft.happened_on)
    return post(session, draft).number


def fit_limits_of(
    session: Session, engine_type: int, group: str | None = None, on: date | None = None
) -> tuple[FitLimitFacts, ...]:
    """The fits of an engine type, or of one group of it, that hold on a day (None: today), in their order.

    Of two that are for the same parts the one in force from the later day comes first, and is what counts.
    """
    day = as_of(session, on)
    query = select(FitLimit).where(
        FitLimit.engine_type_id == engine_type,
        FitLimit.from_on <= day,
        or_(FitLimit.withdrawn_on.is_(None), FitLimit.withdrawn_on > day),
    )
    if group is not None:
        query = query.where(FitLimit.group_name == group)
    rows = session.scalars(
        query.order_by(FitLimit.group_name, FitLimit.sequence, FitLimit.from_on.desc(), FitLimit.id)
    ).all()
    parts = {part for row in rows for part in (row.outer_part_id, row.inner_part_id) if part is not None}
    numbers = dict(session.execute(select(Part.id, Part.house_number).where(Part.id.in_(parts))).all())
    documents = dict(
        session.execute(
            select(Document.id, Document.reference).where(Document.id.in_([row.document_id for row in rows]))
        ).all()
    )

    def end(station: str, name: str, point: str, part: int | None) -> FitEndFacts:
        return FitEndFacts(station, name, point, part, numbers.get(part or 0, ""))

    return tuple(
        FitLimitFacts(
            row.id,
            row.group_name,
            FitTerms(
                row.name, row.kind, row.unit, row.low, row.high, row.worn_high, row.target, row.operation
            ),
            end(row.outer_station, row.outer_name, row.outer_point, row.outer_part_id),
            end(row.inner_station, row.inner_name, row.inner_point, row.inner_part_id),
            row.gap,
            row.makes_matched,
            row.revision,
            row.source,
            documents.get(row.document_id or 0, ""),
            row.from_on,
            row.withdrawn_on,
            row.set_by,
        )
        for row in rows
    )
