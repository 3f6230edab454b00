"""What may be done in the Catalogue view: the buttons of each page, and the menu of everything."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from gui.shown import Deed
from gui.views.catalogue_acts import (
    ALTERNATES,
    BACK_KEY,
    BLANK_KEY,
    CHANGES,
    FORWARD_KEY,
    INSPECT_KEY,
    KEYS,
    MORE_KEY,
    OF_THE_CATALOGUE,
    PAPERS,
    SPEC,
    STOCK,
    STORES_KEY,
    USES,
    Act,
)
from gui.views.catalogue_presenter import CataloguePresenter
from gui.views.part_cards import CardKey, CardKind
from gui.widgets.graph_shape import LINK

MORE = "More …"
GROUPS = (
    (Act.ADD_PART, Act.CHANGE_PART, Act.NUMBER, Act.HAZARD),
    (Act.SPEC, Act.WITHDRAW_SPEC, Act.FIT, Act.RULE, Act.BALANCE, Act.SIZE, Act.LIMIT),
    (Act.KIT_LINE, Act.STAND_IN, Act.PAPERS, Act.MOD),
)
_ABOVE = {
    SPEC: (Act.SPEC, Act.FIT, Act.CHANGE_PART),
    USES: (Act.KIT_LINE, Act.MOD),
    STOCK: (),
    ALTERNATES: (Act.STAND_IN,),
    PAPERS: (Act.PAPERS,),
    CHANGES: (Act.CHANGE_PART,),
}
_WITHDRAWN = frozenset(CardKind) - {CardKind.LINE}
# What is added on a page has the same key on each.
_ADDED = frozenset({Act.KIT_LINE, Act.STAND_IN, Act.PAPERS})


class CatalogueDeeds:
    """``act`` begins an act on what is chosen; ``run`` does what has no form, by its name."""

    def __init__(
        self, presenter: CataloguePresenter, *, act: Callable[[Act], None], run: Callable[[str, Any], None]
    ) -> None:
        self._presenter, self._act, self._run = presenter, act, run

    def of(self, act: Act) -> Deed:
        """One act as a deed."""
        key, hint = KEYS[act]
        return Deed(f"{act} …", partial(self._act, act), key, hint)

    def above(self, page: str) -> list[Deed]:
        """The buttons above the page of a part, what is meant most on that page first."""
        if self._presenter.part is None:
            return [self.of(Act.ADD_PART), self._more()]
        deeds = [self.of(act) for act in _ABOVE[page]]
        if page == STOCK:
            deeds.append(self._plain("Show in Stores", "stores", STORES_KEY, "Show all of it in Stores"))
        if page == SPEC:
            deeds.append(self._blank())
        return [*deeds, self._more()]

    def of_page(self, page: str, chosen: Any) -> list[Deed]:
        """What may be done with what is chosen on a page, the first by Enter."""
        if chosen is None or self._presenter.read is None:
            return []
        if page == SPEC:
            return self._of_card(chosen.key)
        if page == USES:
            return self._of_use(chosen.key)
        if page == ALTERNATES:
            return self._of_item(chosen)
        if page == STOCK:
            return [
                self._on("Open in Stores", "open", chosen.key, "", "Read its story there (Enter)"),
                self._on("Inspect", "inspect", chosen.key, INSPECT_KEY, "Fill in its sheet on the Bench"),
            ]
        if page == PAPERS:
            kept = chosen.cells[-1] == "here"
            copy = self._on("Save a copy …", "copy", chosen.key, "", "Save its file, to look at it (Enter)")
            return [copy] if kept else []
        word = f"Reverse entry {chosen.key} …"
        return [self._on(word, "reverse", chosen.key, "Del", "Post an entry that undoes it")]

    def groups(self, page: str, chosen: Any) -> list[list[Deed]]:
        """Everything that may be done, as a menu groups it."""
        if self._presenter.part is None:
            return [[self.of(act) for act in (Act.ADD_PART, Act.MOD)]]
        groups = [[self._keyed(act, page) for act in group] for group in GROUPS]
        groups.append(
            [
                self._blank(),
                self._plain("Show in Stores", "stores", STORES_KEY, "Show all of it in Stores"),
                self._plain("The part shown before", "back", BACK_KEY, "Go back to it"),
                self._plain("The part shown after", "forward", FORWARD_KEY, "Go on to it again"),
            ]
        )
        own = self.of_page(page, chosen)
        return [own, *groups] if own else groups

    def by_key(self) -> dict[str, Callable[[], None]]:
        """What each key does, whatever page is shown; what depends on that has its key there."""
        on_the_page = {KEYS[act][0] for act in _ADDED} | {"F4", "Shift+F4", "Del"}
        keys = {KEYS[act][0]: partial(self._act, act) for act in Act if KEYS[act][0] not in on_the_page}
        plain = ((BLANK_KEY, "blank"), (STORES_KEY, "stores"), (BACK_KEY, "back"), (FORWARD_KEY, "forward"))
        return {
            **keys,
            **{key: partial(self._run, name, None) for key, name in plain},
            MORE_KEY: partial(self._run, "more", None),
        }

    def added_on(self, page: str) -> Act | None:
        """What the key that adds does on a page."""
        return {USES: Act.KIT_LINE, ALTERNATES: Act.STAND_IN, PAPERS: Act.PAPERS}.get(page)

    def may(self, act: Act) -> str:
        """Why an act can't begin now, or ""."""
        if act in OF_THE_CATALOGUE or self._presenter.part is not None:
            return ""
        return "No part is chosen. Choose one in the list first."

    def _of_card(self, key: CardKey) -> list[Deed]:
        deeds = []
        if key.kind is CardKind.FIT:
            deeds.append(self.of(Act.REVISE_FIT))
        if key.kind is CardKind.HAZARD:
            deeds.append(self.of(Act.CAUTION))
        if key.kind is CardKind.NUMBER:
            deeds.append(self.of(Act.CORRECT_NUMBER))
        if key.kind is CardKind.LIMIT and key.record is None:
            deeds.append(self.of(Act.CHANGE_PART))
        if key.kind in _WITHDRAWN and key.record is not None:
            deeds.append(self.of(Act.WITHDRAW))
        return deeds

    def _of_use(self, kit_line: int) -> list[Deed]:
        read = self._presenter.read
        use = next((each for each in read.page.uses if each.kit_line == kit_line), None) if read else None
        if use is None:
            return []
        deeds = []
        if use.instead_of:
            deeds.append(self._on(f"Go to {use.instead_of}", "use", use, "", "Show its page (Enter)"))
        if not use.ended:
            deeds += [self.of(act) for act in (Act.CORRECT_LINE, Act.REPLACE_LINE, Act.END_LINE)]
        return deeds

    def _of_item(self, item: tuple[str, int]) -> list[Deed]:
        read = self._presenter.read
        assert read is not None, "a picture is shown"
        kind, key = item
        if kind != LINK:
            node = next((each for each in read.page.graph.nodes if each.part == key), None)
            if node is None or key == read.page.part:
                return []
            return [self._on(f"Go to {node.number}", "follow", key, "", "Show its page (Enter)")]
        step = next((each for each in read.page.graph.steps if each.stand_in == key), None)
        if step is None or step.ended:
            return []
        return [self.of(act) for act in (Act.CORRECT_STAND_IN, Act.REPLACE_STAND_IN, Act.END_STAND_IN)]

    def _keyed(self, act: Act, page: str) -> Deed:
        """An act in the menu; a key that means something else on the page is not shown."""
        deed = self.of(act)
        if act in _ADDED and self.added_on(page) is not act:
            return Deed(deed.word, deed.run, "", deed.hint)
        return deed

    def _plain(self, word: str, name: str, key: str, hint: str) -> Deed:
        return self._on(word, name, None, key, hint)

    def _on(self, word: str, name: str, what: Any, key: str, hint: str) -> Deed:
        return Deed(word, partial(self._run, name, what), key, hint)

    def _blank(self) -> Deed:
        return self._plain(
            "Blank sheet …", "blank", BLANK_KEY, "Save its inspection sheet, to be filled in by hand"
        )

    def _more(self) -> Deed:
        return self._plain(MORE, "more", MORE_KEY, "Everything that may be done here")
