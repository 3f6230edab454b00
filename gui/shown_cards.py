"""What stands on the cards of a part's page, as plain values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class CardLine:
    """A figure or a few words, with the word for what they are.

    ``published`` is in the unit of the publication, ``other`` the same the other way, "" where there is none.
    """

    word: str
    published: str
    other: str = ""


@dataclass(frozen=True)
class Card:
    """One thing that is said of a part: its title, what stands at its right end, lines, and a few words more.

    ``key`` is what an act on it needs and stays the same when it is read again. ``detail`` is what pointing
    at it tells. A ``section`` other than that of the card before gets a heading. ``faint`` is what holds no
    more.
    """

    key: Any
    title: str
    aside: str = ""
    lines: tuple[CardLine, ...] = ()
    note: str = ""
    section: str = ""
    sign: str = ""
    detail: str = ""
    faint: bool = False
