"""What binds an engine or puts it in doubt: a row for each doubt, hold, directive, concession and limit.

Plain values, no Tk.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

from gui.shown import Column, Empty, Page, Row, Sort
from invdb.acts.concession_lines import ConcessionFacts, concession_lines
from invdb.acts.directive_lines import DirectiveFacts, directives_of
from invdb.acts.engine_doubts import engine_doubts
from invdb.acts.hold import OpenHold, holds_on_engine
from invdb.acts.limit_list import ListedLimit, limits_on
from invdb.acts.reset_list import ListedReset, resets_of_engine
from invdb.rules.concessions import ConcessionVerdict
from invdb.rules.directives import DirectiveVerdict, next_due_words
from invdb.rules.life import LifeVerdict
from invdb.rules.told import listed

COLUMNS = (
    Column("kind", "Kind", 84),
    Column("on", "On", 150),
    Column("stands", "How it stands", 170),
    Column("what", "What", 190),
)
NO_ENGINE = Empty("Here stands what binds an engine or puts it in doubt.", "Choose an engine first.")
NOTHING = Empty(
    "Nothing binds this engine, and nothing puts it in doubt, as far as is recorded.",
    "Enter directives with Ctrl+Shift+N, limits of life with Ctrl+Shift+T.",
)
_CONCESSION_SIGNS = {
    ConcessionVerdict.IN_FORCE: "concession",
    ConcessionVerdict.UNKNOWN: "unknown",
    ConcessionVerdict.ENDED: "expired",
}


class OrderKind(StrEnum):
    """What a row is of."""

    DOUBT = "in doubt"
    HOLD = "hold"
    DIRECTIVE = "directive"
    CONCESSION = "concession"
    OVERHAUL = "overhaul"
    LIMIT = "limit of life"


@dataclass(frozen=True)
class OrderKey:
    """Which record a row is of, by its id; None for what is only told.

    ``name`` is what a form calls it. A directive that stands on a piece names that; ``applies`` is whether it
    is for this engine, or for anything in it, at all.
    """

    kind: OrderKind
    record: int | None
    name: str
    piece: int | None = None
    on: str = ""
    applies: bool = True


@dataclass(frozen=True)
class EngineOrders:
    """The rows as they stood on ``day`` (None: today), and what there is to read of each, by its key."""

    engine: int
    day: date | None
    rows: tuple[Row, ...]
    details: dict[OrderKey, str]


def read_orders(session: Any, engine: int, name: str, day: date | None) -> EngineOrders:
    """Everything of one engine; holds, and what else is in doubt, are those of today whatever the day."""
    holds = holds_on_engine(session, engine)
    own = {f"on hold: {hold.reason}" for hold in holds}
    doubts = [each for each in engine_doubts(session, [engine]).get(engine, ()) if each not in own]
    directives = directives_of(session, engine, day)
    told = [
        *(_doubt(words, name) for words in doubts),
        *(_hold(hold, name) for hold in holds),
        *(_directive(line) for line in directives if not line.not_applicable),
        *(_concession(line) for line in concession_lines(session, engine, on=day)),
        *(_overhaul(reset, name) for reset in resets_of_engine(session, engine, day)),
        *(_limit(limit, name) for limit in limits_on(session, engine, day)),
        *(_directive(line) for line in directives if line.not_applicable),
    ]
    return EngineOrders(engine, day, tuple(row for row, _ in told), {row.key: said for row, said in told})


def head_of(orders: EngineOrders | None) -> str:
    """What stands above the list: of which day it is, and what of it is of today all the same."""
    if orders is None or orders.day is None:
        return "As it stands today."
    return (
        f"Directives, concessions, overhauls and limits as they stood on {orders.day.isoformat()}, by what is"
        " recorded today; holds, and what else is in doubt, are those of today."
    )


def orders_page(orders: EngineOrders | None, offset: int, limit: int, sort: Sort | None, words: str) -> Page:
    """Some rows that have all these words; what puts the engine in doubt first unless sorted otherwise."""
    rows = list(orders.rows) if orders is not None else []
    wanted = words.casefold().split()
    fitting = [row for row in rows if all(word in " ".join(row.cells).casefold() for word in wanted)]
    if sort is not None:
        at = [column.name for column in COLUMNS].index(sort.column)
        fitting.sort(key=lambda row: row.cells[at], reverse=sort.descending)
    return Page(tuple(fitting[offset : offset + limit]), len(fitting), len(rows))


def same_directive(keys: Sequence[OrderKey]) -> bool:
    """Whether all of these are of one directive that is for what is here."""
    return len({(key.kind, key.record) for key in keys}) == 1 and all(
        key.kind is OrderKind.DIRECTIVE and key.applies for key in keys
    )


_Told = tuple[Row, str]


def _row(key: OrderKey, what: str, stands: str, sign: str, *details: str) -> _Told:
    said = "\n".join(part for part in (what, f"On {key.on}: {stands}", *details) if part)
    return Row(key, (key.kind, key.on, stands, what), sign), said


def _doubt(words: str, name: str) -> _Told:
    key = OrderKey(OrderKind.DOUBT, None, words, on=name)
    settled = f"{name} is not available until that is settled."
    return _row(key, words, "not available", "take care", settled)


def _hold(hold: OpenHold, name: str) -> _Told:
    key = OrderKey(OrderKind.HOLD, hold.id, f"{hold.reason} (since {hold.raised_on.isoformat()})", on=name)
    return _row(key, hold.reason, f"on hold since {hold.raised_on.isoformat()}", "on hold")


def _directive(line: DirectiveFacts) -> _Told:
    words = line.words.removeprefix("directive ")
    subject = f"{line.tag} {line.part_name}" if line.tag else line.subject
    on = ", ".join(part for part in (subject, f"{line.position} {line.station}".strip()) if part)
    applies = not line.not_applicable
    key = OrderKey(OrderKind.DIRECTIVE, line.directive, line.words, line.piece, on, applies)
    what = f"{words}, {line.when}" if line.when else words
    details = tuple(_order_details(line))
    if line.standing is None:
        return _row(key, what, f"not for it: {line.not_applicable}", "unsuited", *details)
    verdict = line.standing.verdict
    if verdict is DirectiveVerdict.COMPLIED:
        # What was complied with once and for all is within its limits for good.
        return _row(key, what, line.standing.why, LifeVerdict.WITHIN, *details)
    stands, why = f"{verdict}: {next_due_words(line.standing)}", line.standing.why
    return _row(key, what, stands, verdict.as_life, f"{why[:1].upper()}{why[1:]}", *details)


def _order_details(line: DirectiveFacts) -> Iterator[str]:
    by = f" of {line.authority}" if line.authority else ""
    yield f"Orders{by}: {line.method}"
    if line.document_words:
        yield f"Its document: {line.document_words}"
    if line.complied is not None:
        complied = line.complied
        yield f"Complied with on {complied.at[0].isoformat()} by {complied.by}: {complied.method}"


def _concession(line: ConcessionFacts) -> _Told:
    on = f"{line.tag} {line.part_name}"
    key = OrderKey(
        OrderKind.CONCESSION, line.concession, f"concession {line.reference} for {line.tag}", line.piece, on
    )
    left = f", {line.left} left" if line.left else ""
    return _row(
        key,
        f"{line.reference} of {line.authority}, over the {line.over}: {line.allows}",
        f"{line.standing.verdict}: {line.ends}{left}",
        _CONCESSION_SIGNS.get(line.standing.verdict, "closed"),
        f"In {line.engine_name}{f', {line.position_name}' if line.position_name else ''};"
        f" by {line.document_words}",
    )


def _overhaul(reset: ListedReset, name: str) -> _Told:
    key = OrderKey(
        OrderKind.OVERHAUL, reset.reset, f"the overhaul of {reset.on.isoformat()}: {reset.report}", on=name
    )
    overhauled = ""
    if reset.overhauled_on != reset.on:
        overhauled = f"Overhauled on {reset.overhauled_on.isoformat()}"
    anew = listed([str(measure) for measure in reset.began_anew])
    return _row(key, reset.report, f"{anew} anew from {reset.on.isoformat()}", "overhauled", overhauled)


def _limit(limit: ListedLimit, name: str) -> _Told:
    on = f"{limit.part_number} {limit.part_name}" if limit.part is not None else f"{name} itself"
    subject = limit.part_number if limit.part is not None else "the engine itself"
    key = OrderKey(OrderKind.LIMIT, limit.limit.key, f"the limit of {limit.words} on {subject}", on=on)
    source = limit.limit.source or ("" if limit.limit.key is not None else "kept with the part itself")
    return _row(key, limit.words, source, "")
