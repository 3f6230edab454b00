"""The window upon a store: what is found there, who is working, and the views."""

from __future__ import annotations

import os
from functools import partial
from pathlib import Path
from tkinter import ttk
from zoneinfo import ZoneInfo

from gui.first_start import FirstStart
from gui.job import Job
from gui.new_store_form import new_store_form
from gui.prefs import Prefs
from gui.shell import Shell
from gui.shown import Hit
from gui.sitting import Sitting
from gui.views.bench import BenchView
from gui.views.buying import BuyingView
from gui.views.catalogue import CatalogueView
from gui.views.engines import EnginesView
from gui.views.searches import search_all
from gui.views.stores import StoresView
from gui.views.stores_presenter import ReverseEntry
from gui.widgets.form import Form
from invdb import store as stores
from invdb.acts.ledger_list import LedgerRow, last_entry_of
from invdb.acts.offers import PersonOffer, people_here, shop_settings
from invdb.store import Store
from invdb.terms import Refused

SAMPLE_NAME = "harrowmere.invdb"
# Where what is found is shown, by its kind; all else is in the stores.
VIEWS = {
    "pull": "bench",
    "engine": "engines",
    "part": "catalogue",
    "enquiry": "buying",
    "purchase_order": "buying",
    "loan": "buying",
}
NOBODY = "choose who you are"
FORM_WIDTH = 680


def store_to_open(opened_last: str) -> str:
    """The usual store; while there is none yet, the one that was open last if that is still there."""
    usual = stores.default_store()
    if opened_last and not stands(usual) and stands(opened_last):
        return opened_last
    return usual


def stands(where: str) -> bool:
    """Whether there may be a store: a file that exists, or any address of a server."""
    return "://" in where or Path(where).exists()


def ask_for_store(shell: Shell) -> str:
    """Let a person pick a store with the system's own window."""
    from tkinter import filedialog

    return filedialog.askopenfilename(parent=shell.root, title="Open a store")


