"""A kit from the proposal to the last piece back on its shelf; and who has it when two want the same."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts.accept import Acceptance, accept, set_condition
from invdb.acts.by import begin_draft
from invdb.acts.catalogue import NewPart, NewStandIn
from invdb.acts.goods_in import GoodsIn, NewBatch, NewPiece, ReceivingChecks, receive
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper
from invdb.acts.pick_list import pick_list_of_proposal, pick_list_of_pulls, pull_lines, pulls
from invdb.acts.propose import propose
from invdb.acts.proposed import Asked, KitLineProposal, KitProposal, Proposal
from invdb.acts.pull import GiveBack, cancel, give_back, issue, order_of, reserve
from invdb.acts.reverse import reverse
from invdb.acts.shop import NewEngineType, add_agreement, add_engine_type, draft_engine_mod
from invdb.acts.split import Share, split
from invdb.acts.things import things_by_id
from invdb.records.engines import Position
from invdb.records.ledger import Entry
from invdb.records.posting import post
from invdb.records.stock import Batch
from invdb.terms import (
    Condition,
    EntryKind,
    HoursKnown,
    Layout,
    Origin,
    PaperKind,
    PriorLife,
    PullState,
    Refused,
    ReturnedAs,
    Scope,
    Tracking,
)
from tests.shop import TODAY, Shop

CHECKS = ReceivingChecks("yes", "match", "none", "sealed")
PAPER = NewPaper(PaperKind.RELEASE_CERTIFICATE, "RC 1")


def good(
    session: Session, shop: Shop, part: int, *, quantity: int = 0, scope: Scope = Scope.FLIGHT, **more: object
) -> Thing:
    """A piece, or a batch, of a part, accepted and lying in a bin."""
    goods = GoodsIn(
        Origin.NEW,
        shop.bin_a,
        part=part,
        pieces=() if quantity else (NewPiece(),),
        batch=NewBatch(quantity) if quantity else None,
        papers=(PAPER,),
    )
    thing = receive(session, replace(goods, **more), shop.by()).things[0][0]  # type: ignore[arg-type]
    accept(session, Acceptance((thing,), scope, CHECKS), shop.by())
    return thing


def cylinder(session: Session, name: str) -> int:
    found = session.scalar(select(Position.id).where(Position.name == name))
    assert found is not None
    return found


def stocked(shop: Shop) -> dict[str, Thing]:
    """Everything that one cylinder of the small workshop needs."""
    with shop.store.writing() as session:
        return {
            "valve": good(session, shop, shop.valve),
            "springs": good(session, shop, shop.spring, quantity=6),
            "gaskets": good(
                session, shop, shop.gasket, quantity=3, shelf_expiry_on=TODAY + timedelta(days=400)
            ),
        }


def proposed(shop: Shop, *names: str, engine: int | None = None) -> Proposal:
    with shop.store.reading() as session:
        asked = tuple(Asked(engine or shop.engine, cylinder(session, name)) for name in names)
        return propose(session, asked)


def proposed_in(session: Session, shop: Shop, name: str) -> KitProposal:
    return propose(session, (Asked(shop.engine, cylinder(session, name)),)).kits[0]


def line_of(proposal: Proposal, station: str, kit: int = 0) -> KitLineProposal:
    return next(line for line in proposal.kits[kit].lines if line.station == station)


def test_a_whole_kit_is_proposed_reserved_issued_and_counted(shop: Shop) -> None:
    things = stocked(shop)
    proposal = proposed(shop, "5")
    (kit,) = proposal.kits
    assert (kit.complete, kit.state, proposal.proven) == (True, "complete", True)
    assert [choice.thing for line in kit.lines for choice in line.choices] == list(things.values())
    with shop.store.writing() as session:
        (made,) = reserve(session, (order_of(kit),), shop.by())
    with shop.store.reading() as session:
        states = things_by_id(session, things.values())
        assert states[things["springs"]].where[0].reserved == 2
        assert states[things["valve"]].reserved_for == (made.number,)
        (summary,) = pulls(session)
        assert (summary.state, summary.lines, summary.short) == (PullState.RESERVED, 3, 0)
        sheet = pick_list_of_pulls(session, [made.pull])
        assert [row.tag for row in sheet.rows] == sorted(row.tag for row in sheet.rows)
        assert sheet.pulls[0].position == "cylinder 5"
    with shop.store.writing() as session:
        issue(session, made.pull, shop.by())
    with shop.store.reading() as session:
        assert pulls(session)[0].state is PullState.ISSUED
        after = things_by_id(session, things.values())
        assert {where.name: where.quantity for where in after[things["springs"]].where} == {
            "A-01-01": 4,
            f"Pull {made.number}": 2,
        }
        assert after[things["valve"]].where[0].name == f"Pull {made.number}"


def test_what_a_pull_holds_is_not_asked_for_again(shop: Shop) -> None:
    stocked(shop)
    with shop.store.writing() as session:
        reserve(session, (order_of(proposed(shop, "5").kits[0]),), shop.by())
    again = proposed(shop, "5").kits[0]
    assert again.state == "reserved"
    assert all(line.held and not line.choices for line in again.lines)
    with pytest.raises(Refused, match="nothing to reserve"), shop.store.writing() as session:
        reserve(session, (order_of(again),), shop.by())


def test_the_second_of_two_is_told_who_has_it(shop: Shop) -> None:
    stocked(shop)
    first, second = proposed(shop, "5"), proposed(shop, "6")
    with shop.store.writing() as session:
        (made,) = reserve(session, (order_of(first.kits[0]),), replace(shop.by(), person=shop.keeper))
    taken = f"reserved for pull {made.number} by Ben Hollis"
    with pytest.raises(Refused, match=taken), shop.store.writing() as session:
        reserve(session, (order_of(second.kits[0]),), shop.by())
    with shop.store.reading() as session:
        assert len(pulls(session)) == 1


def test_two_who_ask_for_one_cylinder_do_not_fill_it_twice(shop: Shop) -> None:
    with shop.store.writing() as session:
        good(session, shop, shop.spring, quantity=20)
    first, second = proposed(shop, "5"), proposed(shop, "5")
    with shop.store.writing() as session:
        (made,) = reserve(session, (order_of(first.kits[0]),), shop.by())
    with pytest.raises(Refused, match=f"what pull {made.number} has"), shop.store.writing() as session:
        reserve(session, (order_of(second.kits[0]),), shop.by())
    order = order_of(proposed(shop, "6").kits[0])
    with pytest.raises(Refused, match="asked for twice"), shop.store.writing() as session:
        reserve(session, (order, order), shop.by())
    greedy = replace(order, takes=(replace(order.takes[0], quantity=3),))
    with pytest.raises(Refused, match="more than its kit line asks for"), shop.store.writing() as session:
        reserve(session, (greedy,), shop.by())


def test_what_no_longer_may_stand_in_is_not_issued(shop: Shop) -> None:
    with shop.store.writing() as session:
        plain = catalogue.add_part(session, NewPart(1, "Exhaust valve, plain", Tracking.PIECE), shop.by())
        catalogue.add_stand_in(session, NewStandIn(shop.valve, ((plain, 1),), "leaflet 31"), shop.by())
        allowed = session.scalars(select(Entry.number).order_by(Entry.number.desc())).first()
        good(session, shop, plain)
    with shop.store.writing() as session:
        (made,) = reserve(session, (order_of(proposed(shop, "5").kits[0]),), shop.by())
        assert allowed is not None
        reverse(session, allowed, "leaflet withdrawn", shop.by())
    with pytest.raises(Refused, match="may no longer stand in"), shop.store.writing() as session:
        issue(session, made.pull, shop.by())


def test_no_more_comes_back_on_a_line_than_went_out_on_it(shop: Shop) -> None:
    stocked(shop)
    with shop.store.writing() as session:
        (made,) = reserve(session, (order_of(proposed(shop, "5").kits[0]),), shop.by())
        issue(session, made.pull, shop.by())
        springs = pull_lines(session, made.pull)[1].pull_line
    back = GiveBack(springs, 1, ReturnedAs.UNTOUCHED, shop.bin_a)
    with pytest.raises(Refused, match="^None of B.* is out on pull"), shop.store.writing() as session:
        give_back(session, made.pull, (back, back, back), shop.by())
    with pytest.raises(Refused, match="no such line"), shop.store.writing() as session:
        give_back(session, made.pull, (replace(back, pull_line=999),), shop.by())


def test_a_short_line_names_the_nearest_misses_and_what_bars_each(shop: Shop) -> None:
    with shop.store.writing() as session:
        held = good(session, shop, shop.valve)
        raise_hold(session, (Subject(piece=held.piece),), "odd mark on the stem", shop.by())
        caged = good(session, shop, shop.valve)
        move(session, (Shift(caged),), shop.quarantine, shop.by())
        ground = good(session, shop, shop.valve, scope=Scope.GROUND_RUNNING)
        good(session, shop, shop.valve, owner=shop.customer)
        out = good(session, shop, shop.valve, note="due 2026-05-01")
        move(session, (Shift(out),), shop.works, shop.by())
    (kit,) = proposed(shop, "5").kits
    line = kit.lines[0]
    assert (line.state, line.missing, kit.state) == ("short", 1, "short")
    said = {bar for miss in line.misses for bar in miss.bars}
    assert said == {
        "on hold: odd mark on the stem",
        "in quarantine",
        "accepted for ground running only",
        "belongs to Dunmere Gliding Club, with no agreement for this engine",
        "out for work at Brackwater Plating (due 2026-05-01)",
    }
    assert ground in [
        choice.thing for choice in proposed(shop, "5", engine=shop.engine_two).kits[0].lines[0].choices
    ]


def test_a_customers_piece_goes_in_only_with_an_agreement(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = good(session, shop, shop.valve, owner=shop.customer)
    assert line_of(proposed(shop, "5"), "exhaust valve").missing == 1
    with shop.store.writing() as session:
        add_agreement(
            session, shop.customer, shop.workshop, TODAY, "may be used", shop.by(), engine=shop.engine
        )
    assert line_of(proposed(shop, "5"), "exhaust valve").choices[0].thing == thing


def test_renewed_always_takes_unused_stock_only(shop: Shop) -> None:
    later = TODAY + timedelta(days=90)
    with shop.store.writing() as session:
        good(session, shop, shop.gasket, quantity=3, used=True, shelf_expiry_on=later)
    line = line_of(proposed(shop, "5"), "head joint")
    assert line.missing == 1
    assert line.misses[0].bars == ("used, and this line is always renewed",)


def test_the_preferred_part_goes_before_its_stand_in_and_a_set_counts_whole(shop: Shop) -> None:
    with shop.store.writing() as session:
        by = shop.by()
        plain = catalogue.add_part(session, NewPart(1, "Exhaust valve, plain", Tracking.PIECE), by)
        stem = catalogue.add_part(session, NewPart(1, "Valve stem", Tracking.PIECE), by)
        head = catalogue.add_part(session, NewPart(1, "Valve head", Tracking.PIECE), by)
        catalogue.add_stand_in(session, NewStandIn(shop.valve, ((plain, 1),), "leaflet 31"), by)
        catalogue.add_stand_in(session, NewStandIn(plain, ((stem, 1), (head, 1)), "leaflet 32"), by)
        with pytest.raises(Refused, match="ring"):
            catalogue.add_stand_in(session, NewStandIn(head, ((shop.valve, 1),), "nobody"), by)
        good(session, shop, stem)
    assert line_of(proposed(shop, "5"), "exhaust valve").missing == 1, "half a set is no valve"
    with shop.store.writing() as session:
        good(session, shop, head)
    line = line_of(proposed(shop, "5"), "exhaust valve")
    assert [choice.part for choice in line.choices] == [stem, head]
    assert line.choices[0].authority == "leaflet 31; then leaflet 32"
    with shop.store.writing() as session:
        one_for_one = good(session, shop, plain)
    assert line_of(proposed(shop, "5"), "exhaust valve").choices[0].thing == one_for_one
    with shop.store.writing() as session:
        itself = good(session, shop, shop.valve)
    line = line_of(proposed(shop, "5"), "exhaust valve")
    assert (line.choices[0].thing, line.choices[0].authority, line.state) == (itself, "", "complete")


def test_several_kits_at_once_serve_the_engine_that_comes_first(shop: Shop) -> None:
    stocked(shop)
    with shop.store.reading() as session:
        five = cylinder(session, "5")
        both = propose(session, (Asked(shop.engine_two, five), Asked(shop.engine, five)))
    assert [kit.complete for kit in both.kits] == [False, True]
    with pytest.raises(Refused, match="twice"):
        proposed(shop, "5", "5")


def test_life_unknown_bars_flight_and_not_the_stand(shop: Shop) -> None:
    piece = NewPiece(prior_hours=PriorLife(HoursKnown.AT_LEAST, 300_00))
    with shop.store.writing() as session:
        good(session, shop, shop.valve, scope=Scope.GROUND_RUNNING, pieces=(piece,))
    miss = line_of(proposed(shop, "5"), "exhaust valve").misses[0]
    assert set(miss.bars) == {
        "accepted for ground running only",
        "life used is not known against 600.00 h since new",
    }
    assert line_of(proposed(shop, "5", engine=shop.engine_two), "exhaust valve").missing == 0


def test_issue_in_part_and_what_comes_back_is_good_only_untouched(shop: Shop) -> None:
    things = stocked(shop)
    with shop.store.writing() as session:
        (made,) = reserve(session, (order_of(proposed(shop, "5").kits[0]),), shop.by())
        lines = {line.station: line.pull_line for line in pull_lines(session, made.pull)}
        springs, valve = lines["exhaust springs"], lines["exhaust valve"]
        issue(session, made.pull, shop.by(), {springs: 1})
    with shop.store.reading() as session:
        assert pulls(session)[0].state is PullState.PART_ISSUED
    with pytest.raises(Refused, match="1 off of"), shop.store.writing() as session:
        issue(session, made.pull, shop.by(), {springs: 2})
    with shop.store.writing() as session:
        issue(session, made.pull, shop.by())
        give_back(
            session,
            made.pull,
            (
                GiveBack(springs, 1, ReturnedAs.UNTOUCHED, shop.bin_a),
                GiveBack(valve, 1, ReturnedAs.HANDLED, shop.quarantine, "dropped"),
            ),
            shop.by(),
        )
        give_back(session, made.pull, (GiveBack(springs, 1, ReturnedAs.ALTERED, shop.bin_b),), shop.by())
    with pytest.raises(Refused, match="^None of B.* is out on pull"), shop.store.writing() as session:
        give_back(session, made.pull, (GiveBack(springs, 1, ReturnedAs.UNTOUCHED, shop.bin_a),), shop.by())
    with shop.store.reading() as session:
        states = things_by_id(session, [things["valve"], things["springs"], Thing(batch=3)])
        assert states[things["valve"]].condition is Condition.UNINSPECTED
        assert "dropped" in states[things["valve"]].note
        assert states[things["springs"]].where[0].quantity == 5
        assert (states[Thing(batch=3)].condition, states[Thing(batch=3)].where[0].quantity) == (
            Condition.UNSERVICEABLE,
            1,
        )


def test_what_comes_back_handled_keeps_the_papers_and_the_holds_of_its_batch(shop: Shop) -> None:
    things = stocked(shop)
    with shop.store.writing() as session:
        (made,) = reserve(session, (order_of(proposed(shop, "5").kits[0]),), shop.by())
        issue(session, made.pull, shop.by())
        raise_hold(session, (Subject(batch=things["springs"].batch),), "one broke", shop.by())
        springs = pull_lines(session, made.pull)[1].pull_line
        back = GiveBack(springs, 2, ReturnedAs.HANDLED, shop.quarantine)
        give_back(session, made.pull, (back,), shop.by())
        child = session.scalars(select(Batch.id).order_by(Batch.id.desc())).first()
        state = things_by_id(session, [Thing(batch=child)])[Thing(batch=child)]
    assert (state.papers, state.holds, state.note) == (1, ("one broke",), "came back handled")


def test_what_is_out_on_a_pull_leaves_it_only_by_being_returned(shop: Shop) -> None:
    things = stocked(shop)
    with shop.store.writing() as session:
        (made,) = reserve(session, (order_of(proposed(shop, "5").kits[0]),), shop.by())
        issue(session, made.pull, shop.by())
        place = next(
            where.place
            for where in things_by_id(session, [things["springs"]])[things["springs"]].where
            if where.kind == "pull"
        )
    springs = things["springs"].batch
    assert springs is not None
    said = "isn't moved from there by hand"
    with pytest.raises(Refused, match=said), shop.store.writing() as session:
        ground = Acceptance((things["valve"],), Scope.GROUND_RUNNING, to_place=shop.bin_a)
        accept(session, ground, shop.by())
    with pytest.raises(Refused, match=said), shop.store.writing() as session:
        set_condition(session, (things["valve"],), Condition.UNSERVICEABLE, "bent", shop.by(), shop.bench)
    with pytest.raises(Refused, match=said), shop.store.writing() as session:
        shares = (Share(1, Condition.UNSERVICEABLE, to_place=shop.bench),)
        split(session, springs, place, shares, shop.by())


def test_what_is_reserved_is_not_moved_by_being_accepted_for_less(shop: Shop) -> None:
    things = stocked(shop)
    with shop.store.writing() as session:
        reserve(session, (order_of(proposed(shop, "5").kits[0]),), shop.by())
    for name in ("valve", "springs"):
        with pytest.raises(Refused, match="reserved for pull"), shop.store.writing() as session:
            ground = Acceptance((things[name],), Scope.GROUND_RUNNING, to_place=shop.bin_b)
            accept(session, ground, shop.by())


def test_a_cancelled_pull_lets_go_and_one_with_kit_out_does_not_cancel(shop: Shop) -> None:
    things = stocked(shop)
    with shop.store.writing() as session:
        (made,) = reserve(session, (order_of(proposed(shop, "5").kits[0]),), shop.by())
        springs = pull_lines(session, made.pull)[1].pull_line
        issue(session, made.pull, shop.by(), {springs: 2})
    with pytest.raises(Refused, match="has not come back"), shop.store.writing() as session:
        cancel(session, made.pull, "wrong cylinder", shop.by())
    with shop.store.writing() as session:
        give_back(session, made.pull, (GiveBack(springs, 2, ReturnedAs.UNTOUCHED, shop.bin_a),), shop.by())
        cancel(session, made.pull, "wrong cylinder", shop.by())
    with shop.store.reading() as session:
        assert all(
            not where.reserved
            for state in things_by_id(session, things.values()).values()
            for where in state.where
        )
        assert pulls(session) == ()
    assert proposed(shop, "5").kits[0].state == "complete"
    with pytest.raises(Refused, match="cancelled"), shop.store.writing() as session:
        issue(session, made.pull, shop.by())


def test_a_hold_after_reserving_stops_the_issue_and_not_the_reservation(shop: Shop) -> None:
    things = stocked(shop)
    with shop.store.writing() as session:
        (made,) = reserve(session, (order_of(proposed(shop, "5").kits[0]),), shop.by())
        raise_hold(session, (Subject(piece=things["valve"].piece),), "recalled", shop.by())
    with pytest.raises(Refused, match="on hold: recalled"), shop.store.writing() as session:
        issue(session, made.pull, shop.by())
    with shop.store.writing() as session:
        raise_hold(session, (Subject(engine=shop.engine),), "struck propeller", shop.by())
    with pytest.raises(Refused, match="Linnet One is on hold"), shop.store.writing() as session:
        issue(session, made.pull, shop.by())


def test_a_reserved_piece_moves_within_the_stores_with_its_reservation(shop: Shop) -> None:
    things = stocked(shop)
    with shop.store.writing() as session:
        (made,) = reserve(session, (order_of(proposed(shop, "5").kits[0]),), shop.by())
    with pytest.raises(Refused, match="reserved for pull"), shop.store.writing() as session:
        move(session, (Shift(things["valve"]),), shop.works, shop.by())
    with shop.store.writing() as session:
        move(session, (Shift(things["valve"]),), shop.bin_b, shop.by())
        sheet = pick_list_of_pulls(session, [made.pull])
        assert next(row.bin_name for row in sheet.rows if row.station == "exhaust valve") == "A-01-02"
        issue(session, made.pull, shop.by())


def test_reversing_stops_at_the_first_entry_in_the_way(shop: Shop) -> None:
    stocked(shop)
    with shop.store.writing() as session:
        (made,) = reserve(session, (order_of(proposed(shop, "5").kits[0]),), shop.by())
        reserved = session.scalars(select(Entry.number).order_by(Entry.number.desc())).first()
        issued = issue(session, made.pull, shop.by())
    assert reserved is not None
    with pytest.raises(Refused, match=str(issued)), shop.store.writing() as session:
        reverse(session, reserved, "wrong kit", shop.by())
    with pytest.raises(Refused, match=str(reserved)), shop.store.writing() as session:
        reverse(session, 27, "not accepted at all", shop.by())
    with shop.store.writing() as session:
        reverse(session, issued, "never left the shelf", shop.by())
        reverse(session, reserved, "wrong kit", shop.by())
    with shop.store.reading() as session:
        assert pulls(session, only_open=False) == ()
    assert proposed(shop, "5").kits[0].state == "complete"


def test_a_proposal_prints_with_its_shortages_before_anything_is_reserved(shop: Shop) -> None:
    stocked(shop)
    both = proposed(shop, "5", "6")
    with shop.store.reading() as session:
        sheet = pick_list_of_proposal(session, both, shop.keeper)
    assert [pull.asked_by for pull in sheet.pulls] == ["Ben Hollis", "Ben Hollis"]
    assert [(row.station, row.quantity_missing) for row in sheet.short_rows] == [("exhaust valve", 1)]
    assert sheet.short_rows[0].near_misses[0].bar == "chosen for another line of this proposal"


def test_a_pick_list_keeps_each_near_miss_whole_whatever_its_hold_says(shop: Shop) -> None:
    with shop.store.writing() as session:
        good(session, shop, shop.spring, quantity=2)
        held = good(session, shop, shop.valve)
        raise_hold(session, (Subject(piece=held.piece),), "odd mark; ask the maker", shop.by())
        good(session, shop, shop.valve, owner=shop.customer)
        (made,) = reserve(session, (order_of(proposed_in(session, shop, "5")),), shop.by())
        sheet = pick_list_of_pulls(session, [made.pull])
    valves, gaskets = sheet.short_rows
    assert sorted(miss.bar for miss in valves.near_misses) == [
        "belongs to Dunmere Gliding Club, with no agreement for this engine",
        "on hold: odd mark; ask the maker",
    ]
    assert gaskets.near_misses == ()


def test_a_near_miss_says_for_whom_it_is_reserved_or_issued(shop: Shop) -> None:
    stocked(shop)
    with shop.store.writing() as session:
        by = replace(shop.by(), person=shop.keeper)
        (made,) = reserve(session, (order_of(proposed(shop, "5").kits[0]),), by)
    whom = f"{made.number} (Linnet One cylinder 5, Ben Hollis)"
    assert line_of(proposed(shop, "6"), "exhaust valve").misses[0].bars == (f"reserved for pull {whom}",)
    with shop.store.writing() as session:
        issue(session, made.pull, shop.by())
    assert line_of(proposed(shop, "6"), "exhaust valve").misses[0].bars == (f"issued for pull {whom}",)


def test_two_engine_types_may_share_a_mod_code_and_are_not_taken_for_one_another(shop: Shop) -> None:
    with shop.store.writing() as session:
        by = shop.by()
        other = add_engine_type(session, NewEngineType("Dabchick", Layout.IN_LINE), by)
        draft = begin_draft(session, EntryKind.CATALOGUE, by)
        ours = catalogue.draft_mod(session, draft, shop.linnet, "14", "needle bearing")
        theirs = catalogue.draft_mod(session, draft, other, "14", "longer stud")
        draft_engine_mod(session, draft, shop.engine, ours)
        post(session, draft)
        plain = catalogue.add_part(session, NewPart(1, "Exhaust valve, plain", Tracking.PIECE), by)
        only_theirs = catalogue.Holds(mod=theirs, mod_embodied=True)
        catalogue.add_stand_in(
            session, NewStandIn(shop.valve, ((plain, 1),), "leaflet 9", holds=only_theirs), by
        )
        good(session, shop, plain)
    line = line_of(proposed(shop, "5"), "exhaust valve")
    assert line.missing == 1
    assert line.misses[0].bars == ("unsuited: only with mod 14 of Dabchick embodied",)
