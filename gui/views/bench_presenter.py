"""What the Bench view shows and does: engines, how complete each kit could be, proposals and pulls.

Methods that take a job run on a worker and open their own session; the others are plain.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from gui.job import Job
from gui.shown import Cylinder
from gui.signs import sign
from gui.sitting import Sitting
from gui.views.bench_cylinders import cylinders_of, positions_of
from gui.views.fit_form import IssuedKit, fit_pull_form
from gui.views.form_plan import FormPlan
from gui.views.kit_sheet_pulls import PulledKit
from gui.views.sheet_ending import ending_of
from gui.views.shown_engine import ShownEngine
from invdb.acts.engine_list import ListedEngine
from invdb.acts.kit_outlook import PositionOutlook, kit_outlook
from invdb.acts.numbers import engine_named, thing_by_tag
from invdb.acts.pick_list import (
    PullSummary,
    pick_list_of_proposal,
    pick_list_of_pulls,
    pull_lines,
    pulls,
)
from invdb.acts.propose import POSITIONS_MAX, propose
from invdb.acts.proposed import Asked, Proposal
from invdb.acts.pull import issue, order_of, reserve
from invdb.acts.pull_fits import fits_of_pulls
from invdb.acts.running import log_at
from invdb.acts.things import things_by_id
from invdb.rules.pick_list import PickList
from invdb.rules.pulling import KitState
from invdb.terms import PullState, Refused

FILLED = frozenset({KitState.COMPLETE, KitState.WITH_ALTERNATE, KitState.RESERVED, KitState.ISSUED})
PAPER_SIZES = ("A4", "Letter")

HELP = """\
Five pages: the kit of a cylinder, the inspection of a piece, how a whole engine fits together, what is out \
for work, and the instruments.

F6  kit sheet
F7  inspection
F8  fits and masses
F9  what is out for work
F11  instruments and their calibration

Kit. Pull the kit for one cylinder, or for several at once.

Choose an engine above the picture. Each cylinder is marked by how far its kit could be filled from stock: \
by itself, or if all of them were pulled at once. Point at one to read what it waits for.

Click a cylinder, or go to it with the arrows and press Enter, and its kit is proposed beside the picture: \
one row a station, with what was chosen and why. A short station says what it waits for, and beneath it \
stand the nearest misses with what bars each.

Reserve sets all of it aside in one entry, or nothing if somebody else was first. Then print the pick list, \
issue it when it is handed over, and fit it when it is in the engine; what was not used is taken back first.

Arrows, or the cylinder's own name  go to a cylinder
Enter  propose its kit
Insert or Space  add it to the kits proposed together, or leave it out
Ctrl+G  propose the kits of all its cylinders together
Page Up, Page Down  the engine before or after
Ctrl+E  choose an engine
Ctrl+T  each by itself, or all at once
Ctrl+R  reserve what is proposed
Ctrl+P  save the pick list to print, as PDF or workbook
Ctrl+I  issue all that is set aside
Ctrl+Shift+I  issue only the chosen rows
Ctrl+Shift+F  fit all that is out, each thing at its station
Ctrl+B  take back what was not used
Ctrl+K  cancel the pull
Ctrl+L  go to the open pulls
F5  work it out again

Inspection. Scan a tag, or choose what waits for inspection at the left. The sheet is made from the \
specification in force on the day; beside each figure stands its verdict as you type it. A figure may carry \
its own unit: 3 15/16 in, 12 thou, 100.02 mm. What the figures call for is proposed; you decide, with a \
reason where it is against them. A count-down goes on while you look elsewhere.

Enter  the next box
Up, Down  the box above or below
Ctrl+Enter  save the inspection
Ctrl+P  save the blank sheet, to be filled in by hand, or the filled one of a past inspection
Ctrl+Shift+P  what inspections of it found before, judged as then and as today; and back to the sheet

Fits. Every fit of the engine by cylinder against its minimum, target, maximum and worn limit, and its \
masses against what they may differ. Open boxes follow from limits alone: not both pieces were measured.

Arrows  go from cylinder to cylinder and from row to row
Enter  the kit of that cylinder
Ctrl+T  as built, or as the best kits for all cylinders at once would fit

Out for work. What is out at a firm or on our own bench, what is overdue first. It is sent from the Stores.

Ctrl+B  book back what came of it

Instruments. Each that measures, with its calibration: what is out of it, and what is due soon. An \
inspection that names one out of calibration asks whether that is meant.

