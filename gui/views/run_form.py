"""Log what an engine ran, begin its log, and record that its meter was changed."""

from __future__ import annotations

from typing import Any

from gui.job import Job
from gui.shown import Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, remark_field
from gui.views.form_plan import FormPlan
from gui.views.meter_fields import RAN_FOR, hours_figure, read_count, read_hours
from invdb.acts.running import LogAt, LogBegin, MeterChange, Run, begin_log, change_meter, log_run
from invdb.rules.life import hours_words, read_prior
from invdb.terms import FieldRefused, Refused


def run_form(sitting: Sitting, log: LogAt) -> FormPlan:
    """The form to log what the engine ran: by its meter's reading, or by hand where it has none."""
    meter = log.state.meter

    def act(job: Job, values: dict[str, Any]) -> int:
        reading, hours = _amount(values)
        run = Run(values["use"], reading, hours, read_count(values["starts"], "starts"))
        with sitting.store.writing() as session:
            by = sitting.by(values["happened_on"], values["note"])
            entry = log_run(session, log.engine, run, by, sure=values.get("sure", False))
            job.commit_begins()
        return entry

    reading_field = Field(
        "reading",
        "Meter reads",
        FieldKind.QUANTITY,
        unit=f"h; it read {hours_words(meter)} on {log.last_on.isoformat()}" if meter is not None else "h",
        check=_check_hours("reading"),
        hint="What the meter reads after the running; a lower reading than the last is refused",
    )
    hours_field = Field(
        "hours",
        "Ran" if meter is None else "Or ran besides",
        FieldKind.QUANTITY,
        unit="h" if meter is None else "h by hand, which did not go over the meter",
        check=_check_hours("hours"),
    )
    return FormPlan(
        title=f"Log what {log.name} ran",
        fields=(
            Field("use", "It ran for", FieldKind.CHOICE, needed=True, start=log.usual_use, choices=RAN_FOR),
            *((reading_field,) if meter is not None else ()),
            hours_field,
            Field("starts", "Starts", FieldKind.QUANTITY, check=_check_count, hint="Empty for none"),
            day_field(sitting, "Ran on"),
            remark_field(),
        ),
        act=act,
        told=lambda entry: f"What {log.name} ran is logged (entry {entry}).",
        save_word="Log it",
        said=lambda values: _gained(log, values),
    )


def begin_log_form(sitting: Sitting, engine: int, name: str) -> FormPlan:
    """The form to begin the log of an engine."""

    def act(job: Job, values: dict[str, Any]) -> int:
        written = values["reading"]
        begun = LogBegin(
            read_hours(written, "reading") if written else None,
            read_prior(values["hours"], "hours"),
            read_prior(values["starts"], "starts", 1),
        )
        with sitting.store.writing() as session:
            entry = begin_log(session, engine, begun, sitting.by(values["happened_on"], values["note"]))
            job.commit_begins()
        return entry

    return FormPlan(
        title=f"Begin the log of {name}",
        fields=(
            Field(
                "reading",
                "Meter reads",
                FieldKind.QUANTITY,
                unit="h; empty if it has no meter",
                check=_check_hours("reading"),
            ),
            _prior_field("hours", "Had run by then", 100),
            _prior_field("starts", "Starts by then", 1),
            day_field(sitting, "Log kept since"),
            remark_field(),
        ),
        act=act,
        told=lambda entry: f"The log of {name} has begun (entry {entry}).",
        save_word="Begin it",
    )


def meter_form(sitting: Sitting, log: LogAt) -> FormPlan:
    """The form to record that the meter is another from now on, or the same put right."""
    meter = log.state.meter

    def act(job: Job, values: dict[str, Any]) -> int:
        old = values.get("old_reading", "")
        change = MeterChange(
            read_hours(values["new_reading"], "new_reading"),
            read_hours(old, "old_reading") if old else None,
            read_prior(values["unread"] or "0", "unread"),
            read_prior(values["unread_starts"] or "0", "unread_starts", 1),
            values["use"],
        )
        with sitting.store.writing() as session:
            by = sitting.by(values["happened_on"], values["note"])
            entry = change_meter(session, log.engine, change, by, sure=values.get("sure", False))
            job.commit_begins()
        return entry

    old_field = Field(
        "old_reading",
        "Old meter read",
        FieldKind.QUANTITY,
        start=hours_figure(meter) if meter is not None else None,
        unit="h; empty if it can't be read",
        check=_check_hours("old_reading"),
    )
    return FormPlan(
        title=f"Change the meter of {log.name}",
        fields=(
            *((old_field,) if meter is not None else ()),
            Field(
                "new_reading",
                "New meter reads",
                FieldKind.QUANTITY,
                needed=True,
                unit="h",
                check=_check_hours("new_reading"),
            ),
            _prior_field("unread", "Ran unread", 100, "Empty for nothing; what neither meter shows"),
            _prior_field("unread_starts", "Starts unread", 1, "Empty for none"),
            Field("use", "It ran for", FieldKind.CHOICE, needed=True, start=log.usual_use, choices=RAN_FOR),
            day_field(sitting, "Changed on"),
            remark_field(),
        ),
        act=act,
        told=lambda entry: f"{log.name} has another meter from now on (entry {entry}).",
        save_word="Change it",
    )


def _amount(values: Values) -> tuple[int | None, int | None]:
    """The reading or the hours that were typed; Refused for none."""
    reading, hours = values.get("reading", ""), values["hours"]
    if not reading and not hours:
        raise FieldRefused("hours", "Neither a reading nor hours are given.", "Give the one that you have.")
    return (
        read_hours(reading, "reading") if reading else None,
        read_hours(hours, "hours") if hours else None,
    )


def _gained(log: LogAt, values: Values) -> str:
    """What the engine ran by the reading that is typed so far."""
    written, meter = str(values.get("reading") or ""), log.state.meter
    if not written or meter is None:
        return ""
    try:
        gained = read_hours(written, "reading") - meter
    except Refused:
        return ""
    if gained < 0:
        return f"That is {hours_words(-gained)} below what it read on {log.last_on.isoformat()}."
    return f"That is {hours_words(gained)} since {log.last_on.isoformat()}."


def _check_hours(field: str) -> Any:
    def check(written: str, _values: Values) -> None:
        if written:
            read_hours(written, field)

    return check


def _check_count(written: str, _values: Values) -> None:
    read_count(written, "starts")


def _prior_field(name: str, word: str, parts: int, hint: str = "") -> Field:
    def check(written: str, _values: Values) -> None:
        read_prior(written, name, parts)

    return Field(
        name,
        word,
        FieldKind.TEXT,
        check=check,
        hint=hint or "A figure, “between 100 and 140”, “at least 300”, or empty where nobody knows",
    )
