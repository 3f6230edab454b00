"""What may be done in the Engines view: the buttons above each page, and the menu of everything."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from gui.shown import Deed
from gui.views.engine_acts import KEYS, OF_THE_SHOP, Act
from gui.views.engines_presenter import DUE, LOG, ORDERS, STATIONS, EnginesPresenter

MORE = "More …"
GROUPS = (
    (Act.FIT, Act.FIT_PULL, Act.FIT_INSIDE),
    (Act.STRIP, Act.STRIP_POSITION, Act.STRIP_ENGINE, Act.ROB),
    (Act.TAKE_OVER, Act.PRESUME),
    (Act.RUN, Act.METER, Act.BEGIN_LOG, Act.OVERHAUL),
    (Act.EVENT, Act.CLEAR, Act.HOLD, Act.CLEAR_HOLD),
    (Act.DIRECTIVE, Act.CONCESSION, Act.LIMIT, Act.MOD),
    (Act.RECALL, Act.DUE_SOON),
)


class EngineDeeds:
    """``act`` begins an act, ``save_sheet`` saves the status sheet and ``show_more`` shows the menu."""

    def __init__(
        self,
        presenter: EnginesPresenter,
        *,
        act: Callable[[Act], None],
        save_sheet: Callable[[], None],
        show_more: Callable[[], None],
    ) -> None:
        self._presenter, self._act = presenter, act
        self._sheet = Deed("Status sheet …", save_sheet, "Ctrl+P", "Save it to print, or as a workbook")
        self._more = Deed(MORE, show_more, "Ctrl+M", "All that may be done here")

    def of(self, act: Act) -> Deed:
        """One act as a deed."""
        key, hint = KEYS[act]
        return Deed(f"{act} …", partial(self._act, act), key, hint)

    def above(self, page: str) -> list[Deed]:
        """The buttons above a page, the one that is meant most first."""
        log = self._presenter.log
        run = Act.RUN if log is None or log.begun_on is not None else Act.BEGIN_LOG
        acts = {
            STATIONS: (Act.FIT, Act.STRIP, run),
            LOG: (run, Act.METER),
            DUE: (Act.RECALL, Act.DUE_SOON),
            ORDERS: (Act.DIRECTIVE, Act.LIMIT, Act.HOLD),
        }[page]
        return [*(self.of(act) for act in acts), self._sheet, self._more]

    def groups(self) -> list[list[Deed]]:
        """Everything that may be done, as a menu groups it."""
        if self._presenter.engine is None:
            return [[self.of(act) for act in Act if act in OF_THE_SHOP]]
        groups = [[self.of(act) for act in group] for group in GROUPS]
        groups[-1].insert(0, self._sheet)
        return groups

    def every(self) -> list[Deed]:
        """The same without groups."""
        return [deed for group in self.groups() for deed in group]

    def by_key(self) -> dict[str, Callable[[], None]]:
        """What each key does, whatever is shown."""
        acts = {KEYS[act][0]: partial(self._act, act) for act in Act if KEYS[act][0]}
        return {**acts, self._sheet.key: self._sheet.run, self._more.key: self._more.run}
