"""The inspections of a thing that are kept, as its page shows them: plain values.

Each is a heading with a row for every figure and every test beneath it, judged by the revision that was in
force then and by the present one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from gui.shown import Column, Empty, Page, Row
from gui.signs import sign
from invdb.rules.inspecting import place_words
from invdb.rules.inspection_sheet import BenchTested, InspectionDone, LineDone, ReadingDone
from invdb.rules.limits import Judged, Verdict
from invdb.rules.measuring import kept
from invdb.rules.specification import seconds_words

NO_LINE = "not asked for"
PASSED, NOT_PASSED = "passed", "not passed"
INDENT = "   "
COLUMNS = (
    Column("what", "Inspected", 190, sort=False),
    Column("reads", "Found", 150, sort=False),
    Column("then", "By the revision then", 146, sort=False),
    Column("present", "By the present one", 152, sort=False),
    Column("instrument", "With", 70, sort=False),
)
NEVER_INSPECTED = Empty(
    "Nothing is kept of any inspection of it.",
    "What is inspected stands here from then on, and can be printed as a filled sheet.",
)


@dataclass(frozen=True)
class PastKey:
    """Which row: of which inspection, by its id, and which of its figures and tests (None: its heading)."""

    inspection: int
    nth: int | None = None


@dataclass(frozen=True)
class Kept:
    """One inspection: its heading, the rows beneath it, and what is said of each in full."""

    heading: Row
    rows: tuple[Row, ...]
    said: dict[PastKey, str]


@dataclass(frozen=True)
class Past:
    """All the inspections of one thing, the latest first."""

    title: str
    told: str
    kept: tuple[Kept, ...]

    def rows(self, words: str) -> list[Row]:
        """The rows that have all the words, each inspection's under its own heading."""
        wanted = words.casefold().split()
        found: list[Row] = []
        for each in self.kept:
            beneath = [row for row in each.rows if _has(each.heading, row, wanted)]
            if beneath or not wanted or _has(each.heading, each.heading, wanted):
                found += [each.heading, *beneath]
        return found

    def page(self, offset: int, limit: int, words: str) -> Page:
        """Some of those rows, for a list."""
        fitting = self.rows(words)
        total = len(self.rows("")) if words else len(fitting)
        return Page(tuple(fitting[offset : offset + limit]), len(fitting), total)

    def said_of(self, key: PastKey) -> str:
        """All that is to be said of that row; of the heading, of the inspection as a whole."""
        each = next(each for each in self.kept if each.heading.key.inspection == key.inspection)
        return each.said[key]


def past_of(tag: str, name: str, done: Sequence[InspectionDone]) -> Past:
    """What is shown of a thing's inspections, which come the latest first."""
    differing = sum(bool(each.differs) for each in done)
    told = ""
    if done:
        count = "One inspection" if len(done) == 1 else f"{len(done)} inspections"
        told = f"{count}; "
        told += f"{differing} judged otherwise today" if differing else "none is judged otherwise today"
    return Past(f"Inspections of {tag}  ({name})", f"{told}." if told else "", tuple(map(_kept, done)))


def _has(heading: Row, row: Row, wanted: Sequence[str]) -> bool:
    said = " ".join((heading.cells[0], *row.cells)).casefold()
    return all(word in said for word in wanted)


def _kept(done: InspectionDone) -> Kept:
    key = PastKey(done.id)
    scope = f", for {done.scope}" if done.scope is not None else ""
    then, present = (
        each.partition(",")[0] or "no specification" for each in (done.revision, done.revision_present)
    )
    decided = sign(done.decided)
    heading = Row(
        key,
        (
            done.inspected_on.isoformat(),
            f"{decided.text}{scope}",
            then,
            "the same" if done.revision == done.revision_present else present,
            f"by {done.inspected_by}",
        ),
        decided.word,
    )
    rows: list[Row] = []
    said = {key: _said_of(done)}
    for row, words in (*_figures(done), *_tests(done)):
        at = PastKey(done.id, len(rows))
        rows.append(Row(at, row.cells, row.sign))
        said[at] = words
    return Kept(heading, tuple(rows), said)


