"""The acts of the tables about engines' lives: what they ran, what was built into them, what holds for it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from datetime import date

from sqlalchemy.orm import Session

from invdb.acts.believed import NOW
from invdb.acts.by import By
from invdb.acts.concession import NewConcession, grant_concession
from invdb.acts.directive import NewDirective, add_directive, comply
from invdb.acts.engine_event import NewEvent, clear_event, record_event
from invdb.acts.fit import Fit, FitOrder, fit
from invdb.acts.fit_inside import InsideFit, fit_inside
from invdb.acts.hold import Subject
from invdb.acts.life_limit import NewLifeLimit, add_life_limit
from invdb.acts.life_reset import LifeResetOrder, reset_life
from invdb.acts.numbers import Thing
from invdb.acts.presume import Unidentified, presume, strip_presumed
from invdb.acts.presumed import read_presumed
from invdb.acts.rob import Robbery, rob
from invdb.acts.running import LogBegin, MeterChange, Run, begin_log, change_meter, log_run
from invdb.acts.strip import Strip, StripOrder, strip
from invdb.acts.take_over import StationFill, TakenOver, take_over
from invdb.intake.alike import alike
from invdb.intake.booked import Booking, Turn, booked, singly
from invdb.intake.builds import BuildRow
from invdb.intake.doubts import ClearanceRow, ComplianceRow, ConcessionRow, DirectiveRow, EventRow
from invdb.intake.finds import FindRow
from invdb.intake.fitting import FitRow, InsideRow, RobRow, StripRow
from invdb.intake.limits import LimitRow, ResetRow
from invdb.intake.logs import LogRow, MeterRow, RunRow
from invdb.intake.set_up import Ids
from invdb.intake.workshop import Workshop
from invdb.terms import NO_PRIOR_LIFE, Condition, LifeMeasure, Refused


class Living:
    """Does these acts in one session.

    ``things`` and ``entry_of`` are what other tables' acts made and name things by; these acts add theirs.
    """

    def __init__(
        self,
        session: Session,
        workshop: Workshop,
        ids: Ids,
        things: dict[str, Thing],
        entry_of: dict[str, int],
    ) -> None:
        self._session = session
        self._lives = workshop.lives
        self._drawings = workshop.drawings
        self._ids = ids
        self._things = things
        self._entry_of = entry_of
        self._events: dict[str, int] = {}
        self._directives: dict[str, int] = {}

    def bookings(self) -> list[Booking]:
        """Every act of these tables, in no order."""
        lives = self._lives
        return [
            *booked("life_limits.csv", Turn.RULE, singly(lives.limits), self._limit),
            *booked("directives.csv", Turn.RULE, singly(lives.directives), self._direct),
            *booked("engine_logs.csv", Turn.LOG_BEGUN, singly(lives.logs), self._begin_log),
            *booked("build_records.csv", Turn.BUILD, singly(lives.builds), self._take_over),
            *booked("running.csv", Turn.RUN, singly(lives.running), self._log_run),
            *booked(
                "meter_changes.csv", Turn.METER_CHANGED, singly(lives.meter_changes), self._change_meter
            ),
            *booked("engine_events.csv", Turn.EVENT, singly(lives.events), self._befall),
            *booked(
                "strippings.csv", Turn.STRIPPED, alike(lives.strippings, lambda r: r.number), self._strip
            ),
            *booked("finds.csv", Turn.STRIPPED, alike(lives.finds, lambda r: r.number), self._find),
            *booked("robberies.csv", Turn.ROBBED, singly(lives.robberies), self._rob),
            *booked(
                "bench_fittings.csv", Turn.FITTED_INSIDE, alike(lives.insides, lambda r: r.number),
                self._fit_inside,
            ),
            *booked("fittings.csv", Turn.FITTED, alike(lives.fittings, lambda r: r.number), self._fit),
            *booked("life_resets.csv", Turn.SIGNED, singly(lives.resets), self._reset),
            *booked("concessions.csv", Turn.SIGNED, singly(lives.concessions), self._concede),
            *booked(
                "event_clearances.csv", Turn.SIGNED, alike(lives.clearances, _signed_alike), self._clear
            ),
            *booked("compliances.csv", Turn.SIGNED, alike(lives.compliances, _signed_alike), self._comply),
        ]  # fmt: skip

    def _by(self, who: str, on: date, note: str = "") -> By:
        return By(self._ids.people[who], on, note)

    def _document(self, reference: str | None) -> int | None:
        return None if reference is None else self._ids.documents[reference]

    def _position(self, engine: str, position: str) -> int:
        return self._ids.positions[self._drawings.engines[engine].engine_type, position]

    def _station(self, engine: str, position: str, station: str) -> int:
        engine_type = self._drawings.engines[engine].engine_type
        return self._ids.stations[engine_type, self._drawings.groups[engine_type, position], station]

    def _subject(self, of: str) -> Subject:
        if of in self._things:
            thing = self._things[of]
            return Subject(piece=thing.piece, batch=thing.batch)
        return Subject(engine=self._ids.engines[of])

    def _limit(self, rows: tuple[LimitRow, ...]) -> None:
        (row,) = rows
        limit = NewLifeLimit(
            row.measure,
            row.amount,
            self._ids.parts.get(row.house_number or ""),
            self._ids.engine_types.get(row.engine_type or ""),
            self._ids.mods.get(row.mod or ""),
            bool(row.mod_embodied),
            row.counted,
            row.since,
            row.prorated,
            row.source,
            self._document(row.document),
        )
        add_life_limit(self._session, limit, self._by(row.who, row.booked_on))

    def _direct(self, rows: tuple[DirectiveRow, ...]) -> None:
        (row,) = rows
        batch = self._things[row.batch].batch if row.batch is not None else None
        directive = NewDirective(
            row.reference,
            row.title,
            row.method,
            row.effective_on,
            row.issue,
            row.authority,
            self._ids.engine_types.get(row.engine_type or ""),
            row.serial_from,
            row.serial_to,
            self._ids.parts.get(row.house_number or ""),
            batch,
            row.within_hours,
            row.within_months,
            row.due_on,
            row.every_hours,
            row.every_months,
            self._document(row.document),
        )
        by = self._by(row.who, row.booked_on)
        self._directives[row.reference] = add_directive(self._session, directive, by)

    def _begin_log(self, rows: tuple[LogRow, ...]) -> None:
        (row,) = rows
        begun = LogBegin(row.reading, row.hours_before, row.starts_before)
        begin_log(
            self._session, self._ids.engines[row.engine], begun, self._by(row.who, row.begun_on, row.note)
        )

    def _take_over(self, rows: tuple[BuildRow, ...]) -> None:
        (row,) = rows
        engine = self._ids.engines[row.engine]
        by = self._by(row.who, row.taken_on, row.note)
        document = self._document(row.document)
        if document is None:
            positions = tuple(self._position(row.engine, position) for position in row.positions)
            presume(self._session, engine, by, positions)
            return
        stations = tuple(
            StationFill(
                self._position(filled.engine, filled.position),
                self._station(filled.engine, filled.position, filled.station),
                self._ids.parts[filled.house_number],
                filled.serial or "",
                filled.quantity,
                filled.prior_hours,
                filled.prior_starts,
                tag=filled.tag,
                inside=filled.inside,
                note=filled.note,
            )
            for filled in self._lives.filled
            if filled.engine == row.engine
        )
        taken = take_over(self._session, TakenOver(engine, stations, row.reading, document), by)
        self._things.update({tag: thing for thing, tag in taken.things})

    def _log_run(self, rows: tuple[RunRow, ...]) -> None:
        (row,) = rows
        run = Run(row.use, row.reading, row.hours, row.starts)
        by = self._by(row.who, row.ran_on, row.note)
        self._entry_of[row.number] = log_run(self._session, self._ids.engines[row.engine], run, by)

    def _change_meter(self, rows: tuple[MeterRow, ...]) -> None:
        (row,) = rows
        change = MeterChange(row.new_reading, row.old_reading, row.unread, NO_PRIOR_LIFE, row.use)
        by = self._by(row.who, row.changed_on, row.note)
        change_meter(self._session, self._ids.engines[row.engine], change, by)

    def _befall(self, rows: tuple[EventRow, ...]) -> None:
        (row,) = rows
        event = NewEvent(self._ids.engines[row.engine], row.kind, row.note)
        self._events[row.number] = record_event(self._session, event, self._by(row.who, row.event_on))

    def _strip(self, rows: tuple[StripRow, ...]) -> None:
        first = rows[0]
        order = StripOrder(
            self._ids.engines[first.engine],
            tuple(
                Strip(
                    self._things[row.of],
                    row.found,
                    self._ids.places[row.to_place],
                    row.condition,
                    row.orientation,
                    row.control,
                    row.quantity,
                    scrapped=self._things[row.of].batch is not None,
                )
                for row in rows
            ),
            first.reading,
        )
        strip(self._session, order, self._by(first.who, first.stripped_on, first.note))

    def _find(self, rows: tuple[FindRow, ...]) -> None:
        first = rows[0]
        presumed = self._presumed(first.engine)
        finds = []
        for row in rows:
            there = presumed[
                self._position(row.engine, row.position), self._station(row.engine, row.position, row.station)
            ]
            if not there:
                raise Refused(
                    f"nothing more is presumed as the {row.station} of line {row.line}.",
                    "Look at the finds before it, or at what was fitted there.",
                )
            finds.append(
                Unidentified(
                    there.pop(0),
                    row.found,
                    self._ids.parts.get(row.house_number or ""),
                    self._ids.places.get(row.to_place or ""),
                    row.serial,
                    row.condition or Condition.UNINSPECTED,
                    row.orientation,
                    row.control,
                    row.quantity,
                    row.tag,
                )
            )
        by = self._by(first.who, first.found_on)
        found = strip_presumed(
            self._session, self._ids.engines[first.engine], tuple(finds), first.reading, by
        )
        self._things.update({tag: thing for thing, tag in found.things})

    def _presumed(self, engine: str) -> dict[tuple[int, int], list[int]]:
        """The presumptions that stand, by position and station (ids)."""
        presumed = defaultdict(list)
        for position, station, each in read_presumed(self._session, self._ids.engines[engine], NOW):
            presumed[position, station].append(each.presumption)
        return presumed

    def _rob(self, rows: tuple[RobRow, ...]) -> None:
        (row,) = rows
        robbery = Robbery(
            self._ids.engines[row.engine],
            (self._things[row.of],),
            self._ids.places[row.to_place],
            self._ids.people[row.authorised_by],
            self._ids.engines[row.for_engine],
            row.reason,
            row.reading,
            row.found,
            row.control,
        )
        rob(self._session, robbery, self._by(row.who, row.robbed_on))

    def _fit_inside(self, rows: tuple[InsideRow, ...]) -> None:
        first = rows[0]
        fits = []
        for row in rows:
            holder, piece = self._things[row.into].piece, self._things[row.of].piece
            assert holder is not None and piece is not None
            fits.append(InsideFit(holder, piece, self._ids.stations[row.engine_type, row.group, row.station]))
        fit_inside(self._session, tuple(fits), self._by(first.who, first.fitted_on, first.note))

    def _fit(self, rows: tuple[FitRow, ...]) -> None:
        first = rows[0]
        order = FitOrder(
            self._ids.engines[first.engine],
            self._position(first.engine, first.position),
            tuple(
                Fit(
                    self._station(row.engine, row.position, row.station),
                    self._things[row.of],
                    row.quantity,
                    self._ids.places[row.from_place],
                )
                for row in rows
            ),
            first.reading,
            override=first.override,
        )
        fit(self._session, order, self._by(first.who, first.fitted_on, first.note))

    def _reset(self, rows: tuple[ResetRow, ...]) -> None:
        (row,) = rows
        subject = self._subject(row.of)
        order = LifeResetOrder(
            row.report,
            subject.piece,
            subject.engine,
            LifeMeasure.HOURS in row.measures,
            LifeMeasure.STARTS in row.measures,
            LifeMeasure.MONTHS in row.measures,
            row.overhauled_on,
            row.hours,
            row.starts,
            self._document(row.document),
        )
        reset_life(self._session, order, self._by(row.who, row.reset_on))

    def _concede(self, rows: tuple[ConcessionRow, ...]) -> None:
        (row,) = rows
        piece = self._things[row.of].piece
        assert piece is not None
        concession = NewConcession(
            row.reference,
            row.authority,
            row.over,
            row.allows,
            self._ids.documents[row.document],
            piece,
            self._ids.engines[row.engine],
            None if row.position is None else self._position(row.engine, row.position),
            row.from_on,
            row.until_on,
            row.hours_allowed,
            row.life_limit_hours,
        )
        grant_concession(self._session, concession, self._by(row.who, row.booked_on))

    def _clear(self, rows: tuple[ClearanceRow, ...]) -> None:
        first = rows[0]
        clear_event(
            self._session,
            self._events[first.event],
            [self._subject(row.of) for row in rows],
            first.inspection,
            self._by(first.who, first.cleared_on),
            self._document(first.document),
        )

    def _comply(self, rows: tuple[ComplianceRow, ...]) -> None:
        first = rows[0]
        comply(
            self._session,
            self._directives[first.directive],
            [self._subject(row.of) for row in rows],
            first.method,
            self._by(first.who, first.complied_on),
            self._document(first.document),
        )


def _signed_alike(row: ClearanceRow | ComplianceRow) -> object:
    """What must be the same for things to be signed for together."""
    return replace(row, line=0, of="")
