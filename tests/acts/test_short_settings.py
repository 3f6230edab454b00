"""The thresholds and the horizon of the shortage board are the shop's to set."""

from __future__ import annotations

from dataclasses import replace

import pytest

from invdb.acts.short_facts import ShortSettings
from invdb.acts.short_settings import set_short_settings, short_settings
from invdb.terms import FieldRefused, Refused
from tests.engine_shop import sound
from tests.shop import Shop


def test_the_shop_sets_from_when_a_part_is_watched_and_short(shop: Shop) -> None:
    with shop.store.writing() as session:
        assert short_settings(session) == ShortSettings()
        set_short_settings(session, ShortSettings(10, 30, 36), shop.by())
        set_short_settings(session, ShortSettings(10, 25, 36), shop.by())
        assert short_settings(session) == ShortSettings(10, 25, 36)
        with pytest.raises(Refused, match="that already"):
            set_short_settings(session, ShortSettings(10, 25, 36), shop.by())
    assert sound(shop)


@pytest.mark.parametrize(
    ("field", "figure"),
    [("watch_percent", 0), ("short_percent", 100), ("horizon_months", 0), ("lead_days", -1)],
)
def test_what_makes_no_sense_is_refused(shop: Shop, field: str, figure: int) -> None:
    with shop.store.writing() as session, pytest.raises(FieldRefused) as refused:
        set_short_settings(session, replace(ShortSettings(), **{field: figure}), shop.by())
    assert refused.value.field == field


def test_a_part_is_not_short_before_it_is_watched(shop: Shop) -> None:
    with shop.store.writing() as session, pytest.raises(FieldRefused, match="before it is watched"):
        set_short_settings(session, ShortSettings(30, 20), shop.by())
