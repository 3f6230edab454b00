"""What the Stores view shows and why: the list and its filters, which acts fit, and what each form asks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path
from typing import Any

from gui.job import Job
from gui.shown import Choice, Column, Empty, Page, Row, Sort
from gui.signs import sign
from gui.sitting import Sitting
from gui.views.accept_form import accept_form, condition_form
from gui.views.form_plan import FormPlan
from gui.views.goods_in_offers import read_offered
from gui.views.goods_in_presenter import goods_in_form
from gui.views.hold_form import clear_form, hold_form
from gui.views.move_form import move_form
from gui.views.papers_form import papers_form
from gui.views.piece_presenter import PieceStory, story_of
from gui.views.reverse_form import reverse_form
from gui.views.split_form import split_form
from invdb.acts.hold import holds_on
from invdb.acts.numbers import Thing
from invdb.acts.stock_filter import StockFilter
from invdb.acts.stock_list import StockRow, stock_choices, stock_count, stock_rows
from invdb.acts.stock_sort import StockColumn, StockSort
from invdb.acts.thing_now import thing_now
from invdb.acts.things import things_by_id
from invdb.acts.trace import trace_thing
from invdb.rules.history import TraceSheet
from invdb.terms import Condition, Refused

HELP = """\
The list holds every piece and batch. Type to filter it, click a heading to sort it, and choose one to read \
its story. What may be done stands above the story, and in the menu of the list.

