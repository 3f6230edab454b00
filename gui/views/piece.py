"""The story of one piece or batch, as it stands beside the list."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from functools import partial
from tkinter import ttk

from gui.shown import Deed
from gui.signs import sign
from gui.theme import Theme
from gui.views.limit_rows import LimitRows
from gui.views.piece_doubts import Section
from gui.views.piece_presenter import EntryTold, PieceStory
from gui.widgets.deed_menu import bind_deeds, pop_up, sequence_of
from gui.widgets.details import Details
from gui.widgets.life_line import LifeLineView
from gui.widgets.scrolled import Scrolled
from gui.widgets.tip import explain

ENTRIES_AT_FIRST = 25
BUTTON_GAP = 6
PANE_WIDTH = 480
MORE_KEY, MORE_HINT = "Ctrl+Shift+M", "What else may be done with it"


class EntryRow(ttk.Frame):
    """One entry of the story: walk to it with the arrow keys, reverse it by its key or its menu."""

    def __init__(
        self, parent: tk.Misc, theme: Theme, told: EntryTold, reverse: Callable[[EntryTold], None]
    ) -> None:
        super().__init__(parent, takefocus=True, padding=theme.pad(6, 3))
        self.told = told
        self._theme = theme
        self._reverse = reverse
        mark = f"{sign(told.sign).mark} " if told.sign else ""
        self._head = ttk.Label(self, text=f"{mark}{told.head}", style="Caption.TLabel")
        self._head.pack(anchor="w", fill="x")
        self.sentence = ttk.Label(self, text=told.sentence, wraplength=theme.px(PANE_WIDTH))
        self.sentence.pack(anchor="w", fill="x")
        if told.sign:
            self.sentence.configure(style="Dim.TLabel")
        for part in (self, self._head, self.sentence):
            part.bind("<Button-1>", lambda _event: self.focus_set())
            part.bind("<Button-3>", lambda event: self._menu(event.x_root, event.y_root))
        self.bind("<FocusIn>", lambda _event: self._show_focus(True))
        self.bind("<FocusOut>", lambda _event: self._show_focus(False))
        self.bind("<Up>", lambda _event: self._step(self.tk_focusPrev()))
        self.bind("<Down>", lambda _event: self._step(self.tk_focusNext()))
        for key in ("<Menu>", "<Shift-F10>"):
            self.bind(key, lambda _event: self._menu(self.winfo_rootx(), self.winfo_rooty()))
        bind_deeds(self, self._deeds())

    def wrap(self, width: int) -> None:
        """Let the words be as wide as that."""
        for label in (self._head, self.sentence):
            label.configure(wraplength=width - self._theme.px(16))

    def _deeds(self) -> list[Deed]:
        if not self.told.can_be_reversed:
            return []
        return [Deed(f"Reverse entry {self.told.number} …", partial(self._reverse, self.told), "Ctrl+R")]

    def _menu(self, x: int, y: int) -> None:
        self.focus_set()
        deeds = self._deeds()
        if deeds:
            pop_up(self, x, y, [deeds])

    def _step(self, to: tk.Misc | None) -> str:
        if isinstance(to, EntryRow):
            to.focus_set()
        return "break"

    def _show_focus(self, here: bool) -> None:
        style = "Chosen" if here else ""
        self.configure(style=f"{style}.TFrame" if here else "TFrame")
        self._head.configure(style=f"{style}Caption.TLabel" if here else "Caption.TLabel")
        plain = "Dim.TLabel" if self.told.sign else "TLabel"
        self.sentence.configure(style=f"{style}.TLabel" if here else plain)


class StoryPane(ttk.Frame):
    """Name, signs, what may be done, facts, doubts, limits, the life line, gaps, papers, and the entries.

    ``on_reverse`` gets the entry that is to be reversed, ``on_leave`` is Escape.
    """

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        *,
        on_reverse: Callable[[EntryTold], None],
        on_leave: Callable[[], None],
    ) -> None:
        # It has keys of its own, and Tk takes whatever has keys for a stop of the Tab key.
        super().__init__(parent, takefocus=False)
        self._theme = theme
        self._on_reverse = on_reverse
        self.entries: list[EntryRow] = []
        self._wrapped: list[ttk.Label] = []
        # Those above the life line, each with what stands to the left of it.
        self._above: list[tuple[ttk.Label, int]] = []
        self._marks: list[tuple[ttk.Label, str]] = []
        self._width = theme.px(PANE_WIDTH)
        self._story: PieceStory | None = None
        px = theme.px
        self.deeds = ttk.Frame(self)
        self.deeds.pack(fill="x", pady=(0, px(6)))
        self.buttons: list[ttk.Button] = []
        self._keys: list[str] = []
        self._scrolled = Scrolled(self, theme)
        self._scrolled.pack(fill="both", expand=True)
        inner = self._scrolled.inner
        self.details = Details(inner, theme)
        self.details.pack(fill="x")
        self._hazards = ttk.Label(inner, style="Refused.TLabel")
        self._sections = ttk.Frame(inner)
        self.limits = LimitRows(inner, theme)
        self._caution = ttk.Label(inner, style="Caption.TLabel")
        self.life = LifeLineView(inner, theme, on_open=self.show_entry)
        self._below = ttk.Frame(inner)
        self._sections.bind("<<ThemeChanged>>", lambda _event: self._colour_marks())
        inner.bind("<Configure>", lambda event: self._wrap(event.width), add="+")
        self.deeds.bind("<Configure>", lambda _event: self._flow())
        self.bind("<Escape>", lambda _event: on_leave())

    def show(self, story: PieceStory, deeds: Sequence[Deed], seldom: Sequence[Deed] = ()) -> None:
        """Show this story and buttons for what may be done, with one for all that is ``seldom`` done."""
        px = self._theme.px
        self._scrolled.pack(fill="both", expand=True)
        fresh = self._story is None or self._story.tag != story.tag
        self._story = story
        self.show_deeds(deeds, seldom)
        self.details.show(story.title, signs=story.signs, facts=story.facts)
        self._hazards.configure(text=story.hazards)
        self._hazards.pack_forget()
        if story.hazards:
            self._hazards.pack(fill="x", after=self.details, pady=px(4))
        self._show_life(story)
        self._below.pack(fill="x")
        self._fill_below(story, ENTRIES_AT_FIRST)
        if fresh:
            self._scrolled.see(self.details)

    def show_none(self, deeds: Sequence[Deed]) -> None:
        """Show no story, but buttons for what may be done."""
        self._story = None
        self._scrolled.pack_forget()
        self.show_deeds(deeds)

    def show_deeds(self, deeds: Sequence[Deed], seldom: Sequence[Deed] = ()) -> None:
        """Buttons for what may be done, as many in a row as fit; what is seldom done is a menu behind one."""
        for button in self.buttons:
            button.destroy()
        self.buttons = []
        more = [Deed("More …", partial(self._show_seldom, seldom), MORE_KEY, MORE_HINT)] if seldom else []
        for deed in (*deeds, *more):
            button = ttk.Button(self.deeds, text=deed.word, command=deed.run)
            button.bind("<Return>", lambda event: event.widget.invoke())
            explain(button, deed.hint or deed.word, deed.key)
            self.buttons.append(button)
        self._flow()
        for key in self._keys:
            self.unbind(key)
        every = [*deeds, *seldom, *more]
        self._keys = [sequence_of(deed.key) for deed in every if deed.key]
        bind_deeds(self, every)
        self._share_keys(self)

    def _show_seldom(self, seldom: Sequence[Deed]) -> None:
        button = self.buttons[-1]
        pop_up(self, button.winfo_rootx(), button.winfo_rooty() + button.winfo_height(), [seldom])

    def focus_story(self) -> None:
        """Go on with the keyboard from here: at the first thing that may be done."""
        if self.buttons:
            self.buttons[0].focus_set()

    def show_entry(self, number: int) -> None:
        """Bring that entry into sight, with the focus on it."""
        assert self._story is not None, "no story is shown"
        if all(row.told.number != number for row in self.entries):
            self._fill_below(self._story, len(self._story.entries))
        for row in self.entries:
            if row.told.number == number:
                self.update_idletasks()
                row.focus_set()
                self._scrolled.see(row)

    def _show_life(self, story: PieceStory) -> None:
        px = self._theme.px
        for part in self._sections.winfo_children():
            part.destroy()
        self._above, self._marks = [], []
        for section in story.sections:
            self._show_section(section)
        self._colour_marks()
        # Packed anew in their order, each only where it has anything to say.
        for part in (self._sections, self.limits, self._caution, self.life, self._below):
            part.pack_forget()
        if story.sections:
            self._sections.pack(fill="x")
        self.limits.show(story.limits)
        if story.limits:
            self.limits.pack(fill="x", pady=(px(8), 0))
        self._caution.configure(text=story.caution)
        if story.caution:
            self._caution.pack(fill="x", pady=(px(6), 0))
        self.life.pack(fill="x", pady=(px(8), 0))
        self.life.show(story.life)

    def _colour_marks(self) -> None:
        for mark, word in self._marks:
            mark.configure(foreground=self._theme.palette.tone(sign(word).hue))

    def _show_section(self, section: Section) -> None:
        px = self._theme.px
        self._heading(section.title, self._sections)
        for line in section.lines:
            shown = sign(line.sign)
            row = ttk.Frame(self._sections)
            row.pack(fill="x", padx=px(6), pady=px(1))
            mark = ttk.Label(row, text=shown.mark, width=2)
            mark.pack(side="left", anchor="n")
            self._marks.append((mark, line.sign))
            label = ttk.Label(row, text=line.words)
            label.pack(side="left", fill="x", expand=True)
            self._above.append((label, px(34)))

    def _fill_below(self, story: PieceStory, entries: int) -> None:
        for part in self._below.winfo_children():
            part.destroy()
        self.entries, self._wrapped = [], []
        self._section("Gaps in its history", story.gaps, "None found in what is recorded.", mark="▧ ")
        self._section("Papers", story.papers, "None yet.", mark="▭ ")
        self._heading("Entries, the latest first", self._below)
        for told in story.entries[:entries]:
            row = EntryRow(self._below, self._theme, told, self._on_reverse)
            row.pack(fill="x")
            row.bind("<FocusIn>", lambda event: self._scrolled.see(event.widget), add="+")
            self.entries.append(row)
        if len(story.entries) > entries:
            left = len(story.entries) - entries
            more = ttk.Button(
                self._below,
                text=f"Show {left} earlier",
                command=partial(self._fill_below, story, len(story.entries)),
            )
            more.bind("<Return>", lambda event: event.widget.invoke())
            more.pack(anchor="w", pady=self._theme.px(6))
        self._wrap(self._width)
        self._scrolled.watch(self._below)
        self._share_keys(self._below)

    def _share_keys(self, part: tk.Misc) -> None:
        """Let the keys of what may be done be heard wherever the focus is in the story."""
        own, *rest = part.bindtags()
        if part is not self and str(self) not in rest:
            part.bindtags((own, str(self), *rest))
        for inside in part.winfo_children():
            self._share_keys(inside)

    def _section(self, title: str, lines: Sequence[str], none: str, mark: str) -> None:
        self._heading(title, self._below)
        for line in [f"{mark}{line}" for line in lines] or [none]:
            label = ttk.Label(self._below, text=line, style="TLabel" if lines else "Dim.TLabel")
            label.pack(anchor="w", fill="x", padx=self._theme.px(6), pady=self._theme.px(1))
            self._wrapped.append(label)

    def _heading(self, text: str, parent: tk.Misc) -> None:
        heading = ttk.Frame(parent)
        heading.pack(fill="x", pady=(self._theme.px(10), self._theme.px(3)))
        ttk.Label(heading, text=text, style="Strong.TLabel").pack(side="left")
        ttk.Separator(heading).pack(side="left", fill="x", expand=True, padx=(self._theme.px(10), 0))

    def _wrap(self, width: int) -> None:
        self._width = width
        for label in (self._hazards, self._caution):
            label.configure(wraplength=max(width, 1))
        for label, left in self._above:
            label.configure(wraplength=max(width - left, 1))
        for label in self._wrapped:
            label.configure(wraplength=width - self._theme.px(12))
        for row in self.entries:
            row.wrap(width)

    def _flow(self) -> None:
        """Lay the buttons out in rows, as words in a paragraph."""
        room, gap = self.deeds.winfo_width(), self._theme.px(BUTTON_GAP)
        left = top = 0
        height = 0
        for button in self.buttons:
            width, height = button.winfo_reqwidth(), button.winfo_reqheight()
            if left and left + width > room > 1:
                left, top = 0, top + height + gap
            button.place(x=left, y=top)
            left += width + gap
        self.deeds.configure(height=top + height if height else 1)
