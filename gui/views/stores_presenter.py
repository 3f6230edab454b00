"""What the Stores view shows and why: the list and its filters, which acts fit, and what each form asks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from gui.job import Job
from gui.shown import Choice, Column, Empty, Page, Row, Sort
from gui.signs import sign
from gui.sitting import Sitting
from gui.views.form_plan import FormPlan
from gui.views.goods_in_offers import read_offered
from gui.views.goods_in_presenter import goods_in_form
from gui.views.kit_sheet_presenter import hours_cell
from gui.views.piece_presenter import PieceStory, identity_facts, story_of
from gui.views.reverse_form import reverse_form
from gui.views.stores_plans import Act, Key, plan_of
from invdb.acts.matched import matched_with
from invdb.acts.numbers import Thing
from invdb.acts.stock_filter import StockFilter
from invdb.acts.stock_list import StockRow, stock_choices, stock_count, stock_rows
from invdb.acts.stock_sort import StockColumn, StockSort
from invdb.acts.thing_now import ThingNow, thing_now
from invdb.acts.things import things_by_id
from invdb.acts.trace import trace_thing
from invdb.acts.work_list import WorkOrderFacts, work_due, work_orders
from invdb.rules.history import TraceSheet
from invdb.terms import Refused

HELP = """\
The list holds every piece and batch. Type to filter it, click a heading to sort it, and choose one to read \
its story. What may be done stands above the story, and in the menu of the list. What is fitted says in \
which engine; it is stripped there, in the Engines view, before it is moved, split or accepted.

