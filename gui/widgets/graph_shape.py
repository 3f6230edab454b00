"""Where the parts of a picture of alternates stand, and where what is said of each link: figures only.

The part in question is in the middle. What may stand in for a part is a step to its right, what it may stand
in for a step to its left; what is good both ways goes on in the direction in which it was reached. Parts are
in even columns, what is said of a link in the odd one to the right of the part that is replaced. Heights are
in rows, 0 for the middle.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from gui.shown_graph import Graph, GraphLink

Item = tuple[str, int]
PART, LINK = "part", "link"


@dataclass(frozen=True)
class Spot:
    """A column, 0 for the middle, and a height in rows."""

    column: int
    row: float


class GraphShape:
    """``spots`` of every part and link of a graph, by what it is."""

    def __init__(self, graph: Graph) -> None:
        self.spots: dict[Item, Spot] = {}
        if graph.nodes:
            self._place_parts(graph)
            self._place_links(graph)

    def columns(self) -> tuple[int, int]:
        """The leftmost and the rightmost column."""
        columns = [spot.column for spot in self.spots.values()]
        return min(columns, default=0), max(columns, default=0)

    def rows(self) -> tuple[float, float]:
        """The highest and the lowest height."""
        rows = [spot.row for spot in self.spots.values()]
        return min(rows, default=0), max(rows, default=0)

    def towards(self, item: Item, way: str) -> Item | None:
        """The item that a key leads to from there: left, right, up or down; None where there is none."""
        here = self.spots[item]
        if way in ("Up", "Down"):
            sign = -1 if way == "Up" else 1
            beside = [
                (abs(spot.row - here.row), other)
                for other, spot in self.spots.items()
                if spot.column == here.column and (spot.row - here.row) * sign > 0
            ]
            return min(beside)[1] if beside else None
        sign = -1 if way == "Left" else 1
        ahead = [
            ((spot.column - here.column) * sign, abs(spot.row - here.row), other)
            for other, spot in self.spots.items()
            if (spot.column - here.column) * sign > 0
        ]
        return min(ahead)[2] if ahead else None

    def _place_parts(self, graph: Graph) -> None:
        numbers = {node.part: node.number for node in graph.nodes}
        column = _columns(graph)
        # What hangs together with nothing stands to the right of all.
        edge = max(column.values(), default=0)
        for part in numbers:
            column.setdefault(part, edge + 2)
        beside = _neighbours(graph.links)
        rows: dict[int, float] = {}
        for away in sorted({abs(each) for each in column.values()}):
            for here in {away, -away}:
                standing = sorted((part for part in column if column[part] == here), key=numbers.__getitem__)
                # The part in question before any that shares its column, so that it stays in the middle.
                standing.sort(key=lambda part: (part != graph.middle, _wanted(beside[part], rows)))
                wanted = [_wanted(beside[part], rows) for part in standing]
                fixed = 0 if here == 0 and standing else None
                for part, row in zip(standing, spread(wanted, fixed), strict=True):
                    rows[part] = row
        self.spots |= {(PART, part): Spot(column[part], row) for part, row in rows.items()}

    def _place_links(self, graph: Graph) -> None:
        standing: dict[int, list[tuple[float, int]]] = defaultdict(list)
        for link in graph.links:
            ends = [self.spots[PART, member] for member, _ in link.members]
            part = self.spots[PART, link.part]
            # Both ways, the one that was reached may be to the left of the other.
            leftmost = min([part, *ends], key=lambda spot: spot.column) if link.both_ways else part
            far = [*ends, part] if leftmost is not part else ends
            outer = [spot.row for spot in far if spot is not leftmost] or [leftmost.row]
            standing[leftmost.column + 1].append((sum(outer) / len(outer), link.key))
        for column, wanted in standing.items():
            wanted.sort()
            for row, (_, key) in zip(spread([row for row, _ in wanted]), wanted, strict=True):
                self.spots[LINK, key] = Spot(column, row)


def spread(wanted: Sequence[float], fixed: int | None = None) -> list[float]:
    """Heights near those wanted, in their order and at least a row apart.

    With ``fixed`` that one keeps the height it wants, and those after it follow beneath. Each run of those
    that are too close is laid out about its own middle.
    """
    if fixed is not None:
        rows: list[float] = []
        for row in wanted:
            rows.append(row if not rows else max(row, rows[-1] + 1))
        return rows
    runs: list[list[float]] = []
    for row in sorted(wanted):
        runs.append([row, 1])
        while len(runs) > 1 and _bottom(runs[-2]) + 1 > _top(runs[-1]):
            middle, count = runs.pop()
            above, more = runs[-1]
            runs[-1] = [(middle * count + above * more) / (count + more), count + more]
    return [_top(run) + at for run in runs for at in range(int(run[1]))]


def _top(run: list[float]) -> float:
    return run[0] - (run[1] - 1) / 2


def _bottom(run: list[float]) -> float:
    return run[0] + (run[1] - 1) / 2


def _columns(graph: Graph) -> dict[int, int]:
    """The column of every part that hangs together with the middle, nearest first."""
    column = {graph.middle: 0}
    fresh = [graph.middle]
    while fresh:
        reached: dict[int, int] = {}
        for part in fresh:
            here = column[part]
            for link in graph.links:
                members = [member for member, _ in link.members]
                onward = 2 if here >= 0 else -2
                if link.part == part:
                    step = onward if link.both_ways else 2
                    reached |= {member: here + step for member in members if member not in column}
                if part in members:
                    step = onward if link.both_ways else -2
                    beside = {link.part: here + step, **{other: here for other in members}}
                    reached |= {other: at for other, at in beside.items() if other not in column}
        column |= reached
        fresh = list(reached)
    return column


def _neighbours(links: Iterable[GraphLink]) -> dict[int, set[int]]:
    beside: dict[int, set[int]] = defaultdict(set)
    for link in links:
        for member, _ in link.members:
            beside[member].add(link.part)
            beside[link.part].add(member)
    return beside


def _wanted(beside: Iterable[int], rows: dict[int, float]) -> float:
    """The mean height of those beside it that have their place already; 0 where none has."""
    known = [rows[part] for part in beside if part in rows]
    return sum(known) / len(known) if known else 0.0
