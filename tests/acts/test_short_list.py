"""The shortage board laid out for paper."""

from __future__ import annotations

from invdb.acts.short_list import short_list
from tests.paper.bought import BOARD
from tests.shop import NOW, Shop


def test_the_list_has_the_name_of_the_shop_and_is_printed_now(shop: Shop) -> None:
    with shop.store.reading() as session:
        listed = short_list(session, BOARD, "what stops Linnet One")
    assert (listed.workshop, listed.only) == ("Harrowmere Flying Museum", "what stops Linnet One")
    assert listed.printed_at.date() == NOW.date()
    assert listed.board is BOARD
