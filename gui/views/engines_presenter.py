"""What the Engines view shows: an engine as fitted on a day, its log, and what falls due on all of them.

Methods that take a job run on a worker and open their own session; the others are plain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time

from gui.job import Job
from gui.shown import Cylinder, CylinderShape, DayMark, DueBar, Empty, FilledStation, Gauge
from gui.signs import sign
from gui.sitting import Sitting
from gui.views.bench_cylinders import shape_of
from gui.views.built_cylinders import cylinders_built
from gui.views.built_stations import stations_of
from gui.views.due_bars import DueRead
from gui.views.engine_orders import EngineOrders, read_orders
from gui.views.engine_reading import EngineReading, read_engine_on
from gui.views.log_rows import head_of, hours_and_starts
from gui.views.shown_engine import ShownEngine
from gui.views.standings import gauge_of
from gui.widgets.day_steps import DaySteps, span_of
from invdb.acts.build_days import BuildDay
from invdb.acts.due import due_list
from invdb.acts.due_soon import due_soon
from invdb.acts.engine_log import EngineLog, engine_log
from invdb.rules.build import BuiltPosition, Change, StationDifference
from invdb.rules.calendar import months_after
from invdb.rules.due import DueLine
from invdb.rules.life import prior_hours_words

HELP = """\
See what is in an engine, how much life each piece has left, and what falls due.

Each cylinder of the picture is filled by the life that is surely left in it. Choose one, and its stations \
stand beside it: those with a limit of life first, the worst on top, each with a gauge. The gauge is filled \
for what was used, hatched for what may have been used, and has an arrow where nobody knows how much.

The slider beneath the picture goes back over the days: the engine then stands as it was fitted on that \
day. Each mark is a day on which something was fitted or came out. The log, the due list, holds and engine \
events not cleared are those of today even then, and each page says so.

