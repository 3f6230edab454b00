"""The kit sheet of pulls that stand: what each line was given, and how far that has come."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gui.shown import Row
from gui.signs import sign
from gui.views.kit_fits import mark_at, told_at, worst_of
from gui.views.kit_sheet_presenter import (
    Block,
    KitBlock,
    RowKey,
    Sheet,
    bare_figure,
    good_for,
    hours_cell,
    papers_cell,
)
from invdb.acts.pick_list import PulledLine, PullSummary
from invdb.acts.proposed import FitShown
from invdb.acts.things import ThingState
from invdb.rules.life import prior_hours_words
from invdb.rules.quantities import quantity_words


@dataclass(frozen=True)
class PulledKit:
    """A pull that stands, its lines, the state of each thing in it by its tag, and how they fit together."""

    summary: PullSummary
    lines: tuple[PulledLine, ...]
    states: dict[str, ThingState]
    fits: tuple[FitShown, ...] = ()

    @property
    def set_aside(self) -> tuple[PulledLine, ...]:
        """The lines of which something waits to be issued."""
        return tuple(line for line in self.lines if line.reserved)

    @property
    def out(self) -> tuple[PulledLine, ...]:
        """The lines of which something was issued and has not come back."""
        return tuple(line for line in self.lines if line.issued > line.returned)


def sheet_of_pulls(pulled: Sequence[PulledKit]) -> Sheet:
    """The sheet of one pull that stands, or of several that were reserved together."""
    blocks = tuple(_pull_block(at, each) for at, each in enumerate(pulled))
    numbers = [each.summary.number for each in pulled]
    if len(pulled) == 1:
        (one,) = pulled
        title = f"Pull {one.summary.number}: {one.summary.engine}, {one.summary.position}"
        remark = f"Asked for by {one.summary.asked_by} on {one.summary.asked_on.isoformat()}"
        signs = [str(one.summary.state)]
    else:
        title = f"{len(pulled)} pulls reserved together"
        remark = f"Pulls {', '.join(numbers)}"
        signs = list(dict.fromkeys(str(each.summary.state) for each in pulled))
    if any(each.summary.short for each in pulled):
        signs.append("short")
    fits = worst_of(fit for each in pulled for fit in each.fits)
    return Sheet(title, tuple(signs), f"{remark}.", blocks, fits)


def _pull_block(at: int, pulled: PulledKit) -> KitBlock:
    summary = pulled.summary
    state = sign(summary.state)
    name = f"{summary.number}: {summary.engine}, {summary.position}"
    short = f", {summary.short} short" if summary.short else ""
    heading = Row(RowKey(at), (name, *[""] * 7, f"{state.text}{short}"), state.word)
    return KitBlock(heading, tuple(_pulled_block(at, line, pulled) for line in pulled.lines))


def _pulled_block(at: int, line: PulledLine, pulled: PulledKit) -> Block:
    key = RowKey(at, line.pull_line)
    quantity = quantity_words(line.quantity, line.measure)
    part = f"{line.part_number} {line.part_name}"
    if not line.tag:
        why = line.why or "none here"
        cells = (line.station, "", bare_figure(quantity), *[""] * 5, f"{sign('short').text}: {why}")
        said = f"{line.station}: waits for {quantity} of {part}. {why}."
        return Block((Row(key, cells, "short"),), said, f"{sign('short').mark} {said}")
    state = pulled.states[line.tag]
    word, come_to = _come_to(line)
    authority = f", by {line.authority}" if line.authority else ""
    alternate = f"; {line.why}{authority}" if line.authority else ""
    cells = (
        line.station,
        line.tag,
        bare_figure(quantity),
        _lies(line, state),
        good_for(state.condition, state.scope or ""),
        hours_cell(prior_hours_words(state.run_hours)) if state.run_hours is not None else "",
        papers_cell(state.papers),
        mark_at(line.station, pulled.fits),
        f"{sign(word).mark} {come_to}{alternate}",
    )
    said = f"{line.station}: {quantity} of {line.tag} {part}, {line.why}{authority}; {come_to}."
    if line.taken_from_name:
        said += f" Taken from {line.taken_from_name}."
    said = " ".join((said, *told_at(line.station, pulled.fits)))
    noted = f"{sign('with alternate').mark} {said}" if line.authority else ""
    return Block((Row(key, cells, word),), said, noted)


def _lies(line: PulledLine, state: ThingState) -> str:
    if line.reserved and len(state.where) == 1:
        return state.where[0].name
    return line.taken_from_name if line.reserved else ""


def _come_to(line: PulledLine) -> tuple[str, str]:
    """The sign of what became of a pull's line, and in words how much is where."""
    figures = (
        ("reserved", line.reserved),
        ("issued", line.issued - line.returned),
        ("fitted", line.fitted),
        ("returned", line.returned - line.fitted),
    )
    told = [(word, amount) for word, amount in figures if amount]
    if not told:
        return "cancelled", "let go of"
    if len(told) == 1:
        return told[0][0], told[0][0]
    words = ", ".join(f"{quantity_words(amount, line.measure)} {word}" for word, amount in told)
    return ("part issued" if line.reserved else told[0][0]), words
