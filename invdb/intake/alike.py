"""Which pieces and batches were booked in, or looked at, together: those that one act can take at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import TypeVar

from invdb.acts.goods_in import ReceivingChecks
from invdb.intake.stock import BatchRow, PieceRow, StockCells
from invdb.terms import Condition

T = TypeVar("T")


def checks_of(cells: StockCells) -> ReceivingChecks:
    """What was seen on receipt, as the acts take it."""
    return ReceivingChecks(
        cells.check_right_part, cells.check_papers, cells.check_damage, cells.check_hazards
    )


def came_alike(piece: PieceRow) -> object:
    """What must be the same for pieces to be booked in together: all but serial, hours and note."""
    cells = piece.stock
    rejected = cells.condition is not Condition.SERVICEABLE
    return (
        piece.goods_in,
        piece.house_number,
        replace(
            cells, looked_on=None, looked_by=None, condition=Condition.UNINSPECTED, scope=None, override="",
            place=None, note="", check_right_part="", check_papers="", check_damage="", check_hazards="",
        ),
        checks_of(cells) if rejected else None,
        rejected,
    )  # fmt: skip


def looked_alike(thing: PieceRow | BatchRow) -> object:
    """What must be the same for things to be looked at together."""
    cells = thing.stock
    return (thing.goods_in, cells.looked_on, cells.looked_by, cells.condition, cells.scope, cells.override,
            cells.place, checks_of(cells))  # fmt: skip


def alike(things: Iterable[T], key: Callable[[T], object]) -> list[tuple[T, ...]]:
    """The things in groups of one key, each group where its first stood."""
    groups: dict[object, list[T]] = defaultdict(list)
    for thing in things:
        groups[key(thing)].append(thing)
    return [tuple(group) for group in groups.values()]
