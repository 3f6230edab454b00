"""How near its limit a thing is due soon, by the shop's own choice."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By, begin_draft
from invdb.records.base import damaged
from invdb.records.people import Setting
from invdb.records.posting import post
from invdb.rules.due import DueSoon
from invdb.terms import EntryKind, FieldRefused, Refused

# The settings, each with the field of `DueSoon` and the most that makes sense: hours in hundredths.
_SETTINGS = {
    "due soon hours": ("hours", 1000_00),
    "due soon starts": ("starts", 10_000),
    "due soon months": ("months", 120),
}
_CHOSEN = select(Setting.name, Setting.value).where(Setting.name.in_(_SETTINGS))


def due_soon(session: Session) -> DueSoon:
    """The shop's threshold; what it has not chosen is as in `DueSoon`."""
    chosen: dict[str, int] = {}
    for name, value in session.connection().execute(_CHOSEN):
        if not (value.isascii() and value.isdigit()):
            raise damaged(value, f"the setting {name}")
        chosen[_SETTINGS[name][0]] = int(value)
    return DueSoon(**chosen)


def set_due_soon(session: Session, soon: DueSoon, by: By) -> int:
    """Choose the threshold; returns the entry's number. Refused below zero, or so far that all is due."""
    draft = begin_draft(session, EntryKind.PEOPLE, by)
    standing = {
        name: setting
        for name, setting in session.execute(
            select(Setting.name, Setting.id).where(Setting.name.in_(_SETTINGS))
        )
    }
    now = due_soon(session)
    for name, (field, most) in _SETTINGS.items():
        figure = getattr(soon, field)
        if not 0 <= figure <= most:
            raise FieldRefused(
                field, f"{figure} is out of reason for {name}.", f"Give a figure from 0 to {most}."
            )
        if figure == getattr(now, field):
            continue
        if name in standing:
            draft.set("setting", standing[name], value=str(figure))
        else:
            draft.new(session, "setting", name=name, value=str(figure))
    if not draft.facts:
        raise Refused("The threshold is that already.", "There is nothing to change.")
    return post(session, draft).number
