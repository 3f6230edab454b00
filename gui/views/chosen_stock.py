"""The pieces and batches that a form is about, and how a sentence names them."""

from __future__ import annotations

from collections.abc import Sequence

from gui.shown import Field, FieldKind
from gui.sitting import Sitting
from gui.views.goods_in_checks import not_after
from invdb.acts.things import ThingState

TAGS_NAMED_MAX = 4


def named(stock: Sequence[ThingState]) -> str:
    """The tags, or how many there are where they would be too many to read."""
    tags = [state.tag for state in stock]
    if len(tags) <= TAGS_NAMED_MAX:
        return ", ".join(tags)
    return f"{', '.join(tags[: TAGS_NAMED_MAX - 1])} and {len(tags) - TAGS_NAMED_MAX + 1} more"


def titled(act: str, stock: Sequence[ThingState]) -> str:
    """The form's title: the act, and what it is about."""
    names = {f"{state.part_name}" for state in stock}
    part = f"  ({names.pop()})" if len(names) == 1 else ""
    return f"{act} {named(stock)}{part}"


def are(stock: Sequence[ThingState]) -> str:
    """The verb that goes with so many."""
    return "is" if len(stock) == 1 else "are"


def day_field(sitting: Sitting, word: str) -> Field:
    """The day on which it happened: today unless another is given."""
    today = sitting.today()
    return Field(
        "happened_on",
        word,
        FieldKind.DATE,
        needed=True,
        start=today,
        check=not_after(today),
        hint="An entry that is made late carries its true day",
    )


def remark_field() -> Field:
    """A remark that the ledger keeps with the entry."""
    return Field("note", "Remark", hint="Kept with the entry")
