"""Need and supply of one part by month, and beneath them the chance of running short with its thresholds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from gui.shown_need import NeedMonth, NeedPicture, Spread
from gui.signs import BLUE, BLUISH_GREEN, sign
from gui.theme import CAPTION, has_focus
from gui.widgets.life_line import spread
from gui.widgets.walked_chart import WalkedChart

LEFT = 46
HEAD, BETWEEN, FOOT = 24, 34, 24
UPPER_SHARE = 0.56
# With less room than this for both, the chances have it to themselves.
BOTH_ROOM_MIN = 80
CHANCE_TOP_MIN = 0.4
TICK_WIDTH = 64
LINES_MAX = 4
COUNTED = "off"
NEED, SUPPLY = BLUE, BLUISH_GREEN
LEGEND = ((NEED, "━", "will be wanted"), (SUPPLY, "┅", "will be there"))
BAND_WORDS = "with the range that holds it with 80 %"
CHANCE_WORDS = "Chance of running short by the end of the month"


@dataclass(frozen=True)
class Panel:
    """Figures from 0 to ``most`` between the heights ``bottom`` and ``top``, in pixels."""

    most: float
    top: float
    bottom: float

    def at(self, value: float) -> float:
        """The height at which a figure lies."""
        return self.bottom - value / self.most * (self.bottom - self.top)


class NeedChart(WalkedChart):
    """Month by month; see :class:`gui.widgets.walked_chart.WalkedChart`."""

    _picture: NeedPicture | None = None

    def show(self, picture: NeedPicture) -> None:
        """Draw this part; the month one stands on stays, by its place."""
        self._picture, self._empty = picture, ""
        last = len(picture.months) - 1
        self._chosen = last if self._chosen < 0 else min(self._chosen, last)
        self._draw()

    def say(self, words: str) -> None:
        """Draw nothing and say why."""
        self._picture, self._empty = None, words
        self._draw()

    def chosen(self) -> NeedMonth | None:
        """The month one stands on."""
        return self._picture.months[self._chosen] if self._picture and self._picture.months else None

    def _told_of_points(self) -> Sequence[str]:
        return [month.told for month in self._picture.months] if self._picture is not None else ()

    def _draw_points_above(self, bottom: float) -> None:
        px, picture = self._theme.px, self._picture
        assert picture is not None, "nothing is drawn"
        base = bottom - px(FOOT)
        room = base - px(HEAD + BETWEEN)
        upper_room = room * UPPER_SHARE if room >= px(BOTH_ROOM_MIN) else 0
        upper = Panel(_most(picture), px(HEAD), px(HEAD) + upper_room)
        top = max(CHANCE_TOP_MIN, picture.short * 1.5, *(month.chance * 1.1 for month in picture.months))
        lower = Panel(min(1.0, top), upper.bottom + px(BETWEEN) * bool(upper_room), base)
        self._draw_cursor(upper.top, lower.bottom)
        if upper_room:
            self._draw_upper(picture, upper)
        self._draw_lower(picture, lower)
        self._draw_months(picture, lower.bottom)

    def _sides(self) -> tuple[float, float]:
        px, theme, picture = self._theme.px, self._theme, self._picture
        words = [word for _share, word, _state in thresholds(picture)] if picture is not None else []
        beside = max((theme.measure(word, CAPTION) for word in words), default=0)
        width = self.canvas.winfo_width()
        return px(LEFT), max(width - beside - px(18), px(LEFT + 80))

    def _middles(self) -> list[float]:
        assert self._picture is not None, "nothing is drawn"
        left, right = self._sides()
        wide = (right - left) / len(self._picture.months)
        return [left + wide * (at + 0.5) for at in range(len(self._picture.months))]

    def _draw_cursor(self, top: float, bottom: float) -> None:
        palette, px, canvas = self._theme.palette, self._theme.px, self.canvas
        middles, (left, right) = self._middles(), self._sides()
        half = max((right - left) / len(middles) / 2, px(4))
        focused = has_focus(canvas)
        canvas.create_rectangle(
            middles[self._chosen] - half, top, middles[self._chosen] + half, bottom, tags="chosen",
            fill=palette.chosen if focused else palette.shade,
            outline=palette.accent if focused else palette.line,
        )  # fmt: skip

    def _draw_upper(self, picture: NeedPicture, panel: Panel) -> None:
        palette, px, canvas, theme = self._theme.palette, self._theme.px, self.canvas, self._theme
        x = self._write(px(4), px(HEAD) / 2, picture.unit, palette.dim) + px(14)
        for hue, stroke, word in LEGEND:
            x = self._write(x, px(HEAD) / 2, f"{stroke} {word}", palette.tone(hue)) + px(16)
        room = canvas.winfo_width() - x - px(4)
        if theme.measure(BAND_WORDS, CAPTION) <= room:
            self._write(x, px(HEAD) / 2, BAND_WORDS, palette.dim)
        left, right = self._sides()
        for value in ticks_of(panel.most, LINES_MAX, least_of(picture.unit)):
            y = panel.at(value)
            canvas.create_line(left, y, right, y, fill=palette.line if value else palette.dim)
            canvas.create_text(left - px(6), y, anchor="e", text=f"{value:g}", font=CAPTION, fill=palette.dim)
        for hue, dash, spreads in (
            (SUPPLY, (6, 3), [month.supply for month in picture.months]),
            (NEED, (), [month.need for month in picture.months]),
        ):
            self._draw_band(spreads, panel, hue)
            self._draw_mean(spreads, panel, hue, dash)

    def _draw_band(self, spreads: Sequence[Spread | None], panel: Panel, hue: str) -> None:
        known = [(x, each) for x, each in zip(self._middles(), spreads, strict=True) if each is not None]
        if len(known) < 2:
            return
        edge = [(x, panel.at(each.high)) for x, each in known]
        edge += [(x, panel.at(each.low)) for x, each in reversed(known)]
        # Both bands must be seen where they lie upon each other, so one of them is drawn in dots.
        self.canvas.create_polygon(
            *(part for point in edge for part in point), fill=self._theme.palette.tone(hue), outline="",
            stipple="gray25" if hue == NEED else "gray12", tags="band",
        )  # fmt: skip

    def _draw_mean(
        self, spreads: Sequence[Spread | None], panel: Panel, hue: str, dash: tuple[int, ...]
    ) -> None:
        known = [(x, each) for x, each in zip(self._middles(), spreads, strict=True) if each is not None]
        colour, wide = self._theme.palette.tone(hue), self._theme.px(2)
        for (x, one), (after, other) in pairwise(known):
            self.canvas.create_line(
                x, panel.at(one.mean), after, panel.at(other.mean), fill=colour, width=wide, dash=dash,
                tags="mean",
            )  # fmt: skip

    def _draw_lower(self, picture: NeedPicture, panel: Panel) -> None:
        palette, px, canvas, theme = self._theme.palette, self._theme.px, self.canvas, self._theme
        left, right = self._sides()
        self._write(px(4), panel.top - px(BETWEEN) / 2 - px(2), CHANCE_WORDS, palette.dim)
        for value in (0.0, panel.most):
            y = panel.at(value)
            canvas.create_line(left, y, right, y, fill=palette.line if value else palette.dim)
            canvas.create_text(
                left - px(6), y, anchor="e", text=f"{value:.0%}".replace("%", " %"), font=CAPTION,
                fill=palette.dim,
            )  # fmt: skip
        marked = thresholds(picture)
        heights = spread(
            [panel.at(share) for share, _word, _state in marked],
            theme.line_height(CAPTION),
            panel.top - px(6),
            panel.bottom,
        )
        for (share, word, state), beside in zip(marked, heights, strict=True):
            tone, y = palette.tone(sign(state).hue), panel.at(share)
            canvas.create_line(left, y, right, y, fill=tone, dash=(5, 3), width=px(1.5), tags="threshold")
            canvas.create_line(right, y, right + px(6), beside, fill=tone)
            canvas.create_text(
                right + px(9), beside, anchor="w", text=word, font=CAPTION, fill=tone, tags="threshold_words"
            )
        self._draw_chances(picture, panel)

    def _draw_chances(self, picture: NeedPicture, panel: Panel) -> None:
        palette, px, canvas = self._theme.palette, self._theme.px, self.canvas
        points = list(zip(self._middles(), picture.months, strict=True))
        for (x, one), (after, other) in pairwise(points):
            canvas.create_line(
                x, panel.at(one.chance), after, panel.at(other.chance), fill=palette.ink, width=px(2),
                tags="chance",
            )  # fmt: skip
        radius = px(2.5)
        for x, month in points:
            y, tone = panel.at(month.chance), palette.tone(sign(month.sign).hue)
            canvas.create_oval(
                x - radius, y - radius, x + radius, y + radius, fill=tone, outline=tone, tags="month"
            )

    def _draw_months(self, picture: NeedPicture, bottom: float) -> None:
        palette, px, canvas = self._theme.palette, self._theme.px, self.canvas
        middles, (left, right) = self._middles(), self._sides()
        step = max(1, round(px(TICK_WIDTH) * len(middles) / (right - left) + 0.5))
        for at in range(0, len(middles), step):
            x = middles[at]
            canvas.create_line(x, bottom, x, bottom + px(4), fill=palette.dim)
            canvas.create_text(
                x, bottom + px(12), text=picture.months[at].word, font=CAPTION, fill=palette.dim, tags="axis"
            )

    def _write(self, x: float, y: float, words: str, colour: str) -> float:
        """Write words there, and give where they end."""
        item = self.canvas.create_text(x, y, anchor="w", text=words, font=CAPTION, fill=colour, tags="legend")
        return float(self.canvas.bbox(item)[2])

    def _at(self, x: float) -> int | None:
        if self._picture is None or not self._picture.months:
            return None
        left, right = self._sides()
        share = (x - left) / (right - left)
        return int(share * len(self._picture.months)) if 0 <= share < 1 else None


def thresholds(picture: NeedPicture) -> list[tuple[float, str, str]]:
    """Both thresholds from the higher to the lower: the share, its words and the word of its sign."""
    return [
        (picture.short, f"{sign('runs short').mark} short from {picture.short * 100:g} %", "runs short"),
        (picture.watch, f"{sign('to watch').mark} watched from {picture.watch * 100:g} %", "to watch"),
    ]


def ticks_of(most: float, lines: int, least: float = 1e-6) -> list[float]:
    """Round figures from 0 up to the most, about so many of them and none nearer than ``least``."""
    step, grows = least, 0
    while most / step > lines:
        # 1, 2, 5, 10, 20, 50 and so on.
        step *= (2.0, 2.5, 2.0)[grows % 3]
        grows += 1
    return [step * at for at in range(int(most / step) + 1)]


def _most(picture: NeedPicture) -> float:
    ends = [each.high for month in picture.months for each in (month.need, month.supply) if each is not None]
    return max(max(ends, default=0.0) * 1.1, least_of(picture.unit))


def least_of(unit: str) -> float:
    """How little is still told apart: a piece, or a millimetre or a gram."""
    return 1.0 if unit == COUNTED else 0.001
