"""What a part must be: put in the revisions of its specification, withdraw one, read them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from itertools import combinations

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.by import By, begin_draft, refuse_odd_year
from invdb.acts.kit_fits import line_limits
from invdb.acts.papers import refuse_unknown_document
from invdb.acts.part_size import sizes_known
from invdb.acts.spec_line import NewSpecLine, checked_line
from invdb.records.documents import Document
from invdb.records.draft import Draft
from invdb.records.posting import post
from invdb.records.registry import one_line
from invdb.records.specs import Spec, SpecLine
from invdb.rules.measuring import kept
from invdb.rules.specification import SpecFacts, SpecLineFacts, single_spaced
from invdb.terms import Asked, EntryKind, FieldRefused, Refused, SpecKind

LINES_MAX = 400


@dataclass(frozen=True)
class NewSpec:
    """One revision of a part's specification, in force from a day until a later one is.

    ``source`` names the publication; ``document`` is its id among the papers, if it is here.
    """

    part: int
    revision: str
    from_on: date
    source: str
    lines: tuple[NewSpecLine, ...]
    document: int | None = None
    note: str = ""


def add_spec(session: Session, spec: NewSpec, by: By, sure: bool = False) -> int:
    """Add a revision of a part's specification; returns its id.

    FieldRefused when a figure or a unit can't be read, limits contradict one another, a line is named twice
    for one size, or the revision stands already; Asked, unless ``sure``, for a comma. A line keeps the name
    that the part has for it already, whatever the case.
    """
    draft = begin_draft(session, EntryKind.SPECIFICATION, by)
    spec_id = draft_spec(session, draft, spec, sure)
    post(session, draft)
    return spec_id


def draft_spec(session: Session, draft: Draft, spec: NewSpec, sure: bool = False) -> int:
    """Put a revision of a specification into a draft; returns its id. See ``add_spec``."""
    sizes = sizes_known(session, spec.part, draft)
    _check_head(session, draft, spec)
    spec_id = draft.new(
        session,
        "spec",
        part_id=spec.part,
        revision=spec.revision,
        from_on=spec.from_on,
        source=spec.source,
        document_id=spec.document,
        note=spec.note,
    )
    spellings = _spellings(session, draft, spec.part)
    named: set[tuple[str, str]] = set()
    for sequence, given in enumerate(spec.lines, start=1):
        line = checked_line(given, sure)
        size_class = _size_named(line, sizes)
        key = (line.name.casefold(), size_class.casefold())
        if key in named:
            of_size = f" for {size_class}" if size_class else ""
            raise FieldRefused("name", f"{line.name} is named twice{of_size}.", "Name it once for each size.")
        named.add(key)
        draft.new(
            session,
            "spec_line",
            spec_id=spec_id,
            sequence=sequence,
            **{
                **vars(line),
                "name": spellings.setdefault(line.name.casefold(), line.name),
                "size_class": size_class,
            },
        )
    return spec_id


def _check_head(session: Session, draft: Draft, spec: NewSpec) -> None:
    revision = one_line(spec.revision)
    if not revision:
        raise FieldRefused("revision", "The revision has no name.", "Type its letter, number or date.")
    refuse_odd_year("from_on", spec.from_on)
    if not spec.source.strip() and spec.document is None:
        raise FieldRefused(
            "source", "It isn't said what publishes this.", "Name the publication, or its document."
        )
    refuse_unknown_document(session, spec.document)
    if not spec.lines:
        raise FieldRefused("lines", "The specification says nothing.", "Give at least one line.")
    if len(spec.lines) > LINES_MAX:
        raise FieldRefused(
            "lines", f"{len(spec.lines)} lines are too many.", f"Give at most {LINES_MAX} for one part."
        )
    standing = session.execute(
        select(Spec.revision, Spec.from_on).where(Spec.part_id == spec.part, Spec.withdrawn_on.is_(None))
    )
    others = [(row.revision, row.from_on) for row in standing] + [
        (str(fact.values["revision"]), date.fromisoformat(str(fact.values["from_on"])))
        for fact in draft.facts
        if fact.record == "spec" and fact.values.get("part_id") == spec.part
    ]
    for other, from_on in others:
        if other.casefold() == revision.casefold():
            raise FieldRefused(
                "revision", f"Revision {other} of it stands already.", "Withdraw that, or name this another."
            )
        if from_on == spec.from_on:
            raise FieldRefused(
                "from_on",
                f"Revision {other} of it is in force from {from_on.isoformat()} as well.",
                "Give another day, or withdraw that one first.",
            )


def _spellings(session: Session, draft: Draft, part: int) -> dict[str, str]:
    """How the part's specifications spell the names of their lines, by what is compared.

    Figures and fits go by these names, so one that a later revision writes in other case stays the same.
    """
    standing = session.execute(
        select(SpecLine.name)
        .join(Spec, Spec.id == SpecLine.spec_id)
        .where(Spec.part_id == part)
        .order_by(SpecLine.id)
    ).scalars()
    specs = {
        fact.record_id for fact in draft.facts if fact.record == "spec" and fact.values.get("part_id") == part
    }
    drafted = (
        str(fact.values["name"])
        for fact in draft.facts
        if fact.record == "spec_line" and fact.values.get("spec_id") in specs
    )
    found: dict[str, str] = {}
    for name in (*standing, *drafted):
        found.setdefault(name.casefold(), name)
    return found


def ask_of_sizes(given: Iterable[NewSpecLine]) -> None:
    """Ask about sizes of one dimension whose new limits overlap, so that measuring can't tell them apart.

    For a face to call before ``add_spec``, unless whoever puts the lines in has said that it is so.
    """
    sized: dict[str, list[NewSpecLine]] = defaultdict(list)
    for line in (checked_line(each, sure=True) for each in given):
        if line.kind is SpecKind.DIMENSION and line.new_low is not None and line.new_high is not None:
            sized[line.name.casefold()].append(line)
    for alike in sized.values():
        for one, other in combinations(sorted(alike, key=_new_limits), 2):
            (low, high), (other_low, other_high) = _new_limits(one), _new_limits(other)
            if other_low <= high and (low, high) != (other_low, other_high):
                raise Asked(
                    "lines",
                    f"The new limits of {one.name} for {one.size_class or 'the standard size'} and for"
                    f" {other.size_class or 'the standard size'} overlap: {one.new_low} to {one.new_high}"
                    f" {one.unit}, and {other.new_low} to {other.new_high} {other.unit}.",
                    "Check the figures, or say that it is so.",
                )


def _new_limits(line: NewSpecLine) -> tuple[Fraction, Fraction]:
    assert line.new_low is not None and line.new_high is not None
    return kept(line.new_low, line.unit).value, kept(line.new_high, line.unit).value


def _size_named(line: NewSpecLine, sizes: tuple[str, ...]) -> str:
    """The size that a line is for as its part names it, '' for every size without a line of its own."""
    wanted = single_spaced(line.size_class).casefold()
    if not wanted:
        return ""
    for size in sizes:
        if single_spaced(size).casefold() == wanted:
            return size
    known = ", ".join(size for size in sizes if size) or "none but the standard one"
    raise FieldRefused(
        "size_class",
        f"{line.name}: the part has no size {single_spaced(line.size_class)!r}.",
        f"Add it first; its sizes are: {known}.",
    )


def withdraw_spec(session: Session, spec: int, because: str, by: By) -> int:
    """Say that a revision holds no more from that day on, and why; returns the entry's number.

    The revision before it is in force again.
    """
    draft = begin_draft(session, EntryKind.SPECIFICATION, by)
    row = session.execute(select(Spec.withdrawn_on).where(Spec.id == spec)).one_or_none()
    if row is None:
        raise Refused("There is no such specification.", "Look again.")
    if row.withdrawn_on is not None:
        raise Refused(
            f"That revision was withdrawn on {row.withdrawn_on.isoformat()}.", "There is nothing to withdraw."
        )
    if not because.strip():
        raise FieldRefused("because", "It isn't said why the revision is withdrawn.", "Type it.")
    draft.remark(because)
    draft.set("spec", spec, withdrawn_on=draft.happened_on)
    return post(session, draft).number


def spec_on(session: Session, part: int, on: date | None = None) -> SpecFacts | None:
    """The specification of a part in force on a day (None: today); None where there was none."""
    day = as_of(session, on)
    row = session.scalars(
        select(Spec)
        .where(
            Spec.part_id == part,
            Spec.from_on <= day,
            or_(Spec.withdrawn_on.is_(None), Spec.withdrawn_on > day),
        )
        .order_by(Spec.from_on.desc(), Spec.id.desc())
        .limit(1)
    ).one_or_none()
    return None if row is None else _facts(session, [row])[0]


def specs_of(session: Session, part: int) -> tuple[SpecFacts, ...]:
    """Every revision of a part's specification that was ever put in, the latest first."""
    rows = session.scalars(
        select(Spec).where(Spec.part_id == part).order_by(Spec.from_on.desc(), Spec.id.desc())
    ).all()
    return _facts(session, rows)


