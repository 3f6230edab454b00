"""The window tests have a real screen of their own."""

from __future__ import annotations

import os
import tkinter


def test_a_window_opens_on_the_virtual_screen(display: str) -> None:
    assert os.environ.get("DISPLAY", "") == display
    window = tkinter.Tk()
    try:
        window.update()
        assert window.winfo_ismapped()
        assert (window.winfo_screenwidth(), window.winfo_screenheight()) >= (1280, 800)
    finally:
        window.destroy()
