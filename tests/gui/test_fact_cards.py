"""Cards with figures in the published unit and the other way, walked and acted on by keys."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from gui.shown import Deed
from gui.shown_cards import Card, CardLine
from gui.widgets.fact_cards import FactCards
from tests.gui.desk import Desk

BORE = Card(
    1,
    "bore",
    "0.25 mm oversize",
    (
        CardLine("new", "105.00 to 105.03 mm", "4.13386 to 4.13504 in"),
        CardLine("worn", "at most 105.15 mm", "4.13976 in"),
    ),
    "At top, middle and bottom; along and across.",
    "Dimensions",
    detail="bore: judged at each point",
)
CARDS = (
    BORE,
    Card(2, "skirt length", lines=(CardLine("new", "80 mm", "3.14961 in"),), section="Dimensions"),
    Card(3, "piston in barrel", "machined on assembly", section="Fits", sign="to be machined"),
    Card(4, "old fit", section="Fits", faint=True),
)


class CardDesk(Desk):
    def __init__(self, size: str = "640x420") -> None:
        super().__init__(size=size)
        self.opened: list[Card] = []
        self.did: list[Card | None] = []
        self.left = 0
        self.cards = FactCards(
            self.root,
            self.theme,
            on_open=self.opened.append,
            deeds_for=lambda card: [Deed("Withdraw …", lambda: self.did.append(card), "Del")],
            on_leave=self._leave,
        )
        self.cards.pack(fill="both", expand=True)
        self.cards.show(CARDS)
        self.root.update()

    def _leave(self) -> None:
        self.left += 1

    def said(self) -> list[str]:
        canvas = self.cards.canvas
        texts = [item for item in canvas.find_all() if str(canvas.type(item)) == "text"]
        return [canvas.itemcget(item, "text") for item in texts]

    def headings(self) -> list[str]:
        return [words for words in self.said() if words in ("Dimensions", "Fits")]


@pytest.fixture
def desk(display: str) -> Iterator[CardDesk]:
    opened = CardDesk()
    yield opened
    opened.close()


def test_figures_stand_in_the_published_unit_and_the_other_way(desk: CardDesk) -> None:
    said = desk.said()
    for words in ("bore", "0.25 mm oversize", "105.00 to 105.03 mm", "4.13386 to 4.13504 in", "worn"):
        assert words in said
    assert "At top, middle and bottom; along and across." in said
    assert "⚒" in said, "how a fit is come by has a mark beside its word"


def test_each_section_is_headed_once(desk: CardDesk) -> None:
    assert desk.headings() == ["Dimensions", "Fits"]


def test_the_cards_are_walked_opened_and_acted_on_by_keys(desk: CardDesk) -> None:
    desk.cards.canvas.focus_force()
    desk.root.update()
    assert desk.cards.chosen() == BORE
    desk.press("<Down>", "<Down>", "<Return>", "<Delete>")
    assert desk.opened == [CARDS[2]]
    assert desk.did == [CARDS[2]]
    desk.press("<End>", "<Down>")
    assert desk.cards.chosen() == CARDS[3]
    desk.press("<Home>", "<Escape>")
    assert (desk.cards.chosen(), desk.left) == (BORE, 1)


def test_what_is_chosen_stays_so_when_it_is_read_again(desk: CardDesk) -> None:
    desk.cards.choose(3)
    desk.cards.show(CARDS[1:])
    assert desk.cards.chosen() == CARDS[2]
    desk.cards.show(CARDS[:2])
    assert desk.cards.chosen() is None


def test_in_a_narrow_window_the_words_are_wrapped_and_what_is_chosen_comes_into_sight(display: str) -> None:
    desk = CardDesk(size="260x150")
    assert "At top, middle and bottom; along and across." not in desk.said()
    desk.cards.choose(4)
    assert "old fit" in desk.said()
    desk.close()


def test_what_is_chosen_stays_in_sight_as_the_room_shrinks(desk: CardDesk) -> None:
    desk.cards.choose(4)
    desk.root.geometry("640x150")
    desk.until(lambda: desk.cards.canvas.winfo_height() < 160)
    desk.settle()
    assert "old fit" in desk.said()


def test_no_cards_at_all_take_no_keys_amiss(desk: CardDesk) -> None:
    desk.cards.show(())
    desk.cards.canvas.focus_force()
    desk.root.update()
    desk.press("<Down>", "<Return>", "<Next>")
    assert (desk.cards.chosen(), desk.opened) == (None, [])
