"""What a page that is a list needs of what it lists: its columns and rows, what is said, what may be done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from gui.job import Job
from gui.shown import Column, Empty, Page, Sort
from gui.views.form_plan import FormPlan


@dataclass(frozen=True)
class ListDeed:
    """Something to be done by a form, or ``run`` at once: its word, its key, and what it is for."""

    word: str
    key: str
    hint: str
    plan: Callable[[Job], FormPlan] | None = None
    run: Callable[[], None] | None = None


@dataclass(frozen=True)
class ListPaper:
    """A paper of the chosen row: its word, its key, the name of its file, and what writes it there."""

    word: str
    key: str
    hint: str
    file_name: str
    write: Callable[[Job, Path], Path]


class Listing(Protocol):
    """The rows of one page as they were read; knows no Tk.

    ``name`` is its own in the preferences, ``one`` and ``many`` what a row is. ``read`` runs on a worker, and
    ``take`` keeps what it gave. ``deeds`` and ``papers`` are of the chosen rows by their keys, the first deed
    what Enter does. ``key_of`` is the key of what an act made, None where that has no row of its own.
    """

    @property
    def name(self) -> str: ...

    @property
    def heading(self) -> str: ...

    @property
    def columns(self) -> Sequence[Column]: ...

    @property
    def empty(self) -> Empty: ...

    @property
    def one(self) -> str: ...

    @property
    def many(self) -> str: ...

    def read(self, job: Job) -> Any: ...

    def take(self, read: Any) -> None: ...

    def told(self) -> str: ...

    def tab_words(self) -> str: ...

    def page(self, offset: int, limit: int, sort: Sort | None, words: str) -> Page: ...

    def said_of(self, key: Any) -> str: ...

    def deeds(self, keys: Sequence[Any]) -> list[ListDeed]: ...

    def key_of(self, made: Any) -> Any: ...

    def papers(self, keys: Sequence[Any]) -> list[ListPaper]: ...
