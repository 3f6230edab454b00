"""What the goods-in form offers to choose from, and what it makes of what is filled in so far."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from gui.job import Job
from gui.shown import Choice, Hit, Hits, Values
from gui.sitting import Sitting
from gui.views.searches import Search, search_for
from invdb.acts import engine_list, offers
from invdb.acts.goods_in import RECEIVING_PLACES
from invdb.acts.offers import PartDetails, parts_by_ids
from invdb.acts.purchase_list import OrderFacts, OrderLineFacts, purchase_orders
from invdb.rules.quantities import quantity_words
from invdb.terms import Measure, Origin, Refused, Tracking, WorkState

NEW_FAMILY = "new family"
GOODS_IN = "Goods in"

RECEIVING_CHECKS = (
    Choice("right_part", "right part"),
    Choice("papers", "papers match"),
    Choice("damage", "no damage seen"),
    Choice("hazards", "hazards seen to"),
)


@dataclass(frozen=True)
class PartToAdd:
    """A part that is not in the catalogue yet, by what was typed to find it."""

    typed: str


@dataclass(frozen=True)
class FirmToAdd:
    """A firm that is not known yet."""

    name: str


@dataclass(frozen=True)
class Offered:
    """What the form offers to choose from, and what it begins with. ``workshop`` is our own id as owner."""

    families: tuple[Choice, ...]
    owners: tuple[Choice, ...]
    workshop: int | None
    engines: tuple[Choice, ...]
    place: Hit | None
    firm: Hit | None
    today: date
    against: Hit | None = None
    part: Hit | None = None
    quantity: str = "1"


def read_offered(sitting: Sitting, order_line: int | None = None) -> Offered:
    """What is offered now; to be called on a worker. The bin is the last one, else Goods in.

    With the line of an order, what is still to come of it from its firm.
    """
    person = sitting.by().person
    with sitting.store.reading() as session:
        awaited = _awaited(session, order_line) if order_line is not None else {}
        first = offers.first_offers(session, person)
        owners, places = offers.owners(session), offers.places_to_put(session, RECEIVING_PLACES)
        families, engines = offers.families(session), engine_list.engines(session)
    place = first.place or next((each for each in places if each.name == GOODS_IN), None)
    return Offered(
        families=tuple(Choice(each.id, f"{each.letters}  {each.name}") for each in families),
        owners=tuple(Choice(each.id, each.name) for each in owners),
        workshop=next((each.id for each in owners if each.is_workshop), None),
        engines=tuple(Choice(each.engine, f"{each.name} ({each.serial})") for each in engines),
        place=Hit(place.name, place.inside, "place", place.id) if place else None,
        firm=awaited.pop("firm", None)
        or (Hit(first.firm.name, first.firm.town, "firm", first.firm.id) if first.firm else None),
        today=first.today,
        **awaited,
    )


def _awaited(session: Any, order_line: int) -> dict[str, Any]:
    """What the form begins with for a line of an order."""
    for order in purchase_orders(session):
        for line in order.lines:
            if line.order_line == order_line:
                part = parts_by_ids(session, [line.part])[line.part]
                return {
                    "firm": Hit(order.firm_name, "", "firm", order.firm),
                    "part": Hit(f"{part.house_number}  {part.name}", "", "part", part),
                    "against": _awaited_hit(order, line),
                    "quantity": quantity_words(line.to_come, line.measure).removesuffix(" off"),
                }
    raise Refused("Nothing is to come on that line of an order any more.", "Read the list again.")


def awaited_search(sitting: Sitting) -> Search:
    """Find the line of an order of which something is still to come; the refs are the ids of lines."""

    def search(job: Job, words: str) -> Hits:
        with sitting.reading(job) as session:
            orders = purchase_orders(session)
        hits = [_awaited_hit(order, line) for order in orders for line in order.lines if line.to_come]
        wanted = words.casefold().split()
        return Hits(
            tuple(
                hit
                for hit in hits
                if all(word in f"{hit.headline} {hit.detail}".casefold() for word in wanted)
            )
        )

    return search


def _awaited_hit(order: OrderFacts, line: OrderLineFacts) -> Hit:
    to_come = quantity_words(line.to_come, line.measure)
    return Hit(
        f"{order.number} of {order.firm_name}",
        f"{to_come} of {line.part_number} {line.part_name} to come",
        "order",
        line.order_line,
    )


def part_search(sitting: Sitting) -> Search:
    """Find a part by any of its numbers or names, or offer to add it; the refs are the parts in detail."""

    def adding(words: str) -> Hit:
        return Hit(f"Add “{words}”", "not in the catalogue yet", "add", PartToAdd(words))

    found = search_for(sitting, ("part",), adding)

    def search(job: Job, words: str) -> Hits:
        answer = found(job, words)
        with sitting.store.reading() as session:
            parts = parts_by_ids(session, [hit.ref for hit in answer.hits if isinstance(hit.ref, int)])
        return Hits(
            tuple(_named(hit, parts[hit.ref]) if hit.ref in parts else hit for hit in answer.hits),
            answer.note,
        )

    return search


def _named(hit: Hit, part: PartDetails) -> Hit:
    """The hit with the part's name beside its number, so that both stay to be read in the field."""
    others = hit.detail.removeprefix(part.name).removeprefix(", ")
    return replace(hit, headline=f"{part.house_number}  {part.name}", detail=others, ref=part)


def firm_search(sitting: Sitting) -> Search:
    """Find a firm, or offer to add it; the refs are ids, or firms to add."""

    def adding(words: str) -> Hit:
        return Hit(f"Add “{words}”", "a firm that is not known yet", "add", FirmToAdd(words))

    return search_for(sitting, ("firm",), adding)


def is_new_part(values: Values) -> bool:
    """Whether the part is to be added."""
    return isinstance(values.get("part"), PartToAdd)


def is_piece(values: Values) -> bool:
    """Whether what comes is held as single pieces."""
    part = values.get("part")
    if isinstance(part, PartDetails):
        return part.tracking is Tracking.PIECE
    return is_new_part(values) and values.get("tracking") is Tracking.PIECE


def is_batch(values: Values) -> bool:
    """Whether what comes is held as a batch."""
    part = values.get("part")
    if isinstance(part, PartDetails):
        return part.tracking is Tracking.BATCH
    return is_new_part(values) and values.get("tracking") is Tracking.BATCH


def may_have_run(values: Values) -> bool:
    """Whether hours or starts before we had it are to be asked."""
    fresh = values.get("origin") in {None, Origin.NEW, Origin.NEW_OLD_STOCK, Origin.MADE_HERE}
    return not fresh or values.get("work_state") not in {None, WorkState.AS_RECEIVED}


def measure_of(values: Values) -> Measure:
    """What a quantity of the batch counts."""
    part = values.get("part")
    if isinstance(part, PartDetails):
        return part.measure
    return values.get("measure") or Measure.COUNT


def keeps_on_shelf(values: Values) -> bool:
    """Whether its shelf life ends on a day that must be known."""
    part = values.get("part")
    if isinstance(part, PartDetails):
        return part.shelf_life_months is not None
    return is_new_part(values) and bool(values.get("shelf_life_months"))


def pieces_count(values: Values) -> int:
    """How many pieces the form says so far; 0 where that is no number."""
    written = values.get("pieces") or ""
    return int(written) if written.isascii() and written.isdigit() else 0


def lines_of(written: str) -> list[str]:
    """The lines that are not empty."""
    return [line.strip() for line in written.splitlines() if line.strip()]