def _said_of(done: InspectionDone) -> str:
    licence = done.licence_number or "no licence number"
    # Of many an oversize part its name says the size.
    named = done.size_class.casefold() in done.part_name.casefold()
    size = "" if named else f", {done.size_class}"
    scope = f", accepted for {done.scope}" if done.scope is not None else ""
    lines = [
        f"Inspected on {done.inspected_on.isoformat()} by {done.inspected_by} ({licence}), entry"
        f" {done.entry}, as {done.part_number} {done.part_name}{size}.",
        f"Decided: {sign(done.decided).text}{scope}. The figures called for: {sign(done.proposed).text}.",
        f"By {done.revision or 'no specification'}; the present one is"
        f" {'the same' if done.revision == done.revision_present else done.revision_present or 'none'}.",
        f"Reason: {done.reason}" if done.reason else "",
        f"Remark: {done.note}" if done.note else "",
        f"Judged otherwise today: {'; '.join(done.differs)}." if done.differs else "",
        f"Papers: {', '.join(done.papers)}." if done.papers else "",
    ]
    return "\n".join(line for line in lines if line)


def _figures(done: InspectionDone) -> Iterator[tuple[Row, str]]:
    for line in done.lines:
        for reading in line.readings:
            where = f"{line.name} {place_words(reading.point, reading.direction)}".strip()
            differs = reading.then is not None and reading.present is not None
            differs = differs and _verdict(reading.then) is not _verdict(reading.present)
            cells = (
                f"{INDENT}{where}",
                f"{reading.figure} {reading.unit}",
                _judged(reading.then),
                f"{'≠ ' if differs else ''}{_judged(reading.present)}",
                reading.instrument.partition(", calibrated")[0],
            )
            yield Row(None, cells, str(_verdict(reading.present))), _figure_said(where, line, reading)


def _verdict(judged: Judged | None) -> Verdict:
    return Verdict.UNJUDGED if judged is None else judged.verdict


def _judged(judged: Judged | None) -> str:
    return NO_LINE if judged is None else sign(str(judged.verdict)).text


def _figure_said(where: str, line: LineDone, reading: ReadingDone) -> str:
    lines = [f"{where}: {reading.words}{f', with {reading.instrument}' if reading.instrument else ''}."]
    for word, judged, whole in (
        ("Then", reading.then, line.then),
        ("By the present revision", reading.present, line.present),
    ):
        if judged is None or whole is None:
            lines.append(f"{word}: {NO_LINE}.")
            continue
        apart = [each.words for each in (whole.ovality, whole.taper) if each is not None]
        shown = sign(str(judged.verdict))
        said = judged.words.removeprefix(shown.word).strip()
        told = "; ".join(part for part in (shown.text, said, *apart) if part)
        lines.append(f"{word}: {told}.")
    return "\n".join(lines)


def _tests(done: InspectionDone) -> Iterator[tuple[Row, str]]:
    for test in done.tests:
        outcome = sign(PASSED if test.passed else NOT_PASSED)
        how = _how(test)
        cells = (
            f"{INDENT}{test.name}",
            outcome.text,
            how,
            "",
            test.instrument.partition(", calibrated")[0],
        )
        told = [
            f"{test.name} ({test.kind}): {outcome.text}",
            how,
            test.words if test.words != outcome.word else "",
            f"found: {test.found}" if test.found else "",
            f"with {test.instrument}" if test.instrument else "",
        ]
        yield Row(None, cells, outcome.word), f"{'; '.join(part for part in told if part)}."


def _how(test: BenchTested) -> str:
    """How a test was done: its method, or between which pressures and for how long."""
    if test.method is not None:
        return str(test.method)
    if not test.start:
        return ""
    held = f" in {seconds_words(test.held_seconds)}" if test.held_seconds else ""
    medium = f", with {test.medium}" if test.medium else ""
    start, end = (kept(figure, test.unit).words for figure in (test.start, test.end or test.start))
    return f"{start} to {end}{held}{medium}"
