"""The page of what binds an engine or puts it in doubt, acted on by keys; and what a past day leaves out."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import pytest

from gui.shown import Row, Sort
from gui.views.engine_acts import Act
from gui.views.engine_orders import OrderKind, orders_page, same_directive
from invdb.acts.concession import NewConcession, grant_concession
from invdb.acts.directive import NewDirective, add_directive
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.life_limit import NewLifeLimit, add_life_limit
from invdb.acts.life_reset import LifeResetOrder, reset_life
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.shop import NewEngineType, add_engine_type
from invdb.terms import ConcessionOver, Layout, LifeMeasure, PaperKind
from tests.gui.engines_shop import EngineDesk, Fitted, furnish
from tests.shop import TODAY, Shop, sqlite_shop

YESTERDAY = TODAY - timedelta(days=1)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


@pytest.fixture
def fitted(shop: Shop) -> Fitted:
    return furnish(shop)


@pytest.fixture
def desk(display: str, shop: Shop, fitted: Fitted, tmp_path: Path) -> Iterator[EngineDesk]:
    opened = EngineDesk(shop, tmp_path)
    opened.read()
    yield opened
    opened.close()


def order(shop: Shop, reference: str = "D 7", *, on: date = TODAY, **more: object) -> int:
    """A directive for the shown type of engine, unless it is for something else."""
    given: dict[str, object] = {"engine_type": shop.linnet} | more
    new = NewDirective(reference, "rods", "crack test", on, **given)  # type: ignore[arg-type]
    with shop.store.writing() as session:
        return add_directive(session, new, shop.by(on))


def rows(desk: EngineDesk) -> tuple[Row, ...]:
    """What the page shows, once it is read."""
    desk.picture.focus_force()
    desk.press("<Control-u>")
    desk.until(lambda: desk.view.presenter.orders is not None)
    desk.settle()
    orders = desk.view.presenter.orders
    assert orders is not None
    return orders.rows


def choose(desk: EngineDesk, kind: OrderKind, nth: int = 0) -> None:
    """Choose a row of that kind, and go on with the keys in the list."""
    places = [at for at, row in enumerate(rows(desk)) if row.key.kind is kind]
    desk.view.pages.orders.table.choose(places[nth])
    desk.view.pages.orders.focus_rows()
    desk.root.update()


def kinds(desk: EngineDesk) -> list[str]:
    return [row.cells[0] for row in rows(desk)]


def test_doubts_stand_first_and_what_is_not_for_the_engine_last(desk: EngineDesk, shop: Shop) -> None:
    with shop.store.writing() as session:
        other = add_engine_type(session, NewEngineType("Dabchick", Layout.IN_LINE), shop.by())
        raise_hold(session, (Subject(engine=shop.engine),), "runs rough", shop.by())
        raise_hold(session, (Subject(part=shop.valve),), "porous", shop.by())
    order(shop, "D 1", engine_type=other)
    order(shop, within_hours=50_00)
    shown = rows(desk)
    assert [row.key.kind for row in shown] == [
        OrderKind.DOUBT,
        OrderKind.HOLD,
        OrderKind.DIRECTIVE,
        OrderKind.LIMIT,
        OrderKind.DIRECTIVE,
    ]
    assert "on hold: porous" in shown[0].cells[3] and shown[1].cells[3] == "runs rough"
    assert shown[2].cells[2] == "due later: 50.00 h left" and shown[2].sign == "within limits"
    assert shown[-1].cells[2].startswith("not for it") and shown[-1].sign == "unsuited"


def test_a_directive_is_complied_with_issued_anew_and_withdrawn_by_keys(desk: EngineDesk, shop: Shop) -> None:
    order(shop, within_hours=50_00)
    choose(desk, OrderKind.DIRECTIVE)
    page = desk.view.pages.orders
    assert "Orders: crack test" in page.told()
    assert list(page.bar.buttons) == ["Complied with …", "New issue …", "Withdraw …"]
    desk.open_form("<Control-o>")
    desk.fill_in(method="dye penetrant, no fault")
    desk.save()
    choose(desk, OrderKind.DIRECTIVE)
    desk.until(lambda: "no fault" in page.told())
    form = desk.open_form("<Control-j>")
    assert form.values()["title"] == "rods"
    desk.fill_in(issue="2")
    desk.save()
    choose(desk, OrderKind.DIRECTIVE)
    desk.until(lambda: "D 7 issue 2" in page.told())
    desk.open_form("<Delete>")
    desk.fill_in(because="superseded")
    desk.save()
    assert "directive" not in kinds(desk)


def test_one_directive_is_complied_with_on_several_pieces_in_one_entry(
    desk: EngineDesk, shop: Shop, fitted: Fitted
) -> None:
    order(shop, part=shop.valve, within_hours=50_00)
    shown = rows(desk)
    assert kinds(desk).count("directive") == len(fitted.valves)
    keys = [row.key for row in shown if row.key.kind is OrderKind.DIRECTIVE]
    assert same_directive(keys) and not same_directive([row.key for row in shown])
    desk.view.pages.orders.table.choose(0)
    desk.view.pages.orders.focus_rows()
    desk.press("<Shift-Down>", "<Shift-Down>")
    form = desk.open_form("<Control-o>")
    desk.fill_in(method="dye penetrant")
    assert form.said().count("T0") == len(fitted.valves)
    desk.save()
    assert all("complied with" in row.cells[2] for row in rows(desk) if row.cells[0] == "directive")


def test_limits_overhauls_concessions_and_holds_are_withdrawn_and_cleared(
    desk: EngineDesk, shop: Shop, fitted: Fitted
) -> None:
    with shop.store.writing() as session:
        document = add_paper(session, NewPaper(PaperKind.STATEMENT, "AL 9"), shop.by())
        add_life_limit(
            session, NewLifeLimit(LifeMeasure.STARTS, 900, part=shop.valve, source="leaflet 7"), shop.by()
        )
        reset_life(session, LifeResetOrder("Report 4", engine=shop.engine), shop.by())
        piece = fitted.valves[0].piece
        assert piece is not None
        allowed = NewConcession(
            "C 3", "the office", ConcessionOver.WORN_LIMIT, "stem to 11.9", document, piece, shop.engine,
            until_on=TODAY,
        )  # fmt: skip
        grant_concession(session, allowed, shop.by())
        raise_hold(session, (Subject(engine=shop.engine),), "runs rough", shop.by())
    before = kinds(desk)
    for kind in (OrderKind.OVERHAUL, OrderKind.HOLD):
        choose(desk, kind)
        desk.open_form("<Delete>")
        desk.fill_in(because="found otherwise")
        desk.save()
    choose(desk, OrderKind.CONCESSION)
    desk.open_form("<Delete>")
    desk.fill_in(because="the piece was replaced")
    desk.save()
    withdrawn = next(row for row in rows(desk) if row.cells[0] == "concession")
    assert withdrawn.cells[2].startswith("withdrawn"), "it stays to be seen"
    choose(desk, OrderKind.LIMIT, 1)
    desk.open_form("<Delete>")
    desk.fill_in(because="superseded")
    desk.save()
    gone = ["hold", "overhaul", "limit of life"]
    assert sorted([*kinds(desk), *gone]) == sorted(before)


def test_the_limit_that_a_part_itself_has_is_read_here_and_changed_elsewhere(desk: EngineDesk) -> None:
    choose(desk, OrderKind.LIMIT)
    page = desk.view.pages.orders
    assert "kept with the part itself" in page.told()
    assert not page.bar.buttons
    desk.press("<Delete>")
    assert desk.form is None


def test_what_stood_on_a_past_day_says_so_and_is_not_acted_on(desk: EngineDesk, shop: Shop) -> None:
    order(shop, "D 1", on=YESTERDAY - timedelta(days=3))
    order(shop, "D 2")
    assert kinds(desk).count("directive") == 2
    desk.slider.go_to(YESTERDAY)
    desk.until(lambda: desk.view.presenter.orders and desk.view.presenter.orders.day == YESTERDAY)
    assert kinds(desk).count("directive") == 1
    said = desk.labels()
    assert "as they stood on 2026-03-01" in said and "are those of today" in said
    choose(desk, OrderKind.DIRECTIVE)
    assert not desk.view.pages.orders.bar.buttons


def test_every_page_says_on_a_past_day_what_of_it_is_of_today(desk: EngineDesk, shop: Shop) -> None:
    with shop.store.writing() as session:
        raise_hold(session, (Subject(engine=shop.engine),), "runs rough", shop.by())
    desk.view.on_refresh()
    desk.until(lambda: "On hold: runs rough" in desk.labels())
    assert "Today:" not in desk.labels()
    desk.slider.go_to(YESTERDAY)
    desk.until(lambda: desk.build().on == YESTERDAY)
    said = desk.labels()
    assert "Today: ⊘ On hold: runs rough" in said
    assert "holds, and engine events not cleared, are known as of today alone" in said
    assert "The whole log, as it is today." in said
    assert "What falls due is told as of today" in said
    desk.slider.last.invoke()
    desk.until(lambda: desk.view.presenter.day is None and desk.build().on == TODAY)
    assert "as of today" not in desk.labels() and "as it is today" not in desk.labels()


def test_what_is_of_the_whole_shop_is_begun_on_a_past_day_too(desk: EngineDesk) -> None:
    desk.slider.go_to(YESTERDAY)
    desk.until(lambda: desk.build().on == YESTERDAY)
    desk.view.act(Act.HOLD)
    assert "Go back to today" in desk.refused[-1]
    desk.view.act(Act.DUE_SOON)
    desk.until(lambda: desk.form is not None)


def test_the_list_is_filtered_and_sorted(desk: EngineDesk, shop: Shop) -> None:
    order(shop, "D 1", within_hours=50_00)
    order(shop, "D 2", within_hours=10_00)
    rows(desk)
    orders = desk.view.presenter.orders
    page = orders_page(orders, 0, 10, Sort("what", descending=True), "rods directive")
    assert [row.cells[3][:3] for row in page.rows] == ["D 2", "D 1"]
    assert (page.fitting, page.total) == (2, 3)
    assert orders_page(None, 0, 10, None, "").total == 0
