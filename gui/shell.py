"""The main window: the rail, the find box, who is working where, the view, and the quiet line beneath."""

from __future__ import annotations

import logging
import re
import tkinter as tk
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from tkinter import ttk
from types import TracebackType
from typing import Any

from gui.background import Background
from gui.first_start import FirstStart
from gui.prefs import Prefs
from gui.shown import Hit
from gui.theme import SCALES, Theme, ask_for_real_pixels
from gui.view import ORDER, Context, View, number_of
from gui.widgets.help_pane import HelpPane
from gui.widgets.quiet_line import QuietLine
from gui.widgets.rail import Rail
from gui.widgets.search_box import Search, SearchBox
from gui.widgets.tip import explain
from invdb.terms import SAFETY_LINE

NO_BACKUP = "no backup yet"
SIZE_FIRST = (1280, 800)
SIZE_MIN = (900, 600)
FIND_WIDTH = 30
WHO_KEY = "F2"
STORE_LETTERS_MAX = 32
LOG_NAME = "window.log"
LOG_BYTES_MAX = 1_000_000

log = logging.getLogger(__name__)


class Shell:
    """One main window upon a fresh ``tk.Tk``. It closes its own background work when it closes.

    First :meth:`set_find` and :meth:`set_views`, or :meth:`offer_first_start` when there is no store.
    """

    rail: Rail
    line: QuietLine
    help: HelpPane

    def __init__(self, root: tk.Tk, prefs: Prefs) -> None:
        self.root, self.prefs = root, prefs
        self.opens_again = False
        self.theme = Theme(root, dark=prefs.dark, scale=prefs.scale)
        self.background = Background(root)
        self._views: list[View] = []
        self._built: dict[str, tk.Widget] = {}
        self._had_focus: dict[str, tk.Misc] = {}
        self._current: View | None = None
        self._first_start: FirstStart | None = None
        self._help_shown = False
        self.find: SearchBox | None = None
        root.title("invdb")
        self._size_window()
        self._build()
        self._listen()
        self.context = Context(
            theme=self.theme,
            background=self.background,
            prefs=prefs,
            say=self.line.say,
            refuse=self.line.refuse,
            posted=self.line.posted,
            progress=self.line.progress,
            go_to=self.go_to,
        )
        self.background.on_failure = self.line.refuse
        self.background.on_busy = self.line.busy

    def set_find(self, search: Search, on_found: Callable[[Hit], None]) -> None:
        """Give the find box something to find with, and somewhere to go with what was found."""
        if self.find is not None:
            self.find.destroy()
        self.find = SearchBox(
            self._find_place, self.theme, self.background, search, on_found, width=FIND_WIDTH
        )
        self.find.pack(fill="x")
        explain(self.find.entry, "Any number, name, serial, tag, bin, paper, firm or engine", "/")

    def set_state(self, *, who: str, store: str, backup: str = NO_BACKUP) -> None:
        """Say who is working, in which store, and how old the last good backup is."""
        _word_on(self._who, who)
        self._store.configure(
            text=store if len(store) <= STORE_LETTERS_MAX else f"… {store[-STORE_LETTERS_MAX:]}"
        )
        self._backup.configure(text=backup)
        self.root.title(f"invdb: {store}" if store else "invdb")

    def set_people(self, people: Sequence[str], on_choose: Callable[[str], None]) -> None:
        """Let a person say that it is them who is working now."""

        def choose(name: str) -> None:
            on_choose(name)
            # The next key is meant for the view, not for the names again.
            if self._current is not None:
                self._go_on_in(self._current)

        menu = self._menu_of(self._who)
        for name in people:
            menu.add_command(label=name, command=partial(choose, name))

    def set_views(self, views: Sequence[View]) -> None:
        """Put these views on the rail in their order, and show the one that was in front last time."""
        if self._first_start is not None:
            self._first_start.destroy()
            self._first_start = None
        for built in self._built.values():
            built.destroy()
        self._built, self._had_focus, self._current, self._views = {}, {}, None, list(views)
        self.rail.show([(view.name, view.word, view.mark, number_of(view.name)) for view in views])
        names = [view.name for view in views]
        if names:
            self.show(self.prefs.view if self.prefs.view in names else names[0])

    def offer_first_start(
        self, *, sample: Callable[[], None], empty: Callable[[], None], existing: Callable[[], None]
    ) -> FirstStart:
        """Show the three ways to begin; gone again with :meth:`set_views`."""
        self._first_start = FirstStart(self._place, self.theme, sample=sample, empty=empty, existing=existing)
        self._first_start.grid(row=0, column=0, sticky="nsew")
        self._first_start.buttons[0].focus_set()
        return self._first_start

    def show(self, name: str) -> None:
        """Bring that view to the front, as one left it."""
        view = next(view for view in self._views if view.name == name)
        if view is self._current:
            return
        if self._current is not None:
            self._built[self._current.name].grid_remove()
        if name not in self._built:
            self._built[name] = view.build(self._place, self.context)
        self._built[name].grid(row=0, column=0, sticky="nsew")
        self._current = view
        self.prefs.view = name
        self.rail.choose(name)
        self.help.show(view.word, view.help_text)
        self._go_on_in(view)

    def go_to(self, name: str, ref: Any) -> None:
        """Show that view and let it open something."""
        self.show(name)
        next(view for view in self._views if view.name == name).open(ref)

    def refresh(self) -> None:
        """Let the view in front read again."""
        if self._current is not None:
            self._current.on_refresh()

    def ask_who(self) -> None:
        """Open the names of those who may be working."""
        self._who.focus_set()
        self._who.event_generate("<space>")

    def focus_find(self) -> None:
        """Begin to type in the find box."""
        if self.find is not None:
            self.find.focus_box()

    def toggle_help(self) -> None:
        """Show the help for where one is, or put it away."""
        self._help_shown = not self._help_shown
        if self._help_shown:
            self.help.grid(row=0, column=1, sticky="ns", padx=(self.theme.px(10), 0))
        else:
            self.help.grid_remove()

    def set_dark(self, dark: bool) -> None:
        """Show all of it dark or light from now on."""
        self.theme.set_dark(dark)
        _word_on(self._look, self._look_word())
        self.prefs.dark = dark
        self.prefs.keep()

    def set_scale(self, scale: float | None) -> None:
        """Draw all of it at another scale (None: as the screen asks), for which the window opens anew."""
        self.prefs.scale = scale
        self.prefs.keep()
        self.close(again=True)

    def close(self, *, again: bool = False) -> None:
        """Close the window, but ask first if something would be lost."""
        built = [view for view in self._views if view.name in self._built]
        lost = [words for words in (view.unsaved() for view in built) if words]
        if self.background.writing():
            self.line.ask("An act is still being written.", "Close anyway", "Wait", partial(self._go, again))
        elif lost:
            self.line.ask(f"Close and lose {', '.join(lost)}?", "Close", "Stay", partial(self._go, again))
        else:
            self._go(again)

    def _go(self, again: bool) -> None:
        self.opens_again = again
        self.prefs.geometry = self.root.geometry()
        self.prefs.keep()
        self.background.close()
        self.root.destroy()

    def _size_window(self) -> None:
        px, root = self.theme.px, self.root
        wide, high = root.winfo_screenwidth(), root.winfo_screenheight()
        root.minsize(min(px(SIZE_MIN[0]), wide), min(px(SIZE_MIN[1]), high))
        root.geometry(f"{min(px(SIZE_FIRST[0]), wide)}x{min(px(SIZE_FIRST[1]), high)}")
        if fits_screen(self.prefs.geometry, wide, high):
            root.geometry(self.prefs.geometry)

    def _build(self) -> None:
        root, px = self.root, self.theme.px
        self.rail = Rail(root, self.theme, self.show)
        self.rail.grid(row=0, column=0, rowspan=4, sticky="ns")
        self._build_head()
        body = ttk.Frame(root, padding=self.theme.pad(14, 4))
        body.grid(row=1, column=1, sticky="nsew")
        body.rowconfigure(0, weight=1)
        body.columnconfigure(0, weight=1)
        self._place = ttk.Frame(body)
        self._place.grid(row=0, column=0, sticky="nsew")
        self._place.rowconfigure(0, weight=1)
        self._place.columnconfigure(0, weight=1)
        self.help = HelpPane(body, self.theme, str(self.prefs.path.with_name(LOG_NAME)))
        self.line = QuietLine(root, self.theme, self.background.stop_all)
        self.line.grid(row=2, column=1, sticky="ew")
        safety = ttk.Label(root, text=SAFETY_LINE, style="ShadeCaption.TLabel", padding=(px(12), 0, 0, px(5)))
        safety.grid(row=3, column=1, sticky="ew")
        safety.bind("<Configure>", lambda event: safety.configure(wraplength=event.width - px(24)))
        root.rowconfigure(1, weight=1)
        root.columnconfigure(1, weight=1)

    def _build_head(self) -> None:
        px = self.theme.px
        head = ttk.Frame(self.root, padding=(px(14), px(10), px(14), px(6)))
        head.grid(row=0, column=1, sticky="ew")
        # The find box takes what room is left, so that a narrow window shortens it and nothing else.
        head.columnconfigure(0, weight=1)
        self._find_place = ttk.Frame(head)
        self._find_place.grid(row=0, column=0, sticky="ew", padx=(0, px(24)))
        self._look = ttk.Menubutton(head)
        _word_on(self._look, self._look_word())
        self._look.grid(row=0, column=4)
        explain(self._look, "Light or dark, and how large everything is drawn")
        looks = self._menu_of(self._look)
        looks.add_command(label="Light", command=lambda: self.set_dark(False))
        looks.add_command(label="Dark", command=lambda: self.set_dark(True))
        looks.add_separator()
        looks.add_command(label="Size as the screen asks", command=lambda: self.set_scale(None))
        for scale in SCALES:
            looks.add_command(label=f"Size {scale:.0%}", command=partial(self.set_scale, scale))
        self._who = ttk.Menubutton(head)
        _word_on(self._who, "nobody yet")
        self._store = ttk.Label(head, text="no store")
        self._backup = ttk.Label(head, text=NO_BACKUP)
        told = (
            (self._who, "Working", "Whose name every entry made here will carry"),
            (self._store, "Store", "Where everything on this screen is kept"),
            (self._backup, "Backup", "How old the last good backup of this store is"),
        )
        for column, (part, word, hint) in enumerate(told, 1):
            place = ttk.Frame(head)
            ttk.Label(place, text=word, style="Caption.TLabel").pack(side="left", padx=(0, px(5)))
            place.grid(row=0, column=column, padx=(0, px(18)))
            part.pack(in_=place, side="left")
            part.lift(place)
            explain(part, hint, WHO_KEY if part is self._who else "")
        # Tab goes as one reads: the names before the look.
        self._look.lift()

    def _menu_of(self, button: ttk.Menubutton) -> tk.Menu:
        """A fresh menu for the button, also opened by Enter and Down."""
        for old in button.winfo_children():
            old.destroy()
        menu = tk.Menu(button, tearoff=False)
        button.configure(menu=menu)
        for key in ("<Return>", "<Down>"):
            button.bind(key, lambda event: event.widget.event_generate("<space>"))
        return menu

    def _look_word(self) -> str:
        return "Dark" if self.theme.dark else "Light"

    def _listen(self) -> None:
        root = self.root
        root.protocol("WM_DELETE_WINDOW", self.close)
        # Tk calls this by name for whatever goes wrong in a handler.
        root.report_callback_exception = self._went_wrong
        for number in range(1, len(ORDER) + 1):
            root.bind(f"<Control-Key-{number}>", partial(self._show_number, number))
        root.bind("<FocusIn>", self._note_focus, add="+")
        root.bind("<Control-Key-f>", lambda _event: self.focus_find())
        root.bind("<Key-slash>", self._slash)
        root.bind("<F1>", lambda _event: self.toggle_help())
        root.bind(f"<{WHO_KEY}>", lambda _event: self.ask_who())
        root.bind("<F5>", lambda _event: self.refresh())
        root.bind("<Control-Key-z>", self._undo)

    def _show_number(self, number: int, _event: object) -> None:
        view = next((view for view in self._views if number_of(view.name) == number), None)
        if view is None:
            return
        if view is self._current:
            self._go_on_in(view)
        else:
            self.show(view.name)

    def _go_on_in(self, view: View) -> None:
        """Let the view say where the focus belongs, or else give it back to what had it there last."""
        view.on_show()
        focus = str(self.root.tk.call("focus"))
        had_it = self._had_focus.get(view.name)
        if (
            not focus.startswith(f"{self._built[view.name]}.")
            and had_it is not None
            and had_it.winfo_exists()
        ):
            had_it.focus_set()

    def _note_focus(self, event: tk.Event[tk.Misc]) -> None:
        view = self._current
        if view is not None and str(event.widget).startswith(f"{self._built[view.name]}."):
            self._had_focus[view.name] = event.widget

    def _slash(self, event: tk.Event[tk.Misc]) -> None:
        if not isinstance(event.widget, (ttk.Entry, tk.Text)):
            self.focus_find()

    def _undo(self, event: tk.Event[tk.Misc]) -> None:
        if not isinstance(event.widget, tk.Text):
            self.line.ask_to_reverse()

    def _went_wrong(
        self, kind: type[BaseException], broken: BaseException, where: TracebackType | None
    ) -> None:
        log.error("In the window:\n%s", "".join(traceback.format_exception(kind, broken, where)))
        self.line.refuse(f"Something went wrong here: {kind.__name__}: {broken}. The log has the details.")


