"""Work, scrap, re-identification, matched sets and fits from the command line."""

from __future__ import annotations

import json
import re

from invdb.acts.engine_fits import built_fits
from invdb.acts.fit import Fit, FitOrder, fit
from invdb.acts.numbers import Thing
from invdb.acts.part_size import NewPartSize, add_part_size
from invdb.terms import Condition
from tests.cli.conftest import Run, run, workshop
from tests.cli.test_engines import refused, said
from tests.engine_shop import begin, came, station, tag_of
from tests.fits_shop import furnish_fits
from tests.kit_shop import state_of
from tests.shop import Shop

__all__ = ["run", "workshop"]

SEND = ("--for", "plating", "--wanted", "Plate the stem")


def piece(shop: Shop, part: int) -> tuple[Thing, str]:
    with shop.store.writing() as session:
        thing = came(session, shop, part)
    return thing, tag_of(shop, thing)


def test_a_barrel_is_sent_listed_and_booked_back_another_size(run: Run, workshop: Shop) -> None:
    assert said(run, "send") == "Nothing is out for work.\n"
    barrel, tag = piece(workshop, workshop.barrel)
    out = said(run, "send", "At Brackwater", "--tag", tag, *SEND, "--due", "2099-01-01")
    number = re.search(r"W\d{5}-\w", out)
    assert number is not None
    assert "due 2099-01-01" in said(run, "send")
    back = ("back", number.group(), tag, "--bin", "Bench", "--report", "BP 12")
    assert "not on order" in refused(run, "back", number.group(), "T00099-9", *back[3:])
    assert "has no size" in refused(run, *back, "--size", "0.25 mm oversize")
    with workshop.store.writing() as session:
        add_part_size(session, NewPartSize(workshop.barrel, "0.25 mm oversize"), workshop.by())
    assert "No authority" in refused(run, *back, "--size", "0.25 mm oversize")
    assert "Back from work" in said(
        run, *back, "--size", "0.25 mm oversize", "--authority", "Scheme 12", "--resets"
    )
    assert state_of(workshop, barrel).size_class == "0.25 mm oversize"
    assert said(run, "send") == "Nothing is out for work.\n"
    assert tag in said(run, "send", "--all")
    assert "no work order" in refused(run, "back", "W00077-A", *back[2:])


def test_some_of_a_batch_goes_out_and_some_of_that_is_scrapped_there(run: Run, workshop: Shop) -> None:
    with workshop.store.writing() as session:
        springs = came(session, workshop, workshop.spring, quantity=20)
    tag = tag_of(workshop, springs)
    assert "Say how much" in refused(run, "send", "At Brackwater", "--tag", tag, *SEND)
    assert "Name --tag and --for" in refused(run, "send", "At Brackwater")
    out = said(run, "--json", "send", "At Brackwater", "--tag", tag, *SEND, "--quantity", "8")
    number = json.loads(out)["order"]
    gone = ("--scrapped", "destroyed by a firm", "--quantity", "3")
    said(run, "back", number, tag, "--bin", "Scrap drum", "--report", "Cracked", *gone)
    assert "5 off out, 3 off scrapped" in said(run, "send")


def test_a_valve_is_scrapped_once_its_hazard_is_read(run: Run, workshop: Shop) -> None:
    valve, tag = piece(workshop, workshop.valve)
    how = ("scrap", tag, "--how", "destroyed by a firm", "--because", "Stretched")
    assert "sodium" in refused(run, *how)
    assert refused(run, *how).endswith("(--sure).\n")
    assert "Scrapped" in said(run, *how, "--sure")
    assert state_of(workshop, valve).condition is Condition.UNSALVAGEABLE


def test_a_piece_becomes_another_part_and_its_set_ends(run: Run, workshop: Shop) -> None:
    _, one = piece(workshop, workshop.barrel)
    _, other = piece(workshop, workshop.barrel)
    assert f"Recorded {one} and {other} as matched set" in said(
        run, "match", one, other, "--because", "lapped together"
    )
    assert said(run, "match", one) == f"matched set: {other}, lapped together\n"
    valve = state_of(workshop, piece(workshop, workshop.valve)[0]).part_number
    became = said(run, "reidentify", one, valve, "--authority", "Drawing 9", "--done", "Turned down")
    assert "Re-identified" in became
    assert said(run, "match", one) == f"{one} goes with nothing.\n"
    said(run, "match", one, other, "--because", "ran together", "--kind", "mates")
    assert "why the set ends" in refused(run, "match", one, "--end")
    assert "Ended" in said(run, "match", one, "--end", "--because", "parted")
    assert "goes with nothing" in refused(run, "match", one, "--end", "--because", "parted")


def test_the_fits_of_an_engine_are_shown(run: Run, workshop: Shop) -> None:
    assert "nothing is fitted that they are of" in said(run, "fits", "Linnet One")
    fits = furnish_fits(workshop)
    begin(workshop, fits.engine)
    with workshop.store.writing() as session:
        barrel = fits.measured(session, "barrel", bore="100.02")
        piston = fits.measured(session, "piston", skirt="99.72", mass="520")
        seats = {name: station(session, fits.engine, name) for name in ("barrel", "piston")}
        order = FitOrder(
            fits.engine,
            fits.positions["1"],
            (Fit(seats["barrel"], barrel), Fit(seats["piston"], piston)),
            1_000_00,
        )
        fit(session, order, workshop.by())
        assert built_fits(session, fits.engine).fits
    shown = said(run, "fits", "Dabchick Seven")
    assert "piston in barrel (as found), 0.28 to 0.34 mm, target 0.30 mm, worn 0.40 mm" in shown
    assert "within new limits    0.30 mm" in shown
    assert "no rod there" in shown
    assert "not a release to service" in shown
