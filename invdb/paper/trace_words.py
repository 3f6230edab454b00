"""What a traceability sheet says, in words, for the page and for the workbook alike."""

from __future__ import annotations

from collections.abc import Iterator

from invdb.paper.sheet_words import standing_words
from invdb.rules.history import (
    ConcessionLine,
    EngineTime,
    EventLine,
    HoldLine,
    PaperLine,
    Stretch,
    TraceSheet,
)
from invdb.rules.inspection_sheet import InspectionDone, ReadingDone
from invdb.rules.life import hours_and_starts_words, prior_hours_words, prior_starts_words
from invdb.rules.life_limits import LimitLine, left_words, limit_words, used_words

NEVER_IN_AN_ENGINE = "In no engine here, so far as recorded"

# What 14 CFR 43.9 asks of a record of work, a row of fields each.
SIGNED_FIELDS = (
    ("Description of the work done",),
    ("Date completed", "Name"),
    ("Signature", "Certificate number", "Kind of certificate"),
)


def facts(sheet: TraceSheet) -> list[tuple[str, str]]:
    """Label and words of all that is known of the thing itself, saying so where something is not recorded."""
    lines = [("House number", sheet.part_number)]
    lines += [(kind.capitalize(), number) for kind, number in sheet.other_numbers]
    if sheet.is_batch:
        lines.append(("Maker's batch", sheet.maker_batch or "not recorded"))
    else:
        lines.append(("Serial", sheet.serial or "none"))
    lines += [
        ("Owner", sheet.owner),
        ("Condition", standing_words(sheet.condition, sheet.scope)),
        ("Accepted", _accepted_words(sheet)),
        ("Origin", str(sheet.origin)),
        ("From", sheet.origin_firm or "not recorded"),
        ("Donor engine", sheet.donor),
        ("Received", sheet.received_on.isoformat()),
        ("Work done since", f"{sheet.work_state}, {sheet.work_reference}".rstrip(", ")),
        ("Used", "yes" if sheet.used else "no"),
        ("Life", "life-limited" if sheet.life_limited else "no life limit recorded"),
    ]
    if sheet.prior_hours is not None:
        lines.append(("Hours before", prior_hours_words(sheet.prior_hours)))
    if sheet.prior_starts is not None:
        lines.append(("Starts before", prior_starts_words(sheet.prior_starts)))
    lines += _life_facts(sheet)
    lines.append(("Shelf expiry", sheet.shelf_expiry_on.isoformat() if sheet.shelf_expiry_on else "none"))
    if made := sheet.made_here:
        drawing = (
            f"{made.drawing} revision {made.drawing_revision}" if made.drawing_revision else made.drawing
        )
        lines += [
            ("Drawing", drawing or "not recorded"),
            ("Material", made.material or "not recorded"),
            ("Material papers", made.material_certificate or "not recorded"),
            ("Made by", made.made_by or "not recorded"),
            ("Inspected by", made.inspected_by or "not recorded"),
        ]
    lines += [(f"Check: {check.name}", check.found or "not looked at yet") for check in sheet.checks]
    lines.append(("Note", sheet.note))
    return [(label, words) for label, words in lines if words]


def _life_facts(sheet: TraceSheet) -> Iterator[tuple[str, str]]:
    if sheet.hours_in_all is not None:
        yield "Hours in all", prior_hours_words(sheet.hours_in_all)
    if sheet.starts_in_all is not None:
        yield "Starts in all", prior_starts_words(sheet.starts_in_all)
    if sheet.overhauled_on is not None:
        yield "Overhauled", sheet.overhauled_on.isoformat()
    if sheet.hours_since_overhaul is not None:
        yield "Hours since overhaul", prior_hours_words(sheet.hours_since_overhaul)
    if sheet.starts_since_overhaul is not None:
        yield "Starts since overhaul", prior_starts_words(sheet.starts_since_overhaul)


def limit_line_words(line: LimitLine) -> str:
    """'within limits: 312.50 h used of 600.00 h since new, 287.50 h left', the verdict first."""
    depends = ", where that holds" if line.depends else ""
    return (
        f"{line.verdict}{depends}: {used_words(line)} used of {limit_words(line.limit)}, {left_words(line)}"
    )


def event_words(event: EventLine) -> str:
    """An event that nothing has cleared begins with NOT CLEARED; else it says by what inspection it was."""
    inside = "what is fitted of it was inside" if event.fitted_only else "inside"
    what = f"{inside} at the {event.what}{f' ({event.note})' if event.note else ''}"
    if event.cleared_on is None:
        return f"NOT CLEARED: {what}, and no inspection named for it has cleared it"
    return (
        f"{what[0].upper()}{what[1:]}; cleared {event.cleared_on.isoformat()} by {event.cleared_by}:"
        f" {event.inspection}"
    )


