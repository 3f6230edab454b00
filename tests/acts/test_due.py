"""What falls due: everything near its limit, across all engines, and nothing that is far from it."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.due import due_list
from invdb.acts.due_soon import due_soon, set_due_soon
from invdb.acts.goods_in import NewPiece
from invdb.acts.life_limit import NewLifeLimit, add_life_limit
from invdb.acts.life_reset import LifeResetOrder, reset_life
from invdb.acts.numbers import Thing
from invdb.acts.running import LogBegin, Run, begin_log, log_run
from invdb.records.posting import post
from invdb.records.stock import Piece
from invdb.rules.due import DueKind, DueLine, DueSoon
from invdb.rules.life import LifeVerdict
from invdb.terms import (
    FieldRefused,
    HoursKnown,
    LifeMeasure,
    LifeSince,
    PriorLife,
    Refused,
    RunningCounted,
    RunningUse,
)
from tests.engine_shop import METER, begin, fitted, run
from tests.fitted_shop import Bench
from tests.kit_shop import good
from tests.shop import BEGUN_ON, TODAY, Shop

DAY = timedelta(days=1)


def exactly(figure: int) -> PriorLife:
    return PriorLife(HoursKnown.EXACT, figure, figure)


def valve(session: Session, shop: Shop, hours: PriorLife, cylinder: str, engine: int | None = None) -> int:
    """A valve that ran so much before it came, in a cylinder now."""
    piece = NewPiece(prior_hours=hours, prior_starts=exactly(0))
    thing = good(session, shop, shop.valve, pieces=(piece,))
    assert thing.piece is not None
    fitted(session, shop, thing, "exhaust valve", cylinder=cylinder, engine=engine)
    return thing.piece


def due(shop: Shop, **asked: object) -> tuple[DueLine, ...]:
    with shop.store.reading() as session:
        return due_list(session, **asked)  # type: ignore[arg-type]


def test_the_worst_stands_first_and_what_is_far_off_is_left_out(shop: Shop) -> None:
    begin(shop, shop.engine, shop.engine_two)
    with shop.store.writing() as session:
        far = valve(session, shop, exactly(100_00), "1")
        near = valve(session, shop, exactly(560_00), "2")
        over = valve(session, shop, exactly(590_00), "3")
        elsewhere = valve(session, shop, exactly(580_00), "1", shop.engine_two)
    assert [line.piece for line in due(shop)] == [over, elsewhere]
    shop.clock.instant += 100 * DAY
    with shop.store.writing() as session:
        run(session, shop, METER + 20_00)
    lines = due(shop)
    assert [(line.piece, line.verdict) for line in lines] == [
        (over, LifeVerdict.EXPIRED),
        (near, LifeVerdict.DUE_SOON),
        (elsewhere, LifeVerdict.DUE_SOON),
    ]
    assert far not in {line.piece for line in lines}
    first = lines[0]
    with shop.store.reading() as session:
        tag = session.scalars(select(Piece.tag).where(Piece.id == over)).one()
    assert (first.kind, first.subject, first.what, first.left) == (
        DueKind.PIECE_LIFE,
        f"Exhaust valve {tag}",
        "life limit of 600.00 h since new",
        "over by 10.00 h",
    )
    assert (first.engine_name, first.position, first.station) == (
        "Linnet One",
        "cylinder 3",
        "exhaust valve",
    )
    assert first.hours_left == -10_00
    assert [line.piece for line in due(shop, engine=shop.engine_two)] == [elsewhere]
    assert [line.piece for line in due(shop, on=TODAY)] == [over, elsewhere]


def test_looking_further_ahead_brings_in_more(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        piece = valve(session, shop, exactly(450_00), "1")
    shop.clock.instant += 100 * DAY
    with shop.store.writing() as session:
        run(session, shop, METER + 20_00)
    assert due(shop) == ()
    assert due(shop, within_hours=129_99) == ()
    (line,) = due(shop, within_hours=130_00)
    assert (line.piece, line.verdict, line.hours_left) == (piece, LifeVerdict.WITHIN, 130_00)
    assert line.earliest is not None and line.latest is not None
    ahead = (line.earliest.year - TODAY.year) * 12 + line.earliest.month - TODAY.month
    assert due(shop, within_months=1) == ()
    assert [each.piece for each in due(shop, within_months=ahead)] == [piece]


def test_what_nobody_can_tell_is_on_the_list(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        piece = valve(session, shop, exactly(0), "1")
        draft = shop.draft()
        draft.set(
            "piece",
            piece,
            prior_hours_known=HoursKnown.AT_LEAST,
            prior_hours_low=300_00,
            prior_hours_high=None,
        )
        post(session, draft)
    (line,) = due(shop)
    assert (line.verdict, line.hours_left) == (LifeVerdict.UNKNOWN, None)
    assert line.left == "at most 300.00 h left, how much is not known"


def test_an_engines_own_overhaul_life_and_nested_pieces_are_on_the_list(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        by = shop.by()
        source = "Pellworth overhaul manual"
        of_engine = NewLifeLimit(
            LifeMeasure.HOURS, 2_360_00, engine_type=shop.linnet, since=LifeSince.OVERHAUL, source=source
        )
        own = add_life_limit(session, of_engine, by)
        barrel = shop.book_in(session, shop.barrel, pieces=1).things[0][0]
        inside = shop.book_in(session, shop.valve, pieces=1).things[0][0]
        assert barrel.piece is not None
        at_once = replace(of_engine, part=shop.valve, measure=LifeMeasure.STARTS, amount=30, engine_type=None)
        add_life_limit(session, at_once, by)
        bench = Bench(shop, session)
        bench.fit_inside(inside, barrel.piece, "exhaust valve")
        bench.fit(barrel, "4", "head joint")
    lines = due(shop, engine=shop.engine)
    assert [(line.kind, line.piece, line.record) for line in lines] == [
        (DueKind.ENGINE_LIFE, None, own),
        (DueKind.PIECE_LIFE, inside.piece, 2),
    ]
    assert (lines[0].subject, lines[0].left) == ("Linnet One", "15.00 h left")
    assert (lines[1].position, lines[1].station, lines[1].starts_left) == ("cylinder 4", "exhaust valve", 30)
    (no_log, *_) = due(shop)
    assert (no_log.engine, no_log.verdict) == (shop.engine_two, LifeVerdict.UNKNOWN)


def test_the_shop_says_how_near_is_soon(shop: Shop) -> None:
    with shop.store.writing() as session:
        assert due_soon(session) == DueSoon()
        set_due_soon(session, DueSoon(hours=10_00, months=6), shop.by())
    with shop.store.writing() as session:
        assert due_soon(session) == DueSoon(hours=10_00, starts=40, months=6)
        set_due_soon(session, DueSoon(hours=12_00, months=6), shop.by())
        assert due_soon(session).hours == 12_00
        with pytest.raises(Refused, match="that already"):
            set_due_soon(session, due_soon(session), shop.by())
        with pytest.raises(FieldRefused, match="-1 is out of reason"):
            set_due_soon(session, DueSoon(months=-1), shop.by())
    begin(shop)
    with shop.store.writing() as session:
        valve(session, shop, exactly(588_00), "1")
    assert len(due(shop)) == 1
    with shop.store.writing() as session:
        set_due_soon(session, DueSoon(hours=11_99), shop.by())
    assert due(shop) == ()


@pytest.mark.parametrize("asked", [{"within_hours": -1}, {"within_months": 601}, {"on": TODAY + DAY}])
def test_a_list_of_no_such_days_is_refused(shop: Shop, asked: dict[str, object]) -> None:
    with pytest.raises(FieldRefused):
        due(shop, **asked)


def test_the_few_that_the_database_picks_out_are_all_that_are_due(shop: Shop) -> None:
    """The list of now, from what is picked out, is that of today, for which every limited piece is judged."""
    choice = random.Random(1931)
    with shop.store.writing() as session:
        parts = [shop.valve, shop.barrel]
        for part in parts:
            for _ in range(5):
                _limit_by_chance(session, shop, part, choice)
        for engine in (shop.engine, shop.engine_two):
            begin_log(session, engine, LogBegin(None, exactly(0)), shop.by(BEGUN_ON))
        pieces = [
            shop.book_in(session, choice.choice(parts), pieces=1, on=BEGUN_ON).things[0][0].piece
            for _ in range(24)
        ]
    with shop.store.writing() as session:
        _live(session, shop, [piece for piece in pieces if piece is not None], choice)
    for asked in ({}, {"within_hours": 60_00}, {"within_months": 30}, {"engine": shop.engine}):
        picked = due(shop, **asked)
        assert picked == due(shop, on=TODAY, **asked)
        assert picked


def _limit_by_chance(session: Session, shop: Shop, part: int, choice: random.Random) -> None:
    measure = choice.choice(list(LifeMeasure))
    amount = {LifeMeasure.HOURS: 150_00, LifeMeasure.STARTS: 100, LifeMeasure.MONTHS: 40}[measure]
    given = NewLifeLimit(
        measure,
        choice.randint(amount // 3, amount),
        part,
        engine_type=choice.choice([None, shop.linnet]),
        counted=choice.choice(list(RunningCounted)) if measure is LifeMeasure.HOURS else RunningCounted.ALL,
        since=choice.choice(list(LifeSince)),
        source="by chance",
    )
    try:
        add_life_limit(session, given, shop.by(BEGUN_ON))
    except Refused as refused:
        assert "such a limit already" in refused.reason


def _live(session: Session, shop: Shop, pieces: list[int], choice: random.Random) -> None:
    """A year of fitting, stripping, running and overhauling, day by day."""
    bench = Bench(shop, session)
    seats = [(engine, str(cylinder)) for engine in (shop.engine, shop.engine_two) for cylinder in range(1, 8)]
    at: dict[int, tuple[int, str]] = {}
    lying = dict.fromkeys(pieces, shop.bin_a)
    day = BEGUN_ON
    while (day := day + choice.randint(1, 6) * DAY) < TODAY:
        piece = choice.choice(pieces)
        happens = choice.random()
        free = [seat for seat in seats if seat not in at.values()]
        if happens < 0.4:
            run_ = Run(choice.choice(list(RunningUse)), hours=choice.randint(10, 5_00), starts=2)
            log_run(session, choice.choice([shop.engine, shop.engine_two]), run_, shop.by(day), sure=True)
        elif happens < 0.55:
            reset_life(session, LifeResetOrder("by chance", piece=piece), shop.by(day))
        elif happens < 0.65:
            _make_known(session, shop, piece, day, choice)
        elif piece in at:
            bench.strip(Thing(piece=piece), day)
            lying[piece] = shop.bench
            del at[piece]
        elif free:
            engine, cylinder = at[piece] = choice.choice(free)
            bench.fit(Thing(piece=piece), cylinder, "head joint", day, engine=engine, from_place=lying[piece])


def _make_known(session: Session, shop: Shop, piece: int, day: date, choice: random.Random) -> None:
    draft = shop.draft(day)
    figure = choice.randint(0, 100_00)
    known = choice.choice([exactly(figure), PriorLife(HoursKnown.BETWEEN, 0, figure)])
    draft.set(
        "piece",
        piece,
        made_on=day - choice.randint(0, 900) * DAY,
        prior_hours_known=known.known,
        prior_hours_low=known.low,
        prior_hours_high=known.high,
    )
    post(session, draft)