Ctrl+N  book goods in
Ctrl+I  look at and accept
Ctrl+U  set the condition
Ctrl+M  move
Ctrl+S  split a batch
Ctrl+H  put on hold
Ctrl+L  clear a hold
Ctrl+Shift+K  clear of an engine event
Ctrl+P  attach papers
Ctrl+E  show what is fitted in its engine, to strip it there
Ctrl+Shift+G  record a concession
Ctrl+Shift+O  count since overhaul anew, by a report
Ctrl+Shift+C  recall the part or the batch
Ctrl+Shift+I  inspect, by its sheet on the Bench
Ctrl+Shift+S  send for work
Ctrl+Shift+B  book back from work
Ctrl+Shift+D  re-identify: another part, size or finish
Ctrl+Shift+A  match pieces that go back together
Ctrl+Shift+E  end a match
Ctrl+Shift+X  scrap
Ctrl+Shift+M  everything that may be done here
Ctrl+R  reverse an entry of the story
Ctrl+T  save the trace sheet (with Shift: as a workbook)
Enter  from the list into the story, Escape back"""

NOTHING_CHOSEN = Empty(
    "The story of a piece stands here.",
    "Choose one in the list, or find or scan its tag in the box above.",
)

COLUMNS = (
    Column("tag", "Tag", 80),
    Column("name", "Name", 134),
    Column("condition", "Condition", 124),
    Column("place", "Place", 158),
    Column("quantity", "Qty", 46, right=True),
    Column("scope", "Accepted for", 90),
    Column("serial", "Serial or lot", 96),
    Column("part", "Part", 92),
    Column("origin", "Origin", 112),
    Column("hours", "Hours run", 84, right=True),
    Column("reserved", "Reserved for", 96),
    Column("received", "Received", 92),
    Column("owner", "Owner", 180),
)
SORTED_BY = {
    "tag": StockColumn.TAG,
    "name": StockColumn.PART_NAME,
    "condition": StockColumn.CONDITION,
    "place": StockColumn.BIN,
    "quantity": StockColumn.QUANTITY,
    "scope": StockColumn.SCOPE,
    "serial": StockColumn.SERIAL,
    "part": StockColumn.PART_NUMBER,
    "origin": StockColumn.ORIGIN,
    "hours": StockColumn.HOURS,
    "reserved": StockColumn.RESERVED_FOR,
    "received": StockColumn.RECEIVED,
    "owner": StockColumn.OWNER,
}
FILTERS = (
    ("condition", "Condition"),
    ("place", "Place"),
    ("origin", "Origin"),
    ("family", "Family"),
    ("engine_type", "Engine type"),
)
ON_HOLD = "on hold"
IN_DOUBT = "event not cleared"
AT_WORK = "out for work"
OVERDUE = "overdue"
ONLY_WORDS = {"part": "part", "firm": "from", "document": "with the paper"}


@dataclass(frozen=True)
class ReverseEntry:
    """An entry that is to be reversed, and what it did in a sentence."""

    number: int
    what: str


@dataclass(frozen=True)
class BookInAgainst:
    """The line of an order of which something has come, to be booked in."""

    order_line: int


@dataclass(frozen=True)
class Only:
    """What the list is kept to beside its boxes: a part, a firm or a document, by its id, and its words."""

    kind: str
    id: int
    words: str


@dataclass(frozen=True)
class Shelf:
    """What the list is filtered by to show what was found: boxes by their names, or one thing alone."""

    boxes: Mapping[str, Any]
    only: Only | None = None


class StoresPresenter:
    """Reads on workers, each time in a session of its own; keeps what the list is filtered by."""

    sort_first = Sort("received", descending=True)

    def __init__(self, sitting: Sitting) -> None:
        self._sitting = sitting
        self._filter = StockFilter()

    def filter(self, shelf: Shelf) -> None:
        """Filter the list by this from now on; a box with None in it is no filter."""
        boxes, only = shelf.boxes, shelf.only
        condition = boxes.get("condition")
        self._filter = StockFilter(
            condition=condition if condition not in (ON_HOLD, IN_DOUBT, AT_WORK, OVERDUE) else None,
            on_hold=True if condition == ON_HOLD else None,
            in_doubt=condition == IN_DOUBT,
            at_work=True if condition == AT_WORK else None,
            overdue=condition == OVERDUE,
            place=boxes.get("place"),
            origin=boxes.get("origin"),
            family=boxes.get("family"),
            engine_type=boxes.get("engine_type"),
            part=only.id if only is not None and only.kind == "part" else None,
            firm=only.id if only is not None and only.kind == "firm" else None,
            document=only.id if only is not None and only.kind == "document" else None,
        )

    def choices(self) -> dict[str, tuple[Choice, ...]]:
        """What each box offers; to be called on a worker."""
        with self._sitting.store.reading() as session:
            found = stock_choices(session)
            orders = work_orders(session)
        out = [line for order in orders for line in order.lines if line.out]
        late = [line for order in orders if order.days_over for line in order.lines if line.out]
        return {
            "condition": (
                *(Choice(each, str(each)) for each in found.conditions),
                *(Choice(word, word) for word in (ON_HOLD, IN_DOUBT)),
                *(
                    Choice(word, f"{word} ({len(lines)})")
                    for word, lines in ((AT_WORK, out), (OVERDUE, late))
                ),
            ),
            "place": tuple(Choice(each.id, each.name) for each in found.places),
            "origin": tuple(Choice(each, str(each)) for each in found.origins),
            "family": tuple(Choice(each.id, each.name) for each in found.families),
            "engine_type": tuple(Choice(each.id, each.name) for each in found.engine_types),
        }

    def fetch(self, job: Job, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        """A page of the list; to be called on a worker."""
        which = replace(self._filter, text=words)
        by = StockSort(SORTED_BY[sort.column], sort.descending) if sort is not None else None
        with self._sitting.reading(job) as session:
            page = stock_rows(session, which, by, offset, limit)
            total = page.total if which == StockFilter() else stock_count(session, StockFilter())
            out: dict[tuple[Thing, int | None], WorkOrderFacts] = {
                (line.thing, order.place): order
                for order in work_orders(session)
                for line in order.lines
                if line.out
            }
        rows = tuple(row_of(row, out.get((row.thing, row.place))) for row in page.rows)
        return Page(rows, page.total, total)

    def note_on(self, keys: Sequence[Key], chosen: int) -> Empty:
        """What stands in place of a story while none or several are chosen, of which these were read."""
        read = len(keys)
        if chosen > max(read, 1):
            return Empty(
                f"{chosen:,} are chosen, too many to be done at once.",
                "Choose fewer, or filter the list first.",
            )
        if read > 1:
            fitted = sum(key.fitted for key in keys)
            first = f"{fitted} of them sit in an engine or a piece: strip those before any is moved. "
            return Empty(
                f"{read} are chosen.",
                f"{first if fitted else ''}What is done from here is done to all of them in one entry.",
            )
        return NOTHING_CHOSEN

    def plan(self, act: Act, keys: Sequence[Key]) -> FormPlan:
        """The form for an act on these; to be called on a worker. Refused where it cannot be done at all."""
        return plan_of(self._sitting, act, keys)

    def book_in(self, against: BookInAgainst) -> FormPlan:
        """The form to book in what has come on order; to be called on a worker."""
        return goods_in_form(self._sitting, read_offered(self._sitting, against.order_line))

    def reverse(self, entry: ReverseEntry) -> FormPlan:
        """The form to reverse an entry."""
        return reverse_form(self._sitting, entry.number, entry.what)

    def story(self, job: Job, thing: Thing) -> PieceStory:
        """The story of one piece or batch; to be called on a worker."""
        with self._sitting.reading(job) as session:
            work = work_due(session, [thing]).get(thing, "")
            sets = matched_with(session, [thing.piece]) if thing.piece is not None else {}
            identity = identity_facts(things_by_id(session, [thing])[thing], sets.get(thing.piece or 0, ()))
            return story_of(trace_thing(session, thing), thing_now(session, thing), work, identity)

    def key_of(self, kind: str, found: int) -> Key:
        """The row of a piece or a batch that was found by its id; to be called on a worker."""
        thing = Thing(piece=found) if kind == "piece" else Thing(batch=found)
        with self._sitting.store.reading() as session:
            state, now = things_by_id(session, [thing])[thing], thing_now(session, thing)
            at_work = thing in work_due(session, [thing])
        return Key(thing, None, state.condition, bool(state.holds), *_standing(now), at_work)

    def shelf_of(self, kind: str, found: int, headline: str) -> Shelf:
        """How the list is filtered to show what was found. Refused where that has no stock of its own."""
        if kind in ("place", "family", "engine_type"):
            return Shelf({kind: found})
        if kind in ONLY_WORDS:
            return Shelf({}, Only(kind, found, f"{ONLY_WORDS[kind]} {headline}"))
        raise Refused(
            f"{headline} has no stock of its own.", "Look for a part, a tag, a bin, a paper or a firm."
        )

    def key_told(self, key: Key, story: PieceStory) -> Key:
        """The same row with what its story says of it, which may have been read since."""
        held = any(hold.cleared_on is None for hold in story.sheet.holds)
        tainted, fitted, engine = _standing(story.now)
        at_work = bool(story.work)
        if key.place is not None:
            # Of a batch only what lies at this place is meant.
            fitted, engine, at_work = key.fitted, key.engine, key.at_work
        return Key(key.thing, key.place, story.sheet.condition, held, tainted, fitted, engine, at_work)

    def write_sheet(self, sheet: TraceSheet, path: Path) -> Path:
        """Write the trace sheet as the file's ending says; to be called on a worker."""
        from invdb.paper.trace_sheet import write_trace_sheet_pdf, write_trace_sheet_xlsx

        if path.suffix.lower() == ".xlsx":
            write_trace_sheet_xlsx(sheet, path)
        else:
            write_trace_sheet_pdf(sheet, path)
        return path


