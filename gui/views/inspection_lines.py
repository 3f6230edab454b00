"""The lines of an inspection sheet as fields of its form, and how what is typed in them stands.

All of it is reckoned from the sheet as it was laid out, so that a verdict comes as fast as one types.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence

from gui.shown import Choice, Field, FieldKind, Values
from gui.shown_inspection import AskedTest, DoneTest, Figure, Judgement, Measures, Taken
from invdb.acts.spec_line import HOLD_SECONDS_MAX
from invdb.rules.inspecting import RunOfTest, judge_test, limits_of_sample, place_words
from invdb.rules.inspection_sheet import InstrumentNote, SheetLine, SheetToFill, asked_words, bounds_words
from invdb.rules.limits import Judged, LineLimits, Reading, Verdict, judge, judge_line, suspicious
from invdb.rules.measuring import Measured, both_ways, kept, read_measured
from invdb.rules.specification import SpecLineFacts
from invdb.rules.told import listed
from invdb.terms import Asked, CrackMethod, FieldRefused, Refused, SpecKind

NO_FIGURE, IS_IT_SO, NOT_TAKEN = "no figure", "is it so", "not taken"
PASSED = (Choice(True, "passed"), Choice(False, "not passed"))
METHODS = tuple(Choice(method, str(method)) for method in CrackMethod)
# So many of the worst figures of a line are named beneath it; the marks beside the boxes tell all.
NAMED_MAX = 3
_HELD = re.compile(r"(?:(\d{1,3}) *h)? *(?:(\d{1,4}) *min)? *(?:(\d{1,5}) *s)?", re.ASCII)
_CLOCK = re.compile(r"(?:(\d{1,3}):)?(\d{1,3}):(\d{2})", re.ASCII)


def line_fields(sheet: SheetToFill, used_last: Mapping[str, int]) -> tuple[Field, ...]:
    """A field for each line of which something is filled in, named by its place on the sheet.

    ``used_last`` is what each line was measured with last, by its name: offered again if it may be used.
    """
    tools = instrument_choices(sheet)
    trusted = {each.id for each in sheet.instruments if not each.out}
    fields = []
    for at, line in enumerate(sheet.lines):
        name, last = field_name(at), used_last.get(line.line.name)
        offered = last if last in trusted else None
        if line.line.kind.measured:
            fields.append(_measures_field(name, sheet, line, tools, offered))
        elif line.line.kind.tested:
            fields.append(_test_field(name, sheet, line.line, tools, offered))
    return tuple(fields)


def field_name(at: int) -> str:
    """What the field of the line at that place of the sheet is called."""
    return f"line{at}"


def instrument_choices(sheet: SheetToFill) -> tuple[Choice, ...]:
    """The instruments to choose from."""
    return tuple(Choice(each.id, f"{each.number} {each.name}") for each in sheet.instruments)


def instrument_told(instruments: Sequence[InstrumentNote], chosen: int | None) -> Judgement:
    """Until when an instrument is calibrated, or why it is not to be trusted."""
    note = next((each for each in instruments if each.id == chosen), None)
    if note is None:
        return Judgement("")
    if note.out:
        return Judgement("expired", note.out)
    until = "" if note.calibration_due_on is None else f", good until {note.calibration_due_on.isoformat()}"
    assert note.calibrated_on is not None, "one without a calibration is out"
    return Judgement("", f"calibrated {note.calibrated_on.isoformat()}{until}")


def limits_of(sheet: SheetToFill, line: SpecLineFacts) -> LineLimits:
    """The limits that a line is judged by on this sheet."""
    return limits_of_sample(line.limits) if sheet.is_batch else line.limits


def _measures_field(
    name: str, sheet: SheetToFill, line: SheetLine, tools: tuple[Choice, ...], offered: int | None
) -> Field:
    facts, limits = line.line, limits_of(sheet, line.line)

    def check(taken: Taken, _values: Values) -> None:
        for figure in taken.figures:
            try:
                read_measured(figure.text, facts.unit)
            except Asked:
                # Whether it is so is asked when all is filled in.
                continue

    return Field(
        name,
        facts.name,
        FieldKind.MEASURES,
        section="Figures",
        start=Taken(instrument=offered),
        check=check,
        asks=Measures(
            captions=captions_of(line),
            unit=facts.unit,
            points=limits.points or ("",),
            directions=limits.directions or ("",),
            several=sheet.is_batch,
            instruments=tools,
            instrument_told=lambda chosen: instrument_told(sheet.instruments, chosen),
            judge=lambda text: judge_box(text, limits),
            judge_all=lambda taken: judge_figures(taken, limits, sampled=sheet.is_batch),
        ),
    )


def captions_of(line: SheetLine) -> tuple[str, ...]:
    """The limits of a line both ways, and what it read last, a line each."""
    facts = line.line
    limits = facts.limits
    bounds = []
    for word, low, high in (
        ("new", limits.new_low, limits.new_high),
        ("worn", limits.worn_low, limits.worn_high),
        ("oval", None, limits.oval_max),
        ("taper", None, limits.taper_max),
    ):
        said, other = bounds_words(low, high, facts.unit)
        if said:
            bounds.append(f"{word} {said}{f' ({other})' if other else ''}")
    words = [" · ".join(bounds), asked_words(facts)]
    if line.last:
        figures = ", ".join(
            f"{place_words(each.point, each.direction)} {each.figure}".strip() for each in line.last
        )
        words.append(f"last, on {line.last[0].measured_on.isoformat()}: {figures} {line.last[0].unit}")
    return tuple(word for word in words if word) or ("no limits are published",)


def judge_box(text: str, limits: LineLimits) -> Judgement:
    """How one figure as typed stands: its verdict, or that it is none, or that it may be a slip."""
    try:
        measured = read_measured(text, limits.unit)
    except Asked as asked:
        return Judgement(IS_IT_SO, f"{asked.reason} {asked.remedy}")
    except FieldRefused as refused:
        return Judgement(NO_FIGURE, f"{refused.reason} {refused.remedy}")
    question = suspicious(measured, limits)
    if question is not None:
        return Judgement(IS_IT_SO, question)
    judged = judge(measured.value, limits)
    return Judgement(str(judged.verdict), f"{both_ways(measured)}: {judged.words}")


def readings_of(figures: Iterable[Figure], unit: str) -> tuple[Reading, ...]:
    """The figures that can be read; a comma stands for a decimal point as far as a verdict goes."""
    return tuple(
        Reading(figure.point, figure.direction, measured)
        for figure in figures
        if (measured := _read_if_any(figure.text, unit)) is not None
    )


def _read_if_any(text: str, unit: str) -> Measured | None:
    try:
        return read_measured(text, unit, sure=True)
    except FieldRefused:
        return None


def judge_figures(taken: Taken, limits: LineLimits, *, sampled: bool = False) -> Judgement:
    """How all that was typed of a line stands: what can't be read or is doubtful first, else its verdict."""
    boxes = [
        (place_words(each.point, each.direction), judge_box(each.text, limits)) for each in taken.figures
    ]
    for wanted in (NO_FIGURE, IS_IT_SO):
        doubtful = [
            f"{where}: {box.words}" if where else box.words for where, box in boxes if box.sign == wanted
        ]
        if doubtful:
            out = [f"{where}, {box.words}" for where, box in boxes if box.sign == Verdict.OUT]
            also = [f"And out of limits: {each}." for each in out[:1]]
            return Judgement(wanted, " ".join([*doubtful[:NAMED_MAX], *also]))
    if not taken.figures:
        return Judgement(NOT_TAKEN)
    readings = readings_of(taken.figures, limits.unit)
    found = judge_line(readings, limits)
    parts = _worst_named(readings, found.readings, found.verdict)
    for apart in (found.ovality, found.taper):
        if apart is not None:
            at = 0 if apart.verdict is Verdict.OUT else len(parts)
            parts.insert(at, apart.words)
    if found.missing and not sampled:
        places = [place_words(point, direction) for point, direction in found.missing]
        parts.append(f"still to measure: {listed(places)}")
    return Judgement(str(found.verdict), "; ".join(parts))


