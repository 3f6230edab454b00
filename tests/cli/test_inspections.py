"""At the bench from the command line: specifications, instruments, and inspections by them."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import pypdf
import pytest

from invdb.cli.bench_words import COLUMNS
from invdb.terms import Condition, Scope
from tests.bench_shop import BenchShop, bores, furnished
from tests.cli.conftest import Run
from tests.cli.test_engines import SAFETY, refused, said
from tests.kit_shop import state_of
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)
CHECKED = ("--right-part", "as drawn", "--papers-match", "read", "--damage", "none")
HELD = ("--test", "water jacket=1.62 bar to 1.60 bar in 20 min")
NO_CRACKS = ("--test", "cracks=passed by dye penetrant")


@pytest.fixture
def run(run: Run) -> Run:
    """A command typed on the day that the small workshop stands at."""
    return lambda *words: run("--on", TODAY.isoformat(), *words)


@pytest.fixture
def bench(workshop: Shop) -> BenchShop:
    return furnished(workshop)


@pytest.fixture
def tag(bench: BenchShop) -> str:
    return state_of(bench.shop, bench.barrel).tag


@pytest.fixture
def barrel(workshop: Shop, run: Run) -> str:
    """The part number of the barrel."""
    found = json.loads(said(run, "--json", "find", "Cylinder", "barrel"))
    return str(found["found"][0]["headline"])


def figures(*figure: str) -> tuple[str, ...]:
    """The bore at its four places, as options."""
    texts = figure * 4 if len(figure) == 1 else figure
    places = [f"bore@{each.point}/{each.direction}" for each in bores()]
    return tuple(
        word for place, text in zip(places, texts, strict=True) for word in ("--reading", f"{place}={text}")
    )


def test_a_sheet_is_laid_out_judged_and_kept(run: Run, bench: BenchShop, tag: str, tmp_path: Path) -> None:
    blank = tmp_path / "blank.pdf"
    sheet = said(run, "inspect", tag, "--pdf", str(blank))
    assert "bore (dimension): new 105.00 mm (4.13386 in) to 105.03 mm" in sheet
    assert "top across" in sheet and "hold" not in sheet and SAFETY in sheet
    assert pypdf.PdfReader(blank).pages
    looked = said(run, "inspect", tag, *figures("105.10"), *HELD)
    assert "not taken: cracks" in looked and "Nothing is kept" in looked and SAFETY in looked
    assert "so it stays uninspected" in looked
    full = (*figures("105.10 mm with M-03"), *HELD, *NO_CRACKS)
    kept = said(run, "inspect", tag, *full, "--decide", "serviceable", "--scope", "flight", *CHECKED)
    assert "bore top along: worn 0.07 mm over the upper new limit" in kept
    assert "Kept as inspection 1: serviceable for flight." in kept
    stands = state_of(bench.shop, bench.barrel)
    assert (stands.condition, stands.scope) == (Condition.SERVICEABLE, Scope.FLIGHT)
    again = said(run, "inspect", tag)
    assert f"top across: last 105.10 mm (4.1378 in) on {TODAY.isoformat()}, within worn limits" in again
    assert f"Inspection 1, {TODAY.isoformat()} by Ada Farrow: serviceable for flight" in again
    filled = tmp_path / "filled.pdf"
    shown = said(run, "inspect", tag, "--inspection", "1", "--pdf", str(filled))
    assert "bore top along: 105.10 mm" in shown and "with M-03 bore gauge, calibrated on" in shown
    assert "water jacket: passed; dropped 0.02 bar in 20 min" in shown
    assert "HL 2041" in pypdf.PdfReader(filled).pages[0].extract_text()


def test_what_is_asked_about_and_refused_at_the_bench(run: Run, bench: BenchShop, tag: str) -> None:
    slip = ("inspect", tag, *figures("1051.0", "105.1", "105.1", "105.1"))
    assert "ten times too big" in refused(run, *slip) and "(--sure)" in refused(run, *slip)
    assert "out of limits" not in said(run, *slip, "--sure")
    out = ("inspect", tag, *figures("105.2"), *HELD, *NO_CRACKS, "--decide", "serviceable", *CHECKED)
    assert "can't be accepted for flight" in refused(run, *out, "--scope", "flight", "--reason", "wanted")
    assert "Give the reason" in refused(run, *out, "--scope", "display")
    assert "Kept as inspection" in said(run, *out, "--scope", "display", "--reason", "for the show")
    for words, why in (
        (("--reading", "bore 105.1"), "is no figure of a line"),
        (("--reading", "bore@top=105.1"), "The direction of bore is missing"),
        (("--reading", "bore@top/across=105.1 with M-99"), "There is no instrument"),
        (("--test", "cracks"), "is no test of a line"),
        (("--test", "cracks=good"), "says neither passed nor not passed"),
        (("--test", "cracks=passed by staring"), "no way to look for cracks"),
        (("--test", "cracks=passed"), "how cracks were looked for"),
        (("--test", "water jacket=1.62 to 1.60 in a while"), "is no time"),
        (("--test", "water jacket=1.62 to 1.60 in 5 min", "--decide", "serviceable", "--scope", "display"),
         "held for 5 min, and 20 min is asked"),
    ):  # fmt: skip
        assert why in refused(run, "inspect", tag, *words)
    assert run("inspect", tag, "--scope", "flight")[0] == 2
    assert run("inspect", tag, *HELD, "--scope", "flight")[0] == 2
    assert "has no inspection 9" in refused(run, "inspect", tag, "--inspection", "9")


def test_an_instrument_is_named_by_its_number_with_its_spaces(run: Run, bench: BenchShop, tag: str) -> None:
    days = ("--calibrated", TODAY.isoformat(), "--due", (TODAY + DAY).isoformat())
    said(run, "instrument", "G 03", "--name", "bore gauge", *days)
    said(run, "inspect", tag, *figures("105.1 mm with g 03"), "--decide", "uninspected")
    assert "with G 03 bore gauge" in said(run, "inspect", tag, "--inspection", "1")
    assert "no instrument 'G 99'" in refused(run, "inspect", tag, "--reading", "mass=1 kg with G 99")
    assert "names no instrument" in refused(run, "inspect", tag, "--reading", "mass=1 kg with")


def test_what_no_line_asks_for_is_said_so_that_a_mistyped_name_is_seen(
    run: Run, bench: BenchShop, tag: str
) -> None:
    looked = said(run, "inspect", tag, "--reading", "bor=105.1 mm", "--test", "fins=passed: whole")
    assert "bor: no line asks for it, so nothing judges it" in looked
    assert "fins: passed: whole" in looked
    assert "no line asks" not in said(run, "inspect", tag, "--reading", " MASS =8 kg")
    for figure, why in (
        ("bor=105.1", "'105.1' has no unit"),
        ("bor=4 in 12 mm", "'4 in 12 mm' has more than one figure or unit"),
        ("mass=NaN", "'NaN' is no figure"),
        ("studs=40", "studs is a torque, of which no figure is taken"),
    ):
        assert why in refused(run, "inspect", tag, "--reading", figure)
    assert "bore is a dimension, which is not passed" in refused(run, "inspect", tag, "--test", "bore=passed")


def test_a_pressure_test_says_its_medium_where_it_is_another(run: Run, bench: BenchShop, tag: str) -> None:
    air = ("inspect", tag, "--test", "water jacket=1.62 bar to 1.60 bar of air in 20 min")
    assert "it was tested with air, and water is asked" in refused(run, *air)
    assert "water jacket: dropped 0.02 bar in 20 min" in said(run, *air, "--sure")
    sump = "sump=7 psi to 7 psi of oil in 5 min, passed"
    assert "sump" in said(run, "inspect", tag, "--test", sump)


def test_a_pressure_test_may_be_said_to_be_passed_against_its_figures(
    run: Run, bench: BenchShop, tag: str
) -> None:
    tests = ("--test", "water jacket=1.62 to 1.40 in 1 h 30 min, passed: gauge cock open", *NO_CRACKS)
    words = ("inspect", tag, *figures("105.1"), *tests, "--decide", "unserviceable")
    assert "against its figures" in refused(run, *words)
    assert "Kept as inspection" in said(run, *words, "--reason", "to be tested again")


def test_a_sheet_for_any_piece_of_a_part(run: Run, bench: BenchShop, barrel: str, tmp_path: Path) -> None:
    blank = tmp_path / "blank.pdf"
    assert f"{barrel} Cylinder barrel, standard size" in said(run, "inspect", barrel, "--pdf", str(blank))
    assert SAFETY in " ".join(pypdf.PdfReader(blank).pages[0].extract_text().split())
    assert "no size" in refused(run, "inspect", barrel, "--size", "0.25 mm oversize")
    assert "is not the shape of a tag" in refused(run, "inspect", "crankcase")


def test_a_specification_is_put_in_from_a_file_and_withdrawn(
    run: Run, bench: BenchShop, barrel: str, tmp_path: Path
) -> None:
    file = tmp_path / "barrel.csv"
    lines = (
        {"Kind": "dimension", "Name": "bore", "Unit": "mm", "New low": "105", "New high": "105.03"},
        {"Kind": "dimension", "Name": "bore", "Size": "0.25 mm oversize", "Unit": "in",
         "New low": "4.144", "New high": "4.145"},
        {"Kind": "pressure test", "Name": "water jacket", "Unit": "bar", "Target": "1.6", "Medium": "water",
         "Hold": "20 min", "Drop": "0.05"},
    )  # fmt: skip
    text = [",".join(COLUMNS), *(",".join(line.get(column, "") for column in COLUMNS) for line in lines)]
    file.write_text("\n".join(text), encoding="utf-8")
    revision = ("--revision", "B", "--source", "bulletin 9", "--from", TODAY.isoformat())
    put_in = ("spec", barrel, "--put-in", str(file), *revision)
    file.write_text("\n".join(text).replace(",", ";"), encoding="utf-8")
    assert "its cells are parted by semicolons" in refused(run, *put_in)
    file.write_text("\n".join(text).replace("105.03", '"105,03"'), encoding="utf-8")
    assert "has a comma" in refused(run, "spec", barrel, "--put-in", str(file), *revision)
    file.write_text("\n".join(text), encoding="utf-8")
    assert "has no size '0.25 mm oversize'" in refused(run, *put_in)
    said(run, "spec", barrel, "--add-size", "0.25 mm oversize")
    past = ("--revision", "A0", "--source", "bulletin 1", "--from", "2019-01-01")
    commas = tmp_path / "commas.csv"
    commas.write_text("\n".join(text[:2]).replace("105.03", '"105,03"'), encoding="utf-8")
    early = said(run, "spec", barrel, "--put-in", str(commas), *past, "--sure")
    assert early == f"Put in: revision A0 of {barrel}, 1 line. In force today is revision A.\n"
    assert said(run, *put_in) == f"Put in: revision B of {barrel}, 3 lines.\n"
    shown = said(run, "spec", barrel)
    assert "Revision B from" in shown and "bulletin 9, in force" in shown and "Revision A from" in shown
    assert "0.25 mm oversize: bore (dimension): new 4.144 in (105.2576 mm)" in shown
    assert "with water, at 1.6 bar (23.21 lbf/in²), held for 20 min" in shown
    before = said(run, "spec", barrel, "--on", (TODAY - DAY).isoformat())
    assert "bulletin 9, in force" not in before
    assert "isn't said why" in refused(run, "spec", barrel, "--withdraw", "B")
    said(run, "spec", barrel, "--withdraw", "b", "--because", "printed in error")
    assert f"withdrawn on {TODAY.isoformat()}" in said(run, "spec", barrel)
    assert "no revision 'C'" in refused(run, "spec", barrel, "--withdraw", "C", "--because", "x")
    said(run, "spec", barrel, "--withdraw-size", "0.25 MM oversize", "--because", "no rings")
    assert "is not made in" in refused(run, "spec", barrel, "--withdraw-size", "odd", "--because", "x")
    assert run("spec", barrel, "--withdraw", "A", "--add-size", "x")[0] == 2
    assert run("spec", barrel, "--put-in", str(file))[0] == 2
    file.write_text(f"{text[0]}\n{text[3].replace('20 min', 'long')}\n", encoding="utf-8")
    assert "line 2, column Hold: 'long' is no time" in refused(run, *put_in)
    assert "There is no CSV file" in refused(
        run, *(word.replace("barrel.csv", "none.csv") for word in put_in)
    )


def test_instruments_are_added_calibrated_and_withdrawn(run: Run, bench: BenchShop) -> None:
    days = ("--calibrated", (TODAY - DAY).isoformat(), "--due", (TODAY + 30 * DAY).isoformat())
    assert "Added: W-01 scales." in said(run, "instrument", "W-01", "--name", "scales")
    assert "has no calibration" in said(run, "instrument")
    assert "Calibrated: W-01" in said(run, "instrument", "W-01", *days)
    assert f"calibrated on {(TODAY - DAY).isoformat()}, until" in said(run, "instrument")
    assert "is taken" in refused(run, "instrument", "w-01", "--name", "scales")
    assert "Withdrawn: W-01." in said(run, "instrument", "W-01", "--withdraw", "dropped")
    assert "W-01" not in said(run, "instrument")
    assert "W-01 was withdrawn on" in refused(run, "instrument", "W-01", *days)
    assert "There is no instrument 'W-99'" in refused(run, "instrument", "W-99", *days)
    assert run("instrument", "W-01")[0] == 2
    assert run("instrument", "--name", "scales")[0] == 2


def test_the_fits_of_a_group_that_an_engine_has_not_are_refused(run: Run) -> None:
    assert "no group of the Linnet called 'wing'" in refused(run, "fits", "Linnet One", "--group", "wing")
    assert "as it is built" in said(run, "fits", "Linnet One", "--group", "Cylinder")


def test_every_command_at_the_bench_has_its_help(run: Run) -> None:
    for command in ("inspect", "spec", "instrument"):
        code, out, _ = run(command, "--help")
        assert code == 0 and "Usage" in out
