"""What the shortage board shows: parts worst first, one part's need and supply, what to do, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from gui.shown import Choice, Column, Empty, Page, Row, Sort
from gui.shown_need import NeedMonth, NeedPicture, Spread, standing_of
from gui.signs import sign
from gui.views.part_tables import page_of
from invdb.acts.short_facts import Ground, MonthOutlook, ShortBoard, ShortReasons, ShortRow
from invdb.paper.short_words import (
    NO_WAY_KNOWN,
    advice_words,
    chance_words,
    horizon_words,
    in_unit,
    mean_words,
    month_words,
    pooled_words,
    rounded,
    simulated_words,
    stops_words,
    summary,
    supply_words,
    threshold_words,
    unit_of,
)
from invdb.rules.told import counted, stopped
from invdb.terms import Measure

SHORT, WATCH, ENOUGH = "runs short", "to watch", "enough in sight"
COLUMNS = (
    Column("part", "Part", 92),
    Column("name", "Name", 220),
    Column("need", "Needed (80 %)", 112, right=True),
    Column("free", "Free", 52, right=True),
    Column("coming", "Coming", 60, right=True),
    Column("chance", "Short", 78, right=True),
    Column("when", "From when", 134),
    Column("stops", "Would stop", 220),
)
NOT_READ = Empty("The board is being worked out.", "Every part that matters stands here, worst first.")
NOTHING_HERE = Empty(
    "Here stands every part that matters, worst first, with its chance of running short month by month.",
    "It fills when engines have kit lists and are to be opened or flown: see the page Plan.",
)
NOTHING_FITS = Empty("No part fits these filters.", "Take one away to see more.")
WANTED = "What will be wanted"
BELIEF_ALONE = "The belief alone speaks: none of our own inspections stands behind the rate yet."


@dataclass(frozen=True)
class BoardFilter:
    """Only parts that would stop this engine, of this family, or that stop one that flies; None for any."""

    engine: str | None = None
    family: str | None = None
    flying: bool = False

    @property
    def words(self) -> str:
        """In words what is shown; "" for the whole board."""
        parts = [f"parts for {self.engine}"] if self.engine else []
        parts += [f"of {self.family}"] if self.family else []
        parts += ["what stops a flying engine"] if self.flying else []
        return ", ".join(parts)

    def lets(self, row: ShortRow) -> bool:
        """Whether a row is shown."""
        return (
            (self.engine is None or self.engine in row.engines)
            and (self.family is None or self.family == row.family)
            and (row.stops_flying or not self.flying)
        )


@dataclass(frozen=True)
class Section:
    """A heading and lines beneath it, to be read in full."""

    heading: str
    lines: tuple[str, ...]


class ShownBoard:
    """Holds the board as it was read, what it is filtered by, and the reasons of the chosen row."""

    def __init__(self) -> None:
        self.board: ShortBoard | None = None
        self.reasons: ShortReasons | None = None
        self.filter = BoardFilter()

    def set_board(self, board: ShortBoard) -> None:
        """Show this board; reasons that were read before rest on what may have changed."""
        self.board, self.reasons = board, None
        offered = {each.key for each in self.engines()}, {each.key for each in self.families()}
        if self.filter.engine not in offered[0]:
            self.filter = BoardFilter(None, self.filter.family, self.filter.flying)
        if self.filter.family not in offered[1]:
            self.filter = BoardFilter(self.filter.engine, None, self.filter.flying)

    def shown(self) -> tuple[ShortRow, ...]:
        """The rows that the filters let through, worst first."""
        rows = self.board.rows if self.board is not None else ()
        return tuple(row for row in rows if self.filter.lets(row))

    def page(self, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
        """Some of the rows, as far as they fit the words and the filters."""
        return page_of(map(self._row, self.shown()), COLUMNS, offset, limit, sort, words)

    def row(self, part: int) -> ShortRow | None:
        """The row of a part, if it is on the board."""
        rows = self.board.rows if self.board is not None else ()
        return next((row for row in rows if row.part == part), None)

    def shares(self) -> tuple[float, float]:
        """From which chances a part is watched and short, as shares."""
        assert self.board is not None, "no board is read"
        return self.board.settings.watch_percent / 100, self.board.settings.short_percent / 100

    def engines(self) -> tuple[Choice, ...]:
        """The engines that anything on the board would stop."""
        rows = self.board.rows if self.board is not None else ()
        return tuple(Choice(name, name) for name in sorted({each for row in rows for each in row.engines}))

    def families(self) -> tuple[Choice, ...]:
        """The families of the parts on the board."""
        rows = self.board.rows if self.board is not None else ()
        return tuple(Choice(name, name) for name in sorted({row.family for row in rows}))

    def empty(self) -> Empty:
        """What is said where no row is shown."""
        if self.board is None:
            return NOT_READ
        return NOTHING_FITS if self.board.rows else NOTHING_HERE

    def told(self) -> str:
        """How many parts are short and to be watched, and how far the board looks."""
        if self.board is None:
            return ""
        return f"{summary(self.board)}. {horizon_words(self.board)}."

    def told_thresholds(self) -> str:
        """What the shop has chosen."""
        return threshold_words(self.board.settings) if self.board is not None else ""

    def tab_words(self) -> str:
        """What the page's tab says beside its name: how many parts run short, if any."""
        short = sum(row.first_short is not None for row in self.board.rows) if self.board is not None else 0
        return f"{sign(SHORT).mark} {short} short" if short else ""

    def standing(self, row: ShortRow) -> str:
        """The word of the sign of a row."""
        if row.first_short is not None:
            return SHORT
        return WATCH if row.first_watch is not None else ENOUGH

    def picture(self, row: ShortRow) -> NeedPicture:
        """The row's chart: with need and supply once its reasons are read, with the chances at once."""
        assert self.board is not None, "no board is read"
        watch, short = self.shares()
        known = self.reasons.months if self._reasons_of(row) is not None and self.reasons else ()
        outlooks = {each.month: each for each in known}
        months = []
        for month, chance in zip(self.board.months, row.chances, strict=True):
            outlook = outlooks.get(month)
            months.append(
                NeedMonth(
                    month_words(month),
                    chance,
                    standing_of(chance, watch, short),
                    told_of_month(row, month_words(month), chance, outlook),
                    _need(outlook, row.measure),
                    _supply(outlook, row.measure),
                )
            )
        return NeedPicture(unit_of(row.measure), tuple(months), watch, short)

    def first_part(self) -> int | None:
        """The part at the top, as far as the filters let it through."""
        return next((row.part for row in self.shown()), None)

    def words(self, row: ShortRow, with_reasons: bool) -> tuple[Section, ...]:
        """What is said of a row in full, and where that is asked for what it rests on."""
        return (*self.to_do(row), *(self.rests_on(row) if with_reasons else ()))

    def to_do(self, row: ShortRow) -> tuple[Section, ...]:
        """What to do about a row, and what stands at once beneath its name."""
        said = [chance_said(row, self._last_month())]
        said += [stopped(stops_words(row))] if row.engines else ["It would stop no engine by itself."]
        said += [stopped(pooled_words(row))] if row.pooled else []
        return (Section("", tuple(said)), Section("What to do", self._advice(row)))

    def _advice(self, row: ShortRow) -> tuple[str, ...]:
        if row.advice:
            return tuple(f"• {stopped(advice_words(each, row.measure))}" for each in row.advice)
        if row.first_short is not None:
            return (f"{NO_WAY_KNOWN}.",)
        if row.first_watch is not None:
            return ("Nothing yet: it is to be watched.",)
        return ("Nothing: there is enough in sight.",)

    def rests_on(self, row: ShortRow) -> tuple[Section, ...]:
        """What the row's figures rest on; a line that says so while that is still being read."""
        reasons = self._reasons_of(row)
        if reasons is None:
            return (Section(WANTED, ("It is being worked out.",)),)
        said = [BELIEF_ALONE]
        if row.inspections:
            said = [f"The rate rests on {counted(row.inspections, 'piece', 'pieces')} looked at."]
        said += [f"The chance is {simulated_words(row.error)}."] if row.error is not None else []
        rates = [f"• {stopped(each)}" for each in reasons.rates]
        return (
            Section(
                f"{WANTED} by the end of {self._last_month()}",
                _grounds(reasons.need, row.need_mean, row.measure, "Nothing is known to want it."),
            ),
            Section(
                "What there will be", _grounds(reasons.supply, None, row.measure, "Nothing is in sight.")
            ),
            Section("What the rates rest on", (*said, *rates)),
        )

    def _reasons_of(self, row: ShortRow) -> ShortReasons | None:
        return self.reasons if self.reasons is not None and self.reasons.row.part == row.part else None

    def _last_month(self) -> str:
        return month_words(self.board.months[-1]) if self.board is not None and self.board.months else ""

    def _row(self, row: ShortRow) -> Row:
        state = self.standing(row)
        cells = (
            row.house_number,
            row.name,
            need_cell(row),
            quantity_cell(row.free, row.measure),
            quantity_cell(row.coming, row.measure),
            chance_words(row.p_short),
            when_words(row, state),
            ", ".join(row.engines) + (" (one flies)" if row.stops_flying and len(row.engines) > 1 else ""),
        )
        return Row(row.part, cells, state)


