"""The masses of an engine agree over all its cylinders: those asked for, held for, and built already."""

from __future__ import annotations

from dataclasses import replace

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.fit import Fit, FitOrder, fit
from invdb.acts.numbers import Thing
from invdb.acts.proposed import KitProposal
from invdb.acts.pull import order_of, reserve
from invdb.acts.things import things_by_id
from invdb.records.engines import Station
from tests.engine_shop import begin
from tests.fits_shop import FitsShop, furnish_fits
from tests.shop import Shop


@pytest.fixture
def fits(shop: Shop) -> FitsShop:
    return furnish_fits(shop)


def tag(session: Session, thing: Thing) -> str:
    return things_by_id(session, [thing])[thing].tag


def chosen(kit: KitProposal, station: str) -> list[str]:
    return [choice.tag for line in kit.lines if line.station == station for choice in line.choices]


def piston(fits: FitsShop, session: Session, mass: str) -> Thing:
    return fits.measured(session, "piston", skirt="99.72", mass=mass)


def rod(fits: FitsShop, session: Session, mass: str) -> Thing:
    return fits.measured(session, "rod", small_end_mass=mass)


def built(fits: FitsShop, session: Session, cylinder: str, *things: tuple[str, Thing]) -> None:
    stations: dict[str, int] = dict(
        session.execute(
            select(Station.name, Station.id).where(Station.engine_type_id == fits.engine_type)
        ).all()
    )
    fitted = tuple(Fit(stations[name], thing) for name, thing in things)
    fit(session, FitOrder(fits.engine, fits.positions[cylinder], fitted, 1_000_00), fits.shop.by())


def test_one_cylinder_is_pulled_to_agree_with_those_that_stay_built(fits: FitsShop) -> None:
    begin(fits.shop, fits.engine)
    with fits.shop.store.writing() as session:
        # The oldest pieces in stock would be 9 g heavier than what cylinder 2 has; 5 g are allowed.
        heavy = piston(fits, session, "529"), rod(fits, session, "320")
        light = piston(fits, session, "519"), rod(fits, session, "320")
        built(
            fits, session, "2", ("piston", piston(fits, session, "520")), ("rod", rod(fits, session, "320"))
        )
        (kit,) = fits.proposed(session, "1").kits
        assert chosen(kit, "piston") == [tag(session, light[0])]
        assert tag(session, heavy[0]) not in chosen(kit, "piston")


def test_what_agrees_with_nothing_that_stays_is_a_near_miss_that_says_so(fits: FitsShop) -> None:
    begin(fits.shop, fits.engine)
    with fits.shop.store.writing() as session:
        heavy = piston(fits, session, "529")
        rod(fits, session, "320")
        built(
            fits, session, "2", ("piston", piston(fits, session, "520")), ("rod", rod(fits, session, "320"))
        )
        proposal = fits.proposed(session, "1")
        (kit,) = proposal.kits
        assert proposal.proven
        (line,) = [each for each in kit.lines if each.station == "piston"]
        other = [each for each in kit.lines if each.station == "rod"]
        assert [each.missing for each in (line, *other)].count(1) == 1, "one of the two is left out"
        if line.missing:
            (miss,) = [each for each in line.misses if each.tag == tag(session, heavy)]
            assert miss.bars == ("its mass, or that of what goes with it, is beyond the allowed spread",)


def test_what_a_pull_holds_for_the_cylinder_counts_with_what_is_still_wanted(fits: FitsShop) -> None:
    begin(fits.shop, fits.engine)
    with fits.shop.store.writing() as session:
        piston(fits, session, "525")
        (kit,) = fits.proposed(session, "1").kits
        order = order_of(kit)
        held = tuple(take for take in order.takes if take.thing == kit_piston(kit))
        reserve(session, (replace(order, takes=held),), fits.shop.by())
        # 525 g are held; with the older rod cylinder 1 would weigh 848 g, 8 g more than cylinder 2.
        heavier, lighter = rod(fits, session, "323"), rod(fits, session, "317")
        built(
            fits, session, "2", ("piston", piston(fits, session, "520")), ("rod", rod(fits, session, "320"))
        )
        (kit,) = fits.proposed(session, "1").kits
        assert chosen(kit, "rod") == [tag(session, lighter)] != [tag(session, heavier)]


def kit_piston(kit: KitProposal) -> Thing:
    (thing,) = [choice.thing for line in kit.lines if line.station == "piston" for choice in line.choices]
    return thing


def test_what_a_pull_holds_for_another_cylinder_stands_for_what_is_fitted_there(fits: FitsShop) -> None:
    begin(fits.shop, fits.engine)
    with fits.shop.store.writing() as session:
        # Cylinder 2 has light pieces in it still, and a pull holds heavy ones for it.
        built(
            fits, session, "2", ("piston", piston(fits, session, "505")), ("rod", rod(fits, session, "320"))
        )
        piston(fits, session, "540")
        rod(fits, session, "320")
        (kit,) = fits.proposed(session, "2").kits
        order = order_of(kit)
        bound = {kit_piston(kit)} | {
            choice.thing for line in kit.lines if line.station == "rod" for choice in line.choices
        }
        takes = tuple(take for take in order.takes if take.thing in bound)
        reserve(session, (replace(order, takes=takes),), fits.shop.by())
        light, heavy = piston(fits, session, "506"), piston(fits, session, "539")
        rod(fits, session, "320")
        (kit,) = fits.proposed(session, "1").kits
        assert chosen(kit, "piston") == [tag(session, heavy)] != [tag(session, light)]
