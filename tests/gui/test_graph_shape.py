"""Where the parts of a picture of alternates stand."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from gui.shown_graph import Graph, GraphLink, GraphNode
from gui.widgets.graph_shape import LINK, PART, GraphShape, spread

ROD, NEW_ROD, NEWEST, OLD_ROD, CAP = 1, 2, 3, 4, 5


def link(key: int, part: int, *members: int, both_ways: bool = False) -> GraphLink:
    sign = "both ways" if both_ways else "may stand in"
    return GraphLink(key, part, tuple((each, 1) for each in members), sign, "Leaflet 3", "", both_ways)


def shape(middle: int, *links: GraphLink) -> GraphShape:
    parts = {middle, *(link.part for link in links), *(part for each in links for part, _ in each.members)}
    nodes = tuple(GraphNode(part, f"RD{part:04}-K", "Rod") for part in sorted(parts))
    return GraphShape(Graph(middle, nodes, links))


def column(of: GraphShape, part: int) -> int:
    return of.spots[PART, part].column


def test_what_stands_in_is_to_the_right_and_what_it_stands_in_for_to_the_left() -> None:
    found = shape(NEW_ROD, link(1, OLD_ROD, NEW_ROD), link(2, NEW_ROD, NEWEST))
    assert [column(found, part) for part in (OLD_ROD, NEW_ROD, NEWEST)] == [-2, 0, 2]
    assert (found.spots[LINK, 1].column, found.spots[LINK, 2].column) == (-1, 1)


def test_a_chain_goes_on_step_by_step() -> None:
    found = shape(OLD_ROD, link(1, OLD_ROD, ROD), link(2, ROD, NEW_ROD), link(3, NEW_ROD, NEWEST))
    assert [column(found, part) for part in (OLD_ROD, ROD, NEW_ROD, NEWEST)] == [0, 2, 4, 6]


def test_a_pair_good_both_ways_stands_to_the_right_from_either_end() -> None:
    pair = link(1, ROD, NEW_ROD, both_ways=True)
    for middle, other in ((ROD, NEW_ROD), (NEW_ROD, ROD)):
        found = shape(middle, pair)
        assert (column(found, middle), column(found, other), found.spots[LINK, 1].column) == (0, 2, 1)


def test_a_set_stands_together_and_what_is_said_of_it_between() -> None:
    found = shape(ROD, link(1, ROD, NEW_ROD, CAP))
    rows = [found.spots[PART, part].row for part in (NEW_ROD, CAP)]
    assert column(found, NEW_ROD) == column(found, CAP) == 2
    assert sum(rows) == 0 and found.spots[LINK, 1].row == 0
    seen_from_a_member = shape(CAP, link(1, ROD, NEW_ROD, CAP))
    assert [column(seen_from_a_member, part) for part in (ROD, NEW_ROD, CAP)] == [-2, 0, 0]


def test_the_part_in_question_is_in_the_middle_whatever_shares_its_column() -> None:
    found = shape(CAP, link(1, ROD, NEW_ROD, CAP), link(2, ROD, OLD_ROD))
    assert found.spots[PART, CAP].row == 0
    beside = [spot.row for (kind, _), spot in found.spots.items() if kind == PART and spot.column == 0]
    assert sorted(beside) == [0, 1, 2]


def test_the_arrows_lead_from_a_part_to_what_is_said_of_a_link_and_on() -> None:
    found = shape(ROD, link(1, ROD, NEW_ROD), link(2, ROD, NEWEST), link(3, OLD_ROD, ROD))
    assert found.towards((PART, ROD), "Left") == (LINK, 3)
    assert found.towards((LINK, 3), "Left") == (PART, OLD_ROD)
    assert found.towards((PART, OLD_ROD), "Left") is None
    assert found.towards((PART, NEW_ROD), "Down") == (PART, NEWEST)
    assert found.towards((LINK, 2), "Up") == (LINK, 1)
    assert found.towards((LINK, 2), "Right") == (PART, NEWEST)
    assert found.towards((PART, NEW_ROD), "Up") is None


steps = st.lists(
    st.tuples(
        st.integers(1, 9), st.lists(st.integers(1, 9), min_size=1, max_size=3, unique=True), st.booleans()
    ).filter(lambda step: step[0] not in step[1]),
    min_size=1,
    max_size=12,
)


@given(steps, st.integers(1, 9))
def test_nothing_stands_upon_anything_else_whatever_stands_in_for_what(
    drawn: list[tuple[int, list[int], bool]], middle: int
) -> None:
    links = [link(key, part, *members, both_ways=way) for key, (part, members, way) in enumerate(drawn)]
    found = shape(middle, *links)
    assert found.spots[PART, middle].column == 0
    assert {key for kind, key in found.spots if kind == LINK} == set(range(len(links)))
    spots = sorted((spot.column, spot.row) for spot in found.spots.values())
    for (column_one, one), (column_other, other) in zip(spots, spots[1:], strict=False):
        assert column_one != column_other or other - one > 0.999


@given(st.lists(st.floats(-20, 20), min_size=1, max_size=15))
def test_heights_are_spread_a_row_apart_and_about_where_they_were_wanted(wanted: list[float]) -> None:
    rows = spread(wanted)
    assert len(rows) == len(wanted)
    assert all(below - above > 0.999 for above, below in zip(rows, rows[1:], strict=False))
    assert abs(sum(rows) - sum(wanted)) < 1e-6
