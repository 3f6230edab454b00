"""Which kit lines and alternates hold for a Linnet, its cylinders, its mods and the day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.effectivity import (
    EVERYWHERE,
    Effectivity,
    EngineState,
    applies,
    effectivity_words,
    serial_key,
)
from invdb.terms import Refused, Scope

LINNET = EngineState("Linnet", "PL-0117", frozenset({"M12"}), date(2024, 6, 1), Scope.FLIGHT)

serials = st.builds(
    "{}-{:0{}d}{}".format,
    st.sampled_from(["PL", "PM"]),
    st.integers(0, 9999),
    st.integers(1, 5),
    st.sampled_from(["", "A", "B"]),
)


def test_what_sets_no_bound_holds_everywhere() -> None:
    assert applies(EVERYWHERE, LINNET, "cylinder 5") is None


@pytest.mark.parametrize(
    ("effectivity", "reason"),
    [
        (Effectivity(engine_type="Linnet"), None),
        (Effectivity(engine_type="Dabchick"), "only for engine type Dabchick, not Linnet"),
        (Effectivity(positions=frozenset({"cylinder 5"})), None),
        (
            Effectivity(positions=frozenset({"cylinder 10", "cylinder 2"})),
            "only for cylinder 2, cylinder 10, not cylinder 5",
        ),
        (Effectivity(serial_from="PL-0101", serial_to="PL-0140"), None),
        (Effectivity(serial_from="PL-0117", serial_to="PL-0117"), None),
        (Effectivity(serial_from="pl 117"), None),
        (Effectivity(serial_from="PL-0118"), "only for engine serials from PL-0118, not PL-0117"),
        (Effectivity(serial_to="PL-0116"), "only for engine serials up to PL-0116, not PL-0117"),
        (
            Effectivity(serial_from="PL-0001", serial_to="PL-0099"),
            "only for engine serials PL-0001 to PL-0099, not PL-0117",
        ),
        (Effectivity(mods_required=frozenset({"M12"})), None),
        (Effectivity(mods_required=frozenset({"M12", "M30", "M4"})), "only with mod M4, M30 embodied"),
        (Effectivity(mods_barred=frozenset({"M4"})), None),
        (Effectivity(mods_barred=frozenset({"M12"})), "not with mod M12 embodied"),
        (Effectivity(date_from=date(2024, 6, 1)), None),
        (Effectivity(date_from=date(2024, 6, 2)), "only from 2024-06-02"),
        (Effectivity(date_until=date(2024, 6, 2)), None),
        (Effectivity(date_until=date(2024, 6, 1)), "only until 2024-06-01"),
        (Effectivity(date_from=date(2024, 5, 1), date_until=date(2024, 6, 2)), None),
    ],
)
def test_each_bound_holds_or_says_in_plain_words_why_not(
    effectivity: Effectivity, reason: str | None
) -> None:
    assert applies(effectivity, LINNET, "cylinder 5") == reason


def test_an_engine_whose_serial_is_lost_is_in_no_range() -> None:
    lost = replace(LINNET, serial="")
    assert "not known" in (applies(Effectivity(serial_from="PL-0001"), lost, "cylinder 1") or "")
    assert applies(EVERYWHERE, lost, "cylinder 1") is None


def test_serials_run_in_natural_order() -> None:
    run = ["99", "PL-9", "PL-0101", "PL-0140", "PL-0140A", "PL-0141", "PL-1000", "PM-1"]
    assert sorted(reversed(run), key=serial_key) == run
    assert serial_key("pl 00101") == serial_key("PL-101")


@given(serials, serials, serials)
def test_a_serial_is_in_range_exactly_when_it_is_neither_below_nor_above(
    lowest: str, highest: str, serial: str
) -> None:
    engine = replace(LINNET, serial=serial)
    above_lowest = applies(Effectivity(serial_from=lowest), engine, "1") is None
    below_highest = applies(Effectivity(serial_to=highest), engine, "1") is None
    letters, number = serial[:2], int(serial[3:].rstrip("AB"))
    if letters == lowest[:2]:
        low_number = int(lowest[3:].rstrip("AB"))
        assert above_lowest or number <= low_number
        assert not above_lowest or number >= low_number
    if serial_key(lowest) <= serial_key(highest):
        both = applies(Effectivity(serial_from=lowest, serial_to=highest), engine, "1") is None
        assert both == (above_lowest and below_highest)


@pytest.mark.parametrize(
    ("bounds", "said"),
    [
        ({"positions": frozenset()}, "no position"),
        ({"serial_from": "PL-0140", "serial_to": "PL-0101"}, "PL-0140 to PL-0101 is empty"),
        ({"serial_from": "--"}, "cannot bound"),
        ({"serial_to": "9" * 65}, "cannot bound"),
        ({"mods_required": frozenset({"M1"}), "mods_barred": frozenset({"M1"})}, "M1 is both"),
    ],
)
def test_a_bound_that_could_never_hold_is_refused_when_entered(bounds: dict[str, object], said: str) -> None:
    with pytest.raises(Refused, match=said):
        Effectivity(**bounds)  # type: ignore[arg-type]


@given(st.dates(date(1990, 1, 1), date(2060, 1, 1)), st.dates(date(1990, 1, 1), date(2060, 1, 1)))
def test_of_what_ends_and_what_replaces_it_just_one_holds_on_any_day(changed: date, on: date) -> None:
    engine = replace(LINNET, on=on)
    holding = [
        applies(each, engine, "cylinder 5") is None
        for each in (Effectivity(date_until=changed), Effectivity(date_from=changed))
    ]
    assert holding == [on < changed, on >= changed]


def test_what_would_end_before_it_began_is_refused() -> None:
    for until in (date(2024, 6, 1), date(2024, 5, 31)):
        with pytest.raises(Refused, match=f"would end on {until}, before it began"):
            Effectivity(date_from=date(2024, 6, 1), date_until=until)


def test_where_something_holds_is_told_in_one_line() -> None:
    holds = Effectivity(
        "Linnet",
        frozenset({"10", "4"}),
        "PL-0140",
        None,
        frozenset({"L22"}),
        frozenset({"L31"}),
        date(2021, 3, 4),
        date(2024, 6, 1),
    )
    assert effectivity_words(holds) == (
        "Linnet, only 4, 10, serials from PL-0140, with mod L22, without mod L31, from 2021-03-04,"
        " until 2024-06-01"
    )
    assert effectivity_words(Effectivity(serial_to="PL-0140")) == "serials up to PL-0140"
    assert effectivity_words(EVERYWHERE) == ""
