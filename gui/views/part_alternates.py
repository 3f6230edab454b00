"""What stands in for a part, and what it stands in for, as its picture shows it."""

from __future__ import annotations

from collections.abc import Mapping

from gui.shown_graph import Graph, GraphLink, GraphNode
from gui.views.part_reading import PartRead
from invdb.acts.stand_in_graph import GraphPart, GraphStep

EVERY_ENGINE = "every engine"


def graph_of(read: PartRead) -> Graph:
    """The picture about a part."""
    numbers = {node.part: node.number for node in read.page.graph.nodes}
    return Graph(
        read.page.part,
        tuple(_node(node, read) for node in read.page.graph.nodes),
        tuple(_link(step, numbers, read) for step in read.page.graph.steps),
    )


def step_of(read: PartRead, stand_in: int) -> GraphStep:
    """The step that a link of the picture is of."""
    return next(step for step in read.page.graph.steps if step.stand_in == stand_in)


def told_of_graph(read: PartRead) -> str:
    """What stands above the picture: how many parts may stand in today, and for how many it may."""
    nodes = read.page.graph.nodes
    stands_in = sum(node.stands_in for node in nodes)
    stood_in_for = sum(node.stood_in_for for node in nodes)
    if len(nodes) == 1:
        return "Nothing stands in for it, and it stands in for nothing."
    own = "Nothing" if not stands_in else f"{stands_in} part{'s' if stands_in != 1 else ''}"
    others = "nothing" if not stood_in_for else f"{stood_in_for} other{'s' if stood_in_for != 1 else ''}"
    return f"{own} may stand in for it today; it may stand in for {others}."


def _node(node: GraphPart, read: PartRead) -> GraphNode:
    shelf = read.shelf.get(node.part, "")
    sign = "on the shelf" if shelf else "none on the shelf"
    words = f"{shelf} on shelf" if shelf else "none on shelf"
    return GraphNode(
        node.part, node.number, node.name, words, sign, f"{node.number} {node.name}\n{words.capitalize()}"
    )


def _link(step: GraphStep, numbers: Mapping[int, str], read: PartRead) -> GraphLink:
    sign = sign_of(step)
    return GraphLink(
        step.stand_in,
        step.part,
        step.members,
        sign,
        step.authority,
        step.holds or EVERY_ENGINE,
        step.both_ways,
        _counted(step),
        not step.in_force,
        told_of_step(step, numbers, read.last_set(step.entry)),
    )


def sign_of(step: GraphStep) -> str:
    """The word of the sign that says how something stands in."""
    if step.ended:
        return "ended"
    if step.waits:
        return "not yet in force"
    if step.both_ways:
        return "both ways"
    return "supersedes" if step.superseding else "may stand in"


def _counted(step: GraphStep) -> str:
    """How many for one, where that isn't one for one."""
    if len(step.members) > 1:
        counts = " + ".join(str(each) for _, each in step.members)
        return f"all {len(step.members)} together" if counts.count("1") == len(step.members) else (
            f"{counts} together"
        )  # fmt: skip
    each = step.members[0][1]
    return f"{each} for one" if each > 1 else ""


def step_words(step: GraphStep, numbers: Mapping[int, str]) -> str:
    """``VA0104-B for VA0103-D``, ``RP0402-9 + 2 × PL0402-1 for RP0401-B``."""
    members = " + ".join(
        f"{each} × {numbers[part]}" if each > 1 else numbers[part] for part, each in step.members
    )
    return f"{members} for {numbers[step.part]}"


def told_of_step(step: GraphStep, numbers: Mapping[int, str], last: str = "") -> str:
    """All that is said of a stand-in, in a few lines."""
    way = "good both ways" if step.both_ways else "one way"
    by = step.authority
    if step.document and step.document != step.authority:
        by += f" ({step.document})"
    said = [
        f"{step_words(step, numbers)}: {sign_of(step)}, {way}",
        f"By {by}; for {step.holds or EVERY_ENGINE}",
    ]
    return "\n".join([*said, f"Set by {last}"] if last else said)
