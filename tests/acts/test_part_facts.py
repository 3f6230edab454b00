"""What a part's page needs besides: papers, the mods and groups of a type, and who set what."""

from __future__ import annotations

from datetime import date

import pytest

from invdb.acts.by import By
from invdb.acts.change import seen_of
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.part_edit import add_hazard
from invdb.acts.part_page import part_page
from invdb.acts.part_papers import add_part_papers, kept_paper
from invdb.acts.set_by import set_by
from invdb.acts.type_groups import mods_of_types, type_groups
from invdb.acts.type_mod import add_mod, correct_mod
from invdb.terms import FieldRefused, Hazard, PaperKind, Refused
from tests.shop import TODAY, Shop

WHY = "Pellworth leaflet 31"


def by(shop: Shop, note: str = WHY) -> By:
    return By(shop.inspector, None, note)


def test_a_mod_is_entered_once_for_its_type_and_corrected(shop: Shop) -> None:
    with shop.store.writing() as session:
        mod = add_mod(session, shop.linnet, " L31 ", "Drilled pins", "", by(shop))
        (kept,) = mods_of_types(session)[shop.linnet]
        assert (kept.mod, kept.code, kept.name, kept.note) == (mod, "L31", "Drilled pins", "")
        with pytest.raises(FieldRefused, match="has a mod l31 already"):
            add_mod(session, shop.linnet, "l31", "Again", "", by(shop))
        with pytest.raises(FieldRefused, match="no name"):
            add_mod(session, shop.linnet, "L32", " ", "", by(shop))
        with pytest.raises(FieldRefused, match="no code"):
            add_mod(session, shop.linnet, " ", "Of no code", "", by(shop))
        with pytest.raises(FieldRefused, match="no such engine type"):
            add_mod(session, 999, "X1", "Of no type", "", by(shop))
        correct_mod(session, mod, kept.entry, "Drilled rocker pins", "Leaflet 31", by(shop))
        (after,) = mods_of_types(session)[shop.linnet]
        assert (after.name, after.note) == ("Drilled rocker pins", "Leaflet 31")
        with pytest.raises(Refused, match="Nothing is changed"):
            correct_mod(session, mod, after.entry, "Drilled rocker pins", "Leaflet 31", by(shop))
        with pytest.raises(Refused, match="changed this mod"):
            correct_mod(session, mod, kept.entry, "Other", "", by(shop))
        with pytest.raises(Refused, match="no such mod"):
            correct_mod(session, 999, 1, "Other", "", by(shop))


def test_every_group_of_a_type_has_its_positions_and_stations_as_drawn(shop: Shop) -> None:
    with shop.store.writing() as session:
        add_mod(session, shop.linnet, "L31", "Drilled pins", "", by(shop))
        (group,) = type_groups(session)
    assert group.words == "Linnet, cylinder"
    assert group.positions == tuple("1234567")
    assert group.stations == ("exhaust valve", "exhaust springs", "head joint")
    assert [mod.code for mod in group.mods] == ["L31"]


def test_documents_are_taken_in_for_a_part_and_given_out_again(shop: Shop) -> None:
    photograph = NewPaper(PaperKind.PHOTOGRAPH, "Bore, 3", content=b"a picture", file_name="bore.png")
    with shop.store.writing() as session:
        add_part_papers(session, shop.barrel, (photograph,), by(shop))
        (paper,) = part_page(session, shop.barrel).papers
        assert (paper.kind, paper.reference, paper.kept) == (PaperKind.PHOTOGRAPH, "Bore, 3", True)
        kept = kept_paper(session, paper.document)
        assert (kept.file_name, kept.content) == ("bore.png", b"a picture")


def test_a_document_that_is_here_stands_behind_a_part_once(shop: Shop) -> None:
    with shop.store.writing() as session:
        drawing = add_paper(session, NewPaper(PaperKind.DRAWING, "PD 2335"), by(shop))
        add_part_papers(session, shop.barrel, (), by(shop), known=drawing)
        with pytest.raises(FieldRefused, match="PD 2335 stands behind this part already"):
            add_part_papers(session, shop.barrel, (), by(shop), known=drawing)
        with pytest.raises(FieldRefused, match="not in the store"):
            add_part_papers(session, shop.barrel, (), by(shop), known=999)
        with pytest.raises(FieldRefused, match="No document is named"):
            add_part_papers(session, shop.barrel, (), by(shop))
        with pytest.raises(Refused, match="no such part"):
            add_part_papers(session, 999, (), by(shop), known=drawing)
        with pytest.raises(Refused, match="nothing is kept here but its number"):
            kept_paper(session, drawing)
        with pytest.raises(Refused, match="not in the store"):
            kept_paper(session, 999)


def test_who_set_something_last_is_told_with_the_day_and_the_reason(shop: Shop) -> None:
    with shop.store.writing() as session:
        hazard = add_hazard(session, shop.barrel, Hazard.LEAD, "Wash hands", by(shop))
        entry = seen_of(session, "part_hazard", hazard)
        found = set_by(session, [entry, 999_999])
    assert found.keys() == {entry}
    assert found[entry].happened_on == TODAY
    assert found[entry].words == f"Ada Farrow on {TODAY.isoformat()}, entry {entry}: {WHY}"
    bare = type(found[entry])(3, date(2025, 1, 6), "Ada Farrow", "")
    assert bare.words == "Ada Farrow on 2025-01-06, entry 3"
