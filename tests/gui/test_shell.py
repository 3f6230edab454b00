"""The main window: going between views by keys, finding, being told, reversing, closing."""

from __future__ import annotations

import threading
import tkinter as tk
from collections.abc import Iterator
from pathlib import Path
from tkinter import ttk
from typing import Any

import pytest

from gui.job import Job
from gui.prefs import Prefs
from gui.shell import Shell, fits_screen, run
from gui.shown import Hit
from gui.view import Context
from gui.widgets.rail import RailItem
from invdb.terms import SAFETY_LINE, Refused
from tests.gui.desk import Desk


class Bins:
    """A view with one entry in it, that notes what is asked of it."""

    help_text = "Everything on the shelves."

    def __init__(self, name: str, mark: str) -> None:
        self.name, self.word, self.mark = name, name.capitalize(), mark
        self.built = self.shown = self.refreshed = 0
        self.opened: list[Any] = []
        self.would_lose = ""

    def build(self, parent: tk.Misc, context: Context) -> tk.Widget:
        self.built += 1
        self.context = context
        self.frame = ttk.Frame(parent)
        self.entry = ttk.Entry(self.frame)
        self.entry.pack()
        return self.frame

    def on_show(self) -> None:
        self.shown += 1

    def on_refresh(self) -> None:
        self.refreshed += 1

    def open(self, ref: Any) -> None:
        self.opened.append(ref)

    def unsaved(self) -> str:
        return self.would_lose


class Window(Desk):
    """The main window with two views, at a desk."""

    def __init__(self, path: Path) -> None:
        self.prefs = Prefs(path, scale=1.0)
        self.shell = Shell(tk.Tk(), self.prefs)
        self.root, self.theme = self.shell.root, self.shell.theme
        self.background = self.shell.background
        self.broken = []
        self.stores, self.bench = Bins("stores", "stores"), Bins("bench", "bench")
        self.found: list[Any] = []
        self.shell.set_find(self.search, lambda hit: self.found.append(hit.ref))
        self.shell.set_state(who="M. Ilves", store="harrowmere.invdb")
        self.shell.set_views([self.stores, self.bench])
        self.root.update()
        self.root.focus_force()
        self.root.update()

    def search(self, _job: Job, words: str) -> list[Hit]:
        return [Hit(words.upper(), "B-12", "part", words)]

    def open(self) -> bool:
        try:
            return bool(self.root.winfo_exists())
        except tk.TclError:
            return False


@pytest.fixture
def window(display: str, tmp_path: Path) -> Iterator[Window]:
    opened = Window(tmp_path / "window.json")
    yield opened
    if opened.open():
        opened.close()


def texts(widget: tk.Misc) -> list[str]:
    found = []
    for part in widget.winfo_children():
        found += texts(part)
        if part.winfo_class() in ("TLabel", "TMenubutton", "TButton") and part.winfo_viewable():
            found.append(str(part.cget("text")))
    return found


def test_it_says_who_is_working_where_how_safe_the_store_is_and_what_this_is_not(window: Window) -> None:
    said = texts(window.root)
    for words in ("M. Ilves", "harrowmere.invdb", "no backup yet", SAFETY_LINE):
        assert words in said


def test_only_the_views_there_are_stand_on_the_rail(window: Window) -> None:
    assert list(window.shell.rail.items) == ["stores", "bench"]
    assert window.shell.rail.items["stores"].chosen


def test_control_and_a_figure_goes_to_a_view_which_is_as_one_left_it(window: Window) -> None:
    window.stores.entry.insert(0, "half typed")
    window.press("<Control-Key-2>")
    assert window.bench.frame.winfo_ismapped() and not window.stores.frame.winfo_ismapped()
    window.press("<Control-Key-1>")
    assert window.stores.entry.get() == "half typed"
    assert (window.stores.built, window.stores.shown) == (1, 2)
    window.press("<Control-Key-5>")
    assert window.stores.frame.winfo_ismapped()


def test_the_key_of_the_view_in_front_goes_back_into_it(window: Window) -> None:
    assert window.shell.find is not None
    window.press("/", "<Control-Key-1>")
    assert (window.stores.built, window.stores.shown) == (1, 2)


def test_one_goes_on_in_the_field_one_was_in(window: Window) -> None:
    window.stores.entry.focus_force()
    window.root.update()
    window.press("<Control-Key-2>", "<Control-Key-1>", "7")
    assert window.stores.entry.get() == "7"
    window.press("<Control-f>", "<Control-Key-1>", "8")
    assert window.stores.entry.get() == "78"


def test_f2_opens_the_names_and_the_next_key_is_the_views_again(window: Window) -> None:
    chosen: list[str] = []
    window.shell.set_people(["M. Ilves", "B. Hollis"], chosen.append)
    menu = window.shell._who.nametowidget(window.shell._who.cget("menu"))
    posted: list[bool] = []

    def choose_the_second() -> None:
        posted.append(menu.winfo_ismapped())
        menu.unpost()
        menu.invoke(1)

    # On some systems an open menu holds the loop until it is gone.
    window.root.after(50, choose_the_second)
    window.press("<F2>")
    window.until(lambda: chosen)
    assert posted == [True] and chosen == ["B. Hollis"]
    assert window.stores.shown == 2


