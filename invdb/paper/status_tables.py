"""What a status sheet says, in words for the page and as tables for the workbook."""

from __future__ import annotations

from decimal import Decimal

from invdb.paper.sheet_xlsx import Column, Kind, Mark, Row, Table
from invdb.rules.against import against
from invdb.rules.concessions import ConcessionVerdict
from invdb.rules.directives import DirectiveVerdict
from invdb.rules.history import HoldLine
from invdb.rules.life import LifeVerdict, prior_hours_words, prior_starts_words
from invdb.rules.life_limits import left_words, limit_words, used_words
from invdb.rules.status import (
    DirectiveLine,
    LimitStanding,
    OverhaulStatus,
    StatusGap,
    StatusSheet,
    meter_words,
    of_late_words,
)
from invdb.terms import LifeMeasure

NO_LOG = "no log is kept"
NOTHING_AGAINST = "Nothing on record stands against it"
NONE_SAID = {
    "overhaul limits": "No overhaul life is recorded for this type",
    "life": "No life-limited piece is in it, so far as recorded",
    "limit": "no limit is recorded",
    "directives": "No directive applies",
    "concessions": "No concession is granted for it",
    "holds": "Nothing is on hold",
    "events": "No event stands uncleared",
    "mods": "No mod is embodied, so far as recorded",
    "incomplete": "No station is known to be incomplete",
    "debts": "Nothing was robbed from it that is still owed",
    "presumed": "No station is presumed",
    "gaps": "None found in what is recorded",
}
SIGNED_FIELDS = (("Name", "Licence number"), ("Signature", "Date"))


def total_lines(sheet: StatusSheet) -> list[tuple[str, str]]:
    """Label and words of all that the engine ran; flight and ground are told apart since the log began."""
    totals = sheet.totals
    begun = f" since {totals.log_begun_on.isoformat()}" if totals.log_begun_on else ""
    lines = [
        ("Hours in all", prior_hours_words(totals.hours)),
        ("Starts in all", prior_starts_words(totals.starts)),
    ]
    if totals.log_begun_on is None:
        lines.append(("Log", NO_LOG))
    else:
        lines += [
            (f"Flight{begun}", prior_hours_words(totals.logged.flight.known())),
            (f"Ground{begun}", prior_hours_words(totals.logged.ground.known())),
            (f"Starts{begun}", prior_starts_words(totals.logged.starts.known())),
            ("Before the log", prior_hours_words(totals.before_hours)),
            ("Starts before it", prior_starts_words(totals.before_starts)),
        ]
        lines.append(("Ran of late", of_late_words(sheet)))
    lines.append(("Meter", meter_words(sheet.meter)))
    return lines


def overhauled_words(overhaul: OverhaulStatus) -> str:
    """'2018-03-12, by report HW-77', or that none is recorded."""
    if overhaul.overhauled_on is None and not overhaul.report:
        return "none is recorded: all counts since new"
    on = overhaul.overhauled_on.isoformat() if overhaul.overhauled_on else "day not known"
    return f"{on}; report: {overhaul.report}"


def gap_days(gap: StatusGap) -> str:
    """'1964-05-01 to 2019-03-02', 'until 2018-04-01', 'since 2023-01-09', 'always'."""
    if gap.from_on is None:
        return "always" if gap.to_on is None else f"until {gap.to_on.isoformat()}"
    began = gap.from_on.isoformat()
    return f"since {began}" if gap.to_on is None else f"{began} to {gap.to_on.isoformat()}"


def hold_subject(hold: HoldLine) -> str:
    """What a hold is on; the engine itself where nothing else is named."""
    return hold.on_what or "the engine"


def status_tables(sheet: StatusSheet) -> list[Table]:
    """A worksheet each: the engine with a place to sign, life, directives, and so on as on the page."""
    return [
        _engine_table(sheet),
        _life_table(sheet),
        _directive_table(sheet),
        _concession_table(sheet),
        _hold_table(sheet),
        _event_table(sheet),
        _mod_table(sheet),
        _build_table(sheet),
        _gap_table(sheet),
    ]


