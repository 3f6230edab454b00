"""Mods embodied and removed on an engine: from which day, what follows, and what it would need."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts import catalogue
from invdb.acts.as_fitted import as_fitted
from invdb.acts.catalogue import Holds, NewKitLine, NewPart, NewStandIn
from invdb.acts.check import check_session
from invdb.acts.kit_facts import Catalogue, PositionFacts, read_engine
from invdb.acts.mod_outlook import mod_outlook
from invdb.acts.mods import embody, mods_on, remove
from invdb.acts.numbers import Thing
from invdb.acts.reverse import reverse
from invdb.acts.shop import NewEngineType, add_engine_type, draft_engine_mod
from invdb.records.engines import EngineMod
from invdb.records.ledger import LedgerHead
from invdb.records.posting import post
from invdb.rules.mod_outlook import ModOutlook, outlook_words
from invdb.terms import EntryKind, FieldRefused, Layout, Refused, Tracking
from tests.fitted_shop import Bench, add_mod
from tests.kit_shop import AUTHORITY, good
from tests.shop import BEGUN_ON, TODAY, Shop

MONDAY = date(2026, 2, 16)
TUESDAY, WEDNESDAY = MONDAY + timedelta(days=1), MONDAY + timedelta(days=2)


@dataclass(frozen=True)
class Rockers(Bench):
    """A workshop whose mod PN 14 wants a stronger rocker in every cylinder and an inner spring in two."""

    mod: int
    rocker: int
    stronger: int
    inner: int
    line_plain: int
    line_stronger: int

    def embodied(self, on: date | None = None, believed_at: datetime | None = None) -> bool:
        (state,) = mods_on(self.session, self.shop.engine, on or TODAY, believed_at)
        return state.embodied

    def outlook(self, embodied: bool = True) -> ModOutlook:
        return mod_outlook(self.session, self.shop.engine, self.mod, embodied)

    def rocker_fitted(self, cylinder: str, part: int | None = None) -> Thing:
        thing = good(self.session, self.shop, part or self.rocker)
        self.fit(thing, cylinder, "rocker")
        return thing


@contextmanager
def rockers(shop: Shop) -> Iterator[Rockers]:
    with shop.store.writing() as session:
        by = shop.by(BEGUN_ON)
        draft = shop.draft(BEGUN_ON, EntryKind.ENGINES)
        draft.new(
            session,
            "station",
            engine_type_id=shop.linnet,
            group_name="cylinder",
            name="rocker",
            sequence=5,
            x_thousandths=0,
            y_thousandths=0,
        )
        post(session, draft)
        mod = add_mod(shop, session, "PN 14")
        family = catalogue.add_family(session, "RK", "Rockers", by)
        plain, stronger = (
            catalogue.add_part(session, NewPart(family, name, Tracking.PIECE), by)
            for name in ("Rocker", "Rocker, stronger")
        )
        inner = catalogue.add_part(session, NewPart(family, "Inner spring", Tracking.BATCH), by)

        def line(sequence: int, station: str, part: int, holds: Holds, quantity: int = 1) -> int:
            new = NewKitLine(shop.linnet, "cylinder", sequence, station, part, quantity, holds=holds)
            return catalogue.add_kit_line(session, new, by)

        line_plain = line(5, "rocker", plain, Holds(mod=mod, mod_embodied=False))
        line_stronger = line(6, "rocker", stronger, Holds(mod=mod, mod_embodied=True))
        line(7, "exhaust springs", inner, Holds("2, 3", mod=mod, mod_embodied=True), 2)
        yield Rockers(shop, session, mod, plain, stronger, inner, line_plain, line_stronger)


def lines_held(bench: Rockers, on: date) -> list[int]:
    """The lines of cylinder 1's rocker that hold on a day."""
    engine = read_engine(bench.session, bench.shop.engine, on)
    position = PositionFacts(bench.position("1"), "cylinder", "1")
    lines = Catalogue(bench.session, [engine.engine_type]).lines_for(engine, position)
    return [line.id for line in lines if line.station == "rocker"]


def last_instant(session: Session) -> datetime:
    instant = session.scalars(select(LedgerHead.recorded_at)).one()
    assert instant is not None
    return instant


def test_a_mod_is_embodied_from_its_day_on_and_the_kit_list_follows(shop: Shop) -> None:
    with rockers(shop) as bench:
        number = embody(bench.session, shop.engine, bench.mod, shop.by(TUESDAY))
        assert [bench.embodied(day) for day in (MONDAY, TUESDAY, TODAY)] == [False, True, True]
        (state,) = mods_on(bench.session, shop.engine, TODAY)
        assert (state.code, state.name, state.since_on, state.entry) == (
            "PN 14",
            "Mod PN 14",
            TUESDAY,
            number,
        )
        (other,) = mods_on(bench.session, shop.engine_two, TODAY)
        assert (other.embodied, other.since_on, other.entry) == (False, None, None)
        assert lines_held(bench, MONDAY) == [bench.line_plain]
        assert lines_held(bench, TUESDAY) == [bench.line_stronger]


