"""An engine's positions as a picture shows them, each marked by how complete its kit could be."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence

from gui.shown import Cylinder, CylinderShape
from invdb.acts.engine_list import DrawnPosition, ListedEngine
from invdb.acts.kit_outlook import KitOutlook, PositionOutlook
from invdb.rules.pulling import KitState
from invdb.terms import Layout

THOUSANDTHS = 1000
BANKS = 2
STATIONS_NAMED_MAX = 3
NOT_WORKED_OUT = "not worked out"


def groups_of(engine: ListedEngine) -> tuple[str, ...]:
    """The groups of the engine's positions, cylinders first."""
    named = dict.fromkeys(position.group for position in engine.positions)
    return tuple(sorted(named, key=lambda group: (group != "cylinder", group)))


def positions_of(engine: ListedEngine, group: str) -> list[DrawnPosition]:
    """The positions of one of its groups, in the maker's order."""
    return [position for position in engine.positions if position.group == group]


def cylinders_of(
    engine: ListedEngine,
    group: str,
    outlooks: Mapping[int, PositionOutlook],
    ticked: Collection[int],
    *,
    together: bool,
) -> list[Cylinder]:
    """The group as drawn: what each could be by itself, or its share if all were pulled at once.

    ``outlooks`` and ``ticked`` are by position; one without an outlook is not worked out yet.
    """
    shape = shape_of(engine)
    drawn = []
    for position, (x, y, turn) in middles(engine.layout, positions_of(engine, group)):
        outlook = outlooks.get(position.position)
        shown = None if outlook is None else outlook.together if together else outlook.alone
        drawn.append(
            Cylinder(
                position.name,
                x,
                y,
                turn,
                shape,
                filled=shown.filled / shown.lines if shown is not None and shown.lines else 0.0,
                figure=f"{shown.filled}/{shown.lines}" if shown is not None and shown.lines else "",
                sign=NOT_WORKED_OUT if shown is None else str(shown.state),
                detail=_detail(position, outlook),
                ticked=position.position in ticked,
            )
        )
    return drawn


def shape_of(engine: ListedEngine) -> CylinderShape:
    """How its cylinders are drawn: banks of a vee stand in cooled blocks, single barrels have fins."""
    return CylinderShape.BLOCK if engine.layout is Layout.VEE else CylinderShape.FINNED


def middles(
    layout: Layout, positions: Sequence[DrawnPosition]
) -> list[tuple[DrawnPosition, tuple[float, float, float]]]:
    """Each position with the middle and turn it is drawn at: its own, or where nobody drew it, by layout."""
    drawn = [
        (each.x_thousandths / THOUSANDTHS, each.y_thousandths / THOUSANDTHS, float(each.turn_degrees))
        for each in positions
    ]
    if len({(x, y) for x, y, _turn in drawn}) < len(drawn):
        drawn = [_by_layout(layout, place, len(positions)) for place in range(len(positions))]
    return list(zip(positions, drawn, strict=True))


def _by_layout(layout: Layout, place: int, count: int) -> tuple[float, float, float]:
    if layout is Layout.RADIAL:
        turn = place * 360 / count
        return math.sin(math.radians(turn)), math.cos(math.radians(turn)), turn
    if layout is Layout.IN_LINE:
        return float(place), 0.0, 0.0
    in_bank = math.ceil(count / BANKS)
    bank = place // in_bank
    return float(place % in_bank), 1.3 * (1 - 2 * bank), 180.0 * bank


def _detail(position: DrawnPosition, outlook: PositionOutlook | None) -> str:
    lines = [position.note] if position.note else []
    if outlook is not None:
        lines += _told("By itself", outlook.alone)
        if outlook.together is not None:
            lines += _told("If all were pulled at once", outlook.together)
        if outlook.alone.pulls:
            lines.append(f"Held by pull {', '.join(outlook.alone.pulls)}")
    return "\n".join(lines)


def _told(when: str, outlook: KitOutlook) -> list[str]:
    if outlook.state is KitState.NO_KIT_LIST:
        return ["No kit list asks for anything here"]
    said = f"{when}: {outlook.state}, {outlook.filled} of {outlook.lines} lines"
    if outlook.waiting:
        named = ", ".join(outlook.waiting[:STATIONS_NAMED_MAX])
        more = len(outlook.waiting) - STATIONS_NAMED_MAX
        said += f"; waits for {named}" + (f" and {more} more" if more > 0 else "")
    return [said if outlook.proven else f"{said}; perhaps more, the time ran out"]
