"""What measures: put in an instrument, calibrate it again, withdraw it, and say how it stood on a day."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.as_of import as_of
from invdb.acts.believed import NOW, facts_of
from invdb.acts.by import By, begin_draft, refuse_odd_year
from invdb.acts.papers import NewPaper, draft_paper
from invdb.records.draft import Draft
from invdb.records.inspections import Instrument
from invdb.records.posting import post
from invdb.records.registry import one_line
from invdb.terms import EntryKind, FieldRefused, Refused


@dataclass(frozen=True)
class NewInstrument:
    """An instrument by its own number; ``calibration_due_on`` is the last day on which it is relied on.

    ``certificate`` is of the calibration, dated that day unless it says another.
    """

    number: str
    name: str
    calibrated_on: date | None = None
    calibration_due_on: date | None = None
    note: str = ""
    certificate: NewPaper | None = None


@dataclass(frozen=True)
class InstrumentFacts:
    """An instrument as it stood on a day: the calibration that it had then, None where it had none.

    ``doubt`` says in a clause why it could not be relied on that day, '' where it could.
    """

    id: int
    number: str
    name: str
    calibrated_on: date | None
    calibration_due_on: date | None
    note: str
    withdrawn_on: date | None
    doubt: str

    @property
    def words(self) -> str:
        """``M-03 bore gauge``."""
        return f"{self.number} {self.name}"


def add_instrument(session: Session, instrument: NewInstrument, by: By) -> int:
    """Add an instrument; returns its id. FieldRefused when its number is taken or its days can't be."""
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    instrument_id = draft_instrument(session, draft, instrument)
    post(session, draft)
    return instrument_id


def draft_instrument(session: Session, draft: Draft, instrument: NewInstrument) -> int:
    """Put an instrument into a draft; returns its id. See ``add_instrument``."""
    number = one_line(instrument.number)
    if not number:
        raise FieldRefused("number", "The instrument has no number.", "Type what is marked on it.")
    if not instrument.name.strip():
        raise FieldRefused("name", "The instrument has no name.", "Type what it is, such as bore gauge.")
    taken: dict[str, date | None] = {
        row.number.casefold(): row.withdrawn_on
        for row in session.execute(select(Instrument.number, Instrument.withdrawn_on))
    }
    taken |= {
        str(fact.values["number"]).casefold(): None
        for fact in draft.facts
        if fact.record == "instrument" and "number" in fact.values
    }
    if number.casefold() in taken:
        ended = taken[number.casefold()]
        gone = f" by one that was withdrawn on {ended.isoformat()}" if ended is not None else ""
        raise FieldRefused("number", f"The number {number} is taken{gone}.", "Give the instrument its own.")
    if instrument.calibrated_on is None and instrument.calibration_due_on is not None:
        raise FieldRefused(
            "calibrated_on", "It isn't said when the instrument was calibrated.", "Give the day."
        )
    if instrument.calibrated_on is not None:
        _check_days(draft, instrument.calibrated_on, instrument.calibration_due_on)
        _draft_certificate(session, draft, instrument.certificate, instrument.calibrated_on)
    elif instrument.certificate is not None:
        raise FieldRefused(
            "calibrated_on", "It isn't said of which day's calibration the certificate is.", "Give the day."
        )
    return draft.new(
        session,
        "instrument",
        number=number,
        name=instrument.name,
        calibrated_on=instrument.calibrated_on,
        calibration_due_on=instrument.calibration_due_on,
        note=instrument.note,
    )


def _check_days(draft: Draft, calibrated_on: date, due_on: date | None) -> None:
    refuse_odd_year("calibrated_on", calibrated_on)
    refuse_odd_year("calibration_due_on", due_on)
    if calibrated_on > draft.happened_on:
        raise FieldRefused(
            "calibrated_on",
            f"{calibrated_on.isoformat()} is after {draft.happened_on.isoformat()}.",
            "Give the day on its certificate.",
        )
    if due_on is None:
        raise FieldRefused(
            "calibration_due_on", "It isn't said until when the calibration holds.", "Give its last day."
        )
    if due_on < calibrated_on:
        raise FieldRefused(
            "calibration_due_on",
            f"It can't hold until {due_on.isoformat()}, before {calibrated_on.isoformat()}.",
            "Check both days.",
        )


def _draft_certificate(
    session: Session, draft: Draft, certificate: NewPaper | None, calibrated_on: date
) -> None:
    """Take in the certificate of a calibration: it is known by being of the same entry."""
    if certificate is not None:
        draft_paper(session, draft, replace(certificate, dated_on=certificate.dated_on or calibrated_on))


