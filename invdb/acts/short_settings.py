"""From when on a part is watched and counts as short, how far ahead the board looks, and usual days."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.acts.short_facts import ShortSettings
from invdb.records.base import damaged
from invdb.records.people import Setting
from invdb.records.posting import post
from invdb.terms import EntryKind, FieldRefused, Refused

# The settings, each with the field of `ShortSettings`, and the least and the most that make sense.
_SETTINGS = {
    "short watch percent": ("watch_percent", 1, 99),
    "short percent": ("short_percent", 1, 99),
    "short horizon months": ("horizon_months", 1, 120),
    "usual lead days": ("lead_days", 0, 3650),
    "usual turn-round days": ("turn_round_days", 0, 3650),
}
_CHOSEN = select(Setting.name, Setting.value).where(Setting.name.in_(_SETTINGS))


def short_settings(session: Session) -> ShortSettings:
    """The shop's choices; what it has not chosen is as in `ShortSettings`."""
    chosen: dict[str, int] = {}
    for name, value in session.connection().execute(_CHOSEN):
        if not (value.isascii() and value.isdigit()):
            raise damaged(value, f"the setting {name}")
        chosen[_SETTINGS[name][0]] = int(value)
    return ShortSettings(**chosen)


def set_short_settings(session: Session, settings: ShortSettings, by: By) -> int:
    """Choose them; returns the entry's number. Refused out of reason, and if short comes before watched."""
    draft = begin_draft(session, EntryKind.PEOPLE, by)
    standing = {
        name: setting
        for name, setting in session.execute(
            select(Setting.name, Setting.id).where(Setting.name.in_(_SETTINGS))
        )
    }
    now = short_settings(session)
    for name, (field, least, most) in _SETTINGS.items():
        figure = getattr(settings, field)
        if not least <= figure <= most:
            raise FieldRefused(
                field, f"{figure} is out of reason for {name}.", f"Give a figure from {least} to {most}."
            )
        if figure == getattr(now, field):
            continue
        if name in standing:
            draft.set("setting", standing[name], value=str(figure))
        else:
            draft.new(session, "setting", name=name, value=str(figure))
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
