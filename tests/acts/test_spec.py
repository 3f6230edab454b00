"""What a part must be: its specification by revisions and sizes, and what is refused of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from invdb.acts.part_size import NewPartSize, add_part_size, sizes_of, withdraw_part_size
from invdb.acts.reverse import reverse
from invdb.acts.spec import NewSpec, add_spec, ask_of_sizes, spec_on, specs_of, withdraw_spec
from invdb.acts.spec_line import NewSpecLine
from invdb.rules.limits import LineLimits
from invdb.rules.specification import SpecFacts
from invdb.terms import Asked, FieldRefused, Refused, SpecKind
from tests.shop import TODAY, Shop

YESTERDAY = TODAY - timedelta(days=1)
SOURCE = "Pellworth overhaul manual, chapter 4"
BORE = NewSpecLine(
    SpecKind.DIMENSION,
    "bore",
    unit="mm",
    new_low="105.00",
    new_high="105.03",
    worn_high="105.15",
    points="top, middle, bottom",
    directions="along, across",
    oval_max="0.05",
    taper_max="0.08",
)
WATER = NewSpecLine(
    SpecKind.PRESSURE_TEST,
    "water jacket",
    unit="bar",
    target="1.6",
    medium="water",
    hold_seconds=1200,
    drop_max="0.05",
)
CRACKS = NewSpecLine(SpecKind.CRACK_TEST, "cracks", wording="All over, by dye penetrant or better.")


def spec(
    shop: Shop, *lines: NewSpecLine, revision: str = "A", from_on: date = YESTERDAY, part: int = 0
) -> int:
    with shop.store.writing() as session:
        given = NewSpec(part or shop.barrel, revision, from_on, SOURCE, lines or (BORE,))
        return add_spec(session, given, shop.by())


def standing(shop: Shop, on: date | None = None) -> SpecFacts | None:
    with shop.store.reading() as session:
        return spec_on(session, shop.barrel, on)


def refused(shop: Shop, line: NewSpecLine) -> FieldRefused:
    with pytest.raises(FieldRefused) as caught:
        spec(shop, line)
    return caught.value


def test_a_specification_is_kept_as_published(shop: Shop) -> None:
    made = spec(shop, BORE, WATER, CRACKS)
    found = standing(shop)
    assert found is not None
    assert (found.id, found.revision, found.source) == (made, "A", SOURCE)
    bore, water, cracks = found.lines
    assert bore.limits == LineLimits(
        *("bore", "mm", "105.00", "105.03", None, "105.15", "0.05", "0.08"),
        points=("top", "middle", "bottom"),
        directions=("along", "across"),
    )
    assert (water.target, water.unit, water.medium, water.hold_seconds, water.drop_max) == (
        *("1.6", "bar", "water", 1200, "0.05"),
    )
    assert (cracks.kind, cracks.wording) == (SpecKind.CRACK_TEST, CRACKS.wording)


def test_units_are_kept_as_we_write_them_and_figures_as_published(shop: Shop) -> None:
    spec(shop, replace(BORE, unit="Inches", new_low="4 1/8 in", new_high="4.130", worn_high="4 9/64",
                       oval_max=None, taper_max=None))  # fmt: skip
    found = standing(shop)
    assert found is not None
    assert (found.lines[0].unit, found.lines[0].limits.new_low, found.lines[0].limits.worn_high) == (
        *("in", "4 1/8", "4 9/64"),
    )


def test_the_revision_in_force_on_a_day_is_the_last_that_began_by_then(shop: Shop) -> None:
    last_year = TODAY - timedelta(days=365)
    first = spec(shop, from_on=last_year)
    second = spec(shop, replace(BORE, worn_high="105.12"), revision="B")
    spec(shop, replace(BORE, worn_high="105.10"), revision="C", from_on=TODAY + timedelta(days=30))
    assert standing(shop, last_year - timedelta(days=1)) is None
    before, now = standing(shop, YESTERDAY - timedelta(days=1)), standing(shop)
    assert before is not None and now is not None
    assert (before.id, now.id) == (first, second)
    with shop.store.reading() as session:
        assert [each.revision for each in specs_of(session, shop.barrel)] == ["C", "B", "A"]


def test_the_revision_before_one_that_is_withdrawn_is_in_force_again(shop: Shop) -> None:
    first = spec(shop, from_on=YESTERDAY - timedelta(days=1))
    second = spec(shop, revision="B")
    with shop.store.writing() as session:
        entry = withdraw_spec(session, second, "printed in error", shop.by())
    found, before = standing(shop), standing(shop, YESTERDAY)
    assert found is not None and before is not None
    assert (found.id, before.id) == (first, second)
    with shop.store.writing() as session:
        reverse(session, entry, "it was right", shop.by())
    found = standing(shop)
    assert found is not None and found.id == second


def test_a_line_of_a_size_holds_for_that_size_and_the_rest_for_every_size(shop: Shop) -> None:
    with shop.store.writing() as session:
        add_part_size(session, NewPartSize(shop.barrel, "0.25 mm oversize"), shop.by())
    larger = replace(
        BORE, size_class="0.25 MM Oversize", new_low="105.25", new_high="105.28", worn_high="105.40"
    )
    spec(shop, BORE, larger, WATER)
    found = standing(shop)
    assert found is not None
    assert [line.limits.new_low for line in found.lines_for("")] == ["105.00", None]
    assert [line.limits.new_low for line in found.lines_for("0.25 mm oversize")] == ["105.25", None]
    assert [line.limits.new_low for line in found.lines_for("0.50 mm oversize")] == ["105.00", None]
    assert found.lines[1].size_class == "0.25 mm oversize", "as its part names it"


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"new_low": "105.03", "new_high": "105.00"}, "new_high"),
        ({"worn_high": "105.02"}, "worn_high"),
        ({"worn_low": "105.01"}, "worn_low"),
        ({"new_low": "-105"}, "new_low"),
        ({"new_low": "105.00.1"}, "new_low"),
        ({"new_low": "1/0"}, "new_low"),
        ({"new_high": "4.13 in"}, "new_high"),
        ({"new_high": "3 g"}, "new_high"),
        ({"unit": "furlong"}, "unit"),
        ({"unit": "bar"}, "unit"),
        ({"unit": ""}, "unit"),
        ({"name": " "}, "name"),
        ({"target": "105.05"}, "target"),
        ({"directions": "along"}, "directions"),
        ({"points": ""}, "points"),
        ({"points": "top, Top"}, "points"),
        ({"points": "top,,bottom"}, "points"),
        ({"size_class": "0.25 mm oversize"}, "size_class"),
        ({"hold_seconds": 60}, "hold_seconds"),
        ({"medium": "air"}, "medium"),
        ({"spread_max": "3"}, "spread_max"),
    ],
)
def test_a_line_that_contradicts_itself_is_refused(
    shop: Shop, changed: dict[str, object], field: str
) -> None:
    said = refused(shop, replace(BORE, **changed))  # type: ignore[arg-type]
    assert said.field == field
    assert not isinstance(said, Asked)


def test_a_decimal_comma_is_asked_about(shop: Shop) -> None:
    comma = replace(BORE, new_low="105,00")
    assert isinstance(refused(shop, comma), Asked)
    with shop.store.writing() as session:
        add_spec(session, NewSpec(shop.barrel, "A", TODAY, SOURCE, (comma,)), shop.by(), sure=True)
    found = standing(shop)
    assert found is not None and found.lines[0].limits.new_low == "105.00"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (replace(BORE, hold_seconds=60), "bore: A dimension has no time to be held."),
        (replace(BORE, medium="air"), "bore: A dimension has no medium."),
        (replace(BORE, unit=""), "bore: No unit is given."),
        (replace(BORE, points="top; bottom"), "bore: 'top; bottom' has a ; in it."),
        (replace(BORE, points="top/bottom"), "bore: 'top/bottom' has a / in it."),
        (replace(BORE, name="load @ 35 mm"), "'load @ 35 mm' has an @, which stands before a point."),
        (replace(BORE, new_low="0", new_high="0.0", worn_high=None),
         "The upper new limit of bore, 0.0 mm, is nothing."),
        (NewSpecLine(SpecKind.MASS, "mass", unit="g", spread_max="0"),
         "The spread in one set of mass, 0 g, is nothing."),
        (NewSpecLine(SpecKind.TORQUE, "studs", unit="N·m", target="0"), "studs: The torque is not given."),
        (NewSpecLine(SpecKind.MASS, "m", unit="mm"), "m: A mass is not measured in mm."),
    ],
)  # fmt: skip
def test_a_refusal_says_of_which_line_what_is_wrong(shop: Shop, line: NewSpecLine, said: str) -> None:
    assert refused(shop, line).reason == said


def test_directions_may_be_named_with_a_stroke(shop: Shop) -> None:
    spec(shop, replace(BORE, directions="fore/aft, across"))
    found = standing(shop)
    assert found is not None and found.lines[0].limits.directions == ("fore/aft", "across")


def test_names_are_kept_with_one_space_between_their_words(shop: Shop) -> None:
    land = replace(BORE, name=" lower   land ", points="top  end, bottom end")
    spec(shop, land)
    found = standing(shop)
    assert found is not None
    assert (found.lines[0].name, found.lines[0].limits.points) == ("lower land", ("top end", "bottom end"))
    with pytest.raises(FieldRefused, match="Lower land is named twice"):
        spec(shop, land, replace(land, name="Lower land"), revision="B", from_on=TODAY)


def test_sizes_that_measuring_could_not_tell_apart_are_asked_about() -> None:
    larger = replace(BORE, size_class="0.25 mm oversize", new_low="105.03", new_high="105.06")
    with pytest.raises(Asked, match=r"bore for the standard size and for 0\.25 mm oversize overlap"):
        ask_of_sizes((BORE, larger))
    ask_of_sizes((BORE, replace(larger, new_low="105.031")))
    ask_of_sizes((BORE, replace(larger, new_low=BORE.new_low, new_high=BORE.new_high)))


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"target": None}, "target"),
        ({"target": "0"}, "target"),
        ({"medium": " "}, "medium"),
        ({"hold_seconds": None}, "hold_seconds"),
        ({"hold_seconds": 0}, "hold_seconds"),
        ({"drop_max": "1.6"}, "drop_max"),
        ({"unit": "mm"}, "unit"),
        ({"new_high": "2"}, "new_high"),
    ],
)
def test_a_pressure_test_says_all_that_is_asked(shop: Shop, changed: dict[str, object], field: str) -> None:
    assert refused(shop, replace(WATER, **changed)).field == field  # type: ignore[arg-type]


def test_a_line_in_words_has_words_and_no_figures(shop: Shop) -> None:
    assert refused(shop, replace(CRACKS, wording="")).field == "wording"
    assert refused(shop, replace(CRACKS, unit="mm")).field == "unit"
    assert refused(shop, replace(CRACKS, new_low="3")).field == "new_low"


def test_a_torque_says_how_much(shop: Shop) -> None:
    assert refused(shop, NewSpecLine(SpecKind.TORQUE, "studs", unit="lbf ft")).field == "target"
    spec(shop, NewSpecLine(SpecKind.TORQUE, "studs", unit="lbf ft", target="35"))


def test_a_line_is_named_once_for_each_size(shop: Shop) -> None:
    with pytest.raises(FieldRefused, match="Bore is named twice") as caught:
        spec(shop, BORE, replace(BORE, name=" Bore "))
    assert caught.value.field == "name"


def test_a_later_revision_that_writes_a_name_in_other_case_means_the_same_line(shop: Shop) -> None:
    with shop.store.writing() as session:
        add_part_size(session, NewPartSize(shop.barrel, "0.25 mm oversize"), shop.by())
    wide = replace(BORE, name="Bore", size_class="0.25 mm oversize", new_low="105.02", new_high="105.05")
    spec(shop, BORE, wide)
    spec(shop, replace(BORE, name="BORE"), WATER, revision="B", from_on=TODAY)
    first, second = standing(shop, YESTERDAY), standing(shop)
    assert first is not None and second is not None
    assert [line.name for line in first.lines] == ["bore", "bore"]
    assert [line.size_class for line in first.lines_for("0.25 mm oversize")] == ["0.25 mm oversize"]
    assert [line.name for line in second.lines] == ["bore", "water jacket"]


def test_a_revision_is_put_in_once_and_says_what_publishes_it(shop: Shop) -> None:
    spec(shop)
    for given, field in (
        (NewSpec(shop.barrel, "a", TODAY, SOURCE, (BORE,)), "revision"),
        (NewSpec(shop.barrel, " ", TODAY, SOURCE, (BORE,)), "revision"),
        (NewSpec(shop.barrel, "B", YESTERDAY, SOURCE, (BORE,)), "from_on"),
        (NewSpec(shop.barrel, "B", date(203, 1, 1), SOURCE, (BORE,)), "from_on"),
        (NewSpec(shop.barrel, "B", TODAY, "", (BORE,)), "source"),
        (NewSpec(shop.barrel, "B", TODAY, "", (BORE,), document=99), "document"),
        (NewSpec(shop.barrel, "B", TODAY, SOURCE, ()), "lines"),
        (NewSpec(999, "B", TODAY, SOURCE, (BORE,)), "part"),
    ):
        with shop.store.writing() as session, pytest.raises(FieldRefused) as caught:
            add_spec(session, given, shop.by())
        assert caught.value.field == field
    with shop.store.writing() as session:
        with pytest.raises(Refused):
            withdraw_spec(session, 999, "never was", shop.by())
        with pytest.raises(FieldRefused):
            withdraw_spec(session, 1, " ", shop.by())
        withdraw_spec(session, 1, "superseded", shop.by())
        with pytest.raises(Refused, match="was withdrawn"):
            withdraw_spec(session, 1, "again", shop.by())


def test_the_sizes_of_a_part_begin_with_its_own(shop: Shop) -> None:
    with shop.store.writing() as session:
        first = add_part_size(session, NewPartSize(shop.barrel, " 0.25 mm oversize "), shop.by(YESTERDAY))
        add_part_size(session, NewPartSize(shop.barrel, "0.50 mm oversize"), shop.by(YESTERDAY))
        for name in ("0.25 MM oversize", "0.25  mm oversize", "", "Standard", "standard size"):
            with pytest.raises(FieldRefused) as caught:
                add_part_size(session, NewPartSize(shop.barrel, name), shop.by())
            assert caught.value.field == "size_class"
        with pytest.raises(FieldRefused):
            withdraw_part_size(session, first, "", shop.by())
        withdraw_part_size(session, first, "no rings to be had", shop.by())
        with pytest.raises(Refused):
            withdraw_part_size(session, first, "again", shop.by())
    with shop.store.reading() as session:
        assert [each.size_class for each in sizes_of(session, shop.barrel)] == ["", "0.50 mm oversize"]
        assert [each.size_class for each in sizes_of(session, shop.barrel, YESTERDAY)] == [
            *("", "0.25 mm oversize", "0.50 mm oversize"),
        ]
