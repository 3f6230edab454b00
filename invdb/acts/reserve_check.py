"""Whether what an order takes may still be taken, judged again under the lock."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.kit_facts import (
    Catalogue,
    EngineFacts,
    Held,
    LineFacts,
    PositionFacts,
    asking,
    offered_at,
)
from invdb.acts.kit_suits import At, KitSuits
from invdb.acts.numbers import Thing
from invdb.acts.things import ThingState, Whereabouts
from invdb.records.people import Person
from invdb.records.stock import Pull
from invdb.rules.availability import bars
from invdb.rules.pulling import Option, units_filled
from invdb.rules.quantities import quantity_words
from invdb.terms import FieldRefused, Refused


@dataclass(frozen=True)
class Take:
    """A thing to set aside for a kit line, from where it lies; ``quantity`` in the smallest unit."""

    kit_line: int
    thing: Thing
    place: int
    quantity: int
    why: str = ""


class ReserveCheck:
    """Judges what one order takes, thing by thing.

    ``free`` is what is left of each thing at each place, in the smallest unit; it is shared by the orders of
    one entry, and what is taken is counted off it. ``held`` is what open pulls have for the position already.
    """

    def __init__(
        self,
        session: Session,
        catalogue: Catalogue,
        engine: EngineFacts,
        position: PositionFacts,
        states: Mapping[Thing, ThingState],
        free: dict[tuple[Thing, int], int],
        held: Sequence[Held],
        suits: KitSuits,
    ) -> None:
        self._session = session
        self.engine = engine
        self.position = position
        self.states = states
        self._free = free
        self._catalogue = catalogue
        self.lines = {line.id: line for line in catalogue.lines_for(engine, position)}
        self._amounts: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
        self._pulls: dict[int, str] = {}
        self._ranges: dict[tuple[int, int, str], int] = defaultdict(int)
        self._suits = suits
        self._group = (engine.engine_type, position.group)
        self._together: list[At] = [(each.station, states[each.thing]) for each in held]
        for each in held:
            self._amounts[each.kit_line][each.part] += each.reserved + each.issued
            self._pulls[each.kit_line] = each.pull_number

    def line(self, kit_line: int) -> LineFacts:
        """The kit line, if it holds for this engine and position."""
        if kit_line not in self.lines:
            raise Refused(
                f"That kit line does not hold for {self.engine.name}, {self.position.name}.",
                "Propose the kit again.",
            )
        return self.lines[kit_line]

    def options(self, line: LineFacts) -> list[Option]:
        """What may fill a line here."""
        return self._catalogue.options_for(line.part, self.engine, self.position)

    def take(self, take: Take) -> tuple[LineFacts, ThingState, Option]:
        """Judge one take and count it; Refused with the bar, or with who was first."""
        line = self.line(take.kit_line)
        state = self.states[take.thing]
        options = self.options(line)
        option = next((each for each in options if state.part in {part for part, _ in each.members}), None)
        if option is None:
            raise Refused(
                f"{state.tag} is {state.part_number}, which may not stand in for {line.part_number} here.",
                "Propose the kit again.",
            )
        where = next((each for each in state.where if each.place == take.place), None)
        if where is None:
            raise Refused(f"{state.tag} was moved meanwhile.", "Propose the kit again.")
        if take.quantity <= 0:
            raise FieldRefused(
                "quantity", f"A quantity of {take.quantity} is nothing to reserve.", "Take more."
            )
        self._refuse_bars(line, state, where, take.quantity)
        self._refuse_unsuited(line, state)
        self._free[take.thing, take.place] -= take.quantity
        self._together.append((line.station, state))
        if self._suits.suiting(self._group).selecting(line.station) is not None:
            self._refuse_beyond_range(line, state, take.quantity)
            return line, state, option
        amounts = self._amounts[line.id]
        before = units_filled(options, amounts)
        amounts[state.part] += take.quantity
        if before >= line.quantity or units_filled(options, amounts) > line.quantity:
            pull = self._pulls.get(line.id)
            raise Refused(
                f"{line.station} would get more than its kit line asks for"
                f"{f', with what pull {pull} has for it' if pull else ''}.",
                "Propose the kit again.",
            )
        return line, state, option

    def _refuse_unsuited(self, line: LineFacts, state: ThingState) -> None:
        """Refuse what doesn't suit the rest of the kit, as that stands now, by fit, size or finish."""
        said = self._suits.bars(self._group, (line.station, state), self._together)
        if said:
            raise Refused(
                f"{state.tag} doesn't suit the rest of the kit: {'; '.join(bar.words for bar in said)}.",
                "Propose the kit again.",
            )

    def _refuse_beyond_range(self, line: LineFacts, state: ThingState, quantity: int) -> None:
        """Of what is selected on assembly each thickness is issued once over, and nothing twice."""
        self._ranges[line.id, state.part, state.size_class] += quantity
        most = line.quantity * max(
            each for option in self.options(line) for part, each in option.members if part == state.part
        )
        if self._pulls.get(line.id) or self._ranges[line.id, state.part, state.size_class] > most:
            raise Refused(
                f"{line.station} would get more of {state.part_number} than the range that is issued.",
                "Propose the kit again.",
            )

    def _refuse_bars(self, line: LineFacts, state: ThingState, where: Whereabouts, quantity: int) -> None:
        free = self._free[state.thing, where.place]
        if free < quantity and state.reserved_for:
            number = state.reserved_for[0]
            who = self._session.scalar(
                select(Person.name).join(Pull, Pull.asked_by == Person.id).where(Pull.number == number)
            )
            raise Refused(
                f"{state.tag} is reserved for pull {number} by {who}.",
                "Propose the kit again: they were first.",
            )
        said = bars(offered_at(state, where), asking(self.engine, line.renewed_always))
        if said:
            raise Refused(f"{state.tag} can't be taken: {'; '.join(said)}.", "Propose the kit again.")
        if free < quantity:
            raise Refused(
                f"{quantity_words(max(free, 0), state.measure)} of {state.tag} in {where.name} are free.",
                "Propose the kit again.",
            )
