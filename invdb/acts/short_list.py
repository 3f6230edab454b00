"""The shortage board as it goes to paper: with the shop's name and the instant at which it is printed."""

from __future__ import annotations

from sqlalchemy.orm import Session

from invdb.acts.shown import printed_at, workshop_name
from invdb.rules.short_facts import ShortBoard, ShortList


def short_list(session: Session, board: ShortBoard, only: str = "") -> ShortList:
    """The list of a board; ``only`` says in words by what its rows were filtered, empty: not at all."""
    return ShortList(workshop_name(session), printed_at(session), board, only)
