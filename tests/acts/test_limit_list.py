"""What is read of limits, overhauls, holds and issues, to be shown and withdrawn."""

from __future__ import annotations

from datetime import timedelta

import pytest

from invdb.acts.directive import NewDirective, add_directive
from invdb.acts.directive_issue import standing_issue
from invdb.acts.hold import Subject, clear_hold, holds_on_engine, raise_hold
from invdb.acts.life_limit import NewLifeLimit, add_life_limit, withdraw_life_limit
from invdb.acts.life_reset import LifeResetOrder, reset_life, withdraw_life_reset
from invdb.acts.limit_list import limits_on
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.reset_list import resets_of_engine
from invdb.acts.shop import NewEngineType, add_engine_type
from invdb.terms import Layout, LifeMeasure, LifeSince, PaperKind, Refused
from tests.engine_shop import begin
from tests.shop import TODAY, Shop

YESTERDAY = TODAY - timedelta(days=1)


def test_limits_that_may_hold_in_an_engine_come_with_its_own_first(shop: Shop) -> None:
    with shop.store.writing() as session:
        other = add_engine_type(session, NewEngineType("Dabchick", Layout.IN_LINE), shop.by())
        own = NewLifeLimit(
            LifeMeasure.HOURS, 400_00, engine_type=shop.linnet, since=LifeSince.OVERHAUL, source="leaflet 1"
        )
        made = add_life_limit(session, own, shop.by(YESTERDAY))
        limit = NewLifeLimit(LifeMeasure.STARTS, 900, part=shop.barrel, source="leaflet 2")
        add_life_limit(session, limit, shop.by())
        elsewhere = NewLifeLimit(
            LifeMeasure.STARTS, 800, part=shop.barrel, engine_type=other, source="leaflet 3"
        )
        add_life_limit(session, elsewhere, shop.by())
    with shop.store.reading() as session:
        first, *parts = limits_on(session, shop.engine)
    assert (first.part, first.limit.key, first.words) == (
        None,
        made,
        "400.00 h since overhaul, for the Linnet",
    )
    kept_with_it = [each for each in parts if each.limit.key is None]
    assert [each.part for each in kept_with_it] == [shop.valve], "the limit that the part itself has"
    assert [each.words for each in parts if each.part == shop.barrel] == ["900 starts since new"]
    assert parts[0].part == shop.valve, "what the kit list of its type asks for comes first"
    with shop.store.writing() as session:
        withdraw_life_limit(session, made, "superseded", shop.by())
    with shop.store.reading() as session:
        assert all(each.part is not None for each in limits_on(session, shop.engine))
        assert limits_on(session, shop.engine, YESTERDAY)[0].limit.key == made
        with pytest.raises(Refused):
            limits_on(session, 999)


def test_the_overhauls_of_an_engine_are_listed_until_they_are_withdrawn(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        order = LifeResetOrder("Report 4", engine=shop.engine, resets_starts=False)
        made = reset_life(session, order, shop.by(YESTERDAY))
    with shop.store.reading() as session:
        (reset,) = resets_of_engine(session, shop.engine)
        assert resets_of_engine(session, shop.engine, YESTERDAY - timedelta(days=1)) == ()
        assert resets_of_engine(session, shop.engine_two) == ()
    assert (reset.reset, reset.on, reset.overhauled_on) == (made, YESTERDAY, YESTERDAY)
    assert reset.began_anew == (LifeMeasure.HOURS, LifeMeasure.MONTHS)
    with shop.store.writing() as session:
        withdraw_life_reset(session, made, "another engine was meant", shop.by())
        assert resets_of_engine(session, shop.engine) == ()
        assert resets_of_engine(session, shop.engine, YESTERDAY) == (reset,)


def test_holds_on_an_engine_itself_are_listed_until_they_are_cleared(shop: Shop) -> None:
    with shop.store.writing() as session:
        (hold,) = raise_hold(session, (Subject(engine=shop.engine),), "runs rough", shop.by())
        raise_hold(session, (Subject(part=shop.valve),), "porous", shop.by())
        (listed,) = holds_on_engine(session, shop.engine)
        assert (listed.id, listed.reason, listed.on_part) == (hold, "runs rough", False)
        clear_hold(session, hold, "a plug lead", shop.by())
        assert holds_on_engine(session, shop.engine) == ()


def test_a_directive_is_read_as_it_was_issued(shop: Shop) -> None:
    with shop.store.writing() as session:
        batch = shop.batch(session)
        document = add_paper(session, NewPaper(PaperKind.STATEMENT, "AL 9"), shop.by())
        new = NewDirective(
            "D 7",
            "springs",
            "look at the coils",
            TODAY,
            issue="2",
            engine_type=shop.linnet,
            serial_from="L1000",
            batch=batch,
            within_hours=12_50,
            every_months=6,
            document=document,
        )
        issue = standing_issue(session, add_directive(session, new, shop.by()))
    assert (issue.issued, issue.words) == (new, "D 7 issue 2")
    assert (issue.engine_type_name, issue.part_number) == ("Linnet", "")
    assert issue.batch_tag.startswith("B") and issue.document_words == "statement AL 9"
    with shop.store.reading() as session, pytest.raises(Refused):
        standing_issue(session, 999)
