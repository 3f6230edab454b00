"""An inspection on paper as it was entered: its figures with their verdicts, its tests, what was decided."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from invdb.paper.sheet_columns import ALARM, DOUBT, SMALL, STRONG, TEXT, Ruled, Said, heading, plain, section
from invdb.paper.sheet_file import SheetTarget, write_whole
from invdb.paper.sheet_pdf import (
    AMBER,
    AMBER_PALE,
    HAIR,
    RED,
    RED_PALE,
    Block,
    Cell,
    Mark,
    SheetHead,
    Style,
    bar_code,
    box,
    pdf_of,
    room_width,
)
from invdb.paper.sheet_words import PageName, hazard_words, instant_words
from invdb.rules.inspection_sheet import (
    BenchTested,
    FilledSheet,
    InspectionDone,
    LineDone,
    ReadingDone,
    bounds_words,
)
from invdb.rules.limits import Judged, LineJudged, LineLimits, Verdict
from invdb.rules.measuring import both_ways, kept
from invdb.rules.specification import seconds_words
from invdb.terms import SpecKind

_TITLE = Style(20, strong=True)
_NAME = Style(12, strong=True)
_LABEL = Style(7.5, colour=SMALL.colour)
_BIG = Style(14, strong=True)
_GRAVE = Style(9, strong=True, colour=RED, ground=RED_PALE)
_NOTICE = Style(9, strong=True, colour=AMBER, ground=AMBER_PALE)

_TAG_WIDTH = 170.0
_BAR_CODE_HEIGHT = 30.0
_GUTTER = 9.0


def write_inspection_pdf(sheet: FilledSheet, target: SheetTarget, page: PageName = "A4") -> None:
    """Write an inspection as PDF; Refused if the target cannot be written."""
    head = SheetHead(sheet.workshop, _title(sheet.done), instant_words(sheet.printed_at))
    write_whole(pdf_of(list(_blocks(sheet, room_width(page))), head, page), target)


def _title(done: InspectionDone) -> str:
    return f"Inspection of {done.tag}, {done.inspected_on.isoformat()}: {done.part_name}"


def _blocks(sheet: FilledSheet, width: float) -> Iterator[Block]:
    done = sheet.done
    yield _identity_block(sheet, width)
    for words in hazard_words(sheet.hazards):
        yield Block([Cell(0, width).add(words, _GRAVE)], pad=2)
    for words in done.differs:
        yield Block([Cell(0, width).add(f"Judged otherwise today: {words}", _NOTICE)], pad=2, edge=AMBER)
    yield from _line_blocks(done, width)
    yield from _test_blocks(done, width)
    if done.papers:
        yield heading("Photographs and other papers", width)
        for paper in done.papers:
            yield plain(paper, width)
    yield from _decision_blocks(done, width)
    yield _signature_block(done, width)


def _identity_block(sheet: FilledSheet, width: float) -> Block:
    done = sheet.done
    marks: list[Mark] = []
    right = Cell(width - _TAG_WIDTH, _TAG_WIDTH)
    code = bar_code(done.tag, width - _TAG_WIDTH, _TAG_WIDTH, _BAR_CODE_HEIGHT)
    if code:
        marks.append(code)
        right.space_above = _BAR_CODE_HEIGHT + 6
    right.add("Inspected on", _LABEL).add(done.inspected_on.isoformat(), _BIG)
    left = Cell(0, width - _TAG_WIDTH - 2 * _GUTTER)
    left.add(f"{'Batch' if done.is_batch else 'Piece'} {done.tag}", _TITLE).add(done.part_name, _NAME)
    left.add(f"{done.part_number}, {done.size_class or 'standard size'}", TEXT)
    if sheet.serial:
        left.add(f"{'Maker’s batch' if done.is_batch else 'Serial'} {sheet.serial}", TEXT)
    judged = f"Judged by {done.revision}" if done.revision else "No specification was in force for it"
    if done.revision_present and done.revision_present != done.revision:
        judged += f"; the present one is {done.revision_present}"
    left.space(4).add(judged, TEXT)
    return Block([left, right], marks=marks, pad=6, rule=HAIR)


def _line_blocks(done: InspectionDone, width: float) -> Iterator[Block]:
    columns = (("What", 34), ("Reads", 54), ("With", 28), ("Verdict", 38))
    rows = [_line_row(line) for line in done.lines]
    yield from section("Measured", columns, rows, "Nothing was measured", width)


def _line_row(line: LineDone) -> Ruled:
    named: list[Said] = [(line.name, STRONG)]
    if line.limits_then is not None:
        named += [(words, SMALL) for words in _limit_words(line.limits_then)]
    reads: list[Said] = [_reading_words(each) for each in line.readings]
    instruments = dict.fromkeys(each.instrument for each in line.readings if each.instrument)
    verdict: list[Said] = []
    if line.then is not None:
        verdict.append((str(line.then.verdict), _style(line.then.verdict)))
        verdict += [(words, SMALL) for words in _why(line.readings, line.then)]
    else:
        verdict.append("no limits were in force for it")
    if line.differs:
        verdict.append((line.differs, DOUBT))
    out = line.then is not None and line.then.verdict is Verdict.OUT
    withs: list[Said] = list(instruments) or ["not said"]
    return Ruled((named, reads, withs, verdict), out, bool(line.differs))


def _limit_words(limits: LineLimits) -> Iterator[str]:
    for label, low, high in (
        ("new", limits.new_low, limits.new_high),
        ("worn", limits.worn_low, limits.worn_high),
    ):
        published, _ = bounds_words(low, high, limits.unit)
        if published:
            yield f"{label} {published}"
    for label, most in (("ovality", limits.oval_max), ("taper", limits.taper_max)):
        if most is not None:
            yield f"{label} at most {most} {limits.unit}"


def _reading_words(each: ReadingDone) -> str:
    return f"{_place(each)}  {each.words}".strip()


def _why(readings: Sequence[ReadingDone], judged: LineJudged) -> list[str]:
    """What is worse than within new limits, and where; and the ovality and the taper where judged."""
    places: dict[str, list[str]] = {}
    for reading, each in zip(readings, judged.readings, strict=True):
        if each.verdict in {Verdict.WORN, Verdict.OUT}:
            places.setdefault(each.words, []).append(_place(reading))
    said = []
    for words, where in places.items():
        named = ", ".join(filter(None, where))
        said.append(f"{named}: {words}" if named else words)
    apart: list[Judged] = [each for each in (judged.ovality, judged.taper) if each is not None]
    return [*said, *(each.words for each in apart)]


def _place(each: ReadingDone) -> str:
    return " ".join(part for part in (each.point, each.direction) if part)


def _style(verdict: Verdict) -> Style:
    return ALARM if verdict is Verdict.OUT else STRONG


def _test_blocks(done: InspectionDone, width: float) -> Iterator[Block]:
    if not done.tests:
        return
    columns = (("Test", 34), ("How", 52), ("With", 26), ("Outcome", 34))
    rows = [_test_row(test) for test in done.tests]
    yield from section("Tests", columns, rows, "", width)


def _test_row(test: BenchTested) -> Ruled:
    named: list[Said] = [(test.name, STRONG), (str(test.kind), SMALL)]
    how: list[Said] = []
    if test.method is not None:
        how.append(str(test.method))
    if test.kind is SpecKind.PRESSURE_TEST:
        how.append(f"with {test.medium}" if test.medium else "medium not said")
        how.append(f"from {both_ways(kept(test.start, test.unit))}")
        how.append(f"to {both_ways(kept(test.end, test.unit))}")
        how.append(f"held for {seconds_words(test.held_seconds or 0)}")
    outcome: list[Said] = [("passed", STRONG) if test.passed else ("NOT PASSED", ALARM)]
    if test.kind is SpecKind.PRESSURE_TEST and test.words:
        outcome.append((test.words, SMALL))
    if test.found and not (test.kind is SpecKind.PRESSURE_TEST and test.found in test.words):
        outcome.append((test.found, SMALL))
    return Ruled((named, how, [test.instrument or "not said"], outcome), not test.passed)


def _decision_blocks(done: InspectionDone, width: float) -> Iterator[Block]:
    yield heading("Condition decided", width)
    scope = f", accepted for {done.scope}" if done.scope else ""
    yield plain(f"{done.decided}{scope}", width, STRONG)
    yield plain(f"The figures called for: {done.proposed}", width)
    if done.reason:
        style = _NOTICE if done.against_proposal else TEXT
        yield Block([Cell(0, width).add(f"Reason: {done.reason}", style)], pad=2)
    if done.note:
        yield plain(f"Note: {done.note}", width)


def _signature_block(done: InspectionDone, width: float) -> Block:
    """The record of 14 CFR 43.9, with a line for a wet signature."""
    third = width / 3
    licence = done.licence_number or "no licence number"
    cells = [Cell(0, width).space(6).add("Inspected by", Style(12, strong=True))]
    said = ((done.inspected_by, licence), (done.inspected_on.isoformat(), f"entry {done.entry}"), ("", ""))
    for place, lines in enumerate(said):
        cell = Cell(place * third, third - _GUTTER).space(28)
        for line in lines:
            cell.add(line, TEXT)
        cells.append(cell)
    cells.append(Cell(2 * third, third).space(24).add("Signature", _LABEL))
    marks = [box(2 * third, 36, third, 26)]
    return Block(cells, marks=marks, height_min=84, pad=8)
