"""The Catalogue view: the list of parts, a part's page beside it, and the acts that change what it says."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable
from functools import partial
from pathlib import Path
from tkinter import ttk
from typing import Any

from gui.shown import Deed, Row
from gui.sitting import Sitting
from gui.view import Context
from gui.views.catalogue_acts import ALTERNATES, PAGES, SPEC, USES, Act, Subject
from gui.views.catalogue_deeds import MORE, CatalogueDeeds
from gui.views.catalogue_plans import CataloguePlans
from gui.views.catalogue_presenter import COLUMNS, EMPTY_LIST, HELP, SORT_FIRST, CataloguePresenter
from gui.views.form_place import FormPlace
from gui.views.part_filters import PartFilters
from gui.views.part_form import PartAdded
from gui.views.part_pages import PartPages
from gui.views.part_reading import PartRead
from gui.views.stores_presenter import ReverseEntry
from gui.widgets.deed_menu import bind_deeds, pop_up
from gui.widgets.graph_shape import LINK
from gui.widgets.save_where import ask_where_to_save
from gui.widgets.shared_keys import share_keys
from gui.widgets.table import Table
from invdb.acts.part_papers import KeptPaper, kept_paper
from invdb.acts.part_uses import UseFacts
from invdb.terms import Refused

LIST_SHARE = 0.4
GAP = 12
MENU_BENEATH = 34


class CatalogueView:
    """Choose a part, read all that is said of it, follow what stands in for it, and change what is said."""

    name, word, mark, help_text = "catalogue", "Catalogue", "catalogue", HELP

    def __init__(
        self, sitting: Sitting, ask_where: Callable[[tk.Misc, str, str], str] = ask_where_to_save
    ) -> None:
        self.presenter = CataloguePresenter(sitting)
        self._sitting, self._ask_where = sitting, ask_where
        self._plans = CataloguePlans(sitting)
        self.deeds = CatalogueDeeds(self.presenter, act=self.act, run=self._run)
        self._sash_set = False
        self._to_enter = False
        self._placing = False

    def build(self, parent: tk.Misc, context: Context) -> tk.Widget:
        """The list at the left, the page of a part or a form at the right, and a sash between."""
        self._context = context
        px = context.theme.px
        self.frame = ttk.Frame(parent)
        self._panes = ttk.Panedwindow(self.frame, orient="horizontal")
        self._panes.pack(fill="both", expand=True)
        left = ttk.Frame(self._panes, padding=(0, 0, px(GAP), 0))
        right = ttk.Frame(self._panes, padding=(px(GAP), 0, 0, 0))
        self.side = FormPlace(right, context, self._sitting, on_saved=self._saved, on_left=self._left_form)
        self.side.pack(fill="both", expand=True)
        self.pages = PartPages(
            self.side,
            context,
            self.presenter,
            deeds=lambda: self.deeds.above(self.pages.page()),
            deeds_of=self._deeds_of,
            on_follow=self.show_part,
            on_open=self._open_chosen,
            on_page=lambda _page: self.pages.show_deeds(),
            on_leave=self._leave_page,
        )
        self.side.stand(self.pages)
        self._build_list(left)
        self._panes.add(left, weight=2)
        self._panes.add(right, weight=3)
        self._panes.bind("<Configure>", lambda _event: self._set_sash())
        self._listen()
        self.pages.show()
        return self.frame

    def on_show(self) -> None:
        """Read what may have changed meanwhile; the part, the page and the filters stay."""
        self.on_refresh()
        if self.side.form is None:
            self.table.focus_rows()

    def on_refresh(self) -> None:
        """Read the list, the families and the part again."""
        self.filters.refresh()
        self.table.refresh()
        self._read()

    def open(self, ref: Any) -> None:
        """Show a part that was found."""
        _kind, found, *_headline = ref
        self._to_enter = True
        self.show_part(found)

    def unsaved(self) -> str:
        """The open form, if anything was typed in it."""
        return self.side.unsaved()

    def show_part(self, part: int) -> None:
        """Show the page of another part, and choose it in the list if it is among what is listed."""
        if self.side.in_the_way():
            return
        if self.presenter.go_to(part):
            self._read()
        elif self._to_enter:
            self._enter()

    def act(self, act: Act) -> None:
        """Begin an act on the part and on what is chosen on its page, by its form."""
        why_not = self.deeds.may(act)
        if self.side.in_the_way():
            return
        if why_not:
            self._context.refuse(why_not)
            return
        on = self._subject()
        self._context.background.ask(
            "catalogue form",
            lambda job: self._plans.plan(job, act, on),
            self.side.open,
            on_refused=lambda refused: self._context.refuse(str(refused)),
        )

    def _build_list(self, left: ttk.Frame) -> None:
        context, presenter = self._context, self.presenter
        add = self.deeds.of(Act.ADD_PART)
        self.filters = PartFilters(left, context, presenter, self._filtered, add)
        self.filters.pack(fill="x", pady=(0, context.theme.px(6)))
        self.table = Table(
            left,
            context.theme,
            context.background,
            COLUMNS,
            presenter.fetch,
            empty=EMPTY_LIST,
            many="parts",
            one="part",
            sort=SORT_FIRST,
            widths=context.prefs.widths.get("parts"),
            on_widths=partial(context.prefs.keep_widths, "parts"),
            on_open=lambda _row: self._enter(),
            on_choose=self._chose,
            deeds_for=self._deeds_of_row,
            say=context.say,
        )
        self.table.pack(fill="both", expand=True)

    def _set_sash(self) -> None:
        """Put the sash where the list and the page both have room, once the window has its width."""
        width = self._panes.winfo_width()
        if width > 1 and not self._sash_set:
            self._sash_set = True
            self._panes.after_idle(lambda: self._panes.sashpos(0, round(width * LIST_SHARE)))

    def _listen(self) -> None:
        keys = {key: partial(self._go_to_page, name) for name, (_word, _short, key) in PAGES.items()}
        on_page = {key: partial(self._on_page, key) for key in ("F4", "Shift+F4")}
        share_keys(self.frame, {**self.deeds.by_key(), **keys, **on_page, "Ins": self._add})
        for label in (self.filters.family.box, self.table.bar.entry):
            bind_deeds(label, [self.deeds.of(Act.ADD_PART)])

    # Reading

    def _read(self) -> None:
        part, presenter = self.presenter.part, self.presenter
        if part is None:
            self.pages.show()
            return
        self._context.background.ask(
            "catalogue part",
            lambda job: presenter.read_part(job, part),
            self._show,
            on_refused=self._refused,
            doing="the page of a part",
        )

    def _show(self, read: PartRead) -> None:
        self.presenter.show(read)
        self.pages.show()
        self._find_in_list()
        if self._to_enter:
            self._enter()

    def _refused(self, refused: Refused) -> None:
        self._context.refuse(str(refused))
        self._to_enter = False

    def _find_in_list(self) -> None:
        """Choose the part that is shown in the list, if it is among what is listed."""
        presenter, part = self.presenter, self.presenter.part
        sort, words = self.table.order(), self.table.words()
        if part is None or [row.key for row in self.table.chosen()] == [part]:
            return
        self._context.background.ask(
            "catalogue place",
            lambda job: presenter.place_of(job, part, sort, words),
            partial(self._choose_in_list, part),
        )

    def _choose_in_list(self, part: int, place: int | None) -> None:
        if part != self.presenter.part:
            return
        if place is None:
            self.table.choose_none()
            return
        self._placing = True
        self.table.choose(place)
        self._placing = False
        if self.table.count()[0] <= place or any(row.key != part for row in self.table.chosen()):
            # The list has become another since it was read.
            self.table.refresh(choose=part)

    # What a person does

    def _chose(self, rows: list[Row]) -> None:
        # A list that takes the focus chooses its first row; a part that is about to be entered outdoes that.
        if self._placing or self._to_enter or len(rows) != 1 or rows[0].key == self.presenter.part:
            return
        if self.side.form is not None and self.side.form.changed():
            # The form goes on; one comes back to what is chosen when it is left.
            return
        self.side.close()
        if self.presenter.go_to(rows[0].key):
            self._read()

    def _filtered(self) -> None:
        self.table.show_from_start()

    def _enter(self) -> None:
        self._to_enter = False
        if self.side.form is None:
            self.pages.focus_page()

    def _leave_page(self) -> None:
        self.table.focus_rows()

    def _go_to_page(self, name: str) -> None:
        if not self.side.in_the_way():
            self.pages.go_to(name)

    def _add(self) -> None:
        act = self.deeds.added_on(self.pages.page())
        if act is not None:
            self.act(act)

    def _on_page(self, key: str) -> None:
        """Do what that key does with what is chosen on the page in front."""
        for deed in self.deeds.of_page(self.pages.page(), self.pages.chosen()):
            if deed.key == key:
                deed.run()
                return

    def _subject(self) -> Subject:
        presenter, page, chosen = self.presenter, self.pages.page(), self.pages.chosen()
        spec = presenter.spec.id if presenter.spec is not None else None
        part = presenter.part or 0
        if chosen is None:
            return Subject(part, spec=spec)
        if page == SPEC:
            return Subject(part, card=chosen.key, spec=spec)
        if page == ALTERNATES:
            kind, key = chosen
            return Subject(part, stand_in=key if kind == LINK else None, spec=spec)
        return Subject(part, kit_line=chosen.key if page == USES else None, spec=spec)

    def _deeds_of(self, page: str, chosen: Any) -> list[Deed]:
        return self.deeds.of_page(page, chosen)

    def _deeds_of_row(self, rows: list[Row]) -> list[Deed]:
        if len(rows) != 1:
            return [self.deeds.of(Act.ADD_PART)]
        return [self.deeds.of(act) for act in (Act.ADD_PART, Act.CHANGE_PART, Act.SPEC, Act.NUMBER)]

    def _open_chosen(self, page: str, chosen: Any) -> None:
        """Do the first of what may be done with a row or a card, as Enter does; nothing that ends it."""
        deeds = self.deeds.of_page(page, chosen)
        if deeds and deeds[0].key != "Del":
            deeds[0].run()

    def _run(self, name: str, what: Any) -> None:
        """Do what has no form."""
        if self.side.in_the_way():
            return
        doing: dict[str, Callable[[Any], None]] = {
            "more": lambda _none: self._show_more(),
            "back": lambda _none: self._step(self.presenter.back(), "No other part was shown before."),
            "forward": lambda _none: self._step(
                self.presenter.forward(), "You have not gone back from another part."
            ),
            "follow": self.show_part,
            "use": self._go_to_use,
            "stores": lambda _none: self._show_in_stores(),
            "open": self._open_thing,
            "inspect": lambda key: self._context.go_to("bench", ("inspect", key.thing)),
            "reverse": self._reverse,
            "blank": lambda _none: self._save_blank(),
            "copy": self._read_paper,
        }
        doing[name](what)

    def _show_more(self) -> None:
        button = self.pages.bar.buttons.get(MORE)
        beneath: tk.Misc = button or self.pages
        pop_up(
            self.frame,
            beneath.winfo_rootx(),
            beneath.winfo_rooty() + min(beneath.winfo_height(), self._context.theme.px(MENU_BENEATH)),
            self.deeds.groups(self.pages.page(), self.pages.chosen()),
        )

    def _step(self, turned: bool, why_not: str) -> None:
        if turned:
            self._read()
        else:
            self._context.say(why_not)

    def _go_to_use(self, use: UseFacts) -> None:
        """Go to the part instead of which this one may stand in."""
        read = self.presenter.read
        assert read is not None, "a kit line of a part is chosen"
        self.show_part(next(node.part for node in read.page.graph.nodes if node.number == use.instead_of))

    def _show_in_stores(self) -> None:
        read = self.presenter.read
        if read is None:
            self._context.refuse("No part is chosen. Choose one in the list first.")
        else:
            self._context.go_to("stores", ("part", read.page.part, read.page.house_number))

    def _open_thing(self, key: Any) -> None:
        thing = key.thing
        if thing.piece is not None:
            self._context.go_to("stores", ("piece", thing.piece, ""))
        else:
            self._context.go_to("stores", ("batch", thing.batch, ""))

    def _reverse(self, entry: int) -> None:
        read = self.presenter.read
        assert read is not None, "a change of a part is chosen"
        change = next(each for each in read.page.changes if each.entry == entry)
        what = f"{read.page.house_number}: {'; '.join(change.what)}"
        self._context.go_to("stores", ReverseEntry(entry, what))

    def _save_blank(self) -> None:
        presenter, part = self.presenter, self.presenter.part
        if part is None or presenter.read is None:
            self._context.refuse("No part is chosen. Choose one in the list first.")
            return
        where = self._ask_where(self.frame, "Save the blank inspection sheet", presenter.blank_name())
        if where:
            self._context.background.ask(
                "catalogue sheet",
                lambda job: presenter.write_blank(job, part, Path(where)),
                lambda path: self._context.say(f"Saved {path}."),
                doing="the inspection sheet",
            )

    def _read_paper(self, document: int) -> None:
        sitting = self._sitting

        def read(job: Any) -> KeptPaper:
            with sitting.reading(job) as session:
                return kept_paper(session, document)

        self._context.background.ask("catalogue paper", read, self._save_copy, doing="the document")

    def _save_copy(self, kept: KeptPaper) -> None:
        where = self._ask_where(self.frame, f"Save {kept.reference}", kept.file_name)
        if where:
            self._context.background.ask(
                "catalogue copy",
                lambda _job: kept.saved_at(Path(where)),
                lambda path: self._context.say(f"Saved {path}."),
                doing="the document",
            )

    def _saved(self, made: Any) -> None:
        self.filters.refresh()
        if isinstance(made, PartAdded):
            self.presenter.go_to(made.part)
        # Were another row kept, it would be shown in place of the part that was added.
        self.table.refresh(choose=self.presenter.part)
        self._read()

    def _left_form(self) -> None:
        self.pages.show_deeds()
        self.pages.focus_page()