def test_a_mod_removed_and_embodied_again_keeps_its_history(shop: Shop) -> None:
    with rockers(shop) as bench:
        session = bench.session
        embody(session, shop.engine, bench.mod, shop.by(MONDAY))
        remove(session, shop.engine, bench.mod, shop.by(TUESDAY))
        before = last_instant(session)
        embody(session, shop.engine, bench.mod, shop.by(WEDNESDAY))
        assert [bench.embodied(day) for day in (MONDAY, TUESDAY, WEDNESDAY)] == [True, False, True]
        assert not bench.embodied(WEDNESDAY, before)
        assert lines_held(bench, TUESDAY) == [bench.line_plain]
        assert len(session.scalars(select(EngineMod.id)).all()) == 1
        assert check_session(session).differences == ()


def test_a_mod_reversed_was_believed_embodied_before(shop: Shop) -> None:
    with rockers(shop) as bench:
        number = embody(bench.session, shop.engine, bench.mod, shop.by(MONDAY))
        before = last_instant(bench.session)
        reverse(bench.session, number, "it was Linnet Two", shop.by())
        assert not bench.embodied(MONDAY)
        assert bench.embodied(MONDAY, before)
        assert as_fitted(bench.session, shop.engine, MONDAY, before).mods == {"PN 14"}
        embody(bench.session, shop.engine, bench.mod, shop.by(WEDNESDAY))
        assert not bench.embodied(TUESDAY) and bench.embodied(WEDNESDAY)


def test_a_mod_recorded_later_as_embodied_long_before_holds_from_then(shop: Shop) -> None:
    with rockers(shop) as bench:
        draft = shop.draft(TUESDAY, EntryKind.ENGINES)
        draft_engine_mod(bench.session, draft, shop.engine, bench.mod, MONDAY)
        draft_engine_mod(bench.session, draft, shop.engine_two, bench.mod)
        post(bench.session, draft)
        assert [bench.embodied(day) for day in (MONDAY - timedelta(days=1), MONDAY)] == [False, True]
        assert mods_on(bench.session, shop.engine_two, date(1935, 1, 1))[0].embodied


def test_a_mod_that_stands_so_already_is_refused(shop: Shop) -> None:
    with rockers(shop) as bench:
        session = bench.session
        with pytest.raises(FieldRefused, match=r"Mod PN 14 is not embodied on Linnet One\."):
            remove(session, shop.engine, bench.mod, shop.by())
        number = embody(session, shop.engine, bench.mod, shop.by(MONDAY))
        with pytest.raises(FieldRefused, match=rf"already, since 2026-02-16 \(entry {number}\)"):
            embody(session, shop.engine, bench.mod, shop.by())
        with pytest.raises(FieldRefused, match="already"):
            bench.outlook()
        removed = remove(session, shop.engine, bench.mod, shop.by(TUESDAY))
        with pytest.raises(FieldRefused, match=rf"not embodied .* since entry {removed} of 2026-02-17"):
            remove(session, shop.engine, bench.mod, shop.by())
        with pytest.raises(FieldRefused, match="not embodied"):
            bench.outlook(embodied=False)


def test_a_day_before_another_change_is_refused_and_names_its_entry(shop: Shop) -> None:
    with rockers(shop) as bench:
        session = bench.session
        number = embody(session, shop.engine, bench.mod, shop.by(TUESDAY))
        with pytest.raises(FieldRefused, match=f"Entry {number} stands in the way") as refused:
            embody(session, shop.engine, bench.mod, shop.by(MONDAY))
        assert refused.value.field == "happened_on"
        removed = remove(session, shop.engine, bench.mod, shop.by(WEDNESDAY))
        with pytest.raises(FieldRefused, match=f"Entry {removed} stands in the way"):
            remove(session, shop.engine, bench.mod, shop.by(TUESDAY))
        assert [bench.embodied(day) for day in (MONDAY, TUESDAY, WEDNESDAY)] == [False, True, False]


def test_a_mod_of_another_type_or_unknown_is_refused(shop: Shop) -> None:
    with rockers(shop) as bench:
        dabchick = add_engine_type(
            bench.session, NewEngineType("Dabchick", Layout.IN_LINE), shop.by(BEGUN_ON)
        )
        other = add_mod(shop, bench.session, "PN 30", dabchick)
        with pytest.raises(FieldRefused, match="PN 30 is a mod of the Dabchick, and Linnet One is a Linnet"):
            embody(bench.session, shop.engine, other, shop.by())
        with pytest.raises(Refused, match="mod is not in the store"):
            embody(bench.session, shop.engine, 999, shop.by())
        with pytest.raises(Refused, match="engine is not in the store"):
            embody(bench.session, 999, bench.mod, shop.by())


