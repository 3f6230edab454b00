"""The picture of alternates: what it says, and how one follows it by click and by keys."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from gui.shown import Deed
from gui.shown_graph import Graph, GraphLink, GraphNode
from gui.widgets.graph_shape import LINK, PART, Item
from gui.widgets.part_graph import PartGraph
from tests.gui.desk import Desk

OLD, PIN, NEW, SPARE, PLUG, GONE = 1, 2, 3, 4, 5, 6
NODES = (
    GraphNode(PIN, "RP0402-K", "Rocker pin", "3 on shelf", "on the shelf", "RP0402-K Rocker pin"),
    GraphNode(OLD, "RP0401-M", "Rocker pin, plain", "none on shelf", "none on the shelf"),
    GraphNode(NEW, "RP0403-H", "Rocker pin, drilled"),
    GraphNode(PLUG, "OP0401-3", "Oil plug"),
    GraphNode(SPARE, "RP0404-F", "Rocker pin, ground"),
    GraphNode(GONE, "RP0405-D", "Rocker pin, of bronze"),
)
LINKS = (
    GraphLink(10, OLD, ((PIN, 1),), "supersedes", "Leaflet 12", ""),
    GraphLink(11, PIN, ((NEW, 1), (PLUG, 2)), "may stand in", "Leaflet 22", "Linnet, with mod L22",
              counted="together", detail="both of them, by leaflet 22"),
    GraphLink(12, PIN, ((SPARE, 1),), "both ways", "Order 4", "", both_ways=True),
    GraphLink(13, PIN, ((GONE, 1),), "ended", "Order 5", "until 2024-05-01", ended=True),
)  # fmt: skip


class GraphDesk(Desk):
    def __init__(self, *, dark: bool = False, size: str = "760x620") -> None:
        super().__init__(dark=dark, size=size)
        self.opened: list[int] = []
        self.chose: list[Item] = []
        self.did: list[Item] = []
        self.left = 0
        self.graph = PartGraph(
            self.root,
            self.theme,
            on_choose=self.chose.append,
            on_open=self.opened.append,
            deeds_for=lambda item: [Deed("End …", lambda: self.did.append(item), "Del")],
            on_leave=self._leave,
        )
        self.graph.pack(fill="both", expand=True)
        self.graph.show(Graph(PIN, NODES, LINKS))
        self.root.update()
        self.graph.canvas.focus_force()
        self.root.update()

    def _leave(self) -> None:
        self.left += 1

    def said(self) -> str:
        canvas = self.graph.canvas
        texts = [item for item in canvas.find_all() if str(canvas.type(item)) == "text"]
        return " ".join(canvas.itemcget(item, "text") for item in texts)

    def at(self, item: Item) -> tuple[int, int]:
        return self.graph.middle_of(item)


@pytest.fixture
def desk(display: str) -> Iterator[GraphDesk]:
    opened = GraphDesk()
    yield opened
    opened.close()


@pytest.mark.parametrize("dark", [False, True])
def test_each_part_and_each_link_is_said_in_words_with_a_mark(display: str, dark: bool) -> None:
    desk = GraphDesk(dark=dark)
    said = desk.said()
    for words in ("RP0402-K", "✓ 3 on shelf", "∅ none on shelf", "◀ supersedes", "by Leaflet 12"):
        assert words in said
    for words in ("⇄ both ways", "⊣ ended", "until 2024-05-01", "◂ may stand in", "Linnet, with mod"):
        assert words in said
    for title in ("it may stand in for", "this part", "may stand in for it"):
        assert title in said
    desk.close()


def test_what_has_ended_is_faint_and_its_line_is_broken(desk: GraphDesk) -> None:
    canvas = desk.graph.canvas
    lines = [item for item in canvas.find_all() if str(canvas.type(item)) == "line"]
    broken = [item for item in lines if canvas.itemcget(item, "dash")]
    assert len(broken) == 2 and len(lines) == 9
    inks = {canvas.itemcget(item, "text"): canvas.itemcget(item, "fill") for item in canvas.find_all()
            if str(canvas.type(item)) == "text"}  # fmt: skip
    assert inks["RP0405-D"] == desk.theme.palette.dim
    assert inks["RP0404-F"] == desk.theme.palette.ink


def test_a_link_good_both_ways_has_an_arrow_at_either_end_and_any_other_at_what_is_replaced(
    desk: GraphDesk,
) -> None:
    canvas = desk.graph.canvas
    heads = [canvas.itemcget(item, "arrow") for item in canvas.find_all() if str(canvas.type(item)) == "line"]
    assert heads.count("last") == len(LINKS) + 1


def test_one_walks_it_by_the_arrows_and_follows_by_enter(desk: GraphDesk) -> None:
    assert desk.graph.chosen() == (PART, PIN)
    desk.press("<Left>")
    assert desk.graph.chosen() == (LINK, 10)
    desk.press("<Left>")
    assert desk.graph.chosen() == (PART, OLD)
    desk.press("<Left>")
    assert desk.graph.chosen() == (PART, OLD), "there is nothing further on"
    desk.press("<Return>")
    assert desk.opened == [OLD]
    desk.press("<Home>")
    assert desk.graph.chosen() == (PART, PIN)


def test_enter_on_a_link_follows_it_to_its_other_end(desk: GraphDesk) -> None:
    desk.press("<Left>", "<Return>")
    assert desk.opened == [OLD]
    desk.graph.choose((LINK, 11))
    desk.press("<Return>")
    assert desk.opened == [OLD, NEW]


def test_a_click_chooses_and_a_double_click_follows(desk: GraphDesk) -> None:
    desk.click(desk.graph.canvas, *desk.at((PART, SPARE)))
    assert desk.graph.chosen() == (PART, SPARE)
    assert desk.opened == []
    desk.click(desk.graph.canvas, *desk.at((PART, NEW)), times=2)
    assert desk.opened == [NEW]
    assert desk.graph.item_at(2, desk.graph.canvas.winfo_height() - 2) is None


def test_what_may_be_done_with_a_link_is_done_by_its_key(desk: GraphDesk) -> None:
    desk.graph.choose((LINK, 12))
    desk.press("<Delete>")
    assert desk.did == [(LINK, 12)]


def test_escape_leaves_it(desk: GraphDesk) -> None:
    desk.press("<Escape>")
    assert desk.left == 1


def test_pointing_tells_all_that_there_is_to_say(desk: GraphDesk) -> None:
    assert desk.graph.told_of((PART, PIN)) == "RP0402-K Rocker pin"
    assert desk.graph.told_of((LINK, 11)) == "both of them, by leaflet 22"


def test_another_part_comes_into_the_middle_and_the_choice_with_it(desk: GraphDesk) -> None:
    desk.graph.choose((LINK, 10))
    desk.graph.show(Graph(PIN, NODES, LINKS))
    assert desk.graph.chosen() == (LINK, 10), "read again, what was chosen stays so"
    desk.graph.show(Graph(NEW, NODES, LINKS))
    assert desk.graph.chosen() == (PART, NEW)
    assert desk.chose[-1] == (PART, NEW)


def test_in_a_narrow_window_the_middle_is_in_sight_and_the_keys_bring_the_rest_there(display: str) -> None:
    desk = GraphDesk(size="380x260")
    width, height = desk.graph.canvas.winfo_width(), desk.graph.canvas.winfo_height()

    def in_sight(item: Item) -> bool:
        x, y = desk.at(item)
        return 0 < x < width and 0 < y < height

    assert in_sight((PART, PIN))
    assert not in_sight((PART, OLD))
    desk.press("<Left>", "<Left>")
    assert in_sight((PART, OLD))
    desk.graph.choose((PART, GONE))
    desk.root.update()
    assert in_sight((PART, GONE))
    desk.close()


def test_a_part_for_which_nothing_stands_in_stands_alone(desk: GraphDesk) -> None:
    desk.graph.show(Graph(OLD, (NODES[1],), ()))
    desk.root.update()
    assert "RP0401-M" in desk.said() and "supersedes" not in desk.said()
    desk.press("<Left>", "<Right>", "<Up>")
    assert desk.graph.chosen() == (PART, OLD)