def spec_by_id(session: Session, spec: int) -> SpecFacts:
    """A revision of a specification; Refused for one that is not here."""
    row = session.get(Spec, spec)
    if row is None:
        raise Refused("There is no such specification.", "Look again.")
    return _facts(session, [row])[0]


def _facts(session: Session, rows: Iterable[Spec]) -> tuple[SpecFacts, ...]:
    rows = list(rows)
    lines: dict[int, list[SpecLineFacts]] = {row.id: [] for row in rows}
    found = session.scalars(
        select(SpecLine).where(SpecLine.spec_id.in_(lines)).order_by(SpecLine.sequence, SpecLine.id)
    )
    for line in found:
        lines[line.spec_id].append(_line_facts(line))
    references = dict(
        session.execute(
            select(Document.id, Document.reference).where(Document.id.in_([row.document_id for row in rows]))
        ).all()
    )
    return tuple(
        SpecFacts(
            row.id,
            row.part_id,
            row.revision,
            row.from_on,
            row.source,
            references.get(row.document_id or 0, ""),
            row.withdrawn_on,
            row.note,
            row.set_by,
            tuple(lines[row.id]),
        )
        for row in rows
    )


def _line_facts(line: SpecLine) -> SpecLineFacts:
    return SpecLineFacts(
        line.id,
        line.kind,
        line.name,
        line.size_class,
        line.unit,
        line_limits(line),
        line.target,
        line.spread_max,
        line.medium,
        line.hold_seconds,
        line.drop_max,
        line.wording,
    )
