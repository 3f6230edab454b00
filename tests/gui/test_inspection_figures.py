"""A figure that no line asks for says its own unit, however it is written."""

from __future__ import annotations

import pytest

from gui.views.inspection_form import read_figure
from invdb.terms import FieldRefused


@pytest.mark.parametrize(
    ("typed", "unit"),
    [("98.02 mm", "mm"), ("3 15/16 in", "in"), ("5½ in", "in"), ("½in", "in")],
)
def test_the_unit_stands_behind_the_figure(typed: str, unit: str) -> None:
    assert read_figure(typed) == unit


@pytest.mark.parametrize("typed", ["98.02", "5½", "", "98.02 furlongs"])
def test_a_figure_without_a_unit_of_the_trade_is_refused(typed: str) -> None:
    with pytest.raises(FieldRefused):
        read_figure(typed)
