"""Send stock out for work, and book back what came of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from gui.job import Job
from gui.shown import Choice, Field, FieldKind, Values
from gui.sitting import Sitting
from gui.views.chosen_stock import day_field, named, remark_field, titled
from gui.views.form_plan import FormPlan, fields_renamed
from gui.views.goods_in_checks import not_after
from gui.views.overhaul_form import CALENDAR, COUNTS, HOURS, STARTS
from gui.views.place_fields import place_field
from gui.views.searches import search_for
from gui.views.work_words import Hazards, bare_place, hazards_said, place_choices
from invdb.acts.life_reset import LifeResetOrder
from invdb.acts.numbers import Thing
from invdb.acts.offers import PlaceOffer
from invdb.acts.reidentify import NewIdentity
from invdb.acts.scrap import ScrapOrder
from invdb.acts.things import ThingState
from invdb.acts.work import BackLine, ToSend, WorkBack, WorkOrderMade, WorkSent, back_from_work, send_for_work
from invdb.acts.work_list import WorkLineFacts, WorkOrderFacts
from invdb.rules.quantities import quantity_words, read_quantity
from invdb.terms import Condition, FieldRefused, Unusable, WorkWanted

CAME_BACK_AS = (
    Choice(Condition.UNINSPECTED, "uninspected: to be looked at before it is used"),
    Choice(Condition.UNSERVICEABLE, "unserviceable: the work did not bring it back"),
)
HOW = tuple(Choice(how, str(how)) for how in Unusable)


def send_form(
    sitting: Sitting,
    rows: Sequence[tuple[ThingState, int | None]],
    places: Sequence[PlaceOffer],
    hazards: Mapping[int, Hazards],
) -> FormPlan:
    """The form to send these, each from its place (None: wherever it is), to one of ``places``.

    ``hazards`` are by part. Of a single batch it asks how much.
    """
    stock = [state for state, _ in rows]
    batch = stock[0] if len(stock) == 1 and stock[0].thing.batch is not None else None

    def check_quantity(written: str, _values: Values) -> None:
        assert batch is not None, "only a batch is divided"
        if written:
            read_quantity(written, batch.measure)

    def act(job: Job, values: dict[str, Any]) -> WorkOrderMade:
        sent = WorkSent(
            values["place"],
            values["kind"],
            values["wanted"],
            tuple(_to_send(state, place, values.get("quantity", "")) for state, place in rows),
            values["due_on"],
            bool(values.get("sure")),
        )
        with sitting.store.writing() as session:
            made = send_for_work(session, sent, sitting.by(values["happened_on"], values["note"]))
            job.commit_begins()
        return made

    how_much = Field(
        "quantity", "How much", FieldKind.QUANTITY, unit="empty for all that is free", check=check_quantity
    )
    return FormPlan(
        title=titled("Send for work:", stock),
        fields=(
            Field("place", "To", FieldKind.CHOICE, needed=True, choices=place_choices(places),
                  hint="A firm, or our own bench"),
            Field("kind", "For", FieldKind.CHOICE, needed=True,
                  choices=tuple(Choice(kind, str(kind)) for kind in WorkWanted),
                  hint="What is done to it; what reworks it ends its being matched when it comes back"),
            Field("wanted", "What is wanted", FieldKind.LINES, needed=True),
            *((how_much,) if batch is not None else ()),
            Field("due_on", "Due back on", FieldKind.DATE, hint="Overdue from the day after"),
            day_field(sitting, "Sent on"),
            remark_field(),
        ),
        act=act,
        told=lambda made: f"{named(stock)} went out for work on order {made.number}.",
        save_word="Send",
        said=lambda _values: hazards_said(stock, hazards, "Whoever gets it must be told."),
    )  # fmt: skip


def _to_send(state: ThingState, place: int | None, written: str) -> ToSend:
    if state.thing.piece is not None:
        return ToSend(state.thing)
    where = next((each for each in state.where if place in (None, each.place)), state.where[0])
    free = where.quantity - where.reserved
    return ToSend(state.thing, read_quantity(written, state.measure) if written else free, where.place)


def back_form(
    sitting: Sitting, order: WorkOrderFacts, chosen: Sequence[int], drums: Sequence[PlaceOffer]
) -> FormPlan:
    """The form to book back what is out on an order; ``chosen`` lines, by id, are ticked (none: all).

    What came back as another part, or has some of its life reset, is booked back by itself. ``drums`` are the
    scrap drums.
    """
    out = [line for line in order.lines if line.out]
    ticked = frozenset(line.work_line for line in out if not chosen or line.work_line in chosen)
    by_id = {line.work_line: line for line in out}
    single = out[0] if len(out) == 1 else None

    def came(values: Values) -> list[WorkLineFacts]:
        if single is not None:
            return [single]
        return [by_id[each] for each in by_id if each in (values.get("came") or ())]

    def scrapped(values: Values) -> frozenset[int]:
        return frozenset(values.get("scrapped") or ()) & {line.work_line for line in came(values)}

    def any_scrapped(values: Values) -> bool:
        return bool(scrapped(values))

    def any_saved(values: Values) -> bool:
        return len(scrapped(values)) < max(len(came(values)), 1)

    def one_piece_saved(values: Values) -> bool:
        saved = [line for line in came(values) if line.work_line not in scrapped(values)]
        return len(saved) == 1 and saved[0].thing.piece is not None

    def divided(values: Values) -> bool:
        here = came(values)
        return len(here) == 1 and here[0].out > 1

    def changed(values: Values) -> bool:
        return one_piece_saved(values) and bool(values.get("changed"))

    def resets(values: Values) -> bool:
        return one_piece_saved(values) and bool(values.get("resets"))

    def check_quantity(written: str, values: Values) -> None:
        if written:
            read_quantity(written, came(values)[0].measure)

    def check_came(ticks: frozenset[int], _values: Values) -> None:
        if not ticks:
            raise FieldRefused("came", "Nothing is ticked.", "Tick what came back.")

    def line_of(line: WorkLineFacts, values: Values) -> BackLine:
        written = values.get("quantity") or ""
        back = BackLine(
            line.work_line,
            values.get("to_place") or 0,
            values["report"],
            values.get("condition") or Condition.UNINSPECTED,
            read_quantity(written, line.measure) if written else line.out,
            values["document"],
        )
        if line.work_line in scrapped(values):
            drum = values["drum"]
            order_of = ScrapOrder(
                line.thing, values["reason"], values["how"], drum, witness=values["witness"],
                hazards_seen=bool(values.get("sure")),
            )  # fmt: skip
            return replace(back, to_place=drum, scrapped=order_of)
        if resets(values):
            back = replace(back, resets=_reset_of(values))
        return replace(back, identity=_identity_of(line.thing, values)) if changed(values) else back

    def act(job: Job, values: dict[str, Any]) -> int:
        lines = tuple(line_of(line, values) for line in came(values))
        renamed = fields_renamed(what_was_done="done", hazards_seen="how", resets_hours="resets")
        with renamed, sitting.store.writing() as session:
            entry = back_from_work(
                session, WorkBack(order.order, lines), sitting.by(values["happened_on"], values["note"])
            )
            job.commit_begins()
        return entry

    lines = tuple(Choice(line.work_line, _line_words(line)) for line in out)
    which = Field("came", "Came back", FieldKind.TICKS, start=ticked, choices=lines, check=check_came)
    return FormPlan(
        title=f"Back from work: order {order.number} ({order.kind}, {bare_place(order.place_name)})",
        fields=(
            *((which,) if single is None else ()),
            Field("quantity", "How much of it", FieldKind.QUANTITY, unit="empty for all that is out",
                  check=check_quantity, shown_when=divided),
            Field("report", "The report", needed=True, hint="Its reference, and what it says was done"),
            Field("document", "Its paper", FieldKind.FIND, find=search_for(sitting, ("document",)),
                  hint="The report itself, if it is here"),
            Field("condition", "It came back", FieldKind.CHOICE, needed=True, start=Condition.UNINSPECTED,
                  choices=CAME_BACK_AS, shown_when=any_saved),
            replace(place_field(sitting, "to_place", "Goes to", needed=True), shown_when=any_saved),
            Field("resets", "Begins anew", FieldKind.TICKS, choices=COUNTS, shown_when=one_piece_saved,
                  hint="Only what the report says is counted since overhaul anew"),
            Field("overhauled_on", "Overhauled on", FieldKind.DATE, check=not_after(sitting.today()),
                  shown_when=resets, hint="Empty if the day on which it came back"),
            Field("changed", "It is another part, size or finish now", FieldKind.TICK,
                  shown_when=one_piece_saved),
            Field("part", "It is now", FieldKind.FIND, needed=True, find=search_for(sitting, ("part",)),
                  shown_when=changed),
            Field("size_class", "Size", shown_when=changed, hint="Such as +0.5; empty for standard"),
            Field("finish", "Finish", shown_when=changed, hint="Such as plated; empty for the part's own"),
            Field("authority", "Authority", needed=True, shown_when=changed,
                  hint="The drawing, repair scheme or letter that makes it so"),
            Field("done", "What was done", FieldKind.LINES, needed=True, shown_when=changed),
            Field("scrapped", "Scrapped there", FieldKind.TICKS, choices=lines, section="Could not be saved",
                  hint="What could not be brought back, and was made unusable"),
            Field("how", "Made unusable", FieldKind.CHOICE, needed=True, choices=HOW,
                  section="Could not be saved", shown_when=any_scrapped),
            Field("reason", "Why", FieldKind.LINES, needed=True, section="Could not be saved",
                  shown_when=any_scrapped),
            Field("witness", "Witness", section="Could not be saved", shown_when=any_scrapped),
            Field("drum", "Scrap drum", FieldKind.CHOICE, needed=True, choices=place_choices(drums),
                  start=drums[0].id if len(drums) == 1 else None, section="Could not be saved",
                  shown_when=any_scrapped),
            Field("note", "Remark", section="When", hint="Kept with the entry"),
            replace(day_field(sitting, "Came back on"), section="When"),
        ),
        act=act,
        told=lambda entry: f"Booked back on order {order.number} (entry {entry}).",
        save_word="Book it back",
        said=lambda _values: _order_said(order, single),
    )  # fmt: skip


def _reset_of(values: Values) -> LifeResetOrder:
    ticked = values["resets"]
    return LifeResetOrder(
        values["report"],
        resets_hours=HOURS in ticked,
        resets_starts=STARTS in ticked,
        resets_calendar=CALENDAR in ticked,
        overhauled_on=values.get("overhauled_on"),
        document=values["document"],
    )


def _identity_of(thing: Thing, values: Values) -> NewIdentity:
    assert thing.piece is not None, "only a piece becomes another part"
    return NewIdentity(
        thing.piece,
        values["part"],
        values["authority"],
        values["done"],
        values["size_class"],
        values["finish"],
        values["document"],
    )


def _line_words(line: WorkLineFacts) -> str:
    much = "" if line.thing.piece is not None else f", {quantity_words(line.out, line.measure)}"
    return f"{line.tag} {line.part_name}{much}"


def _order_said(order: WorkOrderFacts, single: WorkLineFacts | None) -> str:
    what = f"{_line_words(single)}: " if single is not None else ""
    due = f", {order.due_words}" if order.due_words else ""
    return f"{what}{order.wanted} (sent {order.sent_on.isoformat()}{due})"
