"""Begin an empty store: what must be known of the workshop."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from zoneinfo import available_timezones

from gui.job import Job
from gui.shown import Field, Values
from gui.views.form_plan import FormPlan
from invdb.acts.begin import Workshop, begin_store
from invdb.terms import FieldRefused, Refused


def new_store_form(where: str) -> FormPlan:
    """The form to begin a store; ``where`` is the file that is offered."""
    return FormPlan(
        title="Begin an empty store",
        fields=(
            Field("name", "Workshop", needed=True, hint="The name that stands on its papers"),
            Field("person", "Your name", needed=True, hint="Every entry carries the name of who made it"),
            Field(
                "licence_number",
                "Licence number",
                hint="If you hold one; only the licensed accept for flight",
            ),
            Field("licence_kind", "Its kind"),
            Field(
                "zone", "Time zone", needed=True, start="UTC", check=_check_zone, hint="Such as Europe/London"
            ),
            Field("file", "File", needed=True, start=where, hint="Where the store is to stand"),
        ),
        act=_begin,
        told=lambda made: f"The store stands at {made}.",
        save_word="Begin it",
    )


def _check_zone(zone: str, _values: Values) -> None:
    if zone not in available_timezones():
        raise Refused(f"{zone} is no time zone.", "Give one such as Europe/London, or UTC.")


def _begin(job: Job, values: dict[str, Any]) -> str:
    file = Path(values["file"]).expanduser()
    if file.exists():
        raise FieldRefused("file", f"There is something at {file} already.", "Give another name.")
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FieldRefused(
            "file", f"The folder {file.parent} can't be made: {error.strerror}.", "Choose another place."
        ) from error
    job.commit_begins()
    begin_store(
        str(file),
        Workshop(
            values["name"], values["person"], values["licence_number"], values["licence_kind"], values["zone"]
        ),
    )
    return str(file)
