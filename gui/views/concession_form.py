"""Record what an authority allows of a piece in an engine beyond a limit, on which document and till when."""

from __future__ import annotations

from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Hit, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import titled
from gui.views.form_plan import FormPlan
from gui.views.meter_fields import read_hours
from gui.views.searches import search_for
from invdb.acts.concession import NewConcession, grant_concession
from invdb.acts.numbers import position_named
from invdb.acts.seated_at import SeatedAt
from invdb.acts.things import ThingState
from invdb.terms import ConcessionOver, FieldRefused, Refused

CAUTION = "It sets a limit aside only because its document says so: keep to the words of the document."


def concession_form(sitting: Sitting, piece: ThingState, seat: SeatedAt | None) -> FormPlan:
    """The form for one piece; it begins with the engine and the position where that is fitted."""
    assert piece.thing.piece is not None, "a concession is for a piece"
    piece_id, today = piece.thing.piece, sitting.today()

    def act(job: Job, values: dict[str, Any]) -> int:
        begins = values["from_on"]
        with sitting.store.writing() as session:
            new = NewConcession(
                values["reference"],
                values["authority"],
                values["over"],
                values["allows"],
                values["document"],
                piece_id,
                values["engine"],
                _position(session, values["engine"], values["position"]),
                begins,
                values["until_on"],
                _hours(values, "hours_allowed"),
                _hours(values, "life_limit_hours"),
            )
            made = grant_concession(session, new, sitting.by(min(begins, today)))
            job.commit_begins()
        return made

    engine = None
    if seat is not None and seat.engine is not None:
        engine = Hit(seat.engine_name, "where it is fitted", "engine", seat.engine)
    return FormPlan(
        title=titled("Concession for", (piece,)),
        fields=(
            Field("reference", "Reference", needed=True),
            Field("authority", "Authority", needed=True, hint="Who allows it"),
            Field(
                "document",
                "Its document",
                FieldKind.FIND,
                needed=True,
                find=search_for(sitting, ("document",)),
                hint="Attach it to the piece by Papers first if it is not here yet",
            ),
            Field(
                "over",
                "Over the",
                FieldKind.CHOICE,
                needed=True,
                choices=tuple(Choice(over, str(over)) for over in ConcessionOver),
                hint="Which rule it sets aside",
            ),
            Field("allows", "It allows", FieldKind.LINES, needed=True, hint="As the document has it"),
            Field(
                "life_limit_hours",
                "Life limit instead",
                FieldKind.QUANTITY,
                unit="h since new",
                check=_check_hours("life_limit_hours"),
                hint="Stands instead of every limit by hours since new, in that engine",
                shown_when=lambda values: values.get("over") is ConcessionOver.LIFE_LIMIT,
            ),
            Field(
                "engine",
                "In engine",
                FieldKind.FIND,
                needed=True,
                start=engine,
                find=search_for(sitting, ("engine",)),
                section="Where",
            ),
            Field(
                "position",
                "At position",
                start=seat.position_name if engine is not None and seat is not None else None,
                section="Where",
                hint="Such as cylinder 5; empty for wherever it is in that engine",
            ),
            Field("from_on", "In force from", FieldKind.DATE, needed=True, start=today, section="How long"),
            Field("until_on", "Until", FieldKind.DATE, section="How long", hint="Its last day"),
            Field(
                "hours_allowed",
                "Or for",
                FieldKind.QUANTITY,
                unit="h in that engine",
                check=_check_hours("hours_allowed"),
                section="How long",
                hint="It ends by its last day or its hours, whichever comes first; one of them is needed",
            ),
        ),
        act=act,
        told=lambda _made: f"The concession for {piece.tag} is recorded.",
        save_word="Record it",
        said=lambda _values: CAUTION,
    )


def _check_hours(field: str) -> Any:
    def check(written: Any, _values: Values) -> None:
        if written:
            read_hours(str(written), field)

    return check


def _hours(values: Values, field: str) -> int | None:
    written = values.get(field)
    return read_hours(str(written), field) if written else None


def _position(session: Any, engine: int, typed: str) -> int | None:
    if not typed:
        return None
    try:
        return position_named(session, engine, typed)
    except Refused as refused:
        raise FieldRefused("position", refused.reason, refused.remedy) from refused
