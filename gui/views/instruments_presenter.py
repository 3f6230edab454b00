"""What the page of instruments shows: each with its calibration, those out of it told by their signs.

Methods that take a job run on a worker and open their own session; the others are plain.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from gui.job import Job
from gui.shown import Column, Empty, Page, Row, Sort
from gui.signs import sign
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.instrument_forms import add_instrument_form, calibrate_form, withdraw_instrument_form
from gui.views.part_tables import page_of
from invdb.acts.instrument_list import CalibrationFacts, ListedInstrument, instrument_list
from invdb.acts.part_papers import KeptPaper, kept_paper
from invdb.rules.calibration import CalibrationState
from invdb.rules.told import counted, listed, stopped
from invdb.terms import Refused

COLUMNS = (
    Column("number", "Number", 70),
    Column("name", "Instrument", 172),
    Column("measured", "Used for", 126),
    Column("calibrated", "Calibrated", 88),
    Column("until", "Good until", 88),
    Column("stands", "How it stands", 160),
    Column("certificate", "Certificate", 96),
    Column("note", "Note", 120),
)
NO_INSTRUMENTS = Empty(
    "Here stands every instrument that measures, with its calibration.",
    "Add the first by its own number; each figure of an inspection can then say with what it was taken.",
)
COUNTED = (
    (CalibrationState.OUT, "out of calibration"),
    (CalibrationState.NEVER, "never calibrated"),
    (CalibrationState.DUE_SOON, "due soon"),
)


class InstrumentsPresenter:
    """Holds the instruments as they were read; knows no Tk."""

    def __init__(self, sitting: Sitting) -> None:
        self._sitting = sitting
        self.instruments: tuple[ListedInstrument, ...] = ()

    def read(self, job: Job) -> tuple[ListedInstrument, ...]:
        """Every instrument as it stands today."""
        with self._sitting.reading(job) as session:
            return instrument_list(session)

    def page(self, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        """Some of the rows, as far as they fit the words."""
        return page_of(map(row_of, self.instruments), COLUMNS, offset, limit, sort, words)

    def told(self) -> str:
        """How many are in use, and how many of them can't be relied on, or not for long."""
        in_use = [each for each in self.instruments if each.state is not CalibrationState.WITHDRAWN]
        if not in_use:
            return ""
        counts = [(self._count(state), state, word) for state, word in COUNTED]
        said = [f"{sign(state).mark} {count} {word}" for count, state, word in counts if count]
        return f"{len(in_use)} in use; {', '.join(said) if said else 'all of them in calibration'}."

    def tab_words(self) -> str:
        """What the page's own tab says beside its name: how many are out of calibration, if any."""
        count = self._count(CalibrationState.OUT)
        return f"{sign(CalibrationState.OUT).mark} {count} out" if count else ""

    def said_of(self, key: int) -> str:
        """All that is to be said of one; "" where it is not there any more."""
        each = self._find(key)
        if each is None:
            return ""
        facts = each.facts
        lines = [f"{facts.words}: {_stands(each, self._sitting.today())}"]
        if each.calibrations:
            now, *before = each.calibrations
            by = f", {now.set_by.who}, entry {now.set_by.entry}"
            said = f"Calibrated on {_calibrated(now)}{by}."
            if before:
                said += f" Before that on {listed([_calibrated(one) for one in before])}."
            lines.append(said)
        more = [f"Used for {', '.join(each.measured)}."] if each.measured else []
        more += [f"{stopped(facts.note)}"] if facts.note else []
        return "\n".join([*lines, *([" ".join(more)] if more else [])])

    def in_use(self, key: int) -> bool:
        """Whether it may be calibrated and withdrawn."""
        each = self._find(key)
        return each is not None and each.state is not CalibrationState.WITHDRAWN

    def has_copy(self, key: int) -> bool:
        """Whether the certificate that it stands by is kept here."""
        each = self._find(key)
        return each is not None and each.certificate is not None and each.certificate.kept

    def add_plan(self) -> FormPlan:
        """The form for another."""
        return add_instrument_form(self._sitting)

    def calibrate_plan(self, keys: Sequence[int]) -> FormPlan:
        """The form for a calibration of the chosen one; Refused for none, several or one withdrawn."""
        return calibrate_form(self._sitting, self._one(keys))

    def withdraw_plan(self, keys: Sequence[int]) -> FormPlan:
        """The form to withdraw the chosen one; Refused for none, several or one withdrawn."""
        return withdraw_instrument_form(self._sitting, self._one(keys))

    def certificate(self, job: Job, key: int) -> KeptPaper:
        """The certificate that an instrument stands by, with its content; Refused where it is not here."""
        each = self._find(key)
        if each is None or each.certificate is None:
            raise Refused("Its calibration came with no certificate.", "Name one with the next.")
        with self._sitting.reading(job) as session:
            return kept_paper(session, each.certificate.document)

    def save_certificate(self, _job: Job, kept: KeptPaper, path: Path) -> Path:
        """Write a copy of a certificate to a file."""
        return kept.saved_at(path)

    def _count(self, state: CalibrationState) -> int:
        return sum(each.state is state for each in self.instruments)

    def _find(self, key: int) -> ListedInstrument | None:
        return next((each for each in self.instruments if each.facts.id == key), None)

    def _one(self, keys: Sequence[int]) -> ListedInstrument:
        found = self._find(keys[0]) if len(keys) == 1 else None
        if found is None:
            raise Refused("No instrument is chosen, or several are.", "Choose one in the list.")
        if found.withdrawn is not None:
            raise Refused(
                f"{found.facts.number} was withdrawn on {found.withdrawn.happened_on.isoformat()}.",
                "Add it afresh under a number of its own.",
            )
        return found


def row_of(each: ListedInstrument) -> Row:
    """An instrument in the list."""
    facts, certificate = each.facts, each.certificate
    cells = (
        facts.number,
        facts.name,
        listed(each.measured),
        facts.calibrated_on.isoformat() if facts.calibrated_on is not None else "",
        facts.calibration_due_on.isoformat() if facts.calibration_due_on is not None else "",
        sign(each.state).text,
        certificate.reference if certificate is not None else "",
        facts.note,
    )
    return Row(facts.id, cells, each.state)


def _stands(each: ListedInstrument, today: date) -> str:
    """How far it can be relied on, as a sentence goes on behind its name."""
    due_on = each.facts.calibration_due_on
    if each.withdrawn is not None:
        setter = each.withdrawn
        return f"withdrawn on {setter.happened_on.isoformat()} by {setter.who}: {stopped(setter.note)}"
    if each.facts.calibrated_on is None:
        return "never calibrated; an inspection that names it is asked about."
    if due_on is None:
        return "in calibration, which holds for good."
    away = counted(abs((due_on - today).days), "day", "days")
    if each.state is CalibrationState.OUT:
        return f"out of calibration, which ended on {due_on.isoformat()}, {away} ago."
    left = "today is its last day" if due_on == today else f"{away} from now"
    return f"in calibration until {due_on.isoformat()}, {left}."


def _calibrated(one: CalibrationFacts) -> str:
    by = f" by {one.certificate.reference}" if one.certificate is not None else ""
    return f"{one.calibrated_on.isoformat()}{by}"
