"""Begin the count of a life since overhaul anew, for what a report says, and withdraw that."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import YEAR_FIRST, By, begin_draft, refuse_before_it_came
from invdb.acts.engine_use import EngineLogs
from invdb.acts.known_figures import check_known
from invdb.acts.life import engine_life, life_of
from invdb.acts.lived import read_stretches
from invdb.acts.papers import refuse_unknown_document
from invdb.records.draft import Draft
from invdb.records.engines import Engine
from invdb.records.life import LifeReset
from invdb.records.posting import post
from invdb.records.stock import Piece
from invdb.rules.life import prior_hours_words, prior_starts_words
from invdb.rules.points import end_of
from invdb.rules.running import RAN_NOTHING, Ran, Span
from invdb.terms import NO_PRIOR_LIFE, Condition, EntryKind, FieldRefused, HoursKnown, PriorLife, Refused


@dataclass(frozen=True)
class LifeResetOrder:
    """What was overhauled, a piece or an engine, and which counts its report begins anew.

    ``hours`` (hundredths) and ``starts`` are what had been run since that overhaul by the day of the act:
    nothing, unless it was overhauled elsewhere before it came. ``overhauled_on`` is the day of the overhaul
    itself where it is not the day of the act.
    """

    report: str
    piece: int | None = None
    engine: int | None = None
    resets_hours: bool = True
    resets_starts: bool = True
    resets_calendar: bool = True
    overhauled_on: date | None = None
    hours: PriorLife = NO_PRIOR_LIFE
    starts: PriorLife = NO_PRIOR_LIFE
    document: int | None = None


def reset_life(session: Session, order: LifeResetOrder, by: By) -> int:
    """Record that work began counts since overhaul anew; returns the reset's id.

    It takes effect at this entry: what is logged later on the same day counts. Refused without a report, when
    nothing is reset, and when the figures contradict what the piece or the engine ran.
    """
    draft = begin_draft(session, EntryKind.LIFE_RESET, by)
    reset = draft_life_reset(session, draft, order)
    post(session, draft)
    return reset


def draft_life_reset(session: Session, draft: Draft, order: LifeResetOrder) -> int:
    """Put a reset into a draft; returns its id. See ``reset_life``."""
    on = draft.happened_on
    name = _subject(session, order, on)
    if not order.report.strip():
        raise FieldRefused(
            "report", "No report is named that says what was reset.", "Type its reference and what it says."
        )
    refuse_unknown_document(session, order.document)
    if not (order.resets_hours or order.resets_starts or order.resets_calendar):
        raise FieldRefused(
            "resets_hours", "Nothing would be reset.", "Say whether hours, starts or the calendar begin anew."
        )
    overhauled_on = order.overhauled_on or on
    if overhauled_on > on or overhauled_on.year < YEAR_FIRST:
        raise FieldRefused(
            "overhauled_on",
            f"It can't have been overhauled on {overhauled_on.isoformat()}.",
            f"Give a day not after {on.isoformat()}.",
        )
    _check_figures(session, order, name, on, overhauled_on)
    return draft.new(
        session,
        "life_reset",
        piece_id=order.piece,
        engine_id=order.engine,
        reset_on=on,
        overhauled_on=overhauled_on,
        resets_hours=order.resets_hours,
        resets_starts=order.resets_starts,
        resets_calendar=order.resets_calendar,
        hours_known=order.hours.known,
        hours_low=order.hours.low,
        hours_high=order.hours.high,
        starts_known=order.starts.known,
        starts_low=order.starts.low,
        starts_high=order.starts.high,
        report=order.report,
        document_id=order.document,
    )


def _subject(session: Session, order: LifeResetOrder, on: date) -> str:
    """What the piece or engine is called; Refused when it can't have been overhauled."""
    if (order.piece is None) == (order.engine is None):
        raise Refused("It isn't said what was overhauled.", "Name one piece, or one engine.")
    if order.engine is not None:
        engine: str | None = session.scalar(select(Engine.name).where(Engine.id == order.engine))
        if engine is None:
            raise FieldRefused("engine", "That engine is not in the store.", "Choose another.")
        return engine
    piece = session.execute(
        select(Piece.tag, Piece.received_on, Piece.condition).where(Piece.id == order.piece)
    ).one_or_none()
    if piece is None:
        raise FieldRefused("piece", "That piece is not in the store.", "Choose another.")
    refuse_before_it_came(piece.tag, piece.received_on, on)
    if piece.condition is Condition.UNSALVAGEABLE:
        raise FieldRefused(
            "piece", f"{piece.tag} can't be salvaged, so no work resets its life.", "Check the tag."
        )
    return str(piece.tag)


