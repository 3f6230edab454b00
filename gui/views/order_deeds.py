"""What may be done with the rows of what binds an engine: comply, issue anew, withdraw, clear."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from gui.job import Job
from gui.shown import Deed
from gui.sitting import Sitting
from gui.views.comply_form import ToComply, comply_form
from gui.views.directive_form import directive_form
from gui.views.engine_orders import OrderKey, OrderKind, same_directive
from gui.views.form_plan import FormPlan
from gui.views.hold_form import clear_holds_form
from gui.views.withdraw_form import withdraw_form
from invdb.acts.concession import withdraw_concession
from invdb.acts.directive import withdraw_directive
from invdb.acts.directive_issue import standing_issue
from invdb.acts.hold import Subject
from invdb.acts.life_limit import withdraw_life_limit
from invdb.acts.life_reset import withdraw_life_reset

COMPLY_KEY = "Ctrl+O"
ISSUE_KEY = "Ctrl+J"
WITHDRAW_KEY = "Del"

Plan = Callable[[Job], FormPlan]


class OrderDeeds:
    """``open_form`` gets what makes a plan, on a worker, whose form is to be opened."""

    def __init__(self, sitting: Sitting, open_form: Callable[[Plan], None]) -> None:
        self._sitting, self._open_form = sitting, open_form

    def of(self, engine: int, keys: Sequence[OrderKey]) -> list[Deed]:
        """What fits these rows of an engine, what is meant most first."""
        if not keys:
            return []
        deeds: list[Deed] = []
        if same_directive(keys):
            comply = partial(self._comply, engine, tuple(keys))
            deeds.append(
                self._deed("Complied with", comply, COMPLY_KEY, "Record that it was complied with, and how")
            )
        if len(keys) == 1:
            deeds += self._of_one(keys[0])
        return deeds

    def _of_one(self, key: OrderKey) -> list[Deed]:
        if key.record is None:
            # A doubt is cleared where it is; the limit that is kept with the part itself in the catalogue.
            return []
        if key.kind is OrderKind.HOLD:
            return [self._deed("Clear hold", partial(self._clear, key), WITHDRAW_KEY, "Say what settled it")]
        deeds = [
            self._deed("Withdraw", partial(self._withdraw, key), WITHDRAW_KEY, "Say that it holds no more")
        ]
        if key.kind is OrderKind.DIRECTIVE:
            issue = partial(self._issue, key)
            hint = "Enter the issue that takes its place; what was done to this one does not count for that"
            deeds.insert(0, self._deed("New issue", issue, ISSUE_KEY, hint))
        return deeds

    def _deed(self, word: str, plan: Plan, key: str, hint: str) -> Deed:
        return Deed(f"{word} …", partial(self._open_form, plan), key, hint)

    def _comply(self, engine: int, keys: tuple[OrderKey, ...], _job: Job) -> FormPlan:
        first = keys[0]
        subjects = tuple(
            Subject(piece=key.piece) if key.piece is not None else Subject(engine=engine) for key in keys
        )
        assert first.record is not None, "a directive is on record"
        due = ToComply(first.record, first.name, subjects, "; ".join(key.on for key in keys))
        return comply_form(self._sitting, due)

    def _issue(self, key: OrderKey, job: Job) -> FormPlan:
        assert key.record is not None, "a directive is on record"
        with self._sitting.reading(job) as session:
            return directive_form(self._sitting, old=standing_issue(session, key.record))

    def _clear(self, key: OrderKey, _job: Job) -> FormPlan:
        assert key.record is not None, "a hold is on record"
        return clear_holds_form(self._sitting, f"Clear a hold: {key.on}", {key.record: key.name})

    def _withdraw(self, key: OrderKey, _job: Job) -> FormPlan:
        record = key.record
        assert record is not None, "only what is on record is withdrawn"
        act, follows = _WITHDRAWING[key.kind]

        return withdraw_form(
            self._sitting, key.name, lambda session, because, by: act(session, record, because, by), follows
        )


_WITHDRAWING: dict[OrderKind, tuple[Callable[..., int], str]] = {
    OrderKind.DIRECTIVE: (
        withdraw_directive,
        "It is due on nothing any more; what was done by it stays recorded.",
    ),
    OrderKind.CONCESSION: (
        withdraw_concession,
        "The limit that it set aside holds again, even for what is fitted.",
    ),
    OrderKind.OVERHAUL: (
        withdraw_life_reset,
        "The count since overhaul goes on from the overhaul before, or from new.",
    ),
    OrderKind.LIMIT: (
        withdraw_life_limit,
        "Lives are judged without it from that day on.",
    ),
}
