"""How the window looks: light or dark, and at what scale; one object that every widget is given.

Sizes are written as they are at 100 % and passed through :meth:`Theme.px`, so that fonts, rows, paddings
and drawings grow together. The theme's own little pictures (ticks, arrows) are resized when it loads.
"""

from __future__ import annotations

import re
import sys
import tkinter as tk
from collections.abc import Callable
from pathlib import Path
from tkinter import font, ttk
from typing import Any

import sv_ttk

from gui.marks import chip_png
from gui.signs import DARK, LIGHT, Palette

SCALES = (1.0, 1.25, 1.5, 1.75, 2.0)
ROW_HEIGHT = 26
CHIP_SIZE = 14
CHIP_COLUMN = 26
DOTS_PER_INCH_PLAIN = 96
POINTS_PER_INCH = 72

FONT_PIXELS = {
    "SunValleyCaptionFont": 12,
    "SunValleyBodyFont": 14,
    "SunValleyBodyStrongFont": 14,
    "SunValleyBodyLargeFont": 18,
    "SunValleySubtitleFont": 20,
    "SunValleyTitleFont": 28,
    "SunValleyTitleLargeFont": 40,
    "SunValleyDisplayFont": 68,
    "TkDefaultFont": 14,
    "TkTextFont": 14,
    "TkMenuFont": 14,
    "TkHeadingFont": 12,
    "TkCaptionFont": 14,
    "TkSmallCaptionFont": 12,
    "TkTooltipFont": 12,
    "TkFixedFont": 14,
}
BOLD_FONTS = ("SunValleyBodyStrongFont", "SunValleySubtitleFont", "SunValleyTitleFont")

CAPTION = "SunValleyCaptionFont"
BODY = "SunValleyBodyFont"
STRONG = "SunValleyBodyStrongFont"
SUBTITLE = "SunValleySubtitleFont"
TITLE = "SunValleyTitleFont"

_DIMENSION = re.compile(r"(-(?:padding|width|height|border|sashthickness) )(\{[\d ]+\}|\d+)")
_SPRITE = re.compile(r"^\s*([a-z][a-z-]*) (\d+) (\d+) (\d+) (\d+) \\$", re.MULTILINE)


