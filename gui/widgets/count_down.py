"""A count-down for a pressure test: it goes on while one looks elsewhere, and says when the time is up."""

from __future__ import annotations

import time
import tkinter as tk
from collections.abc import Callable
from dataclasses import dataclass
from tkinter import ttk

from gui.signs import sign
from gui.theme import SUBTITLE, Theme
from gui.widgets.tip import explain

TICK_MS = 200
# Sent while it counts, and when it ends; and when it ends because the time is up.
COUNTED, TIME_UP = "<<Counted>>", "<<TimeUp>>"


@dataclass(frozen=True)
class Count:
    """How long is held of ``asked`` seconds; times are seconds on a clock that only goes forward.

    When the time is up it stands still at what was asked: so long it was held at the least.
    """

    asked: int
    held_before: float = 0.0
    begun_at: float | None = None

    @property
    def running(self) -> bool:
        """Whether it was started and not stopped."""
        return self.begun_at is not None

    def held(self, now: float) -> float:
        """Seconds held by now, at most what is asked."""
        since = 0.0 if self.begun_at is None else now - self.begun_at
        return min(self.held_before + since, float(self.asked))

    def up(self, now: float) -> bool:
        """Whether the time is up."""
        return self.held(now) >= self.asked

    def started(self, now: float) -> Count:
        """Begun anew: what was held before a stop does not count, since the pressure may have changed."""
        return Count(self.asked, 0.0, now)

    def stopped(self, now: float) -> Count:
        """Stopped, with what was held by then."""
        return Count(self.asked, self.held(now))

    def remaining_words(self, now: float) -> str:
        """``19:59``, ``1:02:00``: what is left, a begun second counted whole."""
        return clock_words(-int(-(self.asked - self.held(now)) // 1))


def clock_words(seconds: int) -> str:
    """Seconds as a clock shows them."""
    minutes, left = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{left:02}" if hours else f"{minutes}:{left:02}"


class CountDown(ttk.Frame):
    """Start and stop it with its one button. ``on_held`` gets the whole seconds held when it ends.

    It sends ``<<Counted>>`` as it counts and when it ends, and ``<<TimeUp>>`` when the time is up. ``clock``
    gives seconds that only go forward.
    """

    def __init__(
        self,
        parent: tk.Misc,
        theme: Theme,
        asked: int,
        *,
        on_held: Callable[[int], None],
        on_started: Callable[[], None] = lambda: None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__(parent)
        self._theme, self._clock = theme, clock
        self._on_held, self._on_started = on_held, on_started
        self.count = Count(asked)
        self._timer = ""
        self.left = ttk.Label(self, font=SUBTITLE, anchor="e", width=len(clock_words(asked)) + 1)
        self.left.pack(side="left")
        self.button = ttk.Button(self, text="Start", width=6, command=self.turn)
        self.button.pack(side="left", padx=(theme.px(6), 0))
        explain(
            self.button, "Begin to count once the pressure stands; stopped before, it says how long", "Enter"
        )
        self.bind("<<ThemeChanged>>", lambda _event: self._show(), add="+")
        self.bind("<Destroy>", lambda _event: self._forget_timer())
        self._show()

    def turn(self) -> None:
        """Start it, or stop it."""
        now = self._clock()
        if self.count.running:
            self._end(self.count.stopped(now))
        else:
            self.count = self.count.started(now)
            self._on_started()
            self._tick()

    def reset(self) -> None:
        """Begin afresh, not started."""
        self._forget_timer()
        self.count = Count(self.count.asked)
        self._show()

    def remaining(self) -> str:
        """What is left, as the clock shows it."""
        return self.count.remaining_words(self._clock())

    def _tick(self) -> None:
        self._timer = ""
        now = self._clock()
        if self.count.up(now):
            self._end(self.count.stopped(now))
            self.event_generate(TIME_UP)
            return
        self._show()
        self.event_generate(COUNTED)
        self._timer = self.after(TICK_MS, self._tick)

    def _end(self, count: Count) -> None:
        self._forget_timer()
        self.count = count
        self._show()
        self._on_held(int(count.held_before))
        self.event_generate(COUNTED)

    def _show(self) -> None:
        now, palette = self._clock(), self._theme.palette
        up = self.count.up(now)
        hue = sign("passed").hue if up else sign("out for work").hue if self.count.running else ""
        self.left.configure(
            text=self.count.remaining_words(now), foreground=palette.tone(hue) if hue else palette.dim
        )
        self.button.configure(text="Stop" if self.count.running else "Again" if up else "Start")

    def _forget_timer(self) -> None:
        if self._timer:
            self.after_cancel(self._timer)
            self._timer = ""
