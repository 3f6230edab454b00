"""What a kit sheet says: one row a station, what it waits for, and what bars the nearest misses.

A sheet is of proposals, or of pulls that stand. Its rows are made once and then filtered and sorted as plain
values: what belongs to one station stays together, and each kit under its own heading.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from gui.shown import Column, Page, Row, Sort
from gui.signs import sign
from gui.views.kit_fits import best_words, counted, gained_words, mark_at, noted_at, told_at, worst_of
from invdb.acts.proposed import Choice, FitShown, KitLineProposal, KitProposal, Proposal
from invdb.rules.effectivity import serial_key
from invdb.rules.quantities import quantity_words

FITS_NOT_CHECKED = "Fits not checked"
FITS_TOLD = (
    "No fit of these pieces is on record, so their clearances are not worked out here: measure each fit and"
    " check it against the engine's own approved data"
)
FITS_RECKONED = (
    "The worst of the fits between these pieces, by their latest figures: check each as you assemble, against"
    " the engine's own approved data"
)
INDENT = "   "
NONE_HERE = "none of it is here, nor of what may stand in for it"

COLUMNS = (
    Column("station", "Station", 140),
    Column("tag", "Tag", 80),
    Column("quantity", "Qty", 40, right=True),
    Column("bin", "Bin", 64),
    Column("good_for", "Good for", 76),
    Column("hours", "Hours", 58, right=True),
    Column("papers", "Papers", 52, right=True),
    Column("fit", "Fit", 34),
    Column("why", "Why", 130),
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
    ("inside ", "event not cleared"),
    ("life expired", "expired"),
    ("life used is not known", "life unknown"),
    ("life-limited, and the limit is not recorded", "life unknown"),
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
    """Rows that stay together, such as a station with its near misses, and all that is to be said of it.

    ``noted`` is what should be read before anything is taken: what it waits for, or what stands in; or "".
    """

    rows: tuple[Row, ...]
    said: str
    noted: str = ""


@dataclass(frozen=True)
class KitBlock:
    """One kit of a sheet: its heading, by which sign it goes, and its stations."""

    heading: Row
    blocks: tuple[Block, ...]


@dataclass(frozen=True)
class Sheet:
    """All that a kit sheet shows. ``signs`` are the words of the signs that stand beside the title.

    ``fits`` is that of the worst fit between its pieces, "" where none is on record.
    """

    title: str
    signs: tuple[str, ...]
    remark: str
    kits: tuple[KitBlock, ...]
    fits: str = ""

    def rows(self, sort: Sort | None, words: str) -> list[Row]:
        """The rows that have all the words, with their kit's heading where there are several kits."""
        wanted = words.casefold().split()
        found: list[Row] = []
        for kit in self.kits:
            blocks = [block for block in kit.blocks if _has(block, kit.heading, wanted)]
            if sort is not None:
                blocks = _sorted(blocks, sort)
            rows = [row for block in blocks for row in block.rows]
            if len(self.kits) > 1 and (blocks or not wanted):
                found.append(kit.heading)
                rows = [replace(row, cells=(INDENT + row.cells[0], *row.cells[1:])) for row in rows]
            found += rows
        return found

    def digest(self, but_for: RowKey | None = None) -> str:
        """What should be read before anything is taken, a line each; of several kits, each named.

        ``but_for`` is a row whose station is told of already.
        """
        told = None if but_for is None else self._block_of(but_for)
        lines = []
        for kit in self.kits:
            noted = [block.noted for block in kit.blocks if block.noted and block is not told]
            named = f"{kit.heading.cells[0]}: " if len(self.kits) > 1 else ""
            lines += [named + note for note in noted]
        return "\n".join(lines)

    def page(self, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        """Some of those rows, for a list."""
        fitting = self.rows(sort, words)
        total = len(self.rows(None, "")) if words else len(fitting)
        return Page(tuple(fitting[offset : offset + limit]), len(fitting), total)

    def said_of(self, key: RowKey) -> str:
        """All that is to be said of the station of that row, in full; of a kit's heading, what it says."""
        block = self._block_of(key)
        if block is not None:
            return block.said
        return ": ".join(cell for cell in self.kits[key.kit].heading.cells if cell)

    def _block_of(self, key: RowKey) -> Block | None:
        blocks = self.kits[key.kit].blocks
        return next((block for block in blocks if any(row.key == key for row in block.rows)), None)


EMPTY_SHEET = Sheet("", (), "", ())


def sheet_of_proposal(proposal: Proposal) -> Sheet:
    """The sheet of one proposed kit, or of several proposed together."""
    kits = proposal.kits
    of_one = len({kit.engine.name for kit in kits}) == 1
    if len(kits) == 1:
        title = kit_name(kits[0])
        state = str(kits[0].state)
        filled = f"{kits[0].lines_filled} of {len(kits[0].lines)} lines"
    else:
        title = f"{len(kits)} kits proposed together"
        if of_one:
            title = f"{kits[0].engine.name}: {title}"
        complete = sum(kit.complete for kit in kits)
        state = "complete" if complete == len(kits) else "short"
        filled = f"{complete} of {len(kits)} kits complete"
    holds = [f"{kit.engine.name} is on hold: {reason}" for kit in kits for reason in kit.engine.holds]
    fitting = counted(fit.verdict for kit in kits for fit in kit.fits)
    gained = gained_words(proposal)
    told = [f"{filled}; {best_words(proposal)}", f"Fits: {fitting}" if fitting else "", gained]
    told = [each for each in (*told, *dict.fromkeys(holds)) if each]
    remark = ". ".join([*told, ""]).strip()
    signs = (state, *(["on hold"] if holds else []))
    blocks = tuple(_kit_block(at, kit, engine_named=not of_one) for at, kit in enumerate(kits))
    return Sheet(title, signs, remark, blocks, worst_of(fit for kit in kits for fit in kit.fits))


def kit_name(kit: KitProposal) -> str:
    """``Linnet 117, cylinder 4``."""
    return f"{kit.engine.name}, {kit.position.group} {kit.position.name}"


def sign_of_bar(bar: str) -> str:
    """The word of the sign that goes with what bars a thing."""
    return next((word for begins, word in _SIGN_OF_BAR if bar.startswith(begins)), "blocked")


def _kit_block(at: int, kit: KitProposal, *, engine_named: bool) -> KitBlock:
    name = kit_name(kit) if engine_named else f"{kit.position.group} {kit.position.name}"
    state = sign(kit.state)
    heading = Row(
        RowKey(at),
        (name, *[""] * 7, f"{state.text}, {kit.lines_filled} of {len(kit.lines)} lines"),
        state.word,
    )
    return KitBlock(heading, tuple(_line_block(at, line, kit.fits) for line in kit.lines))


def _line_block(at: int, line: KitLineProposal, fits: Sequence[FitShown]) -> Block:
    told = [*_held_rows(line)]
    said = [
        f"{quantity_words(held.reserved + held.issued, line.measure)} of {held.tag} {held.part_number}"
        f" {'reserved' if held.reserved else 'issued'} for pull {held.pull_number}."
        for held in line.held
    ]
    for choice in line.choices:
        word = "with alternate" if choice.authority else "complete"
        told.append((_choice_cells(line, choice, word, mark_at(line.station, fits)), word))
        said.append(_choice_said(line, choice))
    if line.missing:
        told += _lack_rows(line)
        said.append(_lack_said(line))
    rows = [
        Row(RowKey(at, line.kit_line, nth), cells if nth == 0 else ("", *cells[1:]), word)
        for nth, (cells, word) in enumerate(told)
    ]
    quantity = quantity_words(line.quantity, line.measure)
    wanted = f"{line.station}: {quantity} of {line.part_number} {line.part_name}."
    if line.missing == line.quantity:
        # What it waits for is all that is wanted, and said next.
        wanted = f"{line.station}:"
    remarks = ["Always renewed: unused stock only." if line.renewed_always else "", line.note]
    selected = f"{line.selected[0].upper()}{line.selected[1:]}." if line.selected else ""
    fitting = told_at(line.station, fits)
    whole = " ".join(part for part in (wanted, *said, selected, *fitting, *remarks) if part)
    return Block(tuple(rows), whole, _noted(line, said) or _fits_noted(line.station, fits))


def _fits_noted(station: str, fits: Sequence[FitShown]) -> str:
    """What is to be read of fits that are not simply good, once for the two that make each."""
    own = [fit for fit in fits if fit.station == station]
    noted = noted_at(station, own)
    return f"{sign(worst_of(own)).mark} {station}: {noted}" if noted else ""


def _held_rows(line: KitLineProposal) -> Iterator[tuple[tuple[str, ...], str]]:
    """What open pulls have for a line already: a row for what is set aside and one for what is issued."""
    for held in line.held:
        for amount, word in ((held.reserved, "reserved"), (held.issued, "issued")):
            if amount:
                figure = bare_figure(quantity_words(amount, line.measure))
                why = f"{sign(word).text} for pull {held.pull_number}"
                yield (line.station, held.tag, figure, "", "", "", "", "", why), word


def _noted(line: KitLineProposal, said: Sequence[str]) -> str:
    if line.missing:
        return f"{sign('short').mark} {line.station}: {' '.join(said)}"
    if any(choice.authority for choice in line.choices):
        return f"{sign('with alternate').mark} {line.station}: {' '.join(said)}"
    return ""


def _lack_rows(line: KitLineProposal) -> Iterator[tuple[tuple[str, ...], str]]:
    """The row that says what a line waits for and those of its near misses, each with its sign's word."""
    missing = quantity_words(line.missing, line.measure)
    waits = f"{sign('short').mark} waits for {missing} of {line.part_number} {line.part_name}"
    yield (line.station, "", bare_figure(missing), "", "", "", "", "", waits), "short"
    for miss in line.misses:
        word = sign_of_bar(miss.bars[0])
        why = f"{sign(word).mark} {'; '.join(miss.bars)}"
        yield ("", miss.tag, "", miss.where, "", "", "", "", why), word


def _lack_said(line: KitLineProposal) -> str:
    waits = f"waits for {quantity_words(line.missing, line.measure)} of {line.part_number} {line.part_name}"
    if not line.misses:
        return f"{waits}; {NONE_HERE}."
    nearest = (
        f"{miss.tag} ({miss.part_number}) at {miss.where}: {', '.join(miss.bars)}" for miss in line.misses
    )
    return f"{waits}. Nearest: {'; '.join(nearest)}."


def _choice_cells(line: KitLineProposal, choice: Choice, word: str, fit: str) -> tuple[str, ...]:
    authority = f", by {choice.authority}" if choice.authority else ""
    return (
        line.station,
        choice.tag,
        bare_figure(quantity_words(choice.quantity, line.measure)),
        choice.bin,
        good_for(choice.condition, choice.scope),
        hours_cell(choice.hours),
        papers_cell(choice.papers),
        fit,
        f"{sign(word).mark} {choice.why}{authority}",
    )


def _choice_said(line: KitLineProposal, choice: Choice) -> str:
    serial = f", serial {choice.serial}" if choice.serial else ""
    scope = f" for {choice.scope}" if choice.scope else ""
    facts = [f"{choice.condition}{scope}", choice.hours, papers_words(choice.papers), f"in {choice.bin}"]
    authority = f", by {choice.authority}" if choice.authority else ""
    number = "" if choice.part == line.part else f" {choice.part_number} {choice.part_name}"
    return (
        f"{quantity_words(choice.quantity, line.measure)} of {choice.tag}{number}{serial}:"
        f" {', '.join(fact for fact in facts if fact)}; {choice.why}{authority}."
    )


def good_for(condition: str, scope: str) -> str:
    """What it was accepted for, with the mark of the serviceable; or the sign of its condition."""
    return f"{sign(condition).mark} {scope}" if scope else sign(condition).text


def papers_cell(count: int) -> str:
    """How many, or the mark that there are none."""
    return str(count) if count else f"{sign('no papers').mark} none"


def papers_words(count: int) -> str:
    """``no papers``, ``1 paper``, ``2 papers``."""
    return f"{count or 'no'} paper{'' if count == 1 else 's'}"


def bare_figure(text: str) -> str:
    """The figure without the unit that a column of counts or hours need not repeat."""
    return text.removesuffix(" off").removesuffix(" h")


def hours_cell(words: str) -> str:
    """Hours before, short enough for a column: ``312.50``, ``290–390``, ``≥ 300.00`` or ``not known``."""
    figures = re.findall(r"[0-9][0-9.,]*[0-9]", words)
    if words.startswith("between "):
        return "–".join(figure.removesuffix(".00") for figure in figures)
    if words.startswith("at least "):
        return f"≥ {figures[0]}"
    return bare_figure(words)


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
