"""A part's page, and the changes of kit lists and stand-ins, from the command line."""

from __future__ import annotations

import re

from invdb.acts import catalogue
from invdb.acts.catalogue import NewOtherNumber, NewPart, NewStandIn
from invdb.acts.part_page import part_page
from invdb.terms import Tracking
from tests.cli.conftest import Run, run, workshop
from tests.cli.test_engines import refused, said
from tests.fitted_shop import add_mod
from tests.kit_shop import reserved, stock
from tests.shop import Shop

__all__ = ["run", "workshop"]


def test_a_part_is_shown_with_what_stands_in_for_it(run: Run, workshop: Shop) -> None:
    with workshop.store.writing() as session:
        plain = catalogue.add_part(session, NewPart(1, "Exhaust valve, plain", Tracking.PIECE), workshop.by())
        new = NewStandIn(workshop.valve, ((plain, 1),), "Leaflet 31")
        catalogue.add_stand_in(session, new, workshop.by())
    page = said(run, "part", "PW 1187")
    for words in (
        "Exhaust valve (VX Exhaust valves)",
        "held by piece, life 600.00 h since new",
        "SODIUM-FILLED: Do not cut the stem.",
        "no specification in force",
        "Linnet cylinder, exhaust valve: 1 off (kit line 1)",
        "one way, by Leaflet 31 (stand-in 1)",
        "none here",
        "Ada Farrow",
    ):
        assert words in page


def ended_on(*words: str, day: str = "2026-03-02", because: str = "Leaflet 32") -> tuple[str, ...]:
    return (*words, "--until", day, "--because", because)


def test_a_stand_in_is_added_changed_replaced_and_ended(run: Run, workshop: Shop) -> None:
    with workshop.store.writing() as session:
        by = workshop.by()
        catalogue.add_part(session, NewPart(1, "Plain", Tracking.PIECE, other_numbers=number("PL 1")), by)
        catalogue.add_part(session, NewPart(1, "Later", Tracking.PIECE, other_numbers=number("PL 2")), by)
    why = ("--because", "Leaflet 31")
    made = said(
        run, "stand-in", "add", "PW 1187", "PL 1", "--authority", "Leaflet 31", "--positions", "4,5", *why
    )
    assert "It is stand-in 1" in made
    assert "only 4,5" in said(run, "part", "PW 1187").replace("4, 5", "4,5")
    assert "closes a ring" in refused(run, "stand-in", "add", "PL 1", "PW 1187", "--authority", "x", *why)
    assert "says so already" in refused(
        run, "stand-in", "add", "PW 1187", "1*PL 1", "--authority", "x", "--positions", "4,5", *why
    )
    said(run, "stand-in", "change", "1", "--authority", "Leaflet 31a", "--positions", "", *why)
    assert "one way, by Leaflet 31a (stand-in 1)" in said(run, "part", "PW 1187")
    assert "Nothing is changed" in refused(run, "stand-in", "change", "1", "--one-way", *why)
    replaced = said(run, "stand-in", "replace", "1", "PL 1", "2*PL 2", "--from", "2026-03-01", *why)
    assert "The new one is stand-in 2" in replaced
    page = said(run, "part", "PL 2")
    assert re.search(r"ended: VX\S+ for VX\S+, one way, until 2026-03-01", page)
    assert re.search(r"VX\S+ \+ 2 × VX\S+ for VX\S+, one way, from 2026-03-01", page)
    assert "why this is changed" in refused(run, *ended_on("stand-in", "end", "2", because=" "))
    said(run, *ended_on("stand-in", "end", "2"))
    assert "(Leaflet 32)" in said(run, "part", "PL 2")
    assert "no such stand-in" in refused(run, *ended_on("stand-in", "end", "99"))


def number(text: str) -> tuple[NewOtherNumber, ...]:
    return (NewOtherNumber(text),)


def test_a_kit_line_is_added_corrected_replaced_and_ended(run: Run, workshop: Shop) -> None:
    with workshop.store.writing() as session:
        add_mod(workshop, session, "L22")
        wire = part_page(session, workshop.wire).house_number
    why = ("--because", "Leaflet 31")
    made = said(
        *(run, "kit-line", "add", "Linnet", "cylinder", "head joint", wire, "--quantity", "1.25 m"),
        *("--without-mod", "L22", "--serial-from", "L1000", *why),
    )
    assert "It is kit line 4" in made
    assert "Linnet cylinder, head joint: 1.25 m, serials from L1000, without mod L22 (kit line 4)" in said(
        run, "part", wire
    )
    assert "no station" in refused(
        run, "kit-line", "add", "Linnet", "cylinder", "sump", wire, "--quantity", "1 m", *why
    )
    assert "has no unit" in refused(run, "kit-line", "change", "4", "--quantity", "2", *why)
    said(run, "kit-line", "change", "4", "--quantity", "900 mm", "--any-mod", "--serial-from", "", *why)
    assert "head joint: 900 mm (kit line 4)" in said(run, "part", wire)
    assert "quantity 1.25 m → 900 mm; serial from L1000 → none; mod L22 → none" in said(run, "part", wire)
    replaced = said(run, "kit-line", "replace", "4", "--from", "2026-03-01", "--quantity", "1 m", *why)
    assert "The new one is kit line 5" in replaced
    assert "ended: Linnet cylinder, head joint: 900 mm, until 2026-03-01 (kit line 4)" in said(
        run, "part", wire
    )
    assert "to come: " not in said(run, "part", wire)
    assert "to come: Linnet cylinder, head joint: 1 m" in said(run, "part", wire, "--on", "2026-02-01")
    said(run, *ended_on("kit-line", "end", "5"))
    assert "no such kit line" in refused(run, *ended_on("kit-line", "end", "99"))
    code, _, err = run("kit-line", "change", "1", "--mod", "L22", "--any-mod", *why)
    assert (code, "Give one of" in err) == (2, True)


def test_who_ends_a_kit_line_is_told_what_pulls_hang_on_it(run: Run, workshop: Shop) -> None:
    stock(workshop)
    (pull,) = reserved(workshop, "1")
    assert f"Pull {pull.number} has something" in refused(run, *ended_on("kit-line", "end", "2"))
    told = said(run, *ended_on("kit-line", "end", "2", day="2099-01-01"))
    assert f"Not to be issued from that day on: pull {pull.number}." in told