def need_cell(row: ShortRow) -> str:
    """``4.2 (2 to 7)``, with the unit where it isn't counted by the piece."""
    low, high = (f"{in_unit(each, row.measure):f}" for each in (row.need_low, row.need_high))
    unit = "" if row.measure is Measure.COUNT else f" {unit_of(row.measure)}"
    within = f" ({low if low == high else f'{low} to {high}'})"
    return f"{rounded(row.need_mean, row.measure):f}{within}{unit}"


def quantity_cell(quantity: int, measure: Measure) -> str:
    """``3``, or ``1.25 m`` where it isn't counted by the piece."""
    unit = "" if measure is Measure.COUNT else f" {unit_of(measure)}"
    return f"{in_unit(quantity, measure):f}{unit}"


def when_words(row: ShortRow, state: str) -> str:
    """Mark, word and month: ``! short 2027-01``, ``◷ watch 2027-01``, ``✓ enough``."""
    mark = sign(state).mark
    if row.first_short is not None:
        return f"{mark} short {month_words(row.first_short)}"
    if row.first_watch is not None:
        return f"{mark} watch {month_words(row.first_watch)}"
    return f"{mark} enough"


def chance_said(row: ShortRow, last: str) -> str:
    """The chance by the last month, with how many are wanted and how many there are."""
    low, high = (f"{in_unit(each, row.measure):f}" for each in (row.need_low, row.need_high))
    wanted = f"{mean_words(row.need_mean, row.measure)} wanted on average, {low} to {high} with 80 %"
    if low == high:
        wanted = f"{mean_words(row.need_mean, row.measure)} wanted"
    return (
        f"{chance_words(row.p_short)} chance of running short by the end of {last}: {wanted};"
        f" {supply_words(row)}."
    )


