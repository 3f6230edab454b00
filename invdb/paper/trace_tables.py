"""A traceability sheet as tables for the workbook."""

from __future__ import annotations

from datetime import UTC

from invdb.paper.sheet_words import hazard_words
from invdb.paper.sheet_xlsx import Column, Kind, Mark, Row, Table
from invdb.paper.trace_words import NEVER_IN_AN_ENGINE, SIGNED_FIELDS, facts, held_words
from invdb.rules.history import Stretch, TraceSheet
from invdb.rules.life import LifeVerdict, prior_hours_words, prior_starts_words
from invdb.rules.life_limits import left_words, limit_words, used_words
from invdb.rules.quantities import quantity_and_unit


def trace_tables(sheet: TraceSheet) -> list[Table]:
    """A worksheet each: the thing with a place to sign, gaps, entries, papers, places, holds and events; of a
    piece its limits, concessions and directives, of a batch its quantities."""
    tables = [
        _thing_table(sheet),
        _gap_table(sheet),
        _entry_table(sheet),
        _paper_table(sheet),
        _place_table("Where it was", "where it has been", sheet.stays),
        _engine_time_table(sheet),
        _place_table("Part of", "what it was part of", sheet.part_of),
        _measured_table(sheet),
        _hold_table(sheet),
        _event_table(sheet),
    ]
    if not sheet.is_batch:
        tables += [_limit_table(sheet), _concession_table(sheet), _directive_table(sheet)]
    if sheet.is_batch:
        tables += [_quantity_table(sheet), _kin_table(sheet)]
    return tables


def _thing_table(sheet: TraceSheet) -> Table:
    rows = [Row(("Tag", sheet.tag)), Row(("Part", sheet.part_name)), Row(("Now at", sheet.where_now))]
    rows += [Row(line) for line in facts(sheet)]
    rows += [Row(("Hazard", words), Mark.SHORT) for words in hazard_words(sheet.hazards)]
    rows += [
        Row(("Last entry of the ledger", sheet.last_entry)),
        Row(("Hash of that entry", sheet.last_hash)),
        Row(("Record of work, to be signed", "")),
    ]
    rows += [Row((label, ""), lines_min=3) for fields in SIGNED_FIELDS for label in fields]
    return Table("Thing", "what it is", (Column("What", 30), Column("As recorded", 90)), rows)


def _gap_table(sheet: TraceSheet) -> Table:
    columns = (Column("From", 14, Kind.DATE), Column("To", 14, Kind.DATE), Column("Gap", 90))
    rows = [
        Row((gap.from_on or "not known", gap.to_on or "now", f"GAP: {gap.why}"), Mark.ALTERNATE)
        for gap in sheet.gaps
    ]
    return Table("Gaps", "gaps in its history", columns, rows)


def _entry_table(sheet: TraceSheet) -> Table:
    columns = (
        Column("Entry", 8, Kind.WHOLE),
        Column("Date", 12, Kind.DATE),
        Column("Kind", 16),
        Column("What was done", 60),
        Column("By whom", 22),
        Column("Certificate", 22),
        Column("Note", 36),
        Column("Reverses", 10, Kind.WHOLE),
        Column("REVERSED by", 12, Kind.WHOLE),
        Column("Recorded (UTC)", 20, Kind.INSTANT),
    )
    rows = []
    for entry in sheet.entries:
        recorded = entry.recorded_at.astimezone(UTC) if entry.recorded_at.tzinfo else entry.recorded_at
        values = (
            entry.number,
            entry.happened_on,
            entry.kind,
            entry.what,
            entry.who,
            entry.licence,
            entry.note,
            entry.reverses,
            entry.reversed_by,
            recorded,
        )
        rows.append(Row(values, Mark.NONE if entry.reversed_by is None else Mark.QUIET))
    return Table("Entries", "every entry, in order", columns, rows)


def _paper_table(sheet: TraceSheet) -> Table:
    columns = (
        Column("Kind", 22),
        Column("Reference", 24),
        Column("Title", 40),
        Column("Dated", 12, Kind.DATE),
        Column("Firm", 28),
        Column("Held", 26),
    )
    rows = [
        Row((str(p.kind), p.reference, p.title, p.dated_on or "not dated", p.firm, held_words(p)))
        for p in sheet.papers
    ]
    return Table("Papers", "papers", columns, rows)


def _place_table(name: str, title: str, stretches: tuple[Stretch, ...]) -> Table:
    columns = (
        Column("From", 14, Kind.DATE),
        Column("To", 14, Kind.DATE),
        Column("Place", 60),
        Column("Kind of place", 18),
    )
    rows = [Row((s.from_on or "not known", s.to_on or "now", s.place, str(s.kind))) for s in stretches]
    return Table(name, title, columns, rows)


def _engine_time_table(sheet: TraceSheet) -> Table:
    columns = (
        Column("From", 14, Kind.DATE),
        Column("To", 14, Kind.DATE),
        Column("Engine", 24),
        Column("Where", 40),
        Column("Hours run", 30),
        Column("Starts run", 30),
    )
    rows = [
        Row(
            (
                time.from_on,
                time.to_on or "now",
                time.engine,
                time.where,
                prior_hours_words(time.hours),
                prior_starts_words(time.starts),
            )
        )
        for time in sheet.engine_times
    ]
    return Table("Engines", "in which engines, and what they ran", columns, rows, NEVER_IN_AN_ENGINE)


