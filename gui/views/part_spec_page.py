"""The page of what a part must be: its specification, fits, rules, sizes and limits, card by card."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from tkinter import ttk

from gui.shown import Deed, Empty, Field, FieldKind
from gui.shown_cards import Card
from gui.view import Context
from gui.views.catalogue_presenter import NO_CARDS, NOTHING_CHOSEN, CataloguePresenter
from gui.widgets.deed_bar import DeedBar
from gui.widgets.editors import ChoiceEditor
from gui.widgets.empty_note import EmptyNote
from gui.widgets.fact_cards import FactCards
from gui.widgets.tip import explain

REVISION_WIDTH = 38


class PartSpecPage(ttk.Frame):
    """``deeds_for`` says what may be done with the chosen card (None: none), and ``on_leave`` is Escape.

    ``on_open`` is Enter on a card.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        presenter: CataloguePresenter,
        *,
        deeds_for: Callable[[Card | None], list[Deed]],
        on_open: Callable[[Card], None],
        on_leave: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self._presenter, self._deeds_for = presenter, deeds_for
        theme, px = context.theme, context.theme.px
        head = ttk.Frame(self)
        head.pack(fill="x", pady=(0, px(4)))
        self._word = ttk.Label(head, text="Revision", style="Dim.TLabel")
        asked = Field("revision", "Revision", FieldKind.CHOICE, needed=True)
        self.revision = ChoiceEditor(head, theme, asked)
        self.revision.box.configure(width=REVISION_WIDTH)
        self.revision.on_change = self._look_at
        explain(
            self.revision.box, "The revision whose lines are shown; a figure is judged by that of its day"
        )
        self._told = ttk.Label(self, style="Caption.TLabel")
        self._told.bind("<Configure>", lambda event: self._told.configure(wraplength=event.width))
        self._told.pack(fill="x")
        self.cards = FactCards(
            self,
            theme,
            on_choose=lambda _card: self.show_deeds(),
            on_open=on_open,
            deeds_for=deeds_for,
            on_leave=on_leave,
        )
        self.bar = DeedBar(self, theme)
        self.bar.pack(side="bottom", fill="x", pady=(px(6), 0))
        self.cards.pack(fill="both", expand=True, pady=(px(4), 0))
        self.bar.lift()
        self._nothing = EmptyNote(self.cards, theme)
        self._px = px

    def show(self) -> None:
        """Show what is read of the part by now."""
        presenter = self._presenter
        revisions = presenter.revisions()
        self.revision.offer(revisions)
        self.revision.set(presenter.spec.id if presenter.spec is not None else None)
        for part in (self._word, self.revision):
            if revisions:
                part.pack(side="left", padx=(0, self._px(8)))
            else:
                part.pack_forget()
        self._told.configure(text=presenter.told_of_spec())
        self.cards.show(presenter.cards())
        why = self._why_nothing()
        if why is not None:
            self._nothing.show(why)
        else:
            self._nothing.hide()

    def focus_page(self) -> None:
        """Walk the cards from here on."""
        self.cards.canvas.focus_set()

    def show_deeds(self) -> None:
        """Show the buttons that fit what is chosen."""
        self.bar.show(self._deeds_for(self.cards.chosen()))

    def told(self) -> str:
        """What is told of the revision."""
        return str(self._told.cget("text"))

    def _why_nothing(self) -> Empty | None:
        if self._presenter.read is None:
            return Empty("Reading it …") if self._presenter.part is not None else NOTHING_CHOSEN
        return NO_CARDS if not self._presenter.cards() else None

    def _look_at(self) -> None:
        read, wanted = self._presenter.read, self.revision.get()
        if read is not None:
            self._presenter.look_at(next((each for each in read.page.specs if each.id == wanted), None))
            self.show()
