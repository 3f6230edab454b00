"""What stands before a command, and how every command answers."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, fields, is_dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any

from invdb import store
from invdb.acts.by import By
from invdb.acts.numbers import person_named
from invdb.acts.offers import people_here
from invdb.terms import Refused


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
    return value
