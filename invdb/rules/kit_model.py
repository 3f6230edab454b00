"""What a kit choice is asked and what it answers, in plain values.

A *need* is one kit line at one position of one engine. Its *options* are the preferred part and its
alternates; an option has one *component* for a one-for-one part and several for a set fitted together. A
component names the *sources* that could feed it: single pieces, or what is free of a batch. Everything that
bars a source outright (condition, scope, holds, owners, life) has been left out of the candidates beforehand.

Quantities are whole numbers of the need's measure: pieces, µm or mg. A counted need may be filled in part, by
several sources and by several options side by side; a set counts one unit only when every component is there.
A need measured by length or weight is cut or weighed off in one go: each of its components takes the whole
amount from a single source, or the need stays short.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from invdb.terms import Measure, Refused

POSITIONS_MAX = 200
NEEDS_MAX = 4_000
CANDIDATES_MAX = 100_000
QUANTITY_COUNT_MAX = 10_000
QUANTITY_MEASURED_MAX = 10**12
AVAILABLE_MAX = 10**15
RANK_MAX = 100_000
PREFERENCE_MAX = 1_000
TENTHS_MAX = 100_000
MASS_MAX = 10**9

Key = int | str


@dataclass(frozen=True, slots=True)
class Source:
    """A piece (``available`` 1) or the free quantity of a batch.

    ``home_line`` is the need it ran in before, for a mate that should go back to its own station.
    ``shelf_expiry_rank`` and ``receipt_rank`` count from the earliest, 0 to 100,000. ``other_uses`` is how
    many other parts or lines it could serve.
    """

    key: Key
    available: int
    home_line: Key | None = None
    shelf_expiry_rank: int = 0
    receipt_rank: int = 0
    other_uses: int = 0

    def __post_init__(self) -> None:
        if not 0 <= self.available <= AVAILABLE_MAX:
            raise ValueError(f"source {self.key}: {self.available} cannot be available")
        for rank in (self.shelf_expiry_rank, self.receipt_rank, self.other_uses):
            if not 0 <= rank <= RANK_MAX:
                raise ValueError(f"source {self.key}: rank {rank} is not within 0..{RANK_MAX}")


@dataclass(frozen=True, slots=True)
class Component:
    """One part of an option: how many go into one unit of the need, and the sources that could feed it."""

    quantity_each: int
    candidates: tuple[Key, ...]

    def __post_init__(self) -> None:
        if not 1 <= self.quantity_each <= QUANTITY_COUNT_MAX:
            raise ValueError(f"{self.quantity_each} of a component cannot go into one unit")
        if len(set(self.candidates)) < len(self.candidates):
            raise ValueError(f"a candidate is named twice: {self.candidates}")


@dataclass(frozen=True, slots=True)
class NeedOption:
    """One way to fill a unit of a need; the lowest ``preference`` is the preferred part."""

    preference: int
    components: tuple[Component, ...]

    def __post_init__(self) -> None:
        if not 0 <= self.preference <= PREFERENCE_MAX:
            raise ValueError(f"preference {self.preference} is not within 0..{PREFERENCE_MAX}")
        if not self.components:
            raise ValueError("an option needs at least one component")


@dataclass(frozen=True, slots=True)
class Need:
    """One kit line at one position. ``key`` is its own, unique over all positions of the request."""

    key: Key
    position: Key
    quantity: int
    options: tuple[NeedOption, ...]
    measure: Measure = Measure.COUNT

    def __post_init__(self) -> None:
        most = QUANTITY_MEASURED_MAX if self.whole else QUANTITY_COUNT_MAX
        if not 1 <= self.quantity <= most:
            raise Refused(
                f"A kit line cannot ask for {self.quantity} {self.measure.smallest_unit}.",
                f"Ask for 1 to {most}.",
            )

    @property
    def whole(self) -> bool:
        """Whether it must be fed by one source in one go, being measured and not counted."""
        return self.measure is not Measure.COUNT

    @property
    def candidates(self) -> dict[Key, None]:
        """Every source that could feed it, once each, in the order of its options."""
        return dict.fromkeys(
            key for option in self.options for component in option.components for key in component.candidates
        )

    @property
    def units(self) -> int:
        """What the sums count: each of a counted need, and a measured one as a single unit."""
        return 1 if self.whole else self.quantity


@dataclass(frozen=True, slots=True)
class PositionRequest:
    """A position to be kitted; among positions, those with the highest ``priority`` are completed first.

    Positions may share a ``throw``: the fork rod of one cylinder runs with the blade rod of another.
    """

    key: Key
    priority: int = 0
    throw: Key | None = None


@dataclass(frozen=True, slots=True)
class Pairing:
    """How the sources of two needs of one position would sit together.

    ``barred`` pairs, (source of ``need``, source of ``other``), are never chosen together: outside the limits
    of a fit, or of the wrong size or finish. ``tenths`` is how far the fit of a pair stays from its target,
    in tenths of the half-tolerance; a pair that is absent weighs nothing. Where a need takes several, each
    chosen source of one must suit each of the other, since nobody says which goes with which.
    """

    need: Key
    other: Key
    barred: frozenset[tuple[Key, Key]] = frozenset()
    tenths: Mapping[tuple[Key, Key], int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.need == self.other:
            raise ValueError(f"need {self.need} cannot be paired with itself")
        if any(not 0 <= each <= TENTHS_MAX for each in self.tenths.values()):
            raise ValueError(f"pairing {self.need}, {self.other}: tenths not within 0..{TENTHS_MAX}")


@dataclass(frozen=True, slots=True)
class Balance:
    """Positions whose masses agree, in mg: within ``spread`` of one another, or of ``target`` where given.

    ``masses`` are by (need, source), for each piece, or for the whole amount of a need that is measured;
    every need that they name counts, and a source that is absent was never weighed. ``fixed`` are the masses
    of positions that stay as they are. A position counts once each of its needs that count is filled by
    weighed sources alone. One that is filled otherwise is of unknown mass: no rule bars that, but the choice
    avoids it before it looks at how far masses are apart.
    """

    key: Key
    spread: int
    masses: Mapping[tuple[Key, Key], int]
    target: int | None = None
    fixed: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        if not 0 <= self.spread <= MASS_MAX:
            raise ValueError(f"balance {self.key}: a spread of {self.spread} mg is none")
        figures = [*self.masses.values(), *self.fixed, *([] if self.target is None else [self.target])]
        if any(not 0 <= mass <= MASS_MAX for mass in figures):
            raise ValueError(f"balance {self.key}: a mass is not within 0..{MASS_MAX} mg")

    @property
    def needs(self) -> tuple[Key, ...]:
        """The needs that count, once each."""
        return tuple(dict.fromkeys(need for need, _ in self.masses))

    def quarters(self, masses: Collection[int]) -> int:
        """How far these masses and the fixed ones are apart, in quarters of the spread, rounded up.

        More than four is outside the spread.
        """
        every = [*masses, *self.fixed]
        if self.target is not None:
            far = max(abs(mass - self.target) for mass in every)
        else:
            far = max(every) - min(every)
        if not far:
            return 0
        return -(-4 * far // self.spread) if self.spread else 5


@dataclass(frozen=True)
class KitRequest:
    """Everything one choice weighs at once.

    ``matched_sets`` are sources that go together into one position (or the positions of one throw), or not at
    all; each is a single piece. A member that is not among the sources (on hold, say) keeps the rest of its
    set out too.
    """

    positions: Sequence[PositionRequest]
    needs: Sequence[Need]
    sources: Sequence[Source]
    matched_sets: Sequence[tuple[Key, ...]] = ()
    pairings: Sequence[Pairing] = ()
    balances: Sequence[Balance] = ()

    def __post_init__(self) -> None:
        candidates = sum(
            len(component.candidates)
            for need in self.needs
            for option in need.options
            for component in option.components
        )
        for count, most, what in (
            (len(self.positions), POSITIONS_MAX, "positions"),
            (len(self.needs), NEEDS_MAX, "kit lines"),
            (candidates, CANDIDATES_MAX, "candidates"),
        ):
            if count > most:
                raise Refused(
                    f"{count} {what} are more than one proposal can weigh.", "Propose fewer at once."
                )
        self._check_keys()

    @property
    def throws(self) -> dict[Key, Key]:
        """The throw of each position: its own where it shares none."""
        return {each.key: each.key if each.throw is None else each.throw for each in self.positions}

    def _check_keys(self) -> None:
        positions = {position.key for position in self.positions}
        sources = {source.key: source for source in self.sources}
        if len(positions) < len(self.positions) or len(sources) < len(self.sources):
            raise ValueError("a position or a source is named twice")
        if len({need.key for need in self.needs}) < len(self.needs):
            raise ValueError("a need is named twice")
        for need in self.needs:
            if need.position not in positions:
                raise ValueError(f"need {need.key}: position {need.position} is not asked for")
            if unknown := [key for key in need.candidates if key not in sources]:
                raise ValueError(f"need {need.key}: sources {unknown} are not given")
        measure_by_source: dict[Key, Measure] = {}
        for need in self.needs:
            for key in need.candidates:
                if measure_by_source.setdefault(key, need.measure) is not need.measure:
                    raise ValueError(f"source {key} cannot be counted for one need and measured for another")
        position_by_need = {need.key: need.position for need in self.needs}
        for pairing in self.pairings:
            tied = [position_by_need.get(pairing.need), position_by_need.get(pairing.other)]
            if None in tied or tied[0] != tied[1]:
                raise ValueError(f"pairing {pairing.need}, {pairing.other}: not needs of one position")
        for balance in self.balances:
            if unknown := [key for key in balance.needs if key not in position_by_need]:
                raise ValueError(f"balance {balance.key}: needs {unknown} are not asked for")
        for members in self.matched_sets:
            if any(key in sources and sources[key].available > 1 for key in members):
                raise ValueError(f"matched set {members}: every member must be a single piece")


@dataclass(frozen=True, slots=True)
class Allocation:
    """``quantity`` (pieces, µm or mg) of a source for one component of one option of a need."""

    need: Key
    option: int
    component: int
    source: Key
    quantity: int


@dataclass(frozen=True, slots=True)
class LineFill:
    """How much of a need is filled, in the need's own measure."""

    need: Key
    filled: int
    short: int


