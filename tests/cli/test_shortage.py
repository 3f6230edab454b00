"""Which parts will be short, from the command line."""

from __future__ import annotations

import json
from datetime import date

from invdb.acts.overhaul_plan import plan_overhaul
from tests.cli.conftest import Run, run, workshop
from tests.cli.test_engines import refused, said
from tests.engine_shop import came
from tests.shop import Shop

__all__ = ["run", "workshop"]


def planned(shop: Shop) -> None:
    """An overhaul of Linnet One in four months, and three gaskets on the shelf."""
    with shop.store.writing() as session:
        day = shop.clock.instant.date()
        month = date(day.year + (day.month + 4) // 13, (day.month + 3) % 12 + 1, 1)
        plan_overhaul(session, shop.engine, month, shop.by())
        came(session, shop, shop.gasket, quantity=3, shelf_expiry_on=date(2099, 1, 1))


def test_the_parts_are_listed_worst_first_with_what_stands_behind_them(run: Run, workshop: Shop) -> None:
    assert "Nothing is to be watched." in said(run, "short")
    planned(workshop)
    out = said(run, "short")
    head = out.splitlines()[2]
    assert head.startswith("    100 % *")
    assert head.endswith("Linnet One, Linnet Two")
    assert "buy 4 off: no quote stands" in out
    assert "the belief alone speaks" in out
    assert "not a release to service" in out


def test_json_has_a_row_for_each_part(run: Run, workshop: Shop) -> None:
    planned(workshop)
    rows = json.loads(said(run, "--json", "short", "--months", "40"))
    gasket = rows[0]
    assert (gasket["part"], gasket["p_short"], gasket["expected_short"]) == ("GK0001-4", 1.0, 4.0)
    assert gasket["engines"] == ["Linnet One", "Linnet Two"]
    assert gasket["first_short_month"].endswith("-01")
    assert len(gasket["chances"]) == 41
    assert [row["p_short"] for row in rows] == sorted((row["p_short"] for row in rows), reverse=True)


def test_a_horizon_that_nobody_can_mean_is_refused(run: Run) -> None:
    assert "1000 months" in refused(run, "short", "--months", "1000")
