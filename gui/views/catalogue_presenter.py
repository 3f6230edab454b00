"""What the Catalogue view shows: the list of parts with its filters, and the page of the chosen one.

Methods that take a job run on a worker and open their own session; the others are plain.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from gui.job import Job
from gui.shown import Choice, Column, Empty, Page, Row, Sort
from gui.shown_cards import Card
from gui.signs import sign
from gui.sitting import Sitting
from gui.views.part_cards import cards_of
from gui.views.part_reading import PartRead, read_part
from invdb.acts.inspection_sheet import sheet_for_part
from invdb.acts.offers import families
from invdb.acts.part_list import (
    PartColumn,
    PartFilter,
    PartRow,
    PartSort,
    part_rows,
    place_in_list,
)
from invdb.paper.inspection_sheet import write_inspection_sheet_pdf
from invdb.rules.specification import SpecFacts
from invdb.terms import Tracking

HELP = """\
The list holds every part of the catalogue. Type to filter it by any number or name, click a heading to sort \
it, and choose a part to read its page: what it must measure, as published and the other way, where it is \
used, what there is of it, what stands in for it, its documents, and who changed what.

In the picture of alternates the part stands in the middle. What may stand in for it is to the right, what \
it may stand in for to the left, and between them by what authority and for which engines. Follow it to \
another part by Enter or a double click, and come back by Alt+Left.

Every change asks for its reason, and is dated, signed and kept. What has been in force is not rewritten: it \
ends on a day, and another begins.