def test_the_rail_is_walked_and_pressed_by_keys(window: Window) -> None:
    window.shell.rail.items["stores"].focus_force()
    window.root.update()
    window.press("<Down>", "<Return>")
    assert window.bench.frame.winfo_ismapped()
    window.press("<Up>", " ")
    assert window.stores.frame.winfo_ismapped()


def test_the_tab_key_goes_from_the_rail_to_the_find_box_to_the_view(window: Window) -> None:
    window.shell.rail.items["stores"].focus_force()
    window.root.update()
    order = []
    for _ in range(6):
        focus = window.root.focus_get()
        assert focus is not None
        order.append(focus)
        following = focus.tk_focusNext()
        assert following is not None
        following.focus_set()
        window.root.update()
    assert [type(each) for each in order[:2]] == [RailItem, RailItem]
    assert window.shell.find is not None
    assert order[2:5] == [window.shell.find.entry, window.shell._who, window.shell._look]
    assert order[-1] is window.stores.entry


@pytest.mark.parametrize("key", ["/", "<Control-f>"])
def test_a_key_begins_to_find(window: Window, key: str) -> None:
    window.shell.rail.items["stores"].focus_force()
    window.root.update()
    window.press(key)
    window.type("ln")
    assert window.shell.find is not None
    window.until(window.shell.find.list.dropped)
    window.press("<Return>")
    assert window.found == ["ln"]


def test_a_slash_in_a_field_is_a_slash(window: Window) -> None:
    window.stores.entry.focus_force()
    window.root.update()
    window.press("/")
    assert window.stores.entry.get() == "/"


def test_f5_reads_again_and_f1_helps_where_one_is(window: Window) -> None:
    window.press("<F5>")
    assert (window.stores.refreshed, window.bench.refreshed) == (1, 0)
    assert "Everything on the shelves." not in texts(window.root)
    window.press("<F1>")
    assert "Everything on the shelves." in texts(window.root)
    window.press("<F1>")
    assert "Everything on the shelves." not in texts(window.root)


def test_help_higher_than_the_window_is_scrolled_by_keys(window: Window) -> None:
    window.root.minsize(600, 300)
    window.root.geometry("900x360")
    window.press("<F1>")
    canvas = window.shell.help.winfo_children()[0].winfo_children()[0]
    assert isinstance(canvas, tk.Canvas)
    window.until(lambda: str(canvas.cget("takefocus")) == "1")
    canvas.focus_force()
    window.root.update()
    window.press("<Next>")
    assert canvas.canvasy(0) > 0


def test_a_narrow_window_shortens_the_find_box_and_nothing_else(window: Window) -> None:
    window.shell.set_state(who="M. Ilves", store="x" * 200, backup="2 days ago")
    window.root.minsize(600, 300)
    window.root.geometry("900x600")
    window.until(lambda: window.root.winfo_width() == 900)
    look = window.shell._look
    assert look.winfo_rootx() + look.winfo_width() <= window.root.winfo_rootx() + 900
    assert "M. Ilves" in texts(window.root)


def test_a_view_can_send_one_to_another(window: Window) -> None:
    window.stores.context.go_to("bench", 5)
    window.root.update()
    assert window.bench.opened == [5] and window.bench.frame.winfo_ismapped()


def test_the_last_entry_is_told_and_reversed_only_when_asked_twice(window: Window) -> None:
    reversed_: list[int] = []
    window.stores.context.posted("Entry 41: T0007-4 moved to C-2.", lambda: reversed_.append(41))
    window.press("<Control-z>")
    assert window.shell.line.words() == "Reverse this? Entry 41: T0007-4 moved to C-2."
    window.press("<Escape>")
    assert window.shell.line.words() == "Entry 41: T0007-4 moved to C-2."
    assert reversed_ == []
    window.root.focus_force()
    window.press("<Control-z>", "<Shift-Tab>", "<Return>")
    assert reversed_ == [41]