class House:
    """The store that is open across the windows upon it, and what furnishes each of them."""

    def __init__(self, where: str, prefs: Prefs) -> None:
        self.where = where
        self.prefs = prefs
        self.store: Store | None = None
        self.sitting: Sitting | None = None
        self.form: Form | None = None

    def furnish(self, shell: Shell) -> None:
        """Give a fresh window its store and its views, or the ways to begin where there is none."""
        if self.store is not None:
            self._read_people(shell, self.store)
        elif stands(self.where):
            self.open_store(shell, self.where)
        else:
            self.offer_first_start(shell)

    def close(self) -> None:
        """Let go of the store."""
        if self.store is not None:
            self.store.close()

    def open_store(self, shell: Shell, where: str, pane: FirstStart | None = None) -> None:
        """Open the store on a worker, and then furnish the window with it."""

        def opened(store: Store) -> None:
            self.close()
            self.store, self.where = store, where
            self.prefs.store = where
            self.prefs.keep()
            self._read_people(shell, store)

        def refused(why: Refused) -> None:
            (pane or self.offer_first_start(shell)).refuse(str(why))

        shell.background.ask(
            "store", lambda _job: stores.open_store(where), opened, on_refused=refused, doing="the store"
        )

    def offer_first_start(self, shell: Shell) -> FirstStart:
        """Show the three ways to begin."""
        pane = shell.offer_first_start(
            sample=lambda: self._build_sample(shell, pane),
            empty=lambda: self._begin_empty(shell, pane),
            existing=lambda: self._open_existing(shell, pane),
        )
        return pane

    def _build_sample(self, shell: Shell, pane: FirstStart) -> None:
        where = Path(stores.default_store()).with_name(SAMPLE_NAME)
        if where.exists():
            self.open_store(shell, str(where), pane)
            return

        def build(job: Job) -> str:
            from invdb.demo import build_sample

            make_folder(where.parent)
            build_sample(str(where), lambda done, total: told(job, done, total))
            return str(where)

        def told(job: Job, done: int, total: int) -> None:
            job.stop_here()
            job.progress(f"Building the sample workshop, entry {done} of {total}", done / max(total, 1))

        pane.wait("Building the sample workshop …")
        shell.background.act(
            build,
            lambda built: self.open_store(shell, built, pane),
            on_refused=lambda why: pane.refuse(str(why)),
            on_progress=lambda text, _fraction: pane.wait(text),
            doing="the sample workshop",
        )

    def _begin_empty(self, shell: Shell, pane: FirstStart) -> None:
        plan = new_store_form(self.where if "://" not in self.where else stores.default_store())

        def saved(where: str) -> str:
            self.open_store(shell, where)
            return plan.told(where)

        def leave() -> None:
            cover.destroy()
            self.form = None
            pane.buttons[1].focus_set()

        cover = ttk.Frame(pane)
        cover.place(relwidth=1, relheight=1)
        self.form = Form(
            cover,
            shell.theme,
            shell.background,
            plan.fields,
            plan.act,
            title=plan.title,
            on_saved=saved,
            on_leave=leave,
            save_word=plan.save_word,
            another=False,
            said=plan.said,
        )
        self.form.place(relx=0.5, anchor="n", width=shell.theme.px(FORM_WIDTH), relheight=1)
        self.form.begin()

    def _open_existing(self, shell: Shell, pane: FirstStart) -> None:
        chosen = ask_for_store(shell)
        if chosen:
            pane.wait(f"Opening {chosen} …")
            self.open_store(shell, chosen, pane)

    def _read_people(self, shell: Shell, store: Store) -> None:
        def read(_job: Job) -> tuple[list[PersonOffer], ZoneInfo]:
            with store.reading() as session:
                return list(people_here(session)), ZoneInfo(shop_settings(session).zone)

        shell.background.ask(
            "people",
            read,
            lambda found: self._furnish(shell, store, *found),
            on_refused=lambda why: shell.line.refuse(str(why)),
        )

    def _furnish(self, shell: Shell, store: Store, people: list[PersonOffer], zone: ZoneInfo) -> None:
        sitting = Sitting(store, zone=zone)
        sitting.posted = partial(self._show_last_entry, shell, sitting)
        self.sitting = sitting
        shell.set_find(search_all(sitting), partial(self._found, shell))
        shell.set_people([person.name for person in people], partial(self._work_as, shell, people))
        kept = self.prefs.person
        names = [person.name for person in people]
        self._work_as(shell, people, kept if kept in names else names[0] if len(names) == 1 else "")
        shell.set_views(
            [
                StoresView(sitting),
                BenchView(sitting),
                EnginesView(sitting),
                BuyingView(sitting),
                CatalogueView(sitting),
            ]
        )

    def _work_as(self, shell: Shell, people: list[PersonOffer], name: str) -> None:
        sitting = self.sitting
        assert sitting is not None, "nobody works without a store"
        person = next((person for person in people if person.name == name), None)
        sitting.person = person.id if person else None
        sitting.name = person.name if person else ""
        sitting.licence = person.licence if person else ""
        if person is not None:
            self.prefs.person = person.name
            self.prefs.keep()
        where = stores.shown(sitting.store.where)
        shell.set_state(who=sitting.name or NOBODY, store=where if "://" in where else Path(where).stem)
        sitting.posted()

    def _found(self, shell: Shell, hit: Hit) -> None:
        kind, found = hit.ref
        shell.go_to(VIEWS.get(kind, "stores"), (kind, found, hit.headline))

    def _show_last_entry(self, shell: Shell, sitting: Sitting) -> None:
        person = sitting.person
        if person is None:
            shell.line.posted("Say who you are at the top right before you book anything.", None)
            return

        def read(_job: Job) -> LedgerRow | None:
            with sitting.store.reading() as session:
                return last_entry_of(session, person)

        def show(row: LedgerRow | None) -> None:
            if row is None:
                shell.line.posted(f"{sitting.name} has posted nothing yet.", None)
                return
            entry = ReverseEntry(row.number, row.what)
            reverse = (lambda: shell.go_to("stores", entry)) if row.may_be_reversed else None
            shell.line.posted(f"Entry {row.number}, {row.happened_on.isoformat()}: {row.what}", reverse)

        shell.background.ask("last entry", read, show)


def make_folder(folder: Path) -> None:
    """Make a folder for a store; refused in words where it cannot be made."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise Refused(
            f"The folder {folder} can't be made: {os.strerror(error.errno or 0)}.", "Choose another place."
        ) from error
