"""What stands before a command, and how every command answers."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, fields, is_dataclass
from datetime import date, datetime
from enum import StrEnum
from fractions import Fraction
from typing import Any, TypeVar

import typer

from invdb import store
from invdb.acts.by import By
from invdb.acts.ledger_list import last_entry_of
from invdb.acts.numbers import person_named
from invdb.acts.offers import people_here
from invdb.rules.life import read_prior
from invdb.terms import FieldRefused, HoursKnown, Refused

T = TypeVar("T")


@dataclass
class Asked:
    """What stands before the command: the store, whether to answer in JSON, who acts, and on which day."""

    where: str | None
    as_json: bool
    who: str | None
    on: date | None


@contextmanager
def opened(asked: Asked) -> Iterator[store.Store]:
    """The store that was asked for, closed at the end."""
    store_open = store.open_store(asked.where or store.default_store())
    try:
        yield store_open
    finally:
        store_open.close()


def by_whom(session: Any, asked: Asked, note: str = "") -> By:
    """Who acts: the person named, or the only one who works here."""
    if asked.who is not None:
        return By(person_named(session, asked.who), asked.on, note)
    here = people_here(session)
    if len(here) == 1:
        return By(here[0].id, asked.on, note)
    names = ", ".join(person.name for person in here)
    raise Refused("It isn't said who does this.", f"Name one with --as: {names}.")


def say(asked: Asked, value: object, *lines: str) -> None:
    """Answer with the value in JSON where that was asked for, else with the lines."""
    if asked.as_json:
        print(json.dumps(_plain(value), ensure_ascii=False, indent=2))
    else:
        for line in lines:
            print(line)


def done(session: Any, by: By) -> dict[str, object]:
    """What the person has just done, as the ledger tells it: the entry's number, and the sentence."""
    row = last_entry_of(session, by.person)
    assert row is not None
    return {"entry": row.number, "said": row.what}


def done_words(what: dict[str, object]) -> str:
    """``Stripped T00012-4 from Linnet 117, cylinder 3, … (entry 57).``"""
    return f"{str(what['said']).removesuffix('.')} (entry {what['entry']})."


def hundredths(text: str | None, field: str) -> int | None:
    """Hours that a person typed, in hundredths; None where nothing was typed. Refused for a range."""
    if text is None:
        return None
    figure = read_prior(text, field)
    if figure.known is not HoursKnown.EXACT:
        raise FieldRefused(field, f"{text!r} is not one figure.", "Type hours, such as 1012.5.")
    return figure.low


def named(session: Any, find: Callable[[Any, str], T], text: str | None) -> T | None:
    """What a person named, looked up; None where they named nothing.

    An empty name is refused as any that names nothing: most likely it was to be filled in.
    """
    return None if text is None else find(session, text)


def refuse_passed_over(context: typer.Context, heeded: Collection[str], when: str) -> None:
    """Refuse as wrong usage what was typed and would be passed over: all but the parameters ``heeded``."""
    for parameter in context.command.params:
        source = context.get_parameter_source(parameter.name or "")
        if source is not None and source.name == "COMMANDLINE" and parameter.name not in heeded:
            raise typer.BadParameter(f"{parameter.opts[-1]} says nothing {when}.")


def day_of(chosen: datetime | None, asked: Asked) -> date | None:
    """The day that a view is of: the one given with the command, or before it."""
    return chosen.date() if chosen is not None else asked.on


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, dict):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        return [_plain(each) for each in value]
    if isinstance(value, StrEnum):
        return str(value)
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    return str(value) if isinstance(value, Fraction) else value
