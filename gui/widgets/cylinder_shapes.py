"""Where the outline of each cylinder of an engine runs, in the units that its position is given in.

Plain geometry: no Tk. A position has y upward, as a drawing has; a point here has y downward, as a screen.
A cylinder is as wide as its neighbours leave room for, and in proportion as long.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from gui.shown import Cylinder, CylinderShape
from invdb.terms import Layout

Point = tuple[float, float]

LENGTH_PER_WIDTH = 1.3
LENGTH_PER_WIDTH_IN_BANKS = 1.75
SHARE_TAKEN = 0.94
ANGLE_SAME = 1.0
HANGING_LEAN = 25.0
ANGLE_OPPOSITE = 179.0
HEAD_BEGINS = 0.66
BARREL_WIDTH = 0.8
FINS = 7
CASE_DEPTH = 0.34


@dataclass(frozen=True)
class Placed:
    """One cylinder with its size, able to tell any point of itself.

    ``along`` runs from 0 at the foot to 1 at the head, ``across`` from -0.5 to 0.5 of the width, to the
    right of somebody who looks from the foot to the head.
    """

    cylinder: Cylinder
    width: float
    length: float

    def at(self, along: float, across: float) -> Point:
        """The point there."""
        angle = math.radians(self.cylinder.angle)
        out, side = (along - 0.5) * self.length, across * self.width
        return (
            self.cylinder.x + math.sin(angle) * out + math.cos(angle) * side,
            -self.cylinder.y - math.cos(angle) * out + math.sin(angle) * side,
        )

    def outline(self, filled: float = 1.0) -> list[Point]:
        """The outline of the part that is ``filled`` (0 to 1), counted from the foot."""
        barrel = _foot_width(self.cylinder) / 2
        right = [(0.0, barrel), (min(filled, HEAD_BEGINS), barrel)]
        if filled > HEAD_BEGINS:
            right += [(HEAD_BEGINS, 0.5), (filled, 0.5)]
        left = [(along, -across) for along, across in reversed(right)]
        return [self.at(along, across) for along, across in right + left]

    def fins(self) -> list[tuple[Point, Point]]:
        """The cooling fins, as lines across the barrel; none for a bore in a block."""
        if self.cylinder.shape is not CylinderShape.FINNED:
            return []
        steps = [0.08 + (HEAD_BEGINS - 0.1) * fin / (FINS - 1) for fin in range(FINS)]
        return [(self.at(along, -0.5), self.at(along, 0.5)) for along in steps]

    def holds(self, wide: float, high: float) -> bool:
        """Whether an upright text of that size fits in its middle without crossing its outline."""
        angle = math.radians(self.cylinder.angle)
        across, along = abs(math.cos(angle)), abs(math.sin(angle))
        width = self.width * _foot_width(self.cylinder)
        return wide * across + high * along <= width and wide * along + high * across <= self.length


def _foot_width(cylinder: Cylinder) -> float:
    """How wide the barrel is beneath the head, as a share of the whole width."""
    return BARREL_WIDTH if cylinder.shape is CylinderShape.FINNED else 1.0


def hung_down(cylinders: Sequence[Cylinder]) -> list[Cylinder]:
    """An inverted vee that is given in plan, its banks' heads up and down, as it hangs in the aircraft.

    Seen along the crankshaft, the left end of the plan on top: the upper bank hangs to the left, the lower
    one to the right, each head leaning downward.
    """
    hung = []
    for each in cylinders:
        aside = each.angle - 90
        lean = HANGING_LEAN if math.sin(math.radians(aside)) > 0 else -HANGING_LEAN
        hung.append(replace(each, x=-each.y, y=-each.x, angle=(aside + lean) % 360))
    return hung


def placed(cylinders: Sequence[Cylinder], layout: Layout) -> list[Placed]:
    """Give all cylinders the one size that lets none touch another."""
    longer = LENGTH_PER_WIDTH_IN_BANKS if layout is Layout.VEE else LENGTH_PER_WIDTH
    rooms = [
        _room_between(one, other, longer) for at, one in enumerate(cylinders) for other in cylinders[at + 1 :]
    ]
    width = min(rooms, default=1.0) * SHARE_TAKEN
    return [Placed(cylinder, width, width * longer) for cylinder in cylinders]


def _turn(one: Cylinder, other: Cylinder) -> float:
    """The angle between two cylinders in degrees, 0 to 180."""
    return abs((one.angle - other.angle + 180) % 360 - 180)


def _room_between(one: Cylinder, other: Cylinder, longer: float) -> float:
    """How wide two cylinders that are ``longer`` times as long may be before they touch.

    Two that spread from a common middle touch at their feet: with half the angle between them h and their
    middles at the radius R = distance / (2 sin h), a foot lies at R - longer * width / 2, and half its width
    must be no more than that times tan h.
    """
    apart = (other.x - one.x, one.y - other.y)
    turn = _turn(one, other)
    if turn > ANGLE_SAME:
        half = math.radians(min(turn, ANGLE_OPPOSITE) / 2)
        radius = math.hypot(*apart) / (2 * math.sin(half))
        return 2 * radius * math.tan(half) / (_foot_width(one) + longer * math.tan(half))
    angle = math.radians(one.angle)
    beside = abs(apart[0] * math.cos(angle) + apart[1] * math.sin(angle))
    behind = abs(apart[0] * math.sin(angle) - apart[1] * math.cos(angle))
    # Two that stand one behind the other leave each other room along, not across.
    return max(beside, behind / longer)


def case_circle(engine: Sequence[Placed]) -> tuple[Point, float]:
    """Middle and radius of a radial's crankcase, on which its cylinders stand."""
    feet = [each.at(0, 0) for each in engine]
    middle = (sum(x for x, _ in feet) / len(feet), sum(y for _, y in feet) / len(feet))
    return middle, sum(math.dist(foot, middle) for foot in feet) / len(feet)


