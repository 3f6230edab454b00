"""The find box answers as one types, and a scanner's Enter waits for its own answer."""

from __future__ import annotations

import threading
from tkinter import font
from typing import Any

from gui.job import Job
from gui.shown import Hit, Hits
from gui.widgets.search_box import SearchBox
from invdb.terms import Refused
from tests.gui.desk import Desk

SHELF = ("exhaust valve", "exhaust gasket", "inlet valve", "LN0412-K", "LN0413-H")


def find(_job: Job, words: str) -> list[Hit]:
    return [Hit(name, "B-12", "part", name, "serviceable") for name in SHELF if words.lower() in name.lower()]


class Box:
    """A find box at a desk, with what was chosen in it."""

    def __init__(self, desk: Desk, search: Any = find, **options: Any) -> None:
        self.desk = desk
        self.chosen: list[Any] = []
        self.box = SearchBox(
            desk.root, desk.theme, desk.background, search, lambda hit: self.chosen.append(hit.ref), **options
        )
        self.box.pack()
        desk.root.update()
        self.box.entry.focus_force()
        desk.root.update()

    def rows(self) -> list[str]:
        tree = self.box.list._tree
        return [str(tree.item(item, "values")[0]) for item in tree.get_children()]

    def note(self) -> str:
        return str(self.box.list._note.cget("text"))


def test_hits_drop_down_as_one_types(desk: Desk) -> None:
    box = Box(desk)
    desk.type("val")
    desk.until(box.box.list.dropped)
    assert box.rows() == ["✓  exhaust valve", "✓  inlet valve"]
    desk.press("<Down>", "<Return>")
    assert box.chosen == ["inlet valve"]
    assert box.box.get() == ""
    assert not box.box.list.dropped()


def test_up_and_down_stop_at_the_ends(desk: Desk) -> None:
    box = Box(desk)
    desk.type("ex")
    desk.until(box.box.list.dropped)
    desk.press("<Up>", "<Down>", "<Down>", "<Down>", "<Next>", "<Return>")
    assert box.chosen == ["exhaust gasket"]


def test_a_scan_takes_its_own_number_and_not_the_hit_of_an_earlier_key(desk: Desk) -> None:
    asked: list[str] = []

    def noted(job: Job, words: str) -> list[Hit]:
        asked.append(words)
        return find(job, words)

    box = Box(desk, noted)
    box.box.entry.insert(0, "LN0413-H")
    desk.press("<Return>")
    desk.until(lambda: box.chosen)
    assert box.chosen == ["LN0413-H"]
    assert asked == ["LN0413-H"]


def test_enter_before_the_answer_waits_for_it(desk: Desk) -> None:
    let_go = threading.Event()

    def slow(job: Job, words: str) -> list[Hit]:
        let_go.wait()
        return find(job, words)

    box = Box(desk, slow)
    desk.type("inlet")
    desk.press("<Return>")
    assert box.chosen == []
    let_go.set()
    desk.until(lambda: box.chosen)
    assert box.chosen == ["inlet valve"]


def test_nothing_found_says_so_and_how_to_go_on(desk: Desk) -> None:
    box = Box(desk)
    desk.type("zz")
    desk.until(box.box.list.dropped)
    assert "Nothing fits “zz”" in box.note()
    desk.press("<Return>")
    assert box.chosen == []


def test_a_refusal_is_said_beneath(desk: Desk) -> None:
    def refuse(_job: Job, _words: str) -> list[Hit]:
        raise Refused("LN0412-X is mistyped.", "Its last character should be K.")

    box = Box(desk, refuse)
    desk.type("x")
    desk.until(box.box.list.dropped)
    assert box.note() == "LN0412-X is mistyped. Its last character should be K."


def test_escape_puts_the_list_away_and_then_empties_the_box(desk: Desk) -> None:
    box = Box(desk)
    desk.type("val")
    desk.until(box.box.list.dropped)
    desk.press("<Escape>")
    assert not box.box.list.dropped() and box.box.get() == "val"
    desk.press("<Escape>")
    assert box.box.get() == ""


def test_a_click_takes_a_hit(desk: Desk) -> None:
    box = Box(desk)
    desk.type("ex")
    desk.until(box.box.list.dropped)
    tree = box.box.list._tree
    cell = tree.bbox(tree.get_children()[1])
    assert cell
    desk.click(tree, cell[0] + 60, cell[1] + 5)
    assert box.chosen == ["exhaust gasket"]


def test_the_placeholder_is_never_taken_for_what_was_typed(desk: Desk) -> None:
    box = Box(desk, placeholder="Find or scan")
    other = SearchBox(desk.root, desk.theme, desk.background, find, lambda _hit: None)
    other.pack()
    other.entry.focus_force()
    desk.root.update()
    assert box.box.entry.get() == "Find or scan"
    assert box.box.get() == ""
    box.box.focus_box()
    desk.root.update()
    assert box.box.entry.get() == ""
    desk.type("v")
    assert box.box.get() == "v"


def test_as_a_field_it_keeps_the_name_and_hears_that_it_was_changed(desk: Desk) -> None:
    typed: list[bool] = []
    box = Box(desk, keep=True, on_typed=lambda: typed.append(True))
    desk.type("inl")
    desk.until(box.box.list.dropped)
    desk.press("<Return>")
    assert box.box.get() == "inlet valve"
    before = len(typed)
    desk.press("<End>", "<BackSpace>")
    assert len(typed) == before + 1


def test_what_fits_but_for_a_slip_waits_for_a_second_enter(desk: Desk) -> None:
    def slip(_job: Job, words: str) -> Hits:
        return Hits((Hit("T00012-K", "Exhaust valve", "piece", 12),), "Nothing fits as typed.")

    chosen: list[Hit] = []
    box = SearchBox(desk.root, desk.theme, desk.background, slip, chosen.append)
    box.pack()
    desk.root.update()
    box.focus_box()
    desk.type("T00012")
    desk.press("<Return>")
    desk.settle()
    assert chosen == []
    assert box.list.dropped()
    desk.press("<Return>")
    assert [hit.ref for hit in chosen] == [12]


def test_a_long_name_is_read_whole_beside_what_tells_more_of_it(desk: Desk) -> None:
    name = "LN0412-Q  Barrel, Linnet, standard bore"
    box = Box(desk, lambda _job, _words: [Hit(name, "L7/2512, PD 6723, FA-1308", "part", 1)])
    desk.type("ba")
    desk.until(box.box.list.dropped)
    tree = box.box.list._tree
    needed = font.nametofont("SunValleyBodyFont", root=desk.root).measure(name)
    assert tree.column("headline", "width") > needed
    columns = ("#0", "headline", "detail", "kind")
    assert sum(int(tree.column(column, "width")) for column in columns) <= tree.winfo_width()


def test_a_long_note_keeps_within_the_list(desk: Desk) -> None:
    note = "If T01007-2 should be one of our numbers, it is mistyped: its check character does not fit. " * 2
    box = Box(desk, lambda _job, _words: Hits((), note))
    desk.type("t0")
    desk.until(box.box.list.dropped)
    assert box.box.list._note.winfo_reqwidth() <= box.box.list.winfo_width()
