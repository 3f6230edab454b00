"""What a form asks and does, settled before anything of it is drawn."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from gui.job import Job
from gui.shown import Field, Values
from invdb.terms import Asked, FieldRefused


def _nothing(_values: Values) -> str:
    return ""


def _fills_nothing(_name: str, _values: Values) -> Mapping[str, Any]:
    return {}


@dataclass(frozen=True)
class FormPlan:
    """A form: its title, its fields, what is done on the worker that writes, and what is told of it.

    ``said`` gives what is to be said above the fields with what is filled in so far, or "". ``filled_by``
    gets the name of a field that was just filled in, and all values, and gives what that fills in elsewhere.
    """

    title: str
    fields: tuple[Field, ...]
    act: Callable[[Job, dict[str, Any]], Any]
    told: Callable[[Any], str]
    save_word: str = "Save"
    another: bool = False
    said: Callable[[Values], str] = _nothing
    filled_by: Callable[[str, Values], Mapping[str, Any]] = _fills_nothing


@contextmanager
def fields_renamed(**names: str) -> Iterator[None]:
    """Let a refusal that names an act's field name the form's field instead; a question stays one."""
    try:
        yield
    except FieldRefused as refused:
        field = names.get(refused.field, refused.field)
        kind = Asked if isinstance(refused, Asked) else FieldRefused
        raise kind(field, refused.reason, refused.remedy) from refused