def told_of_month(row: ShortRow, month: str, chance: float, outlook: MonthOutlook | None) -> str:
    """All that is told of a month: the chance, need and supply."""
    head = f"By the end of {month}: {chance_words(chance)} chance of running short."
    if outlook is None:
        return head
    measure = row.measure
    need = _within(outlook.need_mean, outlook.need_low, outlook.need_high, measure)
    supply = _within(outlook.supply_mean, outlook.supply_low, outlook.supply_high, measure)
    return f"{head} Wanted: {need}. There will be: {supply}."


def _within(mean: float, low: int, high: int, measure: Measure) -> str:
    if low == high:
        return mean_words(mean, measure)
    return f"{mean_words(mean, measure)} ({in_unit(low, measure):f} to {in_unit(high, measure):f})"


def _need(outlook: MonthOutlook | None, measure: Measure) -> Spread | None:
    if outlook is None:
        return None
    return _spread(outlook.need_low, outlook.need_mean, outlook.need_high, measure)


def _supply(outlook: MonthOutlook | None, measure: Measure) -> Spread | None:
    if outlook is None:
        return None
    return _spread(outlook.supply_low, outlook.supply_mean, outlook.supply_high, measure)


def _spread(low: int, mean: float, high: int, measure: Measure) -> Spread:
    parts = 1 if measure is Measure.COUNT else 10**6
    return Spread(low / parts, mean / parts, high / parts)


def _grounds(
    grounds: Sequence[Ground], total: float | None, measure: Measure, nothing: str
) -> tuple[str, ...]:
    """A line a ground with how many it comes to, and their sum."""
    if not grounds:
        return (nothing,)
    lines = [f"• {mean_words(each.mean, measure)}: {stopped(each.words)}" for each in grounds]
    whole = sum(each.mean for each in grounds) if total is None else total
    return (*lines, f"{mean_words(whole, measure)} altogether, on average.")
