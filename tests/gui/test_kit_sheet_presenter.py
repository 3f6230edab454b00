"""What a kit sheet says of each station, with no screen to say it on."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from gui.job import Job
from gui.shown import Row, Sort
from gui.sitting import Sitting
from gui.views.bench_presenter import BenchPresenter
from gui.views.kit_sheet_presenter import (
    COLUMNS,
    RowKey,
    Sheet,
    hours_cell,
    sheet_of_proposal,
    sign_of_bar,
)
from gui.views.kit_sheet_pulls import PulledKit, sheet_of_pulls
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.move import Shift, move
from invdb.acts.pull import GiveBack, give_back, issue
from invdb.rules.availability import Asking, Offered, bars
from invdb.rules.events import doubt_words
from invdb.rules.life import prior_hours_words
from invdb.rules.life_limits import Limit, Lived
from invdb.rules.running import Ran, Span
from invdb.terms import (
    Condition,
    EngineEventKind,
    HoursKnown,
    LifeMeasure,
    PlaceKind,
    PriorLife,
    ReturnedAs,
    Scope,
)
from tests.kit_shop import AUTHORITY, good, proposed, reserved, standing_in, state_of, stock
from tests.shop import TODAY, Shop, sqlite_shop

TO_600 = Limit(LifeMeasure.HOURS, 600_00)
AT = {column.name: place for place, column in enumerate(COLUMNS)}


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


def cell(row: Row, column: str) -> str:
    return row.cells[AT[column]]


def pulled(shop: Shop, *pulls: int) -> tuple[PulledKit, ...]:
    return BenchPresenter(Sitting(shop.store)).read_pulled(Job(), pulls)


def stations(sheet: Sheet) -> list[str]:
    return [cell(row, "station").strip() for row in sheet.rows(None, "")]


def test_one_row_a_station_with_the_piece_its_bin_and_why(shop: Shop) -> None:
    things = stock(shop)
    sheet = sheet_of_proposal(proposed(shop, "5"))
    assert (sheet.title, sheet.signs) == ("Linnet One, cylinder 5", ("complete",))
    assert "3 of 3 lines; no better choice exists" in sheet.remark
    assert stations(sheet) == ["exhaust valve", "exhaust springs", "head joint"]
    valve, springs, _ = sheet.rows(None, "")
    assert valve.cells == (
        "exhaust valve",
        state_of(shop, things["valves"][0]).tag,
        "1",
        "A-01-01",
        "✓ flight",
        "0.00",
        "1",
        "",
        "✓ the part itself",
    )
    assert (cell(springs, "quantity"), cell(springs, "hours")) == ("2", "")
    assert sheet.digest() == "", "nothing waits and nothing stands in"


@pytest.mark.parametrize(
    ("prior", "shown"),
    [
        (PriorLife(HoursKnown.EXACT, 31250, 31250), "312.50"),
        (PriorLife(HoursKnown.BETWEEN, 29000, 39000), "290–390"),
        (PriorLife(HoursKnown.BETWEEN, 29025, 39000), "290.25–390"),
        (PriorLife(HoursKnown.AT_LEAST, 30000, None), "≥ 300.00"),
        (PriorLife(HoursKnown.UNKNOWN, None, None), "not known"),
    ],
)
def test_hours_keep_what_is_known_of_them_in_a_narrow_column(prior: PriorLife, shown: str) -> None:
    assert hours_cell(prior_hours_words(prior)) == shown


def test_an_alternate_says_by_which_authority_before_anything_is_taken(shop: Shop) -> None:
    stock(shop, valves=0)
    plain = state_of(shop, standing_in(shop))
    sheet = sheet_of_proposal(proposed(shop, "5"))
    row = sheet.rows(None, "")[0]
    assert sheet.signs == ("with alternate",)
    assert (cell(row, "tag"), row.sign) == (plain.tag, "with alternate")
    assert cell(row, "why").startswith("⇄ stands in for VX")
    assert cell(row, "why").endswith(f"by {AUTHORITY}")
    assert plain.tag in sheet.digest() and AUTHORITY in sheet.digest()
    assert plain.part_number in sheet.said_of(row.key)


def test_a_short_station_waits_and_its_near_misses_stand_beneath_it(shop: Shop) -> None:
    stock(shop, valves=0)
    with shop.store.writing() as session:
        held = good(session, shop, shop.valve)
        raise_hold(session, (Subject(piece=held.piece),), "odd mark on the stem", shop.by())
        out = good(session, shop, shop.valve, note="due 2026-05-01")
        move(session, (Shift(out),), shop.works, shop.by())
    sheet = sheet_of_proposal(proposed(shop, "5"))
    short, *misses = sheet.rows(None, "")[:3]
    assert (short.sign, cell(short, "station"), cell(short, "tag")) == ("short", "exhaust valve", "")
    assert cell(short, "why").startswith("◔ waits for 1 off of VX")
    assert sheet.said_of(short.key).count("1 off of VX") == 1, "what is wanted is said once"
    assert {(row.sign, cell(row, "bin"), cell(row, "why")) for row in misses} == {
        ("on hold", "A-01-01", "⊘ on hold: odd mark on the stem"),
        ("out for work", "Brackwater Plating", "⇗ out for work at Brackwater Plating (due 2026-05-01)"),
    }
    assert "Nearest:" in sheet.digest() and "odd mark" in sheet.digest()
    assert sheet.digest(but_for=misses[0].key) == "", "a station that is told of already is not told again"


def test_a_bare_shelf_says_that_there_is_none(shop: Shop) -> None:
    sheet = sheet_of_proposal(proposed(shop, "5"))
    assert sheet.digest().count("none of it is here") == 3
    assert len(sheet.rows(None, "")) == 3


def test_what_an_open_pull_holds_is_named_with_it(shop: Shop) -> None:
    stock(shop)
    (made,) = reserved(shop, "5")
    sheet = sheet_of_proposal(proposed(shop, "5"))
    assert {cell(row, "why") for row in sheet.rows(None, "")} == {f"⚑ reserved for pull {made.number}"}
    assert sheet.signs == ("reserved",)


def test_several_kits_each_stand_under_their_own_heading(shop: Shop) -> None:
    stock(shop, valves=1)
    sheet = sheet_of_proposal(proposed(shop, "5", "6"))
    assert (sheet.title, sheet.signs) == ("Linnet One: 2 kits proposed together", ("short",))
    headings = [row for row in sheet.rows(None, "") if row.key.line is None]
    assert [(cell(row, "station"), cell(row, "why")) for row in headings] == [
        ("cylinder 5", "✓ complete, 3 of 3 lines"),
        ("cylinder 6", "◔ short, 2 of 3 lines"),
    ]
    assert sheet.digest().startswith("cylinder 6: ◔ exhaust valve")
    assert "chosen for another line of this proposal" in sheet.digest()


def test_filtering_keeps_a_station_whole_and_counts_what_there_is(shop: Shop) -> None:
    stock(shop, valves=0)
    with shop.store.writing() as session:
        held = good(session, shop, shop.valve)
        raise_hold(session, (Subject(piece=held.piece),), "odd mark on the stem", shop.by())
    sheet = sheet_of_proposal(proposed(shop, "5"))
    page = sheet.page(0, 100, None, "odd MARK")
    assert [cell(row, "station") for row in page.rows] == ["exhaust valve", ""]
    assert (page.fitting, page.total) == (2, 4)
    assert sheet.page(1, 1, None, "").rows == (sheet.rows(None, "")[1],)


def test_sorting_keeps_near_misses_beneath_their_station_and_blanks_last(shop: Shop) -> None:
    stock(shop, valves=0, springs=6)
    with shop.store.writing() as session:
        held = good(session, shop, shop.valve)
        raise_hold(session, (Subject(piece=held.piece),), "odd mark", shop.by())
    sheet = sheet_of_proposal(proposed(shop, "5"))
    for descending in (False, True):
        rows = sheet.rows(Sort("tag", descending), "")
        assert [cell(row, "station") for row in rows[-2:]] == ["exhaust valve", ""]
    assert [cell(row, "station") for row in sheet.rows(Sort("quantity", True), "")][0] == "exhaust springs"


def test_an_engine_on_hold_is_said_so_above_its_kit(shop: Shop) -> None:
    stock(shop)
    with shop.store.writing() as session:
        raise_hold(session, (Subject(engine=shop.engine),), "struck propeller", shop.by())
    sheet = sheet_of_proposal(proposed(shop, "5"))
    assert "on hold" in sheet.signs
    assert "Linnet One is on hold: struck propeller" in sheet.remark


def test_a_pull_shows_what_was_set_aside_handed_over_and_came_back(shop: Shop) -> None:
    stock(shop)
    (made,) = reserved(shop, "5")
    (kit,) = pulled(shop, made.pull)
    sheet = sheet_of_pulls((kit,))
    assert sheet.title == f"Pull {made.number}: Linnet One, cylinder 5"
    assert "Ben Hollis" in sheet.remark and sheet.signs == ("reserved",)
    assert {cell(row, "why") for row in sheet.rows(None, "")} == {"⚑ reserved"}
    assert {cell(row, "bin") for row in sheet.rows(None, "")} == {"A-01-01"}
    springs = next(line for line in kit.lines if line.station == "exhaust springs")
    with shop.store.writing() as session:
        issue(session, made.pull, shop.by(), {springs.pull_line: 1})
    (kit,) = pulled(shop, made.pull)
    row = sheet_of_pulls((kit,)).rows(None, "")[1]
    assert (row.sign, cell(row, "why")) == ("part issued", "◐ 1 off reserved, 1 off issued")
    assert ([line.station for line in kit.out], len(kit.set_aside)) == (["exhaust springs"], 3)
    with shop.store.writing() as session:
        back = GiveBack(springs.pull_line, 1, ReturnedAs.UNTOUCHED, shop.bin_a)
        give_back(session, made.pull, (back,), shop.by())
    row = sheet_of_pulls(pulled(shop, made.pull)).rows(None, "")[1]
    assert cell(row, "why") == "◐ 1 off reserved, 1 off returned"


def test_a_short_pull_says_what_it_waits_for(shop: Shop) -> None:
    stock(shop, valves=0)
    (made,) = reserved(shop, "5")
    sheet = sheet_of_pulls(pulled(shop, made.pull))
    assert sheet.signs == ("reserved", "short")
    row = sheet.rows(None, "")[0]
    assert (row.sign, cell(row, "why")) == ("short", "◔ short: none here")
    assert sheet.digest().startswith("◔ exhaust valve: waits for 1 off of VX")


def test_pulls_reserved_together_are_told_apart(shop: Shop) -> None:
    stock(shop, valves=2)
    made = reserved(shop, "5", "6")
    sheet = sheet_of_pulls(pulled(shop, *(each.pull for each in made)))
    headings = [cell(row, "station") for row in sheet.rows(None, "") if row.key.line is None]
    assert headings == [
        f"{each.number}: Linnet One, cylinder {n}" for each, n in zip(made, "56", strict=True)
    ]
    assert sheet.said_of(RowKey(1)) == f"{headings[1]}: ⚑ reserved"


def test_every_bar_has_a_sign_of_its_own_kind() -> None:
    asking = Asking(Scope.FLIGHT, 1, frozenset(), TODAY, False)
    for kind, word in {
        PlaceKind.FIRM: "out for work",
        PlaceKind.QUARANTINE: "in quarantine",
        PlaceKind.PULL: "issued",
        PlaceKind.ENGINE: "fitted",
        PlaceKind.BENCH: "on the bench",
        PlaceKind.SCRAP: "blocked",
    }.items():
        offered = Offered(
            Condition.SERVICEABLE, Scope.FLIGHT, 1, "us", False, (), (), 1, "there", kind, "", "", "", None,
            None, (), False,
        )  # fmt: skip
        assert [sign_of_bar(bar) for bar in bars(offered, asking)] == [word]
    for condition in (Condition.UNINSPECTED, Condition.UNSERVICEABLE, Condition.UNSALVAGEABLE):
        assert sign_of_bar(str(condition)) == condition.value


def test_doubts_by_events_and_lives_have_signs_of_their_own() -> None:
    asking = Asking(Scope.FLIGHT, 1, frozenset(), TODAY, False)
    doubt = doubt_words(EngineEventKind.OVERSPEED, "Linnet One", TODAY)
    for word, lived, limits, limited, doubts in (
        ("event not cleared", None, (), False, (doubt,)),
        ("expired", Lived({None: Ran(Span(600_00, 600_00))}), (TO_600,), True, ()),
        ("life unknown", Lived({None: Ran(Span(1_00, 1_00, 1))}), (TO_600,), True, ()),
        ("life unknown", None, (), True, ()),
    ):
        offered = Offered(
            Condition.SERVICEABLE, Scope.FLIGHT, 1, "us", False, (), (), 1, "there", PlaceKind.BIN, "", "",
            "", None, lived, limits, limited, doubts,
        )  # fmt: skip
        assert [sign_of_bar(bar) for bar in bars(offered, asking)] == [word]
