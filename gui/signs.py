"""The signs of the trade: a mark, a word and a hue for each, and the two palettes they are shown on.

Nothing here touches the screen, so a presenter may name a sign and a test may measure its contrast.
The hues are the colour-blind-safe set of Okabe and Ito, *Color Universal Design* (2008). A hue is kept, but
mixed with black or white until text in it can be read on every ground of the theme.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

TEXT_CONTRAST_MIN = 4.5
TINT_SHARE = 0.22

BLACK = "#000000"
WHITE = "#ffffff"
ORANGE = "#e69f00"
SKY_BLUE = "#56b4e9"
BLUISH_GREEN = "#009e73"
YELLOW = "#f0e442"
BLUE = "#0072b2"
VERMILLION = "#d55e00"
REDDISH_PURPLE = "#cc79a7"
GREY = "#888888"


@dataclass(frozen=True)
class Sign:
    """One state, told three ways at once: by ``mark``, by ``word`` and by ``hue`` (``#rrggbb``)."""

    mark: str
    word: str
    hue: str

    @property
    def text(self) -> str:
        """Mark and word together, as a list or a sheet shows them."""
        return f"{self.mark} {self.word}"


_SIGNS = (
    Sign("✓", "serviceable", BLUISH_GREEN),
    Sign("?", "uninspected", SKY_BLUE),
    Sign("↻", "unserviceable", ORANGE),
    Sign("✕", "unsalvageable", VERMILLION),
    Sign("◷", "due soon", YELLOW),
    Sign("!", "expired", VERMILLION),
    Sign("⊘", "on hold", REDDISH_PURPLE),
    Sign("✓", "complete", BLUISH_GREEN),
    Sign("⇄", "with alternate", BLUE),
    Sign("◔", "short", ORANGE),
    Sign("⊗", "blocked", VERMILLION),
    Sign("…", "not worked out", GREY),
    Sign("▯", "no kit list", GREY),
    Sign("⚑", "reserved", BLUE),
    Sign("▤", "in quarantine", REDDISH_PURPLE),
    Sign("◈", "someone else's", REDDISH_PURPLE),
    Sign("▽", "ground running only", YELLOW),
    Sign("▿", "display only", YELLOW),
    Sign("⇗", "out for work", SKY_BLUE),
    Sign("∅", "no papers", ORANGE),
    Sign("≠", "unsuited", GREY),
    Sign("◐", "part issued", SKY_BLUE),
    Sign("▶", "issued", BLUE),
    Sign("↩", "returned", BLUISH_GREEN),
    Sign("■", "closed", GREY),
    Sign("⊝", "cancelled", GREY),
    Sign("↶", "reversed", GREY),
    Sign("⚙", "fitted", BLUISH_GREEN),
    Sign("⌂", "in stores", BLUE),
    Sign("⚒", "on the bench", ORANGE),
    Sign("▧", "history missing", VERMILLION),
    Sign("✎", "entry", GREY),
    Sign("▭", "paper", SKY_BLUE),
    Sign("⌕", "inspection", BLUISH_GREEN),
    Sign("⚠", "take care", VERMILLION),
    Sign("✓", "within limits", BLUISH_GREEN),
    Sign("?", "unknown", REDDISH_PURPLE),
    Sign("–", "no limit", GREY),
    Sign("◌", "presumed", ORANGE),
    Sign("○", "nothing recorded", GREY),
    Sign("⇠", "owed", VERMILLION),
    Sign("☇", "event not cleared", VERMILLION),
    Sign("☇", "engine event", GREY),
    Sign("?", "life unknown", REDDISH_PURPLE),
    Sign("↥", "stripped", ORANGE),
    Sign("◎", "overhauled", BLUISH_GREEN),
    Sign("§", "concession", BLUE),
    Sign("✓", "within new limits", BLUISH_GREEN),
    Sign("◒", "within worn limits", ORANGE),
    Sign("✕", "out of limits", VERMILLION),
    Sign("–", "no limits", GREY),
    Sign("✕", "too tight", VERMILLION),
    Sign("✕", "too loose", VERMILLION),
    Sign("⚒", "to be machined", BLUE),
    Sign("≡", "to be selected", BLUE),
    Sign("?", "to be measured", SKY_BLUE),
    Sign("✓", "passed", BLUISH_GREEN),
    Sign("✕", "not passed", VERMILLION),
    Sign("…", "not taken", GREY),
    Sign("?", "is it so", REDDISH_PURPLE),
    Sign("✎", "no figure", VERMILLION),
    Sign("!", "overdue", VERMILLION),
    Sign("✕", "scrapped", VERMILLION),
    Sign("✓", "in calibration", BLUISH_GREEN),
    Sign("◷", "calibration due soon", YELLOW),
    Sign("!", "out of calibration", VERMILLION),
    Sign("∅", "never calibrated", ORANGE),
    Sign("⊣", "withdrawn", GREY),
    Sign("◂", "may stand in", BLUE),
    Sign("◀", "supersedes", BLUISH_GREEN),
    Sign("⇄", "both ways", REDDISH_PURPLE),
    Sign("⊣", "ended", GREY),
    Sign("◷", "not yet in force", GREY),
    Sign("✓", "on the shelf", BLUISH_GREEN),
    Sign("∅", "none on the shelf", GREY),
    Sign("∅", "no specification", ORANGE),
    Sign("◴", "life-limited", YELLOW),
    Sign("‼", "critical", VERMILLION),
    Sign("⇠", "on order", SKY_BLUE),
    Sign("⇢", "to be given", ORANGE),
    Sign("?", "asked", SKY_BLUE),
    Sign("✓", "answered", BLUISH_GREEN),
    Sign("✓", "stands", BLUISH_GREEN),
    Sign("⇋", "lent", BLUE),
    Sign("▯", "on no kit list", ORANGE),
    Sign("✓", "of use", GREY),
    Sign("!", "runs short", VERMILLION),
    Sign("◷", "to watch", YELLOW),
    Sign("✓", "enough in sight", BLUISH_GREEN),
    Sign("▣", "planned", BLUE),
    Sign("◌", "proposed", ORANGE),
    Sign("✎", "the shop's own", BLUE),
    Sign("◇", "comes with the program", GREY),
)
SIGNS: dict[str, Sign] = {each.word: each for each in _SIGNS}


def sign(word: str) -> Sign:
    """The sign for a state by its word, such as ``"on hold"`` or ``Condition.SERVICEABLE``.

    KeyError if there is no such sign: a new state needs a mark of its own before it can be shown.
    """
    return SIGNS[str(word)]


_LOOKED_AT_FIRST = (
    "expired",
    "out of limits",
    "too tight",
    "too loose",
    "not passed",
    "overdue",
    "runs short",
    "event not cleared",
    "on hold",
    "unknown",
    "life unknown",
    "due soon",
    "owed",
    "presumed",
    "history missing",
    "nothing recorded",
    "within worn limits",
    "to be measured",
    "not taken",
    "not worked out",
)


def urgency(word: str) -> int:
    """How much a sign, by its word, asks to be looked at: 0 for what is in order, higher for what is not."""
    return len(_LOOKED_AT_FIRST) - _LOOKED_AT_FIRST.index(word) if word in _LOOKED_AT_FIRST else 0


def _channels(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB ``#rrggbb``, 0 for black to 1 for white.

    Source: W3C, Web Content Accessibility Guidelines 2.2, definition of relative luminance.
    """

    def linear(channel: int) -> float:
        share = channel / 255
        return share / 12.92 if share <= 0.04045 else float(((share + 0.055) / 1.055) ** 2.4)

    red, green, blue = _channels(colour)
    return 0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue)


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two ``#rrggbb`` colours, 1 to 21.

    Source: W3C, Web Content Accessibility Guidelines 2.2, definition of contrast ratio.
    """
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def mixed(colour: str, other: str, share: float) -> str:
    """``share`` (0 to 1) of ``colour`` with the rest of ``other``, channel by channel, as ``#rrggbb``."""
    pairs = zip(_channels(colour), _channels(other), strict=True)
    return "#" + "".join(f"{round(a * share + b * (1 - share)):02x}" for a, b in pairs)


@dataclass(frozen=True)
class Palette:
    """The colours of one theme, each ``#rrggbb``.

    ``ground`` lies behind everything, ``raised`` behind fields and cards, ``chosen`` behind a selected row,
    ``shade`` behind the rail and the quiet line. ``ink`` is text, ``dim`` is text that may be passed over,
    ``line`` is a rule or an outline, ``accent`` marks the focus and ``towards`` is what hues are mixed with.
    """

    name: str
    ground: str
    raised: str
    chosen: str
    shade: str
    ink: str
    dim: str
    line: str
    accent: str
    towards: str

    @property
    def grounds(self) -> tuple[str, ...]:
        """Every colour that plain text may stand on."""
        return self.ground, self.raised, self.chosen, self.shade

    def tone(self, hue: str) -> str:
        """The hue as text, or as a thin line: readable on every ground of this theme."""
        return _readable(hue, self.towards, self.grounds)

    def tint(self, hue: str) -> str:
        """The hue as a pale fill on which ``ink`` stays readable."""
        return mixed(hue, self.ground, TINT_SHARE)

    def on_tint(self, hue: str) -> str:
        """The hue as text upon its own tint."""
        return _readable(hue, self.towards, (self.tint(hue), *self.grounds))


@lru_cache(maxsize=256)
def _readable(hue: str, towards: str, grounds: tuple[str, ...]) -> str:
    for percent in range(100, -1, -2):
        toned = mixed(hue, towards, percent / 100)
        if min(contrast(toned, ground) for ground in grounds) >= TEXT_CONTRAST_MIN:
            return toned
    raise ValueError(f"no mixture of {hue} with {towards} can be read on {grounds}")


LIGHT = Palette(
    name="light",
    ground="#fafafa",
    raised="#ffffff",
    chosen="#d3e5f5",
    shade="#efefef",
    ink="#1c1c1c",
    dim="#565656",
    line="#c4c4c4",
    accent="#005fb8",
    towards=BLACK,
)
DARK = Palette(
    name="dark",
    ground="#1c1c1c",
    raised="#2a2a2a",
    chosen="#1f4260",
    shade="#242424",
    ink="#fafafa",
    dim="#b4b4b4",
    line="#4c4c4c",
    accent="#57c8ff",
    towards=WHITE,
)
