"""The status sheet of an engine on paper: what an owner hands over with it."""

from __future__ import annotations

from collections.abc import Iterator

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
    SheetHead,
    Style,
    box,
    pdf_of,
    room_width,
)
from invdb.paper.sheet_words import PageName, instant_words
from invdb.paper.sheet_xlsx import BookHead, workbook_of
from invdb.paper.status_tables import (
    NONE_SAID,
    NOTHING_AGAINST,
    SIGNED_FIELDS,
    hold_subject,
    status_tables,
    total_lines,
)
from invdb.rules.concessions import ConcessionVerdict
from invdb.rules.directives import DirectiveVerdict
from invdb.rules.life import LifeVerdict, prior_hours_words, prior_starts_words
from invdb.rules.life_limits import left_words, limit_words, used_words
from invdb.rules.status import (
    DirectiveLine,
    LifeLine,
    LimitStanding,
    StatusSheet,
    against,
)

_TITLE = Style(20, strong=True)
_NAME = Style(12, strong=True)
_LABEL = Style(8, colour=SMALL.colour)
_BIG = Style(14, strong=True)
_AGAINST = Style(9, strong=True, colour=RED, ground=RED_PALE)
_GAP = Style(9, strong=True, colour=AMBER, ground=AMBER_PALE)

_LABEL_WIDTH = 130.0
_GUTTER = 9.0
_ON_WIDTH = 130.0


def write_status_sheet_pdf(sheet: StatusSheet, target: SheetTarget, page: PageName = "A4") -> None:
    """Write the status sheet as PDF; Refused if the target cannot be written."""
    head = SheetHead(sheet.workshop, _title(sheet), instant_words(sheet.printed_at))
    write_whole(pdf_of(list(_blocks(sheet, room_width(page))), head, page), target)


def write_status_sheet_xlsx(sheet: StatusSheet, target: SheetTarget, page: PageName = "A4") -> None:
    """Write the status sheet as a workbook; Refused if the target cannot be written."""
    head = BookHead(sheet.workshop, _title(sheet), sheet.printed_at)
    write_whole(workbook_of(status_tables(sheet), head, page), target)


def _title(sheet: StatusSheet) -> str:
    return f"Status sheet {sheet.name}, {sheet.type_name} {sheet.serial}, as of {sheet.as_of.isoformat()}"


def _blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    yield _identity_block(sheet, width)
    yield from _against_blocks(sheet, width)
    yield from _total_blocks(sheet, width)
    yield from _overhaul_blocks(sheet, width)
    yield from _life_blocks(sheet, width)
    yield from _directive_blocks(sheet, width)
    yield from _concession_blocks(sheet, width)
    yield from _doubt_blocks(sheet, width)
    yield from _build_blocks(sheet, width)
    yield from _gap_blocks(sheet, width)
    yield _ledger_block(sheet, width)
    yield _signature_block(width)


def _identity_block(sheet: StatusSheet, width: float) -> Block:
    left = Cell(0, width - _ON_WIDTH - _GUTTER).add(sheet.name, _TITLE)
    left.add(f"{sheet.type_name}, serial {sheet.serial}", _NAME)
    left.add(f"For {sheet.use} · owner {sheet.owner}", TEXT)
    right = Cell(width - _ON_WIDTH, _ON_WIDTH).add("Status as of", _LABEL).add(sheet.as_of.isoformat(), _BIG)
    return Block([left, right], pad=6, rule=HAIR)


def _against_blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    yield heading("What stands against it", width)
    sentences = against(sheet)
    if not sentences:
        yield plain(NOTHING_AGAINST, width)
    for sentence in sentences:
        yield Block([Cell(0, width).add(sentence, _AGAINST)], pad=2, edge=RED)


def _total_blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    yield heading("Time in service", width)
    for label, words in total_lines(sheet):
        yield _fact(label, words, width)


def _fact(label: str, words: str, width: float) -> Block:
    cells = [
        Cell(0, _LABEL_WIDTH - _GUTTER).add(label, _LABEL),
        Cell(_LABEL_WIDTH, width - _LABEL_WIDTH).add(words, TEXT),
    ]
    return Block(cells, pad=2)


