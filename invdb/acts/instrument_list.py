"""All instruments as they stand on a day, with every calibration and what has been measured with them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.believed import NOW, facts_of
from invdb.acts.due_soon import due_soon
from invdb.acts.instrument import InstrumentFacts, instruments_then
from invdb.acts.set_by import SetBy, set_by
from invdb.records.chunks import chunks
from invdb.records.documents import Document
from invdb.records.inspections import BenchTest, Instrument, Measurement
from invdb.records.ledger import EntryFact
from invdb.rules.calibration import CalibrationState, calibration_state


@dataclass(frozen=True)
class CertificateFacts:
    """The certificate of a calibration; ``kept`` where its content is here."""

    document: int
    reference: str
    kept: bool


@dataclass(frozen=True)
class CalibrationFacts:
    """One calibration of an instrument, by what certificate, and who recorded it."""

    calibrated_on: date
    due_on: date | None
    certificate: CertificateFacts | None
    set_by: SetBy


@dataclass(frozen=True)
class ListedInstrument:
    """An instrument as it stands, its calibrations by that day, the latest first.

    ``measured`` names the lines of specifications that it was used for, the most used first; ``withdrawn``
    is who withdrew it and why.
    """

    facts: InstrumentFacts
    state: CalibrationState
    calibrations: tuple[CalibrationFacts, ...]
    measured: tuple[str, ...]
    withdrawn: SetBy | None

    @property
    def certificate(self) -> CertificateFacts | None:
        """That of the calibration it stands by."""
        return self.calibrations[0].certificate if self.calibrations else None


def instrument_list(session: Session, on: date | None = None) -> tuple[ListedInstrument, ...]:
    """Every instrument on a day (None: today) by its number, those that were withdrawn by then at the end.

    How soon a calibration is due soon is the shop's own choice, in months.
    """
    day, soon = as_of(session, on), due_soon(session).months
    ids = session.scalars(select(Instrument.id).order_by(Instrument.number, Instrument.id)).all()
    facts = instruments_then(session, ids, day)
    said = facts_of(session, "instrument", ids, NOW)
    entries = {number for each in said.values() for _, number, _ in each}
    setters, certificates = set_by(session, entries), _certificates(session, entries)
    measured = _measured(session)
    found = []
    for instrument in ids:
        each = facts[instrument]
        gone = each.withdrawn_on is not None and each.withdrawn_on <= day
        calibrations, withdrawn = [], None
        for _, number, values in said.get(instrument, ()):
            if values.get("calibrated_on"):
                calibrated_on = date.fromisoformat(str(values["calibrated_on"]))
                due = values.get("calibration_due_on")
                due_on = date.fromisoformat(str(due)) if due else None
                if calibrated_on <= day:
                    calibrations.append(
                        CalibrationFacts(calibrated_on, due_on, certificates.get(number), setters[number])
                    )
            if values.get("withdrawn_on") and gone:
                withdrawn = setters[number]
        state = calibration_state(each.calibrated_on, each.calibration_due_on, day, soon)
        found.append(
            ListedInstrument(
                each,
                CalibrationState.WITHDRAWN if gone else state,
                tuple(sorted(calibrations, key=lambda one: one.calibrated_on, reverse=True)),
                measured.get(instrument, ()),
                withdrawn,
            )
        )
    return tuple(sorted(found, key=lambda one: one.state is CalibrationState.WITHDRAWN))


def _certificates(session: Session, entries: Collection[int]) -> dict[int, CertificateFacts]:
    """The certificate that was taken in by each entry of a calibration, by the entry's number."""
    found = {}
    for some in chunks(set(entries)):
        rows = session.execute(
            select(EntryFact.entry_number, Document.id, Document.reference, Document.sha256)
            .join(Document, Document.id == EntryFact.record_id)
            .where(EntryFact.record == "document", EntryFact.entry_number.in_(some))
        )
        for row in rows:
            found[row.entry_number] = CertificateFacts(row.id, row.reference, row.sha256 is not None)
    return found


def _measured(session: Session) -> dict[int, tuple[str, ...]]:
    """For which lines each instrument was used, by its id."""
    times: dict[int, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for table in (Measurement, BenchTest):
        rows = session.execute(
            select(table.instrument_id, table.name, func.count().label("times"))
            .where(table.instrument_id.is_not(None))
            .group_by(table.instrument_id, table.name)
        )
        for row in rows:
            times[row.instrument_id][row.name] += row.times
    return {
        instrument: tuple(sorted(names, key=lambda name: (-names[name], name)))
        for instrument, names in times.items()
    }