def _worst_named(readings: Sequence[Reading], judged: Sequence[Judged], verdict: Verdict) -> list[str]:
    """The figures that stand worst, by their places; nothing where all of them are good."""
    if verdict in (Verdict.NEW, Verdict.UNJUDGED):
        return []
    named = [
        f"{place_words(reading.point, reading.direction)} {each.words}".strip()
        for reading, each in zip(readings, judged, strict=True)
        if each.verdict is verdict
    ]
    more = len(named) - NAMED_MAX
    return [*named[:NAMED_MAX], f"and {more} more"] if more > 0 else named


def _test_field(
    name: str, sheet: SheetToFill, line: SpecLineFacts, tools: tuple[Choice, ...], offered: int | None
) -> Field:
    def check(done: DoneTest | None, _values: Values) -> None:
        if done is not None:
            try:
                run_of(line, done)
            except Asked:
                return

    pressure = line.kind is SpecKind.PRESSURE_TEST
    return Field(
        name,
        line.name,
        FieldKind.TEST,
        section="Tests",
        start=DoneTest(medium=line.medium, instrument=offered),
        check=check,
        asks=AskedTest(
            captions=tuple(word for word in (asked_words(line),) if word) or (str(line.kind),),
            outcomes=PASSED,
            instruments=tools,
            instrument_told=lambda chosen: instrument_told(sheet.instruments, chosen),
            judge=lambda done: judge_done(line, done),
            unit=line.unit if pressure else "",
            hold_seconds=line.hold_seconds,
            methods=METHODS if line.kind is SpecKind.CRACK_TEST else (),
        ),
    )


def run_of(line: SpecLineFacts, done: DoneTest, *, sure: bool = False) -> RunOfTest:
    """A test as far as it was filled in; FieldRefused for a figure or a time that can't be read."""
    start = read_measured(done.start, line.unit, "start", sure=sure) if done.start else None
    end = read_measured(done.end, line.unit, "end", sure=sure) if done.end else None
    held = read_held(done.held) if done.held else None
    return RunOfTest(line.kind, line.name, done.passed, done.found, done.method, start, end, held)


