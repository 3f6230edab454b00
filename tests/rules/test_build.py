"""How two builds of an engine differ, and how a build reads."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime

from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.build import (
    Build,
    BuiltPosition,
    BuiltStation,
    BuiltThing,
    Difference,
    Fitted,
    Owed,
    Presumed,
    Spot,
    WantedLine,
    difference,
    fitted,
)
from invdb.rules.build_words import build_words, difference_words
from invdb.terms import Measure

MONDAY = date(2026, 2, 16)
STATIONS = {1: "barrel", 2: "exhaust valve", 3: "exhaust springs"}
POSITIONS = {11: "1", 12: "2"}
# (position, station, holder); a piece at (None, None, None) is in the engine at no station.
Where = tuple[int | None, int | None, int | None]
Piece = tuple[Where, int, int]  # where, part, since which entry


def thing(
    number: int,
    part: int,
    since: int,
    where: Where,
    *,
    quantity: int = 0,
    inside: tuple[BuiltThing, ...] = (),
    serial: str = "",
) -> BuiltThing:
    """A piece, or with a quantity so much of a batch."""
    _, station, holder = where
    return BuiltThing(
        None if quantity else number,
        number if quantity else None,
        f"{'B' if quantity else 'T'}{number}",
        serial,
        part,
        f"VX{part}",
        "Exhaust valve",
        quantity or 1,
        Measure.COUNT,
        MONDAY,
        since,
        station,
        holder,
        f"T{holder}" if holder else "",
        inside,
    )


def build(
    pieces: Mapping[int, Piece],
    batches: Mapping[tuple[int, Where], int],
    mods: frozenset[str] = frozenset(),
    presumed: Mapping[Where, int] | None = None,
    owed: Mapping[Where, int] | None = None,
) -> Build:
    """A build from what is where: of batches the quantity, of presumptions and debts the number."""

    def at(where: Where) -> tuple[BuiltThing, ...]:
        found = [
            thing(number, part, since, where, inside=within(number))
            for number, (there, part, since) in sorted(pieces.items())
            if there == where
        ]
        found += [
            thing(number, 3, 1, where, quantity=quantity)
            for (number, there), quantity in sorted(batches.items(), key=str)
            if there == where
        ]
        return tuple(found)

    def within(holder: int) -> tuple[BuiltThing, ...]:
        return tuple(each for station in (None, *STATIONS) for each in at((None, station, holder)))

    def built(position: int, station: int, name: str) -> BuiltStation:
        where = (position, station, None)
        number, debt = (presumed or {}).get(where, 0), (owed or {}).get(where, 0)
        return BuiltStation(
            station,
            name,
            (),
            at(where),
            (),
            (Presumed(number, 1, "VX1", "Exhaust valve", 1, Measure.COUNT, MONDAY),) if number else (),
            (Owed(debt, 1, "VX1", "Exhaust valve", 1, Measure.COUNT, "T9", "Linnet Two", MONDAY),)
            if debt
            else (),
        )

    return Build(
        1,
        "Linnet One",
        "L1007",
        "Linnet",
        MONDAY,
        None,
        mods,
        tuple(
            BuiltPosition(
                position, "cylinder", name, tuple(built(position, *station) for station in STATIONS.items())
            )
            for position, name in POSITIONS.items()
        ),
        at((None, None, None)),
    )


@st.composite
def wheres(draw: st.DrawFn, below: int = 1) -> Where:
    """Somewhere in the engine, or inside a piece with a number below this one."""
    if below > 1 and draw(st.booleans()):
        return None, draw(st.sampled_from([None, *STATIONS])), draw(st.integers(1, below - 1))
    if draw(st.integers(0, 5)) == 0:
        return None, None, None
    return draw(st.sampled_from(sorted(POSITIONS))), draw(st.sampled_from(sorted(STATIONS))), None


@st.composite
def builds(draw: st.DrawFn) -> Build:
    """Up to five pieces, each somewhere in the engine; two batches; mods, presumptions and debts."""
    pieces: dict[int, Piece] = {}
    for number in range(1, 6):
        where = draw(wheres(below=number))
        if draw(st.booleans()) and (where[2] is None or where[2] in pieces):
            pieces[number] = (where, draw(st.integers(1, 2)), draw(st.integers(1, 2)))
    seats: st.SearchStrategy[Where] = st.tuples(
        st.sampled_from(sorted(POSITIONS)), st.sampled_from(sorted(STATIONS)), st.none()
    )
    return build(
        pieces,
        draw(st.dictionaries(st.tuples(st.integers(1, 2), seats), st.integers(1, 2), max_size=3)),
        frozenset(draw(st.sets(st.sampled_from(["PN 14", "PN 15"])))),
        draw(st.dictionaries(seats, st.integers(1, 2), max_size=2)),
        draw(st.dictionaries(seats, st.integers(1, 2), max_size=2)),
    )


def applied(before: Build, what: Difference) -> tuple[Counter[Fitted], frozenset[str], set[object]]:
    """What stands where after a difference is applied to a build."""
    things = Counter(fitted(before))
    things -= Counter(change.before for change in what.changes if change.before is not None)
    things += Counter(change.after for change in what.changes if change.after is not None)
    standing = stood(before)
    for station in what.stations:
        name = (station.position_name, station.station_name)
        standing |= {(name, each) for each in (*station.presumed, *station.owed)}
        standing -= {(name, each) for each in (*station.presumed_no_more, *station.owed_no_more)}
    return things, before.mods - what.mods_removed | what.mods_embodied, standing


def stood(one: Build) -> set[object]:
    return {
        ((position.name, station.name), each)
        for position in one.positions
        for station in position.stations
        for each in (*station.presumed, *station.owed)
    }


@given(builds(), builds())
def test_the_difference_applied_to_the_one_gives_the_other(before: Build, after: Build) -> None:
    assert applied(before, difference(before, after)) == (Counter(fitted(after)), after.mods, stood(after))


@given(builds(), builds())
def test_two_builds_differ_in_nothing_only_if_they_are_alike(before: Build, after: Build) -> None:
    assert difference(before, after).empty == (before == after)
    assert difference(before, before).empty


@given(builds(), builds())
def test_what_came_one_way_went_the_other(before: Build, after: Build) -> None:
    there, back = difference(before, after), difference(after, before)
    assert {(each.before, each.after) for each in there.changes} == {
        (each.after, each.before) for each in back.changes
    }
    assert (there.mods_embodied, there.mods_removed) == (back.mods_removed, back.mods_embodied)


@given(builds(), builds())
def test_every_thing_that_changed_stands_at_the_stations_it_changed_at(before: Build, after: Build) -> None:
    for station in difference(before, after).stations:
        for change in station.changes:
            spots = [each.spot for each in (change.before, change.after) if each is not None]
            assert (station.position_name, station.station_name) in {
                (spot.position_name, spot.station_name) for spot in spots
            }


VALVE_IN_1: Where = (11, 2, None)
BARREL_IN_1: Where = (11, 1, None)
BARREL_IN_2: Where = (12, 1, None)
IN_BARREL: Where = (None, 2, 1)


def said(before: Build, after: Build) -> list[str]:
    return list(difference_words(difference(before, after)))


def test_a_valve_that_came_and_one_that_went() -> None:
    before, after = build({2: (VALVE_IN_1, 1, 1)}, {}), build({3: (VALVE_IN_1, 1, 2)}, {})
    assert said(before, after) == [
        "cylinder 1, exhaust valve: went: T2 VX1 Exhaust valve",
        "cylinder 1, exhaust valve: came: T3 VX1 Exhaust valve",
    ]


def test_a_barrel_moved_to_another_cylinder_takes_along_what_is_in_it() -> None:
    before = build({1: (BARREL_IN_1, 2, 1), 2: (IN_BARREL, 1, 1)}, {})
    after = build({1: (BARREL_IN_2, 2, 2), 2: (IN_BARREL, 1, 1)}, {})
    barrel, valve = difference(before, after).changes
    assert barrel.moved and not barrel.rode_along
    assert valve.moved and valve.rode_along
    moved = "T1 VX2 Exhaust valve: moved from cylinder 1, barrel to cylinder 2, barrel"
    rode = "T2 VX1 Exhaust valve: rode along in T1 from cylinder 1 to cylinder 2"
    assert said(before, after) == [
        f"cylinder 1, barrel: {moved}",
        f"cylinder 1, exhaust valve: {rode}",
        f"cylinder 2, barrel: {moved}",
        f"cylinder 2, exhaust valve: {rode}",
    ]


def test_a_piece_taken_out_and_put_back_in_its_place_is_told_of() -> None:
    before, after = build({2: (VALVE_IN_1, 1, 1)}, {}), build({2: (VALVE_IN_1, 1, 2)}, {})
    assert said(before, after) == ["cylinder 1, exhaust valve: T2 VX1 Exhaust valve: came out and went back"]


def test_a_piece_that_turned_out_to_be_another_part() -> None:
    before, after = build({2: (VALVE_IN_1, 1, 1)}, {}), build({2: (VALVE_IN_1, 2, 1)}, {})
    (change,) = difference(before, after).changes
    assert change.part_changed and not (change.moved or change.refitted or change.came or change.went)
    assert said(before, after) == [
        "cylinder 1, exhaust valve: T2 VX2 Exhaust valve: was held for VX1 Exhaust valve"
    ]


def test_more_of_a_batch_than_before() -> None:
    before, after = build({}, {(1, VALVE_IN_1): 1}), build({}, {(1, VALVE_IN_1): 2})
    (change,) = difference(before, after).changes
    assert change.quantity_changed
    assert said(before, after) == ["cylinder 1, exhaust valve: B1 VX3 Exhaust valve, 2 off: was 1 off"]


def test_mods_presumptions_and_debts_that_changed() -> None:
    before = build({}, {}, frozenset({"PN 14"}), {VALVE_IN_1: 1}, {})
    after = build({}, {}, frozenset({"PN 15"}), {}, {VALVE_IN_1: 4})
    assert said(before, after) == [
        "Mod PN 15 embodied",
        "Mod PN 14 removed",
        "cylinder 1, exhaust valve: no longer presumed: VX1 Exhaust valve",
        "cylinder 1, exhaust valve: owed: 1 off VX1 Exhaust valve, T9 robbed for Linnet Two on 2026-02-16",
    ]
    assert said(after, before)[2:] == [
        "cylinder 1, exhaust valve: presumed, unidentified: 1 off VX1 Exhaust valve expected,"
        " since 2026-02-16",
        "cylinder 1, exhaust valve: no longer owed: VX1 Exhaust valve",
    ]


def test_builds_that_are_alike() -> None:
    one = build({2: (VALVE_IN_1, 1, 1)}, {})
    assert said(one, one) == ["Nothing differs."]


def test_a_build_reads_station_by_station() -> None:
    one = build(
        {1: (BARREL_IN_1, 2, 1), 2: (IN_BARREL, 1, 2), 3: ((None, None, 1), 1, 2), 4: ((None,) * 3, 1, 3)},
        {(1, (11, 3, None)): 2},
    )
    first, second = one.positions
    barrel, valve, springs = first.stations
    wanted = WantedLine(1, 1, "VX1", "Exhaust valve", 2, Measure.COUNT, True)
    lined = replace(
        one,
        mods=frozenset({"PN 15", "PN 14"}),
        believed_at=datetime(2026, 2, 20, 9, 30, tzinfo=UTC),
        positions=(
            replace(first, stations=(barrel, replace(valve, within=barrel.contents[0].inside[1:]), springs)),
            replace(second, stations=(replace(second.stations[0], lines=(wanted,)), *second.stations[1:])),
        ),
    )
    assert build_words(lined) == (
        "Linnet One, Linnet L1007, as fitted on 2026-02-16, as believed at 2026-02-20 09:30+00:00",
        "Mods embodied: PN 14, PN 15",
        "cylinder 1",
        "  barrel: T1 VX2 Exhaust valve, since 2026-02-16 (entry 1)",
        "  barrel: T3 VX1 Exhaust valve, in T1, since 2026-02-16 (entry 2)",
        "  exhaust valve: T2 VX1 Exhaust valve, in T1, since 2026-02-16 (entry 2)",
        "  exhaust springs: B1 VX3 Exhaust valve, 2 off, since 2026-02-16 (entry 1)",
        "cylinder 2",
        "  barrel: open; wants 2 off VX1 Exhaust valve, renewed always",
        "At no station",
        "  T4 VX1 Exhaust valve, since 2026-02-16 (entry 3)",
    )


def test_a_thing_inside_another_is_fitted_at_the_holders_position() -> None:
    one = build({1: (BARREL_IN_2, 2, 1), 2: (IN_BARREL, 1, 1)}, {})
    assert [each.spot for each in fitted(one)] == [
        Spot(12, "cylinder", "2", 1, "barrel", None, ""),
        Spot(12, "cylinder", "2", 2, "exhaust valve", 1, "T1"),
    ]
