"""What an authority allows beyond a limit: on its document, for one piece in one engine, till an end."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.concession import (
    NewConcession,
    grant_concession,
    withdraw_concession,
)
from invdb.acts.concession_lines import concession_due_lines, concession_lines, concessions_on
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.pick_list import pick_list_of_proposal
from invdb.acts.propose import propose
from invdb.acts.proposed import Asked
from invdb.acts.running import MeterChange, change_meter
from invdb.records.engines import Position
from invdb.rules.concessions import ConcessionVerdict
from invdb.rules.life import LifeVerdict
from invdb.rules.running import Span
from invdb.terms import (
    PRIOR_LIFE_UNKNOWN,
    ConcessionOver,
    FieldRefused,
    PaperKind,
    Refused,
    RunningUse,
)
from tests.doubts_shop import CAME, FITTED, begin_log, run, shift, station, valve
from tests.shop import TODAY, Shop

FROM = TODAY - timedelta(days=30)


def position(session: Session, name: str = "5") -> int:
    return session.scalars(select(Position.id).where(Position.name == name)).one()


def letter(session: Session, shop: Shop) -> int:
    return add_paper(session, NewPaper(PaperKind.STATEMENT, "AA 77"), shop.by(CAME))


def fitted(session: Session, shop: Shop) -> Thing:
    """A valve in cylinder 5 of Linnet One, whose log is kept."""
    thing = valve(session, shop)
    begin_log(session, shop, CAME)
    shift(session, shop, thing, shop.bin_a, station(session, shop, "exhaust valve"), FITTED)
    return thing


def fifty_hours(session: Session, shop: Shop, thing: Thing) -> NewConcession:
    assert thing.piece is not None
    return NewConcession(
        "C 12",
        "Air Board",
        ConcessionOver.WORN_LIMIT,
        "stem 0.02 mm under",
        letter(session, shop),
        thing.piece,
        shop.engine,
        position(session),
        FROM,
        hours_allowed=50_00,
    )


def test_its_hours_are_what_the_piece_runs_in_that_engine_from_its_first_day(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = fitted(session, shop)
        assert thing.piece is not None
        run(session, shop, 99_00, FROM - timedelta(1))
        concession = grant_concession(session, fifty_hours(session, shop, thing), shop.by(FROM))
        run(session, shop, 10_00, FROM)
        run(session, shop, 25_00, FROM + timedelta(5))
        (line,) = concessions_on(session, thing.piece, shop.engine, position(session), TODAY)
        assert (line.concession, line.hours_used, line.left) == (concession, Span(35_00, 35_00), "15.00 h")
        assert line.words == (
            "concession C 12 of Air Board, over the worn limit: stem 0.02 mm under;"
            " for 50.00 h, 15.00 h left (in force)"
        )
        (line,) = concession_lines(session, piece=thing.piece, on=FROM + timedelta(4))
        assert line.hours_used == Span(10_00, 10_00)
        # A late line of the log counts where it belongs.
        run(session, shop, 16_00, FROM + timedelta(4))
        assert concessions_on(session, thing.piece, shop.engine, position(session), TODAY) == ()
        (line,) = concession_lines(session, engine=shop.engine)
        assert line.standing.verdict is ConcessionVerdict.ENDED
        assert line.standing.why == "its 50.00 h are used up"


def test_it_holds_for_its_piece_at_its_position_of_its_engine_alone(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing, other = fitted(session, shop), valve(session, shop)
        assert thing.piece is not None and other.piece is not None
        fifty = fifty_hours(session, shop, thing)
        grant_concession(session, fifty, shop.by(FROM))

        def in_force(piece: int, engine: int, name: str) -> int:
            return len(concessions_on(session, piece, engine, position(session, name), TODAY))

        assert in_force(thing.piece, shop.engine, "5") == 1
        assert in_force(thing.piece, shop.engine, "4") == 0
        assert in_force(thing.piece, shop.engine_two, "5") == 0
        assert in_force(other.piece, shop.engine, "5") == 0
        grant_concession(session, replace(fifty, reference="C 13", position=None), shop.by(FROM))
        assert in_force(thing.piece, shop.engine, "4") == 1
        assert concessions_on(session, thing.piece, shop.engine, None, FROM - timedelta(1)) == ()


def test_what_it_ran_in_another_engine_does_not_count(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = fitted(session, shop)
        assert thing.piece is not None
        grant_concession(session, fifty_hours(session, shop, thing), shop.by(FROM))
        begin_log(session, shop, CAME, shop.engine_two)
        place = station(session, shop, "exhaust valve")
        shift(session, shop, thing, place, shop.bench, FROM + timedelta(5))
        other = station(session, shop, "exhaust valve", engine=shop.engine_two)
        shift(session, shop, thing, shop.bench, other, FROM + timedelta(6), engine=shop.engine_two)
        run(session, shop, 7_00, FROM + timedelta(4))
        run(session, shop, 8_00, FROM + timedelta(7))
        run(session, shop, 9_00, FROM + timedelta(8), shop.engine_two)
        (line,) = concession_lines(session, piece=thing.piece)
        assert (line.hours_used, line.fitted, line.station) == (Span(7_00, 7_00), False, "")
        (then,) = concession_lines(session, piece=thing.piece, on=FROM + timedelta(4))
        assert (then.fitted, then.station) == (True, "cylinder 5, exhaust valve")


def test_after_hours_that_nobody_read_no_one_knows_what_is_left(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = fitted(session, shop)
        assert thing.piece is not None
        grant_concession(session, fifty_hours(session, shop, thing), shop.by(FROM))
        unread = MeterChange(0, None, PRIOR_LIFE_UNKNOWN, use=RunningUse.FLIGHT)
        change_meter(session, shop.engine, unread, shop.by(FROM + timedelta(1)), sure=True)
        (line,) = concession_lines(session)
        assert line.standing.verdict is ConcessionVerdict.UNKNOWN
        assert concessions_on(session, thing.piece, shop.engine, position(session), TODAY) == ()
        (due,) = concession_due_lines(session)
        assert (due.verdict, due.hours_left) == (LifeVerdict.UNKNOWN, None)


def test_its_end_stands_on_the_due_list_while_its_piece_is_in_that_engine(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = fitted(session, shop)
        until = TODAY + timedelta(days=300)
        both = replace(fifty_hours(session, shop, thing), until_on=until)
        concession = grant_concession(session, both, shop.by(FROM))
        run(session, shop, 10_00, FROM)
        (due,) = concession_due_lines(session, shop.engine)
        assert (due.verdict, due.hours_left, due.due_on, due.record) == (
            LifeVerdict.WITHIN,
            40_00,
            until,
            concession,
        )
        assert due.what == (
            f"concession C 12 over the worn limit, until {until.isoformat()} or for 50.00 h,"
            " whichever comes first"
        )
        assert (due.station, due.position) == ("exhaust valve", "cylinder 5")
        assert concession_due_lines(session, shop.engine_two) == ()
        run(session, shop, 20_00, TODAY)
        assert [each.verdict for each in concession_due_lines(session)] == [LifeVerdict.DUE_SOON]
        run(session, shop, 20_00, TODAY)
        assert [each.verdict for each in concession_due_lines(session)] == [LifeVerdict.EXPIRED]
        place = station(session, shop, "exhaust valve")
        shift(session, shop, thing, place, shop.bench, TODAY)
        assert concession_due_lines(session) == ()


def test_one_that_is_withdrawn_holds_no_more_and_is_not_withdrawn_twice(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = fitted(session, shop)
        assert thing.piece is not None
        concession = grant_concession(session, fifty_hours(session, shop, thing), shop.by(FROM))
        with pytest.raises(FieldRefused, match="isn't said why"):
            withdraw_concession(session, concession, " ", shop.by())
        with pytest.raises(FieldRefused, match=f"C 12 began on {FROM.isoformat()}"):
            withdraw_concession(session, concession, "lapsed", shop.by(FROM - timedelta(1)))
        withdraw_concession(session, concession, "valve replaced", shop.by(TODAY - timedelta(1)))
        assert concessions_on(session, thing.piece, shop.engine, position(session), TODAY) == ()
        before = TODAY - timedelta(2)
        assert len(concessions_on(session, thing.piece, shop.engine, position(session), before)) == 1
        assert [line.standing.verdict for line in concession_lines(session)] == [ConcessionVerdict.WITHDRAWN]
        assert concession_due_lines(session) == ()
        with pytest.raises(Refused, match="was withdrawn on"):
            withdraw_concession(session, concession, "again", shop.by())
        with pytest.raises(Refused, match="There is no such concession"):
            withdraw_concession(session, 99, "again", shop.by())


@pytest.mark.parametrize(
    ("change", "field", "reason"),
    [
        ({"authority": " "}, "authority", "The concession has no authority."),
        ({"reference": ""}, "reference", "The concession has no reference."),
        ({"allows": ""}, "allows", "The concession has no word of what it allows."),
        ({"document": 99}, "document", "A concession needs its document, and that one is not here."),
        ({"piece": 99}, "piece", "That piece is not in the store."),
        ({"engine": 99}, "engine", "That engine is not in the store."),
        ({"position": 99}, "position", "Linnet One has no such position."),
        ({"hours_allowed": None}, "until_on", "A concession has an end, and none is given."),
        ({"hours_allowed": 0}, "hours_allowed", "0.00 h are no hours to allow."),
        (
            {"life_limit_hours": 700_00},
            "life_limit_hours",
            "A concession over the worn limit sets no life limit.",
        ),
        (
            {"until_on": FROM - timedelta(1)},
            "until_on",
            f"It would end on {(FROM - timedelta(1)).isoformat()}, before it begins on {FROM.isoformat()}.",
        ),
    ],
)
def test_what_a_concession_must_have(shop: Shop, change: dict[str, object], field: str, reason: str) -> None:
    with shop.store.writing() as session:
        fifty = fifty_hours(session, shop, fitted(session, shop))
        with pytest.raises(FieldRefused) as refused:
            grant_concession(session, replace(fifty, **change), shop.by(FROM))  # type: ignore[arg-type]
        assert (refused.value.field, refused.value.reason) == (field, reason)


def test_it_does_not_begin_before_its_piece_came(shop: Shop) -> None:
    with shop.store.writing() as session:
        fifty = fifty_hours(session, shop, fitted(session, shop))
        early = replace(fifty, from_on=CAME - timedelta(1))
        with pytest.raises(FieldRefused, match=f"came on {CAME.isoformat()}"):
            grant_concession(session, early, shop.by(FROM))


def test_it_stands_on_the_pick_list_beside_its_piece(shop: Shop) -> None:
    with shop.store.writing() as session:
        thing = valve(session, shop)
        grant_concession(session, fifty_hours(session, shop, thing), shop.by(FROM))
        proposal = propose(session, (Asked(shop.engine, position(session)),))
        (row,) = pick_list_of_proposal(session, proposal, shop.inspector).rows
        assert row.remarks == (
            "concession C 12 of Air Board, over the worn limit: stem 0.02 mm under;"
            " for 50.00 h, 50.00 h left (in force)",
        )