Enter  from the list to the page, Escape back
F6, F7, F8  specification, where used, stock
F9, F11, F12  alternates, documents, changes
Alt+Left, Alt+Right  the part shown before, and after
Ctrl+N  add a part
Ctrl+U  change the part
Alt+O, Alt+H  another number, a hazard
Ctrl+J, Alt+W  a new revision of the specification, withdraw the one shown
Alt+F, Alt+R  a fit, a rule of size or finish
Alt+B  masses that must agree
Alt+Z  a size in which it is made
Ctrl+Shift+T  a limit of life
Alt+M  enter a mod, or correct one
Ins  add to a kit list, a stand-in, a document
F4, Shift+F4  correct what is chosen, replace it from a day
Del  end or withdraw what is chosen
Ctrl+P  save the blank inspection sheet
Alt+S  show all of it in Stores
Ctrl+M  everything that may be done here
F5  read it again"""

COLUMNS = (
    Column("number", "Number", 86),
    Column("name", "Name", 216),
    Column("shelf", "On shelf", 62, right=True),
    Column("spec", "Spec.", 50),
    Column("marks", "Marks", 120, sort=False),
    Column("family", "Family", 130),
    Column("held", "Held as", 76, sort=False),
)
SORTED_BY = {
    "number": PartColumn.NUMBER,
    "name": PartColumn.NAME,
    "shelf": PartColumn.ON_SHELF,
    "spec": PartColumn.SPEC,
    "family": PartColumn.FAMILY,
}
SORT_FIRST = Sort("number")
ON_HOLD = "on hold"
LIFE_LIMITED = "life-limited"
CRITICAL = "critical"
NUMBERS_NAMED_MAX = 4
NOTHING_CHOSEN = Empty(
    "The page of a part stands here.",
    "Choose one in the list, or find it by any of its numbers in the box above.",
)
EMPTY_LIST = Empty(
    "Here stands every part of the catalogue, under its house number.",
    "Add one to begin; parts also come in with goods that are booked in, and from tables by intake.",
)
NO_CARDS = Empty(
    "What the part must measure stands here: dimensions with their limits, masses, tests, fits and sizes.",
    "Put in its specification, as the maker publishes it.",
)


class CataloguePresenter:
    """Holds the filters of the list, the part that is shown and the way that led to it; knows no Tk."""

    def __init__(self, sitting: Sitting) -> None:
        self.sitting = sitting
        self.which = PartFilter()
        self.part: int | None = None
        self.read: PartRead | None = None
        self.spec: SpecFacts | None = None
        self._before: list[int] = []
        self._after: list[int] = []
        self._cards: tuple[Card, ...] = ()
        self._looked_at: int | None = None

    # The list

    def fetch(self, job: Job, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        """Some rows of the list."""
        with self.sitting.reading(job) as session:
            found = part_rows(session, replace(self.which, text=words), sorted_by(sort), offset, limit)
        return Page(tuple(map(row_of, found.rows)), found.fitting, found.total)

    def place_of(self, job: Job, part: int, sort: Sort | None, words: str) -> int | None:
        """Where in the list a part stands, counted from 0; None where it isn't among what is listed."""
        with self.sitting.reading(job) as session:
            return place_in_list(session, part, replace(self.which, text=words), sorted_by(sort))

    def families(self, job: Job) -> tuple[Choice, ...]:
        """The families to filter by."""
        with self.sitting.reading(job) as session:
            return tuple(Choice(each.id, f"{each.letters}  {each.name}") for each in families(session))

    # The part

    def go_to(self, part: int) -> bool:
        """Show another part from now on; False for the one that is shown already."""
        if part == self.part:
            return False
        if self.part is not None:
            self._before.append(self.part)
            self._after = []
        self._turn_to(part)
        return True

    def back(self) -> bool:
        """Show the part that was shown before; False where there was none."""
        return self._step(self._before, self._after)

    def forward(self) -> bool:
        """Show the part from which one went back; False where there is none."""
        return self._step(self._after, self._before)

    def _step(self, taken: list[int], left: list[int]) -> bool:
        if not taken or self.part is None:
            return False
        left.append(self.part)
        self._turn_to(taken.pop())
        return True

    def _turn_to(self, part: int) -> None:
        self.part, self.read, self.spec, self._cards, self._looked_at = part, None, None, (), None

    def read_part(self, job: Job, part: int) -> PartRead:
        """All of a part's page."""
        with self.sitting.reading(job) as session:
            return read_part(session, part)

    def show(self, read: PartRead) -> None:
        """Show what was read of the part; the revision that was looked at stays if it is still there."""
        self.read = read
        kept = next((each for each in read.page.specs if each.id == self._looked_at), None)
        newest = read.page.specs[0] if read.page.specs else None
        self._show_spec(kept or read.page.spec or newest)

    def look_at(self, spec: SpecFacts | None) -> None:
        """Show the lines of that revision, whichever is in force."""
        in_force = self.read.page.spec if self.read is not None else None
        self._looked_at = spec.id if spec is not None and spec != in_force else None
        self._show_spec(spec)

    def _show_spec(self, spec: SpecFacts | None) -> None:
        self.spec = spec
        self._cards = cards_of(self.read, spec) if self.read is not None else ()

    def cards(self) -> tuple[Card, ...]:
        """What the part must be."""
        return self._cards

    def revisions(self) -> tuple[Choice, ...]:
        """The revisions of its specification, the latest first."""
        if self.read is None:
            return ()
        in_force = self.read.page.spec
        return tuple(
            Choice(each.id, f"{each.revision}, {_standing(each, in_force)}") for each in self.read.page.specs
        )

    def told_of_spec(self) -> str:
        """What revision is shown, by what it is published, and who put it in."""
        read, spec = self.read, self.spec
        if read is None:
            return ""
        if spec is None:
            return f"{sign('no specification').mark} No specification of it is in the store."
        by = ", ".join(dict.fromkeys(word for word in (spec.source, spec.document) if word))
        said = [f"By {by}."] if by else []
        if spec.note:
            said.append(f"{spec.note.rstrip('.')}.")
        last = read.last_set(spec.entry)
        said += [f"Put in by {last}."] if last else []
        if read.page.spec is None:
            said.insert(0, f"{sign('no specification').mark} None is in force today.")
        return " ".join(said)

    def title(self) -> str:
        """What stands above the page."""
        return f"{self.read.page.house_number}  {self.read.page.name}" if self.read is not None else ""

    def signs(self) -> tuple[str, ...]:
        """The signs of the part, by their words."""
        if self.read is None:
            return ()
        page = self.read.page
        states = (
            (ON_HOLD, bool(page.holds)),
            ("take care", bool(page.hazards)),
            (CRITICAL, page.critical),
            (LIFE_LIMITED, page.life_limited),
            ("no specification", page.spec is None),
        )
        return tuple(word for word, so in states if so)

    def facts(self) -> tuple[tuple[str, str], ...]:
        """What stands beneath the title, each with its word."""
        if self.read is None:
            return ()
        page = self.read.page
        held = "single pieces" if page.tracking is Tracking.PIECE else f"batches, by {page.measure}"
        kept = [held, *(word for word in (page.size_class, page.finish) if word)]
        if page.shelf_life_months:
            kept.append(f"shelf life {page.shelf_life_months} months")
        numbers = [
            f"{each.number} ({', '.join(word for word in (each.kind, each.firm) if word)})"
            for each in page.numbers
        ]
        if len(numbers) > NUMBERS_NAMED_MAX:
            numbers = [*numbers[:NUMBERS_NAMED_MAX], f"and {len(numbers) - NUMBERS_NAMED_MAX} more"]
        hazards = [f"{each.hazard}{f': {each.caution}' if each.caution else ''}" for each in page.hazards]
        facts = (
            ("Family", f"{page.family}, held as {'; '.join(kept)}"),
            ("Known as", "; ".join(numbers)),
            ("Life", "; ".join(page.limits)),
            ("Take care", "; ".join(hazards)),
            ("On hold", "; ".join(f"{each.reason} ({each.raised_by}, {each.raised_on.isoformat()})"
                                  for each in page.holds)),
            ("Directives", "; ".join(f"{each.reference}: {each.title}" for each in page.directives)),
            ("Note", page.note),
        )  # fmt: skip
        return tuple((word, text) for word, text in facts if text)

    def blank_name(self) -> str:
        """What the file of its blank inspection sheet is called."""
        assert self.read is not None, "a part is shown"
        return f"inspection sheet {self.read.page.house_number}.pdf"

    def write_blank(self, job: Job, part: int, path: Path) -> Path:
        """Write the blank inspection sheet of a part, to be filled in by hand."""
        with self.sitting.reading(job) as session:
            sheet = sheet_for_part(session, part)
        write_inspection_sheet_pdf(sheet, path)
        return path


