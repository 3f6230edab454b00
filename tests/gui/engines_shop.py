"""The small workshop of tests/shop.py with an engine that has run, and valves fitted in three cylinders."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from gui.prefs import Prefs
from gui.sitting import Sitting
from gui.view import Context
from gui.views.engines import EnginesView
from invdb.acts.as_fitted import as_fitted
from invdb.acts.fit import Fit, FitOrder, fit
from invdb.acts.numbers import Thing
from invdb.acts.running import LogBegin, Run, begin_log, log_run
from invdb.rules.build import Build
from invdb.terms import HoursKnown, PriorLife, RunningUse
from tests.gui.desk import Desk
from tests.kit_shop import good
from tests.shop import Shop

LOG_BEGAN = date(2025, 1, 7)
FLEW = date(2025, 6, 1)
NO_STARTS = PriorLife(HoursKnown.EXACT, 0, 0)


@dataclass(frozen=True)
class Fitted:
    """What the workshop begins with: a valve in cylinders 1 to 3, two springs in cylinder 1, all of today."""

    valves: tuple[Thing, ...]
    springs: Thing
    spare: Thing


def begin(shop: Shop) -> None:
    """Begin the log of Linnet One at 100 hours on its meter, 500 run before, and fly 30."""
    with shop.store.writing() as session:
        begun = LogBegin(100_00, PriorLife(HoursKnown.EXACT, 500_00, 500_00), NO_STARTS)
        begin_log(session, shop.engine, begun, shop.by(LOG_BEGAN))
        log_run(session, shop.engine, Run(RunningUse.FLIGHT, 130_00, starts=20), shop.by(FLEW))


def furnish(shop: Shop) -> Fitted:
    """Begin its log and fit what `Fitted` names; a fourth valve and eight springs stay on the shelf."""
    begin(shop)
    with shop.store.writing() as session:
        valves = tuple(good(session, shop, shop.valve) for _ in range(4))
        springs = good(session, shop, shop.spring, quantity=10)
        build = as_fitted(session, shop.engine)
        stations = {each.name: each.station or 0 for each in build.positions[0].stations}
        for at in range(3):
            fits = [Fit(stations["exhaust valve"], valves[at])]
            if at == 0:
                fits.append(Fit(stations["exhaust springs"], springs, 2))
            order = FitOrder(shop.engine, build.positions[at].position, tuple(fits), 130_00)
            fit(session, order, shop.by())
    return Fitted(valves[:3], springs, valves[3])


def built(shop: Shop, on: date | None = None) -> Build:
    """What is in Linnet One."""
    with shop.store.reading() as session:
        return as_fitted(session, shop.engine, on)


def at_station(shop: Shop, cylinder: str, station: str) -> list[str]:
    """The tags of what is at a station of Linnet One."""
    position = next(each for each in built(shop).positions if each.name == cylinder)
    return [thing.tag for each in position.stations if each.name == station for thing in each.filling]


class EngineDesk(Desk):
    """A window with the Engines view alone in it, the inspector at work."""

    def __init__(self, shop: Shop, folder: Path, *, dark: bool = False, size: str = "1180x680") -> None:
        super().__init__(dark=dark, size=size)
        self.said: list[str] = []
        self.refused: list[str] = []
        self.gone_to: list[tuple[str, Any]] = []
        self.folder = folder
        self.save_as = "sheet.pdf"
        self.offered: list[str] = []
        self.posted = 0
        sitting = Sitting(shop.store, shop.inspector, "Ada Farrow", "engine inspector HL 2041")
        sitting.posted = self._posted
        self.background.on_failure = self.refused.append
        self.view = EnginesView(sitting, ask_where=self._where)
        context = Context(
            theme=self.theme,
            background=self.background,
            prefs=Prefs(folder / "window.json"),
            say=self.said.append,
            refuse=self.refused.append,
            posted=lambda *_told: None,
            progress=lambda *_told: None,
            go_to=lambda name, ref: self.gone_to.append((name, ref)),
        )
        self.view.build(self.root, context).pack(fill="both", expand=True)
        self.root.update()
        self.view.on_show()
        self.until(lambda: self.view.presenter.engine is not None)

    @property
    def picture(self) -> Any:
        return self.view.build_pane.picture

    @property
    def rows(self) -> Any:
        return self.view.pages.rows

    @property
    def chart(self) -> Any:
        return self.view.pages.chart

    @property
    def slider(self) -> Any:
        return self.view.build_pane.slider

    @property
    def form(self) -> Any:
        return self.view.side.form

    def build(self) -> Build:
        """What is shown to be in the engine."""
        reading = self.view.presenter.reading
        assert reading is not None, "it is not read yet"
        return reading.build

    def read(self) -> None:
        """Wait until what is in the engine, its log and the due list are all read."""
        presenter = self.view.presenter
        self.until(lambda: presenter.reading and presenter.log and presenter.due)

    def log_rows(self) -> list[tuple[str, ...]]:
        """The rows of the log that can be seen."""
        tree = self.view.pages.log.tree
        return [tuple(str(cell) for cell in tree.item(item, "values")) for item in tree.get_children()]

    def texts(self, canvas: tk.Canvas) -> str:
        """All that is written in a drawing."""
        items = canvas.find_all()
        return " ".join(canvas.itemcget(item, "text") for item in items if str(canvas.type(item)) == "text")

    def labels(self) -> str:
        """All that is said in words beside the drawings."""
        return " ".join(_labels(self.root))

    def open_form(self, key: str) -> Any:
        """Press a key that opens a form, and wait for it."""
        self.press(key)
        self.until(lambda: self.form is not None)
        return self.form

    def fill_in(self, **values: Any) -> None:
        """Fill in fields of the open form, as if they had been chosen or typed."""
        for name, value in values.items():
            self.form.editors[name].set(value)
            self.form.editors[name].on_change()
        self.root.update()

    def save(self, done: Callable[[], object] | None = None) -> None:
        """Save the open form, and wait until it has been left and the engine is read again."""
        before = self.posted
        self.form.save()
        self.until(lambda: self.posted > before or self.form.foot.words().startswith("✕"))
        assert self.posted > before, self.form.foot.words()
        self.until(lambda: self.form is None)
        if done is not None:
            self.until(done)

    def _where(self, _parent: tk.Misc, _title: str, name: str) -> str:
        self.offered.append(name)
        return str(self.folder / self.save_as) if self.save_as else ""

    def _posted(self) -> None:
        self.posted += 1


def _labels(widget: tk.Misc) -> list[str]:
    found = []
    for part in widget.winfo_children():
        if part.winfo_class() == "TLabel":
            found.append(str(part.cget("text")))
        found += _labels(part)
    return found
