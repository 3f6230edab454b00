"""What the Engines view shows of a build, of lives, a log and the due list, and what its forms decide."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest

from gui.job import Job
from gui.shown import Sort
from gui.views.built_cylinders import summed_up
from gui.views.built_stations import WITH_LIMIT, stations_of
from gui.views.due_bars import bar_of, bars_of
from gui.views.engine_acts import Act, Subject
from gui.views.engine_plans import EnginePlans
from gui.views.engines_presenter import EnginesPresenter
from gui.views.fit_form import still_takes
from gui.views.log_rows import empty_log, head_of, log_page
from gui.views.meter_fields import read_count, read_hours
from gui.views.recall_form import question_of, told_of
from gui.views.sheet_ending import ending_of
from gui.views.standings import NOT_WORKED_OUT, Standing, gauge_of, left_figure
from invdb.acts.engine_log import engine_log
from invdb.acts.life import LifeStanding
from invdb.acts.numbers import Thing
from invdb.rules.build import BuiltPosition, BuiltStation, BuiltThing, Owed, Presumed, WantedLine
from invdb.rules.due import DueKind, DueLine, DueSoon
from invdb.rules.life import LifeVerdict
from invdb.rules.life_limits import Limit, LimitLine
from invdb.terms import FieldRefused, HoursKnown, LifeMeasure, Measure, PriorLife, Refused
from tests.gui.engines_shop import FLEW, begin, built, furnish
from tests.gui.stores_shop import fill_in, shown_fields, sit
from tests.shop import TODAY, Shop, sqlite_shop

SOON = DueSoon()
BOUNDS = ("part", "batch", "firm", "document", "received_from", "received_to")
WANTED = WantedLine(1, 7, "VX0001-K", "Exhaust valve", 1, Measure.COUNT, False)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


def thing(piece: int, name: str = "Exhaust valve", **more: object) -> BuiltThing:
    known = BuiltThing(
        piece, None, f"T{piece:05}-K", "", 7, "VX0001-K", name, 1, Measure.COUNT, TODAY, 40, station=1
    )
    return replace(known, **more)  # type: ignore[arg-type]


def line(
    used: int, high: int | None = None, verdict: LifeVerdict = LifeVerdict.WITHIN, **more: object
) -> LimitLine:
    """How a limit of 600 hours since new stands; ``high`` above ``used`` for a range, -1 for no upper end."""
    known = PriorLife(HoursKnown.EXACT, used, used)
    if high is not None:
        open_ = high < 0
        known = PriorLife(HoursKnown.AT_LEAST if open_ else HoursKnown.BETWEEN, used, None if open_ else high)
    top = known.high
    left = None if top is None else 600_00 - top
    share = Fraction(top if top is not None else used, 600_00)
    stands = LimitLine(Limit(LifeMeasure.HOURS, 600_00), known, left, 600_00 - used, verdict, share)
    return replace(stands, **more)  # type: ignore[arg-type]


def standing(limit: LimitLine, holds: tuple[str, ...] = (), events: tuple[str, ...] = ()) -> Standing:
    return Standing(LifeStanding((limit,), (), limit, limit.verdict), holds, events)


def position(*stations: BuiltStation) -> BuiltPosition:
    return BuiltPosition(5, "cylinder", "5", stations)


VALVE = BuiltStation(1, "exhaust valve", (WANTED,), (thing(1),))
BARREL = BuiltStation(2, "barrel", (WANTED,), (thing(2, "Barrel", station=2),))
EMPTY = BuiltStation(3, "head joint", (WANTED,))
NOT_WANTED = BuiltStation(4, "master rod")


def test_stations_with_a_limit_stand_first_the_worst_on_top() -> None:
    rows = stations_of(
        position(BARREL, EMPTY, NOT_WANTED, VALVE, replace(VALVE, name="inlet valve", contents=(thing(3),))),
        {},
        {Thing(1): standing(line(100_00)), Thing(3): standing(line(590_00, verdict=LifeVerdict.DUE_SOON))},
        SOON,
        {},
    )
    assert [row.station for row in rows] == ["inlet valve", "exhaust valve", "barrel", "head joint"]
    assert [row.section == WITH_LIMIT for row in rows] == [True, True, False, False]
    assert rows[-1].sign == "nothing recorded" and "VX0001-K" in rows[-1].detail


def test_a_gauge_says_the_verdict_and_the_range_and_never_more_than_is_known() -> None:
    gauge = gauge_of(line(300_00, -1, LifeVerdict.UNKNOWN), SOON)
    assert (gauge.used_low, gauge.used_high, gauge.limit, gauge.sign) == (300_00, None, 600_00, "unknown")
    assert gauge.figure == "at least 300.00 h, no upper end known of 600.00 h since new"
    assert gauge.soon == 575_00
    months = Limit(LifeMeasure.MONTHS, 120)
    gauge = gauge_of(replace(line(0), limit=months, due_on=date(2030, 1, 1)), SOON)
    assert gauge.soon == 117


def test_what_is_left_is_rounded_down_and_left_out_where_nobody_knows() -> None:
    assert left_figure(line(540_01)) == "59 h left"
    assert left_figure(line(300_00, -1)) == ""
    assert left_figure(line(700_00)) == "0 h left"
    assert left_figure(replace(line(0), due_on=date(2027, 3, 14))) == "due 2027-03"


def test_a_doubt_is_said_before_the_life_and_both_are_told() -> None:
    held = standing(line(100_00), holds=("scored stem",), events=("propeller strike of L on 2026-01-01",))
    assert held.sign == "event not cleared"
    (row,) = stations_of(position(VALVE), {}, {Thing(1): held}, SOON, {})
    assert row.words == "on hold: scored stem; propeller strike of L on 2026-01-01"
    assert row.gauge is not None and row.gauge.sign == "within limits"


def test_what_sits_in_another_piece_says_in_which() -> None:
    guide = thing(8, "Guide", station=3, holder=2, holder_tag="T00002-K")
    rows = stations_of(position(BARREL, replace(EMPTY, within=(guide,))), {}, {}, SOON, {})
    assert [row.words for row in rows] == [f"since {TODAY.isoformat()}", "in T00002-K"]


def test_what_sits_at_no_station_of_the_position_stands_beneath_its_holder() -> None:
    pin = thing(9, "Pin", station=None, holder=2, holder_tag="T00002-K")
    barrel = replace(BARREL, contents=(thing(2, "Barrel", station=2, inside=(pin,)),))
    rows = stations_of(position(barrel), {}, {}, SOON, {})
    assert [(row.depth, row.thing) for row in rows] == [(0, "T00002-K  Barrel"), (1, "T00009-K  Pin")]


def test_a_presumed_and_a_robbed_station_say_so() -> None:
    presumed = Presumed(3, 7, "VX0001-K", "Exhaust valve", 1, Measure.COUNT, TODAY)
    owed = Owed(4, 7, "VX0001-K", "Exhaust valve", 1, Measure.COUNT, "T00031-P", "Linnet Two", TODAY)
    rows = stations_of(
        position(replace(EMPTY, presumed=(presumed,)), replace(VALVE, contents=(), owed=(owed,))),
        {}, {}, SOON, {},
    )  # fmt: skip
    assert [row.sign for row in rows] == ["presumed", "owed"]
    assert rows[0].key.presumption == 3 and rows[1].key.debt == 4
    assert "for Linnet Two" in rows[1].detail


def test_a_batch_on_hold_marks_its_row_and_its_cylinder() -> None:
    springs = replace(VALVE, name="springs", contents=(replace(thing(1), piece=None, batch=7),))
    stands = {Thing(batch=7): Standing(holds=("soft wire",)), Thing(1): standing(line(100_00))}
    rows = stations_of(position(BARREL, VALVE, springs), {}, stands, SOON, {})
    assert [(row.station, row.sign) for row in rows] == [
        ("exhaust valve", "within limits"), ("springs", "on hold"), ("barrel", "no limit"),
    ]  # fmt: skip
    assert rows[1].words == "on hold: soft wire"
    _filled, figure, sign, told = summed_up(position(VALVE, springs), stands)
    assert (figure, sign) == ("500 h left", "on hold") and "on hold: soft wire" in told


def test_a_life_that_was_not_worked_out_is_not_taken_for_one_without_a_limit() -> None:
    stands = {Thing(1): NOT_WORKED_OUT, Thing(2): NOT_WORKED_OUT}
    assert summed_up(position(VALVE, BARREL), stands)[2] == "not worked out"
    assert {row.sign for row in stations_of(position(VALVE), {}, stands, SOON, {})} == {"not worked out"}


def test_a_cylinder_is_summed_up_by_the_worst_in_it() -> None:
    stands = {Thing(1): standing(line(540_00)), Thing(2): standing(line(100_00, verdict=LifeVerdict.WITHIN))}
    filled, figure, sign, told = summed_up(position(VALVE, BARREL, EMPTY), stands)
    assert filled == pytest.approx(0.1)
    assert (figure, sign) == ("60 h left", "within limits")
    assert "nothing recorded: head joint" in told
    expired = stands | {Thing(2): standing(line(650_00, verdict=LifeVerdict.EXPIRED))}
    assert summed_up(position(VALVE, BARREL), expired)[:3] == (0.0, "0 h left", "expired")
    unknown = stands | {Thing(2): standing(line(10_00, -1, LifeVerdict.UNKNOWN))}
    assert summed_up(position(VALVE, BARREL), unknown)[::2][:2] == (0.0, "unknown")
    assert summed_up(position(EMPTY, NOT_WANTED), {})[2] == "nothing recorded"
    assert summed_up(position(BARREL, EMPTY), {})[:3] == (1.0, "1/2", "no limit")


DUE = DueLine(
    DueKind.PIECE_LIFE, "Exhaust valve T00031-P", "600.00 h since new", "12.50 h left", LifeVerdict.DUE_SOON,
    1, "Linnet One", "cylinder 5", "exhaust valve", 31, "T00031-P", "VX0001-K", "Exhaust valve",
    earliest=date(2026, 4, 1), latest=date(2026, 9, 1), forecast="between April and September",
)  # fmt: skip


def test_a_due_line_becomes_a_bar_that_ends_with_its_own_day_at_the_latest() -> None:
    bar = bar_of(DUE, TODAY)
    assert (bar.engine, bar.what) == ("Linnet One, cylinder 5", "T00031-P Exhaust valve")
    assert (bar.earliest, bar.latest) == (date(2026, 4, 1), date(2026, 9, 1))
    by_day = bar_of(replace(DUE, due_on=date(2026, 6, 1), latest=None), TODAY)
    assert (by_day.earliest, by_day.latest) == (date(2026, 4, 1), date(2026, 6, 1))
    over = bar_of(replace(DUE, earliest=None, latest=None, verdict=LifeVerdict.EXPIRED), TODAY)
    assert (over.earliest, over.latest) == (TODAY, TODAY)
    ordered = bar_of(replace(DUE, kind=DueKind.DIRECTIVE, what="directive 7", tag="", part_name=""), TODAY)
    assert ordered.what == "directive 7"


def test_only_the_lines_with_every_word_are_shown() -> None:
    lines = (DUE, replace(DUE, piece=32, tag="T00032-L", engine_name="Linnet Two"))
    assert [bar.key.piece for bar in bars_of(lines, TODAY, "two soon")] == [32]
    assert len(bars_of(lines, TODAY)) == 2


def test_the_log_says_its_totals_and_each_line_what_it_added(shop: Shop) -> None:
    with shop.store.reading() as session:
        log = engine_log(session, shop.engine)
    assert head_of(log) == "The log of Linnet One has not begun."
    assert "Begin its log" in empty_log(log).how_to_begin
    furnish(shop)
    with shop.store.reading() as session:
        log = engine_log(session, shop.engine)
    assert head_of(log) == (
        "In all 530.00 h, 20 starts; the meter reads 130.00 h. Log kept since 2025-01-07."
    )
    page = log_page(log, 0, 50, None, "")
    assert page.total == 4 and page.rows[-1].cells[:6] == (
        FLEW.isoformat(), "flight", "30.00 h", "20", "130.00 h", "30.00 h",
    )  # fmt: skip
    assert page.rows[0].cells[1:4] == ("fitted", "", ""), "a reading at a fitting adds nothing"
    by_hours = log_page(log, 0, 50, Sort("hours", descending=True), "")
    assert by_hours.rows[0].cells[2] == "30.00 h"
    assert log_page(log, 0, 50, None, "flight").fitting == 1


def test_figures_that_are_typed_are_read_exactly_or_refused() -> None:
    assert read_hours("312.5", "reading") == 312_50
    assert read_count(" 12 ", "starts") == 12 and read_count("", "starts") == 0
    for wrong in ("", "about 3", "between 3 and 4", "unknown"):
        with pytest.raises(FieldRefused):
            read_hours(wrong, "reading")
    with pytest.raises(FieldRefused):
        read_count("3.5", "starts")


def test_a_station_takes_what_its_kit_line_asks_for_and_is_not_there_yet() -> None:
    two = replace(WANTED, quantity=2)
    assert still_takes(BuiltStation(1, "springs", (two,), (thing(1),))) == 1
    assert still_takes(VALVE) == 0 and still_takes(NOT_WANTED) == 0


def test_going_back_a_day_and_again_to_today(shop: Shop) -> None:
    furnish(shop)
    presenter = EnginesPresenter(sit(shop))
    presenter.set_engines(presenter.read_engines(Job()))
    assert presenter.may_act() != "", "nothing is done before it is read"
    presenter.reading = presenter.read_build(Job(), shop.engine, None, None)
    assert presenter.may_act() == "" and presenter.told_of_day() == ""
    presenter.choose_day(date(2026, 3, 1))
    assert "as it was on 2026-03-01" in presenter.may_act()
    presenter.as_believed = True
    assert presenter.believed_at() is not None
    presenter.choose_day(TODAY)
    assert presenter.day is None and not presenter.as_believed
    presenter.show_engine(shop.engine_two)
    assert presenter.reading is None


def test_with_no_engine_the_stations_say_what_would_stand_there(shop: Shop) -> None:
    presenter = EnginesPresenter(sit(shop))
    why = presenter.why_no_stations()
    assert why is not None and "stations" in why.headline
    assert presenter.cylinders() == [] and presenter.told_of_life() == ""
    assert presenter.may_act() == "No engine is shown."


def plan(shop: Shop, act: Act, *, at: int | None = None, keys: tuple = ()):
    where = built(shop).positions[at].position if at is not None else None
    return EnginePlans(sit(shop)).plan(Job(), act, Subject(shop.engine, "Linnet One", where, keys))


def test_nothing_is_fitted_to_an_engine_whose_log_has_not_begun(shop: Shop) -> None:
    with pytest.raises(Refused, match="has not begun"):
        plan(shop, Act.FIT, at=0)
    form = plan(shop, Act.BEGIN_LOG)
    fill_in(form, reading="100", hours="at least 300", starts="")
    with shop.store.reading() as session:
        log = engine_log(session, shop.engine)
    assert (log.reading, log.prior_hours.low, log.prior_hours.high) == (100_00, 300_00, None)


def test_what_it_ran_for_is_asked_only_where_the_meter_went_on(shop: Shop) -> None:
    furnish(shop)
    form = plan(shop, Act.STRIP_POSITION, at=0)
    assert "use" not in shown_fields(form, {"reading": "130.00"})
    assert "use" in shown_fields(form, {"reading": "131.00"})


def test_a_meter_that_broke_is_changed_with_what_ran_unread(shop: Shop) -> None:
    begin(shop)
    fill_in(plan(shop, Act.METER), new_reading="0", unread="between 2 and 5")
    with shop.store.reading() as session:
        log = engine_log(session, shop.engine)
    assert log.meter == 0
    assert head_of(log).startswith("In all between 532.00 h and 535.00 h")


def test_a_whole_engine_that_is_empty_has_nothing_to_strip(shop: Shop) -> None:
    begin(shop)
    with pytest.raises(Refused, match="Nothing that could be stripped"):
        plan(shop, Act.STRIP_ENGINE)
    with pytest.raises(Refused, match="Nothing is chosen"):
        plan(shop, Act.ROB, at=0)
    with pytest.raises(Refused, match="Nothing is out on any pull"):
        plan(shop, Act.FIT_PULL, at=0)


def test_the_whole_engine_is_stripped_in_one_act(shop: Shop) -> None:
    furnish(shop)
    form = plan(shop, Act.STRIP_ENGINE)
    fill_in(form, found="clean", control="tag")
    assert all(not station.contents for each in built(shop).positions for station in each.stations)


def test_a_recall_needs_a_bound_and_tells_where_everything_is(shop: Shop) -> None:
    furnish(shop)
    form = plan(shop, Act.RECALL)
    with pytest.raises(FieldRefused):
        fill_in(form, reason="porous castings")
    done = fill_in(form, part=shop.valve, reason="porous castings")
    assert done.held is None
    assert told_of(done).startswith("4 pieces or batches are concerned: 3 off fitted in Linnet One")
    held = fill_in(form, part=shop.valve, reason="porous castings", hold=True)
    assert "4 put on hold" in told_of(held)
    with pytest.raises(FieldRefused):
        question_of(
            {name: None for name in ("part", "batch", "firm", "document", "received_from", "received_to")}
        )


def test_a_sheet_is_written_as_pdf_or_workbook_and_as_nothing_else() -> None:
    assert ending_of(Path("status.PDF")) == ".pdf" and ending_of(Path("status.xlsx")) == ".xlsx"
    with pytest.raises(Refused, match="not written as .txt"):
        ending_of(Path("status.txt"))
