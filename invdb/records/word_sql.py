"""The SQL of searching: what is asked of the table of words, written so that each look is one in an index.

The ranges of words are bound as ``NAME_0_low``, ``NAME_0_high`` and so on. Written out as text and kept,
since the same few shapes are sent as fast as a person types. Both databases take it as it stands.
"""

from __future__ import annotations

from functools import lru_cache

from sqlalchemy import TextClause, text

COUNTED_MAX = 10_000
SAMPLED_MAX = 200


def _within(alias: str, name: str, i: int) -> str:
    return f"{alias}.word >= :{name}_{i}_low AND {alias}.word < :{name}_{i}_high"


def _has(kind: str, ref: str, name: str, ranges: int) -> str:
    """That the record has a word in one of the ranges; each looked up by itself, in its index."""
    looks = (
        f"EXISTS (SELECT 1 FROM word o WHERE o.kind = {kind} AND o.ref = {ref} AND {_within('o', name, i)})"
        for i in range(ranges)
    )
    return f"({' OR '.join(looks)})"


@lru_cache(maxsize=200)
def rows_statement(kinds: tuple[str, ...], ranges: int, others: tuple[int, ...]) -> TextClause:
    """The first ``count`` rows (block, kind, word, ref) of each range ``fit``, no further than its stop.

    Only of records that have a word in one of the ranges of each of ``other0``, ``other1`` ... too.
    """

    also = "".join(f" AND {_has('w.kind', 'w.ref', f'other{j}', some)}" for j, some in enumerate(others))
    blocks = [
        f"SELECT {len(kinds) * i + k} AS block, w.kind, w.word, w.ref FROM word w"
        f" WHERE w.kind = '{kind}' AND {_within('w', 'fit', i)} AND w.word <= :stop_{i}_word"
        f" AND (w.word < :stop_{i}_word OR w.ref <= :stop_{i}_ref){also}"
        " ORDER BY w.word, w.ref LIMIT :count"
        for i in range(ranges)
        for k, kind in enumerate(kinds)
    ]
    return _together(blocks)


@lru_cache(maxsize=200)
def stops_statement(ranges: int) -> TextClause:
    """The row (block, word, ref) behind ``walked`` others of each range ``fit`` that has as many."""

    blocks = [
        f"SELECT {i} AS block, w.word, w.ref FROM word w WHERE w.kind = :kind AND {_within('w', 'fit', i)}"
        " ORDER BY w.word, w.ref LIMIT 1 OFFSET :walked"
        for i in range(ranges)
    ]
    return _together(blocks)


def _together(blocks: list[str]) -> TextClause:
    """The rows of several statements, each with its own order and limit, which both databases take so."""
    return text(" UNION ALL ".join(f"SELECT * FROM ({block}) AS b{i}" for i, block in enumerate(blocks)))


@lru_cache(maxsize=200)
def counts_statement(kind: str, ranges: int) -> TextClause:
    """How many rows each range ``fit`` has, or ``COUNTED_MAX`` if more; in one row."""

    rows = (
        f"SELECT 1 FROM word w WHERE w.kind = '{kind}' AND {_within('w', 'fit', i)} LIMIT {COUNTED_MAX}"
        for i in range(ranges)
    )
    return text(f"SELECT {', '.join(f'(SELECT count(*) FROM ({some}) AS counted)' for some in rows)}")


@lru_cache(maxsize=200)
def begun_statement(kinds: tuple[str, ...], ranges: int) -> TextClause:
    """For each kind, and then for each range ``fit``, whether it has rows."""

    def begun(kind: str, i: int) -> str:
        return f"EXISTS (SELECT 1 FROM word w WHERE w.kind = '{kind}' AND {_within('w', 'fit', i)})"

    of_kinds = (f"SELECT '{kind}', {', '.join(begun(kind, i) for i in range(ranges))}" for kind in kinds)
    return text(" UNION ALL ".join(of_kinds))


@lru_cache(maxsize=200)
def samples_statement(kind: str, ranges: int) -> TextClause:
    """In one row, the kind's highest id; then for each range ``fit`` its rows, or ``SAMPLED_MAX``, and an id.

    The id is that of the last of ``SAMPLED_MAX`` rows, and is missing where there are fewer.
    """
    samples = []
    for i in range(ranges):
        rows = f"FROM word w WHERE w.kind = '{kind}' AND {_within('w', 'fit', i)}"
        samples += [
            f"(SELECT count(*) FROM (SELECT 1 {rows} LIMIT {SAMPLED_MAX}) AS counted)",
            f"(SELECT w.ref {rows} ORDER BY w.word, w.ref LIMIT 1 OFFSET {SAMPLED_MAX - 1})",
        ]
    return text(f"SELECT (SELECT max(w.ref) FROM word w WHERE w.kind = '{kind}'), {', '.join(samples)}")


@lru_cache(maxsize=200)
def gathering_statement(lead: int | None, sifted: bool, ranges: tuple[int, ...]) -> TextClause:
    """The words stand in the order of how rare they are, and all records with the first are gathered.

    ``sifted`` if those with the second are gathered too; for the other words each record is probed.
    """

    def refs(i: int) -> str:
        of_ranges = (
            f"SELECT w.ref FROM word w WHERE w.kind = :kind AND {_within('w', f'fit{i}', j)}"
            for j in range(ranges[i])
        )
        return " UNION ALL ".join(of_ranges)

    also = [_has(":kind", "gathered.ref", f"fit{i}", ranges[i]) for i in range(1, len(ranges))]
    if sifted:
        also[0] = f"gathered.ref IN ({refs(1)})"
    least = "''"
    if lead is not None:
        fits = " OR ".join(_within("l", f"fit{lead}", j) for j in range(ranges[lead]))
        least = f"(SELECT min(l.word) FROM word l WHERE l.kind = :kind AND l.ref = gathered.ref AND ({fits}))"
    # Left to itself, SQLite reads the whole kind by id to have the records in order.
    return text(
        f"WITH gathered AS MATERIALIZED ({refs(0)})"
        f" SELECT DISTINCT {least} AS least_word, gathered.ref FROM gathered WHERE {' AND '.join(also)}"
        " ORDER BY least_word, gathered.ref LIMIT :count"
    )
