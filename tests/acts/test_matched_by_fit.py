"""A cap on its rod: fitted together once, matched from then on."""

from __future__ import annotations

import pytest
from sqlalchemy.orm import Session

from invdb.acts.fit_limit import NewFitLimit, add_fit_limit
from invdb.acts.matched import NewMatch, match_pieces, matched_with
from invdb.acts.matched_by_fit import Stations, draft_matched_by_fit, stations_for_part
from invdb.records.posting import post
from invdb.terms import EntryKind, FieldRefused, FitKind, MatchedAs
from tests.engine_shop import came, sound
from tests.fitted_shop import add_barrel_station
from tests.shop import Shop

VALVE, BARREL = ("exhaust valve",), ("barrel",)


@pytest.fixture
def pair(shop: Shop) -> tuple[int, int]:
    """A barrel and a valve, with a fit that makes such two a matched set."""
    with shop.store.writing() as session:
        add_barrel_station(shop, session)
        fit = NewFitLimit(
            *(shop.linnet, "cylinder", "valve in seat", FitKind.AS_FOUND),
            *("barrel", "seat", "exhaust valve", "face", "mm", "0.01", "0.02"),
            source="Manual, chapter 6",
            makes_matched=True,
        )
        add_fit_limit(session, fit, shop.by())
        return piece(shop, session, shop.barrel), piece(shop, session, shop.valve)


def piece(shop: Shop, session: Session, part: int) -> int:
    return came(session, shop, part).piece or 0


def matched(shop: Shop, session: Session, fitted: Stations, seated: Stations) -> tuple[int, ...]:
    draft = shop.draft(kind=EntryKind.MATCHED)
    made = draft_matched_by_fit(session, draft, shop.linnet, "cylinder", fitted, seated)
    if made:
        post(session, draft)
    return made


def test_what_a_fit_says_stays_together_is_a_matched_set_once(shop: Shop, pair: tuple[int, int]) -> None:
    barrel, valve = pair
    with shop.store.writing() as session:
        assert matched(shop, session, {valve: VALVE}, {}) == ()
        (made,) = matched(shop, session, {valve: VALVE}, {barrel: BARREL})
        (facts,) = matched_with(session, [valve])[valve]
        assert (facts.id, facts.kind, facts.why) == (made, MatchedAs.SET, "fitted together: valve in seat")
        assert {member for member, _ in facts.members} == {barrel, valve}
        assert matched(shop, session, {valve: VALVE, barrel: BARREL}, {}) == ()
    assert sound(shop)


def test_what_sat_there_already_is_not_matched_by_something_else_coming(
    shop: Shop, pair: tuple[int, int]
) -> None:
    barrel, valve = pair
    with shop.store.writing() as session:
        other = piece(shop, session, shop.valve)
        assert matched(shop, session, {other: ("inlet valve",)}, {barrel: BARREL, valve: VALVE}) == ()


def test_a_set_that_one_of_them_is_in_grows(shop: Shop, pair: tuple[int, int]) -> None:
    barrel, valve = pair
    with shop.store.writing() as session:
        head = piece(shop, session, shop.barrel)
        match_pieces(session, NewMatch(MatchedAs.SET, "", "bored together", (barrel, head)), shop.by())
        (made,) = matched(shop, session, {valve: VALVE, barrel: BARREL}, {head: ("head",)})
        found = matched_with(session, [barrel, head, valve])
        assert {each.id for sets in found.values() for each in sets} == {made}
        assert len(found[head][0].members) == 3
    assert sound(shop)


def test_another_valve_does_not_take_the_place_of_the_one_that_was_lapped(
    shop: Shop, pair: tuple[int, int]
) -> None:
    barrel, valve = pair
    with shop.store.writing() as session:
        other = piece(shop, session, shop.valve)
        match_pieces(session, NewMatch(MatchedAs.SET, "", "lapped in 1938", (barrel, valve)), shop.by())
        with pytest.raises(FieldRefused, match="can't take its place: lapped in 1938"):
            matched(shop, session, {other: VALVE}, {barrel: BARREL})
        # Mates only should go together: another may take the place of one.
        third = piece(shop, session, shop.barrel)
        match_pieces(session, NewMatch(MatchedAs.MATES, "", "ran together", (third, valve)), shop.by())
        assert len(matched(shop, session, {other: VALVE}, {third: BARREL})) == 1
    assert sound(shop)


def test_a_part_is_known_by_the_stations_that_kit_lists_have_for_it(
    shop: Shop, pair: tuple[int, int]
) -> None:
    with shop.store.reading() as session:
        assert stations_for_part(session, shop.linnet, "cylinder", shop.barrel) == {"barrel"}
        assert stations_for_part(session, shop.linnet, "cylinder", shop.wire) == frozenset()