def _measured_table(sheet: TraceSheet) -> Table:
    columns = (
        Column("On", 12, Kind.DATE),
        Column("By", 26),
        Column("Decided", 24),
        Column("What", 22),
        Column("Where", 18),
        Column("Figure", 30),
        Column("Verdict", 40),
        Column("Instrument", 20),
    )
    rows = []
    for done in sheet.inspections:
        by = (
            f"{done.inspected_by}, licence {done.licence_number}"
            if done.licence_number
            else done.inspected_by
        )
        decided = f"{done.decided} for {done.scope}" if done.scope is not None else str(done.decided)
        start = (done.inspected_on, by, decided)
        for line in done.lines:
            for reading in line.readings:
                where = ", ".join(each for each in (reading.point, reading.direction) if each)
                verdict = reading.then.words if reading.then is not None else "no limits then"
                rows.append(Row((*start, line.name, where, reading.words, verdict, reading.instrument)))
        for test in done.tests:
            verdict = "passed" if test.passed else "failed"
            rows.append(Row((*start, test.name, "", test.words, verdict, "")))
    return Table("Measured", "what it measured", columns, rows)


def _hold_table(sheet: TraceSheet) -> Table:
    columns = (
        Column("On", 16),
        Column("Reason", 50),
        Column("Raised", 12, Kind.DATE),
        Column("Raised by", 22),
        Column("Cleared", 12, Kind.DATE),
        Column("Cleared by", 22),
        Column("Because", 40),
    )
    rows = []
    for hold in sheet.holds:
        stands = hold.cleared_on is None
        values = (
            hold.on_what,
            f"ON HOLD: {hold.reason}" if stands else hold.reason,
            hold.raised_on,
            hold.raised_by,
            hold.cleared_on,
            hold.cleared_by,
            hold.cleared_because,
        )
        rows.append(Row(values, Mark.SHORT if stands else Mark.NONE))
    return Table("Holds", "holds", columns, rows)


def _event_table(sheet: TraceSheet) -> Table:
    columns = (
        Column("Happened", 12, Kind.DATE),
        Column("Event", 50),
        Column("Note", 36),
        Column("Cleared", 14, Kind.DATE),
        Column("Cleared by", 22),
        Column("Inspection", 44),
    )
    rows = [
        Row(
            (
                event.event_on,
                f"{event.what}{' (only what is fitted)' if event.fitted_only else ''}",
                event.note,
                event.cleared_on or "NOT CLEARED",
                event.cleared_by,
                event.inspection,
            ),
            Mark.SHORT if event.cleared_on is None else Mark.NONE,
        )
        for event in sheet.events
    ]
    return Table("Events", "engine events that it was inside for", columns, rows)


def _limit_table(sheet: TraceSheet) -> Table:
    columns = (
        Column("Limit", 44),
        Column("Used", 30),
        Column("Left", 30),
        Column("Verdict", 16),
        Column("Set by", 30),
    )
    rows = [
        Row(
            (
                limit_words(line.limit),
                used_words(line),
                left_words(line),
                f"{line.verdict}{', where it holds' if line.depends else ''}",
                line.limit.source,
            ),
            Mark.NONE if line.verdict is LifeVerdict.WITHIN else Mark.SHORT,
        )
        for line in sheet.limits
    ]
    return Table("Limits", "limits of its life", columns, rows)


def _concession_table(sheet: TraceSheet) -> Table:
    columns = (
        Column("Concession", 14),
        Column("Authority", 16),
        Column("Over", 12),
        Column("Allows", 36),
        Column("Where", 24),
        Column("From", 12, Kind.DATE),
        Column("Ends", 26),
        Column("Left", 16),
        Column("Stands", 14),
        Column("Document", 20),
    )
    rows = [
        Row(
            (
                line.reference,
                line.authority,
                line.over,
                line.allows,
                line.where,
                line.from_on,
                line.ends,
                line.left,
                line.stands,
                line.document,
            ),
            Mark.ALTERNATE if line.in_force else Mark.QUIET,
        )
        for line in sheet.concessions
    ]
    return Table("Concessions", "what an authority allows beyond limits", columns, rows)


def _directive_table(sheet: TraceSheet) -> Table:
    columns = (
        Column("Directive", 40),
        Column("Complied", 12, Kind.DATE),
        Column("By", 24),
        Column("Method", 50),
    )
    rows = [
        Row((line.directive, line.complied_on, line.complied_by, line.method)) for line in sheet.compliances
    ]
    return Table("Directives", "directives complied with on it", columns, rows)


def _quantity_table(sheet: TraceSheet) -> Table:
    columns = (
        Column("Place", 50),
        Column("Quantity", 14, Kind.NUMBER),
        Column("Unit", 8),
        Column("Reserved", 14, Kind.NUMBER),
        Column("Unit of it", 10),
    )
    rows = []
    for at in sheet.quantities:
        quantity, unit = quantity_and_unit(at.quantity, sheet.measure)
        reserved, reserved_unit = quantity_and_unit(at.reserved, sheet.measure)
        rows.append(Row((at.place, quantity, unit, reserved, reserved_unit)))
    return Table("Quantities", "how much, and where", columns, rows)


def _kin_table(sheet: TraceSheet) -> Table:
    columns = (
        Column("Relation", 24),
        Column("Batch", 18),
        Column("Condition", 18),
        Column("Quantity", 14, Kind.NUMBER),
        Column("Unit", 8),
        Column("On", 12, Kind.DATE),
    )
    rows = []
    for kin in sheet.kin:
        figure, unit = (None, "") if kin.quantity is None else quantity_and_unit(kin.quantity, sheet.measure)
        rows.append(Row((kin.relation, kin.tag, str(kin.condition), figure, unit, kin.on)))
    return Table("Split", "split from, and split into", columns, rows)
