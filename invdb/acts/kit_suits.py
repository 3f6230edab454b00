"""How the things that could go into kits suit each other, position by position of each engine."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from datetime import date
from fractions import Fraction
from itertools import combinations

from sqlalchemy.orm import Session

from invdb.acts.kit_fits import read_balances, read_known, read_suiting
from invdb.acts.numbers import Thing
from invdb.acts.proposed import FitShown
from invdb.acts.things import ThingState
from invdb.rules.availability import Bar, BarKind
from invdb.rules.suiting import BalanceLine, Judgement, Known, Suited, Suiting

# An engine type and a group of its positions.
Group = tuple[int, str]
# A thing at a station, by the station's name.
At = tuple[str, ThingState]


class KitSuits:
    """The fits, rules and masses of some groups, and what is known of the things they could concern."""

    def __init__(
        self, session: Session, groups: Iterable[Group], states: Collection[ThingState], on: date
    ) -> None:
        groups = list(dict.fromkeys(groups))
        self._suiting = {group: read_suiting(session, *group, on) for group in groups}
        self.balances: dict[Group, tuple[BalanceLine, ...]] = {
            group: read_balances(session, *group, on) for group in groups
        }
        self._asked = any(self.balances.values()) or any(each.stations for each in self._suiting.values())
        self._session = session
        self._on = on
        self._known: dict[Thing, Known] = {}
        self.learn(states)

    def learn(self, states: Iterable[ThingState]) -> None:
        """Read what is known of these things too, where anything is asked of them."""
        if self._asked:
            self._known |= read_known(self._session, states, self._on)

    def knows(self, thing: Thing) -> bool:
        """Whether what is known of a thing was read."""
        return thing in self._known

    def suiting(self, group: Group) -> Suiting:
        """The fits and rules of a group."""
        return self._suiting[group]

    def known(self, state: ThingState) -> Known:
        """What is known of a thing."""
        return self._known[state.thing]

    def judge(self, group: Group, one: At, other: At) -> Suited:
        """How two things at their stations suit each other."""
        (station, thing), (other_station, other_thing) = one, other
        return self._suiting[group].judge(
            station, self._known[thing.thing], other_station, self._known[other_thing.thing]
        )

    def tied(self, group: Group, station: str, other: str) -> bool:
        """Whether anything is asked of what sits at two stations together."""
        return self._suiting[group].tied(station, other)

    def bars(self, group: Group, one: At, others: Iterable[At]) -> tuple[Bar, ...]:
        """Why a thing may not go together with what sits at other stations."""
        return tuple(bar for other in others for bar in self._bars(group, one, other))

    def _bars(self, group: Group, one: At, other: At) -> Iterator[Bar]:
        if one[0] == other[0] or not self.tied(group, one[0], other[0]):
            return
        suited = self.judge(group, one, other)
        for words in suited.fit_bars:
            yield Bar(BarKind.FIT, f"with the {other[0]} {other[1].tag}: {words}")
        for words in suited.unmatched:
            yield Bar(BarKind.MATCH, words)

    def mass(self, balance: BalanceLine, things: Collection[At]) -> tuple[Fraction | None, str]:
        """What counts of a position in a set of masses, in g; None, and why, where it isn't known."""
        total = Fraction(0)
        for station, name in balance.masses:
            here = [state for at, state in things if at == station]
            if not here:
                return None, f"no {station} there"
            for state in here:
                mass = self.known(state).mass(name)
                if mass is None:
                    return None, f"{name} of {state.tag} was not weighed"
                total += mass
        return total, ""

    def fits(self, group: Group, things: Collection[At]) -> tuple[FitShown, ...]:
        """Every fit between things that go together, in the order of the stations."""
        if not self._suiting[group].stations:
            return ()
        found = []
        for one, other in combinations(things, 2):
            if one[0] != other[0] and self.tied(group, one[0], other[0]):
                for judgement in self.judge(group, one, other).fits:
                    outer_first = judgement.line.outer.station == one[0]
                    found.append(_shown(judgement, *((one, other) if outer_first else (other, one))))
        return tuple(found)


def _shown(judgement: Judgement, outer: At, inner: At) -> FitShown:
    terms, judged = judgement.line.terms, judgement.judged
    return FitShown(
        terms.name,
        terms.kind,
        outer[0],
        outer[1].tag,
        inner[0],
        inner[1].tag,
        judged.verdict,
        judged.words,
        judged.clearance is not None and judged.clearance.measured,
        terms.operation,
        terms.said(terms.aim),
    )