def _standing(now: ThingNow) -> tuple[bool, bool, int | None]:
    """Whether an engine event taints it, whether all of it is fitted, and in which engine."""
    return bool(now.events), now.all_fitted, now.engine


def row_of(row: StockRow, order: WorkOrderFacts | None = None) -> Row:
    """A row of the list as it is shown; ``order`` is what it is out for work on there."""
    state = next((word for word, so in _states(row, order) if so), str(row.condition))
    words = sign(state).text
    if state != row.condition:
        words += f", {row.condition}"
    return Row(
        Key(
            row.thing,
            row.place if row.thing.batch is not None else None,
            row.condition,
            row.on_hold,
            bool(row.doubts),
            row.fitted,
            row.engine,
            order is not None,
        ),
        (
            row.tag,
            row.part_name,
            words,
            row.bin if order is None else f"{row.bin}, {order.number} {order.due_words}".strip(),
            "1" if row.thing.piece is not None else row.quantity_words,
            str(row.scope or ""),
            row.serial,
            row.part_number,
            str(row.origin),
            hours_cell(row.hours),
            ", ".join(row.reserved_for),
            row.received_on.isoformat(),
            row.owner,
        ),
        state,
    )


def _states(row: StockRow, order: WorkOrderFacts | None) -> tuple[tuple[str, bool], ...]:
    """What comes before the condition, the weightiest first."""
    return (
        (ON_HOLD, row.on_hold),
        (IN_DOUBT, bool(row.doubts)),
        ("expired", row.expired),
        (OVERDUE, order is not None and order.days_over > 0),
        (AT_WORK, order is not None),
    )
