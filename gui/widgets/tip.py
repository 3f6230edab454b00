"""What a thing is for, told when one points at it."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tktooltip import ToolTip

DELAY_SECONDS = 0.5
GOODBYE_MS = 2_000


def explain(widget: tk.Misc, text: str | Callable[[], str], key: str = "") -> None:
    """Show the text, and the key that does the same, when one points at the widget.

    Nothing is made until somebody first points at it, so a window full of explanations opens as fast.
    """
    shown: list[ToolTip] = []

    def said() -> str:
        words = text if isinstance(text, str) else text()
        return f"{words}  ({key})" if key else words

    def first_pointed_at(event: tk.Event[tk.Misc]) -> None:
        if not shown:
            shown.append(_tip(widget, said))
            shown[0].on_enter(event)

    def gone(_event: object) -> None:
        for tip in shown:
            # Its own timer may still be running, and finds an empty window rather than none.
            tip.on_leave()
            tip.after(GOODBYE_MS, tip.destroy)
        shown.clear()

    widget.bind("<Enter>", first_pointed_at, add="+")
    widget.bind("<Destroy>", gone, add="+")


class PartTips:
    """Tells what one points at within a drawing, part by part."""

    def __init__(self, canvas: tk.Canvas) -> None:
        self._canvas = canvas
        self._text = ""
        self._tips: list[ToolTip] = []
        canvas.bind("<Destroy>", self._gone, add="+")

    def pointed(self, event: tk.Event[tk.Misc], text: str) -> None:
        """What lies under the pointer now; "" for nothing to tell."""
        if text == self._text:
            return
        self._text = text
        if not self._tips:
            self._tips.append(_tip(self._canvas, lambda: self._text))
        self._tips[0].on_leave()
        if text:
            self._tips[0].on_enter(event)

    def _gone(self, _event: object) -> None:
        for tip in self._tips:
            tip.on_leave()
            tip.after(GOODBYE_MS, tip.destroy)
        self._tips.clear()


def _tip(widget: Any, said: Callable[[], str]) -> ToolTip:
    from tktooltip import ToolTip

    class Tip(ToolTip):
        """A tooltip that stays on the screen, goes at any key or click, and takes neither."""

        def vanishes_at_keys_and_clicks(self) -> None:
            """Stand before every other binding of the widget, any of which may end a key's or click's way."""
            self._focus = ""
            for pressed in ("<KeyPress>", "<ButtonPress>"):
                self.bind(pressed, self._pressed)
            self.bind("<ButtonRelease>", lambda event: self._pass_on(event, "ButtonRelease"))
            self._listen_at(str(widget))

        def on_enter(self, event: tk.Event[tk.Misc]) -> None:
            if said():
                super().on_enter(event)

        def on_leave(self, event: tk.Event[tk.Misc] | None = None) -> None:
            super().on_leave(event)
            if self._focus and self.tk.call("winfo", "exists", self._focus):
                others = [tag for tag in self._tags(self._focus) if tag != str(self)]
                self.tk.call("bindtags", self._focus, others)
            self._focus = ""

        def _show(self) -> None:
            super()._show()
            focus = str(self.tk.call("focus"))
            if self.winfo_viewable() and focus and str(self) not in self._tags(focus):
                self._focus = focus
                self._listen_at(focus)

        def _listen_at(self, path: str) -> None:
            self.tk.call("bindtags", path, (str(self), *self._tags(path)))

        def _tags(self, path: str) -> tuple[str, ...]:
            return tuple(map(str, self.tk.splitlist(self.tk.call("bindtags", path))))

        def _pressed(self, event: tk.Event[tk.Misc]) -> None:
            self.on_leave()
            if event.type is tk.EventType.ButtonPress:
                self._pass_on(event, "ButtonPress")

        def _pass_on(self, click: tk.Event[tk.Misc], what: str) -> None:
            if click.widget not in (self, self.message_widget):
                return
            # By path, since tkinter knows no widget for the list that drops from a combobox.
            beneath = str(self.tk.call("winfo", "containing", click.x_root, click.y_root))
            if beneath:
                x = click.x_root - int(self.tk.call("winfo", "rootx", beneath))
                y = click.y_root - int(self.tk.call("winfo", "rooty", beneath))
                place = ("-x", x, "-y", y, "-rootx", click.x_root, "-rooty", click.y_root)
                self.tk.call("event", "generate", beneath, f"<{what}-{click.num}>", *place)

        def _update_tooltip_coords(self, event: tk.Event[tk.Misc]) -> None:
            # Until its words are laid out, it asks for no more room than the words before them did.
            self.update_idletasks()
            width, height = self.winfo_reqwidth(), self.winfo_reqheight()
            left = min(event.x_root + self.x_offset, self.winfo_screenwidth() - width)
            top = event.y_root + self.y_offset
            if top + height > self.winfo_screenheight():
                top = event.y_root - self.y_offset - height
            self.geometry(f"+{max(left, 0)}+{max(top, 0)}")

    tip = Tip(
        widget,
        said,
        delay=DELAY_SECONDS,
        follow=True,
        parent_kwargs={"master": widget.winfo_toplevel(), "bg": "#5c5c5c", "padx": 1, "pady": 1},
        bg="#202020",
        fg="#fafafa",
        padx=6,
        pady=4,
        font="SunValleyCaptionFont",
    )
    tip.vanishes_at_keys_and_clicks()
    return tip
