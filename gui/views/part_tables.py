"""The lists on a part's page: where it is used, its documents, and who changed what."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from gui.shown import Column, Empty, Page, Row, Sort
from gui.views.part_reading import PartRead
from invdb.acts.part_changes import PartChange
from invdb.acts.part_page import PartPaper
from invdb.acts.part_uses import UseFacts

USE_COLUMNS = (
    Column("type", "Engine type", 86),
    Column("group", "Group", 74),
    Column("station", "Station", 130),
    Column("quantity", "Qty", 50, right=True),
    Column("holds", "Holds for", 186),
    Column("as", "Asked for as", 88),
    Column("renewed", "Renewed", 70),
    Column("note", "Note", 130),
    Column("changed", "Changed last", 200),
)
PAPER_COLUMNS = (
    Column("kind", "Kind", 112),
    Column("reference", "Number", 140),
    Column("title", "Title", 170),
    Column("dated", "Dated", 84),
    Column("about", "Stands behind", 96),
    Column("kept", "Kept", 66),
)
CHANGE_COLUMNS = (
    Column("on", "On", 88),
    Column("entry", "Entry", 60, right=True),
    Column("who", "Who", 120),
    Column("note", "Reason", 120),
    Column("what", "What", 400),
)
NO_PART = Empty("No part is chosen.", "Choose one in the list, or find it in the box above.")
NO_USES = Empty(
    "No kit list asks for it.",
    "Add a line to the kit list of a group of an engine type, such as its cylinders.",
)
NO_PAPERS = Empty(
    "Its drawings, published data and photographs stand here.", "Attach one, by its number or as a file."
)
NO_CHANGES = Empty("Nothing is recorded of it yet.")


def use_row(use: UseFacts, read: PartRead) -> Row:
    """A kit line that asks for the part, or for what it may stand in for."""
    sign = "ended" if use.ended else "not yet in force" if use.waits else ""
    holds = use.holds or "every engine"
    setter = read.setter(use.entry)
    return Row(
        use.kit_line,
        (
            use.engine_type,
            use.group,
            use.station,
            use.quantity,
            f"{sign}: {holds}" if sign else holds,
            use.instead_of or "itself",
            "always" if use.renewed_always else "",
            use.note,
            f"{setter.happened_on.isoformat()} {setter.who}" if setter is not None else "",
        ),
        sign,
    )


def told_of_use(use: UseFacts, read: PartRead) -> str:
    """All that is said of a kit line, and who set it last."""
    instead = f" for {use.instead_of}, which it may stand in for" if use.instead_of else ""
    said = (
        f"{use.engine_type}, {use.group}: {use.quantity} at the {use.station}{instead}, for"
        f" {use.holds or 'every engine'}."
    )
    if use.renewed_always:
        said += " Renewed always: unused stock only."
    if use.note:
        said += f" {use.note.rstrip('.')}."
    last = read.last_set(use.entry)
    return f"{said} Set by {last}." if last else said


def paper_row(paper: PartPaper) -> Row:
    """A document of the part."""
    return Row(
        paper.document,
        (
            str(paper.kind),
            paper.reference,
            paper.title,
            paper.dated_on.isoformat() if paper.dated_on is not None else "",
            paper.about,
            "here" if paper.kept else "elsewhere",
        ),
        "paper",
    )


def change_row(change: PartChange) -> Row:
    """A change of what the catalogue says of the part."""
    return Row(
        change.entry,
        (
            change.happened_on.isoformat(),
            str(change.entry),
            change.who,
            change.note,
            "; ".join(change.what),
        ),
        "entry",
    )


def told_of_change(change: PartChange) -> str:
    """All that an entry changed, and why."""
    said = f"Entry {change.entry}, {change.who}: {'; '.join(change.what)}."
    return f"{said} {change.note}" if change.note else said


def page_of(
    rows: Iterable[Row], columns: Sequence[Column], offset: int, limit: int, sort: Sort | None, words: str
) -> Page:
    """Some of rows that are here already, filtered by words and sorted by a column."""
    every = list(rows)
    wanted = words.casefold().split()
    fitting = [row for row in every if _fits(row, wanted)]
    if sort is not None:
        at = [column.name for column in columns].index(sort.column)
        fitting.sort(key=_key_of(at, columns[at].right), reverse=sort.descending)
    return Page(tuple(fitting[offset : offset + limit]), len(fitting), len(every))


def _fits(row: Row, words: Sequence[str]) -> bool:
    said = " ".join(row.cells).casefold()
    return all(word in said for word in words)


def _key_of(at: int, figures: bool) -> Callable[[Row], tuple[float, str]]:
    def key(row: Row) -> tuple[float, str]:
        cell = row.cells[at]
        head = cell.split(" ")[0]
        number = float(head) if figures and head.replace(".", "", 1).isdigit() else 0.0
        return number, cell.casefold()

    return key
