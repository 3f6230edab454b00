"""A part's page, and what ends in the catalogue, from the command line."""

from __future__ import annotations

import re

from invdb.acts import catalogue
from invdb.acts.catalogue import NewPart, NewStandIn
from invdb.terms import Tracking
from tests.cli.conftest import Run, run, workshop
from tests.cli.test_engines import refused, said
from tests.shop import Shop

__all__ = ["run", "workshop"]


def test_a_part_is_shown_and_what_stands_in_for_it_ends(run: Run, workshop: Shop) -> None:
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
    assert "why" in refused(run, "end-stand-in", "1", "--until", "2026-03-02", "--because", " ")
    said(run, "end-stand-in", "1", "--until", "2026-03-02", "--because", "withdrawn by its maker")
    assert re.search(r"ended: VX\S+ for VX\S+, one way, until 2026-03-02", said(run, "part", "PW 1187"))
    said(run, "end-kit-line", "1", "--until", "2026-03-02", "--because", "superseded")
    assert "ended: Linnet cylinder" in said(run, "part", "PW 1187")
    assert "no such kit line" in refused(run, "end-kit-line", "99", "--until", "2026-03-02", "--because", "x")
