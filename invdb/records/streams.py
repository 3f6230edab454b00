"""Reading whole tables in order without holding them: raw rows side by side, as the database has them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from operator import itemgetter
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, column, select, table

ROWS_AT_ONCE = 2000

Row = Sequence[Any]


def raw_rows(
    connection: Connection,
    name: str,
    columns: Sequence[str],
    order: Sequence[str],
    *where: ColumnElement[bool],
    rows_at_once: int = ROWS_AT_ONCE,
) -> Iterator[Row]:
    """Rows of a table in an order, with the values as the driver gives them: nothing is read as a word of
    the trade or as a date, so that a value that is neither is met as it is."""
    query: Select[*tuple[Any, ...]] = (
        select(*(column(each) for each in columns))
        .select_from(table(name))
        .where(*where)
        .order_by(*(column(each) for each in order))
    )
    yield from connection.execute(query, execution_options={"yield_per": rows_at_once})


def merged(*streams: Iterable[Row]) -> Iterator[tuple[int, list[list[Row]]]]:
    """Streams of rows, each in the order of its first column, joined by that column.

    Yields each value once, in order, with the rows that every stream has for it.
    """
    groups = [groupby(stream, key=itemgetter(0)) for stream in streams]
    heads = [next(group, None) for group in groups]
    while True:
        keys = [head[0] for head in heads if head is not None]
        if not keys:
            return
        key = min(keys)
        rows: list[list[Row]] = []
        for place, head in enumerate(heads):
            if head is None or head[0] != key:
                rows.append([])
                continue
            rows.append(list(head[1]))
            heads[place] = next(groups[place], None)
        yield key, rows
