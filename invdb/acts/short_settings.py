"""From when on a part is watched and counts as short, how far ahead the board looks, and usual days."""

from __future__ import annotations

from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.chosen_figures import chosen_figures, draft_figures
from invdb.acts.short_facts import ShortSettings
from invdb.records.posting import post
from invdb.terms import EntryKind, FieldRefused, Refused

_FIGURES = {
    "short watch percent": ("watch_percent", 1, 99),
    "short percent": ("short_percent", 1, 99),
    "short horizon months": ("horizon_months", 1, 120),
    "usual lead days": ("lead_days", 0, 3650),
    "usual turn-round days": ("turn_round_days", 0, 3650),
}


def short_settings(session: Session) -> ShortSettings:
    """The shop's choices; what it has not chosen is as in `ShortSettings`."""
    return ShortSettings(**chosen_figures(session, _FIGURES))


def set_short_settings(session: Session, settings: ShortSettings, by: By) -> int:
    """Choose them; returns the entry's number. Refused out of reason, and if short comes before watched."""
    draft = begin_draft(session, EntryKind.PEOPLE, by)
    draft_figures(session, draft, _FIGURES, short_settings(session), settings)
    if settings.short_percent < settings.watch_percent:
        raise FieldRefused(
            "short_percent",
            f"A part would be short from {settings.short_percent} % on, before it is watched from"
            f" {settings.watch_percent} % on.",
            "Give the higher figure for short.",
        )
    if not draft.facts:
        raise Refused("They are that already.", "There is nothing to change.")
    return post(session, draft).number