def calibrate(
    session: Session,
    instrument: int,
    calibrated_on: date,
    due_on: date,
    by: By,
    certificate: NewPaper | None = None,
) -> int:
    """Record that an instrument was calibrated again, and by what certificate; returns the entry's number.

    Refused where its days can't be, or where it was withdrawn, and, by FieldRefused, a calibration that is
    no later than the last.
    """
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    row = session.get(Instrument, instrument)
    if row is None:
        raise Refused("There is no such instrument.", "Choose one, or add it first.")
    if row.withdrawn_on is not None:
        raise Refused(
            f"{row.number} was withdrawn on {row.withdrawn_on.isoformat()}.",
            "Add it afresh under a number of its own.",
        )
    _check_days(draft, calibrated_on, due_on)
    if row.calibrated_on is not None and calibrated_on <= row.calibrated_on:
        raise FieldRefused(
            "calibrated_on",
            f"{row.number} was last calibrated on {row.calibrated_on.isoformat()}.",
            "Give a later day.",
        )
    _draft_certificate(session, draft, certificate, calibrated_on)
    draft.set("instrument", instrument, calibrated_on=calibrated_on, calibration_due_on=due_on)
    return post(session, draft).number


def withdraw_instrument(session: Session, instrument: int, because: str, by: By) -> int:
    """Say that an instrument is no longer used from that day on, and why; returns the entry's number."""
    draft = begin_draft(session, EntryKind.CATALOGUE, by)
    row = session.get(Instrument, instrument)
    if row is None:
        raise Refused("There is no such instrument.", "Look again.")
    if row.withdrawn_on is not None:
        raise Refused(
            f"{row.number} was withdrawn on {row.withdrawn_on.isoformat()}.", "There is nothing to withdraw."
        )
    if not because.strip():
        raise FieldRefused("because", "It isn't said why it is withdrawn.", "Type it.")
    draft.remark(because)
    draft.set("instrument", instrument, withdrawn_on=draft.happened_on)
    return post(session, draft).number


def instruments(session: Session, on: date | None = None) -> tuple[InstrumentFacts, ...]:
    """The instruments in use on a day (None: today), by number, each with its calibration then."""
    day = as_of(session, on)
    ids = session.scalars(select(Instrument.id).order_by(Instrument.number, Instrument.id)).all()
    found = instruments_then(session, ids, day)
    return tuple(each for each in map(found.__getitem__, ids) if (each.withdrawn_on or date.max) > day)


def instrument_numbered(session: Session, text: str) -> int:
    """The instrument of that number, whatever the case; FieldRefused for none.

    One that was withdrawn is found too: on a day before that it measured.
    """
    wanted = one_line(text).casefold()
    rows = session.execute(select(Instrument.id, Instrument.number, Instrument.withdrawn_on)).all()
    for row in rows:
        if row.number.casefold() == wanted:
            return int(row.id)
    known = ", ".join(sorted(row.number for row in rows if row.withdrawn_on is None)) or "none yet"
    raise FieldRefused(
        "instrument", f"There is no instrument {one_line(text)!r}.", f"The instruments are: {known}."
    )


def instruments_then(session: Session, ids: Collection[int], on: date) -> dict[int, InstrumentFacts]:
    """Instruments by id with the last calibration that they had by a day, whenever that was recorded."""
    rows = {row.id: row for row in session.scalars(select(Instrument).where(Instrument.id.in_(ids)))}
    said = facts_of(session, "instrument", rows, NOW)
    found = {}
    for instrument, row in rows.items():
        calibrations = [
            (str(values["calibrated_on"]), values.get("calibration_due_on"))
            for _, _, values in said.get(instrument, ())
            if values.get("calibrated_on") and str(values["calibrated_on"]) <= on.isoformat()
        ]
        calibrated, due = max(calibrations, key=lambda each: each[0], default=("", None))
        calibrated_on = date.fromisoformat(calibrated) if calibrated else None
        due_on = date.fromisoformat(str(due)) if due else None
        doubt = ""
        if calibrated_on is None:
            doubt = f"has no calibration of {on.isoformat()} or before"
        elif due_on is not None and due_on < on:
            doubt = f"was out of calibration, which ended on {due_on.isoformat()}"
        found[instrument] = InstrumentFacts(
            instrument, row.number, row.name, calibrated_on, due_on, row.note, row.withdrawn_on, doubt
        )
    return found
