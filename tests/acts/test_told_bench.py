"""What is done at the bench and by firms, told in sentences; for one thing, on its own sheet."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts.catalogue import NewPart
from invdb.acts.inspect import InspectionOrder, inspect
from invdb.acts.instrument import NewInstrument, add_instrument
from invdb.acts.life_reset import LifeResetOrder
from invdb.acts.matched import NewMatch, end_match, match_pieces
from invdb.acts.numbers import Thing
from invdb.acts.part_size import NewPartSize, add_part_size
from invdb.acts.reidentify import NewIdentity, reidentify
from invdb.acts.scrap import ScrapOrder, scrap
from invdb.acts.spec import NewSpec, add_spec, withdraw_spec
from invdb.acts.spec_line import NewSpecLine
from invdb.acts.things import things_by_id
from invdb.acts.typed_readings import TypedTest
from invdb.acts.work import BackLine, ToSend, WorkBack, WorkSent, back_from_work, send_for_work
from invdb.acts.work_list import work_orders
from invdb.terms import Condition, MatchedAs, Scope, SpecKind, Tracking, Unusable, WorkWanted
from tests.acts.test_ledger_list import said
from tests.acts.test_told_life import story
from tests.engine_shop import came
from tests.kit_shop import state_of
from tests.shop import TODAY, Shop

LOOK = TypedTest(None, SpecKind.LOOK, "look over", passed=False, found="cracked at the flange")


def tag_in(session: Session, thing: Thing) -> str:
    return things_by_id(session, [thing])[thing].tag


def test_a_specification_and_its_withdrawal_name_the_part_and_the_revision(shop: Shop) -> None:
    line = NewSpecLine(SpecKind.DIMENSION, "stem", unit="mm", new_low="9.94", new_high="9.96")
    with shop.store.writing() as session:
        spec = add_spec(session, NewSpec(shop.valve, "B", TODAY, "Pellworth sheet 4", (line,)), shop.by())
        assert "Put in the specification of VX" in said(session)
        assert said(session).endswith("Exhaust valve, B, 1 line.")
        withdraw_spec(session, spec, "superseded", shop.by())
        assert said(session).startswith("Withdrew the specification of VX")
        due = TODAY + timedelta(days=90)
        add_instrument(session, NewInstrument("M 12", "Micrometer", TODAY, due), shop.by())
        assert said(session) == "Put in the instrument M 12 Micrometer."


def test_an_inspection_says_what_was_decided_and_why_against_the_figures(shop: Shop) -> None:
    with shop.store.writing() as session:
        (thing, tag) = shop.book_in(session, shop.barrel, pieces=1).things[0]
        assert thing.piece is not None
        order = InspectionOrder(
            thing, readings=(), tests=(LOOK,), decided=Condition.UNSERVICEABLE, scope=None, reason="Cracked"
        )
        inspect(session, order, shop.by())
        assert said(session) == f"Inspected {tag} (1 test): unserviceable, since: Cracked."
        assert story(session, thing, 1) == ["Inspected (1 test): unserviceable, since: Cracked."]


def test_work_out_and_back_is_told_with_its_order_its_report_and_what_it_became(shop: Shop) -> None:
    with shop.store.writing() as session:
        family = catalogue.add_family(session, "BB", "Barrels, oversize", shop.by())
        big = catalogue.add_part(session, NewPart(family, "Barrel, oversize", Tracking.PIECE), shop.by())
        add_part_size(session, NewPartSize(big, "0.25 mm oversize"), shop.by())
        barrel = came(session, shop, shop.barrel)
        due = date(2026, 12, 1)
        sent = WorkSent(shop.works, WorkWanted.MACHINING, "Bore", (ToSend(barrel),), due)
        made = send_for_work(session, sent, shop.by())
        words = f"to At Brackwater for machining on order {made.number}, due 2026-12-01"
        assert said(session) == f"Sent {tag_in(session, barrel)} {words}."
        assert story(session, barrel, 1) == [f"Sent {words}."]
        (order,) = work_orders(session)
        line = BackLine(
            order.lines[0].work_line,
            shop.bench,
            "BP 9",
            identity=NewIdentity(0, big, "Scheme 12", "Bored", "0.25 mm oversize"),
            resets=LifeResetOrder("BP 9"),
        )
        back_from_work(session, WorkBack(made.order, (line,)), shop.by())
        assert story(session, barrel, 1)[0].startswith("Back from work, by BP 9; now BB")
        assert "(0.25 mm oversize); its life since overhaul begins anew" in said(session)
        reidentify(session, NewIdentity(barrel.piece or 0, shop.barrel, "Scheme 14", "Plated"), shop.by())
        assert said(session).endswith("Cylinder barrel by Scheme 14.")
        assert "Re-identified, BB" in story(session, barrel, 1)[0]


def test_what_is_matched_and_what_is_scrapped_say_why(shop: Shop) -> None:
    with shop.store.writing() as session:
        one, other = came(session, shop, shop.barrel), came(session, shop, shop.barrel)
        tags = [tag_in(session, each) for each in (one, other)]
        pair = NewMatch(MatchedAs.SET, "pair 4", "lapped together", (one.piece or 0, other.piece or 0))
        made = match_pieces(session, pair, shop.by())
        assert said(session) == f"Recorded {tags[0]} and {tags[1]} as matched set, lapped together."
        end_match(session, made, "one was lost", shop.by())
        assert said(session) == "Ended the matched set pair 4: one was lost."
        match_pieces(session, replace(pair, name=""), shop.by())
        scrap(session, ScrapOrder(one, "Cracked", Unusable.SAWN, shop.scrap), shop.by())
        assert said(session) == f"Scrapped {tags[0]}, sawn through: Cracked."
        assert story(session, one, 1) == ["Scrapped, sawn through: Cracked."]
    assert state_of(shop, one).scope is None
    assert state_of(shop, other).scope is Scope.FLIGHT
