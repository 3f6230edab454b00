"""What a change of the catalogue is told as."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.catalogue_words import (
    RecordChange,
    column_words,
    fields_changed,
    record_called,
    record_words,
    value_words,
)
from invdb.rules.folding import Plain
from invdb.terms import Measure

NAMES = {
    ("engine_type_id", 1): "Linnet",
    ("mod_id", 4): "L22",
    ("part_id", 7): "VX0001-K",
    ("members", 3): "VX0002-W + 2 × GK0001-J",
    ("document_id", 5): "Leaflet 31",
}
KIT_LINE: dict[str, Plain] = {
    "engine_type_id": 1,
    "group_name": "cylinder",
    "station": "head joint",
    "part_id": 7,
}


@pytest.mark.parametrize(
    ("column", "value", "measure", "words"),
    [
        ("quantity", 2, Measure.COUNT, "2 off"),
        ("quantity", 1_250_000, Measure.LENGTH, "1.25 m"),
        ("life_limit_hours", 600_00, Measure.COUNT, "600.00 h"),
        ("shelf_life_months", 24, Measure.COUNT, "24 months"),
        ("critical", True, Measure.COUNT, "yes"),
        ("critical", False, Measure.COUNT, "no"),
        ("note", "", Measure.COUNT, "none"),
        ("until_on", None, Measure.COUNT, "none"),
        ("until_on", "2026-03-02", Measure.COUNT, "2026-03-02"),
        ("sequence", 0, Measure.COUNT, "0"),
    ],
)
def test_a_value_is_told_in_its_unit(column: str, value: object, measure: Measure, words: str) -> None:
    assert value_words(column, value, measure=measure) == words


def test_an_id_is_told_as_what_it_names() -> None:
    assert value_words("mod_id", 4, "L22") == "L22"
    (change,) = fields_changed("kit_line", {"mod_id": None}, {"mod_id": 4}, NAMES)
    assert change.words == "mod none → L22"
    assert column_words("mod_id") == "mod"
    assert column_words("shelf_life_months") == "shelf life"


@pytest.mark.parametrize(
    ("record", "values", "words"),
    [
        ("part", {"name": "Valve"}, "the part"),
        ("other_number", {"kind": "maker's", "number": "PW 1187"}, "maker's number PW 1187"),
        ("part_hazard", {"hazard": "sodium-filled"}, "hazard sodium-filled"),
        ("part_size", {"size_class": "0.25 mm oversize"}, "size 0.25 mm oversize"),
        (
            "life_limit",
            {"amount": 500_00, "measure": "hours", "since": "overhaul"},
            "life limit 500.00 h since overhaul",
        ),
        ("spec", {"revision": "B"}, "specification B"),
        ("kit_line", KIT_LINE, "kit line Linnet cylinder, head joint"),
        ("stand_in", {"part_id": 7, "members": 3}, "stand-in VX0002-W + 2 × GK0001-J for VX0001-K"),
        (
            "fit_limit",
            {"name": "stem", "engine_type_id": 1, "group_name": "cylinder"},
            "fit stem, Linnet cylinder",
        ),
        ("document_link", {"document_id": 5}, "paper Leaflet 31"),
    ],
)
def test_a_record_is_called_by_what_a_person_knows_it_by(
    record: str, values: dict[str, int | str], words: str
) -> None:
    assert record_words(record, values, NAMES) == words


def test_what_is_no_record_of_a_part_is_not_told_as_one() -> None:
    with pytest.raises(ValueError, match="person"):
        record_words("person", {}, {})
    assert [record_called(each) for each in ("stand_in", "kit_line", "part_hazard", "person")] == [
        *("stand-in", "kit line", "hazard", "person")
    ]


def test_what_began_is_told_by_what_it_has_and_what_changed_by_both() -> None:
    began: dict[str, Plain] = {
        **KIT_LINE,
        "quantity": 2,
        "renewed_always": False,
        "note": "",
        "from_on": "2026-03-02",
    }
    fields = fields_changed("kit_line", None, began, NAMES)
    assert RecordChange("kit line 4", True, fields).words == (
        "kit line 4 added: part VX0001-K; quantity 2 off; from 2026-03-02"
    )
    later: dict[str, Plain] = {"quantity": 3, "renewed_always": True, "note": ""}
    fields = fields_changed("kit_line", began, later, NAMES)
    assert RecordChange("kit line 4", False, fields).words == (
        "kit line 4: quantity 2 off → 3 off; renewed always no → yes"
    )
    assert RecordChange("paper Leaflet 31", True, ()).words == "paper Leaflet 31 added"


@given(
    st.dictionaries(st.sampled_from(["name", "note", "finish"]), st.text("ab", max_size=2)),
    st.dictionaries(st.sampled_from(["name", "note", "finish"]), st.text("ab", max_size=2)),
)
def test_exactly_what_differs_is_told(before: dict[str, str], said: dict[str, str]) -> None:
    told = {change.name for change in fields_changed("part", before, said, {})}
    assert told == {column for column in said if before.get(column) != said[column]}
