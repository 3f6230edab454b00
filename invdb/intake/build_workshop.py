"""Build a store from a workshop's tables, act by act, each recorded on the day the tables say it was booked.

The same acts do it that a person would do at the window; a line that an act refuses stops the whole build,
and nothing is left of the store.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import partial

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb import store
from invdb.acts import accept, begin, change, hold, mods, move, papers, pull, reverse, split
from invdb.acts.by import By, begin_draft
from invdb.acts.goods_in import GoodsIn, MadeHere, NewBatch, NewPiece, ReceivingChecks, receive
from invdb.acts.numbers import Thing
from invdb.acts.propose import propose
from invdb.acts.proposed import Asked
from invdb.acts.shop import draft_agreement
from invdb.intake.alike import alike, came_alike, checks_of, looked_alike
from invdb.intake.booked import Booking, Turn
from invdb.intake.catalogue import StandInRow
from invdb.intake.daybook import Happening
from invdb.intake.engines import ModChangeRow
from invdb.intake.inspecting import Inspecting
from invdb.intake.lending import Lending
from invdb.intake.living import Living
from invdb.intake.planning import Planning
from invdb.intake.purchasing import Purchasing
from invdb.intake.set_up import record_stand_in, set_up, take_document
from invdb.intake.shop import AgreementRow, DocumentRow
from invdb.intake.specifying import Specifying
from invdb.intake.stock import BatchRow, GoodsInRow, PieceRow
from invdb.intake.working import Working
from invdb.intake.workshop import PullRow, Workshop
from invdb.records.clock import ZONE_SETTING
from invdb.records.ledger import LedgerHead
from invdb.records.posting import post
from invdb.terms import Condition, EntryKind, Refused

# The first act of a day, and how far one act is from the next, as the shop's records would have it.
DAY_BEGINS = time(8, 0, tzinfo=UTC)
ACT_TAKES = timedelta(minutes=1)

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Built:
    """What was built: how many entries the ledger holds."""

    entries: int


@dataclass
class _Clock:
    """The instants at which the tables' acts are recorded: by day, one minute after another."""

    instant: datetime

    def __call__(self) -> datetime:
        return self.instant

    def go_to(self, day: date) -> None:
        self.instant = max(self.instant + ACT_TAKES, datetime.combine(day, DAY_BEGINS))


def build_workshop(where: str, workshop: Workshop, progress: Progress = lambda done, total: None) -> Built:
    """Make a store at ``where`` and put a whole workshop into it, in one transaction.

    ``progress`` is told after each act how many are done of how many; what it raises stops the build. Refused
    with the line of the table whose act was refused. Nothing is left of the store when it stops.
    """
    with store.creating(where) as (_, session):
        builder = _Builder(session, workshop)
        bookings = builder.bookings()
        for done, booking in enumerate(bookings, start=1):
            builder.clock.go_to(booking.booked_on)
            booking.act()
            progress(done, len(bookings))
        entries = session.scalar(select(LedgerHead.number))
    assert entries is not None
    return Built(entries)