def _check_figures(session: Session, order: LifeResetOrder, name: str, on: date, overhauled_on: date) -> None:
    for column, figure, resets in (
        ("hours", order.hours, order.resets_hours),
        ("starts", order.starts, order.resets_starts),
    ):
        check_known(figure, column)
        if not resets and figure != NO_PRIOR_LIFE:
            raise FieldRefused(
                column,
                f"The {column} are given, and yet they do not begin anew.",
                f"Say that {column} are reset, or leave the figure out.",
            )
    ever, between = _ran(session, order, on, overhauled_on)
    if order.resets_hours:
        _refuse_contradiction("hours", name, order.hours, ever.hours, between.hours, overhauled_on)
    if order.resets_starts:
        _refuse_contradiction("starts", name, order.starts, ever.starts, between.starts, overhauled_on)


def _ran(session: Session, order: LifeResetOrder, on: date, overhauled_on: date) -> tuple[Ran, Ran]:
    """What it ran by a day since new, and of that what it ran here since the day of the overhaul."""
    connection = session.connection()
    logs = EngineLogs(connection)
    until = end_of(on)
    if order.engine is not None:
        ever = engine_life(session, order.engine, on).since_new
        since = logs.at(order.engine, until) - logs.at(order.engine, end_of(overhauled_on))
        return ever, since
    assert order.piece is not None
    ever = life_of(session, [order.piece], on)[order.piece].since_new
    stretches = read_stretches(connection, [order.piece]).get(order.piece, [])
    since = sum((each.between(logs, end_of(overhauled_on), until) for each in stretches), RAN_NOTHING)
    return ever, since


def _refuse_contradiction(
    column: str, name: str, given: PriorLife, ever: Span, between: Span, overhauled_on: date
) -> None:
    words = prior_hours_words if column == "hours" else prior_starts_words
    if not ever.open and (given.low or 0) > ever.high:
        raise FieldRefused(
            column,
            f"{name} ran {words(ever.known())} in all, so it can't have run {words(given)} since then.",
            "Check the figure.",
        )
    if given.high is not None and given.high < between.low:
        least = PriorLife(HoursKnown.EXACT, between.low, between.low)
        raise FieldRefused(
            column,
            f"{name} ran {words(least)} here after {overhauled_on.isoformat()}, and {words(given)} is less.",
            "Give what it ran since the overhaul, or date this on the day of the overhaul.",
        )


def withdraw_life_reset(session: Session, reset: int, because: str, by: By) -> int:
    """Say that a reset counts no more from that day on, and why; returns the entry's number."""
    draft = begin_draft(session, EntryKind.LIFE_RESET, by)
    row = session.execute(
        select(LifeReset.withdrawn_on, LifeReset.reset_on).where(LifeReset.id == reset)
    ).one_or_none()
    if row is None:
        raise Refused("There is no such reset.", "Look again.")
    if row.withdrawn_on is not None:
        raise Refused(
            f"That was withdrawn on {row.withdrawn_on.isoformat()}.", "There is nothing to withdraw."
        )
    if draft.happened_on < row.reset_on:
        raise FieldRefused(
            "happened_on",
            f"The reset is of {row.reset_on.isoformat()}.",
            "Give a date on or after that day, or reverse its entry.",
        )
    if not because.strip():
        raise FieldRefused("because", "It isn't said why the reset is withdrawn.", "Type it.")
    draft.remark(because)
    draft.set("life_reset", reset, withdrawn_on=draft.happened_on)
    return post(session, draft).number
