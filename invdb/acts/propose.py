"""Propose a kit: which pieces and batches could go to each line, why, and what bars the nearest misses.

Reads only; nothing is held until ``pull.reserve`` takes the proposal and looks again under the lock.
"""

from __future__ import annotations

import time
from collections.abc import Callable

from sqlalchemy.orm import Session

from invdb.acts.kit_answer import KitAnswer
from invdb.acts.kit_facts import Catalogue, read_engine, read_held, read_position, read_whom
from invdb.acts.kit_question import KitQuestion
from invdb.acts.kit_suits import KitSuits
from invdb.acts.proposed import Asked, Gain, Proposal
from invdb.acts.things import things_of_parts
from invdb.records.clock import today
from invdb.rules.kit_model import Kit, KitRequest
from invdb.rules.kitting import choose_kit, first_come
from invdb.terms import Refused

SECONDS_MAX = 20.0
POSITIONS_MAX = 24


def propose(
    session: Session,
    asked: tuple[Asked, ...],
    *,
    seconds: float = SECONDS_MAX,
    stop: Callable[[], bool] = lambda: False,
) -> Proposal:
    """Choose stock for one kit or several at once; several share what there is by engine priority.

    What open pulls hold for a position already is not asked for again. Refused when nothing, or the same
    position twice, is asked for.
    """
    if not asked:
        raise Refused("No position is named.", "Choose an engine and a cylinder.")
    if len(set(asked)) < len(asked):
        raise Refused("The same position is asked for twice.", "Ask for it once.")
    if len(asked) > POSITIONS_MAX:
        raise Refused(f"{len(asked)} kits at once are too many.", f"Ask for {POSITIONS_MAX} at most.")
    on = today(session)
    engines = {each.engine: read_engine(session, each.engine, on) for each in asked}
    positions = {each: read_position(session, engines[each.engine], each.position) for each in asked}
    catalogue = Catalogue(session, {engine.engine_type for engine in engines.values()})
    question = KitQuestion(catalogue, engines, positions, read_held(session, engines))
    question.pool.fill(things_of_parts(session, question.parts()).values())
    question.suits = KitSuits(session, question.groups(), question.pool.states, on)
    question.read_standing(session)
    question.read_mates(session)
    whom = read_whom(session, question.pool.pulls())
    request = question.request()
    ends = time.monotonic() + seconds
    kit = choose_kit(request, seconds_left=lambda: ends - time.monotonic(), stop=stop)
    kits = KitAnswer(question, kit, whom).kits()
    return Proposal(kits, kit.proven, on, _gained(request, kit), kit.gap_words)


def _gained(request: KitRequest, kit: Kit) -> tuple[Gain, ...]:
    """What was gained over taking things in shelf order, where fits or masses were weighed at all."""
    if not request.pairings and not request.balances:
        return ()
    plain = first_come(request)
    return tuple(
        Gain(ours.name, ours.total, shelf.total, ours.most)
        for ours, shelf in zip(kit.steps, plain.steps, strict=True)
        if ours.total != shelf.total
    )