def test_what_embodying_would_need_and_make_unfit_is_shown_before_it_is_done(shop: Shop) -> None:
    with rockers(shop) as bench:
        old = bench.rocker_fitted("1")
        bench.rocker_fitted("4", bench.stronger)
        good(bench.session, shop, bench.stronger)
        good(bench.session, shop, bench.inner, quantity=3)
        outlook = bench.outlook()
        assert {(line.at.position_name, line.at.station, line.line.part) for line in outlook.begins} == {
            *((str(cylinder), "rocker", bench.stronger) for cylinder in range(1, 8)),
            ("2", "exhaust springs", bench.inner),
            ("3", "exhaust springs", bench.inner),
        }
        assert {(line.at.position_name, line.line.part) for line in outlook.ends} == {
            (str(cylinder), bench.rocker) for cylinder in range(1, 8)
        }
        get = {part.part: part for part in outlook.parts}
        # The one in cylinder 4 is there already.
        assert (get[bench.stronger].wanted, get[bench.stronger].short) == (6, 5)
        assert (get[bench.inner].wanted, get[bench.inner].short) == (4, 1)
        (unfit,) = outlook.unfit
        assert unfit.thing is not None
        assert (unfit.thing.tag, unfit.at.words) == (bench.tag(old), "cylinder 1, rocker")
        assert unfit.why == "its kit line: not with mod PN 14 embodied"
        assert not bench.embodied(), "it was only looked at"


def test_what_removing_would_need_is_the_other_way_round(shop: Shop) -> None:
    with rockers(shop) as bench:
        embody(bench.session, shop.engine, bench.mod, shop.by(MONDAY))
        new = bench.rocker_fitted("1", bench.stronger)
        outlook = bench.outlook(embodied=False)
        assert {part.part: part.wanted for part in outlook.parts} == {bench.rocker: 7}
        (unfit,) = outlook.unfit
        assert unfit.thing is not None and unfit.thing.tag == bench.tag(new)
        assert unfit.why == "its kit line: only with mod PN 14 embodied"
        assert len(outlook.ends) == 9


def test_what_may_stand_in_counts_and_what_may_not_be_taken_does_not(shop: Shop) -> None:
    with rockers(shop) as bench:
        session, by = bench.session, shop.by(BEGUN_ON)
        forged = catalogue.add_part(session, NewPart(1, "Rocker, forged", Tracking.PIECE), by)
        catalogue.add_stand_in(session, NewStandIn(bench.stronger, ((forged, 1),), AUTHORITY), by)
        good(session, shop, forged)
        shop.book_in(session, bench.stronger, pieces=1)
        (part,) = [part for part in bench.outlook().parts if part.part == bench.stronger]
        own, standing_in = part.ways
        assert (own.units, own.authority) == (0, "")
        assert (standing_in.units, standing_in.authority) == (1, AUTHORITY)
        assert (part.wanted, part.short) == (7, 6)


def test_a_piece_that_stands_in_only_without_the_mod_becomes_unfit(shop: Shop) -> None:
    with rockers(shop) as bench:
        session, by = bench.session, shop.by(BEGUN_ON)
        odd = catalogue.add_part(session, NewPart(1, "Exhaust valve, odd", Tracking.PIECE), by)
        holds = Holds(mod=bench.mod, mod_embodied=False)
        catalogue.add_stand_in(session, NewStandIn(shop.valve, ((odd, 1),), AUTHORITY, holds=holds), by)
        thing = good(session, shop, odd)
        bench.fit(thing, "1", "exhaust valve")
        (unfit,) = bench.outlook().unfit
        assert unfit.thing is not None and unfit.thing.tag == bench.tag(thing)
        number = as_fitted(session, shop.engine).positions[0].stations[0].lines[0].part_number
        assert unfit.why == f"as a stand-in for {number}: not with mod PN 14 embodied"


def test_what_is_only_presumed_is_named_among_the_unfit(shop: Shop) -> None:
    with rockers(shop) as bench:
        draft = shop.draft(MONDAY, EntryKind.BUILD_TAKEN_OVER)
        draft.new(
            bench.session,
            "presumption",
            engine_id=shop.engine,
            position_id=bench.position("2"),
            station_id=bench.station("rocker"),
            kit_line_id=bench.line_plain,
            part_id=bench.rocker,
            quantity=1,
            presumed_on=MONDAY,
        )
        post(bench.session, draft)
        (unfit,) = bench.outlook().unfit
        assert unfit.thing is None and unfit.presumed is not None
        assert unfit.presumed.part == bench.rocker
        words = outlook_words(bench.outlook())
        assert "becomes unfit: cylinder 2, rocker: presumed, unidentified: 1 off" in words[-1]
