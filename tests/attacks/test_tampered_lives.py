"""A store whose rows of lives and doubts were changed by hand: the check names each, whatever was changed."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy import Boolean, Connection, Date, Integer, Table, Text, text
from sqlalchemy.exc import DBAPIError

from invdb.acts import check as checking
from invdb.acts.concession import NewConcession, grant_concession
from invdb.acts.directive import NewDirective, add_directive, comply
from invdb.acts.engine_event import NewEvent, clear_event, record_event
from invdb.acts.fit import fit_pull
from invdb.acts.hold import Subject
from invdb.acts.life_limit import NewLifeLimit, add_life_limit
from invdb.acts.life_reset import LifeResetOrder, reset_life
from invdb.acts.mods import embody
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.presume import presume
from invdb.acts.rob import Robbery, rob
from invdb.records.base import Base
from invdb.records.chain import Difference
from invdb.terms import ConcessionOver, EngineEventKind, LifeControl, LifeMeasure, PaperKind, RunningUse
from tests.engine_shop import (
    LONG_AGO,
    METER,
    barrel_with_valve,
    begin,
    came,
    fitted,
    issued,
    run,
    sound,
    stripped,
)
from tests.fitted_shop import add_mod
from tests.kit_shop import stock
from tests.records.tampering import behind_its_back
from tests.shop import BEGUN_ON, TODAY, Shop

RAN_ON = LONG_AGO + timedelta(days=5)
READ = METER + 10_00
TABLES = (
    "running",
    "service",
    "stay",
    "holding",
    "presumption",
    "stripping",
    "debt",
    "engine_event",
    "event_taint",
    "event_clearance",
    "directive",
    "compliance",
    "concession",
    "life_limit",
    "life_reset",
    "engine_mod",
    "engine",
    "pull_line",
    "entry_line",
)


@pytest.fixture
def lived(shop: Shop) -> Shop:
    """A workshop in which something stands in every one of these tables."""
    begin(shop)
    begin(shop, shop.engine_two, reading=None)
    with shop.store.writing() as session:
        barrel, inside = barrel_with_valve(session, shop)
        valve = came(session, shop, shop.valve)
        springs = came(session, shop, shop.spring, quantity=40)
        mod = add_mod(shop, session, "M 7")
        letter = add_paper(session, NewPaper(PaperKind.STATEMENT, "AA 77"), shop.by(BEGUN_ON))
        fitted(session, shop, barrel, "barrel", cylinder="2", on=LONG_AGO)
        fitted(session, shop, valve, "exhaust valve", cylinder="3", on=LONG_AGO)
        fitted(session, shop, springs, "exhaust springs", cylinder="3", quantity=2, on=LONG_AGO)
        run(session, shop, READ, on=RAN_ON, starts=4)
        event = record_event(session, NewEvent(shop.engine, EngineEventKind.OVERSPEED), shop.by(RAN_ON))
        clear_event(session, event, [Subject(piece=valve.piece)], "crack test", shop.by())
        order = NewDirective("D 7", "Look", "Look", BEGUN_ON, engine_type=shop.linnet, every_hours=50_00)
        directive = add_directive(session, order, shop.by(BEGUN_ON))
        comply(session, directive, [Subject(engine=shop.engine)], "looked", shop.by(RAN_ON))
        assert valve.piece is not None
        allowed = NewConcession(
            *("C 12", "Board", ConcessionOver.LIFE_LIMIT, "more", letter, valve.piece, shop.engine),
            until_on=date(2027, 1, 1),
        )
        grant_concession(session, allowed, shop.by(RAN_ON))
        limit = NewLifeLimit(LifeMeasure.STARTS, 500, shop.valve, source="Manual")
        add_life_limit(session, limit, shop.by(RAN_ON))
        reset_life(session, LifeResetOrder("W 1", valve.piece), shop.by(RAN_ON))
        embody(session, shop.engine, mod, shop.by(RAN_ON))
        presume(session, shop.engine_two, shop.by(LONG_AGO))
        stripped(session, shop, springs, reading=READ)
        robbery = Robbery(
            *(shop.engine, (valve,), shop.bench, shop.inspector, shop.engine_two, "none in stock", READ),
            control=LifeControl.TAG,
            use=RunningUse.FLIGHT,
            sure=True,
        )
        rob(session, robbery, shop.by())
    stock(shop)
    pull = issued(shop)
    with shop.store.writing() as session:
        fit_pull(session, pull, READ, shop.by(), use=RunningUse.FLIGHT, sure=True)
    assert sound(shop)
    assert inside.piece is not None
    return shop


def other_values(column: Any, value: Any) -> list[Any]:
    """Values of its kind that are not the one that a column holds."""
    if isinstance(column.type, Boolean):
        return [not value]
    if isinstance(column.type, Integer):
        return [7] if value is None else [value + 1, 0 if value else 7, "much"]
    if isinstance(column.type, Date):
        return [TODAY - timedelta(days=333), "2026-13-45"]
    assert isinstance(column.type, Text) or value is None or isinstance(value, str), column
    return ["x"] if value is None else [f"{value}x"]


def alterations(connection: Connection, table: Table) -> Iterator[tuple[str, dict[str, Any]]]:
    """Statements that change one column of one row, or take a whole row away."""
    rows = connection.execute(table.select()).mappings().all()
    assert rows, table.name
    # The row that has most to say.
    row = max(rows, key=lambda each: sum(value not in (None, 0, "") for value in each.values()))
    where = " AND ".join(f'"{key.name}" = :{key.name}_is' for key in table.primary_key)
    is_row = {f"{key.name}_is": row[key.name] for key in table.primary_key}
    yield f'DELETE FROM "{table.name}" WHERE {where}', is_row
    for column in table.columns:
        values = other_values(column, row[column.name])
        if column.nullable and row[column.name] is not None:
            values.append(None)
        for value in values:
            yield f'UPDATE "{table.name}" SET "{column.name}" = :new WHERE {where}', {**is_row, "new": value}


def differences(connection: Connection) -> list[Difference]:
    """What the check finds but for the guards, which are off while the store is tampered with."""
    found = checking._differences(connection, 1, checking._say_nothing)
    return [each for each in found if "guard" not in each.what]


@pytest.mark.parametrize("table", TABLES)
def test_whatever_is_changed_by_hand_is_named(lived: Shop, table: str) -> None:
    with lived.store.engine.connect() as connection:
        tried = list(alterations(connection, Base.metadata.tables[table]))
        connection.rollback()
    changed = 0
    for statement, values in tried:
        with behind_its_back(lived.store) as connection:
            try:
                changed += connection.execute(text(statement), values).rowcount
            except DBAPIError:
                # The database itself has none of it.
                continue
            assert differences(connection), (statement, values)
    assert changed > len(tried) // 2
    assert sound(lived)
