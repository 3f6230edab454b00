"""The status sheet of an engine on paper: what an owner hands over with it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from invdb.paper.sheet_columns import (
    ALARM,
    DOUBT,
    SMALL,
    STRONG,
    TEXT,
    Ruled,
    Said,
    heading,
    named_line,
    plain,
    section,
    table,
)
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
    NO_LOG,
    NONE_SAID,
    NOTHING_AGAINST,
    SIGNED_FIELDS,
    gap_days,
    hold_subject,
    overhauled_words,
    status_tables,
)
from invdb.rules.against import against
from invdb.rules.concessions import ConcessionVerdict
from invdb.rules.life import hours_and_starts_words, prior_hours_words, prior_starts_words
from invdb.rules.life_limits import left_words, limit_words, used_words
from invdb.rules.status import (
    DirectiveLine,
    LifeLine,
    LimitStanding,
    PresumedPositions,
    StatusSheet,
    meter_words,
    of_late_words,
    presumed_positions,
)
from invdb.rules.told import counted

_TITLE = Style(20, strong=True)
_NAME = Style(12, strong=True)
_LABEL = Style(8, colour=SMALL.colour)
_BIG = Style(14, strong=True)
_GRAVE = Style(9, strong=True, colour=RED, ground=RED_PALE)
_DOUBTED = Style(9, strong=True, colour=AMBER, ground=AMBER_PALE)
_STATIONS = Style(8)

_LABEL_WIDTH = 65.0
_GUTTER = 9.0
_ON_WIDTH = 130.0
_LIMIT_COLUMNS = (("Used", 89), ("Left", 89), ("Verdict and forecast", 108))


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
    found = against(sheet)
    if not found:
        yield named_line("What stands against it", NOTHING_AGAINST, width)
        return
    yield heading("What stands against it", width)
    for each in found:
        style, edge = (_GRAVE, RED) if each.grave else (_DOUBTED, AMBER)
        yield Block([Cell(0, width).add(each.words, style)], pad=1.5, edge=edge)


def _total_blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    totals = sheet.totals
    if totals.log_begun_on is None:
        yield heading("Time in service", width)
        yield _fact("Hours in all", prior_hours_words(totals.hours), width)
        yield _fact("Starts in all", prior_starts_words(totals.starts), width)
        yield _fact("Log", NO_LOG, width)
    else:
        since = f"Since the log began, {totals.log_begun_on.isoformat()}"
        columns = (("", 56), ("In all", 141), (since, 168), ("Before that", 133))
        logged = totals.logged
        flown = f"{prior_hours_words(logged.flight.known())} of flight"
        grounded = f"{prior_hours_words(logged.ground.known())} on the ground"
        rows = [
            Ruled(
                (
                    [("Hours", SMALL)],
                    [(prior_hours_words(totals.hours), STRONG)],
                    [f"{flown}, {grounded}"],
                    [prior_hours_words(totals.before_hours)],
                )
            ),
            Ruled(
                (
                    [("Starts", SMALL)],
                    [(prior_starts_words(totals.starts), STRONG)],
                    [prior_starts_words(logged.starts.known())],
                    [prior_starts_words(totals.before_starts)],
                )
            ),
        ]
        yield from section("Time in service", columns, rows, "", width)
        yield _fact("Of late", of_late_words(sheet), width)
    yield _fact("Meter", meter_words(sheet.meter), width)


def _fact(label: str, words: str, width: float) -> Block:
    cells = [
        Cell(0, _LABEL_WIDTH - _GUTTER).add(label, SMALL),
        Cell(_LABEL_WIDTH, width - _LABEL_WIDTH).add(words, TEXT),
    ]
    return Block(cells, pad=2)


def _overhaul_blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    overhaul = sheet.overhaul
    yield heading("Overhaul", width)
    yield _fact("Overhauled", overhauled_words(overhaul), width)
    yield _fact("Run since", hours_and_starts_words(overhaul.hours, overhaul.starts), width)
    if not overhaul.limits:
        yield _fact("Limit", NONE_SAID["overhaul limits"], width)
        return
    rows = [_limit_row([(limit_words(each.line.limit), STRONG)], each) for each in overhaul.limits]
    yield from table((("Limit of the engine", 212), *_LIMIT_COLUMNS), rows, width)
    yield from _sources_block(overhaul.limits, width)


def _limit_row(named: list[Said], standing: LimitStanding) -> Ruled:
    life = standing.line
    alarm = standing.expired
    style = STRONG if standing.settled else ALARM if alarm else DOUBT
    verdict: list[Said] = [(str(life.verdict), style)]
    if standing.forecast:
        verdict.append(standing.forecast)
    return Ruled((named, [used_words(life)], [left_words(life)], verdict), alarm, not standing.settled)


def _sources_block(limits: Iterable[LimitStanding], width: float) -> Iterator[Block]:
    """What sets limits, said once below those that it sets."""
    set_by: dict[str, list[str]] = {}
    for each in limits:
        if source := each.line.limit.source:
            set_by.setdefault(source, []).append(limit_words(each.line.limit))
    if set_by:
        said = (f"{', '.join(dict.fromkeys(words))}: {source}" for source, words in set_by.items())
        yield plain(f"Limits are set by: {'; '.join(said)}", width, SMALL)


def _life_blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    rows = [row for line in sheet.life for row in _life_rows(line)]
    columns = (("Piece; station, part number, serial; limit", 212), *_LIMIT_COLUMNS)
    yield from section("Life-limited pieces", columns, rows, NONE_SAID["life"], width)
    yield from _sources_block([each for line in sheet.life for each in line.limits], width)


def _life_rows(line: LifeLine) -> Iterator[Ruled]:
    serial = line.serial or "no serial"
    piece: list[Said] = [
        (f"{line.part_name}, {line.tag}", STRONG),
        (f"{line.station} · {line.part_number} · {serial}", SMALL),
    ]
    if not line.limits:
        ran = prior_hours_words(line.since_new.hours.known())
        yield Ruled((piece, [ran], ["not known"], [(NONE_SAID["limit"], DOUBT)]), doubt=True)
    for which, standing in enumerate(line.limits):
        # Further limits of the same piece stand below the governing one, which names it.
        named: list[Said] = piece if which == 0 else [(f"{line.tag}, further limit", SMALL)]
        yield _limit_row([*named, f"limit {limit_words(standing.line.limit)}"], standing)


def _directive_blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    columns = (("Directive", 38), ("What it orders", 28), ("Complied with", 26), ("How it stands", 26))
    rows = [_directive_row(line) for line in sheet.directives if not line.not_applicable]
    yield from section("Directives", columns, rows, NONE_SAID["directives"], width)
    for line in sheet.directives:
        if line.not_applicable:
            named = f"{_directive_words(line)} ({line.title})"
            yield plain(f"{named} does not apply: {line.not_applicable}", width, SMALL)


def _directive_words(line: DirectiveLine) -> str:
    return f"{line.reference}, issue {line.issue}" if line.issue else line.reference


def _directive_row(line: DirectiveLine) -> Ruled:
    named: list[Said] = [(_directive_words(line), STRONG), line.title]
    if line.subject:
        named.append((line.subject, SMALL))
    complied: list[Said] = ["not yet"]
    if line.complied_on is not None:
        complied = [line.complied_on.isoformat(), f"by {line.complied_by}", (line.complied_method, SMALL)]
    style = ALARM if line.overdue else DOUBT if line.in_doubt else TEXT
    verdict = str(line.verdict)
    stands: list[Said] = [(verdict.upper() if line.overdue else verdict, style), line.next_due]
    ordered: list[Said] = [line.method, (line.terms, SMALL)]
    return Ruled((named, ordered, complied, stands), line.overdue, line.in_doubt)


def _concession_blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    columns = (("Concession", 26), ("For", 28), ("What it allows", 36), ("Ends, and what is left", 30))
    rows = []
    for line in sheet.concessions:
        named: list[Said] = [(line.reference, STRONG), line.authority]
        if line.document:
            named.append((f"document {line.document}", SMALL))
        unknown = line.verdict is ConcessionVerdict.UNKNOWN
        left: Said = (line.left, DOUBT if unknown else STRONG)
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
        Ruled((_presumed_at(at), _presumed_there(at)), doubt=True)
        for at in presumed_positions(sheet.presumed)
    ]
    of_two = (("Position", 28), ("At which stations", 88))
    yield from section("Presumed, not identified", of_two, presumed, NONE_SAID["presumed"], width)


def _presumed_at(at: PresumedPositions) -> list[Said]:
    each = " each" if at.several else ""
    things = counted(at.things, "thing", "things")
    return [(at.positions, STRONG), f"{things}{each}", (f"since {at.presumed_on.isoformat()}", SMALL)]


def _presumed_there(at: PresumedPositions) -> list[Said]:
    """The stations by name; what is renewed always is new at the next fitting anyway, and only counted."""
    said: list[Said] = [(" · ".join(at.stations), _STATIONS)] if at.stations else []
    if at.renewed_always:
        said.append((f"{'and ' if said else ''}{at.renewed_always} of what is renewed always", SMALL))
    return said


def _gap_blocks(sheet: StatusSheet, width: float) -> Iterator[Block]:
    rows = [Ruled(([gap_days(gap)], [(gap.why, DOUBT)], [gap.of]), doubt=True) for gap in sheet.gaps]
    columns = (("When", 80), ("What is not known", 165), ("Of", 253))
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
