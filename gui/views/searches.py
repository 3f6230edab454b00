"""What a field or the find box finds: the store's own find, kept to the kinds that fit there."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import Any

from gui.job import Job
from gui.shown import Hit, Hits
from gui.sitting import Sitting
from invdb.acts.find import Found, find
from invdb.acts.numbers import Thing
from invdb.rules.numbering import Verdict, read_number

Search = Callable[[Job, str], Hits]

FOUND_MAX = 50
# Enough that what fits is still there when the other kinds have been left out.
LOOKED_AT_MAX = 200

KIND_WORDS = {
    "document": "paper",
    "engine_type": "engine type",
    "purchase_order": "order",
    "work_order": "work order",
}


def kind_word(found: Found) -> str:
    """What the kind of a found thing is called."""
    return KIND_WORDS.get(found.kind, found.kind)


def search_all(sitting: Sitting) -> Search:
    """Find anything; the hits' refs are (kind, id)."""

    def search(job: Job, words: str) -> Hits:
        with sitting.reading(job) as session:
            result = find(session, words, FOUND_MAX)
        return Hits(tuple(hit_of(each, (each.kind, each.ref)) for each in result.found), result.remark)

    return search


def search_for(
    sitting: Sitting, kinds: Collection[str], add: Callable[[str], Hit | None] = lambda _words: None
) -> Search:
    """Find things of these kinds alone; the hits' refs are their ids.

    ``add`` may offer one more at the end, such as to add what was typed; it is plain and needs no store. It
    is not asked about a number that is mistyped.
    """

    def search(job: Job, words: str) -> Hits:
        with sitting.reading(job) as session:
            result = find(session, words, LOOKED_AT_MAX)
        fitting = [each for each in result.found if each.kind in kinds]
        # What is called so comes before what only has it somewhere in its name: "link rod" before its bush.
        fitting.sort(key=lambda each: not _begins(each, words))
        hits = tuple(hit_of(each) for each in fitting[:FOUND_MAX])
        mistyped = read_number(words).verdict is Verdict.MISTYPED and not any(
            each.exact for each in result.found
        )
        offered = None if mistyped else add(words)
        note = result.remark if mistyped or hits else ""
        return Hits((*hits, offered) if offered is not None else hits, note)

    return search


def search_things(sitting: Sitting) -> Search:
    """Find pieces and batches; the hits' refs are things."""

    def search(job: Job, words: str) -> Hits:
        with sitting.reading(job) as session:
            result = find(session, words, LOOKED_AT_MAX)
        things = [(each, thing) for each in result.found if (thing := _thing(each)) is not None]
        hits = tuple(hit_of(each, thing) for each, thing in things[:FOUND_MAX])
        return Hits(hits, result.remark if hits else "")

    return search


def _thing(found: Found) -> Thing | None:
    """A found piece or batch; None for anything else."""
    if found.kind == "piece":
        return Thing(piece=found.ref)
    return Thing(batch=found.ref) if found.kind == "batch" else None


def _begins(found: Found, words: str) -> bool:
    """Whether a thing's number or name begins with what was typed."""
    typed = words.casefold().strip()
    return found.headline.casefold().startswith(typed) or found.detail.casefold().startswith(typed)


def hit_of(found: Found, ref: Any = None) -> Hit:
    """A found thing as a hit; its ref is its id unless another is given."""
    return Hit(found.headline, found.detail, kind_word(found), found.ref if ref is None else ref, found.sign)