Ctrl+N  book goods in
Ctrl+I  look at and accept
Ctrl+U  set the condition
Ctrl+M  move
Ctrl+S  split a batch
Ctrl+H  put on hold
Ctrl+L  clear a hold
Ctrl+P  attach papers
Ctrl+R  reverse an entry of the story
Ctrl+T  save the trace sheet (with Shift: as a workbook)
Enter  from the list into the story, Escape back"""

NOTHING_CHOSEN = Empty(
    "The story of a piece stands here.",
    "Choose one in the list, or find or scan its tag in the box above.",
)

COLUMNS = (
    Column("tag", "Tag", 80),
    Column("name", "Name", 158),
    Column("condition", "Condition", 112),
    Column("scope", "Accepted for", 90),
    Column("place", "Place", 74),
    Column("quantity", "Qty", 52, right=True),
    Column("serial", "Serial or lot", 96),
    Column("part", "Part", 92),
    Column("origin", "Origin", 112),
    Column("hours", "Hours", 112),
    Column("reserved", "Reserved for", 96),
    Column("received", "Received", 92),
    Column("owner", "Owner", 180),
)
SORTED_BY = {
    "tag": StockColumn.TAG,
    "name": StockColumn.PART_NAME,
    "condition": StockColumn.CONDITION,
    "scope": StockColumn.SCOPE,
    "place": StockColumn.BIN,
    "quantity": StockColumn.QUANTITY,
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
ONLY_WORDS = {"part": "part", "firm": "from", "document": "with the paper"}


class Act(StrEnum):
    """What is done by a form of this view, by the word of its button."""

    GOODS_IN = "Goods in"
    ACCEPT = "Accept"
    CONDITION = "Condition"
    MOVE = "Move"
    SPLIT = "Split"
    HOLD = "Hold"
    CLEAR = "Clear hold"
    PAPERS = "Papers"


KEYS = {
    Act.GOODS_IN: ("Ctrl+N", "Book in pieces or a batch that came"),
    Act.ACCEPT: ("Ctrl+I", "Look at it and accept it for a scope"),
    Act.CONDITION: ("Ctrl+U", "Say that it is unserviceable, unsalvageable, or to be looked at again"),
    Act.MOVE: ("Ctrl+M", "Put it into another place"),
    Act.SPLIT: ("Ctrl+S", "Break the batch down into shares of different conditions"),
    Act.HOLD: ("Ctrl+H", "Raise a doubt on it, or on its part"),
    Act.CLEAR: ("Ctrl+L", "Say what settled the doubt"),
    Act.PAPERS: ("Ctrl+P", "Attach documents that stand behind it"),
}


@dataclass(frozen=True)
class Key:
    """Which row: a piece, or a batch at one place. What the row showed beside that tells it from no other."""

    thing: Thing
    place: int | None = None
    condition: Condition = field(compare=False, default=Condition.UNINSPECTED)
    held: bool = field(compare=False, default=False)


@dataclass(frozen=True)
class ReverseEntry:
    """An entry that is to be reversed, and what it did in a sentence."""

    number: int
    what: str


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
            condition=None if condition == ON_HOLD else condition,
            on_hold=True if condition == ON_HOLD else None,
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
        return {
            "condition": (*(Choice(each, str(each)) for each in found.conditions), Choice(ON_HOLD, ON_HOLD)),
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
        return Page(tuple(row_of(row) for row in page.rows), page.total, total)

    def acts_for(self, keys: Sequence[Key]) -> list[Act]:
        """The acts that fit these, in the order one does them."""
        if not keys:
            return []
        acts: list[Act] = []
        conditions = {key.condition for key in keys}
        if conditions <= {Condition.UNINSPECTED, Condition.SERVICEABLE}:
            acts.append(Act.ACCEPT)
        acts += [Act.MOVE, Act.CONDITION]
        if len(keys) == 1 and keys[0].thing.batch is not None:
            acts.append(Act.SPLIT)
        acts.append(Act.HOLD)
        if len(keys) == 1 and keys[0].held:
            acts.append(Act.CLEAR)
        return [*acts, Act.PAPERS]

    def note_on(self, read: int, chosen: int) -> Empty:
        """What stands in place of a story while none or several are chosen, of which so many were read."""
        if chosen > max(read, 1):
            return Empty(
                f"{chosen:,} are chosen, too many to be done at once.",
                "Choose fewer, or filter the list first.",
            )
        if read > 1:
            return Empty(f"{read} are chosen.", "What is done from here is done to all of them in one entry.")
        return NOTHING_CHOSEN

    def plan(self, act: Act, keys: Sequence[Key]) -> FormPlan:
        """The form for an act on these; to be called on a worker. Refused where it cannot be done at all."""
        sitting = self._sitting
        if act is Act.GOODS_IN:
            return goods_in_form(sitting, read_offered(sitting))
        things = list(dict.fromkeys(key.thing for key in keys))
        with sitting.store.reading() as session:
            states = things_by_id(session, things)
            holds = holds_on(session, things[0]) if act is Act.CLEAR else ()
        stock = [states[thing] for thing in things]
        match act:
            case Act.ACCEPT:
                return accept_form(sitting, stock)
            case Act.CONDITION:
                return condition_form(sitting, stock)
            case Act.MOVE:
                return move_form(sitting, [(states[key.thing], key.place) for key in keys])
            case Act.SPLIT:
                return split_form(sitting, stock[0])
            case Act.HOLD:
                return hold_form(sitting, stock)
            case Act.CLEAR:
                if not holds:
                    raise Refused(f"{stock[0].tag} is not on hold.", "There is nothing to clear.")
                return clear_form(sitting, stock, holds)
            case Act.PAPERS:
                return papers_form(sitting, stock)

    def reverse(self, entry: ReverseEntry) -> FormPlan:
        """The form to reverse an entry."""
        return reverse_form(self._sitting, entry.number, entry.what)

    def story(self, job: Job, thing: Thing) -> PieceStory:
        """The story of one piece or batch; to be called on a worker."""
        with self._sitting.reading(job) as session:
            return story_of(trace_thing(session, thing), thing_now(session, thing))

    def key_of(self, kind: str, found: int) -> Key:
        """The row of a piece or a batch that was found by its id; to be called on a worker."""
        thing = Thing(piece=found) if kind == "piece" else Thing(batch=found)
        with self._sitting.store.reading() as session:
            state = things_by_id(session, [thing])[thing]
        return Key(thing, None, state.condition, bool(state.holds))

    def shelf_of(self, kind: str, found: int, headline: str) -> Shelf:
        """How the list is filtered to show what was found. Refused where that has no stock of its own."""
        if kind in ("place", "family", "engine_type"):
            return Shelf({kind: found})
        if kind in ONLY_WORDS:
            return Shelf({}, Only(kind, found, f"{ONLY_WORDS[kind]} {headline}"))
        raise Refused(
            f"{headline} has no stock of its own.", "Look for a part, a tag, a bin, a paper or a firm."
        )

    def write_sheet(self, sheet: TraceSheet, path: Path) -> Path:
        """Write the trace sheet as the file's ending says; to be called on a worker."""
        from invdb.paper.trace_sheet import write_trace_sheet_pdf, write_trace_sheet_xlsx

        if path.suffix.lower() == ".xlsx":
            write_trace_sheet_xlsx(sheet, path)
        else:
            write_trace_sheet_pdf(sheet, path)
        return path


def row_of(row: StockRow) -> Row:
    """A row of the list as it is shown."""
    state = ON_HOLD if row.on_hold else "expired" if row.expired else str(row.condition)
    words = sign(state).text
    if state != row.condition:
        words += f", {row.condition}"
    return Row(
        Key(row.thing, row.place if row.thing.batch is not None else None, row.condition, row.on_hold),
        (
            row.tag,
            row.part_name,
            words,
            str(row.scope or ""),
            row.bin,
            "1" if row.thing.piece is not None else row.quantity_words,
            row.serial,
            row.part_number,
            str(row.origin),
            row.hours,
            ", ".join(row.reserved_for),
            row.received_on.isoformat(),
            row.owner,
        ),
        state,
    )
