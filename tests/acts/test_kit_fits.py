"""What suits what in a kit: proposed, reserved, issued and fitted by clearance, size, finish and mass."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.engine_fits import built_fits, proposed_fits
from invdb.acts.fit import Fit, FitOrder, fit, fit_pull
from invdb.acts.fit_limit import NewFitLimit, add_fit_limit
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.matched import NewMatch, end_match, match_pieces, matched_with
from invdb.acts.move import Shift, move
from invdb.acts.numbers import Thing
from invdb.acts.pick_list import pick_list_of_pulls
from invdb.acts.proposed import KitProposal
from invdb.acts.pull import issue, order_of, reserve
from invdb.acts.strip import Strip, StripOrder, strip
from invdb.acts.things import things_by_id
from invdb.records.engines import Station
from invdb.rules.fits import FitVerdict
from invdb.rules.throws import throw_of
from invdb.terms import ConcessionOver, FitKind, Layout, MatchedAs, Refused
from tests.engine_shop import LONG_AGO, begin, came, conceded, sound
from tests.fits_shop import OVERSIZE, FitsShop, furnish_fits
from tests.shop import Shop


@pytest.fixture
def fits(shop: Shop) -> FitsShop:
    return furnish_fits(shop)


def tags(kit: KitProposal) -> dict[str, tuple[str, ...]]:
    return {line.station: tuple(choice.tag for choice in line.choices) for line in kit.lines}


def tag(session: Session, thing: Thing) -> str:
    return things_by_id(session, [thing])[thing].tag


def stocked(fits: FitsShop, session: Session) -> dict[str, list[Thing]]:
    """Two barrels and three pistons whose best pairing is not the one of shelf order, rods, and shims."""
    found = {
        "barrel": [fits.measured(session, "barrel", bore=bore) for bore in ("100.02", "100.00")],
        "piston": [
            fits.measured(session, "piston", skirt=skirt, mass=mass)
            for skirt, mass in (("99.70", "520"), ("99.72", "522"), ("99.74", "540"))
        ],
        "rod": [fits.measured(session, "rod", small_end_mass=mass) for mass in ("320", "319", "330")],
    }
    found["end float shim"] = [
        came(session, fits.shop, fits.parts["end float shim"], quantity=4, size_class=f"{size} mm")
        for size in ("0.8", "1.0", "1.2")
    ]
    return found


def test_pistons_go_to_the_bores_that_they_fit_and_rods_to_the_masses_that_agree(fits: FitsShop) -> None:
    with fits.shop.store.writing() as session:
        things = stocked(fits, session)
        proposal = fits.proposed(session)
        assert proposal.proven
        assert all(kit.complete for kit in proposal.kits)
        pairs = {(tags(kit)["barrel"][0], tags(kit)["piston"][0]) for kit in proposal.kits}
        b, p = ([tag(session, each) for each in things[station]] for station in ("barrel", "piston"))
        assert pairs == {(b[0], p[1]), (b[1], p[0])}
        shown = [each for kit in proposal.kits for each in kit.fits if each.name == "piston in barrel"]
        assert [(each.verdict, each.words, each.measured) for each in shown] == [
            (FitVerdict.NEW, "0.30 mm", True),
            (FitVerdict.NEW, "0.30 mm", True),
        ]
        (engine,) = proposed_fits(session, proposal)
        (masses,) = engine.masses
        assert masses.within
        assert masses.apart is not None and masses.apart <= 3
        assert [row.name for row in engine.fits] == ["piston in barrel"]


def test_a_piston_that_is_known_to_fit_goes_before_an_older_one_that_nobody_measured(fits: FitsShop) -> None:
    with fits.shop.store.writing() as session:
        fits.measured(session, "barrel", bore="100.02")
        fits.measured(session, "piston", mass="520")
        measured = fits.measured(session, "piston", skirt="99.725", mass="520")
        (kit,) = fits.proposed(session, "1").kits
        assert tags(kit)["piston"] == (tag(session, measured),)


def test_what_was_gained_over_shelf_order_is_said(fits: FitsShop) -> None:
    with fits.shop.store.writing() as session:
        stocked(fits, session)
        gains = {gain.what: (gain.ours, gain.shelf) for gain in fits.proposed(session).gained}
        assert gains["fits"][0] == 0 < gains["fits"][1]


def test_a_pair_outside_limits_is_not_chosen_and_the_near_miss_says_by_how_much(fits: FitsShop) -> None:
    with fits.shop.store.writing() as session:
        barrel = fits.measured(session, "barrel", bore="100.01")
        loose = fits.measured(session, "piston", skirt="99.60", mass="520")
        tight = fits.measured(session, "piston", skirt="99.74", mass="520")
        fits.measured(session, "piston", skirt="99.72", mass="520")
        (kit,) = fits.proposed(session, "1").kits
        (line,) = [each for each in kit.lines if each.station == "piston"]
        assert line.choices[0].tag not in {tag(session, tight), tag(session, loose)}
        fits.measure(session, barrel, bore="100.15")
        (kit,) = fits.proposed(session, "1").kits
        (line,) = [each for each in kit.lines if each.station in {"piston", "barrel"} and each.missing]
        words = [words for miss in line.misses for words in miss.bars]
        assert any("too tight" in each or "too loose" in each for each in words)


def test_sizes_and_finishes_must_suit(fits: FitsShop) -> None:
    with fits.shop.store.writing() as session:
        fits.measured(session, "barrel", OVERSIZE, bore="100.27")
        fits.measured(session, "piston", skirt="99.72", mass="520")
        (kit,) = fits.proposed(session, "1").kits
        assert sorted(len(tags(kit)[station]) for station in ("barrel", "piston")) == [0, 1]
        short = [line for line in kit.lines if line.missing and line.station in {"barrel", "piston"}]
        assert any("in size" in bar for miss in short[0].misses for bar in miss.bars)
        fits.measured(session, "piston", OVERSIZE, skirt="99.97", mass="520")
        (kit,) = fits.proposed(session, "1").kits
        assert all(len(tags(kit)[station]) == 1 for station in ("barrel", "piston"))


def test_a_chromium_faced_piston_never_meets_a_chromium_plated_bore(fits: FitsShop) -> None:
    with fits.shop.store.writing() as session:
        parts = fits.parts
        came(session, fits.shop, parts["barrel"], finish="Chromium plated")
        came(session, fits.shop, parts["piston"], finish="chromium faced")
        (kit,) = fits.proposed(session, "1").kits
        assert sorted(len(tags(kit)[station]) for station in ("barrel", "piston")) == [0, 1]
        plain = came(session, fits.shop, parts["piston"])
        (kit,) = fits.proposed(session, "1").kits
        assert tags(kit)["piston"] == (tag(session, plain),)
        (shown,) = [each for each in kit.fits if each.name == "piston in barrel"]
        assert (shown.verdict, shown.measured) == (FitVerdict.UNMEASURED, False)


def test_shims_are_issued_as_a_range_and_one_is_fitted(fits: FitsShop) -> None:
    begin(fits.shop, fits.engine)
    with fits.shop.store.writing() as session:
        things = stocked(fits, session)
        (kit,) = fits.proposed(session, "1").kits
        (line,) = [each for each in kit.lines if each.station == "end float shim"]
        assert [choice.why.partition(":")[0] for choice in line.choices] == ["1.0 mm", "1.2 mm"]
        assert line.selected.startswith("select on assembly from 0.85 mm to 1.35 mm")
        (barrel,) = [each for each in things["barrel"] if tag(session, each) in tags(kit)["barrel"]]
        bore = "100.02" if barrel == things["barrel"][0] else "100.00"
        fits.measure(session, barrel, bore=bore, float_gap="1.10")
        (kit,) = fits.proposed(session, "1").kits
        (line,) = [each for each in kit.lines if each.station == "end float shim"]
        assert [choice.why.partition(":")[0] for choice in line.choices] == ["1.0 mm"]
        assert line.selected == "select 0.95 mm to 1.05 mm for the measured gap; return the rest"
    assert sound(fits.shop)


def test_what_no_longer_suits_is_refused_when_it_is_reserved_and_when_it_is_issued(fits: FitsShop) -> None:
    with fits.shop.store.writing() as session:
        stocked(fits, session)
        (kit,) = fits.proposed(session, "1").kits
        barrel = next(line.choices[0].thing for line in kit.lines if line.station == "barrel")
        fits.measure(session, barrel, bore="100.14")
        with pytest.raises(Refused, match="doesn't suit the rest of the kit"):
            reserve(session, (order_of(kit),), fits.shop.by())
        (kit,) = fits.proposed(session, "1").kits
        (made,) = reserve(session, (order_of(kit),), fits.shop.by())
        sheet = pick_list_of_pulls(session, [made.pull])
        assert [note.name for note in sheet.fits] == ["piston in barrel"]
        assert sheet.fits_checked
        barrel = next(line.choices[0].thing for line in kit.lines if line.station == "barrel")
        fits.measure(session, barrel, bore="100.14")
        with pytest.raises(Refused, match="can't be issued"):
            issue(session, made.pull, fits.shop.by())
    assert sound(fits.shop)


def test_what_is_outside_its_fit_goes_in_by_a_concession_alone(fits: FitsShop) -> None:
    begin(fits.shop, fits.engine)
    with fits.shop.store.writing() as session:
        barrel = fits.measured(session, "barrel", bore="100.03")
        loose = fits.measured(session, "piston", skirt="99.62", mass="520")
        stations = dict(
            session.execute(
                select(Station.name, Station.id).where(Station.engine_type_id == fits.engine_type)
            ).all()
        )
        order = FitOrder(
            fits.engine,
            fits.positions["1"],
            (Fit(stations["barrel"], barrel), Fit(stations["piston"], loose)),
            1_000_00,
        )
        with pytest.raises(Refused, match="0.01 mm too loose"):
            fit(session, order, fits.shop.by())
        with pytest.raises(Refused, match="concession"):
            fit(session, replace(order, override="it will do"), fits.shop.by())
        conceded(session, fits.shop, loose, ConcessionOver.WORN_LIMIT, engine=fits.engine)
        fit(session, order, fits.shop.by())
        (row,) = built_fits(session, fits.engine).fits
        assert [(point.position, point.verdict) for point in row.points] == [("1", FitVerdict.LOOSE)]
        assert row.limits_words == "0.28 to 0.34 mm, target 0.30 mm, worn 0.40 mm"


def test_a_kit_that_suits_is_fitted_from_its_pull(fits: FitsShop) -> None:
    begin(fits.shop, fits.engine)
    with fits.shop.store.writing() as session:
        stocked(fits, session)
        (kit,) = fits.proposed(session, "1").kits
        (made,) = reserve(session, (order_of(kit),), fits.shop.by())
        issue(session, made.pull, fits.shop.by())
        with pytest.raises(Refused, match="range"):
            fit_pull(session, made.pull, 1_000_00, fits.shop.by())
        fit_pull(session, made.pull, 1_000_00, fits.shop.by(), sure=True)
        (row,) = built_fits(session, fits.engine).fits
        assert row.points[0].words == "0.30 mm"
    assert sound(fits.shop)


def test_a_matched_set_is_taken_whole_into_one_cylinder_or_left_on_the_shelf(fits: FitsShop) -> None:
    with fits.shop.store.writing() as session:
        barrel = fits.measured(session, "barrel", bore="100.02")
        piston = fits.measured(session, "piston", skirt="99.72", mass="520")
        rod = fits.measured(session, "rod", small_end_mass="320")
        members = (barrel.piece or 0, piston.piece or 0)
        made = match_pieces(session, NewMatch(MatchedAs.SET, "", "lapped together", members), fits.shop.by())
        (kit,) = fits.proposed(session, "1").kits
        assert tags(kit)["barrel"] == (tag(session, barrel),)
        whys = {line.station: choice.why for line in kit.lines for choice in line.choices}
        assert whys["barrel"] == f"the part itself; goes with {tag(session, piston)}: lapped together"
        assert whys["rod"] == "the part itself"
        order = order_of(kit)
        half = replace(order, takes=tuple(take for take in order.takes if take.thing != piston))
        with pytest.raises(Refused, match="goes only with"):
            reserve(session, (half,), fits.shop.by())
        raise_hold(session, (Subject(piece=piston.piece),), "a doubt", fits.shop.by())
        (kit,) = fits.proposed(session, "1").kits
        assert tags(kit)["barrel"] == ()
        assert tags(kit)["rod"] == (tag(session, rod),)
        (line,) = [each for each in kit.lines if each.station == "barrel"]
        assert f"goes only with {tag(session, piston)}: lapped together" in line.misses[0].bars
        end_match(session, made, "lapped anew", fits.shop.by())
        (kit,) = fits.proposed(session, "1").kits
        assert tags(kit)["barrel"] == (tag(session, barrel),)


def test_what_ran_in_a_cylinder_goes_back_to_it_till_it_is_reworked(fits: FitsShop) -> None:
    begin(fits.shop, fits.engine)
    with fits.shop.store.writing() as session:
        barrels = [fits.measured(session, "barrel", bore="100.02") for _ in range(2)]
        stations: dict[str, int] = dict(
            session.execute(
                select(Station.name, Station.id).where(Station.engine_type_id == fits.engine_type)
            ).all()
        )
        fitting = FitOrder(fits.engine, fits.positions["2"], (Fit(stations["barrel"], barrels[0]),), 1_000_00)
        fit(session, fitting, fits.shop.by())
        took = Strip(barrels[0], "sound", fits.shop.bench)
        strip(session, StripOrder(fits.engine, (took,), 1_000_00), fits.shop.by())
        fits.measure(session, barrels[0], bore="100.02")
        move(session, (Shift(barrels[0]),), fits.shop.bin_a, fits.shop.by())
        one, two = fits.proposed(session).kits
        assert tags(two)["barrel"] == (tag(session, barrels[0]),)
        assert two.lines[0].choices[0].why == "ran here before"
        assert tags(one)["barrel"] == (tag(session, barrels[1]),)


def test_a_piece_whose_mate_is_in_another_cylinder_is_not_fitted(fits: FitsShop) -> None:
    begin(fits.shop, fits.engine)
    with fits.shop.store.writing() as session:
        barrel = fits.measured(session, "barrel", bore="100.02")
        piston = fits.measured(session, "piston", skirt="99.72", mass="520")
        stations: dict[str, int] = dict(
            session.execute(
                select(Station.name, Station.id).where(Station.engine_type_id == fits.engine_type)
            ).all()
        )
        members = (barrel.piece or 0, piston.piece or 0)
        match_pieces(session, NewMatch(MatchedAs.SET, "", "lapped together", members), fits.shop.by())
        at_two = FitOrder(fits.engine, fits.positions["2"], (Fit(stations["barrel"], barrel),), 1_000_00)
        fit(session, at_two, fits.shop.by())
        wrong = replace(at_two, position=fits.positions["1"], fits=(Fit(stations["piston"], piston),))
        with pytest.raises(Refused, match="which is elsewhere: lapped together"):
            fit(session, wrong, fits.shop.by())
        fit(session, replace(wrong, position=fits.positions["2"]), fits.shop.by())


def test_the_two_banks_of_a_vee_share_their_throws() -> None:
    assert [throw_of(Layout.VEE, name) for name in ("A3", "B3", "A12", "left")] == ["3", "3", "12", "left"]
    assert throw_of(Layout.RADIAL, "3") == "3"


def test_two_that_are_fitted_together_are_matched_where_their_fit_says_so(fits: FitsShop) -> None:
    begin(fits.shop, fits.engine)
    with fits.shop.store.writing() as session:
        pair = NewFitLimit(
            fits.engine_type,
            "cylinder",
            "rod on piston",
            FitKind.AS_FOUND,
            "piston",
            "pin bore",
            "rod",
            "small end",
            "mm",
            "0.01",
            "0.03",
            "Manual",
            makes_matched=True,
        )
        add_fit_limit(session, pair, fits.shop.by(LONG_AGO), sure=True)
        piston = fits.measured(session, "piston", skirt="99.72", mass="520")
        rod = fits.measured(session, "rod", small_end_mass="320")
        stations: dict[str, int] = dict(
            session.execute(
                select(Station.name, Station.id).where(Station.engine_type_id == fits.engine_type)
            ).all()
        )
        order = FitOrder(fits.engine, fits.positions["1"], (Fit(stations["piston"], piston),), 1_000_00)
        fit(session, order, fits.shop.by())
        fit(session, replace(order, fits=(Fit(stations["rod"], rod),)), fits.shop.by())
        (made,) = matched_with(session, [rod.piece or 0])[rod.piece or 0]
        assert (made.kind, made.why) == (MatchedAs.SET, "fitted together: rod on piston")
        assert {piece for piece, _ in made.members} == {piston.piece, rod.piece}
    assert sound(fits.shop)
