"""What a kit sheet says: one row a station, what it waits for, and what bars the nearest misses.

A sheet is of proposals, or of pulls that stand. Its rows are made once and then filtered and sorted as plain
values: what belongs to one station stays together, and each kit under its own heading.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from gui.shown import Column, Page, Row, Sort
from gui.signs import sign
from invdb.acts.pick_list import PulledLine, PullSummary
from invdb.acts.propose import Choice, KitLineProposal, KitProposal, Proposal
from invdb.acts.things import ThingState
from invdb.rules.effectivity import serial_key
from invdb.rules.life import prior_hours_words
from invdb.rules.quantities import quantity_words

FITS_NOT_CHECKED = "Fits not checked"
NONE_HERE = "none of it is here, and nothing that may stand in for it"

COLUMNS = (
    Column("station", "Station", 150),
    Column("tag", "Tag", 84),
    Column("quantity", "Of it", 52, right=True),
    Column("bin", "Bin", 84),
    Column("condition", "Condition", 108),
    Column("hours", "Hours", 62, right=True),
    Column("papers", "Papers", 72),
    Column("why", "Why", 280),
)

_SIGN_OF_BAR = (
    ("out for work", "out for work"),
    ("in quarantine", "in quarantine"),
    ("on hold", "on hold"),
    ("belongs to", "someone else's"),
    ("accepted for ground running", "ground running only"),
    ("accepted for display", "display only"),
    ("reserved for", "reserved"),
    ("issued for", "issued"),
    ("fitted in", "fitted"),
    ("on the bench", "on the bench"),
    ("life expired", "expired"),
    ("shelf life ended", "expired"),
    ("uninspected", "uninspected"),
    ("unserviceable", "unserviceable"),
    ("unsalvageable", "unsalvageable"),
    ("unsuited", "unsuited"),
)


@dataclass(frozen=True)
class RowKey:
    """Which row of a sheet: of which kit (counted from 0), and of which line of it, if of any.

    ``line`` is a kit line of a proposal or a line of a pull; ``nth`` counts what stands in one line's rows.
    """

    kit: int
    line: int | None = None
    nth: int = 0


@dataclass(frozen=True)
class Block:
    """Rows that stay together, such as a station with its near misses, and all that is to be said of it."""

    rows: tuple[Row, ...]
    said: str


@dataclass(frozen=True)
class KitBlock:
    """One kit of a sheet: its heading, by which sign it goes, and its stations."""

    heading: Row
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class PulledKit:
    """A pull that stands, its lines, and the state of each thing in it by its tag."""

    summary: PullSummary
    lines: tuple[PulledLine, ...]
    states: dict[str, ThingState]

    @property
    def set_aside(self) -> tuple[PulledLine, ...]:
        """The lines of which something waits to be issued."""
        return tuple(line for line in self.lines if line.reserved)

    @property
    def out(self) -> tuple[PulledLine, ...]:
        """The lines of which something was issued and has not come back."""
        return tuple(line for line in self.lines if line.issued > line.returned)


@dataclass(frozen=True)
class Sheet:
    """All that a kit sheet shows. ``signs`` are the words of the signs that stand beside the title."""

    title: str
    signs: tuple[str, ...]
    remark: str
    kits: tuple[KitBlock, ...]

    def rows(self, sort: Sort | None, words: str) -> list[Row]:
        """The rows that have all the words, with their kit's heading where there are several kits."""
        wanted = words.casefold().split()
        found: list[Row] = []
        for kit in self.kits:
            blocks = [block for block in kit.blocks if _has(block, kit.heading, wanted)]
            if sort is not None:
                blocks = _sorted(blocks, sort)
            if len(self.kits) > 1 and (blocks or not wanted):
                found.append(kit.heading)
            found += [row for block in blocks for row in block.rows]
        return found

    def page(self, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        """Some of those rows, for a list."""
        fitting = self.rows(sort, words)
        total = len(self.rows(None, "")) if words else len(fitting)
        return Page(tuple(fitting[offset : offset + limit]), len(fitting), total)

    def said_of(self, key: RowKey) -> str:
        """All that is to be said of the station of that row, in full."""
        kit = self.kits[key.kit]
        if key.line is None:
            return "  ".join(cell for cell in kit.heading.cells if cell)
        for block in kit.blocks:
            if block.rows[0].key.line == key.line and any(row.key == key for row in block.rows):
                return block.said
        return ""


EMPTY_SHEET = Sheet("", (), "", ())


def sheet_of_proposal(proposal: Proposal) -> Sheet:
    """The sheet of one proposed kit, or of several proposed together."""
    kits = proposal.kits
    if len(kits) == 1:
        title = kit_name(kits[0])
        state = str(kits[0].state)
        counted = f"{kits[0].lines_filled} of {len(kits[0].lines)} lines"
    else:
        title = f"{len(kits)} kits proposed together"
        complete = sum(kit.complete for kit in kits)
        state = "complete" if complete == len(kits) else "short"
        counted = f"{complete} of {len(kits)} kits complete"
    best = "no better choice exists" if proposal.proven else "the best found in time, perhaps not the best"
    holds = [f"{kit.engine.name} is on hold: {reason}" for kit in kits for reason in kit.engine.holds]
    remark = ". ".join([f"{counted}; {best}", *dict.fromkeys(holds), f"{FITS_NOT_CHECKED}."])
    signs = (state, *(["on hold"] if holds else []))
    return Sheet(title, signs, remark, tuple(_kit_block(at, kit) for at, kit in enumerate(kits)))


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
    return Sheet(title, tuple(signs), f"{remark}. {FITS_NOT_CHECKED}.", blocks)


def kit_name(kit: KitProposal) -> str:
    """``Linnet 117, cylinder 4``."""
    return f"{kit.engine.name}, {kit.position.group} {kit.position.name}"


def sign_of_bar(bar: str) -> str:
    """The word of the sign that goes with what bars a thing."""
    return next((word for begins, word in _SIGN_OF_BAR if bar.startswith(begins)), "blocked")


def _kit_block(at: int, kit: KitProposal) -> KitBlock:
    state = sign(kit.state)
    heading = Row(
        RowKey(at),
        (kit_name(kit), "", f"{kit.lines_filled}/{len(kit.lines)}", "", state.text, "", "", ""),
        state.word,
    )
    return KitBlock(heading, tuple(_line_block(at, line) for line in kit.lines))


def _line_block(at: int, line: KitLineProposal) -> Block:
    rows: list[Row] = []
    said: list[str] = []

    def add(cells: tuple[str, ...], word: str) -> None:
        shown = cells if not rows else ("", *cells[1:])
        rows.append(Row(RowKey(at, line.kit_line, len(rows)), shown, word))

    for held in line.held:
        for amount, word in ((held.reserved, "reserved"), (held.issued, "issued")):
            if amount:
                figure = quantity_words(amount, line.measure)
                why = f"{sign(word).text} for pull {held.pull_number}"
                add((line.station, held.tag, _figure(figure), "", "", "", "", why), word)
                said.append(f"{figure} of {held.tag} {held.part_number} {word} for pull {held.pull_number}.")
    for choice in line.choices:
        word = "with alternate" if choice.authority else "complete"
        add(_choice_cells(line, choice, word), word)
        said.append(_choice_said(line, choice))
    if line.missing:
        _add_lack(line, add, said)
    quantity = quantity_words(line.quantity, line.measure)
    wanted = f"{line.station}: {quantity} of {line.part_number} {line.part_name}."
    notes = ["Always renewed: unused stock only." if line.renewed_always else "", line.note]
    return Block(tuple(rows), " ".join(part for part in (wanted, *said, *notes) if part))


def _add_lack(line: KitLineProposal, add, said: list[str]) -> None:  # type: ignore[no-untyped-def]
    missing = quantity_words(line.missing, line.measure)
    waits = f"{sign('short').text} of {missing}: {line.part_number} {line.part_name}"
    add((line.station, "", _figure(missing), "", "", "", "", waits), "short")
    said.append(f"Waits for {missing}; {'the nearest are listed' if line.misses else NONE_HERE}.")
    for miss in line.misses:
        word = sign_of_bar(miss.bars[0])
        why = f"{sign(word).mark} {'; '.join(miss.bars)}"
        add(("", miss.tag, "", miss.where, "", "", "", why), word)
        said.append(f"{miss.tag} ({miss.part_number}) at {miss.where}: {'; '.join(miss.bars)}.")


def _choice_cells(line: KitLineProposal, choice: Choice, word: str) -> tuple[str, ...]:
    authority = f", by {choice.authority}" if choice.authority else ""
    return (
        line.station,
        choice.tag,
        _figure(quantity_words(choice.quantity, line.measure)),
        choice.bin,
        sign(choice.condition).text,
        _figure(choice.hours),
        papers_cell(choice.papers),
        f"{sign(word).mark} {choice.why}{authority}",
    )


def _choice_said(line: KitLineProposal, choice: Choice) -> str:
    serial = f", serial {choice.serial}" if choice.serial else ""
    scope = f" for {choice.scope}" if choice.scope else ""
    facts = [f"{choice.condition}{scope}", choice.hours, papers_cell(choice.papers), f"in {choice.bin}"]
    authority = f", by {choice.authority}" if choice.authority else ""
    number = "" if choice.part == line.part else f" {choice.part_number} {choice.part_name}"
    return (
        f"{quantity_words(choice.quantity, line.measure)} of {choice.tag}{number}{serial}:"
        f" {', '.join(fact for fact in facts if fact)}; {choice.why}{authority}."
    )


def _pull_block(at: int, pulled: PulledKit) -> KitBlock:
    summary = pulled.summary
    state = sign(summary.state)
    held = summary.lines - summary.short
    heading = Row(
        RowKey(at),
        (
            f"{summary.number}: {summary.engine}, {summary.position}",
            "",
            f"{held}/{summary.lines}",
            "",
            state.text,
            "",
            "",
            "",
        ),
        state.word,
    )
    return KitBlock(heading, tuple(_pulled_block(at, line, pulled) for line in pulled.lines))


def _pulled_block(at: int, line: PulledLine, pulled: PulledKit) -> Block:
    key = RowKey(at, line.pull_line)
    quantity = quantity_words(line.quantity, line.measure)
    part = f"{line.part_number} {line.part_name}"
    if not line.tag:
        why = line.why or "none here"
        cells = (line.station, "", _figure(quantity), "", "", "", "", f"{sign('short').text}: {why}")
        return Block((Row(key, cells, "short"),), f"{line.station}: waits for {quantity} of {part}. {why}.")
    state = pulled.states[line.tag]
    word, come_to = _come_to(line)
    authority = f", by {line.authority}" if line.authority else ""
    alternate = f"; {line.why}{authority}" if line.authority else ""
    cells = (
        line.station,
        line.tag,
        _figure(quantity),
        _lies(line, state),
        sign(state.condition).text,
        _figure(prior_hours_words(state.prior_hours)) if state.prior_hours is not None else "",
        papers_cell(state.papers),
        f"{sign(word).mark} {come_to}{alternate}",
    )
    said = f"{line.station}: {quantity} of {line.tag} {part}, {line.why}{authority}; {come_to}."
    if line.taken_from_name:
        said += f" Taken from {line.taken_from_name}."
    return Block((Row(key, cells, word),), said)


def _lies(line: PulledLine, state: ThingState) -> str:
    if line.reserved and len(state.where) == 1:
        return state.where[0].name
    return line.taken_from_name if line.reserved else ""


def _come_to(line: PulledLine) -> tuple[str, str]:
    """The sign of what became of a pull's line, and in words how much is where."""
    figures = (
        ("reserved", line.reserved),
        ("issued", line.issued - line.returned),
        ("returned", line.returned),
    )
    told = [(word, amount) for word, amount in figures if amount]
    if not told:
        return "cancelled", "let go of"
    if len(told) == 1:
        return told[0][0], told[0][0]
    words = ", ".join(f"{quantity_words(amount, line.measure)} {word}" for word, amount in told)
    return ("part issued" if line.reserved else told[0][0]), words


def papers_cell(count: int) -> str:
    """``2 papers``, or the sign that there are none."""
    if count == 0:
        return sign("no papers").text
    return f"{count} paper{'s' if count > 1 else ''}"


def _figure(text: str) -> str:
    """The figure without the unit that a column of counts or hours need not repeat."""
    return text.removesuffix(" off").removesuffix(" h")


def _has(block: Block, heading: Row, words: Iterable[str]) -> bool:
    said = " ".join([block.said, heading.cells[0], *_cells(block.rows)]).casefold()
    return all(word in said for word in words)


def _cells(rows: Iterable[Row]) -> Iterator[str]:
    return (cell for row in rows for cell in row.cells)


def _sorted(blocks: Iterable[Block], sort: Sort) -> list[Block]:
    """By what stands in that column, in natural order; where nothing stands comes last, either way."""
    at = [column.name for column in COLUMNS].index(sort.column)
    told = [block for block in blocks if block.rows[0].cells[at]]
    silent = [block for block in blocks if not block.rows[0].cells[at]]

    def order(block: Block) -> tuple[object, str]:
        cell = block.rows[0].cells[at]
        return serial_key(cell), cell

    return sorted(told, key=order, reverse=sort.descending) + silent
