"""Make a piece another part, or another size or finish of the same, on an authority."""

from __future__ import annotations

from typing import Any

from gui.job import Job
from gui.shown import Field, FieldKind, Hit
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, titled
from gui.views.form_plan import FormPlan
from gui.views.searches import search_for
from invdb.acts.reidentify import NewIdentity, reidentify
from invdb.acts.things import ThingState


def identity_form(sitting: Sitting, piece: ThingState, sizes: tuple[str, ...]) -> FormPlan:
    """The form for one piece; ``sizes`` are those of the part that it is now, '' for standard."""
    piece_id = piece.thing.piece
    assert piece_id is not None, "only a piece becomes another part"

    def act(job: Job, values: dict[str, Any]) -> int:
        identity = NewIdentity(
            piece_id,
            values["part"],
            values["authority"],
            values["what_was_done"],
            values["size_class"],
            values["finish"],
            values["document"],
        )
        with sitting.store.writing() as session:
            made = reidentify(session, identity, sitting.by(values["happened_on"]))
            job.commit_begins()
        return made

    known = ", ".join(size for size in sizes if size)
    sizes_hint = f"Of this part: {known}. " if known else ""
    now = ", ".join(part for part in (piece.size_class or "standard size", piece.finish) if part)
    return FormPlan(
        title=titled("Re-identify", (piece,)),
        fields=(
            Field("part", "It is now", FieldKind.FIND, needed=True, find=search_for(sitting, ("part",)),
                  start=Hit(piece.part_number, piece.part_name, "part", piece.part)),
            Field("size_class", "Size", hint=f"{sizes_hint}Empty for standard"),
            Field("finish", "Finish", hint="Such as plated or nitrided; empty for the part's own"),
            Field("authority", "Authority", needed=True,
                  hint="The drawing, repair scheme or letter that makes it so"),
            Field("document", "Its paper", FieldKind.FIND, find=search_for(sitting, ("document",))),
            Field("what_was_done", "What was done", FieldKind.LINES, needed=True),
            day_field(sitting, "Done on"),
        ),
        act=act,
        told=lambda _made: f"{piece.tag} has its new identity, and is to be inspected.",
        save_word="Re-identify it",
        said=lambda _values: (
            f"It is {piece.part_number} {piece.part_name} ({now}) and keeps its tag and the life it has used."
            " It becomes uninspected, and what it was matched with is free."
        ),
    )  # fmt: skip
