"""The stations of one position one beneath the other, each with what is in it and its life as a gauge."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from typing import Any

from gui.shown import Deed, FilledStation
from gui.signs import sign
from gui.theme import BODY, CAPTION, STRONG, Theme, has_focus
from gui.widgets.drawn_rows import DrawnRows
from gui.widgets.gauge import BAR_HEIGHT, draw_gauge, told_of_gauge
from gui.widgets.selection import Selection

ROW_HEIGHT = 26
GAUGED_HEIGHT = 46
HEADING_HEIGHT = 30
MARK_WIDTH = 26
STATION_SHARE = 0.33
GAUGE_SHARE = 0.28
INDENT = 14
TYPED_AHEAD_MS = 900


class StationRows(DrawnRows):
    """Walk it with the arrows, Space or Ctrl+click adds one to those chosen, letters go to a station.

    ``on_choose`` hears any change of what is chosen, ``on_open`` gets the row on which Enter is pressed or
    which is double-clicked, ``deeds_for`` names what fits the chosen ones, for the menu and the keys, and
    ``on_leave`` is Escape.
    """

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        *,
        on_choose: Callable[[list[FilledStation]], None] = lambda _rows: None,
        on_open: Callable[[FilledStation], None] = lambda _row: None,
        deeds_for: Callable[[list[FilledStation]], list[Deed]] = lambda _rows: [],
        on_leave: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__(parent, theme)
        self._on_choose, self._on_open = on_choose, on_open
        self._deeds_for, self._on_leave = deeds_for, on_leave
        self._rows: tuple[FilledStation, ...] = ()
        self._selection = Selection()
        self._typed, self._typed_at_ms = "", 0

    def show(self, rows: Sequence[FilledStation]) -> None:
        """Show these; what is chosen stays chosen, by its key, if it is still there."""
        chosen = {row.key for row in self.chosen()}
        self._rows = tuple(rows)
        self._selection.clear()
        for at, row in enumerate(self._rows):
            if row.key in chosen:
                self._selection.toggle(at)
        self._lay_out()
        self._changed()

    def chosen(self) -> list[FilledStation]:
        """The chosen rows in their order."""
        return [self._rows[at] for at in self._selection.indices(len(self._rows))]

    def choose(self, key: Any) -> None:
        """Choose the row with that key alone, and bring it into sight."""
        self._move(next(at for at, row in enumerate(self._rows) if row.key == key), False)

    def row_at(self, y: float) -> FilledStation | None:
        """The row at that height of the list as it is seen."""
        at = self.stack.at(y)
        return self._rows[at] if at is not None else None

    def middle_of(self, key: Any) -> int:
        """The height, in pixels from the top of what is seen, of the middle of the row with that key."""
        at = next(at for at, row in enumerate(self._rows) if row.key == key)
        return self.stack.top_of(at) + self.stack.height_of(at) - self.theme.px(ROW_HEIGHT) // 2

    def _lay_out(self) -> None:
        px = self.theme.px
        heights, section = [], ""
        for row in self._rows:
            height = px(GAUGED_HEIGHT if row.gauge is not None else ROW_HEIGHT)
            heights.append(height + (px(HEADING_HEIGHT) if row.section != section else 0))
            section = row.section
        self.lay(heights)

    def draw_row(self, at: int) -> None:
        canvas, theme, palette, px = self.canvas, self.theme, self.theme.palette, self.theme.px
        row, width = self._rows[at], canvas.winfo_width()
        top, bottom = self.stack.top_of(at), self.stack.top_of(at) + self.stack.height_of(at)
        if at == 0 or self._rows[at - 1].section != row.section:
            canvas.create_text(
                px(4), top + px(HEADING_HEIGHT * 0.6), anchor="w", text=row.section, font=STRONG,
                fill=palette.ink,
            )  # fmt: skip
            top += px(HEADING_HEIGHT)
        if self._selection.has(at):
            canvas.create_rectangle(0, top, width, bottom, fill=palette.chosen, outline="")
        if at == self._selection.cursor and has_focus(canvas):
            canvas.create_rectangle(
                px(1), top + px(1), width - px(2), bottom - px(1), outline=palette.accent, width=px(1)
            )
        shown = sign(row.sign)
        tone = palette.tone(shown.hue)
        line = top + px(ROW_HEIGHT) / 2
        left = px(MARK_WIDTH + row.depth * INDENT)
        canvas.create_text(px(MARK_WIDTH) / 2, line, text=shown.mark, font=BODY, fill=tone)
        middle = px(MARK_WIDTH) + width * STATION_SHARE
        name = f"↳ {row.station}" if row.depth else row.station
        canvas.create_text(
            left, line, anchor="w", text=theme.shortened(name, middle - left - px(8)), font=BODY,
            fill=palette.ink,
        )  # fmt: skip
        words_width = self._write_words(row, width, line, tone)
        canvas.create_text(
            middle, line, anchor="w", text=theme.shortened(row.thing, width - middle - words_width - px(12)),
            font=BODY, fill=palette.ink if row.thing else palette.dim,
        )  # fmt: skip
        if row.gauge is not None:
            self._draw_gauge(row, left, width, top + px(ROW_HEIGHT - 1))

    def _write_words(self, row: FilledStation, width: int, line: float, tone: str) -> int:
        """Write what else there is to say, or the sign's word, at the right end; how wide it came out."""
        words = row.words or ("" if row.gauge is not None else sign(row.sign).word)
        # However much there is to say, the tag stays to be read.
        head, apart, _name = row.thing.partition("  ")
        tag = self.theme.measure(head, BODY) if apart else 0
        taken = self.theme.px(MARK_WIDTH) + width * STATION_SHARE + tag
        room = max(0, width - taken - self.theme.px(40))
        words = self.theme.shortened(words, min(width * 0.5, room), CAPTION)
        self.canvas.create_text(
            width - self.theme.px(8), line, anchor="e", text=words, font=CAPTION, fill=tone
        )
        return self.theme.measure(words, CAPTION) + self.theme.px(10) if words else 0

    def _draw_gauge(self, row: FilledStation, left: float, width: int, top: float) -> None:
        theme, px = self.theme, self.theme.px
        gauge = row.gauge
        assert gauge is not None, "only a row with a gauge has one drawn"
        long = width * GAUGE_SHARE
        draw_gauge(self.canvas, theme, gauge, left, top, long)
        room = width - left - long - px(14)
        self.canvas.create_text(
            left + long + px(8), top + px(BAR_HEIGHT) / 2, anchor="w",
            text=theme.shortened(told_of_gauge(gauge), room, CAPTION), font=CAPTION,
            fill=theme.palette.tone(sign(gauge.sign).hue),
        )  # fmt: skip

    def focused(self) -> None:
        if self._rows and self._selection.count() == 0:
            self._selection.set(min(self._selection.cursor, len(self._rows) - 1))
            self._changed()
        self.draw()

    def _changed(self) -> None:
        self.draw()
        self._on_choose(self.chosen())

    def _move(self, at: int, extend: bool) -> None:
        if not self._rows:
            return
        at = max(0, min(at, len(self._rows) - 1))
        if extend:
            self._selection.extend(at)
        else:
            self._selection.set(at)
        self.stack.see(at)
        self._changed()

    def _toggle(self, at: int) -> None:
        self._selection.toggle(at)
        self._changed()

    def opened(self) -> None:
        if self._rows:
            self._on_open(self._rows[self._selection.cursor])

    def pressed(self, event: tk.Event[tk.Misc]) -> bool:
        shift, control = bool(int(event.state) & 0x1), bool(int(event.state) & 0x4)
        target = self.target_of(event)
        if target is not None and not control:
            self._move(target, shift)
        elif control and event.keysym.lower() == "a":
            self._selection.set(0)
            self._move(len(self._rows) - 1, True)
        elif event.keysym in ("Return", "KP_Enter") and not control:
            self.opened()
        elif event.keysym == "space" and self._rows:
            self._toggle(self._selection.cursor)
        elif event.keysym == "Escape":
            self._on_leave()
        else:
            return self.done_by_key(event) or self._type(event, control)
        return True

    def _type(self, event: tk.Event[tk.Misc], control: bool) -> bool:
        """Go to the next station whose name, part or tag begins with what is typed."""
        if control or not event.char.isprintable() or event.char in ("", "/"):
            return False
        # The keys carry their own time: a window kept busy must not take one word for two.
        again = event.time - self._typed_at_ms <= TYPED_AHEAD_MS
        self._typed = (self._typed if again else "") + event.char.casefold()
        self._typed_at_ms = event.time
        words = [f"{row.station}\n{row.thing}".casefold().split("\n") for row in self._rows]
        fits = [at for at, each in enumerate(words) if any(word.startswith(self._typed) for word in each)]
        if fits:
            self._move(fits[0], False)
        return True

    def clicked(self, at: int, event: tk.Event[tk.Misc]) -> None:
        if int(event.state) & 0x4:
            self._toggle(at)
        else:
            self._move(at, bool(int(event.state) & 0x1))

    def menu_chosen(self, at: int) -> None:
        if not self._selection.has(at):
            self._move(at, False)

    def cursor(self) -> int:
        return self._selection.cursor

    def told_at(self, at: int) -> str:
        return told_of(self._rows[at])

    def deeds(self) -> list[Deed]:
        return self._deeds_for(self.chosen())


def told_of(row: FilledStation) -> str:
    """What pointing at a station tells: what is in it, its sign, its figure, and the rest."""
    said = [part for part in (row.thing, sign(row.sign).text, row.words) if part]
    lines = [f"{row.station}: {', '.join(said)}"]
    if row.gauge is not None:
        lines.append(told_of_gauge(row.gauge))
    return "\n".join([*lines, row.detail] if row.detail else lines)
