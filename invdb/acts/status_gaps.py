"""What is not known of the history of an engine and of what is in it, for its status sheet."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import BindParameter, bindparam, or_, select
from sqlalchemy.orm import Session

from invdb.acts.lived import prior_columns, priors
from invdb.records.chunks import chunks
from invdb.records.life import Running, figure
from invdb.records.stock import Piece, Stay
from invdb.rules.folding import OUTSIDE_PLACE
from invdb.rules.gaps import life_gaps, log_gaps, together
from invdb.rules.life import prior_hours_words, prior_starts_words
from invdb.rules.status import RunTotals, StatusGap
from invdb.rules.told import counted
from invdb.terms import HoursKnown

_IDS: BindParameter[Any] = bindparam("ids", expanding=True)
_PIECES = (
    select(
        Piece.id,
        Piece.received_on,
        *prior_columns(Piece),
    )
    .where(Piece.id.in_(_IDS))
    .order_by(Piece.id)
)
# Longer than within one day.
_AWAY = (
    select(Stay.piece_id, Stay.from_on, Stay.to_on)
    .where(
        Stay.piece_id.in_(_IDS),
        Stay.place_id == OUTSIDE_PLACE,
        Stay.from_on <= bindparam("on"),
        or_(Stay.to_on.is_(None), Stay.to_on > Stay.from_on),
    )
    .order_by(Stay.piece_id, Stay.sequence)
)
_LOG = (
    select(
        Running.ran_on,
        Running.hours_known,
        Running.hours_low,
        Running.hours_high,
        Running.starts_known,
        Running.line_starts_low,
        Running.line_starts_high,
    )
    .where(Running.engine_id == bindparam("engine"), Running.ran_on <= bindparam("on"))
    .order_by(Running.ran_on, Running.set_by, Running.id)
)


@dataclass(frozen=True)
class PieceTold:
    """What a piece is called, and its tag."""

    name: str
    tag: str


_OTHER = PieceTold("", "")


def gaps_of(
    session: Session,
    engine: int,
    totals: RunTotals,
    told: Mapping[int, PieceTold],
    pieces: Collection[int],
    day: date,
) -> tuple[StatusGap, ...]:
    """The gaps of an engine, of the pieces to be told of one by one, and of the rest.

    The rest of ``pieces``, those that are neither life-limited nor critical, is only counted. Of several
    pieces the same gap is told once.
    """
    return together(
        (
            *log_gaps(totals),
            *_unread(session, engine, totals.log_begun_on, day),
            *_of_pieces(session, told, pieces),
            *_away(session, told, day),
        )
    )


def _unread(session: Session, engine: int, begun_on: date | None, day: date) -> Iterator[StatusGap]:
    """The lines of the log whose hours or starts nobody knows exactly, since the line before."""
    since = begun_on
    for row in session.connection().execute(_LOG, {"engine": engine, "on": day}):
        hours = figure(row.hours_known, row.hours_low, row.hours_high)
        starts = figure(row.starts_known, row.line_starts_low, row.line_starts_high)
        words = [] if hours.known is HoursKnown.EXACT else [f"hours {prior_hours_words(hours)}"]
        words += [] if starts.known is HoursKnown.EXACT else [f"starts {prior_starts_words(starts)}"]
        if words:
            yield StatusGap("the engine", since, row.ran_on, f"not over the meter: {'; '.join(words)}")
        since = row.ran_on


def _of_pieces(
    session: Session, told: Mapping[int, PieceTold], pieces: Collection[int]
) -> Iterator[StatusGap]:
    others: list[date] = []
    for some in chunks(pieces):
        for row in session.connection().execute(_PIECES, {"ids": some}):
            piece = told.get(row.id, _OTHER)
            found = life_gaps(piece.name, piece.tag, row.received_on, *priors(row))
            if row.id in told:
                yield from found
            elif found:
                others.append(row.received_on)
    if others:
        of = counted(len(others), "other piece", "other pieces")
        yield StatusGap(of, None, max(others), "hours or starts run before receipt have no upper end known")


def _away(session: Session, told: Mapping[int, PieceTold], day: date) -> Iterator[StatusGap]:
    for some in chunks(told.keys()):
        for piece, from_on, to_on in session.connection().execute(_AWAY, {"ids": some, "on": day}):
            yield StatusGap(told[piece].name, from_on, to_on, "it was out of our hands", told[piece].tag)
