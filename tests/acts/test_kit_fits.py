"""What suits what in a kit: proposed, reserved, issued and fitted by clearance, size, finish and mass."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.engine_fits import built_fits, proposed_fits
from invdb.acts.fit import Fit, FitOrder, fit, fit_pull
from invdb.acts.numbers import Thing
from invdb.acts.pick_list import pick_list_of_pulls
from invdb.acts.proposed import KitProposal
from invdb.acts.pull import issue, order_of, reserve
from invdb.acts.things import things_by_id
from invdb.records.engines import Station
from invdb.rules.fits import FitVerdict
from invdb.terms import ConcessionOver, Refused
from tests.engine_shop import begin, came, conceded, sound
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
            (FitVerdict.NEW, "0.3 mm", True),
            (FitVerdict.NEW, "0.3 mm", True),
        ]
        (engine,) = proposed_fits(session, proposal)
        (masses,) = engine.masses
        assert masses.within
        assert masses.apart is not None and masses.apart <= 3
        assert [row.name for row in engine.fits] == ["piston in barrel"]


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
        assert row.points[0].words == "0.3 mm"
    assert sound(fits.shop)
