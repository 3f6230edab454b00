"""What stands at the stations of an engine whose mass counts, beside what a kit choice is asked for.

A piece that a pull holds for a station goes there, so it stands for what is fitted there now.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from sqlalchemy.orm import Session

from invdb.acts.built_things import built_things
from invdb.acts.kit_facts import EngineFacts, Held
from invdb.acts.kit_suits import At, Group, KitSuits
from invdb.acts.numbers import Thing
from invdb.acts.things import things_by_id

# The things at the weighed stations of each position, by its name.
Standing = Mapping[str, Sequence[At]]


def read_standing(
    session: Session,
    engines: Iterable[EngineFacts],
    groups: Iterable[Group],
    held: Mapping[tuple[int, int], Sequence[Held]],
    suits: KitSuits,
) -> dict[tuple[int, Group], Standing]:
    """What stands where masses must agree with one another, by engine and group; ``suits`` learns of it."""
    found: dict[tuple[int, Group], dict[str, list[tuple[str, Thing]]]] = {}
    groups = tuple(groups)
    for engine in engines:
        for group in groups:
            weighed = {
                station
                for balance in suits.balances[group]
                if balance.target is None
                for station, _ in balance.masses
            }
            if group[0] == engine.engine_type and weighed:
                found[engine.id, group] = _at_weighed(session, engine, group[1], held, weighed)
    things = {thing for at in found.values() for here in at.values() for _, thing in here}
    states = things_by_id(session, things)
    suits.learn(state for thing, state in states.items() if not suits.knows(thing))
    return {
        key: {
            position: [(station, states[thing]) for station, thing in here] for position, here in at.items()
        }
        for key, at in found.items()
    }


def _at_weighed(
    session: Session,
    engine: EngineFacts,
    group: str,
    held: Mapping[tuple[int, int], Sequence[Held]],
    weighed: set[str],
) -> dict[str, list[tuple[str, Thing]]]:
    found = {}
    for position, built in built_things(session, engine, group).items():
        at = defaultdict(list)
        for each in held.get((engine.id, position.id), ()):
            at[each.station].append(each.thing)
        bound = set(at)
        for station, thing in built:
            if station not in bound:
                at[station].append(thing)
        found[position.name] = [
            (station, thing) for station in at if station in weighed for thing in at[station]
        ]
    return found
