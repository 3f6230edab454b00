"""Plans, beliefs, thresholds and money by their pages' presenters and forms, on a real store, no window."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from gui.job import Job
from gui.views.beliefs_presenter import OTHERS, BeliefsPresenter
from gui.views.board_presenter import BoardPresenter
from gui.views.money_presenter import NOT_ASKED, MoneyPresenter
from gui.views.plan_presenter import OpeningKey, PlanPresenter
from gui.views.shown_board import BoardFilter
from invdb.acts.overhaul_plan import plan_overhaul
from invdb.acts.quote import NewQuote, add_quote
from invdb.terms import FieldRefused, Refused
from tests.gui.stores_shop import fill_in, sit
from tests.shop import TODAY, Shop, sqlite_shop

JULY, AUGUST = date(2026, 7, 1), date(2026, 8, 1)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


def plans(shop: Shop) -> PlanPresenter:
    presenter = PlanPresenter(sit(shop))
    presenter.plans = presenter.read(Job())
    return presenter


def believed(shop: Shop) -> BeliefsPresenter:
    presenter = BeliefsPresenter(sit(shop))
    presenter.take(presenter.read(Job()))
    return presenter


def keys(presenter: PlanPresenter) -> list[OpeningKey]:
    return [row.key for row in presenter.page(0, 50, None, "").rows]


def test_an_overhaul_is_planned_put_off_done_and_another_withdrawn(shop: Shop) -> None:
    fill_in(plans(shop).add_plan([]), engine=shop.engine, on=JULY, note="with the new valves")
    presenter = plans(shop)
    (key,) = keys(presenter)
    (row,) = presenter.page(0, 9, None, "").rows
    assert row.cells == ("2026-07", "Linnet One", "▣ planned", "planned for Jul 2026", "with the new valves")
    assert presenter.told() == "1 planned, none proposed."
    fill_in(presenter.change_plan([key]), on=AUGUST)
    presenter = plans(shop)
    (key,) = keys(presenter)
    assert presenter.said_of(key) == "Linnet One in Aug 2026, planned for Aug 2026. with the new valves."
    fill_in(presenter.done_plan([key]), done_on=TODAY)
    assert keys(plans(shop)) == []
    fill_in(plans(shop).add_plan([]), engine=shop.engine, on=JULY)
    presenter = plans(shop)
    fill_in(presenter.withdraw_plan(keys(presenter)), because="no money for it")
    assert keys(plans(shop)) == []
    with pytest.raises(Refused, match="No overhaul is chosen"):
        plans(shop).change_plan([])


def test_a_month_gone_by_is_refused_beneath_its_field(shop: Shop) -> None:
    with pytest.raises(FieldRefused, match="gone by") as refused:
        fill_in(plans(shop).add_plan([]), engine=shop.engine, on=date(2025, 1, 1))
    assert refused.value.field == "on"


def test_hours_that_are_typed_are_planned_engine_by_engine_and_taken_back(shop: Shop) -> None:
    presenter = plans(shop)
    months, (one, two, *_) = presenter.months(), presenter.grid()
    assert (months[0], len(months)) == ("2026-03", 25)
    assert not one.cells[0].given
    assert presenter.read_figure("12.5") == "12.50"
    changes = {(one.key, 0): "12.50", (one.key, 2): "8.00", (two.key, 1): "3.00"}
    assert presenter.save_hours(Job(), changes) == 2
    presenter = plans(shop)
    one, two, *_ = presenter.grid()
    assert [(cell.text, cell.given) for cell in one.cells[:3]] == [
        ("12.50", True),
        (one.cells[1].text, False),
        ("8.00", True),
    ]
    assert two.cells[1].text == "3.00"
    assert presenter.sum_of(["12.50", "", "8.00"]) == "20.50 h"
    assert presenter.save_hours(Job(), {(one.key, 0): None}) == 1
    assert not plans(shop).grid()[0].cells[0].given


def test_more_hours_than_a_month_has_are_refused_with_the_engine_and_nothing_is_planned(shop: Shop) -> None:
    presenter = plans(shop)
    one, two, *_ = presenter.grid()
    with pytest.raises(Refused, match=f"{two.name}: 9000.00 h cannot be run"):
        presenter.save_hours(Job(), {(one.key, 0): "12.50", (two.key, 0): "9000.00"})
    assert not plans(shop).grid()[0].cells[0].given
    with pytest.raises(Refused):
        presenter.read_figure("about ten")


def test_a_family_is_believed_of_in_per_cent_and_goes_back_to_the_one_of_all_others(shop: Shop) -> None:
    presenter = believed(shop)
    others, first, *_ = presenter.page(0, 50, None, "").rows
    assert (others.key, others.cells[1], others.cells[2]) == (OTHERS, "◇ comes with the program", "15 %")
    assert first.cells[1] == "as all others"
    assert presenter.told() == (
        "No family has a belief of its own: all go by the one that comes with the program."
    )
    assert "the shop has set none" in presenter.said_of(OTHERS)
    assert [deed.key for deed in presenter.deeds([first.key])] == ["F4"]
    fill_in(presenter.set_plan([first.key]), reject_mean="32.5", source="Ada Farrow, 20 years of engines")
    presenter = believed(shop)
    own = presenter.listed[1].belief
    assert (own.family, own.reject_mean, own.reject_weight) == (first.key, Decimal("0.325"), Decimal(5))
    assert presenter.page(0, 50, None, "").rows[1].cells[1:3] == ("✎ the shop's own", "32.5 %")
    assert presenter.told().startswith("1 family has a belief of its own")
    assert [deed.key for deed in presenter.deeds([first.key])] == ["F4", "Del"]
    with pytest.raises(Refused, match="Nothing of its own"):
        presenter.withdraw_plan([OTHERS])
    fill_in(presenter.withdraw_plan([first.key]), because="it was a guess")
    assert not believed(shop).listed[1].own


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ({"reject_mean": "140"}, "140 % is out of reason"),
        ({"reject_mean": "some"}, "no figure"),
        ({"failure_hours": "many"}, "many"),
        ({"yield_weight": "0"}, "out of reason"),
    ],
)
def test_a_belief_out_of_reason_is_refused(shop: Shop, given: dict[str, str], why: str) -> None:
    with pytest.raises(FieldRefused, match=why):
        fill_in(believed(shop).set_plan([OTHERS]), source="a guess", **given)


def test_the_thresholds_are_chosen_and_the_board_goes_by_them(shop: Shop) -> None:
    presenter = BoardPresenter(sit(shop))
    now = presenter.read_settings(Job())
    fill_in(presenter.settings_plan(now), watch_percent="10", horizon_months="6")
    assert presenter.read_settings(Job()).watch_percent == 10
    presenter.set_board(presenter.read(Job()))
    assert presenter.board is not None
    assert len(presenter.board.months) == 7
    assert "from a chance of 10 % on" in presenter.told_thresholds()
    with pytest.raises(FieldRefused, match="before it is watched"):
        fill_in(presenter.settings_plan(now), watch_percent="30", short_percent="20")


def test_the_list_is_saved_as_it_is_filtered(shop: Shop, tmp_path: Path) -> None:
    with shop.store.writing() as session:
        plan_overhaul(session, shop.engine, JULY, shop.by())
    presenter = BoardPresenter(sit(shop))
    presenter.set_board(presenter.read(Job()))
    presenter.filter = BoardFilter(engine="Linnet One")
    assert presenter.save_list(Job(), tmp_path / "list.pdf").read_bytes().startswith(b"%PDF")
    assert presenter.save_list(Job(), tmp_path / "list.xlsx").read_bytes().startswith(b"PK")
    with pytest.raises(Refused, match=r"\.pdf or \.xlsx"):
        presenter.save_list(Job(), tmp_path / "list.doc")
    row = presenter.row(shop.gasket)
    assert row is not None
    presenter.reasons = presenter.read_reasons(Job(), shop.gasket)
    assert "Linnet One" in "\n".join(presenter.rests_on(row)[0].lines)


def test_a_sum_is_spent_on_what_lowers_the_shortage_most_and_says_what_it_does(shop: Shop) -> None:
    with shop.store.writing() as session:
        plan_overhaul(session, shop.engine, JULY, shop.by())
        for currency, price in (("GBP", 300), ("EUR", 100)):
            quote = NewQuote(shop.supplier, currency, ((1, price),), part=shop.gasket, lead_days=20)
            add_quote(session, quote, shop.by())
    presenter = MoneyPresenter(sit(shop))
    assert presenter.read_currency(Job()) == "EUR"
    assert (presenter.empty(), presenter.curve(), presenter.told()) == (NOT_ASKED, None, "")
    presenter.plan = presenter.work_out(Job(), "12.00", "gbp")
    (row,) = presenter.page(0, 9, None, "").rows
    assert row.cells[2:] == ("4 off", "Aldermoor Aero Spares", "12.00 GBP", "7.0 → 3.0 off")
    assert presenter.told().startswith("12.00 GBP of 12.00 GBP: shortage, weighed, from ")
    assert "1 quote in EUR kept apart" in presenter.told_besides()
    assert "without" in presenter.said_of(row.key)
    curve = presenter.curve()
    assert curve is not None and curve.asked is not None
    assert curve.points[curve.asked].word == "12.00 GBP"
    assert [point.left for point in curve.points] == sorted(
        (point.left for point in curve.points), reverse=True
    )
    (buy,) = presenter.plan.buys
    presenter.plan = replace(presenter.plan, buys=(replace(buy, short_before=0.03, short_after=0.0004),))
    assert presenter.page(0, 9, None, "").rows[0].cells[-1] == "0.03 → <0.01 off"
    presenter.plan = presenter.work_out(Job(), "1", "GBP")
    assert presenter.told() == "Nothing is worth buying for 1.00 GBP."
    with pytest.raises(Refused, match="comma"):
        presenter.work_out(Job(), "12,00", "GBP")
    with pytest.raises(Refused):
        presenter.work_out(Job(), "12", "XYZ")