def case_hull(engine: Sequence[Placed]) -> list[Point]:
    """Outline of the crankcase beneath banks or a row: what holds all the feet together.

    Source: the monotone chain of Andrew, "Another efficient algorithm for convex hulls in two dimensions",
    Information Processing Letters 9 (1979).
    """
    corners = [(along, across) for along in (0.02, -CASE_DEPTH) for across in (-0.55, 0.55)]
    points = sorted({each.at(*corner) for each in engine for corner in corners})
    halves: list[list[Point]] = []
    for way in (points, points[::-1]):
        half: list[Point] = []
        for point in way:
            while len(half) > 1 and _turns_right(half[-2], half[-1], point):
                half.pop()
            half.append(point)
        halves.append(half[:-1])
    return halves[0] + halves[1]


def room_between_banks(engine: Sequence[Placed]) -> float:
    """How far the feet of two banks are from each other; 0 for a single row."""
    return min(
        (
            math.dist(one.at(0, 0), other.at(0, 0))
            for one in engine
            for other in engine
            if _turn(one.cylinder, other.cylinder) > ANGLE_SAME
        ),
        default=0.0,
    )


def _turns_right(a: Point, b: Point, c: Point) -> bool:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]) <= 0


def towards(engine: Sequence[Placed], start: int, way: Point) -> int:
    """The place of the cylinder that one reaches from ``start`` by going ``way``; ``start`` if there is none.

    Of those within 60 degrees of the way the nearest is taken, a little farther counting for straighter.
    """
    here = engine[start].cylinder
    best, best_cost = start, math.inf
    for at, each in enumerate(engine):
        apart = (each.cylinder.x - here.x, here.y - each.cylinder.y)
        distance = math.hypot(*apart)
        if at == start or distance == 0:
            continue
        straight = (apart[0] * way[0] + apart[1] * way[1]) / distance
        cost = distance / straight**2 if straight > 0.5 else math.inf
        if cost < best_cost:
            best, best_cost = at, cost
    return best
