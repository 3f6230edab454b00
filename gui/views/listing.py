"""What a page that is a list needs of what it lists: its columns and rows, what is said, what may be done."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from gui.job import Job
from gui.shown import Column, Empty, Page, Row, Sort
from gui.views.form_plan import FormPlan
from gui.views.part_tables import page_of


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


class Listing(ABC):
    """The rows of one page as they were read; knows no Tk.

    ``name`` is its own in the preferences, ``one`` and ``many`` what a row is.
    """

    name: str
    heading: str
    columns: tuple[Column, ...]
    empty: Empty
    one: str
    many: str

    @abstractmethod
    def read(self, job: Job) -> Any:
        """Read what is listed; runs on a worker."""

    @abstractmethod
    def take(self, read: Any) -> None:
        """Hold what was read."""

    @abstractmethod
    def rows(self) -> Iterable[Row]:
        """Every row, in the order in which they stand while nobody has sorted them."""

    @abstractmethod
    def told(self) -> str:
        """What is told of them all."""

    @abstractmethod
    def said_of(self, key: Any) -> str:
        """All that is to be said of one row; "" where it is there no more."""

    @abstractmethod
    def deeds(self, keys: Sequence[Any]) -> list[ListDeed]:
        """What may be done with the chosen rows, by their keys; the first is what Enter does."""

    def page(self, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        """Some of the rows, as far as they fit the words."""
        return page_of(self.rows(), self.columns, offset, limit, sort, words)

    def tab_words(self) -> str:
        """What its tab says beside its name; nothing unless something presses."""
        return ""

    def papers(self, _keys: Sequence[Any]) -> list[ListPaper]:
        """The papers of the chosen rows; none unless they have some of their own."""
        return []

    def key_of(self, _made: Any) -> Any:
        """The row of what an act made; None where that has none of its own."""
        return None
