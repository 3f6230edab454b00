"""Rebored, plated back, repaired to a suffix: the same piece under the same tag, and another part."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts.as_fitted import as_fitted
from invdb.acts.believed import When
from invdb.acts.catalogue import NewPart
from invdb.acts.life import life_of
from invdb.acts.matched import NewMatch, end_match, match_pieces, matched_with
from invdb.acts.part_size import NewPartSize, add_part_size
from invdb.acts.part_then import part_on, parts_then
from invdb.acts.reidentify import NewIdentity, reidentify
from invdb.acts.reverse import reverse
from invdb.acts.things import things_by_id
from invdb.records.ledger import Entry
from invdb.terms import Condition, FieldRefused, MatchedAs, Refused, Tracking
from tests.engine_shop import LONG_AGO, begin, came, fitted, last_entry, note_of, sound, stripped
from tests.fitted_shop import add_barrel_station
from tests.kit_shop import reserved, stock
from tests.shop import TODAY, Shop

DONE = "Bored to 0.25 mm over"
AUTHORITY = "Pellworth repair scheme 12"
SIZE = "0.25 mm oversize"


def oversize(session: Session, shop: Shop, tracking: Tracking = Tracking.PIECE) -> int:
    family = catalogue.add_family(session, "BB", "Barrels, oversize", shop.by())
    part = catalogue.add_part(session, NewPart(family, "Barrel, 0.25 mm oversize", tracking), shop.by())
    add_part_size(session, NewPartSize(part, SIZE), shop.by())
    return part


def test_what_part_a_piece_was_on_any_day_follows_from_the_ledger(shop: Shop) -> None:
    with shop.store.writing() as session:
        barrel = came(session, shop, shop.barrel)
        big, first = barrel.piece or 0, TODAY - timedelta(days=40)
        other = oversize(session, shop)
        identity = NewIdentity(big, other, AUTHORITY, DONE, SIZE, "plain")
        reidentify(session, identity, shop.by(first))
        before = session.scalar(select(Entry.recorded_at).order_by(Entry.number.desc()).limit(1))
        reidentify(
            session,
            NewIdentity(big, shop.barrel, "Repair scheme 14", "Plated back", "", "chromium plated"),
            shop.by(TODAY - timedelta(days=10)),
        )
        days = (LONG_AGO, first - timedelta(days=1), first, TODAY - timedelta(days=11), TODAY)
        assert [part_on(session, big, day) for day in days] == [
            *(shop.barrel, shop.barrel, other, other, shop.barrel)
        ]
        assert parts_then(session, [big]) == {}
        assert parts_then(session, [big], When(TODAY, before))[big].part == other
        state = things_by_id(session, [barrel])[barrel]
        assert (state.size_class, state.finish) == ("", "chromium plated")
        assert (state.condition, state.scope) == (Condition.UNINSPECTED, None)
        reverse(session, last_entry(session), "Another barrel", shop.by())
        assert part_on(session, big, TODAY) == other
    assert sound(shop)


def test_a_size_is_one_that_the_part_is_made_in_and_spelt_as_there(shop: Shop) -> None:
    """Spelt otherwise, the piece would go together with nothing, and nobody would know why."""
    with shop.store.writing() as session:
        thing = came(session, shop, shop.barrel)
        barrel, other = thing.piece or 0, oversize(session, shop)
        for size in ("0.75 mm oversize", "0.250 mm oversize"):
            with pytest.raises(FieldRefused, match=f"no size '{size}'; it is made in: standard size, {SIZE}"):
                reidentify(session, NewIdentity(barrel, other, AUTHORITY, DONE, size), shop.by())
        reidentify(session, NewIdentity(barrel, other, AUTHORITY, DONE, " 0.25 MM oversize"), shop.by())
        assert things_by_id(session, [thing])[thing].size_class == SIZE


def test_its_life_on_a_past_day_is_judged_by_the_part_that_it_was(shop: Shop) -> None:
    with shop.store.writing() as session:
        big = came(session, shop, shop.barrel).piece or 0
        family = catalogue.add_family(session, "BB", "Barrels, oversize", shop.by())
        short = NewPart(family, "Barrel, 0.25 mm oversize", Tracking.PIECE, life_limit_hours=400_00)
        other = catalogue.add_part(session, short, shop.by())
        first = TODAY - timedelta(days=40)
        reidentify(session, NewIdentity(big, other, AUTHORITY, DONE), shop.by(first))
        limits = [
            [line.limit.amount for line in life_of(session, [big], day)[big].stands.lines]
            for day in (first - timedelta(days=1), first, None)
        ]
        assert limits == [[], [400_00], [400_00]]


def test_what_part_it_was_believed_to_be_outlives_the_reversal(shop: Shop) -> None:
    with shop.store.writing() as session:
        big = came(session, shop, shop.barrel).piece or 0
        other = oversize(session, shop)
        reidentify(session, NewIdentity(big, other, AUTHORITY, DONE), shop.by())
        believed = When(TODAY, session.scalar(select(func.max(Entry.recorded_at))))
        reverse(session, last_entry(session), "Another barrel", shop.by())
        assert part_on(session, big, TODAY) == shop.barrel
        (then,) = parts_then(session, [big], believed).values()
        assert (then.part, then.name) == (other, "Barrel, 0.25 mm oversize")
        assert parts_then(session, [big], When(TODAY)) == {}


def test_the_build_of_a_past_day_names_the_part_that_it_was_then(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        add_barrel_station(shop, session)
        barrel = came(session, shop, shop.barrel)
        fitted(session, shop, barrel, "barrel", on=TODAY - timedelta(days=30))
        stripped(session, shop, barrel, on=TODAY - timedelta(days=20))
        identity = NewIdentity(barrel.piece or 0, oversize(session, shop), AUTHORITY, DONE)
        reidentify(session, identity, shop.by(TODAY - timedelta(days=10)))
        build = as_fitted(session, shop.engine, TODAY - timedelta(days=25))
        seated = [
            thing for position in build.positions for each in position.stations for thing in each.filling
        ]
        assert [thing.part for thing in seated] == [shop.barrel]


def test_the_limits_of_life_that_hold_from_then_on_are_said(shop: Shop) -> None:
    with shop.store.writing() as session:
        barrel = came(session, shop, shop.barrel)
        family = catalogue.add_family(session, "BB", "Barrels, oversize", shop.by())
        limited = NewPart(family, "Barrel, thin", Tracking.PIECE, life_limit_hours=600_00)
        thin = catalogue.add_part(session, limited, shop.by())
        reidentify(session, NewIdentity(barrel.piece or 0, thin, AUTHORITY, DONE), shop.by())
        number = last_entry(session)
        back = NewIdentity(barrel.piece or 0, shop.barrel, AUTHORITY, "Plated back")
        reidentify(session, back, shop.by())
    assert "holds from now on: 600.00 h since new" in note_of(shop, number)
    assert "what held before holds no more" in note_of(shop, number + 1)


def test_its_mates_are_free_once_it_is_another(shop: Shop) -> None:
    with shop.store.writing() as session:
        barrel, valve = (came(session, shop, part).piece or 0 for part in (shop.barrel, shop.valve))
        match_pieces(
            session, NewMatch(MatchedAs.MATES, "cylinder 3", "ran together", (barrel, valve)), shop.by()
        )
        reidentify(session, NewIdentity(barrel, oversize(session, shop), AUTHORITY, DONE), shop.by())
        assert matched_with(session, [barrel, valve]) == {}


def test_what_is_not_free_or_not_a_piece_becomes_nothing_else(shop: Shop) -> None:
    valve = stock(shop)["valves"][0]
    reserved(shop, "1")
    with shop.store.writing() as session:
        barrel = came(session, shop, shop.barrel).piece or 0
        other = oversize(session, shop)
        identity = NewIdentity(barrel, other, AUTHORITY, DONE)
        with pytest.raises(Refused, match="reserved"):
            reidentify(session, replace(identity, piece=valve.piece or 0), shop.by())
        for changed, field in (
            ({"part": shop.spring}, "part"),
            ({"part": 999}, "part"),
            ({"part": shop.barrel}, "part"),
            ({"authority": " "}, "authority"),
            ({"what_was_done": ""}, "what_was_done"),
            ({"document": 99}, "document"),
        ):
            with pytest.raises(FieldRefused) as refused:
                reidentify(session, replace(identity, **changed), shop.by())
            assert refused.value.field == field
        with pytest.raises(FieldRefused, match="came on"):
            reidentify(session, identity, shop.by(LONG_AGO - timedelta(days=1)))


def test_one_piece_is_in_one_matched_set_and_in_any_number_of_mates(shop: Shop) -> None:
    with shop.store.writing() as session:
        a, b, c = (came(session, shop, shop.barrel).piece or 0 for _ in range(3))
        first = match_pieces(session, NewMatch(MatchedAs.SET, "rod 41", "line-bored", (a, b)), shop.by())
        match_pieces(session, NewMatch(MatchedAs.MATES, "", "ran together", (a, c)), shop.by())
        with pytest.raises(FieldRefused, match="matched with"):
            match_pieces(session, NewMatch(MatchedAs.SET, "", "lapped", (a, c)), shop.by())
        for pieces, why, said in (
            ((a,), "x", "two pieces"),
            ((a, a), "x", "two pieces"),
            ((b, c), " ", "why"),
        ):
            with pytest.raises(FieldRefused, match=said):
                match_pieces(session, NewMatch(MatchedAs.MATES, "", why, pieces), shop.by())
        with pytest.raises(FieldRefused, match="why the set ends"):
            end_match(session, first, " ", shop.by())
        end_match(session, first, "rod scrapped", shop.by())
        assert b not in matched_with(session, [a, b, c])
        with pytest.raises(Refused, match="ended on"):
            end_match(session, first, "again", shop.by())
        with pytest.raises(Refused, match="no such"):
            end_match(session, 99, "again", shop.by())
    assert sound(shop)