def _overhaul_blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    overhaul = sheet.overhaul
    yield heading("Overhaul", width)
    if overhaul.overhauled_on is None and not overhaul.report:
        yield plain("No overhaul is recorded: all counts since new", width)
    else:
        on = overhaul.overhauled_on.isoformat() if overhaul.overhauled_on else "day not known"
        yield _fact("Overhauled", f"{on}, report {overhaul.report}", width)
    yield _fact("Hours since", prior_hours_words(overhaul.hours), width)
    yield _fact("Starts since", prior_starts_words(overhaul.starts), width)
    if not overhaul.limits:
        yield _fact("Limit", NONE_SAID["overhaul limits"], width)
    for standing in overhaul.limits:
        life = standing.line
        words = f"{limit_words(life.limit)}: used {used_words(life)}; {left_words(life)}"
        yield _fact("Limit", words, width)
        marked = Cell(_LABEL_WIDTH, width - _LABEL_WIDTH)
        for line in _verdict_lines(standing):
            marked.add(*((line, TEXT) if isinstance(line, str) else line))
        yield Block([marked], pad=2)


def _verdict_lines(standing: LimitStanding) -> list[Said]:
    style = STRONG
    if not standing.settled:
        style = ALARM if standing.line.verdict is LifeVerdict.EXPIRED else DOUBT
    lines: list[Said] = [(str(standing.line.verdict), style)]
    if standing.forecast:
        lines.append(standing.forecast)
    if standing.line.limit.source:
        lines.append((f"limit set by {standing.line.limit.source}", SMALL))
    return lines


def _life_blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    rows = [row for line in sheet.life for row in _life_rows(line)]
    columns = (
        ("Station and piece", 34),
        ("Used", 20),
        ("Limit", 18),
        ("Left", 20),
        ("Verdict and forecast", 26),
    )
    yield from section("Life-limited pieces", columns, rows, NONE_SAID["life"], width)


def _life_rows(line: LifeLine) -> Iterator[Ruled]:
    serial = f"serial {line.serial}" if line.serial else "no serial"
    piece: list[Said] = [
        (line.station, SMALL),
        (line.part_name, STRONG),
        f"{line.tag} · {line.part_number}",
        serial,
    ]
    if not line.limits:
        ran = prior_hours_words(line.since_new.hours.known())
        yield Ruled((piece, [ran], [(NONE_SAID["limit"], DOUBT)], ["not known"], []), doubt=True)
    for which, standing in enumerate(line.limits):
        # Further limits of the same piece stand below the governing one, named again in short.
        named: list[Said] = piece if which == 0 else [f"{line.tag}, further limit"]
        life = standing.line
        figures = ([used_words(life)], [limit_words(life.limit)], [left_words(life)])
        alarm = life.verdict is LifeVerdict.EXPIRED
        yield Ruled((named, *figures, _verdict_lines(standing)), alarm, not standing.settled)


def _directive_blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    columns = (
        ("Directive", 36),
        ("Method", 26),
        ("Complied with", 26),
        ("Next due, or why it does not apply", 30),
    )
    rows = [_directive_row(line) for line in sheet.directives]
    yield from section("Directives", columns, rows, NONE_SAID["directives"], width)


def _directive_row(line: DirectiveLine) -> Ruled:
    issue = f", issue {line.issue}" if line.issue else ""
    named: list[Said] = [(f"{line.reference}{issue}", STRONG), line.title]
    if line.subject:
        named.append((line.subject, SMALL))
    complied: list[Said] = []
    if line.complied_on is not None:
        complied = [line.complied_on.isoformat(), f"by {line.complied_by}", (line.complied_method, SMALL)]
    elif not line.not_applicable:
        complied = [("not complied with yet", DOUBT)]
    due: list[Said] = [f"Does not apply: {line.not_applicable}"] if line.not_applicable else []
    unknown = line.verdict is DirectiveVerdict.UNKNOWN
    if line.overdue or unknown:
        due.append(("OVERDUE", ALARM) if line.overdue else ("NOT KNOWN", DOUBT))
    due.append(line.next_due)
    return Ruled((named, [line.method], complied, due), line.overdue, unknown)


def _concession_blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    columns = (("Concession", 26), ("For", 28), ("What it allows", 36), ("Ends, and what is left", 30))
    rows = []
    for line in sheet.concessions:
        named: list[Said] = [(line.reference, STRONG), line.authority]
        if line.document:
            named.append((f"document {line.document}", SMALL))
        unknown = line.verdict is ConcessionVerdict.UNKNOWN
        left: Said = (line.left, DOUBT) if unknown else line.left
        ends: list[Said] = [line.ends, ("ENDED", ALARM) if line.ended else left]
        piece: list[Said] = [line.piece, (line.station, SMALL)]
        rows.append(Ruled((named, piece, [line.allows], ends), line.ended, unknown))
    yield from section("Concessions", columns, rows, NONE_SAID["concessions"], width)