def judge_done(line: SpecLineFacts, done: DoneTest) -> Judgement:
    """How a test stands as it is filled in: not taken yet, passed, or not, and why."""
    if done == DoneTest(medium=done.medium, instrument=done.instrument):
        return Judgement(NOT_TAKEN)
    try:
        run = run_of(line, done)
    except Asked as asked:
        return Judgement(IS_IT_SO, f"{asked.reason} {asked.remedy}")
    except FieldRefused as refused:
        return Judgement(NO_FIGURE, f"{refused.reason} {refused.remedy}")
    if line.kind is SpecKind.PRESSURE_TEST and (run.start is None or run.end is None):
        return _pressure_begun(line, run)
    judged = judge_test(line, run)
    if judged.passed is None:
        done_so = judged.words
        if line.kind is not SpecKind.PRESSURE_TEST:
            done_so = ", ".join(
                part for part in (f"by {run.method}" if run.method else "", run.found) if part
            )
        return Judgement(NOT_TAKEN, "; ".join(filter(None, (done_so, "say whether it was passed"))))
    against = " — said to be passed against its figures" if judged.against_figures else ""
    return Judgement("not passed" if judged.bad else "passed", f"{judged.words}{against}")


def _pressure_begun(line: SpecLineFacts, run: RunOfTest) -> Judgement:
    if run.start is None:
        return Judgement(NOT_TAKEN, "read the pressure at the start")
    if line.target is not None and run.start.value < kept(line.target, line.unit).value:
        said = f"begun at {both_ways(run.start)}, and {line.target} {line.unit} is asked"
        return Judgement("not passed", said)
    return Judgement(NOT_TAKEN, f"begun at {both_ways(run.start)}; read the pressure when the time is up")


def questions_of(sheet: SheetToFill, values: Values) -> tuple[str, ...]:
    """Everything typed that may be a slip, and every instrument not to be trusted, each a sentence or two."""
    asked: list[str] = []
    doubts = {each.id: f"{each.number} {each.name} {each.out}." for each in sheet.instruments if each.out}
    for at, line in enumerate(sheet.lines):
        value = values.get(field_name(at))
        if isinstance(value, Taken) and value.figures:
            asked += _figures_asked(line.line, limits_of(sheet, line.line), value)
        elif isinstance(value, DoneTest):
            asked += _test_asked(line.line, value)
        else:
            continue
        if value.instrument in doubts:
            asked.append(doubts[value.instrument])
    return tuple(dict.fromkeys(asked))


def _figures_asked(line: SpecLineFacts, limits: LineLimits, taken: Taken) -> Iterator[str]:
    for figure in taken.figures:
        box = judge_box(figure.text, limits)
        if box.sign == IS_IT_SO:
            where = " ".join(
                part for part in (line.name, place_words(figure.point, figure.direction)) if part
            )
            yield f"{where}: {box.words}"


def _test_asked(line: SpecLineFacts, done: DoneTest) -> Iterator[str]:
    """What of a test looks like a slip: its readings, and a medium that is not what is asked."""
    try:
        run = run_of(line, done)
    except Asked as asked:
        yield f"{line.name}: {refusal_words(asked)}"
        return
    if run.start is not None and run.end is not None and run.end.value > run.start.value:
        yield f"{line.name}: it ends at {run.end.words}, above the {run.start.words} that it began at."
    if run.start is not None and line.target is not None:
        question = suspicious(run.start, LineLimits(line.name, line.unit, line.target, line.target))
        if question is not None:
            yield question
    if run.start is not None and done.medium and done.medium.casefold() != line.medium.casefold():
        yield f"{line.name}: it was tested with {done.medium}, and {line.medium} is asked."


def read_held(text: str) -> int:
    """How long a pressure was held, in seconds: ``20 min``, ``90 s``, ``1 h 30 min``, ``20:00``, ``20``.

    A bare figure is minutes. FieldRefused for anything else.
    """
    typed = " ".join(text.split())
    clock, words = _CLOCK.fullmatch(typed), _HELD.fullmatch(typed)
    if typed.isascii() and typed.isdigit():
        seconds = int(typed) * 60
    elif clock is not None:
        seconds = int(clock[1] or 0) * 3600 + int(clock[2]) * 60 + int(clock[3])
    elif words is not None and typed:
        seconds = int(words[1] or 0) * 3600 + int(words[2] or 0) * 60 + int(words[3] or 0)
    else:
        raise FieldRefused("held_seconds", f"{typed!r} is no time.", "Type it as 20 min, 90 s or 1 h 30 min.")
    if not 0 < seconds <= HOLD_SECONDS_MAX:
        raise FieldRefused("held_seconds", f"{typed!r} is no time to hold a pressure.", "Check it.")
    return seconds


def refusal_words(refused: Refused) -> str:
    """A refusal as one sentence after another."""
    return f"{refused.reason} {refused.remedy}".strip()
