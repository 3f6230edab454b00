"""Add an instrument, record a calibration with its certificate, and withdraw one."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from gui.job import Job
from gui.shown import Choice, ChosenFile, Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, remark_field
from gui.views.form_plan import FormPlan, fields_renamed
from gui.views.goods_in_checks import not_after
from gui.views.withdraw_form import withdraw_form
from invdb.acts.instrument import NewInstrument, add_instrument, calibrate, withdraw_instrument
from invdb.acts.instrument_list import ListedInstrument
from invdb.acts.papers import NewPaper, read_content
from invdb.rules.calibration import next_due
from invdb.terms import FieldRefused, PaperKind

CALIBRATION, CERTIFICATE = "Its calibration", PaperKind.CALIBRATION_CERTIFICATE


def add_instrument_form(sitting: Sitting) -> FormPlan:
    """The form for another instrument, with its calibration if it has one yet."""

    def act(job: Job, values: dict[str, Any]) -> int:
        words = f"{values['number']} {values['name']}"
        new = NewInstrument(
            values["number"],
            values["name"],
            values["calibrated_on"],
            values.get("calibration_due_on"),
            values["note"],
            _certificate(values, words, job),
        )
        with fields_renamed(papers="scan"), sitting.store.writing() as session:
            made = add_instrument(session, new, sitting.by(values["happened_on"]))
            job.commit_begins()
        return made

    def calibrated(values: Values) -> bool:
        return values.get("calibrated_on") is not None

    return FormPlan(
        title="Another instrument",
        fields=(
            Field("number", "Number", needed=True, kept=False, hint="What is marked on it, such as M 07"),
            Field("name", "Instrument", needed=True,
                  hint="What it is and what it measures, such as bore gauge, 35 to 80 mm"),
            Field("note", "Note", hint="Where it is kept, or what is to be heeded with it"),
            Field("calibrated_on", "Calibrated on", FieldKind.DATE, section=CALIBRATION,
                  check=not_after(sitting.today()),
                  hint="The day on its certificate; empty while it has not been calibrated"),
            *_certificate_fields(calibrated),
            day_field(sitting, "Entered on"),
        ),
        act=act,
        told=lambda _made: "It can be named at every inspection from now on.",
        save_word="Add it",
        another=True,
    )  # fmt: skip


def calibrate_form(sitting: Sitting, listed: ListedInstrument) -> FormPlan:
    """The form to record that an instrument was calibrated again; as long as the last held is offered."""
    facts = listed.facts
    last_on, last_due = facts.calibrated_on, facts.calibration_due_on

    def due_of(on: date) -> date | None:
        return next_due(last_on, last_due, on) if last_on is not None and last_due is not None else None

    def act(job: Job, values: dict[str, Any]) -> int:
        certificate = _certificate(values, facts.words, job)
        days = (values["calibrated_on"], values["calibration_due_on"])
        with fields_renamed(papers="scan"), sitting.store.writing() as session:
            by = sitting.by(values["happened_on"], values["note"])
            entry = calibrate(session, facts.id, *days, by, certificate)
            job.commit_begins()
        return entry

    def filled_by(name: str, values: Values) -> Mapping[str, Any]:
        on = values.get("calibrated_on")
        due_on = due_of(on) if name == "calibrated_on" and on is not None else None
        return {"calibration_due_on": due_on} if due_on is not None else {}

    today = sitting.today()
    said = "It was never calibrated yet."
    if last_on is not None:
        until = f", good until {last_due.isoformat()}" if last_due is not None else ""
        said = f"Calibrated last on {last_on.isoformat()}{until}."
    return FormPlan(
        title=f"A calibration of {facts.words}",
        fields=(
            Field("calibrated_on", "Calibrated on", FieldKind.DATE, needed=True, start=today,
                  check=not_after(today), hint="The day on its certificate"),
            *_certificate_fields(lambda _values: True, due_of(today)),
            remark_field(),
            day_field(sitting, "Entered on"),
        ),
        act=act,
        told=lambda entry: f"The calibration of {facts.words} is on record (entry {entry}).",
        save_word="Record it",
        said=lambda _values: said,
        filled_by=filled_by,
    )  # fmt: skip


def withdraw_instrument_form(sitting: Sitting, listed: ListedInstrument) -> FormPlan:
    """The form to say that an instrument is no longer used, and why."""
    return withdraw_form(
        sitting,
        f"the instrument {listed.facts.words}",
        lambda session, because, by: withdraw_instrument(session, listed.facts.id, because, by),
        "No inspection can name it from that day on; what was measured with it stays as it is.",
    )


def _certificate_fields(asked: Any, due_on: date | None = None) -> tuple[Field, ...]:
    return (
        Field("calibration_due_on", "Good until", FieldKind.DATE, needed=True, section=CALIBRATION,
              start=due_on, check=_not_before, shown_when=asked,
              hint="The last day on which it is relied on"),
        Field("certificate", "Certificate", section=CALIBRATION, kept=False, shown_when=asked,
              hint="Its number; empty where it came with none"),
        Field("scan", "Its scan", FieldKind.FILES, section=CALIBRATION, kept=False, shown_when=asked,
              choices=(Choice(CERTIFICATE, str(CERTIFICATE)),), check=_one_file,
              hint="Kept in the store itself"),
    )  # fmt: skip


def _not_before(due_on: date | None, values: Values) -> None:
    calibrated_on = values.get("calibrated_on")
    if due_on is not None and calibrated_on is not None and due_on < calibrated_on:
        raise FieldRefused(
            "calibration_due_on",
            f"It can't hold until {due_on.isoformat()}, before {calibrated_on.isoformat()}.",
            "Check both days.",
        )


def _one_file(files: tuple[ChosenFile, ...], _values: Values) -> None:
    if len(files) > 1:
        raise FieldRefused("scan", f"{len(files)} files are attached.", "One is kept with a calibration.")


def _certificate(values: Values, words: str, job: Job) -> NewPaper | None:
    """The certificate that is named or attached; one without a number is known by its file's name."""
    reference, files = values.get("certificate") or "", values.get("scan") or ()
    title = f"Calibration of {words}"
    if files:
        job.stop_here()
        path = files[0].path
        with fields_renamed(papers="scan"):
            content = read_content(path)
        return NewPaper(CERTIFICATE, reference or path.stem, title, content=content, file_name=path.name)
    return NewPaper(CERTIFICATE, reference, title) if reference else None
