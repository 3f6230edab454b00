"""Figures as the bench writes them, exact to the last digit, and what is asked about or refused."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.measuring import (
    UNITS,
    both_ways,
    in_base_units,
    kept,
    other_unit,
    places_of,
    read_measured,
    same_kind,
    shown,
    sort_key,
    unit_named,
)
from invdb.terms import Asked, FieldRefused

# One of each in its base unit: the yard and pound agreement of 1959 and standard gravity, 9.80665 m/s².
POUND = Fraction(45359237, 100_000)
GRAVITY = Fraction(980665, 100_000)
POUND_FORCE = POUND / 1000 * GRAVITY
ONE: dict[str, Fraction | int] = {
    "mm": 1,
    "µm": Fraction(1, 1000),
    "in": Fraction(254, 10),
    "thou": Fraction(254, 10_000),
    "g": 1,
    "kg": 1000,
    "oz": POUND / 16,
    "lb": POUND,
    "N·m": 1,
    "kgf m": GRAVITY,
    "lbf ft": POUND_FORCE * Fraction(3048, 10_000),
    "lbf in": POUND_FORCE * Fraction(254, 10_000),
    "bar": 1,
    "kPa": Fraction(1, 100),
    "kgf/cm²": GRAVITY / 10,
    "lbf/in²": POUND_FORCE / Fraction(254, 10_000) ** 2 / 100_000,
    "N": 1,
    "kgf": GRAVITY,
    "lbf": POUND_FORCE,
    "°": 1,
}


def test_every_unit_is_exactly_what_the_agreements_say() -> None:
    assert {unit: in_base_units(unit) for unit in UNITS} == ONE


@pytest.mark.parametrize(
    ("typed", "unit", "value"),
    [
        ("3.9375", "in", Fraction(39375, 10_000) * Fraction(254, 10)),
        ("3 15/16", "in", Fraction(63, 16) * Fraction(254, 10)),
        ("3-15/16", "in", Fraction(63, 16) * Fraction(254, 10)),
        ('15/16"', "mm", Fraction(15, 16) * Fraction(254, 10)),
        ("12 thou", "in", Fraction(3048, 10_000)),
        ("100.0125 mm", "in", Fraction(1_000_125, 10_000)),
        (".5", "mm", Fraction(1, 2)),
        ("5.", "mm", 5),
        ("+ 4", "mm", 4),
        ("1 lb", "g", POUND),
        ("20 psi", "bar", 20 * ONE["lbf/in²"]),
        ("40 lb ft", "N·m", 40 * ONE["lbf ft"]),
        ("3⅞", "in", Fraction(31, 8) * Fraction(254, 10)),
        ("3 ⅞ in", "mm", Fraction(31, 8) * Fraction(254, 10)),
        ("¼", "in", Fraction(635, 100)),
        ("15⁄16 in", "mm", Fraction(15, 16) * Fraction(254, 10)),
        ("2\u00a0mm", "in", 2),
    ],
)
def test_what_a_person_types_is_read_exactly(typed: str, unit: str, value: Fraction) -> None:
    assert read_measured(typed, unit).value == value


def test_three_and_fifteen_sixteenths_of_an_inch_is_so_many_millimetres_to_the_last_digit() -> None:
    assert both_ways(read_measured("3 15/16", "in")) == "3 15/16 in (100.0125 mm)"
    assert both_ways(read_measured("0.1", "µm")) == "0.1 µm (0 in)"
    assert both_ways(read_measured("45", "°")) == "45 °"


def test_a_fraction_of_one_character_is_kept_as_its_two_numbers() -> None:
    assert read_measured("3⅞", "in").words == "3 7/8 in"
    assert kept("3 7/8", "in").value == read_measured("3⅞", "in").value


def test_a_figure_without_a_unit_of_its_own_is_read_by_the_one_behind_it() -> None:
    assert read_measured("5½ in", "").words == "5 1/2 in"
    assert read_measured("40 lb ft", "").unit == "lbf ft"
    with pytest.raises(FieldRefused, match=r"'5\.5' has no unit"):
        read_measured("5.5", "")
    with pytest.raises(FieldRefused, match="No figure is given"):
        read_measured(" ", "")


@pytest.mark.parametrize("typed", ["3,15", "1,250", "3,15 mm"])
def test_a_comma_is_asked_about(typed: str) -> None:
    with pytest.raises(Asked, match="comma"):
        read_measured(typed, "mm")


def test_a_comma_said_to_be_a_decimal_point_is_one() -> None:
    assert read_measured("3,15", "mm", sure=True).value == Fraction(315, 100)
    assert read_measured("3,15", "mm", sure=True).text == "3.15"
    for unclear in ("1,250.5", "3,1,5", "3,1/2"):
        for sure in (False, True):
            with pytest.raises(FieldRefused, match="no decimal point") as refused:
                read_measured(unclear, "mm", sure=sure)
            assert not isinstance(refused.value, Asked)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("3.15.2", "no figure"),
        ("1/0", "divides by nothing"),
        ("3 1/0", "divides by nothing"),
        ("3 16/16", "no fraction"),
        ("3 1/2 1/4", "no figure"),
        ("3.5 1/2", "no figure"),
        ("3 - 1/2", "no figure"),
        ("3 -1/2", "no figure"),
        ("½½", "no figure"),
        ("3.5½", "no figure"),
        ("3 in 5 mm", "more than one"),
        ("3 mm 4", "more than one"),
        ("3 mm thou", "no unit"),
        ("3 furlongs", "no unit"),
        ("12 g", "in g"),
        ("-0.02", "below zero"),
        ("−0.02", "below zero"),
        ("", "No figure"),
        ("   ", "No figure"),
        ("mm", "no figure"),
        ("nan", "no figure"),
        ("1e5", "more than one"),
        ("１２", "no figure"),
        ("9" * 9, "beyond any engine"),
        ("9" * 80, "too long"),
        ("3\x00", "no unit"),
    ],
)
def test_what_is_no_figure_is_refused(typed: str, said: str) -> None:
    with pytest.raises(FieldRefused, match=said):
        read_measured(typed, "mm")


def test_a_unit_that_is_none_names_those_that_would_do() -> None:
    with pytest.raises(FieldRefused) as refused:
        read_measured("3 furlongs", "mm")
    assert refused.value.remedy == "Use one of: mm, µm, in, thou."
    with pytest.raises(FieldRefused, match="No unit is given") as refused:
        unit_named(" ")
    assert "N·m" in refused.value.remedy


def test_an_interference_may_be_below_zero() -> None:
    assert read_measured("-0.02", "mm", signed=True).value == Fraction(-2, 100)
    assert shown(Fraction(-2, 100), "mm") == "−0.02 mm"


def test_units_are_known_by_what_people_call_them() -> None:
    assert [unit_named(each) for each in ('"', "PSI", "lb ft", "um", "Nm", "kg/cm2")] == [
        *("in", "lbf/in²", "lbf ft", "µm", "N·m", "kgf/cm²")
    ]
    assert same_kind("thou", "mm")
    assert not same_kind("N", "N·m")
    assert all(same_kind(unit, other_unit(unit) or unit) for unit in UNITS)


@given(st.decimals(min_value=0, max_value=9999, places=6), st.sampled_from(["mm", "in", "thou", "g", "bar"]))
def test_a_kept_figure_is_the_figure_that_was_typed(figure: Decimal, unit: str) -> None:
    measured = read_measured(f"{figure:f}", unit)
    assert measured.value == Fraction(figure) * ONE[unit]
    assert kept(measured.text, measured.unit) == measured


@given(st.lists(st.decimals(min_value=0, max_value=999, places=4), min_size=2))
def test_figures_sort_as_they_measure(figures: list[Decimal]) -> None:
    measured = [read_measured(f"{figure:f}", "mm") for figure in figures]
    assert sorted(measured, key=sort_key) == sorted(measured, key=lambda each: each.value)


def test_a_figure_keeps_the_places_that_it_was_published_with() -> None:
    assert places_of("0.240", "0.37", None, "3 15/16") == 3
    assert shown(Fraction(34, 100), "mm", least=3) == "0.340 mm"
    assert shown(Fraction(34, 100), "mm") == "0.34 mm"
    assert shown(Fraction(3405, 10000), "mm", least=3) == "0.3405 mm"
    assert shown(Fraction(2), "mm", least=2) == "2.00 mm"
