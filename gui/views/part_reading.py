"""What is read of a part for its page: all that the catalogue says of it, and who said so last."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from invdb.acts.as_of import as_of
from invdb.acts.balance import BalanceSetFacts, balance_sets_of
from invdb.acts.change import seen_of
from invdb.acts.life_limit import read_limits
from invdb.acts.match_rule import MatchRuleFacts, match_rules_of
from invdb.acts.offers import parts_by_ids
from invdb.acts.part_list import on_shelf
from invdb.acts.part_page import PartPage, part_page
from invdb.acts.set_by import SetBy, set_by
from invdb.acts.typed import engine_type_named
from invdb.rules.life_limits import Limit
from invdb.rules.quantities import quantity_words


@dataclass(frozen=True)
class StationRule:
    """A rule of size or finish at a station where the part is used, and of which engine type it is."""

    engine_type: str
    rule: MatchRuleFacts


@dataclass(frozen=True)
class StationBalance:
    """A set of masses in which one at a station where the part is used counts, and of which engine type."""

    engine_type: str
    balance: BalanceSetFacts


@dataclass(frozen=True)
class PartRead:
    """A part's page; ``limits`` of its life, ``rules`` and ``balances`` at its stations, and how much of each
    part of the picture of alternates is on the shelf, in words ('' for none).

    ``setters`` are the entries that set all of it, by number; ``set_when`` the number for each record whose
    facts don't name it themselves, by its kind and id.
    """

    page: PartPage
    limits: tuple[Limit, ...]
    rules: tuple[StationRule, ...]
    balances: tuple[StationBalance, ...]
    shelf: Mapping[int, str]
    setters: Mapping[int, SetBy]
    set_when: Mapping[tuple[str, int], int]

    def setter(self, entry: int | None) -> SetBy | None:
        """Who set what carries that entry."""
        return self.setters.get(entry) if entry is not None else None

    def last_set(self, entry: int | None) -> str:
        """``Ada Farrow on 2026-03-02, entry 14: Leaflet 31``; '' where it is not known."""
        setter = self.setter(entry)
        return setter.words if setter is not None else ""


def read_part(session: Any, part: int) -> PartRead:
    """Read a part, as of today; to be called on a worker. Refused for one that is not in the catalogue."""
    page = part_page(session, part)
    own = parts_by_ids(session, [part])[part]
    limits = read_limits(session.connection(), {part: own.life_limit_hours}, as_of(session, None))[part]
    rules, balances = _rules(session, page), _balances(session, page)
    nodes = [node.part for node in page.graph.nodes]
    amounts, details = on_shelf(session, nodes), parts_by_ids(session, nodes)
    shelf = {
        each: quantity_words(amounts[each], details[each].measure) if amounts[each] else "" for each in nodes
    }
    set_when = {
        **{("life_limit", each.key): seen_of(session, "life_limit", each.key) for each in limits if each.key},
        **{("part_size", each.id): seen_of(session, "part_size", each.id) for each in page.sizes if each.id},
    }
    entries = {*_entries(page, rules, balances), *set_when.values()}
    return PartRead(page, limits, rules, balances, shelf, set_by(session, entries), set_when)


def _rules(session: Any, page: PartPage) -> tuple[StationRule, ...]:
    """The rules of size and finish that name a station where a kit line in force puts the part."""
    seats, found = stations_used(page), []
    for engine_type, group in _groups(seats):
        for rule in match_rules_of(session, engine_type_named(session, engine_type), group):
            if {(engine_type, group, rule.station), (engine_type, group, rule.other_station)} & seats:
                found.append(StationRule(engine_type, rule))
    return tuple(found)


def _balances(session: Any, page: PartPage) -> tuple[StationBalance, ...]:
    """The sets of masses in which one at a station counts where a kit line in force puts the part."""
    seats, found = stations_used(page), []
    for engine_type, group in _groups(seats):
        for balance in balance_sets_of(session, engine_type_named(session, engine_type), group):
            if {(engine_type, group, station) for station, _ in balance.masses} & seats:
                found.append(StationBalance(engine_type, balance))
    return tuple(found)


def stations_used(page: PartPage) -> set[tuple[str, str, str]]:
    """Where kit lines in force put the part: engine type, group and station, by name."""
    return {(use.engine_type, use.group, use.station) for use in page.uses if use.in_force}


def _groups(seats: Iterable[tuple[str, str, str]]) -> list[tuple[str, str]]:
    return sorted({(type_name, group) for type_name, group, _ in seats})


def _entries(
    page: PartPage, rules: tuple[StationRule, ...], balances: tuple[StationBalance, ...]
) -> Iterator[int]:
    yield page.entry
    yield from (each.entry for each in page.numbers)
    yield from (each.entry for each in page.hazards)
    yield from (each.entry for each in page.specs)
    yield from (each.fit.entry for each in page.fits)
    yield from (each.rule.entry for each in rules)
    yield from (each.balance.entry for each in balances)
    yield from (each.entry for each in page.uses)
    yield from (each.entry for each in page.graph.steps)
