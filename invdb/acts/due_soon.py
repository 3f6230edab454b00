"""How near its limit a thing is due soon, by the shop's own choice."""

from __future__ import annotations

from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.chosen_figures import chosen_figures, draft_figures
from invdb.records.posting import post
from invdb.rules.due import DueSoon
from invdb.terms import EntryKind, Refused

# Hours in hundredths.
_FIGURES = {
    "due soon hours": ("hours", 0, 1000_00),
    "due soon starts": ("starts", 0, 10_000),
    "due soon months": ("months", 0, 120),
}


def due_soon(session: Session) -> DueSoon:
    """The shop's threshold; what it has not chosen is as in `DueSoon`."""
    return DueSoon(**chosen_figures(session, _FIGURES))


def set_due_soon(session: Session, soon: DueSoon, by: By) -> int:
    """Choose the threshold; returns the entry's number. Refused below zero, or so far that all is due."""
    draft = begin_draft(session, EntryKind.PEOPLE, by)
    draft_figures(session, draft, _FIGURES, due_soon(session), soon)
    if not draft.facts:
        raise Refused("The threshold is that already.", "There is nothing to change.")
    return post(session, draft).number
