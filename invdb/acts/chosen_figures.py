"""Whole figures that the shop chooses for itself, each kept as a setting: read them, and choose them anew."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import BindParameter, bindparam, select
from sqlalchemy.orm import Session

from invdb.records.base import damaged
from invdb.records.draft import Draft
from invdb.records.people import Setting
from invdb.terms import FieldRefused

# By the name of its setting: the field that it fills, and the least and the most that make sense.
Figures = Mapping[str, tuple[str, int, int]]

_NAMES: BindParameter[Any] = bindparam("names", expanding=True)
_STANDING = select(Setting.name, Setting.id, Setting.value).where(Setting.name.in_(_NAMES))


def chosen_figures(session: Session, figures: Figures) -> dict[str, int]:
    """What the shop has chosen, by field; what it has not is left out."""
    chosen: dict[str, int] = {}
    for name, _id, value in session.connection().execute(_STANDING, {"names": list(figures)}):
        if not (value.isascii() and value.isdigit()):
            raise damaged(value, f"the setting {name}")
        chosen[figures[name][0]] = int(value)
    return chosen


def draft_figures(session: Session, draft: Draft, figures: Figures, now: object, wanted: object) -> None:
    """Put into a draft what of ``wanted`` differs from ``now``; FieldRefused for what is out of reason."""
    rows = session.connection().execute(_STANDING, {"names": list(figures)})
    standing = {name: setting for name, setting, _value in rows}
    for name, (field, least, most) in figures.items():
        figure = getattr(wanted, field)
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
