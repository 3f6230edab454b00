"""The window is crisp at every scale, light and dark."""

from __future__ import annotations

import base64
import io
import tkinter as tk
from collections.abc import Iterator
from tkinter import font, ttk

import pytest
from PIL import Image

from gui.marks import MARKS, chip_png, draw_mark
from gui.signs import DARK, LIGHT
from gui.theme import BODY, ROW_HEIGHT, SCALES, Theme
from tests.gui.desk import Desk


@pytest.fixture
def root(display: str) -> Iterator[tk.Tk]:
    window = tk.Tk()
    yield window
    window.destroy()


def measured(root: tk.Tk, scale: float) -> tuple[int, int, int, int]:
    """Row height, letter height, width of a tick box and width of a drop-down's arrow place, in pixels."""
    theme = Theme(root, scale=scale)
    row = int(ttk.Style(root).lookup("Treeview", "rowheight"))
    letters = -int(font.nametofont(BODY, root).cget("size"))
    tick = ttk.Checkbutton(root).winfo_reqwidth()
    box = ttk.Scrollbar(root, orient="vertical").winfo_reqwidth()
    assert row == theme.px(ROW_HEIGHT)
    return row, letters, tick, box


@pytest.mark.parametrize("scale", SCALES)
def test_rows_letters_and_little_pictures_grow_together(display: str, scale: float) -> None:
    sizes = []
    for each in (1.0, scale):
        window = tk.Tk()
        sizes.append(measured(window, each))
        window.destroy()
    for plain, scaled in zip(*sizes, strict=True):
        assert scaled == pytest.approx(plain * scale, abs=2)


def test_an_odd_scale_is_an_error(root: tk.Tk) -> None:
    with pytest.raises(ValueError, match=r"1\.1"):
        Theme(root, scale=1.1)


def test_dark_and_light_change_at_once_and_tell_every_drawing(desk: Desk) -> None:
    drawn: list[str] = []
    canvas = tk.Canvas(desk.root)
    canvas.pack()
    desk.theme.draw_with(canvas, lambda: drawn.append(desk.theme.palette.name))
    desk.root.update()
    desk.theme.set_dark(True)
    desk.root.update()
    assert str(ttk.Style(desk.root).lookup("TFrame", "background")) == DARK.ground
    assert drawn[-1] == "dark"
    desk.theme.set_dark(False)
    desk.root.update()
    assert str(ttk.Style(desk.root).lookup("TFrame", "background")) == LIGHT.ground
    assert drawn[-1] == "light"


@pytest.mark.parametrize("dark", [False, True])
def test_the_names_in_the_file_dialog_are_dark_on_its_white_list(desk: Desk, dark: bool) -> None:
    desk.theme.set_dark(dark)
    desk.root.update()
    tcl = desk.root.tk
    tcl.eval("toplevel .files -class TkFDialog; ::tk::IconList .files.list; pack .files.list")
    chip = str(desk.theme.chip("#000000"))
    tcl.call(".files.list", "add", chip, ("certificate.pdf",))
    desk.root.update()
    canvas = str(tcl.eval("set [info object namespace .files.list]::canvas"))
    written = [
        each
        for each in tcl.splitlist(tcl.call(canvas, "find", "all"))
        if tcl.call(canvas, "type", each) == "text"
    ]
    ink = str(tcl.call(canvas, "itemcget", written[0], "-fill"))
    paper = str(tcl.call(canvas, "cget", "-background"))
    assert sum(desk.root.winfo_rgb(paper)) - sum(desk.root.winfo_rgb(ink)) > 2 * 0xFFFF


def test_a_chip_is_a_disc_of_the_very_hue() -> None:
    picture = Image.open(io.BytesIO(base64.b64decode(chip_png(20, "#e69f00")))).convert("RGBA")
    assert picture.size == (20, 20)
    assert picture.getpixel((10, 10)) == (0xE6, 0x9F, 0x00, 255)
    assert picture.getpixel((0, 0))[3] == 0  # type: ignore[index]


@pytest.mark.parametrize("name", sorted(MARKS))
def test_every_mark_stays_within_its_square(desk: Desk, name: str) -> None:
    canvas = tk.Canvas(desk.root, width=100, height=100)
    draw_mark(canvas, name, 20, 20, 48, "#000000")
    left, top, right, bottom = canvas.bbox("mark")
    assert left >= 18 and top >= 18
    assert right <= 70 and bottom <= 70