def concession_words(line: ConcessionLine) -> str:
    """One that may be relied on begins with CONCESSION; any other says first how it stands."""
    left = f", {line.left} left" if line.left else ""
    return (
        f"{'CONCESSION' if line.in_force else f'Concession {line.stands}:'} {line.reference} of"
        f" {line.authority}, over the {line.over}: {line.allows} ({line.where}, from"
        f" {line.from_on.isoformat()}, {line.ends}{left}; {line.document})"
    )


def engine_time_words(time: EngineTime) -> str:
    """'Linnet 142, cylinder 3, link rod: ran 218.05 h and 311 starts'."""
    where = f"{time.engine}, {time.where}" if time.where else time.engine
    return f"{where}: ran {hours_and_starts_words(time.hours, time.starts)}"


def parts_besides(sheet: TraceSheet) -> tuple[Stretch, ...]:
    """What it was part of through another piece; where it was at first hand, its places say."""
    places = {(stay.from_on, stay.to_on, stay.place) for stay in sheet.stays}
    return tuple(part for part in sheet.part_of if (part.from_on, part.to_on, part.place) not in places)


def _accepted_words(sheet: TraceSheet) -> str:
    if sheet.scope is None and not sheet.accepted_by and sheet.accepted_on is None:
        return "not yet"
    on = sheet.accepted_on.isoformat() if sheet.accepted_on else "date not recorded"
    return f"by {sheet.accepted_by}, {on}" if sheet.accepted_by else f"by whom not recorded, {on}"


def paper_words(paper: PaperLine) -> str:
    """'release certificate HW-221, dated 2019-03-02, from Brackwell; content held'."""
    words = [f"{paper.kind} {paper.reference}"]
    if paper.title:
        words.append(paper.title)
    words.append(f"dated {paper.dated_on.isoformat()}" if paper.dated_on else "not dated")
    if paper.firm:
        words.append(f"from {paper.firm}")
    return f"{', '.join(words)}; {held_words(paper)}"


def held_words(paper: PaperLine) -> str:
    """Whether we hold its content."""
    return "content held" if paper.content_held else "only its reference is held"


def hold_words(hold: HoldLine) -> str:
    """A hold that stands begins with ON HOLD; one that was cleared says when, by whom and why."""
    on_what = f" on {hold.on_what}" if hold.on_what else ""
    raised = f"{hold.reason} (raised{on_what} {hold.raised_on.isoformat()} by {hold.raised_by})"
    if hold.cleared_on is None:
        return f"ON HOLD: {raised}"
    because = f": {hold.cleared_because}" if hold.cleared_because else ""
    return f"Hold cleared {hold.cleared_on.isoformat()} by {hold.cleared_by}{because}. It was: {raised}"


def inspection_words(done: InspectionDone) -> str:
    """``Edwin Thackaberry, licence HL 2: serviceable for flight, by revision B``, and why against the
    figures.
    """
    licence = f", licence {done.licence_number}" if done.licence_number else ""
    scope = f" for {done.scope}" if done.scope is not None else ""
    revision = f", by revision {done.revision}" if done.revision else ", with no specification in force"
    words = f"{done.inspected_by}{licence}: {done.decided}{scope}{revision}"
    if done.against_proposal:
        words += f"; against the figures, which called it {done.proposed}"
    return f"{words}: {done.reason}" if done.reason else words


def inspection_lines(done: InspectionDone) -> list[str]:
    """A line for each dimension with its figures and its verdict then, and for each test; where the present
    revision judges otherwise, that too."""
    said = []
    for line in done.lines:
        figures = ", ".join(_reading_words(each) for each in line.readings)
        verdict = line.then.words if line.then is not None else "no limits were in force"
        differs = f"; {line.differs}" if line.differs else ""
        said.append(f"{line.name}: {figures}; {verdict}{differs}")
    for test in done.tests:
        result = "passed" if test.passed else "failed"
        more = "; ".join(each for each in (test.words, test.found) if each)
        said.append(f"{test.name}: {result}{f', {more}' if more else ''}")
    return said


def _reading_words(reading: ReadingDone) -> str:
    where = " ".join(each for each in (reading.point, reading.direction) if each)
    return f"{where} {reading.words}".strip()
