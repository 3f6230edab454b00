"""The life line of a piece or batch: where it was, what it ran there, what was held against it, and when."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta

from gui.shown import LifeLine, Moment, Stretch
from gui.views.piece_life import run_words
from invdb.acts.engine_runs import EngineRun
from invdb.acts.stays import INTO
from invdb.acts.thing_now import ThingNow
from invdb.rules.history import Gap, HoldLine, TraceEntry, TraceSheet
from invdb.rules.history import Stretch as Stay
from invdb.rules.life import prior_hours_words
from invdb.terms import EntryKind, PlaceKind

MISSING = "history missing"
FITTED = "fitted"
GAP_UNBEGUN = timedelta(days=365)

PLACE_SIGNS = {
    PlaceKind.STORES: "in stores",
    PlaceKind.BIN: "in stores",
    PlaceKind.QUARANTINE: "in quarantine",
    PlaceKind.FIRM: "out for work",
    PlaceKind.BENCH: "on the bench",
    PlaceKind.ENGINE: FITTED,
    PlaceKind.STATION: FITTED,
    PlaceKind.PIECE: FITTED,
    PlaceKind.PULL: "issued",
    PlaceKind.SCRAP: "unsalvageable",
}
# Entries with a mark of their own beneath the bands.
MARKED = {
    EntryKind.ACCEPTED: "inspection",
    EntryKind.CONDITION_SET: "inspection",
    EntryKind.EVENT_CLEARED: "inspection",
    EntryKind.COMPLIED: "inspection",
    EntryKind.BUILD_TAKEN_OVER: FITTED,
    EntryKind.FITTED: FITTED,
    EntryKind.STRIPPED: "stripped",
    EntryKind.ROBBED: "stripped",
    EntryKind.LIFE_RESET: "overhauled",
    EntryKind.CONCESSION: "concession",
}


def life_line_of(sheet: TraceSheet, now: ThingNow) -> LifeLine:
    """Bands for where it was, thin ones for holds, and a mark for what happened on a day."""
    today = sheet.printed_at.date()
    return LifeLine(
        today=today,
        stretches=(*_gap_stretches(sheet.gaps), *_place_stretches(sheet, now)),
        holds=tuple(_hold_stretch(sheet, hold) for hold in sheet.holds),
        moments=tuple(_moments(sheet)),
    )


def _gap_stretches(gaps: Sequence[Gap]) -> Iterable[Stretch]:
    """One band for each time that is missing, whatever is missing of it."""
    missing: dict[tuple[date, date | None], list[str]] = {}
    for gap in gaps:
        since = gap.from_on or (gap.to_on and gap.to_on - GAP_UNBEGUN)
        if since is None or since == gap.to_on:
            continue
        why = gap.why if gap.from_on else f"since no one knows when; {gap.why}"
        missing.setdefault((since, gap.to_on), []).append(why)
    for (since, until), reasons in missing.items():
        yield Stretch(since, until, MISSING, MISSING, "\n".join(reasons))


def _place_stretches(sheet: TraceSheet, now: ThingNow) -> Iterator[Stretch]:
    if sheet.is_batch:
        begun = _entry_on(sheet, sheet.received_on)
        sign = FITTED if now.all_fitted else "in stores"
        yield Stretch(sheet.received_on, None, sign, sheet.where_now, *_opened(begun))
        return
    runs = list(now.runs)
    for stay in sheet.stays:
        if stay.kind is PlaceKind.OUTSIDE:
            continue
        since = stay.from_on or sheet.received_on
        sign = PLACE_SIGNS[stay.kind]
        if sign == FITTED:
            own = [run for run in runs if _ran_during(run, since, stay.to_on)]
            runs = [run for run in runs if run not in own]
            yield from _fitted_stretches(sheet, stay, since, own)
        else:
            yield Stretch(since, stay.to_on, sign, stay.place, *_opened(_entry_on(sheet, since)))


def _ran_during(run: EngineRun, since: date, until: date | None) -> bool:
    """Whether a time in an engine began during a stay; what ended and began on one day is of the later."""
    began = run.began[0]
    return since <= began and (until is None or began < until or began == since == until)


def _fitted_stretches(
    sheet: TraceSheet, stay: Stay, since: date, runs: Sequence[EngineRun]
) -> Iterator[Stretch]:
    """A band for each time in an engine, and between them for the times inside a piece that was in none."""
    in_piece = stay.place.rpartition(INTO)[2]
    at = since
    for run in runs:
        began = run.began[0]
        if began > at:
            yield Stretch(at, began, FITTED, f"at {in_piece}, in no engine", *_opened(_entry_on(sheet, at)))
        where = ", ".join(word for word in (run.engine_name, run.seat) if word)
        hours = prior_hours_words(run.ran.hours.known())
        what, number = _opened(_entry_on(sheet, began))
        detail = "\n".join(line for line in (f"Ran {run_words(run)}", what) if line)
        ended = None if run.ended is None else run.ended[0]
        yield Stretch(began, ended, FITTED, f"{where}: {hours}", detail, number)
        if ended is None:
            return
        at = ended
    if not runs or (at != stay.to_on):
        yield Stretch(at, stay.to_on, FITTED, f"at {in_piece}, in no engine", *_opened(_entry_on(sheet, at)))


def _opened(entry: TraceEntry | None) -> tuple[str, int | None]:
    return (entry.what, entry.number) if entry is not None else ("", None)


def _entry_on(sheet: TraceSheet, day: date) -> TraceEntry | None:
    """The last entry of that day that still stands, which is what put the thing where it then was."""
    stand = (entry for entry in reversed(sheet.entries) if entry.reversed_by is None)
    return next((entry for entry in stand if entry.happened_on == day), None)


def _hold_stretch(sheet: TraceSheet, hold: HoldLine) -> Stretch:
    detail = f"raised by {hold.raised_by}"
    if hold.cleared_on is not None:
        detail += f"; cleared by {hold.cleared_by}: {hold.cleared_because}"
    raised = (e for e in sheet.entries if e.kind == EntryKind.HOLD_RAISED and e.reversed_by is None)
    number = next((entry.number for entry in raised if entry.happened_on == hold.raised_on), None)
    return Stretch(hold.raised_on, hold.cleared_on, "on hold", hold.reason, detail, number)


def _moments(sheet: TraceSheet) -> Iterator[Moment]:
    for paper in sheet.papers:
        if paper.dated_on is not None:
            yield Moment(paper.dated_on, "paper", f"{paper.kind} {paper.reference}", paper.title)
    for event in sheet.events:
        sign = "event not cleared" if event.cleared_on is None else "engine event"
        yield Moment(event.event_on, sign, event.what, event.note)
    for entry in sheet.entries:
        marked = next((MARKED[kind] for kind in MARKED if kind == entry.kind), None)
        if marked is not None and entry.reversed_by is None:
            yield Moment(entry.happened_on, marked, entry.kind, entry.what, entry.number)
