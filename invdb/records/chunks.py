"""Ids, so many at a time as a database takes in one statement."""

from __future__ import annotations

from collections.abc import Iterable

_IDS_AT_ONCE = 500


def chunks(ids: Iterable[int | None]) -> list[list[int]]:
    """The ids in their order, each once and without None, at most 500 of them in a list."""
    ordered = sorted({each for each in ids if each is not None})
    return [ordered[start : start + _IDS_AT_ONCE] for start in range(0, len(ordered), _IDS_AT_ONCE)]
