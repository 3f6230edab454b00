"""What came back in parts is undone from the last, and no piece is matched twice by undoing an end."""

from __future__ import annotations

import pytest

from invdb.acts.matched import NewMatch, end_match, match_pieces, matched_with
from invdb.acts.reverse import reverse
from invdb.acts.work_undone import refuse_undoing_work
from invdb.terms import MatchedAs, Refused
from tests.acts.test_work import back, sent
from tests.engine_shop import came
from tests.shop import Shop


def test_the_first_of_two_returns_is_undone_after_the_second(shop: Shop) -> None:
    with shop.store.writing() as session:
        made = sent(session, shop, came(session, shop, shop.spring, quantity=40))
        first = back(session, shop, made, quantity=6)
        second = back(session, shop, made, quantity=3)
        with pytest.raises(Refused, match=f"Entry {second} stands in the way"):
            refuse_undoing_work(session, first)
        reverse(session, second, "Not so", shop.by())
        refuse_undoing_work(session, second)
        refuse_undoing_work(session, first)


def test_the_end_of_a_set_is_not_undone_once_a_member_is_matched_anew(shop: Shop) -> None:
    with shop.store.writing() as session:
        a, b, c = (came(session, shop, shop.barrel).piece or 0 for _ in range(3))
        old = match_pieces(session, NewMatch(MatchedAs.SET, "", "bored together", (a, b)), shop.by())
        ended = end_match(session, old, "bored anew", shop.by())
        match_pieces(session, NewMatch(MatchedAs.SET, "", "lapped together", (a, c)), shop.by())
        reverse(session, ended, "Not so", shop.by())
        assert len(matched_with(session, [a])[a]) == 2
        with pytest.raises(Refused, match="it matched .* since"):
            refuse_undoing_work(session, ended)