def _engine_table(sheet: StatusSheet) -> Table:
    rows = [
        Row(("Engine", sheet.name)),
        Row(("Type", sheet.type_name)),
        Row(("Serial", sheet.serial)),
        Row(("Owner", sheet.owner)),
        Row(("Use", str(sheet.use))),
        Row(("Status as of", sheet.as_of.isoformat())),
    ]
    found = against(sheet)
    rows += [
        Row(("Stands against it", each.words), Mark.SHORT if each.grave else Mark.ALTERNATE) for each in found
    ]
    if not found:
        rows.append(Row(("Stands against it", NOTHING_AGAINST)))
    rows += [Row(line) for line in total_lines(sheet)]
    overhaul = sheet.overhaul
    rows += [
        Row(("Overhauled", overhauled_words(overhaul))),
        Row(("Hours since", prior_hours_words(overhaul.hours))),
        Row(("Starts since", prior_starts_words(overhaul.starts))),
        Row(("Last entry of the ledger", sheet.last_entry)),
        Row(("Hash of that entry", sheet.last_hash)),
        Row(("Signed for this status", "")),
    ]
    rows += [Row((label, ""), lines_min=3) for pair in SIGNED_FIELDS for label in pair]
    return Table("Engine", "the engine", (Column("What", 30), Column("As recorded", 90)), rows)


def _life_table(sheet: StatusSheet) -> Table:
    columns = (
        Column("Station", 22),
        Column("Tag", 12),
        Column("Part number", 12),
        Column("Part", 18),
        Column("Serial", 10),
        Column("Used", 27),
        Column("Limit", 22),
        Column("Left", 30),
        Column("Least left", 10, Kind.NUMBER),
        Column("Unit", 7),
        Column("Verdict", 12),
        Column("Forecast", 26),
        Column("Limit set by", 14),
    )
    rows = [
        _limit_row((line.station, line.tag, line.part_number, line.part_name, line.serial), standing)
        for line in sheet.life
        for standing in line.limits
    ]
    rows += [
        Row(
            (
                line.station,
                line.tag,
                line.part_number,
                line.part_name,
                line.serial,
                prior_hours_words(line.since_new.hours.known()),
                NONE_SAID["limit"],
            ),
            Mark.ALTERNATE,
        )
        for line in sheet.life
        if not line.limits
    ]
    rows += [
        _limit_row(("", "", "", "the engine's overhaul life", ""), standing)
        for standing in sheet.overhaul.limits
    ]
    return Table("Life", "life-limited pieces, and overhaul life", columns, rows, NONE_SAID["life"])


def _limit_row(named: tuple[str, ...], standing: LimitStanding) -> Row:
    line = standing.line
    figure: Decimal | str = "not known"
    if line.left_worst is not None:
        hours = line.limit.measure is LifeMeasure.HOURS
        figure = Decimal(line.left_worst) / 100 if hours else Decimal(line.left_worst)
    mark = Mark.NONE
    if not standing.settled:
        mark = Mark.SHORT if line.verdict is LifeVerdict.EXPIRED else Mark.ALTERNATE
    words = (used_words(line), limit_words(line.limit), left_words(line))
    verdict = (str(line.verdict), standing.forecast, line.limit.source)
    return Row((*named, *words, figure, str(line.limit.measure), *verdict), mark)


def _directive_table(sheet: StatusSheet) -> Table:
    columns = (
        Column("Reference", 14),
        Column("Issue", 6),
        Column("Title", 26),
        Column("On", 20),
        Column("Method", 20),
        Column("When it is to be complied with", 22),
        Column("Complied on", 12, Kind.DATE),
        Column("By", 14),
        Column("How", 20),
        Column("Next due", 22),
        Column("Standing", 12),
        Column("Why it does not apply", 24),
    )
    rows = [
        Row(
            (
                line.reference,
                line.issue,
                line.title,
                line.subject or ("" if line.not_applicable else "the engine"),
                line.method,
                line.terms,
                line.complied_on,
                line.complied_by,
                line.complied_method,
                line.next_due,
                _directive_verdict(line),
                line.not_applicable,
            ),
            _DIRECTIVE_MARKS.get(line.verdict, Mark.NONE),
        )
        for line in sheet.directives
    ]
    return Table("Directives", "directives", columns, rows, NONE_SAID["directives"])


_DIRECTIVE_MARKS = {
    DirectiveVerdict.OVERDUE: Mark.SHORT,
    DirectiveVerdict.UNKNOWN: Mark.ALTERNATE,
    DirectiveVerdict.DUE_SOON: Mark.ALTERNATE,
    None: Mark.QUIET,
}


