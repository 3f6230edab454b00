"""How every piece and batch of a workshop's tables stands in the end, by goods in, day book, work, fitting.

A plain second opinion beside the ledger: no database, only the tables. It refuses what can't have happened.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from invdb.intake.builds import FilledRow
from invdb.intake.daybook import Happening
from invdb.intake.engines import Drawings
from invdb.intake.finds import FindRow
from invdb.intake.fitting import FitRow, InsideRow, RobRow, StripRow
from invdb.intake.inspections import InspectionRow, Inspections
from invdb.intake.lives import Lives
from invdb.intake.loans import LoanEnd, LoanRow
from invdb.intake.purchases import OrderLineRow
from invdb.intake.shop import PlaceRow
from invdb.intake.stock import BatchRow, GoodsInRow, PieceRow
from invdb.intake.works import BackRow, IdentityRow, OrderRow, ScrapRow, Works
from invdb.rules.numbering import NumberKind, read_number
from invdb.terms import Condition, EntryKind, PlaceKind, Refused, Scope

# A line that can be refused, and the table it stands in.
_Line = (
    Happening
    | OrderRow
    | BackRow
    | IdentityRow
    | ScrapRow
    | FitRow
    | InsideRow
    | StripRow
    | RobRow
    | LoanRow
    | LoanEnd
    | OrderLineRow
)
_Event = _Line | InspectionRow | PieceRow | BatchRow | FilledRow | FindRow
_TABLES: dict[type[_Line], str] = {
    Happening: "happenings.csv",
    OrderRow: "work_orders.csv",
    BackRow: "work_returns.csv",
    IdentityRow: "reidentifications.csv",
    ScrapRow: "scrappings.csv",
    FitRow: "fittings.csv",
    InsideRow: "bench_fittings.csv",
    StripRow: "strippings.csv",
    RobRow: "robberies.csv",
    LoanRow: "loans.csv",
    LoanEnd: "loans.csv",
    OrderLineRow: "order_lines.csv",
}

# Where what was given away is.
_OUTSIDE = "Outside"


@dataclass
class Standing:
    """One piece or batch as it stands: what, in which condition, and how much of it lies where.

    ``quantities`` in the smallest unit by place name, 1 for a piece; ``holds`` are the numbers of the lines
    of the day book that raised a doubt not cleared yet, whether on the thing or on its part. A station is a
    place named by ``station_place``, or within a piece by its tag and the station.
    """

    tag: str
    house_number: str
    row: PieceRow | BatchRow | FilledRow | FindRow | LoanRow
    condition: Condition
    scope: Scope | None
    papers: frozenset[str]
    quantities: dict[str, int]
    holds: set[str] = field(default_factory=set)

    @property
    def quantity(self) -> int:
        """All there is of it, in the smallest unit."""
        return sum(self.quantities.values())


def station_place(row: FilledRow | FitRow | StripRow | RobRow, drawings: Drawings) -> str:
    """The name of the place that the station of an engine is which a line names."""
    group = drawings.groups[drawings.engines[row.engine].engine_type, row.position]
    return f"{row.engine} {group} {row.position} {row.station}"


def _filled_place(row: FilledRow, drawings: Drawings) -> str:
    return station_place(row, drawings) if row.inside is None else f"{row.inside} {row.station}"


def standings(
    notes: Iterable[GoodsInRow],
    things: Iterable[PieceRow | BatchRow],
    happenings: Iterable[Happening],
    places: Mapping[str, PlaceRow],
    works: Works,
    inspections: Inspections,
    lives: Lives,
    drawings: Drawings,
    loans: Iterable[LoanRow] = (),
    given: Iterable[OrderLineRow] = (),
) -> dict[str, Standing]:
    """Every piece and batch by its tag as it stands now; reversed lines and goods-in notes count for nothing.

    What a build card names counts as accepted for its engine's use. Refuses, by file and line, what starts
    from where the thing was not, takes more than there was, fits what may not be fitted, or puts stock where
    it may not lie.
    """
    happenings = list(happenings)
    undone = {line.undoes for line in happenings if line.kind is EntryKind.REVERSED}
    by_note = {note.number: note for note in notes}
    taken_on = {build.engine: build.taken_on for build in lives.builds if build.document is not None}
    standing: dict[str, Standing] = {}
    events: list[tuple[date, int, int, _Event]] = []
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
    events += [(taken_on[row.engine], 0, row.line, row) for row in lives.filled]
    events += [(row.inspected_on, 1, row.line, row) for row in inspections.inspections]
    events += [
        (line.happened_on, 2, line.line, line)
        for line in happenings
        if line.number not in undone and line.kind is not EntryKind.REVERSED
    ]
    events += [(row.sent_on, 2, row.line, row) for row in works.orders]
    events += [(row.back_on, 2, row.line, row) for row in works.backs]
    events += [(row.changed_on, 2, row.line, row) for row in works.identities]
    events += [(row.scrapped_on, 2, row.line, row) for row in works.scrappings]
    events += [(row.booked_on, 2, row.line, row) for row in loans]
    events += [(row.end.booked_on, 2, row.line, row.end) for row in loans if row.end is not None]
    events += [(row.given_on, 2, row.line, row) for row in given if row.given_on is not None]
    events += [(row.stripped_on, 3, row.line, row) for row in lives.strippings]
    events += [(row.found_on, 3, row.line, row) for row in lives.finds if row.tag is not None]
    events += [(row.robbed_on, 4, row.line, row) for row in lives.robberies]
    events += [(row.fitted_on, 5, row.line, row) for row in lives.insides]
    events += [(row.fitted_on, 6, row.line, row) for row in lives.fittings]
    for _, _, _, event in sorted(events, key=lambda event: event[:3]):
        match event:
            case Happening():
                _apply(event, standing, places)
            case OrderRow():
                for sent in event.things:
                    _put(event, standing[sent.of], sent.quantity, sent.from_place, event.place)
            case BackRow():
                _get_back(event, standing, places)
            case IdentityRow():
                state = standing[event.of]
                state.house_number, state.condition, state.scope = (
                    event.became.house_number, Condition.UNINSPECTED, None,
                )  # fmt: skip
            case ScrapRow():
                state = standing[event.of]
                state.condition, state.scope = Condition.UNSALVAGEABLE, None
                _put(event, state, 1, event.from_place, event.to_place)
            case FilledRow():
                standing[event.tag] = Standing(
                    event.tag, event.house_number, event, Condition.SERVICEABLE,
                    drawings.engines[event.engine].use, frozenset(),
                    {_filled_place(event, drawings): event.quantity},
                )  # fmt: skip
            case FindRow(tag=str(tag), house_number=str(part), to_place=str(place)):
                assert event.condition is not None and event.quantity is not None
                standing[tag] = Standing(
                    tag, part, event, event.condition, None, frozenset(), {place: event.quantity}
                )
            case LoanRow(from_place=str(from_place)):
                _put(event, standing[event.of], 1, from_place, event.to_place)
            case LoanRow():
                standing[event.of] = Standing(
                    event.of, event.house_number, event, Condition.UNINSPECTED, None, frozenset(),
                    {event.to_place: 1},
                )  # fmt: skip
            case LoanEnd():
                _end_loan(event, standing[event.of], places)
            case OrderLineRow(given=str(given_tag), from_place=str(from_place)):
                _put(event, standing[given_tag], 1, from_place, _OUTSIDE)
            case FitRow():
                _fit(event, standing[event.of], drawings)
            case InsideRow():
                _fit_inside(event, standing[event.of])
            case StripRow() | RobRow():
                _strip(event, standing, places, drawings)
            case InspectionRow():
                _decide(event, standing[event.of])
            case PieceRow() | BatchRow():
                _inspect(event, standing[event.tag])
    return standing


def _inspect(thing: PieceRow | BatchRow, state: Standing) -> None:
    assert thing.stock.place is not None
    state.condition, state.scope = thing.stock.condition, thing.stock.scope
    state.quantities = {thing.stock.place: state.quantity}


def _decide(row: InspectionRow, state: Standing) -> None:
    state.condition, state.scope = row.decided, row.scope
    if row.to_place is not None:
        state.quantities = {row.to_place: state.quantity}


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
        _take(line, state, line.quantity, line.from_place)
        moved = state.quantities.pop("", 0)
        state.quantities[line.to_place] = state.quantities.get(line.to_place, 0) + moved
    for place in state.quantities.keys() & places.keys():
        _refuse_wrong_place(line, state, places[place])


def _split(line: Happening, parent: Standing) -> Standing:
    assert line.from_place is not None
    _take(line, parent, line.quantity, line.from_place)
    assert line.new_tag is not None and line.to_place is not None and line.condition is not None
    return Standing(
        line.new_tag, parent.house_number, parent.row, line.condition, line.scope, parent.papers,
        {line.to_place: parent.quantities.pop("")}, set(parent.holds),
    )  # fmt: skip


def _get_back(row: BackRow, standing: dict[str, Standing], places: Mapping[str, PlaceRow]) -> None:
    """Get back a piece as what it has become, or a share of a batch as a batch of its own."""
    state = standing[row.of]
    papers = state.papers | ({row.document} if row.document is not None else set())
    if row.new_tag is None:
        state.condition, state.scope, state.papers = row.condition, None, papers
        if row.became is not None:
            state.house_number = row.became.house_number
        _put(row, state, row.quantity, row.from_place, row.to_place)
    else:
        _take(row, state, row.quantity, row.from_place)
        state = Standing(
            row.new_tag, state.house_number, state.row, row.condition, None, papers,
            {row.to_place: state.quantities.pop("")}, set(state.holds),
        )  # fmt: skip
        standing[row.new_tag] = state
    _refuse_wrong_place(row, state, places[row.to_place])


def _end_loan(row: LoanEnd, state: Standing, places: Mapping[str, PlaceRow]) -> None:
    _put(row, state, 1, row.at_place, row.to_place or _OUTSIDE)
    if row.to_place is not None:
        if state.condition is Condition.SERVICEABLE:
            state.condition, state.scope = Condition.UNINSPECTED, None
        _refuse_wrong_place(row, state, places[row.to_place])


def _fit(row: FitRow, state: Standing, drawings: Drawings) -> None:
    use = drawings.engines[row.engine].use
    if state.condition is not Condition.SERVICEABLE or state.scope is None or not state.scope.covers(use):
        accepted = f" for {state.scope}" if state.scope is not None else ""
        raise _refuse(row, f"{row.of} is {state.condition}{accepted}, and {row.engine} is for {use}")
    if state.holds:
        raise _refuse(row, f"{row.of} is on hold")
    _put(row, state, row.quantity, row.from_place, station_place(row, drawings))


def _fit_inside(row: InsideRow, state: Standing) -> None:
    if state.condition is not Condition.SERVICEABLE or state.holds:
        raise _refuse(row, f"{row.of} is {'on hold' if state.holds else state.condition}")
    _put(row, state, 1, row.from_place, f"{row.into} {row.station}")


def _strip(
    row: StripRow | RobRow,
    standing: Mapping[str, Standing],
    places: Mapping[str, PlaceRow],
    drawings: Drawings,
) -> None:
    """Strip a piece and what rides in it; what comes out of a batch is scrapped, the batch stays as it is."""
    state = standing[row.of]
    quantity = row.quantity if isinstance(row, StripRow) else 1
    _put(row, state, quantity, station_place(row, drawings), row.to_place)
    if read_number(row.of).kind is NumberKind.BATCH:
        return
    for rider in _riders(state, standing):
        rider.condition = row.condition if isinstance(row, StripRow) else Condition.UNINSPECTED
        rider.scope = None
    _refuse_wrong_place(row, state, places[row.to_place])


def _riders(state: Standing, standing: Mapping[str, Standing]) -> list[Standing]:
    """A piece and all that is inside it, or inside that."""
    inside = [
        each
        for each in standing.values()
        if any(place.startswith(f"{state.tag} ") for place in each.quantities)
    ]
    return [state, *(rider for each in inside for rider in _riders(each, standing))]


def _put(line: _Line, state: Standing, quantity: int, from_place: str, to_place: str) -> None:
    _take(line, state, quantity, from_place)
    moved = state.quantities.pop("")
    state.quantities[to_place] = state.quantities.get(to_place, 0) + moved


def _take(line: _Line, state: Standing, quantity: int | None, from_place: str) -> None:
    """Take a quantity, or all, out of a place into the hand, the place with no name."""
    there = state.quantities.get(from_place, 0)
    wanted = there if quantity is None else quantity
    if not 0 < wanted <= there:
        where = ", ".join(f"{amount} in {place}" for place, amount in state.quantities.items())
        raise _refuse(line, f"{state.tag} has {there} in {from_place}; there is {where}")
    state.quantities[from_place] -= wanted
    if not state.quantities[from_place]:
        del state.quantities[from_place]
    state.quantities[""] = wanted


def _refuse_wrong_place(line: _Line, state: Standing, place: PlaceRow) -> None:
    if place.bonded and (state.condition is not Condition.SERVICEABLE or not state.papers):
        raise _refuse(line, f"{state.tag} would lie in {place.name}, which takes accepted stock with papers")
    among_stock = place.kind in {PlaceKind.BIN, PlaceKind.STORES}
    if state.condition is Condition.UNSALVAGEABLE and among_stock:
        raise _refuse(line, f"{state.tag} can't be salvaged and would lie among stock in {place.name}")


def _refuse(line: _Line, said: str) -> Refused:
    return Refused(
        f"{_TABLES[type(line)]}, line {line.line} ({line.number}): {said}.",
        "Correct the line, or what is written before it.",
    )
