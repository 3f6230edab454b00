"""The workshop of tests/fits_shop.py at the Catalogue view, the inspector at work."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from pathlib import Path
from typing import Any

from gui.job import Job
from gui.prefs import Prefs
from gui.sitting import Sitting
from gui.view import Context
from gui.views.catalogue import CatalogueView
from gui.views.catalogue_acts import Act, Subject
from gui.views.catalogue_plans import CataloguePlans
from gui.views.form_plan import FormPlan
from gui.views.part_cards import CardKey, CardKind
from gui.views.part_reading import PartRead, read_part
from invdb.acts.catalogue import NewPart, NewStandIn, add_part, add_stand_in
from invdb.terms import Tracking
from tests.fits_shop import FitsShop
from tests.gui.desk import Desk
from tests.gui.stores_shop import fill_in, sit
from tests.shop import BEGUN_ON, Shop

WHY = "Pellworth leaflet 31"


def read_of(shop: Shop, part: int) -> PartRead:
    """A part's page as it stands now."""
    with shop.store.reading() as session:
        return read_part(session, part)


def plan_of(shop: Shop, act: Act, part: int = 0, **on: Any) -> FormPlan:
    """The form of an act on a part, and on what is chosen of it."""
    return CataloguePlans(sit(shop)).plan(Job(), act, Subject(part, **on))


def do(shop: Shop, act: Act, part: int = 0, *, on: dict[str, Any] | None = None, **given: Any) -> Any:
    """Open the form of an act and fill it in, with a reason unless another is given."""
    plan = plan_of(shop, act, part, **(on or {}))
    names = {field.name for field in plan.fields}
    if "reason" in names:
        given.setdefault("reason", WHY)
    return fill_in(plan, **given)


def card(kind: CardKind, record: int | None) -> dict[str, Any]:
    """That a card is chosen."""
    return {"card": CardKey(kind, record)}


def valve_like(shop: Shop, name: str) -> int:
    """Another part of the exhaust valve's family."""
    with shop.store.writing() as session:
        return add_part(session, NewPart(1, name, Tracking.PIECE), shop.by(BEGUN_ON))


def stands_in(shop: Shop, part: int, *members: int, **how: Any) -> int:
    """That these stand in for a part, by leaflet 31."""
    with shop.store.writing() as session:
        new = NewStandIn(part, tuple((each, 1) for each in members), WHY, **how)
        return add_stand_in(session, new, shop.by(BEGUN_ON))


class CatalogueDesk(Desk):
    """A window with the Catalogue view alone in it."""

    def __init__(self, fits: FitsShop, folder: Path, *, dark: bool = False, size: str = "1180x680") -> None:
        super().__init__(dark=dark, size=size)
        self.fits, self.shop, self.folder = fits, fits.shop, folder
        self.said: list[str] = []
        self.refused: list[str] = []
        self.gone_to: list[tuple[str, Any]] = []
        self.save_as = "sheet.pdf"
        self.offered: list[str] = []
        self.posted = 0
        sitting: Sitting = sit(fits.shop)
        sitting.posted = self._posted
        self.background.on_failure = self.refused.append
        self.view = CatalogueView(sitting, ask_where=self._where)
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
        self.until(lambda: self.view.presenter.read is not None)
        self.settle()

    @property
    def form(self) -> Any:
        return self.view.side.form

    def show(self, part: int) -> PartRead:
        """Show a part, and wait until it is read."""
        self.view.open(("part", part, ""))
        self.until(lambda: self.read is not None and self.read.page.part == part)
        self.settle()
        assert self.read is not None
        return self.read

    @property
    def read(self) -> PartRead | None:
        return self.view.presenter.read

    def rows(self, table: Any = None) -> list[tuple[str, ...]]:
        """The rows of a list that can be seen; of the list of parts unless another is given."""
        tree = (table or self.view.table).tree
        return [tuple(str(cell) for cell in tree.item(item, "values")) for item in tree.get_children()]

    def open_form(self, *keys: str) -> Any:
        """Press keys that open a form, and wait for it."""
        self.press(*keys)
        self.until(lambda: self.form is not None)
        return self.form

    def fill_in(self, **values: Any) -> None:
        """Fill in fields of the open form, as if they had been chosen or typed."""
        for name, value in values.items():
            self.form.editors[name].set(value)
            self.form.editors[name].on_change()
        self.root.update()

    def save(self, done: Callable[[], object] = lambda: True) -> None:
        """Save the open form, and wait until it has been left and the part is read again."""
        before = self.posted
        self.form.save()
        self.until(lambda: self.posted > before or self.form.foot.words().startswith("✕"))
        assert self.posted > before, self.form.foot.words()
        self.settle()
        self.until(done)

    def texts(self, canvas: tk.Canvas) -> str:
        """All that is written in a drawing."""
        items = canvas.find_all()
        return " ".join(canvas.itemcget(item, "text") for item in items if str(canvas.type(item)) == "text")

    def _where(self, _parent: tk.Misc, _title: str, name: str) -> str:
        self.offered.append(name)
        return str(self.folder / self.save_as) if self.save_as else ""

    def _posted(self) -> None:
        self.posted += 1