def _directive_verdict(line: DirectiveLine) -> str:
    if line.verdict is None:
        return "does not apply"
    return str(line.verdict).upper() if line.overdue else str(line.verdict)


def _concession_table(sheet: StatusSheet) -> Table:
    columns = (
        Column("Reference", 16),
        Column("Authority", 20),
        Column("Document", 14),
        Column("Piece", 20),
        Column("Station", 20),
        Column("What it allows", 32),
        Column("Ends", 22),
        Column("Left", 16),
    )
    rows = [
        Row(
            (
                line.reference,
                line.authority,
                line.document,
                line.piece,
                line.station,
                line.allows,
                line.ends,
                "ENDED" if line.ended else line.left,
            ),
            _CONCESSION_MARKS.get(line.verdict, Mark.NONE),
        )
        for line in sheet.concessions
    ]
    return Table("Concessions", "concessions", columns, rows, NONE_SAID["concessions"])


_CONCESSION_MARKS = {ConcessionVerdict.ENDED: Mark.SHORT, ConcessionVerdict.UNKNOWN: Mark.ALTERNATE}


def _hold_table(sheet: StatusSheet) -> Table:
    columns = (
        Column("On hold", 34),
        Column("Reason", 60),
        Column("Raised", 12, Kind.DATE),
        Column("Raised by", 24),
    )
    rows = [
        Row((hold_subject(hold), hold.reason, hold.raised_on, hold.raised_by), Mark.SHORT)
        for hold in sheet.holds
    ]
    return Table("Holds", "holds", columns, rows, NONE_SAID["holds"])


def _event_table(sheet: StatusSheet) -> Table:
    columns = (
        Column("Event", 24),
        Column("On", 12, Kind.DATE),
        Column("Engine", 24),
        Column("Note", 44),
        Column("Not cleared of it", 50),
    )
    rows = [
        Row(
            (event.kind, event.event_on, event.of_engine, event.note, ", ".join(event.not_cleared)),
            Mark.SHORT,
        )
        for event in sheet.events
    ]
    return Table("Events", "events not cleared", columns, rows, NONE_SAID["events"])


def _mod_table(sheet: StatusSheet) -> Table:
    columns = (Column("Mod", 18), Column("Name", 70), Column("Embodied on", 14, Kind.DATE))
    rows = [Row((mod.code, mod.name, mod.since_on or "not known")) for mod in sheet.mods]
    return Table("Mods", "mods embodied", columns, rows, NONE_SAID["mods"])


def _build_table(sheet: StatusSheet) -> Table:
    columns = (
        Column("What", 18),
        Column("Station", 24),
        Column("Part", 26),
        Column("Missing", 34),
        Column("Since", 12, Kind.DATE),
        Column("For", 18),
        Column("By whose word", 18),
        Column("Reason", 30),
    )
    rows = [
        Row(("incomplete", at.position, "", words, None, "", "", ""), Mark.ALTERNATE)
        for at in sheet.incomplete
        for words in at.missing
    ]
    rows += [
        Row(
            (
                "owed back",
                debt.station,
                debt.part,
                "",
                debt.owed_on,
                debt.for_engine,
                debt.authorised_by,
                debt.reason,
            ),
            Mark.ALTERNATE,
        )
        for debt in sheet.debts
    ]
    rows += [
        Row(("presumed, not identified", at.where, at.part, "", at.presumed_on, "", "", ""), Mark.ALTERNATE)
        for at in sheet.presumed
    ]
    none = ". ".join(NONE_SAID[kind] for kind in ("incomplete", "debts", "presumed"))
    return Table("Build", "incomplete, owed back, presumed", columns, rows, none)


def _gap_table(sheet: StatusSheet) -> Table:
    columns = (
        Column("Of", 34),
        Column("From", 14, Kind.DATE),
        Column("To", 14, Kind.DATE),
        Column("Gap", 80),
    )
    rows = [
        Row((gap.of, gap.from_on or "not known", gap.to_on or "now", gap.why), Mark.ALTERNATE)
        for gap in sheet.gaps
    ]
    return Table("Gaps", "gaps in its history", columns, rows, NONE_SAID["gaps"])
