"""The plain choice: position after position, line after line, the first good source that is left.

It is what a person does with a kit list and a shelf, the start the exact choice improves on, and the measure
of what was gained.
"""

from __future__ import annotations

from invdb.rules.kit_model import Component, Key, Kit, KitRequest, Need, Source
from invdb.rules.kit_sums import kit_of, parted
from invdb.rules.kit_ties import Choice, Taken, Ties


def first_come(request: KitRequest) -> Kit:
    """The first-come kit; no bound is sought for its sums."""
    return kit_of(request, first_come_choice(request), None)


def first_come_choice(request: KitRequest) -> Choice:
    """What first come takes: positions by priority, then all in the order given.

    Within a line the preferred option comes first, and within an option the earliest shelf expiry, then the
    oldest receipt; what does not suit what was taken before it, by fit or by mass, is passed over. A matched
    set that would be parted is left on the shelf whole.
    """
    ties = Ties(request)
    rank = {position.key: -position.priority for position in request.positions}
    place = {position.key: index for index, position in enumerate(request.positions)}
    needs = sorted(request.needs, key=lambda need: (rank[need.position], place[need.position]))
    source_by_key = {source.key: source for source in request.sources}
    barred: set[Key] = set()
    for _ in range(len(request.matched_sets) + 1):
        left = {key: 0 if key in barred else source.available for key, source in source_by_key.items()}
        choice: Choice = {}
        for need in needs:
            _fill(need, source_by_key, left, choice, ties)
        broken = parted(request, choice)
        if not broken:
            return choice
        barred.update(key for members in broken for key in members)
    raise AssertionError("leaving out a matched set must end within as many rounds as there are sets")


def _fill(
    need: Need, source_by_key: dict[Key, Source], left: dict[Key, int], choice: Choice, ties: Ties
) -> None:
    """Takes for the need what is left, unit by unit, adding to the choice."""
    units_short = need.units
    by_preference = sorted(range(len(need.options)), key=lambda index: need.options[index].preference)
    for option_index in by_preference:
        components = [
            (component, _in_order(component, source_by_key))
            for component in need.options[option_index].components
        ]
        while units_short:
            drawn = _draw_unit(need, option_index, components, left, choice, ties)
            if drawn is None:
                break
            for component_index, source, quantity, amount in drawn:
                taken = Taken(need.key, option_index, component_index, source)
                choice[taken] = choice.get(taken, 0) + quantity
                left[source] -= amount
            units_short -= 1


def _in_order(component: Component, source_by_key: dict[Key, Source]) -> list[Key]:
    sources = [source_by_key[key] for key in component.candidates]
    sources.sort(key=lambda source: (source.shelf_expiry_rank, source.receipt_rank))
    return [source.key for source in sources]


def _draw_unit(
    need: Need,
    option_index: int,
    components: list[tuple[Component, list[Key]]],
    left: dict[Key, int],
    choice: Choice,
    ties: Ties,
) -> list[tuple[int, Key, int, int]] | None:
    """One unit as (component, source, quantity taken, amount drawn), or None if some component is lacking."""
    with_this = dict(choice)
    drawn: list[tuple[int, Key, int, int]] = []
    reserved: dict[Key, int] = {}
    for component_index, (component, candidates) in enumerate(components):
        wanted = component.quantity_each * (need.quantity if need.whole else 1)
        for source in candidates:
            free = left[source] - reserved.get(source, 0)
            drawable = free if not need.whole or free >= wanted else 0
            if drawable <= 0:
                continue
            part = min(wanted, drawable)
            taken = Taken(need.key, option_index, component_index, source)
            quantity = 1 if need.whole else part
            if not ties.may_take(taken, quantity, with_this):
                continue
            with_this[taken] = with_this.get(taken, 0) + quantity
            drawn.append((component_index, source, quantity, part))
            reserved[source] = reserved.get(source, 0) + part
            wanted -= part
            if not wanted:
                break
        if wanted:
            return None
    return drawn