@dataclass(frozen=True, slots=True)
class PositionFill:
    """Whether every need of a position is filled."""

    position: Key
    complete: bool


@dataclass(frozen=True, slots=True)
class StepSum:
    """One of the sums, in the order they were optimised.

    ``bound`` is what no choice can better, given the sums before it; None where none was sought. ``most``
    tells whether more is better.
    """

    name: str
    most: bool
    total: int
    bound: int | None

    @property
    def proven(self) -> bool:
        """Whether the sum meets its bound."""
        return self.bound == self.total

    @property
    def gap(self) -> int | None:
        """How much better the sum could be at most; 0 if proven, None where no bound was sought."""
        return None if self.bound is None else abs(self.bound - self.total)

    @property
    def gap_words(self) -> str:
        """The gap in one clause, such as ``fits: 31 reached, 28 at best``; '' if proven."""
        if self.proven:
            return ""
        if self.bound is None:
            return f"{self.name}: {self.total} reached, and what is best is not known"
        return f"{self.name}: {self.total} reached, {self.bound} at best"


@dataclass(frozen=True)
class Kit:
    """The choice: allocations in the order of the needs, what they fill, and the sums they reach."""

    allocations: tuple[Allocation, ...]
    lines: tuple[LineFill, ...]
    positions: tuple[PositionFill, ...]
    steps: tuple[StepSum, ...]

    @property
    def proven(self) -> bool:
        """Whether no other choice could be better: every step's bound meets its sum."""
        return all(step.proven for step in self.steps)

    @property
    def gap_words(self) -> str:
        """How far from the best it may be, by the first sum that is not proven; '' for a proven kit.

        The sums after it have no best of their own before it is settled.
        """
        return next((step.gap_words for step in self.steps if not step.proven), "")

    @property
    def score(self) -> tuple[int, ...]:
        """The sums in order, signed so that the greater tuple is the better kit of the same request."""
        return tuple(step.total if step.most else -step.total for step in self.steps)
