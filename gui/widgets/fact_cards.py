"""Cards one beneath the other: a title, figures in the published unit and the other way, and some words."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from typing import Any

from gui.shown import Deed
from gui.shown_cards import Card, CardLine
from gui.signs import sign
from gui.theme import BODY, CAPTION, STRONG, Theme, has_focus
from gui.widgets.deed_menu import held
from gui.widgets.drawn_rows import DrawnRows
from gui.widgets.wrapped import wrapped

PADDING = 7
MARK_WIDTH = 24
WORD_WIDTH = 108
HEADING_HEIGHT = 32
ASIDE_SHARE = 0.45
# Narrower than this, a figure the other way stands beneath the published one.
SIDE_BY_SIDE = 520
GAP = 8


class FactCards(DrawnRows):
    """Walk them with the arrows.

    ``on_choose`` hears which card is chosen, ``on_open`` gets the one on which Enter is pressed or which is
    double-clicked, ``deeds_for`` names what fits it, for the menu and the keys; ``on_leave`` is Escape.
    """

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        *,
        on_choose: Callable[[Card | None], None] = lambda _card: None,
        on_open: Callable[[Card], None] = lambda _card: None,
        deeds_for: Callable[[Card | None], list[Deed]] = lambda _card: [],
        on_leave: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__(parent, theme)
        self._on_choose, self._on_open = on_choose, on_open
        self._deeds_for, self._on_leave = deeds_for, on_leave
        self._cards: tuple[Card, ...] = ()
        self._at = -1
        self._laid_for = self._drawn_high = 0

    def show(self, cards: Sequence[Card]) -> None:
        """Show these; the chosen one stays chosen, by its key, if it is still there."""
        chosen = self.chosen()
        self._cards = tuple(cards)
        keys = [card.key for card in self._cards]
        self._at = keys.index(chosen.key) if chosen is not None and chosen.key in keys else -1
        self._laid_for = 0
        if chosen is None or self._at < 0:
            self.stack.scroll_to(0)
        self.draw()
        self._on_choose(self.chosen())

    def cards(self) -> tuple[Card, ...]:
        """Those that are shown."""
        return self._cards

    def chosen(self) -> Card | None:
        """The one that is chosen."""
        return self._cards[self._at] if 0 <= self._at < len(self._cards) else None

    def choose(self, key: Any) -> None:
        """Choose the card with that key, and bring it into sight."""
        self._move(next(at for at, card in enumerate(self._cards) if card.key == key))

    def draw(self) -> None:
        width, height = self.canvas.winfo_width(), self.canvas.winfo_height()
        if width != self._laid_for:
            self._laid_for = width
            self.lay([self._height_of(at) for at in range(len(self._cards))])
        if height != self._drawn_high and self.chosen() is not None:
            # What may be done with it stands beneath, and takes some of the room.
            self.stack.show(height)
            self.stack.see(self._at)
        self._drawn_high = height
        super().draw()

    def draw_row(self, at: int) -> None:
        canvas, theme, palette, px = self.canvas, self.theme, self.theme.palette, self.theme.px
        card, width = self._cards[at], canvas.winfo_width()
        top, bottom = self.stack.top_of(at), self.stack.top_of(at) + self.stack.height_of(at)
        if self._begins_section(at):
            middle = top + px(HEADING_HEIGHT * 0.6)
            canvas.create_text(px(4), middle, anchor="w", text=card.section, font=STRONG, fill=palette.ink)
            rule = px(16) + theme.measure(card.section, STRONG)
            canvas.create_line(rule, middle, width - px(8), middle, fill=palette.line)
            top += px(HEADING_HEIGHT)
        if at == self._at:
            canvas.create_rectangle(0, top, width, bottom, fill=palette.chosen, outline="")
            if has_focus(canvas):
                canvas.create_rectangle(
                    px(1), top + px(1), width - px(2), bottom - px(1), outline=palette.accent, width=px(1)
                )
        ink = palette.dim if card.faint else palette.ink
        self._draw_head(card, top + px(PADDING), width, ink)
        down = top + px(PADDING) + theme.line_height(STRONG) + px(2)
        for line in card.lines:
            self._draw_line(line, down, width, ink)
            down += self._lines_high(line) * theme.line_height(BODY)
        for words in self._note_of(card):
            canvas.create_text(px(MARK_WIDTH), down, anchor="nw", text=words, font=CAPTION, fill=palette.dim)
            down += theme.line_height(CAPTION)

    def _draw_head(self, card: Card, top: int, width: int, ink: str) -> None:
        canvas, theme, palette, px = self.canvas, self.theme, self.theme.palette, self.theme.px
        tone = palette.dim
        if card.sign:
            shown = sign(card.sign)
            tone = palette.tone(shown.hue)
            canvas.create_text(px(MARK_WIDTH) / 2, top, anchor="n", text=shown.mark, font=BODY, fill=tone)
        aside = theme.shortened(card.aside, width * ASIDE_SHARE, CAPTION)
        base = top + theme.line_height(STRONG) - theme.line_height(CAPTION)
        canvas.create_text(width - px(GAP), base, anchor="ne", text=aside, font=CAPTION, fill=tone)
        room = width - px(MARK_WIDTH) - theme.measure(aside, CAPTION) - px(3 * GAP)
        title = theme.shortened(card.title, room, STRONG)
        canvas.create_text(px(MARK_WIDTH), top, anchor="nw", text=title, font=STRONG, fill=ink)

    def _draw_line(self, line: CardLine, top: int, width: int, ink: str) -> None:
        canvas, theme, palette, px = self.canvas, self.theme, self.theme.palette, self.theme.px
        left = px(MARK_WIDTH + WORD_WIDTH)
        base = top + theme.line_height(BODY)
        side_by_side = self._lines_high(line) == 1
        middle = left + (width - left) * 0.52 if line.other and side_by_side else width
        canvas.create_text(
            px(MARK_WIDTH), base, anchor="sw", text=theme.shortened(line.word, px(WORD_WIDTH - GAP), CAPTION),
            font=CAPTION, fill=palette.dim,
        )  # fmt: skip
        canvas.create_text(
            left, base, anchor="sw", text=theme.shortened(line.published, middle - left - px(GAP), BODY),
            font=BODY, fill=ink,
        )  # fmt: skip
        if not side_by_side:
            middle, base = left, base + theme.line_height(BODY)
        canvas.create_text(
            middle, base, anchor="sw", text=theme.shortened(line.other, width - middle - px(GAP), BODY),
            font=BODY, fill=palette.dim,
        )  # fmt: skip

    def _lines_high(self, line: CardLine) -> int:
        """Over how many lines a figure goes."""
        return 2 if line.other and self.canvas.winfo_width() < self.theme.px(SIDE_BY_SIDE) else 1

    def _begins_section(self, at: int) -> bool:
        section = self._cards[at].section
        return bool(section) and (at == 0 or self._cards[at - 1].section != section)

    def _height_of(self, at: int) -> int:
        card, theme, px = self._cards[at], self.theme, self.theme.px
        height = 2 * px(PADDING) + theme.line_height(STRONG) + px(2)
        height += sum(map(self._lines_high, card.lines)) * theme.line_height(BODY)
        height += len(self._note_of(card)) * theme.line_height(CAPTION)
        return height + (px(HEADING_HEIGHT) if self._begins_section(at) else 0)

    def _note_of(self, card: Card) -> list[str]:
        room = max(self.canvas.winfo_width() - self.theme.px(MARK_WIDTH + GAP), self.theme.px(120))
        return wrapped(self.theme, card.note, room)

    # What a person does

    def told_at(self, at: int) -> str:
        return self._cards[at].detail

    def cursor(self) -> int:
        return self._at

    def clicked(self, at: int, _event: tk.Event[tk.Misc]) -> None:
        self._move(at)

    def pressed(self, event: tk.Event[tk.Misc]) -> bool:
        target = self.target_of(event)
        by_itself = not held(event)
        if target is not None and by_itself:
            self._move(target)
            return True
        if event.keysym == "Escape":
            self._on_leave()
            return True
        if event.keysym in ("Return", "KP_Enter") and by_itself:
            self.opened()
            return True
        return self.done_by_key(event)

    def opened(self) -> None:
        card = self.chosen()
        if card is not None:
            self._on_open(card)

    def focused(self) -> None:
        if self.chosen() is None and self._cards:
            self._move(0)
        self.draw()

    def menu_chosen(self, at: int) -> None:
        self._move(at)

    def deeds(self) -> Sequence[Deed]:
        return self._deeds_for(self.chosen())

    def _move(self, at: int) -> None:
        if not self._cards:
            return
        self._at = max(0, min(at, len(self._cards) - 1))
        self.stack.show(self.canvas.winfo_height())
        self.stack.see(self._at)
        self.draw()
        self._on_choose(self.chosen())
