"""Say that pieces go back together, or need no more."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, named, titled
from gui.views.form_plan import FormPlan
from gui.views.searches import search_for
from invdb.acts.matched import MatchedFacts, NewMatch, end_match, match_pieces
from invdb.acts.things import ThingState
from invdb.terms import MatchedAs

KINDS = (
    Choice(MatchedAs.SET, "a matched set: they must go together"),
    Choice(MatchedAs.MATES, "mates: they ran together, and should"),
)


def match_form(sitting: Sitting, stock: Sequence[ThingState]) -> FormPlan:
    """The form to match these pieces, and others that are named in it."""

    def act(job: Job, values: dict[str, Any]) -> int:
        pieces = [state.thing.piece for state in stock if state.thing.piece is not None]
        pieces += [row["piece"] for row in values["others"] if row["piece"] not in pieces]
        match = NewMatch(values["kind"], values["name"], values["why"], tuple(pieces))
        with sitting.store.writing() as session:
            made = match_pieces(session, match, sitting.by(values["happened_on"]))
            job.commit_begins()
        return made

    piece = Field("piece", "Together with", FieldKind.FIND, find=search_for(sitting, ("piece",)))
    return FormPlan(
        title=titled("Match", stock),
        fields=(
            Field("others", "Together with", FieldKind.ROWS, needed=len(stock) == 1, columns=(piece,),
                  hint="The other pieces, by tag"),
            Field("kind", "They are", FieldKind.CHOICE, needed=True, choices=KINDS),
            Field("why", "Why", needed=True, hint="Such as: lapped together; cap line-bored with its rod"),
            Field("name", "Called", hint="Empty for their tags"),
            day_field(sitting, "Since"),
        ),
        act=act,
        told=lambda _made: f"{named(stock)} and what was named with it go together from now on.",
        save_word="Match them",
    )  # fmt: skip


def end_match_form(sitting: Sitting, piece: ThingState, sets: Sequence[MatchedFacts]) -> FormPlan:
    """The form to say that one of the sets that a piece is in holds no more."""
    piece_id = piece.thing.piece or 0

    def act(job: Job, values: dict[str, Any]) -> int:
        with sitting.store.writing() as session:
            entry = end_match(session, values["set"], values["because"], sitting.by(values["happened_on"]))
            job.commit_begins()
        return entry

    words = {each.id: f"{each.kind} with {each.others(piece_id)}: {each.why}" for each in sets}
    return FormPlan(
        title=titled("End a match of", (piece,)),
        fields=(
            Field("set", "Which", FieldKind.CHOICE, needed=True,
                  start=sets[0].id if len(sets) == 1 else None,
                  choices=tuple(Choice(each, said) for each, said in words.items())),
            Field("because", "Why", FieldKind.LINES, needed=True, hint="What was done to one of them"),
            day_field(sitting, "Ended on"),
        ),
        act=act,
        told=lambda entry: f"{piece.tag} need not go with the others any more (entry {entry}).",
        save_word="End it",
    )  # fmt: skip