Arrows, or the cylinder's own name  go to a cylinder
Enter  go on to its stations
Page Up, Page Down  the engine before or after
Ctrl+E  choose an engine
Ctrl+G  type the day shown
Ctrl+T, Ctrl+L, Ctrl+D  stations, log, due list
Ctrl+U  orders and limits: directives, concessions, limits, overhauls, holds and other doubts
Space, Ctrl+click  choose several stations
Ctrl+I, Ctrl+Shift+I  fit at the chosen stations, or all of a pulled kit
Ctrl+Shift+F  fit pieces into another on the bench
Ctrl+S, Ctrl+Shift+S  strip the chosen stations, or all of the cylinder
Ctrl+Shift+W  strip the whole engine
Ctrl+Shift+R  rob the chosen pieces for another engine
Ctrl+Shift+B, Ctrl+Shift+P  take over a build record, presume stations filled
Ctrl+R  log running
Ctrl+Shift+M, Ctrl+Shift+L  change the meter, begin the log
Ctrl+Shift+O  begin the count since overhaul anew
Ctrl+Shift+E, Ctrl+Shift+K  record an event, clear of one
Ctrl+H, Ctrl+Shift+H  put on hold, clear a hold
Ctrl+Shift+N, Ctrl+Shift+T  enter a directive, set a limit of life
Ctrl+Shift+G  record a concession for the chosen piece
Ctrl+Shift+D  embody or remove a mod, with what it would need
Ctrl+O, Ctrl+J, Del  in orders and limits: complied with, new issue, withdraw or clear
Ctrl+P  save the status sheet, as PDF or workbook
Ctrl+Shift+C  recall what is in doubt
Ctrl+Shift+J  choose from when on a thing is due soon
Ctrl+M  everything that may be done here
Ctrl+B  on an earlier day: as believed then
+ and -  in the due list: look nearer or farther ahead
F5  read it again"""

CHANGED_NAMED_MAX = 2
STATIONS, LOG, DUE, ORDERS = "stations", "log", "due", "orders"
# How far ahead the due list looks beyond what is due soon.
MONTHS_AHEAD = 60
LIVES_NOT_WORKED_OUT = "Lives are not worked out"


class EnginesPresenter(ShownEngine):
    """Holds which engine, day and cylinder are shown, and what was read of them; knows no Tk."""

    def __init__(self, sitting: Sitting) -> None:
        super().__init__(sitting)
        self.day: date | None = None
        self.as_believed = False
        self.position = ""
        self.reading: EngineReading | None = None
        self.log: EngineLog | None = None
        self.due: DueRead | None = None
        self.orders: EngineOrders | None = None

    def forget_engine(self) -> None:
        self.reading = self.log = self.orders = None
        self.day, self.as_believed, self.position = None, False, ""

    def forget_group(self) -> None:
        self.position = ""

    # What is shown

    def cylinders(self) -> list[Cylinder]:
        """The picture, as far as it is read."""
        if self.engine is None:
            return []
        build = self.reading.build if self.reading is not None else None
        standings = self.reading.standings if self.reading is not None else {}
        return cylinders_built(self.engine, self.group, build, standings)

    def shape(self) -> CylinderShape:
        """How one of its cylinders is drawn."""
        return shape_of(self.engine) if self.engine is not None else CylinderShape.FINNED

    def told_of_picture(self) -> str:
        """What stands beneath the picture: what its marks mean, since a tilted head may have no room."""
        words = dict.fromkeys(cylinder.sign for cylinder in self.cylinders())
        return " · ".join(sign(word).text for word in words)

    def stations(self) -> tuple[FilledStation, ...]:
        """The stations of the chosen cylinder, or none."""
        built, reading = self.built(), self.reading
        if built is None or reading is None:
            return ()
        differs = {
            each.station_name: words
            for each in reading.since.stations
            if (each.group, each.position_name) == (built.group, built.name)
            and (words := changed_words(each))
        }
        rows = stations_of(built, reading.drawn, reading.standings, reading.soon, differs)
        if reading.life is None:
            # A heading that tells limited from unlimited would say what nobody has worked out.
            return tuple(replace(row, section=LIVES_NOT_WORKED_OUT) for row in rows)
        return rows

    def built(self) -> BuiltPosition | None:
        """The chosen cylinder as it is built up, once that is read."""
        if self.reading is None:
            return None
        return next(
            (
                each
                for each in self.reading.build.positions
                if (each.group, each.name) == (self.group, self.position)
            ),
            None,
        )

    def why_no_stations(self) -> Empty | None:
        """What to say where there is no station to be shown, or None."""
        if self.engine is None:
            return Empty("Here stand the stations of a cylinder, each with its life.", "Add an engine first.")
        if self.reading is None:
            return Empty(f"Reading what is in {self.engine.name} …")
        if not self.position:
            return Empty(
                "Here stand the stations of a cylinder, each with what is in it and the life it has left.",
                "Click a cylinder, or go to it by its number and press Enter.",
            )
        if not self.stations():
            return Empty(
                f"No kit list asks for anything in {self.group} {self.position} of {self.engine.name},"
                " and nothing is recorded there.",
                "Stations and what they take are entered with the type.",
            )
        return None

    def title(self) -> str:
        """What stands above the stations."""
        if self.engine is None or not self.position:
            return ""
        where = f"{self.engine.name}, {self.group} {self.position}"
        return f"{where}, on {self.day.isoformat()}" if self.day is not None else where

    def steps(self) -> DaySteps:
        """The days that the slider goes over."""
        days = self.reading.days if self.reading is not None else ()
        return span_of([DayMark(day.on, day_words(day)) for day in days], self.sitting.today())

    def told_of_day(self) -> str:
        """What day is shown, and how it differs from today."""
        if self.reading is None or self.day is None:
            return ""
        said = f"As fitted on {self.day.isoformat()}"
        if self.as_believed:
            said += ", as believed at the end of that day; lives are not worked out for what was believed"
        changed = len(self.reading.since.stations)
        if self.reading.since.empty:
            return f"{said}. Nothing differs from today."
        stations = f"{changed} station{'s are' if changed != 1 else ' is'} otherwise today"
        named = [f"{each.position_name} {each.station_name}" for each in self.reading.since.stations]
        if changed > CHANGED_NAMED_MAX:
            named = [*named[:CHANGED_NAMED_MAX], "…"]
        return f"{said}. {stations}: {', '.join(named)}" if changed else f"{said}. Its mods are others today."

    def told_of_bars(self) -> str:
        """As on any day it is what is known today, that is said where another day is shown."""
        said = super().told_of_bars()
        return f"Today: {said}" if said and self.day is not None else said

    def told_of_standings(self) -> str:
        """What the stations of a past day show, and what they leave out; "" for today."""
        if self.day is None:
            return ""
        lives = (
            "Lives are not worked out for what was believed"
            if self.as_believed
            else "Lives as they stood then"
        )
        return f"{lives}; holds, and engine events not cleared, are known as of today alone and not shown."

    def told_of_log(self) -> str:
        """All that the engine ran, and that it is all of it even where a past day is shown."""
        said = head_of(self.log)
        return f"The whole log, as it is today. {said}" if said and self.day is not None else said

    def told_of_due(self) -> str:
        """That what falls due is told from today on, where a past day is shown."""
        return (
            "What falls due is told as of today, whatever day the picture shows."
            if self.day is not None
            else ""
        )

    def told_of_life(self) -> str:
        """What the engine itself ran, since new and since overhaul, in a line."""
        if self.reading is None or self.reading.life is None:
            return ""
        life = self.reading.life
        if life.log_begun_on is None:
            return "Nothing is recorded of what it ran: its log has not begun."
        new, since = life.since_new, life.since_overhaul
        said = f"Ran {hours_and_starts(new)}"
        if life.overhauled_on is not None:
            hours = prior_hours_words(since.hours.known())
            said += f"; {hours} since its overhaul of {life.overhauled_on.isoformat()}"
        return f"{said}."

    def engine_gauge(self) -> Gauge | None:
        """The gauge of the engine's own life, if it has a limit."""
        if self.reading is None or self.reading.life is None:
            return None
        governing = self.reading.life.stands.governing
        return gauge_of(governing, self.reading.soon) if governing is not None else None

    def due_lines(self, own_alone: bool) -> tuple[DueLine, ...]:
        """What falls due on all engines, or on the shown one alone."""
        lines = self.due.lines if self.due is not None else ()
        if not own_alone or self.engine is None:
            return lines
        return tuple(line for line in lines if line.engine == self.engine.engine)

    def may_act(self) -> str:
        """Why nothing can be fitted or stripped just now, or ""."""
        if self.engine is None:
            return "No engine is shown."
        if self.day is not None:
            return f"The engine is shown as it was on {self.day.isoformat()}. Go back to today first (End)."
        if self.reading is None:
            return f"What is in {self.engine.name} has not been read yet."
        return ""

    def choose_day(self, day: date) -> None:
        """Show the engine as of the end of that day; today is shown as it is now."""
        self.day = None if day >= self.sitting.today() else day
        if self.day is None:
            self.as_believed = False

    def believed_at(self) -> datetime | None:
        """The instant whose belief is shown, None for what is known now."""
        if self.day is None or not self.as_believed:
            return None
        return datetime.combine(self.day, time.max, self.sitting.zone).astimezone(UTC)

    def go_to(self, where: str) -> None:
        """Show the position that is called so in words, such as "cylinder 5", if the engine has it."""
        for each in self.engine.positions if self.engine is not None else ():
            if f"{each.group} {each.name}" == where:
                self.show_group(each.group)
                self.position = each.name

    # What workers do

    def read_build(
        self, job: Job, engine: int, day: date | None, believed_at: datetime | None
    ) -> EngineReading:
        """The engine as fitted on a day."""
        with self.sitting.reading(job) as session:
            return read_engine_on(session, engine, day, believed_at)

    def read_log(self, job: Job, engine: int) -> EngineLog:
        """The engine's log."""
        with self.sitting.reading(job) as session:
            return engine_log(session, engine)

    def read_orders(self, job: Job, engine: int, name: str, day: date | None) -> EngineOrders:
        """What binds the engine or puts it in doubt, as it stood on a day."""
        with self.sitting.reading(job) as session:
            return read_orders(session, engine, name, day)

    def read_due(self, job: Job) -> DueRead:
        """What falls due on all engines, the worst first."""
        with self.sitting.reading(job) as session:
            lines = due_list(session, within_months=MONTHS_AHEAD)
            until = months_after(self.sitting.today(), due_soon(session).months)
        return DueRead(lines, until)


def day_words(day: BuildDay) -> str:
    """What happened to a build on a day."""
    counts = ((day.fitted, "fitted"), (day.stripped, "stripped"), (day.presumed, "presumed"))
    return ", ".join(f"{count} {word}" for count, word in counts if count)


def changed_words(difference: StationDifference) -> str:
    """What is otherwise at a station today, in a few words."""
    said = [_change_words(change) for change in difference.changes]
    if difference.presumed_no_more:
        said.append("identified since")
    return "; ".join(dict.fromkeys(filter(None, said)))


def _change_words(change: Change) -> str:
    if change.came and change.after is not None:
        return f"today {change.after.thing.tag}, since {change.after.thing.since_on.isoformat()}"
    if change.went:
        return "taken out since"
    if change.moved and change.after is not None:
        where = " ".join(
            part for part in (change.after.spot.position_name, change.after.spot.station_name) if part
        )
        return f"today at {where}"
    if change.refitted:
        return "out and back since"
    return "otherwise today"


def due_words(bars: Sequence[DueBar], every: int) -> str:
    """How many lines of the due list are shown."""
    lines = f"{every} line{'s' if every != 1 else ''}"
    return lines if len(bars) == every else f"{len(bars)} of {lines}"
