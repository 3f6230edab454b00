"""What the page of beliefs shows: for each family what is believed of its parts, and who says so.

Methods that take a job run on a worker and open their own session; the others are plain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from gui.job import Job
from gui.shown import Column, Empty, Row
from gui.signs import sign
from gui.sitting import Sitting
from gui.views.belief_forms import belief_form, figure, percent_figure, withdraw_belief_form
from gui.views.form_plan import FormPlan
from gui.views.listing import ListDeed, Listing
from gui.views.meter_fields import hours_figure
from invdb.acts.beliefs import BUILT_IN, Belief, beliefs
from invdb.acts.offers import families
from invdb.rules.told import counted, stopped
from invdb.terms import Refused

OWN, BUILT = "the shop's own", "comes with the program"
# What stands for all families that have none of their own.
OTHERS = 0
HUNDREDTHS_IN_1000_H = 100_000


@dataclass(frozen=True)
class FamilyBelief:
    """What counts for a family; ``own``: it has its own, else what holds for all others counts."""

    key: int
    name: str
    belief: Belief
    own: bool


class BeliefsPresenter(Listing):
    """Holds the beliefs as they were read; knows no Tk."""

    name = "part beliefs"
    heading = "What is believed before our own record speaks"
    one, many = "family", "families"
    columns = (
        Column("family", "Family", 200),
        Column("whose", "Whose", 204),
        Column("rejected", "Rejected", 76, right=True),
        Column("weight", "as if of", 66, right=True),
        Column("concentration", "Alike", 56, right=True),
        Column("failures", "Failures in 1000 h", 124, right=True),
        Column("good", "Come back good", 112, right=True),
        Column("good_weight", "as if of", 66, right=True),
        Column("source", "Who says so", 170),
    )
    empty = Empty(
        "Here stands what is believed of each family of parts.",
        "It is said how many are rejected, fail and come back good while our own record is short.",
    )

    def __init__(self, sitting: Sitting) -> None:
        self._sitting = sitting
        self.listed: tuple[FamilyBelief, ...] = ()

    def read(self, job: Job) -> tuple[FamilyBelief, ...]:
        """What holds for all others first, then every family by its letters."""
        with self._sitting.reading(job) as session:
            every, offered = beliefs(session), families(session)
        found = [FamilyBelief(OTHERS, BUILT_IN.family_name, every.others, not every.others.built_in)]
        for family in offered:
            belief = every.of(family.id)
            own = belief.family == family.id
            found.append(FamilyBelief(family.id, f"{family.letters} {family.name}", belief, own))
        return tuple(found)

    def take(self, read: tuple[FamilyBelief, ...]) -> None:
        """Hold what was read."""
        self.listed = read

    def rows(self) -> list[Row]:
        """A row for each."""
        return [_row(each) for each in self.listed]

    def told(self) -> str:
        """How many families have a belief of their own."""
        own = sum(each.own for each in self.listed if each.key != OTHERS)
        others = next((each for each in self.listed if each.key == OTHERS), None)
        if others is None:
            return ""
        whose = "that the shop has set" if others.own else "that comes with the program"
        if not own:
            return f"No family has a belief of its own: all go by the one {whose}."
        has = counted(own, "family has a belief of its own", "families have beliefs of their own")
        return f"{has}; the others go by the one {whose}."

    def said_of(self, key: int) -> str:
        """All that is believed of a family, in words."""
        each = self._find(key)
        if each is None:
            return ""
        belief = each.belief
        rejected, good = percent_figure(belief.reject_mean), percent_figure(belief.yield_mean)
        said = (
            f"{each.name}: {rejected} % of those looked at are rejected, believed as if"
            f" {figure(belief.reject_weight)} had been looked at; {figure(belief.failures)} failures in"
            f" {hours_figure(belief.failure_hours)} h of a piece's running; {good} % of those sent for work"
            f" come back good, as if {figure(belief.yield_weight)} had come back."
        )
        if not each.own and key != OTHERS:
            said += " It has none of its own: what holds for all others counts."
        return f"{said}\n{_source(belief)}"

    def deeds(self, keys: Sequence[int]) -> list[ListDeed]:
        """Set what is believed, and where the shop has set it, take it back."""
        each = self._find(keys[0]) if len(keys) == 1 else None
        deeds = [
            ListDeed("Believe", "F4", "Set what is believed of this family", lambda _job: self.set_plan(keys))
        ]
        if each is not None and each.own:
            hint = "Take back what the shop has set, and why"
            deeds.append(ListDeed("Withdraw", "Del", hint, lambda _job: self.withdraw_plan(keys)))
        return deeds

    def set_plan(self, keys: Sequence[int]) -> FormPlan:
        """The form to set what is believed of the chosen family."""
        each = self._one(keys)
        begun = each.belief
        if not each.own and each.key != OTHERS:
            begun = replace(begun, id=None, family=each.key, family_name=each.name)
        return belief_form(self._sitting, begun)

    def withdraw_plan(self, keys: Sequence[int]) -> FormPlan:
        """The form to take back what the shop believes of the chosen family."""
        each = self._one(keys)
        if not each.own:
            raise Refused(f"Nothing of its own is believed of {each.name}.", "There is nothing to withdraw.")
        instead = "What comes with the program" if each.key == OTHERS else "What holds for all others"
        return withdraw_belief_form(self._sitting, each.belief, instead)

    def _one(self, keys: Sequence[int]) -> FamilyBelief:
        each = self._find(keys[0]) if len(keys) == 1 else None
        if each is None:
            raise Refused("No family is chosen, or several are.", "Choose one in the list.")
        return each

    def _find(self, key: int) -> FamilyBelief | None:
        return next((each for each in self.listed if each.key == key), None)


def _source(belief: Belief) -> str:
    if belief.built_in:
        return f"{sign(BUILT).mark} It {stopped(belief.source)}"
    return f"{sign(OWN).mark} Who says so: {stopped(belief.source)}"


def _row(each: FamilyBelief) -> Row:
    belief = each.belief
    state = OWN if each.own else BUILT
    stands_for_itself = each.own or each.key == OTHERS
    cells = (
        each.name,
        sign(state).text if stands_for_itself else "as all others",
        f"{percent_figure(belief.reject_mean)} %",
        figure(belief.reject_weight),
        figure(belief.concentration),
        f"{float(belief.failures) / belief.failure_hours * HUNDREDTHS_IN_1000_H:.3g}",
        f"{percent_figure(belief.yield_mean)} %",
        figure(belief.yield_weight),
        belief.source if stands_for_itself else "",
    )
    return Row(each.key, cells, state)
