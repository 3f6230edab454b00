"""Which positions of an engine share a throw of its crankshaft."""

from __future__ import annotations

import re

from invdb.terms import Layout

_NUMBER = re.compile(r"\d+$")


def throw_of(layout: Layout, position: str) -> str:
    """The throw of a position, by name: of a vee the number that the cylinders of both banks end in,
    since fork
    and blade of A3 and B3 run on one; of any other layout the position itself."""
    number = _NUMBER.search(position)
    return number.group() if layout is Layout.VEE and number else position