def test_what_is_said_gives_way_to_the_last_entry_but_a_refusal_stays(
    window: Window, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("gui.widgets.quiet_line.SAID_MS", 1)
    window.stores.context.posted("Entry 41.", None)
    window.stores.context.say("Copied 3 pieces.")
    assert window.shell.line.words() == "Copied 3 pieces."
    window.until(lambda: window.shell.line.words() == "Entry 41.")
    window.stores.context.refuse("The store is locked.")
    window.root.after(30, lambda: None)
    window.settle()
    assert window.shell.line.words() == "✕ The store is locked."


def test_long_work_is_shown_and_can_be_stopped(window: Window) -> None:
    started, let_go = threading.Event(), threading.Event()

    def work(job: Job) -> None:
        started.set()
        let_go.wait()
        job.stop_here()

    answered: list[object] = []
    window.background.ask("kits", work, answered.append, doing="seven kits")
    window.until(started.is_set)
    assert any("seven kits" in text for text in texts(window.root))
    window.stores.context.progress("Cylinder 3 of 7", 3 / 7)
    assert "Cylinder 3 of 7" in texts(window.root)
    window.shell.line._stop.invoke()
    let_go.set()
    window.settle()
    assert answered == []
    assert "Stop" not in texts(window.root)


def test_a_refusal_and_a_breakdown_are_one_sentence_on_the_line(
    window: Window, caplog: pytest.LogCaptureFixture
) -> None:
    def refuse(_job: Job) -> None:
        raise Refused("The store is read-only.", "Ask who keeps it.")

    window.background.act(refuse, lambda _done: None)
    window.settle()
    assert window.shell.line.words() == "✕ The store is read-only. Ask who keeps it."

    def break_down() -> None:
        raise KeyError("bin")

    window.root.after_idle(break_down)
    window.root.update()
    assert window.shell.line.words().startswith("✕ Something went wrong here: KeyError")
    assert "Traceback" in caplog.text


def test_dark_is_remembered(window: Window) -> None:
    window.shell.set_dark(True)
    window.root.update()
    assert Prefs.read(window.prefs.path).dark
    assert window.theme.palette.name == "dark"


def test_closing_asks_on_the_line_only_if_something_would_be_lost(window: Window) -> None:
    window.shell.show("bench")
    window.bench.would_lose = "the goods in form"
    window.shell.close()
    window.root.update()
    assert window.open()
    assert window.shell.line.words() == "Close and lose the goods in form?"
    window.bench.would_lose = ""
    window.shell.close()
    assert not window.open()


def test_closing_while_an_act_is_written_asks_to_wait(window: Window) -> None:
    let_go = threading.Event()
    window.background.act(lambda _job: let_go.wait(), lambda _done: None)
    window.shell.close()
    assert window.open() and "still being written" in window.shell.line.words()
    let_go.set()
    window.settle()


def test_another_size_opens_the_window_anew(display: str, tmp_path: Path) -> None:
    scales: list[float] = []

    def furnish(shell: Shell) -> None:
        scales.append(shell.theme.scale)
        shell.root.after_idle(lambda: shell.set_scale(1.5) if len(scales) == 1 else shell.close())

    run(Prefs(tmp_path / "window.json", scale=1.0), furnish)
    assert scales == [1.0, 1.5]


def test_the_window_opens_where_it_was(display: str, tmp_path: Path) -> None:
    places: list[str] = []
    prefs = Prefs(tmp_path / "window.json", scale=1.0, geometry="1000x700+40+30")

    def furnish(shell: Shell) -> None:
        shell.root.update()
        places.append(shell.root.geometry())
        shell.root.after_idle(shell.close)

    run(prefs, furnish)
    assert places == ["1000x700+40+30"]


def test_without_a_store_there_are_three_ways_to_begin(display: str, tmp_path: Path) -> None:
    pressed: list[str] = []
    shell = Shell(tk.Tk(), Prefs(tmp_path / "window.json", scale=1.0))
    first = shell.offer_first_start(
        sample=lambda: pressed.append("sample"),
        empty=lambda: pressed.append("empty"),
        existing=lambda: pressed.append("existing"),
    )
    shell.root.update()
    shell.root.focus_force()
    shell.root.update()
    assert shell.rail.items == {}
    for button in first.buttons:
        button.invoke()
    assert pressed == ["sample", "empty", "existing"]
    first.wait("Building the sample workshop …")
    first.buttons[0].invoke()
    assert len(pressed) == 3
    first.refuse("The disk is full.")
    shell.root.update()
    assert "✕ The disk is full." in texts(shell.root)
    shell.set_views([Bins("stores", "stores")])
    shell.root.update()
    assert "There is no store yet" not in texts(shell.root)
    shell.close()


@pytest.mark.parametrize(
    ("geometry", "fits"),
    [
        ("1280x800+0+0", True),
        ("1280x800+700+0", False),
        ("1280x800+-5+30", False),
        ("", False),
        ("nonsense", False),
    ],
)
def test_a_place_off_the_screen_is_not_gone_back_to(geometry: str, fits: bool) -> None:
    assert fits_screen(geometry, 1920, 1080) is fits


def test_what_goes_wrong_is_kept_in_a_file_beside_the_settings(display: str, tmp_path: Path) -> None:
    def furnish(shell: Shell) -> None:
        def break_down(_job: Job) -> None:
            raise OSError("the disk went away")

        shell.background.ask("list", break_down, lambda _done: None, on_over=shell.close)

    run(Prefs(tmp_path / "settings" / "window.json", scale=1.0), furnish)
    assert "the disk went away" in (tmp_path / "settings" / "window.log").read_text(encoding="utf-8")
