"""The right side of the Bench view: the kit sheet of what is asked for, and what may be done with it."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Callable, Sequence
from pathlib import Path
from tkinter import ttk

from gui.shown import Deed, Empty, Row
from gui.sitting import Sitting
from gui.view import Context
from gui.views.bench_forms import cancel_form, issue_form, return_form
from gui.views.bench_presenter import BenchPresenter, Reserved, may_be_cancelled, set_aside_in
from gui.views.form_place import FormPlace
from gui.views.kit_sheet import KitSheet
from gui.views.kit_sheet_presenter import sheet_of_proposal
from gui.views.kit_sheet_pulls import PulledKit, sheet_of_pulls
from gui.widgets.form import Form
from invdb.acts.pick_list import PulledLine
from invdb.acts.proposed import Proposal
from invdb.terms import Refused

NOTHING_ASKED = Empty(
    "Here stands the kit of a cylinder, one row a station.",
    "Click a cylinder, or go to it by its number and press Enter. Insert adds another to the same proposal,"
    " and Ctrl+G all of them.",
)


class KitPane(ttk.Frame):
    """Shows the kits that the presenter asks for, or pulls as they stand; a form takes its place.

    ``on_asked`` is told when other kits are asked for, ``on_acted`` when something was posted or refused
    because it changed meanwhile, ``on_pulled`` which pulls are shown, and ``on_leave`` when the keys go back.
    ``deeds`` are done by their keys wherever one is in a form.
    """

    def __init__(
        self,
        parent: tk.Misc,
        context: Context,
        sitting: Sitting,
        presenter: BenchPresenter,
        *,
        ask_where: Callable[[tk.Misc, str, str], str],
        on_asked: Callable[[], None],
        on_acted: Callable[[], None],
        on_pulled: Callable[[tuple[PulledKit, ...]], None],
        on_leave: Callable[[], None],
        deeds: Sequence[Deed] = (),
    ) -> None:
        super().__init__(parent)
        self.presenter = presenter
        self.proposal: Proposal | None = None
        self.pulled: tuple[PulledKit, ...] = ()
        self._context, self._sitting, self._ask_where = context, sitting, ask_where
        self._on_asked, self._on_acted, self._on_pulled = on_asked, on_acted, on_pulled
        self._side = FormPlace(
            self,
            context,
            sitting,
            on_saved=lambda _made: self._on_acted(),
            on_left=self._left_form,
            deeds=deeds,
        )
        self._side.pack(fill="both", expand=True)
        self.sheet = KitSheet(
            self._side, context, empty=NOTHING_ASKED, deeds_for=self._deeds_for, on_leave=on_leave
        )
        self._side.stand(self.sheet)

    @property
    def form(self) -> Form | None:
        """The open form, if there is one."""
        return self._side.form

    def unsaved(self) -> str:
        """The open form, if anything was typed in it."""
        return self._side.unsaved()

    def ask_for(self, name: str, go_on: bool) -> None:
        """Propose the kit of that cylinder of the shown engine; ``go_on`` takes the keys to the sheet."""
        if self._side.in_the_way():
            return
        self.presenter.ask_for(name)
        self._propose()
        if go_on:
            self.sheet.table.focus_rows()

    def ask_for_too(self, name: str) -> None:
        """Propose that kit together with those that stand on the sheet, or leave it out."""
        if self._side.in_the_way():
            return
        try:
            self.presenter.ask_for_too(name)
        except Refused as refused:
            self._context.refuse(str(refused))
            return
        self._propose()

    def ask_for_all(self) -> None:
        """Propose the kits of all cylinders of the shown engine together."""
        if self._side.in_the_way():
            return
        try:
            self.presenter.ask_for_all()
        except Refused as refused:
            self._context.refuse(str(refused))
            return
        self._propose()
        self.sheet.table.focus_rows()

    def leave_out(self, kit: int) -> None:
        """Propose again without the kit at that place of the sheet."""
        self.presenter.leave_out(kit)
        self._propose()

    def refresh(self) -> None:
        """Work out, or read, again what is shown, unless a form stands in its place."""
        if self.form is None:
            self._show_again()

    def show_pulls(self, pulls: Sequence[int], go_on: bool = False) -> None:
        """Show these pulls as they stand, by id, and their engine."""
        if self._side.in_the_way():
            return
        wanted, presenter = tuple(pulls), self.presenter

        def show(pulled: tuple[PulledKit, ...]) -> None:
            self.proposal, self.pulled = None, pulled
            presenter.asked.clear()
            self.sheet.show(sheet_of_pulls(pulled), self._deeds())
            self._on_pulled(pulled)

        self._context.background.ask(
            "bench sheet", lambda job: presenter.read_pulled(job, wanted), show, doing="the pull"
        )
        if go_on:
            self.sheet.table.focus_rows()

    def _propose(self) -> None:
        """Work out the kits that are asked for, and show them."""
        asked, presenter = tuple(self.presenter.asked), self.presenter
        self.proposal, self.pulled = None, ()
        self._on_asked()
        if not asked:
            self._context.background.forget("bench sheet")
            self.sheet.clear()
            return

        def show(proposal: Proposal) -> None:
            self.proposal = proposal
            self.sheet.show(sheet_of_proposal(proposal), self._deeds())

        kits = "the kit" if len(asked) == 1 else f"{len(asked)} kits together"
        self._context.background.ask(
            "bench sheet", lambda job: presenter.propose(job, asked), show, doing=kits
        )

    def _show_again(self) -> None:
        if self.pulled:
            self.show_pulls([each.summary.pull for each in self.pulled])
        elif self.presenter.asked:
            self._propose()

    def reserve(self) -> None:
        """Set aside all that is proposed; if somebody was first, say so and propose again."""
        proposal = self.proposal
        if self._side.in_the_way():
            return
        if proposal is None:
            self._context.refuse("Nothing is proposed. Choose a cylinder and press Enter first.")
            return

        def done(reserved: Reserved) -> None:
            self._acted()
            self.show_pulls(reserved.pulls)

        def refused(why: Refused) -> None:
            self._context.refuse(str(why))
            self._propose()
            self._on_acted()

        self.proposal = None
        self._context.background.act(
            lambda job: self.presenter.reserve(job, proposal), done, on_refused=refused, doing="the reserving"
        )

    def save_pick_list(self) -> None:
        """Write the pick list of what the sheet shows to a file that a person names."""
        of = self.proposal or tuple(each.summary.pull for each in self.pulled if each.set_aside)
        if not of:
            self._context.refuse("There is nothing to fetch. Choose a cylinder, or a pull not yet issued.")
            return
        where = self._ask_where(self, "Save the pick list", f"pick list {self._pick_list_name()}.pdf")
        if where:
            self._context.background.ask(
                "bench pick list",
                lambda job: self.presenter.write_pick_list(job, of, Path(where)),
                lambda path: self._context.say(f"Saved {path}."),
                doing="the pick list",
            )

    def issue_all(self) -> None:
        """Hand over all that the shown pulls have set aside."""
        self._issue(set_aside_in(self.pulled))

    def issue_chosen(self) -> None:
        """Hand over the chosen rows; of a single one, as much as is said."""
        lines = [(kit, line) for kit, line in self._chosen_lines() if line.reserved]
        if len(lines) == 1 and lines[0][1].reserved > 1:
            self._side.open(issue_form(self._sitting, *lines[0]))
            return
        only: dict[int, dict[int, int] | None] = {}
        for kit, line in lines:
            some = only.setdefault(kit.summary.pull, {})
            assert some is not None, "lines were named"
            some[line.pull_line] = line.reserved
        self._issue(only)

    def fit(self) -> None:
        """Fit all that the pull of the chosen row, or the first with anything out, was issued."""
        rows = self.sheet.table.chosen() if self.pulled else ()
        kits = [self.pulled[row.key.kit] for row in rows] or list(self.pulled)
        kit = next((each for each in kits if each.out), None)
        if kit is None:
            self._context.refuse("Nothing is out that could be fitted. Choose an open pull that was issued.")
            return
        if self._side.in_the_way():
            return
        self._context.background.ask(
            "bench fit",
            lambda job: self.presenter.fit_plan(job, kit),
            self._side.open,
            doing="what the engine's meter read",
        )

    def take_back(self) -> None:
        """Take back the chosen rows of one pull, as far as they are out; with none chosen, all of it."""
        chosen = [(kit, line) for kit, line in self._chosen_lines() if line.issued > line.returned]
        kit = chosen[0][0] if chosen else next((each for each in self.pulled if each.out), None)
        if kit is None:
            self._context.refuse("Nothing is out that could come back. Choose an open pull that was issued.")
            return
        lines = [line for of, line in chosen if of is kit] or list(kit.out)
        self._side.open(return_form(self._sitting, kit, lines))

    def cancel(self) -> None:
        """Let go of the pull of the chosen row, or of the only one."""
        rows = self.sheet.table.chosen()
        kit = self.pulled[rows[0].key.kit] if rows and self.pulled else next(iter(self.pulled), None)
        if kit is None:
            self._context.refuse("No pull is shown. Choose an open one first.")
        elif not may_be_cancelled(kit):
            self._context.refuse(
                f"Pull {kit.summary.number} is {kit.summary.state}. What is out on a pull comes back first."
            )
        else:
            self._side.open(cancel_form(self._sitting, kit))

    def _issue(self, only: dict[int, dict[int, int] | None]) -> None:
        if self._side.in_the_way():
            return
        if not only:
            self._context.refuse("Nothing that is shown is set aside. Reserve a kit, or choose an open pull.")
            return
        shown = tuple(each.summary.pull for each in self.pulled)

        def done(_entries: tuple[int, ...]) -> None:
            self._acted()
            self.show_pulls(shown)

        def refused(why: Refused) -> None:
            self._context.refuse(str(why))
            self.show_pulls(shown)

        self._context.background.act(
            lambda job: self.presenter.issue(job, only), done, on_refused=refused, doing="the issuing"
        )

    def _acted(self) -> None:
        self._sitting.posted()
        self._on_acted()

    def _chosen_lines(self) -> list[tuple[PulledKit, PulledLine]]:
        """The lines of pulls whose rows are chosen; a pull's heading stands for all of its lines."""
        found = []
        for row in self.sheet.table.chosen() if self.pulled else ():
            kit = self.pulled[row.key.kit]
            lines = [line for line in kit.lines if row.key.line in (None, line.pull_line)]
            found += [(kit, line) for line in lines if (kit, line) not in found]
        return found

    def _deeds(self) -> list[Deed]:
        """What may be done with the sheet as it is."""
        save = Deed(
            "Pick list …", self.save_pick_list, "Ctrl+P", "Save the pick list to print, as PDF or workbook"
        )
        if self.proposal is not None:
            whole = all(kit.complete for kit in self.proposal.kits)
            word = "Reserve" if whole else "Reserve what there is"
            reserve = Deed(word, self.reserve, "Ctrl+R", "Set aside all that is proposed, in one entry")
            takes = any(line.choices for kit in self.proposal.kits for line in kit.lines)
            return [reserve, save] if takes else [save]
        deeds = []
        if any(each.set_aside for each in self.pulled):
            deeds.append(save)
            deeds.append(Deed("Issue", self.issue_all, "Ctrl+I", "Hand over all that is set aside"))
            deeds.append(
                Deed("Issue chosen …", self.issue_chosen, "Ctrl+Shift+I", "Hand over only the chosen rows")
            )
        if any(each.out for each in self.pulled):
            deeds.append(
                Deed("Fit …", self.fit, "Ctrl+Shift+F", "Fit all that is out, each thing at its station")
            )
            deeds.append(Deed("Take back …", self.take_back, "Ctrl+B", "Take back what was not used"))
        if any(may_be_cancelled(each) for each in self.pulled):
            deeds.append(Deed("Cancel pull …", self.cancel, "Ctrl+K", "Let go of what is set aside"))
        return deeds

    def _deeds_for(self, rows: list[Row]) -> list[Deed]:
        deeds = self._deeds()
        if rows and self.proposal is not None and len(self.proposal.kits) > 1:
            kit = rows[0].key.kit
            deeds.append(Deed("Leave this kit out", lambda: self.leave_out(kit), "Del"))
        return deeds

    def _pick_list_name(self) -> str:
        if self.pulled:
            return " ".join(each.summary.number for each in self.pulled)
        assert self.proposal is not None, "something is shown"
        return " and ".join(f"{kit.engine.name} {kit.position.name}" for kit in self.proposal.kits[:2])

    def _left_form(self) -> None:
        self._show_again()
        self.sheet.table.focus_rows()