class _Builder:
    """Does the acts of one workshop's tables in one session, keeping the ids that they give."""

    def __init__(self, session: Session, workshop: Workshop) -> None:
        self._session = session
        self._workshop = workshop
        self._things: dict[str, Thing] = {}
        self._entry_of: dict[str, int] = {}
        self._holds: dict[str, int] = {}
        self._pulls: dict[PullRow, int] = {}
        begins_on = min(note.booked_on for note in workshop.goods_in)
        first = next(note.booked_by for note in workshop.goods_in if note.booked_on == begins_on)
        self.clock = _Clock(datetime.combine(begins_on, DAY_BEGINS) - timedelta(days=1))
        session.info["clock"] = self.clock
        person = next(person for person in workshop.people if person.name == first)
        owner = next(owner for owner in workshop.owners if owner.ours)
        self._first = begin.begin(
            session,
            begin.Workshop(
                owner.name,
                person.name,
                person.licence_number,
                person.licence_kind,
                workshop.settings[ZONE_SETTING],
            ),
        )
        self._ids = set_up(session, workshop, By(self._first))
        self._purchasing = Purchasing(session, workshop.purchases, self._ids, self._things)

    def bookings(self) -> list[Booking]:
        """Every act in the order it was booked."""
        workshop = self._workshop
        begins_on = self.clock().date()

        def since(day: date | None) -> date:
            return max(day or begins_on, begins_on)

        bookings = [
            Booking(since(each.dated_on), Turn.DOCUMENT, each.line, partial(self._take_document, each))
            for each in workshop.documents
        ]
        bookings += [
            Booking(since(each.holds.from_on), Turn.RULE, each.line, partial(self._stand_in, each))
            for each in workshop.stand_ins
        ]
        bookings += [
            Booking(since(each.from_on), Turn.RULE, each.line, partial(self._agree, each))
            for each in workshop.agreements
        ]
        bookings += [
            Booking(each.booked_on, Turn.MOD, each.line, partial(self._change_mod, each))
            for each in workshop.mod_changes
        ]
        bookings += self._goods_in()
        bookings += [
            Booking(lines[0].booked_on, Turn.DAY_BOOK, lines[0].line, partial(self._happen, lines))
            for lines in alike(workshop.happenings, lambda line: line.number)
        ]
        bookings += Specifying(self._session, workshop.specs, self._ids).bookings()
        bookings += Inspecting(self._session, workshop.inspections, self._ids, self._things).bookings()
        bookings += Working(self._session, workshop.works, self._ids, self._things).bookings()
        bookings += Planning(self._session, workshop.plans, self._ids).bookings()
        bookings += self._purchasing.bookings()
        bookings += Lending(self._session, workshop.loans, self._ids, self._things).bookings()
        bookings += Living(self._session, workshop, self._ids, self._things, self._entry_of).bookings()
        bookings += [
            Booking(each.asked_on, Turn.PULLED, each.line, partial(self._pull, each))
            for each in workshop.pulls
        ]
        bookings += [
            Booking(each.cancelled_on, Turn.CANCELLED, each.line, partial(self._cancel, each))
            for each in workshop.pulls
            if each.cancelled_on is not None
        ]
        return sorted(bookings)

    def _keeper(self) -> By:
        """Whoever is the first person named that still works here on the day."""
        gone = {
            line.of
            for line in self._workshop.happenings
            if line.kind is EntryKind.PEOPLE and line.booked_on <= self.clock().date()
        }
        name = next(person.name for person in self._workshop.people if person.name not in gone)
        return By(self._ids.people[name])

    def _goods_in(self) -> list[Booking]:
        notes = {note.number: note for note in self._workshop.goods_in}
        came = alike(self._workshop.pieces, came_alike)
        deliveries: list[tuple[PieceRow | BatchRow, ...]] = [*came, *((b,) for b in self._workshop.batches)]
        bookings = [
            Booking(
                notes[goods[0].goods_in].booked_on, Turn.GOODS_IN, goods[0].line,
                partial(self._receive, notes[goods[0].goods_in], goods),
            )
            for goods in deliveries
        ]  # fmt: skip
        bookings += [
            Booking(looked_on, Turn.LOOKED_AT, together[0].line, partial(self._look, together))
            for together in alike(self._workshop.things, looked_alike)
            if (looked_on := together[0].stock.looked_on) is not None
        ]
        return bookings

    def _by(self, name: str, on: date | None, note: str = "") -> By:
        return By(self._ids.people[name], on, note)

    def _take_document(self, document: DocumentRow) -> None:
        take_document(self._session, document, self._ids, self._keeper())

    def _stand_in(self, stand_in: StandInRow) -> None:
        record_stand_in(self._session, stand_in, self._ids, self._keeper())

    def _agree(self, agreement: AgreementRow) -> None:
        draft = begin_draft(self._session, EntryKind.PEOPLE, replace(self._keeper(), on=agreement.from_on))
        draft_agreement(
            self._session,
            draft,
            self._ids.owners[agreement.owner],
            self._ids.owners[agreement.for_owner],
            agreement.from_on,
            agreement.wording,
            agreement.until_on,
            self._ids.engines.get(agreement.engine or ""),
            self._ids.documents.get(agreement.document or ""),
        )
        post(self._session, draft)

    def _change_mod(self, change: ModChangeRow) -> None:
        act = mods.embody if change.embodied else mods.remove
        by = self._by(change.who, change.changed_on, change.note)
        act(self._session, self._ids.engines[change.engine], self._ids.mods[change.code], by)

    def _receive(self, note: GoodsInRow, goods: tuple[PieceRow | BatchRow, ...]) -> None:
        cells = goods[0].stock
        pieces = [thing for thing in goods if isinstance(thing, PieceRow)]
        batch = next((thing for thing in goods if isinstance(thing, BatchRow)), None)
        bought = self._purchasing.bought(note.number, goods[0].house_number)
        # What is accepted has its checks recorded then; what is not has them from the start.
        checks = ReceivingChecks() if cells.condition is Condition.SERVICEABLE else checks_of(cells)
        received = receive(
            self._session,
            GoodsIn(
                origin=note.origin,
                place=self._ids.places[note.place],
                part=self._ids.parts[goods[0].house_number],
                pieces=tuple(
                    NewPiece(
                        piece.serial,
                        piece.prior_hours,
                        piece.prior_starts,
                        piece.tag,
                        piece.stock.note,
                        piece.made_on,
                    )
                    for piece in pieces
                ),
                batch=NewBatch(batch.quantity, batch.maker_batch, batch.tag) if batch is not None else None,
                owner=self._ids.owners[cells.owner],
                work_state=cells.work_state,
                work_reference=cells.work_reference,
                used=cells.used,
                firm=self._ids.firms.get(note.firm or ""),
                donor_engine=self._ids.engines.get(note.donor_engine or ""),
                donor=note.donor,
                shelf_expiry_on=cells.shelf_expiry_on,
                made_here=MadeHere(
                    cells.drawing,
                    cells.drawing_revision,
                    cells.material,
                    cells.material_certificate,
                    cells.made_by,
                    cells.made_inspected_by,
                ),
                checks=checks,
                size_class=batch.size_class if batch is not None else "",
                documents=tuple(self._ids.documents[paper] for paper in cells.papers),
                note=cells.note,
                order_line=self._purchasing.line_of(bought),
                cost=None if bought is None else bought.cost,
            ),
            self._by(note.booked_by, note.happened_on, note.note),
        )
        self._entry_of[note.number] = received.entry
        self._things.update({tag: thing for thing, tag in received.things})

    def _look(self, together: tuple[PieceRow | BatchRow, ...]) -> None:
        cells = together[0].stock
        assert cells.looked_on is not None and cells.looked_by is not None and cells.place is not None
        things = tuple(self._things[thing.tag] for thing in together)
        by = self._by(cells.looked_by, cells.looked_on)
        to_place = self._ids.places[cells.place]
        if cells.condition is Condition.SERVICEABLE:
            assert cells.scope is not None
            accept.accept(
                self._session,
                accept.Acceptance(things, cells.scope, checks_of(cells), to_place, cells.override),
                by,
            )
        else:
            accept.set_condition(
                self._session, things, cells.condition, f"On receipt: {cells.check_damage}", by, to_place
            )

    def _happen(self, lines: tuple[Happening, ...]) -> None:
        try:
            self._entry_of[lines[0].number] = self._do(lines)
        except Refused as refused:
            raise Refused(
                f"happenings.csv, line {lines[0].line} ({lines[0].number}): {refused.reason}", refused.remedy
            ) from refused

    def _do(self, lines: tuple[Happening, ...]) -> int:
        line = lines[0]
        session, places = self._session, self._ids.places
        thing = self._things.get(line.of)
        to_place = places.get(line.to_place or "")
        by = self._by(line.who, line.happened_on)
        noted = replace(by, note=line.why)
        match line.kind, thing, to_place:
            case EntryKind.MOVED, Thing(), int():
                return self._move(line, thing, to_place, noted)
            case EntryKind.SPLIT, Thing(batch=int(batch)), int():
                return self._split(lines, batch, by)
            case EntryKind.ACCEPTED, Thing(), int():
                assert line.scope is not None
                acceptance = accept.Acceptance((thing,), line.scope, line.checks, to_place)
                return accept.accept(session, acceptance, noted)
            case EntryKind.CONDITION_SET, Thing(), _:
                assert line.condition is not None
                return accept.set_condition(session, (thing,), line.condition, line.why, by, to_place)
            case EntryKind.PAPERS, Thing(), _:
                document = self._ids.documents[line.papers[0]]
                return papers.link_paper(session, document, (thing,), noted)
            case EntryKind.HOLD_RAISED, _, _:
                (self._holds[line.number],) = hold.raise_hold(session, (self._subject(line),), line.why, by)
                return self._last_entry()
            case EntryKind.HOLD_CLEARED, _, _:
                assert line.undoes is not None
                return hold.clear_hold(session, self._holds[line.undoes], line.why, by)
            case EntryKind.REVERSED, _, _:
                assert line.undoes is not None
                return reverse.reverse(session, self._entry_of[line.undoes], line.why, by)
            case EntryKind.CATALOGUE, _, _:
                part = self._ids.parts[line.of]
                limit = {"life_limit_hours": line.life_limit_hours}
                return change.change_part(session, part, change.seen_of(session, "part", part), limit, noted)
            case EntryKind.PEOPLE, _, _:
                person = self._ids.people[line.of]
                seen = change.seen_of(session, "person", person)
                return change.change_person(session, person, seen, {"works_here": False}, noted)
            case _:
                raise Refused(f"{line.of} can't have {line.kind} happen to it.", "Look at the line again.")

    def _move(self, line: Happening, thing: Thing, to_place: int, by: By) -> int:
        from_place = self._ids.places[line.from_place or ""]
        return move.move(self._session, (move.Shift(thing, line.quantity, from_place),), to_place, by)

    def _split(self, lines: tuple[Happening, ...], batch: int, by: By) -> int:
        shares = []
        for line in lines:
            assert line.quantity is not None and line.condition is not None
            to_place = self._ids.places[line.to_place or ""]
            shares.append(
                split.Share(line.quantity, line.condition, line.scope, to_place, line.new_tag, line.why)
            )
        from_place = self._ids.places[lines[0].from_place or ""]
        made = split.split(self._session, batch, from_place, tuple(shares), by)
        self._things.update({tag: Thing(batch=child) for child, tag in made.batches})
        return made.entry

    def _subject(self, line: Happening) -> hold.Subject:
        if line.of in self._things:
            thing = self._things[line.of]
            return hold.Subject(piece=thing.piece, batch=thing.batch)
        if line.of in self._ids.parts:
            return hold.Subject(part=self._ids.parts[line.of])
        return hold.Subject(engine=self._ids.engines[line.of])

    def _last_entry(self) -> int:
        number: int | None = self._session.scalar(select(LedgerHead.number))
        assert number is not None
        return number

    def _pull(self, asked: PullRow) -> None:
        engine_types = {engine.name: engine.engine_type for engine in self._workshop.engines}
        position = self._ids.positions[engine_types[asked.engine], asked.position]
        proposal = propose(self._session, (Asked(self._ids.engines[asked.engine], position),))
        by = self._by(asked.asked_by, asked.asked_on, asked.note)
        (made,) = pull.reserve(self._session, (pull.order_of(proposal.kits[0]),), by)
        self._pulls[asked] = made.pull

    def _cancel(self, asked: PullRow) -> None:
        by = self._by(asked.asked_by, asked.cancelled_on)
        pull.cancel(self._session, self._pulls[asked], asked.note, by)
