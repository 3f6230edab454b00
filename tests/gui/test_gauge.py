"""A life as a gauge: how much is used, how much may be, where the limit is; by mark and word as by colour."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gui.shown import Gauge
from gui.signs import sign
from gui.widgets.gauge import GaugeView
from gui.widgets.gauge_shape import left_share, shape_of
from tests.gui.desk import Desk

HALF = Gauge(300_00, 300_00, 600_00, "300.00 h of 600.00 h since new", "within limits", soon=575_00)
RANGE = Gauge(300_00, 450_00, 600_00, "between 300.00 h and 450.00 h of 600.00 h", "within limits")
AT_LEAST = Gauge(300_00, None, 600_00, "at least 300.00 h of 600.00 h", "unknown")
OVER = Gauge(800_00, 800_00, 600_00, "800.00 h of 600.00 h since new", "expired")

figures = st.integers(0, 10**9)
gauges = st.builds(
    Gauge,
    used_low=figures,
    used_high=figures | st.none(),
    limit=figures,
    figure=st.just("so much"),
    sign=st.just("unknown"),
    soon=figures | st.none(),
)


def test_half_used_is_half_filled_with_the_limit_at_the_end() -> None:
    shape = shape_of(HALF)
    assert (shape.used, shape.doubtful, shape.open, shape.limit) == (0.5, 0.5, False, 1.0)
    assert shape.soon == pytest.approx(575 / 600)


def test_what_may_have_been_used_is_apart_from_what_certainly_was() -> None:
    shape = shape_of(RANGE)
    assert (shape.used, shape.doubtful) == (0.5, 0.75)
    assert left_share(RANGE) == 0.25, "what is left is told by the worst end"


def test_with_no_upper_end_known_nothing_is_surely_left() -> None:
    assert shape_of(AT_LEAST).open
    assert left_share(AT_LEAST) == 0


def test_over_its_limit_the_limit_stands_before_the_end() -> None:
    shape = shape_of(OVER)
    assert (shape.used, shape.limit) == (1.0, 0.75)
    assert left_share(OVER) == 0


@given(gauges)
def test_whatever_the_figures_all_of_it_lies_on_the_gauge(gauge: Gauge) -> None:
    shape = shape_of(gauge)
    assert 0 <= shape.used <= shape.doubtful <= 1
    assert 0 <= shape.limit <= 1
    assert shape.soon is None or 0 < shape.soon < shape.limit
    assert 0 <= left_share(gauge) <= 1


@pytest.mark.parametrize("gauge", [HALF, RANGE, AT_LEAST, OVER], ids=lambda gauge: gauge.figure)
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_the_verdict_stands_before_the_figure_and_all_is_within(gauge: Gauge, dark: bool) -> None:
    desk = Desk(dark=dark)
    view = GaugeView(desk.root, desk.theme)
    view.pack(fill="x")
    view.show(gauge)
    desk.root.update()
    assert view.said() == f"{sign(gauge.sign).text}: {gauge.figure}"
    left, top, right, bottom = view.bbox("all")
    assert left >= 0 and top >= 0 and right <= view.winfo_width() and bottom <= view.winfo_height()
    desk.close()