def sorted_by(sort: Sort | None) -> PartSort:
    """How the act sorts by that heading."""
    sort = sort or SORT_FIRST
    return PartSort(SORTED_BY[sort.column], sort.descending)


def row_of(row: PartRow) -> Row:
    """A row of the list as it is shown."""
    marks = [
        word
        for word, so in (
            (sign(ON_HOLD).text, row.on_hold),
            (sign(CRITICAL).text, row.critical),
            (sign(LIFE_LIMITED).text, row.life_limited),
        )
        if so
    ]
    return Row(
        row.part,
        (
            row.number,
            row.name,
            row.shelf_words.removesuffix(" off") if row.on_shelf else "",
            row.revision or "none",
            ", ".join(marks),
            row.family,
            "pieces" if row.tracking is Tracking.PIECE else "batches",
        ),
        ON_HOLD if row.on_hold else "",
    )


def _standing(spec: SpecFacts, in_force: SpecFacts | None) -> str:
    """How a revision stands today."""
    if spec.withdrawn_on is not None:
        return f"withdrawn on {spec.withdrawn_on.isoformat()}"
    if in_force is not None and spec.id == in_force.id:
        return f"in force since {spec.from_on.isoformat()}"
    if in_force is None or spec.from_on > in_force.from_on:
        return f"in force from {spec.from_on.isoformat()}"
    return f"from {spec.from_on.isoformat()}, superseded"
