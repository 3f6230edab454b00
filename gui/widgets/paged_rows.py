"""The rows of a long list as they arrive: pages near what is looked at are kept, the rest fetched again."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from gui.shown import Page, Row, Sort

if TYPE_CHECKING:
    from gui.background import Background
    from gui.job import Job
    from gui.widgets.selection import Selection
    from invdb.terms import Refused

PAGE = 100
PAGES_KEPT_MAX = 20
COPY_PAGE = 1_000


class PagedRows:
    """Fetches on workers, two neighbouring pages at a time at most, and keeps the last answer's counts.

    ``on_page`` is told the number of each page that has arrived. What has become stale is still given until
    something newer is here, so that a list that is read again does not blink.
    """

    def __init__(
        self,
        name: str,
        background: Background,
        fetch: Callable[[Job, int, int, Sort | None, str], Page],
        on_page: Callable[[int], None],
        on_refused: Callable[[Refused], None],
    ) -> None:
        self.sort: Sort | None = None
        self.words = ""
        self.fitting = self.total = 0
        self.answered = False
        self._name, self._background, self._fetch = name, background, fetch
        self._on_page, self._on_refused = on_page, on_refused
        self._pages: dict[int, tuple[Row, ...]] = {}
        self._asked: dict[str, int] = {}
        self._stale = False

    def row(self, index: int) -> Row | None:
        """The row at that place, counted from 0, or None if it is not here."""
        page = self._pages.get(index // PAGE, ())
        return page[index % PAGE] if index % PAGE < len(page) else None

    def here(self, selection: Selection) -> list[Row]:
        """The chosen rows that are here, in the order of the list."""
        return [
            row
            for number in sorted(self._pages)
            for index, row in enumerate(self._pages[number], number * PAGE)
            if selection.has(index)
        ]

    def place_of(self, key: object, number: int) -> int | None:
        """Where on that page the row with the key is, counted from the start of the list, or None."""
        for index, row in enumerate(self._pages.get(number, ()), number * PAGE):
            if row.key == key:
                return index
        return None

    def read_again(self, index: int) -> None:
        """Take all rows for stale, and fetch the page of that place."""
        self.forget()
        self._stale = True
        self._ask(index // PAGE)

    def want(self, index: int) -> None:
        """Fetch the page of that place unless it is here or on its way."""
        number = index // PAGE
        if number not in self._pages and number not in self._asked.values():
            self._ask(number)

    def forget(self) -> None:
        """Let go of what is on its way."""
        for channel in self._asked:
            self._background.forget(channel)
        self._asked.clear()

    def gathered(self, job: Job, indices: list[int], sort: Sort | None, words: str) -> list[Row]:
        """The rows at those rising places, fetched afresh; to be called on a worker."""
        rows: list[Row] = []
        wanted, first, end = set(indices), indices[0], indices[-1] + 1
        for offset in range(first, end, COPY_PAGE):
            job.stop_here()
            job.progress("Copying", (offset - first) / (end - first))
            fetched = self._fetch(job, offset, min(COPY_PAGE, end - offset), sort, words).rows
            rows += [row for index, row in enumerate(fetched, offset) if index in wanted]
        return rows

    def _ask(self, number: int) -> None:
        # Two pages may be in sight at once, and neither may outdate the other.
        channel = f"{self._name}:{number % 2}"
        self._asked[channel] = number
        fetch, sort, words = self._fetch, self.sort, self.words
        self._background.ask(
            channel,
            lambda job: fetch(job, number * PAGE, PAGE, sort, words),
            lambda page: self._arrived(number, page),
            on_refused=self._refused,
            on_over=partial(self._over, channel),
        )

    def _arrived(self, number: int, page: Page) -> None:
        if self._stale:
            self._pages.clear()
            self._stale = False
        while len(self._pages) >= PAGES_KEPT_MAX:
            del self._pages[max(self._pages, key=lambda kept: abs(kept - number))]
        self._pages[number] = page.rows
        self.fitting, self.total, self.answered = page.fitting, page.total, True
        self._on_page(number)

    def _over(self, channel: str) -> None:
        del self._asked[channel]

    def _refused(self, refused: Refused) -> None:
        self.forget()
        self._pages.clear()
        self.fitting = self.total = 0
        self.answered = True
        self._on_refused(refused)
