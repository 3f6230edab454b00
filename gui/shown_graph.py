"""What a picture of alternates shows, as plain values: parts, and what may stand in for what."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class GraphNode:
    """A part: its number and name, what there is of it in words, and the word of its sign."""

    part: int
    number: str
    name: str
    words: str = ""
    sign: str = ""
    detail: str = ""


@dataclass(frozen=True)
class GraphLink:
    """That ``members`` (part, how many for one), together, may stand in for ``part``.

    ``sign`` is the word of the sign that says how, ``counted`` says how many for one where that is not one
    for one. ``authority`` and ``holds`` say by what and for which engines; ``ended`` ones are faint. ``key``
    tells it from every other.
    """

    key: int
    part: int
    members: tuple[tuple[int, int], ...]
    sign: str
    authority: str
    holds: str
    both_ways: bool = False
    counted: str = ""
    ended: bool = False
    detail: str = ""


@dataclass(frozen=True)
class Graph:
    """All of a picture, about ``middle``: the part that stands in its middle."""

    middle: int
    nodes: tuple[GraphNode, ...] = ()
    links: tuple[GraphLink, ...] = ()