def _word_on(button: ttk.Menubutton, word: str) -> None:
    """Put the word on the button, with room before its arrow, which the theme leaves none for."""
    button.configure(text=word, width=len(word) + 2)


def fits_screen(geometry: str, wide: int, high: int) -> bool:
    """Whether a window remembered as "1280x800+40+30" can be seen and reached on a screen of that size."""
    found = re.fullmatch(r"(\d+)x(\d+)\+(-?\d+)\+(-?\d+)", geometry)
    if found is None:
        return False
    width, height, left, top = (int(part) for part in found.groups())
    return left >= 0 and top >= 0 and left + width <= wide and top + height <= high


def run(prefs: Prefs, furnish: Callable[[Shell], None]) -> None:
    """Open the window and stay until it is closed; ``furnish`` gives each new window its store and views.

    Another scale needs another window, and then ``furnish`` is called again.
    """
    ask_for_real_pixels()
    with kept_log(prefs.path.with_name(LOG_NAME)):
        while True:
            shell = Shell(tk.Tk(className="invdb"), prefs)
            furnish(shell)
            shell.root.mainloop()
            if not shell.opens_again:
                return


@contextmanager
def kept_log(path: Path) -> Iterator[None]:
    """Keep what goes wrong in a file beside the settings, begun afresh when it has grown long."""
    handler = logging.FileHandler(path, encoding="utf-8", delay=True)
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    handler.setLevel(logging.WARNING)
    path.parent.mkdir(parents=True, exist_ok=True)
    if path.exists() and path.stat().st_size > LOG_BYTES_MAX:
        path.replace(path.with_suffix(".old"))
    logging.getLogger().addHandler(handler)
    try:
        yield
    finally:
        logging.getLogger().removeHandler(handler)
        handler.close()
