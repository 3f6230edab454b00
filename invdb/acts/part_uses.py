"""Where a part is used: kit lines that ask for it or for what it stands in for, and the fits it is in."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.fit_limit import FitLimitFacts, fit_limits_of
from invdb.acts.held_where import begins_after, ended_by, held_where, holds_of
from invdb.acts.mods_embodied import mod_names
from invdb.acts.stand_in_graph import StandInGraph
from invdb.records.catalogue import KitLine, Part
from invdb.records.engines import EngineType
from invdb.rules.effectivity import effectivity_words
from invdb.rules.measuring import both_ways, kept
from invdb.rules.quantities import quantity_words
from invdb.rules.specification import range_words


@dataclass(frozen=True)
class UseFacts:
    """A kit line that asks for the part, or for another that it may stand in for.

    ``instead_of`` is that other's house number, '' for the part itself, and ``through`` the stand-ins by id
    that lead there. ``holds`` is for which positions, serials and mods, and from when until when, in words.
    """

    kit_line: int
    engine_type: str
    group: str
    sequence: int
    station: str
    quantity: str
    holds: str
    renewed_always: bool
    instead_of: str
    through: tuple[int, ...]
    note: str
    ended: bool
    waits: bool
    entry: int

    @property
    def in_force(self) -> bool:
        """Whether it held on the day asked about."""
        return not self.ended and not self.waits


@dataclass(frozen=True)
class PartFit:
    """A fit that the part is in, with its figures both ways."""

    engine_type: str
    fit: FitLimitFacts
    limits: str
    worn: str
    target: str

    @property
    def between(self) -> str:
        """``bore of the barrel and skirt of the piston``; of a gap its one dimension."""
        outer = f"{self.fit.outer.name} of the {self.fit.outer.station}"
        if self.fit.gap:
            return f"{outer}, in the {self.fit.inner.station}"
        return f"{outer} and {self.fit.inner.name} of the {self.fit.inner.station}"


def part_uses(session: Session, part: int, graph: StandInGraph, on: date) -> tuple[UseFacts, ...]:
    """The kit lines that ask for a part, then those for what it may stand in for on a day; ended ones too."""
    stood_for = {each.part: each for each in graph.nodes if each.stood_in_for}
    mods = mod_names(session)
    rows = session.execute(
        select(KitLine, EngineType.name, Part.measure)
        .join(EngineType, EngineType.id == KitLine.engine_type_id)
        .join(Part, Part.id == KitLine.part_id)
        .where(KitLine.part_id.in_([part, *stood_for]))
        .order_by(EngineType.name, KitLine.group_name, KitLine.sequence, KitLine.id)
        .execution_options(populate_existing=True)
    )
    found = []
    for line, engine_type, measure in rows:
        other = stood_for.get(line.part_id)
        found.append(
            UseFacts(
                line.id,
                engine_type,
                line.group_name,
                line.sequence,
                line.station,
                quantity_words(line.quantity, measure),
                effectivity_words(held_where(holds_of(line), mods)),
                line.renewed_always,
                "" if other is None else other.number,
                () if other is None else other.through,
                line.note,
                ended_by(line, on),
                begins_after(line, on),
                line.set_by,
            )
        )
    return tuple(sorted(found, key=lambda each: bool(each.instead_of)))


def part_fits(session: Session, part: int, uses: Collection[UseFacts], on: date) -> tuple[PartFit, ...]:
    """The fits on a day at the stations where a part sits, less those that name another part there.

    Of two for the same parts the one in force from the later day comes first, and is what counts.
    """
    seats: dict[tuple[str, str], set[str]] = defaultdict(set)
    for use in uses:
        if use.in_force:
            seats[use.engine_type, use.group].add(use.station)
    types = dict(session.execute(select(EngineType.name, EngineType.id)).all())
    found = []
    for (engine_type, group), stations in sorted(seats.items()):
        for fit in fit_limits_of(session, types[engine_type], group, on):
            ends = [end for end in (fit.outer, fit.inner) if end.station in stations]
            if any(end.part in {None, part} for end in ends):
                terms = fit.terms
                worn = "" if terms.worn_high is None else both_ways(kept(terms.worn_high, terms.unit))
                target = "" if terms.target is None else both_ways(kept(terms.target, terms.unit))
                limits = range_words(terms.low, terms.high, terms.unit)
                found.append(PartFit(engine_type, fit, limits, worn, target))
    return tuple(found)
