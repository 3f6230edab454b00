"""How every piece and batch of a workshop's tables stands in the end, by its goods in and its day book.

A plain second opinion beside the ledger: no database, only the tables. It refuses what can't have happened.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from invdb.intake.daybook import Happening
from invdb.intake.shop import PlaceRow
from invdb.intake.stock import BatchRow, GoodsInRow, PieceRow
from invdb.terms import Condition, EntryKind, PlaceKind, Refused, Scope


@dataclass
class Standing:
    """One piece or batch as it stands: what, in which condition, and how much of it lies where.

    ``quantities`` in the smallest unit by place name, 1 for a piece; ``holds`` are the numbers of the lines
    of the day book that raised a doubt not cleared yet, whether on the thing or on its part.
    """

    tag: str
    house_number: str
    row: PieceRow | BatchRow
    condition: Condition
    scope: Scope | None
    papers: frozenset[str]
    quantities: dict[str, int]
    holds: set[str] = field(default_factory=set)

    @property
    def quantity(self) -> int:
        """All there is of it, in the smallest unit."""
        return sum(self.quantities.values())


def standings(
    notes: Iterable[GoodsInRow],
    things: Iterable[PieceRow | BatchRow],
    happenings: Iterable[Happening],
    places: Mapping[str, PlaceRow],
) -> dict[str, Standing]:
    """Every piece and batch by its tag as it stands now; reversed lines and goods-in notes count for nothing.

    Refuses a line that starts from where the thing was not, takes more than there was, or puts stock where
    it may not lie, naming the line of the day book.
    """
    happenings = list(happenings)
    undone = {line.undoes for line in happenings if line.kind is EntryKind.REVERSED}
    by_note = {note.number: note for note in notes}
    standing: dict[str, Standing] = {}
    events: list[tuple[date, int, int, Happening | PieceRow | BatchRow]] = []
    for thing in things:
        note = by_note[thing.goods_in]
        if note.number in undone:
            continue
        quantity = thing.quantity if isinstance(thing, BatchRow) else 1
        standing[thing.tag] = Standing(
            thing.tag, thing.house_number, thing, Condition.UNINSPECTED, None, frozenset(thing.stock.papers),
            {note.place: quantity},
        )  # fmt: skip
        if thing.stock.looked_on is not None:
            events.append((thing.stock.looked_on, 0, thing.line, thing))
    events += [
        (line.happened_on, 1, line.line, line)
        for line in happenings
        if line.number not in undone and line.kind is not EntryKind.REVERSED
    ]
    for _, _, _, event in sorted(events, key=lambda event: event[:3]):
        if isinstance(event, Happening):
            _apply(event, standing, places)
        else:
            _inspect(event, standing[event.tag])
    return standing


def _inspect(thing: PieceRow | BatchRow, state: Standing) -> None:
    assert thing.stock.place is not None
    state.condition, state.scope = thing.stock.condition, thing.stock.scope
    state.quantities = {thing.stock.place: state.quantity}


def _apply(line: Happening, standing: dict[str, Standing], places: Mapping[str, PlaceRow]) -> None:
    if line.kind is EntryKind.HOLD_RAISED or line.kind is EntryKind.HOLD_CLEARED:
        for state in standing.values():
            if line.of in (state.tag, state.house_number):
                if line.kind is EntryKind.HOLD_RAISED:
                    state.holds.add(line.number)
                else:
                    state.holds.discard(line.undoes or "")
        return
    if line.kind is EntryKind.CATALOGUE or line.kind is EntryKind.PEOPLE:
        return
    if line.of not in standing:
        raise _refuse(line, f"{line.of} is not in the stores")
    state = standing[line.of]
    if line.kind is EntryKind.PAPERS:
        state.papers |= set(line.papers)
        return
    if line.kind is EntryKind.SPLIT:
        state = _split(line, state)
        standing[state.tag] = state
    elif line.condition is not None:
        state.condition, state.scope = line.condition, line.scope
    if line.kind is not EntryKind.SPLIT and line.from_place is not None and line.to_place is not None:
        _take(line, state, line.quantity)
        moved = state.quantities.pop("", 0)
        state.quantities[line.to_place] = state.quantities.get(line.to_place, 0) + moved
    for place in state.quantities:
        _refuse_wrong_place(line, state, places[place])


def _split(line: Happening, parent: Standing) -> Standing:
    _take(line, parent, line.quantity)
    assert line.new_tag is not None and line.to_place is not None and line.condition is not None
    return Standing(
        line.new_tag, parent.house_number, parent.row, line.condition, line.scope, parent.papers,
        {line.to_place: parent.quantities.pop("")}, set(parent.holds),
    )  # fmt: skip


def _take(line: Happening, state: Standing, quantity: int | None) -> None:
    """Take a quantity, or all, out of the line's place into the hand, the place with no name."""
    assert line.from_place is not None
    there = state.quantities.get(line.from_place, 0)
    wanted = there if quantity is None else quantity
    if not 0 < wanted <= there:
        where = ", ".join(f"{amount} in {place}" for place, amount in state.quantities.items())
        raise _refuse(line, f"{line.of} has {there} in {line.from_place}; there is {where}")
    state.quantities[line.from_place] -= wanted
    if not state.quantities[line.from_place]:
        del state.quantities[line.from_place]
    state.quantities[""] = wanted


def _refuse_wrong_place(line: Happening, state: Standing, place: PlaceRow) -> None:
    if place.bonded and (state.condition is not Condition.SERVICEABLE or not state.papers):
        raise _refuse(line, f"{state.tag} would lie in {place.name}, which takes accepted stock with papers")
    among_stock = place.kind in {PlaceKind.BIN, PlaceKind.STORES}
    if state.condition is Condition.UNSALVAGEABLE and among_stock:
        raise _refuse(line, f"{state.tag} can't be salvaged and would lie among stock in {place.name}")


def _refuse(line: Happening, said: str) -> Refused:
    return Refused(
        f"happenings.csv, line {line.line} ({line.number}): {said}.",
        "Correct the line, or what is written before it.",
    )