def _doubt_blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    holds = [
        Ruled(
            (
                [(hold_subject(hold), STRONG)],
                [hold.reason],
                [f"{hold.raised_on.isoformat()} by {hold.raised_by}"],
            ),
            alarm=True,
        )
        for hold in sheet.holds
    ]
    columns = (("On hold", 30), ("Reason", 54), ("Raised", 30))
    yield from section("Holds", columns, holds, NONE_SAID["holds"], width)
    events = [
        Ruled(
            (
                [(event.kind.capitalize(), STRONG), event.event_on.isoformat(), (event.of_engine, SMALL)],
                [event.note or "no note"],
                [", ".join(event.not_cleared)],
            ),
            alarm=True,
        )
        for event in sheet.events
    ]
    columns = (("Event", 30), ("Note", 42), ("Not cleared of it", 42))
    yield from section("Events not cleared", columns, events, NONE_SAID["events"], width)


def _build_blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    mods = [
        Ruled(([(mod.code, STRONG)], [mod.name], [mod.since_on.isoformat() if mod.since_on else "not known"]))
        for mod in sheet.mods
    ]
    heads = (("Mod", 20), ("Name", 70), ("Embodied on", 24))
    yield from section("Mods embodied", heads, mods, NONE_SAID["mods"], width)
    missing = [
        Ruled(([(at.position, STRONG)], [" · ".join(at.missing)]), doubt=True) for at in sheet.incomplete
    ]
    of_two = (("Position", 24), ("Missing at its stations", 90))
    yield from section("Incomplete stations", of_two, missing, NONE_SAID["incomplete"], width)
    debts = []
    for debt in sheet.debts:
        whither: list[Said] = [f"for {debt.for_engine}"] if debt.for_engine else []
        whither += [f"{debt.owed_on.isoformat()}, authorised by {debt.authorised_by}", (debt.reason, SMALL)]
        debts.append(Ruled(([(debt.station, STRONG)], [debt.part], whither), doubt=True))
    heads = (("Robbed from", 36), ("Part", 38), ("For which, when, by whose word", 40))
    yield from section("Owed back to it", heads, debts, NONE_SAID["debts"], width)
    presumed = [
        Ruled(([(at.station, STRONG)], [at.part], [at.presumed_on.isoformat()]), doubt=True)
        for at in sheet.presumed
    ]
    heads = (("Station", 36), ("Should be", 54), ("Presumed on", 24))
    yield from section("Presumed, not identified", heads, presumed, NONE_SAID["presumed"], width)


def _gap_blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    rows = []
    for gap in sheet.gaps:
        began = gap.from_on.isoformat() if gap.from_on else "not known"
        rows.append(
            Ruled(
                (
                    [gap.of],
                    [f"{began} to {gap.to_on.isoformat() if gap.to_on else 'now'}"],
                    [(f"GAP: {gap.why}", _GAP)],
                ),
                doubt=True,
            )
        )
    columns = (("Of", 50), ("From and to", 20), ("What is not known", 44))
    yield from section("Gaps in its history", columns, rows, NONE_SAID["gaps"], width)


def _ledger_block(sheet: StatusSheet, width: float) -> Block:
    words = Cell(0, width).space(4)
    words.add(f"The ledger ended with entry {sheet.last_entry} when this was printed; its hash is", _LABEL)
    return Block([words.add(sheet.last_hash, Style(8))], pad=5, with_next=True)


def _signature_block(width: float) -> Block:
    """Signed by hand by who hands the engine over."""
    cells = [Cell(0, width).add("Signed for this status", Style(12, strong=True))]
    marks = []
    field_width = (width - _GUTTER) / 2
    line_height, gap = 27.0, 12.0
    top = 24.0
    for pair in SIGNED_FIELDS:
        for place, label in enumerate(pair):
            x = place * (field_width + _GUTTER)
            cells.append(Cell(x, field_width).space(top).add(label, _LABEL))
            marks.append(box(x, top + gap, field_width, line_height))
        top += gap + line_height + 5
    return Block(cells, marks=marks, height_min=top + 20, pad=10)