class Theme:
    """The look of one window. ``palette``, ``dark`` and ``scale`` may be read; change by :meth:`set_dark`.

    ``scale`` is one of :data:`SCALES`; None takes what the screen itself asks for. A drawing redraws itself
    on the virtual event ``<<ThemeChanged>>``, which every widget gets.
    """

    def __init__(self, root: tk.Tk, *, dark: bool = False, scale: float | None = None) -> None:
        self.root = root
        self.scale = scale if scale is not None else scale_of_screen(root)
        if self.scale not in SCALES:
            raise ValueError(f"scale {self.scale} is none of {SCALES}")
        self.dark = dark
        self.palette: Palette = DARK if dark else LIGHT
        root.tk.call("tk", "scaling", self.scale * DOTS_PER_INCH_PLAIN / POINTS_PER_INCH)
        if self.scale != 1.0:
            _load_scaled(root, self.scale)
        sv_ttk.get_theme(root)
        self._size_fonts()
        # Tk's own file dialog lists the files on white whatever the theme, in the ink of the theme.
        root.option_add("*TkFDialog*Canvas.foreground", "black", "interactive")
        self._chips: dict[str, tk.PhotoImage] = {}
        self.set_dark(dark)

    def px(self, size: float) -> int:
        """Pixels on this screen for ``size`` pixels at 100 %."""
        return round(size * self.scale)

    def pad(self, across: float, down: float) -> tuple[int, int]:
        """A padding left and right, and above and below, as ttk wants it."""
        return self.px(across), self.px(down)

    def set_dark(self, dark: bool) -> None:
        """Show the window dark or light, at once and everywhere."""
        self.dark = dark
        self.palette = DARK if dark else LIGHT
        sv_ttk.set_theme("dark" if dark else "light", self.root)
        # The theme sets its ground on an event that an unmapped window never gets.
        self.root.tk.call("configure_colors")
        self._configure_styles()

    def chip(self, hue: str) -> tk.PhotoImage:
        """A disc of the hue to stand before a row, in both themes; made once and kept."""
        if hue not in self._chips:
            data = chip_png(self.px(CHIP_SIZE), hue)
            self._chips[hue] = tk.PhotoImage(master=self.root, data=data)
        return self._chips[hue]

    def measure(self, text: str, name: str = BODY) -> int:
        """Width of the text in pixels in one of the named fonts."""
        return int(self.root.tk.call("font", "measure", name, text))

    def shortened(self, text: str, width: float, name: str = BODY) -> str:
        """The text, or as much of its beginning as fits that width in pixels with an ellipsis behind it."""
        if self.measure(text, name) <= width:
            return text
        fits, too_long = 0, len(text)
        while too_long - fits > 1:
            middle = (fits + too_long) // 2
            if self.measure(f"{text[:middle].rstrip()}…", name) <= width:
                fits = middle
            else:
                too_long = middle
        return f"{text[:fits].rstrip()}…"

    def line_height(self, name: str = BODY) -> int:
        """Height of a line in pixels in one of the named fonts."""
        return int(self.root.tk.call("font", "metrics", name, "-linespace"))

    def draw_with(self, canvas: tk.Canvas, draw: Callable[[], None]) -> None:
        """Call ``draw`` whenever the canvas changes its size or the theme its colours, once a turn."""
        pending: list[str] = []

        def drawn() -> None:
            pending.clear()
            if canvas.winfo_exists():
                draw()

        def soon(_event: object = None) -> None:
            if not pending:
                pending.append(canvas.after_idle(drawn))

        canvas.bind("<Configure>", soon, add="+")
        canvas.bind("<<ThemeChanged>>", soon, add="+")

    def _size_fonts(self) -> None:
        plain = font.nametofont("TkDefaultFont", self.root).actual()["family"]
        wanted = font.nametofont(BODY, self.root)
        family = wanted.cget("family") if wanted.cget("family") == wanted.actual()["family"] else plain
        for name, pixels in FONT_PIXELS.items():
            options: dict[str, str | int] = {"size": -self.px(pixels)}
            if family == plain and name != "TkFixedFont":
                options["family"] = family
                options["weight"] = "bold" if name in BOLD_FONTS else "normal"
            self.root.tk.call("font", "configure", name, *_flat(options))

    def _configure_styles(self) -> None:
        palette = self.palette
        style = ttk.Style(self.root)
        style.configure("Treeview", rowheight=self.px(ROW_HEIGHT), foreground=palette.ink)
        style.map(
            "Treeview",
            background=[("selected", palette.chosen)],
            foreground=[("selected", palette.ink)],
        )
        style.configure("List.Treeview", indent=0)
        chip_alone: Any = {"sticky": "nswe", "children": [("Treeitem.image", {"sticky": ""})]}
        style.layout("List.Treeview.Item", [("Treeitem.padding", chip_alone)])
        style.configure("List.Treeview.Item", padding=self.pad(5, 0))
        style.configure("Heading", font=CAPTION, padding=self.pad(4, 2))
        style.configure("TMenubutton", anchor="w")
        # The theme's own tabs have more room around their words than a narrow window can spare.
        words_alone: Any = {"sticky": "nswe", "children": [("Notebook.label", {"sticky": ""})]}
        style.layout("Narrow.TNotebook.Tab", [("Notebook.padding", words_alone)])
        style.configure("Narrow.TNotebook.Tab", padding=self.pad(6, 5))
        style.map("Narrow.TNotebook.Tab", foreground=[("selected", palette.accent)])
        style.configure("Dim.TLabel", foreground=palette.dim)
        style.configure("Caption.TLabel", font=CAPTION, foreground=palette.dim)
        style.configure("Strong.TLabel", font=STRONG)
        style.configure("Subtitle.TLabel", font=SUBTITLE)
        style.configure("Title.TLabel", font=TITLE)
        style.configure("Chosen.TFrame", background=palette.chosen)
        style.configure("Chosen.TLabel", background=palette.chosen)
        style.configure("ChosenCaption.TLabel", background=palette.chosen, font=CAPTION)
        style.configure("Shade.TFrame", background=palette.shade)
        style.configure("Shade.TLabel", background=palette.shade)
        style.configure("ShadeDim.TLabel", background=palette.shade, foreground=palette.dim)
        style.configure("ShadeCaption.TLabel", background=palette.shade, foreground=palette.dim, font=CAPTION)
        style.configure("Empty.TEntry", foreground=palette.dim)
        style.map("Empty.TEntry", foreground=[("active", palette.dim)])
        refused = palette.tone("#d55e00")
        style.configure("Refused.TLabel", foreground=refused)
        style.configure("ShadeRefused.TLabel", background=palette.shade, foreground=refused)
        # Only where the keys go is anything seen as chosen.
        style.map(
            "TEntry",
            foreground=[("disabled", palette.dim)],
            selectbackground=[("!focus", palette.ground)],
            selectforeground=[("!focus", palette.ink)],
        )
        style.map("TCombobox", foreground=[("disabled", palette.dim)])