Enter or F4  record that it was calibrated again, with its certificate
Ins  add an instrument
Ctrl+S  save the certificate that it stands by
Del  withdraw it"""


@dataclass(frozen=True)
class Reserved:
    """What came of reserving: the pulls' ids and numbers."""

    pulls: tuple[int, ...]
    numbers: tuple[str, ...]


class BenchPresenter(ShownEngine):
    """Holds which engine is shown and which kits are asked for; knows no Tk."""

    def __init__(self, sitting: Sitting) -> None:
        super().__init__(sitting)
        self.together = False
        self.outlooks: dict[int, PositionOutlook] = {}
        self.asked: list[Asked] = []
        self.pulls: tuple[PullSummary, ...] = ()

    # What is shown

    def forget_engine(self) -> None:
        self.outlooks, self.pulls = {}, ()

    def forget_group(self) -> None:
        self.outlooks = {}

    def cylinders(self) -> list[Cylinder]:
        """The picture, as far as it is worked out."""
        if self.engine is None:
            return []
        ticked = {each.position for each in self.asked if each.engine == self.engine.engine}
        return cylinders_of(self.engine, self.group, self.outlooks, ticked, together=self.together)

    def told_of_outlook(self) -> str:
        """How many kits could be complete, each by itself and all at once."""
        if self.engine is None:
            return ""
        every = positions_of(self.engine, self.group)
        known = [self.outlooks[each.position] for each in every if each.position in self.outlooks]
        if len(known) < len(every):
            return f"{len(known)} of {len(every)} worked out"
        alone = sum(each.alone.state in FILLED for each in known)
        said = f"{alone} of {len(known)} could be filled, each by itself"
        shares = [each.together for each in known if each.together is not None]
        if len(shares) == len(known):
            at_once = sum(share.state in FILLED for share in shares)
            said += f"; {at_once} if all were pulled at once"
        return said

    def told_of_picture(self) -> str:
        """What stands beneath the picture: what its marks mean, since a tilted head may have no room."""
        words = dict.fromkeys(cylinder.sign for cylinder in self.cylinders())
        return " · ".join(sign(word).text for word in words)

    def learn(self, outlook: PositionOutlook) -> None:
        """Take one position's outlook; an answer for all at once that is known stays until a newer one."""
        before = self.outlooks.get(outlook.position.id)
        if outlook.together is None and before is not None:
            outlook = replace(outlook, together=before.together)
        self.outlooks[outlook.position.id] = outlook

    def ask_for(self, name: str) -> None:
        """Ask for the kit of that position of the shown engine alone."""
        assert self.engine is not None, "no engine is shown"
        self.asked = [Asked(self.engine.engine, self.position_named(name))]

    def ask_for_too(self, name: str) -> None:
        """Ask for that kit together with the others, or no longer. Refused when they would be too many."""
        assert self.engine is not None, "no engine is shown"
        asked = Asked(self.engine.engine, self.position_named(name))
        if asked in self.asked:
            self.asked.remove(asked)
        elif len(self.asked) >= POSITIONS_MAX:
            raise Refused(
                f"{POSITIONS_MAX} kits are proposed together already.",
                "Leave one out, or reserve these first.",
            )
        else:
            self.asked.append(asked)

    def ask_for_all(self) -> None:
        """Ask for the kits of all positions shown of the engine together. Refused when they are too many."""
        if self.engine is None:
            raise Refused("No engine is shown.", "Choose one above the picture.")
        positions, name = positions_of(self.engine, self.group), self.engine.name
        if len(positions) > POSITIONS_MAX:
            raise Refused(
                f"{name} has {len(positions)} positions, and {POSITIONS_MAX} are proposed at most.",
                "Ask for some of them.",
            )
        self.asked = [Asked(self.engine.engine, each.position) for each in positions]

    def leave_out(self, kit: int) -> None:
        """Ask no longer for the kit at that place, counted from 0."""
        del self.asked[kit]

    # What workers do

    def read_outlook(
        self,
        job: Job,
        engine: ListedEngine,
        group: str,
        heard: Callable[[PositionOutlook], None],
    ) -> tuple[PositionOutlook, ...]:
        """The outlook of every position; ``heard`` is called on the worker as each becomes known."""
        known: list[PositionOutlook] = []

        def told(outlook: PositionOutlook, count: int) -> None:
            known.append(outlook)
            heard(outlook)
            job.progress(f"Kits of {engine.name}: {len(known)} of {count}", len(known) / (count + 1))

        with self.sitting.store.reading() as session:
            found = kit_outlook(session, engine.engine, group=group, heard=told, stop=job.stopped)
        job.stop_here()
        return found

    def read_pulls(self, _job: Job, engine: int) -> tuple[PullSummary, ...]:
        """The pulls of an engine that are open, newest first."""
        with self.sitting.store.reading() as session:
            return pulls(session, engine)

    def read_pulled(self, _job: Job, wanted: Sequence[int]) -> tuple[PulledKit, ...]:
        """These pulls as they stand, settled or not, in the order given."""
        with self.sitting.store.reading() as session:
            every = {each.pull: each for each in pulls(session, only_open=False)}
            fits = fits_of_pulls(session, wanted)
            found = []
            for pull in wanted:
                if pull not in every:
                    raise Refused("That pull is not in the store.", "Look at its number again.")
                lines = pull_lines(session, pull)
                things = {line.tag: thing_by_tag(session, line.tag) for line in lines if line.tag}
                states = things_by_id(session, list(things.values()))
                by_tag = {tag: states[thing] for tag, thing in things.items()}
                found.append(PulledKit(every[pull], lines, by_tag, fits.get(pull, ())))
            return tuple(found)

    def propose(self, job: Job, asked: Sequence[Asked]) -> Proposal:
        """The best kits there are for these positions together."""
        with self.sitting.store.reading() as session:
            proposal = propose(session, tuple(asked), stop=job.stopped)
        job.stop_here()
        return proposal

    def reserve(self, job: Job, proposal: Proposal) -> Reserved:
        """Set aside all that is proposed, or nothing; a kit that gets nothing makes no pull."""
        kits = [kit for kit in proposal.kits if any(line.choices for line in kit.lines)]
        by = self.sitting.by()
        with self.sitting.store.writing() as session:
            made = reserve(session, tuple(order_of(kit) for kit in kits), by)
            job.commit_begins()
        return Reserved(tuple(each.pull for each in made), tuple(each.number for each in made))

    def issue(self, job: Job, only: dict[int, dict[int, int] | None]) -> tuple[int, ...]:
        """Issue for each pull what is said by line, or all that is set aside; the entries' numbers."""
        by = self.sitting.by()
        with self.sitting.store.writing() as session:
            entries = tuple(issue(session, pull, by, lines) for pull, lines in only.items())
            job.commit_begins()
        return entries

    def fit_plan(self, job: Job, kit: PulledKit) -> FormPlan:
        """The form to fit all that a pull has out."""
        summary = kit.summary
        with self.sitting.reading(job) as session:
            log = log_at(session, engine_named(session, summary.engine), self.sitting.today())
        issued = IssuedKit(summary.pull, summary.number, summary.position, len(kit.out))
        return fit_pull_form(self.sitting, log, (issued,), summary.position)

    def write_pick_list(
        self, _job: Job, of: Proposal | Sequence[int], path: Path, size: str = PAPER_SIZES[0]
    ) -> Path:
        """Write the pick list of a proposal or of pulls (by id) as PDF or workbook, by the file's ending."""
        from invdb.paper.pick_list import write_pick_list_pdf, write_pick_list_xlsx

        ending = ending_of(path, "pick list")
        sheet = self._pick_list(of)
        write = write_pick_list_pdf if ending == ".pdf" else write_pick_list_xlsx
        write(sheet, path, size)  # type: ignore[arg-type]
        return path

    def _pick_list(self, of: Proposal | Sequence[int]) -> PickList:
        with self.sitting.store.reading() as session:
            if isinstance(of, Proposal):
                return pick_list_of_proposal(session, of, self.sitting.by().person)
            return pick_list_of_pulls(session, list(of))

    def engine_of(self, pulled: Sequence[PulledKit]) -> int | None:
        """The engine of the first of these pulls, by id."""
        return next((each.engine for each in self.engines if each.name == pulled[0].summary.engine), None)


def set_aside_in(pulled: Sequence[PulledKit]) -> dict[int, dict[int, int] | None]:
    """Everything that waits to be issued for these pulls, as :meth:`BenchPresenter.issue` takes it."""
    return {each.summary.pull: None for each in pulled if each.set_aside}


def may_be_cancelled(pulled: PulledKit) -> bool:
    """Whether a pull can be let go of: it stands, and nothing is out on it."""
    return pulled.summary.state not in (PullState.CANCELLED, PullState.CLOSED) and not pulled.out
