"""What came back in parts is undone from the last, and no piece is matched twice by undoing an end."""

from __future__ import annotations

import pytest

from invdb.acts.matched import NewMatch, end_match, match_pieces, matched_with
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing
from invdb.acts.reverse import reverse
from invdb.acts.scrap import ScrapOrder, scrap
from invdb.terms import MatchedAs, Refused, Unusable
from tests.acts.test_work import back, sent
from tests.engine_shop import came
from tests.shop import Shop


def refused(shop: Shop, number: int, why: str) -> None:
    with pytest.raises(Refused, match=why), shop.store.writing() as session:
        reverse(session, number, "Not so", shop.by())


def test_the_first_of_two_returns_is_undone_after_the_second(shop: Shop) -> None:
    with shop.store.writing() as session:
        made = sent(session, shop, came(session, shop, shop.spring, quantity=40))
        first = back(session, shop, made, quantity=6)
        second = back(session, shop, made, quantity=3)
    refused(shop, first, f"Entry {second} stands in the way")
    with shop.store.writing() as session:
        reverse(session, second, "Not so", shop.by())
        reverse(session, first, "Not so", shop.by())


def test_the_end_of_a_set_is_not_undone_once_a_member_is_matched_anew(shop: Shop) -> None:
    with shop.store.writing() as session:
        a, b, c = (came(session, shop, shop.barrel).piece or 0 for _ in range(3))
        old = match_pieces(session, NewMatch(MatchedAs.SET, "", "bored together", (a, b)), shop.by())
        ended = end_match(session, old, "bored anew", shop.by())
        match_pieces(session, NewMatch(MatchedAs.SET, "", "lapped together", (a, c)), shop.by())
    refused(shop, ended, "it matched .* since")
    with shop.store.reading() as session:
        assert len(matched_with(session, [a])[a]) == 1


def test_a_set_with_a_scrapped_member_does_not_stand_again(shop: Shop) -> None:
    with shop.store.writing() as session:
        a, b = (came(session, shop, shop.barrel).piece or 0 for _ in range(2))
        old = match_pieces(session, NewMatch(MatchedAs.SET, "", "bored together", (a, b)), shop.by())
        ended = end_match(session, old, "bored anew", shop.by())
        scrap(session, ScrapOrder(Thing(piece=a), "Cracked", Unusable.SAWN, shop.scrap), shop.by())
    refused(shop, ended, "was scrapped since, and would be matched again")


def test_what_was_scrapped_in_the_drum_is_not_brought_back_by_undoing_the_way_there(shop: Shop) -> None:
    with shop.store.writing() as session:
        barrel = came(session, shop, shop.barrel)
        thrown = move(session, (Shift(barrel),), shop.scrap, shop.by())
        scrap(session, ScrapOrder(barrel, "Cracked", Unusable.SAWN, shop.scrap), shop.by())
    refused(shop, thrown, "would lie in A-01-01")


def test_a_return_is_not_undone_once_it_is_out_anew(shop: Shop) -> None:
    with shop.store.writing() as session:
        barrel = came(session, shop, shop.barrel)
        here = back(session, shop, sent(session, shop, barrel, place=shop.bench))
        sent(session, shop, barrel, place=shop.bench)
    refused(shop, here, "sent .* out again")
