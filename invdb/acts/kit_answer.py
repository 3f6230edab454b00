"""The answer of a kit choice in the store's words: what was chosen and why, how it fits, near misses."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from fractions import Fraction

from invdb.acts.kit_facts import LineFacts, asking, offered_at
from invdb.acts.kit_pool import need_key, source_key
from invdb.acts.kit_question import KitQuestion
from invdb.acts.kit_suits import At
from invdb.acts.proposed import Asked, Choice, KitLineProposal, KitProposal, Miss
from invdb.acts.things import ThingState, Whereabouts
from invdb.rules import kit_model
from invdb.rules.availability import bars
from invdb.rules.fits import Spread, selected_range
from invdb.rules.folding import FITTED_KINDS
from invdb.rules.life import prior_hours_words
from invdb.rules.pulling import Option
from invdb.rules.suiting import FitLine

MISSES_MAX = 5


class KitAnswer:
    """Kits as chosen; ``whom`` says for whom each pull is that has something."""

    def __init__(self, question: KitQuestion, kit: kit_model.Kit, whom: Mapping[str, str]) -> None:
        self._question = question
        self._whom = whom
        self._taken: dict[kit_model.Key, list[kit_model.Allocation]] = defaultdict(list)
        for allocation in kit.allocations:
            self._taken[allocation.need].append(allocation)
        self._short = {fill.need: fill.short for fill in kit.lines}
        self._chosen = {allocation.source for allocation in kit.allocations}
        # Of what is issued as a range, how much of each source is spoken for.
        self._issued: dict[str, int] = {}

    def kits(self) -> tuple[KitProposal, ...]:
        """The kits in the order in which they were asked for."""
        return tuple(self._kit(asked) for asked in self._question.lines)

    def _kit(self, asked: Asked) -> KitProposal:
        question = self._question
        group = question.group(asked)
        together = [*question.held_things(asked), *self._chosen_things(asked)]
        lines = []
        for line in question.lines[asked]:
            selecting = question.suits.suiting(group).selecting(line.station)
            if selecting is not None:
                lines.append(self._selected_line(asked, line, selecting, together))
            else:
                lines.append(self._line(asked, line, together))
        stations = [line.station for line in question.lines[asked]]
        in_order = sorted(together, key=lambda at: stations.index(at[0]) if at[0] in stations else -1)
        return KitProposal(
            question.engines[asked.engine],
            question.positions[asked],
            tuple(lines),
            question.suits.fits(group, in_order),
        )

    def _chosen_things(self, asked: Asked) -> Iterable[At]:
        for line in self._question.lines[asked]:
            for allocation in self._taken[need_key(asked, line.id)]:
                yield line.station, self._question.offers[str(allocation.source)][0]

    def _line(self, asked: Asked, line: LineFacts, together: Collection[At]) -> KitLineProposal:
        key = need_key(asked, line.id)
        choices = []
        for allocation in self._taken[key]:
            option = self._question.options[asked, line.id][allocation.option]
            state, where = self._question.offers[str(allocation.source)]
            at_home = self._question.home_line(state) == key
            choice = _choice(state, where, allocation.quantity, line, option, at_home)
            choices.append(replace(choice, why=f"{choice.why}{self._matched(state)}"))
        missing = self._short.get(key, 0)
        misses = self._misses(asked, line, together) if missing else ()
        return self._proposal(asked, line, tuple(choices), missing, misses)

    def _proposal(
        self,
        asked: Asked,
        line: LineFacts,
        choices: tuple[Choice, ...],
        missing: int,
        misses: tuple[Miss, ...],
        selected: str = "",
    ) -> KitLineProposal:
        return KitLineProposal(
            line.id,
            line.station,
            line.part,
            line.part_number,
            line.part_name,
            line.measure,
            line.quantity,
            line.renewed_always,
            line.note,
            self._question.held_for(asked, line),
            choices,
            missing,
            misses,
            selected,
        )

    def _selected_line(
        self, asked: Asked, line: LineFacts, fit: FitLine, together: Collection[At]
    ) -> KitLineProposal:
        """A line that is issued as a range: so many of each thickness that may prove right."""
        question = self._question
        if question.wanted(asked, line) <= 0:
            return self._proposal(asked, line, (), 0, ())
        gap = self._gap(fit, together)
        words = _range_words(fit, gap)
        choices: list[Choice] = []
        sizes: set[tuple[int, str]] = set()
        for option in question.options[asked, line.id]:
            for part, each in option.members:
                for state, where in question.open_offers(asked, line, part):
                    wanted = line.quantity * each
                    key, size = source_key(state, where), (part, state.size_class)
                    free = where.quantity - where.reserved - self._issued.get(key, 0)
                    if size in sizes or free < wanted or not self._serves(fit, gap, state):
                        continue
                    sizes.add(size)
                    self._issued[key] = self._issued.get(key, 0) + wanted
                    choice = _choice(state, where, wanted, line, option)
                    named = state.size_class or "standard"
                    choices.append(replace(choice, why=f"{named}: one of the range to select from"))
        missing = 0 if choices else line.quantity
        misses = self._misses(asked, line, together) if missing else ()
        return self._proposal(asked, line, tuple(choices), missing, misses, words)

    def _gap(self, fit: FitLine, together: Iterable[At]) -> Spread | None:
        """The gap that is to be filled: as measured of what was chosen or is held, else by its limits."""
        for station, state in together:
            if station == fit.outer.station:
                return self._question.suits.known(state).spread(fit.outer.name, fit.outer.point)
        return None

    def _serves(self, fit: FitLine, gap: Spread | None, state: ThingState) -> bool:
        """Whether a thickness may prove right; of a gap that nobody knows, every one may."""
        thickness = self._question.suits.known(state).spread(fit.inner.name, fit.inner.point)
        if gap is None or thickness is None:
            return True
        least, most = selected_range(fit.terms, gap)
        return thickness.high >= least and thickness.low <= most

    def _misses(self, asked: Asked, line: LineFacts, together: Collection[At]) -> tuple[Miss, ...]:
        """The nearest misses of a short line, those with the fewest bars first; last what is in engines."""
        question = self._question
        engine, position = question.engines[asked.engine], question.positions[asked]
        ask = asking(engine, line.renewed_always)
        unsuited = dict(question.catalogue.barred_stand_ins(line.part, engine, position))
        parts = [part for option in question.options[asked, line.id] for part, _ in option.members]
        found: list[tuple[bool, int, int, Miss]] = []
        for rank, part in enumerate(
            [*dict.fromkeys(parts), *(part for part in unsuited if part not in parts)]
        ):
            for state, where in question.pool.by_part.get(part, ()):
                offered = replace(
                    offered_at(state, where),
                    reserved_for=tuple(self._whom.get(number, number) for number in state.reserved_for),
                    pull=self._whom.get(where.pull, where.pull),
                )
                said = list(bars(offered, ask))
                if part in unsuited and part not in parts:
                    said.append(f"unsuited: {unsuited[part]}")
                others = [at for at in together if at[0] != line.station]
                suited = question.suits.bars(question.group(asked), (line.station, state), others)
                said += [bar.words for bar in suited]
                said += self._parted(asked, state, together)
                if not said and source_key(state, where) in self._chosen:
                    said = ["chosen for another line of this proposal"]
                if not said and question.is_weighed(asked, line):
                    said = ["its mass, or that of what goes with it, is beyond the allowed spread"]
                if not said:
                    said = ["not enough of it to fill the line"]
                miss = Miss(state.tag, state.part_number, where.firm or where.name, tuple(said))
                found.append((where.kind in FITTED_KINDS, len(said), rank, miss))
        found.sort(key=lambda each: each[:3])
        return tuple(miss for *_, miss in found[:MISSES_MAX])

    def _matched(self, state: ThingState) -> str:
        """``; goes with T00012-K: lapped together``, of a member of a matched set."""
        piece = state.thing.piece or 0
        each = self._question.sets.get(piece)
        return "" if each is None else f"; goes with {each.others(piece)}: {each.why}"

    def _parted(self, asked: Asked, state: ThingState, together: Collection[At]) -> list[str]:
        """That a piece would go without the rest of its matched set."""
        question = self._question
        each = question.sets.get(state.thing.piece or 0)
        if each is None:
            return []
        here = {thing.thing.piece for _, thing in together}
        throw = question.throw(asked)
        others = [
            tag
            for piece, tag in each.members
            if piece not in here and piece != state.thing.piece and question.there.get(piece) != throw
        ]
        return [f"goes only with {', '.join(others)}: {each.why}"] if others else []


def _range_words(fit: FitLine, gap: Spread | None) -> str:
    """What is to be selected: of a measured gap its thickness, else the range that may prove right."""
    if gap is None:
        return "to be selected on assembly; the gap is not known, so measure it first"
    least, most = (_words(end, fit) for end in selected_range(fit.terms, gap))
    if gap.measured:
        return f"select {least} to {most} for the measured gap; return the rest"
    return f"select on assembly from {least} to {most}; measure the gap, and return the rest"


def _words(value: Fraction, fit: FitLine) -> str:
    return fit.terms.said(value)


def _choice(
    state: ThingState,
    where: Whereabouts,
    quantity: int,
    line: LineFacts,
    option: Option,
    at_home: bool = False,
) -> Choice:
    if not option.authority:
        why = "ran here before" if at_home else "the part itself"
    elif len(option.members) > 1:
        why = f"one of a set standing in for {line.part_number}"
    else:
        why = f"stands in for {line.part_number}"
    return Choice(
        thing=state.thing,
        tag=state.tag,
        serial=state.serial,
        part=state.part,
        part_number=state.part_number,
        part_name=state.part_name,
        place=where.place,
        bin=where.name,
        walking_order=where.walking_order,
        quantity=quantity,
        condition=str(state.condition),
        scope=str(state.scope or ""),
        papers=state.papers,
        hours=prior_hours_words(state.run_hours) if state.run_hours is not None else "",
        why=why,
        authority=option.authority,
    )
