"""What is entered in the catalogue holds somewhere, and where it was meant to."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from invdb.acts import shop as shops
from invdb.acts.by import begin_draft
from invdb.acts.catalogue import Holds, NewKitLine, NewStandIn, add_kit_line, add_stand_in, draft_mod
from invdb.records.catalogue import KitLine
from invdb.records.posting import post
from invdb.terms import EntryKind, Layout, Refused
from tests.shop import Shop


def test_a_kit_line_or_stand_in_that_could_hold_nowhere_is_refused(shop: Shop) -> None:
    with shop.store.writing() as session:
        position = shops.NewPosition("B9", 0, 0)
        other = shops.NewEngineType("Dabchick", Layout.IN_LINE, positions=(position,))
        dabchick = shops.add_engine_type(session, other, shop.by())
        draft = begin_draft(session, EntryKind.ENGINES, shop.by())
        theirs = draft_mod(session, draft, dabchick, "D3", "oil jet")
        post(session, draft)
    for holds, said in (
        (Holds(serial_from="L2000", serial_to="L1000"), "is empty"),
        (Holds(serial_from="-"), "cannot bound a range"),
        (Holds(positions=" , "), "hold for no position"),
        (Holds(positions="5, B9"), "no position B9"),
        (Holds(mod=theirs), "go together"),
        (Holds(mod_embodied=True), "go together"),
        (Holds(mod=theirs, mod_embodied=False), "another engine type"),
    ):
        with pytest.raises(Refused, match=said), shop.store.writing() as session:
            line = NewKitLine(shop.linnet, "cylinder", 9, "inlet valve", shop.valve, 1, holds=holds)
            add_kit_line(session, line, shop.by())
        with pytest.raises(Refused, match=said), shop.store.writing() as session:
            plain = NewStandIn(
                shop.valve, ((shop.barrel, 1),), "leaflet 3", engine_type=shop.linnet, holds=holds
            )
            add_stand_in(session, plain, shop.by())
    with shop.store.writing() as session:
        holds = Holds(positions="4, 5", serial_from="L1000", serial_to="L2000")
        line = NewKitLine(shop.linnet, "cylinder", 9, "inlet valve", shop.valve, 1, holds=holds)
        made = add_kit_line(session, line, shop.by())
        assert session.scalar(select(KitLine.positions).where(KitLine.id == made)) == "4, 5"


def test_a_stand_in_that_could_fill_no_kit_is_refused(shop: Shop) -> None:
    for members, both_ways, said in (
        (((shop.valve, 1),), False, "cannot stand in for itself"),
        (((shop.wire, 1),), False, "held by length"),
        (((shop.barrel, 0),), False, "Give a whole number"),
        (((shop.barrel, 1), (shop.barrel, 1)), False, "named twice"),
        (((shop.barrel, 2),), True, "both ways"),
        (((999, 1),), False, "not in the catalogue"),
        ((), False, "Nothing is named"),
    ):
        with pytest.raises(Refused, match=said), shop.store.writing() as session:
            add_stand_in(session, NewStandIn(shop.valve, members, "leaflet 3", both_ways), shop.by())
