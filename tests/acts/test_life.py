"""What pieces and engines have used of their life and have left, and what work begins it anew."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy.orm import Session

from invdb.acts.accept import Acceptance, accept
from invdb.acts.concession import NewConcession, grant_concession
from invdb.acts.goods_in import NewPiece, ReceivingChecks
from invdb.acts.life import PieceLife, engine_life, life_of
from invdb.acts.life_limit import NewLifeLimit, add_life_limit, withdraw_life_limit
from invdb.acts.life_reset import LifeResetOrder, reset_life, withdraw_life_reset
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.reverse import reverse
from invdb.acts.running import Run, log_run
from invdb.acts.things import things_by_id
from invdb.records.catalogue import Part
from invdb.records.posting import post
from invdb.rules.life import LifeVerdict
from invdb.rules.life_limits import left_words, limit_words, used_words
from invdb.rules.running import Span
from invdb.terms import (
    ConcessionOver,
    FieldRefused,
    HoursKnown,
    LifeMeasure,
    LifeSince,
    PaperKind,
    PriorLife,
    Refused,
    RunningCounted,
    RunningUse,
    Scope,
)
from tests.engine_shop import ENGINE_HOURS, METER, begin, fitted, run, stripped
from tests.fitted_shop import Bench, add_mod
from tests.kit_shop import good
from tests.shop import BEGUN_ON, TODAY, Shop

DAY = timedelta(days=1)
CHECKED = ReceivingChecks("as drawn", "read", "none", "none")


def exactly(figure: int) -> PriorLife:
    return PriorLife(HoursKnown.EXACT, figure, figure)


def a_valve(shop: Shop, hours: int = 0) -> int:
    """An exhaust valve, accepted for flight, that ran so many hundredths of an hour before it came."""
    with shop.store.writing() as session:
        piece = NewPiece(prior_hours=exactly(hours), prior_starts=exactly(0))
        thing = good(session, shop, shop.valve, pieces=(piece,))
    assert thing.piece is not None
    return thing.piece


def later(shop: Shop, days: int = 100) -> None:
    """Let so many days pass."""
    shop.clock.instant += days * DAY


def life(shop: Shop, piece: int, on: date | None = None) -> PieceLife:
    with shop.store.reading() as session:
        return life_of(session, [piece], on)[piece]


def limit(shop: Shop, **more: object) -> int:
    given = NewLifeLimit(LifeMeasure.HOURS, 400_00, shop.valve, source="Pellworth bulletin 12")
    with shop.store.writing() as session:
        return add_life_limit(session, replace(given, **more), shop.by())  # type: ignore[arg-type]


def test_a_piece_uses_up_its_life_with_the_engine_that_it_is_in(shop: Shop) -> None:
    begin(shop)
    valve = a_valve(shop, 500_00)
    with shop.store.writing() as session:
        fitted(session, shop, Thing(piece=valve), "exhaust valve")
        later(shop)
        run(session, shop, METER + 50_00)
    stands = life(shop, valve)
    assert (stands.since_new.hours, stands.engine) == (Span(550_00, 550_00), shop.engine)
    (line,) = stands.stands.lines
    assert (used_words(line), limit_words(line.limit), left_words(line)) == (
        "550.00 h",
        "600.00 h since new",
        "50.00 h left",
    )
    assert (line.verdict, stands.stands.governing) == (LifeVerdict.WITHIN, line)
    later(shop)
    with shop.store.writing() as session:
        run(session, shop, METER + 80_00, use=RunningUse.GROUND)
    assert life(shop, valve).stands.verdict is LifeVerdict.DUE_SOON
    later(shop)
    with shop.store.writing() as session:
        run(session, shop, METER + 100_00)
    assert life(shop, valve).stands.verdict is LifeVerdict.EXPIRED


def test_its_life_on_a_past_day_counts_what_ran_by_the_end_of_that_day(shop: Shop) -> None:
    begin(shop)
    valve = a_valve(shop)
    with shop.store.writing() as session:
        fitted(session, shop, Thing(piece=valve), "exhaust valve")
    for days in (1, 2, 3):
        shop.clock.instant += DAY
        with shop.store.writing() as session:
            run(session, shop, METER + days * 5_00)
    with shop.store.writing() as session:
        stripped(session, shop, Thing(piece=valve), reading=METER + 15_00)
    by_day = [life(shop, valve, TODAY + days * DAY) for days in range(-1, 4)]
    assert [each.since_new.hours.low for each in by_day] == [0, 0, 5_00, 10_00, 15_00]
    assert [each.engine for each in by_day] == [None, shop.engine, shop.engine, shop.engine, None]
    assert life(shop, valve).since_new == by_day[-1].since_new


def test_a_stripped_piece_that_used_up_its_life_is_neither_accepted_nor_offered(shop: Shop) -> None:
    begin(shop)
    valve = Thing(piece=a_valve(shop, 500_00))
    with shop.store.writing() as session:
        fitted(session, shop, valve, "exhaust valve")
        later(shop)
        flown = run(session, shop, METER + 100_00)
        stripped(session, shop, valve, reading=METER + 100_00)
    with shop.store.reading() as session:
        state = things_by_id(session, [valve])[valve]
        assert (state.prior_hours, state.run_hours) == (exactly(500_00), exactly(600_00))
    taken = Acceptance((valve,), Scope.GROUND_RUNNING, CHECKED, to_place=shop.bin_a)
    with shop.store.writing() as session, pytest.raises(Refused, match="used up: 600.00 h of 600.00 h"):
        accept(session, taken, shop.by())
    with shop.store.writing() as session:
        reverse(session, flown, "flown by another engine", shop.by())
    with shop.store.reading() as session:
        # The stripping read the meter too, so what it gained by then is still counted.
        assert things_by_id(session, [valve])[valve].run_hours == exactly(600_00)


def test_limits_differ_by_what_counts_and_since_when(shop: Shop) -> None:
    begin(shop)
    limit(shop, amount=100_00, counted=RunningCounted.FLIGHT)
    limit(shop, measure=LifeMeasure.STARTS, amount=300)
    valve = a_valve(shop)
    with shop.store.writing() as session:
        fitted(session, shop, Thing(piece=valve), "exhaust valve")
        later(shop)
        run(session, shop, METER + 60_00, starts=250)
        later(shop)
        run(session, shop, METER + 110_00, use=RunningUse.GROUND, starts=20)
    stands = life(shop, valve).stands
    assert [(limit_words(line.limit), left_words(line), line.verdict) for line in stands.lines] == [
        ("600.00 h since new", "490.00 h left", LifeVerdict.WITHIN),
        ("100.00 h since new, flight only", "40.00 h left", LifeVerdict.WITHIN),
        ("300 starts since new", "30 starts left", LifeVerdict.DUE_SOON),
    ]
    assert stands.governing is stands.lines[2]


def test_a_calendar_limit_counts_from_the_day_a_piece_was_made(shop: Shop) -> None:
    valve = a_valve(shop)
    months = limit(shop, measure=LifeMeasure.MONTHS, amount=120)
    assert life(shop, valve).stands.verdict is LifeVerdict.UNKNOWN
    with shop.store.writing() as session:
        draft = shop.draft()
        draft.set("piece", valve, made_on=date(2016, 2, 1))
        post(session, draft)
    assert life(shop, valve).stands.verdict is LifeVerdict.EXPIRED
    with shop.store.writing() as session:
        withdraw_life_limit(session, months, "the bulletin was cancelled", shop.by())
    assert life(shop, valve).stands.verdict is LifeVerdict.WITHIN
    assert life(shop, valve, TODAY - DAY).stands.verdict is LifeVerdict.EXPIRED


def test_a_limit_for_a_mod_holds_in_engines_that_have_it(shop: Shop) -> None:
    begin(shop, shop.engine, shop.engine_two)
    with shop.store.writing() as session:
        mod = add_mod(shop, session, "L-7")
        draft = shop.draft()
        draft.new(session, "engine_mod", engine_id=shop.engine_two, mod_id=mod, embodied=True)
        post(session, draft)
    limit(shop, amount=300_00, mod=mod)
    first, second = a_valve(shop, 350_00), a_valve(shop, 350_00)
    with shop.store.writing() as session:
        fitted(session, shop, Thing(piece=first), "exhaust valve")
        Bench(shop, session).fit(Thing(piece=second), "1", "exhaust valve", engine=shop.engine_two)
    assert life(shop, first).stands.verdict is LifeVerdict.WITHIN
    second_stands = life(shop, second).stands
    assert second_stands.verdict is LifeVerdict.EXPIRED
    assert second_stands.governing is not None
    assert limit_words(second_stands.governing.limit) == "300.00 h since new, for the Linnet with mod L-7"


def test_an_overhaul_resets_what_its_report_says_and_no_more(shop: Shop) -> None:
    begin(shop)
    limit(shop, amount=200_00, since=LifeSince.OVERHAUL)
    limit(shop, measure=LifeMeasure.STARTS, amount=400, since=LifeSince.OVERHAUL)
    valve = a_valve(shop)
    with shop.store.writing() as session:
        fitted(session, shop, Thing(piece=valve), "exhaust valve")
        later(shop)
        run(session, shop, METER + 190_00, starts=150)
        stripped(session, shop, Thing(piece=valve), reading=METER + 190_00)
        order = LifeResetOrder("Brackwater report 88: stem plated", piece=valve, resets_starts=False)
        reset = reset_life(session, order, shop.by())
        Bench(shop, session).fit(
            Thing(piece=valve), "2", "exhaust valve", TODAY + 100 * DAY, from_place=shop.bench
        )
        later(shop)
        run(session, shop, METER + 200_00, starts=20)
    stands = life(shop, valve)
    assert (stands.since_new.hours.high, stands.since_overhaul.hours.high) == (200_00, 10_00)
    assert stands.since_overhaul.starts.high == 170
    assert (stands.overhauled_on, stands.report) == (TODAY + 100 * DAY, "Brackwater report 88: stem plated")
    assert [left_words(line) for line in stands.stands.lines] == [
        "400.00 h left",
        "190.00 h left",
        "230 starts left",
    ]
    with shop.store.writing() as session:
        withdraw_life_reset(session, reset, "the report was another valve's", shop.by())
    assert life(shop, valve).since_overhaul.hours.high == 200_00


def test_an_overhaul_in_the_engine_counts_from_its_entry(shop: Shop) -> None:
    begin(shop)
    valve = a_valve(shop)
    with shop.store.writing() as session:
        fitted(session, shop, Thing(piece=valve), "exhaust valve")
        later(shop)
        run(session, shop, METER + 10_00)
        reset_life(session, LifeResetOrder("top overhaul", piece=valve), shop.by())
        run(session, shop, METER + 13_00)
    stands = life(shop, valve)
    assert (stands.since_new.hours.low, stands.since_overhaul.hours.low) == (13_00, 3_00)


def test_a_concession_puts_its_own_limit_instead_while_it_stands(shop: Shop) -> None:
    begin(shop)
    valve = a_valve(shop, 590_00)
    with shop.store.writing() as session:
        fitted(session, shop, Thing(piece=valve), "exhaust valve")
        document = add_paper(session, NewPaper(PaperKind.STATEMENT, "letter of 1 March"), shop.by())
        grant_concession(
            session,
            NewConcession(
                "C 14",
                "the authority",
                ConcessionOver.LIFE_LIMIT,
                "fifty hours more",
                document,
                valve,
                shop.engine,
                hours_allowed=50_00,
                life_limit_hours=650_00,
            ),
            shop.by(),
        )
        later(shop)
        run(session, shop, METER + 20_00)
    stands = life(shop, valve).stands
    assert [limit_words(line.limit) for line in stands.lines] == ["650.00 h since new, by concession C 14"]
    assert stands.verdict is LifeVerdict.WITHIN
    later(shop)
    with shop.store.writing() as session:
        run(session, shop, METER + 50_00)
    after = life(shop, valve).stands
    assert [limit_words(line.limit) for line in after.lines] == ["600.00 h since new"]
    assert after.verdict is LifeVerdict.EXPIRED


def test_an_engine_has_run_what_it_had_before_its_log_and_since(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        run(session, shop, METER + 40_00, on=BEGUN_ON + 100 * DAY, starts=30)
        given = NewLifeLimit(
            LifeMeasure.HOURS,
            100_00,
            engine_type=shop.linnet,
            since=LifeSince.OVERHAUL,
            source="Pellworth overhaul manual",
        )
        add_life_limit(session, given, shop.by(BEGUN_ON))
        order = LifeResetOrder("overhauled here", engine=shop.engine)
        reset_life(session, order, shop.by(BEGUN_ON + 150 * DAY))
        run(session, shop, METER + 120_00, on=TODAY, use=RunningUse.GROUND, starts=4)
    with shop.store.reading() as session:
        now = engine_life(session, shop.engine)
        then = engine_life(session, shop.engine, BEGUN_ON + 120 * DAY)
    assert (now.meter, then.meter) == (METER + 120_00, METER + 40_00)
    assert (now.logged.flight.low, now.logged.ground.low, now.logged.starts.low) == (40_00, 80_00, 34)
    assert now.since_new.hours == Span(2_465_00, 2_465_00)
    assert (now.since_overhaul.hours, now.overhauled_on) == (Span(80_00, 80_00), BEGUN_ON + 150 * DAY)
    (line,) = now.stands.lines
    assert (left_words(line), line.verdict) == ("20.00 h left", LifeVerdict.DUE_SOON)
    forecast = now.stands.forecast
    assert forecast is not None and "at the pace of the last 90 to 365 days" in forecast.words
    assert (then.since_overhaul.hours, then.overhauled_on) == (Span(2_385_00, 2_385_00), None)
    assert now.before_hours == ENGINE_HOURS


@pytest.mark.parametrize(
    ("change", "field", "said"),
    [
        ({"amount": 0}, "amount", "0.00 h makes no sense"),
        ({"measure": LifeMeasure.MONTHS, "amount": 1201}, "amount", "1201 months makes no sense"),
        ({"measure": LifeMeasure.STARTS, "counted": RunningCounted.FLIGHT}, "counted", "not by starts"),
        ({"part": None}, "part", "what the limit is on"),
        ({"part": 999}, "part", "no such part"),
        ({"engine_type": 999}, "engine_type", "no such engine type"),
        ({"mod": 999}, "mod", "no such mod"),
        ({"prorated": True}, "prorated", "differs by engine type"),
        ({"source": " "}, "source", "what sets the limit"),
        ({"document": 999}, "document", "That document"),
    ],
)
def test_a_limit_that_makes_no_sense_is_refused(
    shop: Shop, change: dict[str, object], field: str, said: str
) -> None:
    with pytest.raises(FieldRefused, match=said) as caught:
        limit(shop, **change)
    assert caught.value.field == field


def test_a_limit_is_not_set_twice_nor_on_what_is_held_by_batch(shop: Shop) -> None:
    limit(shop, engine_type=shop.linnet)
    limit(shop, amount=300_00)
    with pytest.raises(FieldRefused, match="sets such a limit already: 300.00 h"):
        limit(shop)
    with pytest.raises(FieldRefused, match="held by batch"):
        limit(shop, part=shop.spring)
    limit(shop, part=shop.barrel)
    with shop.store.reading() as session:
        assert session.get_one(Part, shop.barrel).life_limited


@pytest.mark.parametrize(
    ("change", "field", "said"),
    [
        ({"report": ""}, "report", "No report"),
        (
            {"resets_hours": False, "resets_starts": False, "resets_calendar": False},
            "resets_hours",
            "Nothing",
        ),
        ({"overhauled_on": TODAY + 101 * DAY}, "overhauled_on", "overhauled on 2026-06-11"),
        ({"hours": exactly(51_00)}, "hours", "ran 50.00 h in all"),
        ({"resets_hours": False, "hours": exactly(1)}, "hours", "do not begin anew"),
        ({"overhauled_on": TODAY}, "hours", "ran 50.00 h here after 2026-03-02, and 0.00 h is less"),
        ({"document": 999}, "document", "That document"),
        ({"piece": 999}, "piece", "not in the store"),
    ],
)
def test_a_reset_that_makes_no_sense_is_refused(
    shop: Shop, change: dict[str, object], field: str, said: str
) -> None:
    begin(shop)
    valve = a_valve(shop)
    with shop.store.writing() as session:
        fitted(session, shop, Thing(piece=valve), "exhaust valve")
        later(shop)
        log_run(session, shop.engine, Run(RunningUse.FLIGHT, METER + 50_00), shop.by(), sure=True)
    order = LifeResetOrder("report 88", piece=valve)
    with shop.store.writing() as session, pytest.raises(FieldRefused, match=said) as caught:
        reset_life(session, replace(order, **change), shop.by())  # type: ignore[arg-type]
    assert caught.value.field == field


def test_a_reset_names_one_thing_that_was_here(shop: Shop) -> None:
    valve = a_valve(shop)

    def refused(session: Session, order: LifeResetOrder, on: date, said: str) -> None:
        with pytest.raises(Refused, match=said):
            reset_life(session, order, shop.by(on))

    with shop.store.writing() as session:
        refused(session, LifeResetOrder("r"), TODAY, "isn't said what was overhauled")
        both = LifeResetOrder("r", piece=valve, engine=shop.engine)
        refused(session, both, TODAY, "isn't said what was overhauled")
        refused(session, LifeResetOrder("r", piece=valve), BEGUN_ON, "came on")
        withdrawn = reset_life(session, LifeResetOrder("r", piece=valve), shop.by())
        withdraw_life_reset(session, withdrawn, "wrong valve", shop.by())
    with shop.store.writing() as session, pytest.raises(Refused, match="was withdrawn on 2026-03-02"):
        withdraw_life_reset(session, withdrawn, "again", shop.by())