def has_focus(widget: tk.Misc) -> bool:
    """Whether the keys go to that widget.

    Tk is asked by name, since tkinter knows no widget for the list that drops from a combobox.
    """
    return str(widget.tk.call("focus")) == str(widget)


def scale_of_screen(root: tk.Tk) -> float:
    """The one of :data:`SCALES` that the screen's own density asks for, rounded down."""
    asked = root.winfo_fpixels("1i") / DOTS_PER_INCH_PLAIN
    return max((scale for scale in SCALES if scale <= asked), default=SCALES[0])


def ask_for_real_pixels() -> None:
    """Tell Windows, before the first window opens, that we draw at the screen's own density."""
    if sys.platform == "win32":
        import ctypes

        ctypes.windll.shcore.SetProcessDpiAwareness(1)


def _flat(options: dict[str, str | int]) -> list[str | int]:
    return [part for name, value in options.items() for part in (f"-{name}", value)]


def _load_scaled(root: tk.Tk, scale: float) -> None:
    """Load sv_ttk with every dimension and every small picture of it multiplied by the scale.

    The theme is written for 100 % only. Its script is read as it stands and its numbers multiplied, so that
    a later version of it needs no work here as long as it is laid out alike.
    """
    folder = Path(sv_ttk.__file__).parent
    for name in ("light", "dark"):
        sprites = (folder / "theme" / f"sprites_{name}.tcl").read_text(encoding="utf-8")
        positions, sheet = _scaled_sprites(folder / "theme" / f"spritesheet_{name}.png", sprites, scale)
        script = (folder / "theme" / f"{name}.tcl").read_text(encoding="utf-8")
        script = re.sub(r"^source .*$", "", script, count=1, flags=re.MULTILINE)
        script = script.replace("-file $imgfile", "-data $imgfile")
        script = re.sub(r"^  load_images .*$", "  load_images $::spritesheet", script, flags=re.MULTILINE)
        script = _DIMENSION.sub(lambda found: found[1] + _multiplied(found[2], scale), script)
        root.tk.call("set", "::spriteinfo", positions)
        root.tk.call("set", "::spritesheet", sheet)
        root.tk.eval(script)
    root.tk.call("unset", "::spriteinfo", "::spritesheet")
    rest = (folder / "sv.tcl").read_text(encoding="utf-8")
    root.tk.eval(re.sub(r"^source .*$", "", rest, flags=re.MULTILINE))
    root._sv_ttk_loaded = True  # type: ignore[attr-defined]


def _multiplied(numbers: str, scale: float) -> str:
    return re.sub(r"\d+", lambda found: str(round(int(found[0]) * scale)), numbers)


def _scaled_sprites(sheet: Path, listing: str, scale: float) -> tuple[tuple[str | int, ...], bytes]:
    """Every sprite of the sheet resized by itself, so that none bleeds into its neighbour.

    Returns the flat list of name, x, y, width, height and the new sheet as PNG bytes.
    """
    from io import BytesIO

    from PIL import Image

    sprites = [(found[1], [int(found[part]) for part in range(2, 6)]) for found in _SPRITE.finditer(listing)]
    positions: list[str | int] = []
    row_width = round(400 * scale)
    resized = []
    left = top = tallest = 0
    with Image.open(sheet) as opened:
        whole = opened.convert("RGBA")
    for name, (x, y, width, height) in sprites:
        size = (round(width * scale), round(height * scale))
        sprite = whole.crop((x, y, x + width, y + height)).resize(size, Image.Resampling.LANCZOS)
        if left + size[0] > row_width:
            left, top, tallest = 0, top + tallest, 0
        resized.append((sprite, left, top))
        positions += [name, left, top, *size]
        left, tallest = left + size[0], max(tallest, size[1])
    packed = Image.new("RGBA", (row_width, top + tallest))
    for sprite, x, y in resized:
        packed.paste(sprite, (x, y))
    written = BytesIO()
    packed.save(written, "PNG")
    return tuple(positions), written.getvalue()
