"""Every state is told by mark, word and colour, and can be read in both themes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gui.signs import DARK, LIGHT, SIGNS, TEXT_CONTRAST_MIN, Palette, contrast, luminance, mixed, sign
from invdb.terms import Condition, PullState

BOTH = pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
colours = st.integers(0, 0xFFFFFF).map(lambda number: f"#{number:06x}")


@pytest.mark.parametrize(
    ("word", "mark"),
    [
        ("serviceable", "✓"),
        ("uninspected", "?"),
        ("unserviceable", "↻"),
        ("unsalvageable", "✕"),
        ("due soon", "◷"),
        ("expired", "!"),
        ("on hold", "⊘"),
    ],
)
def test_the_marks_of_the_trade(word: str, mark: str) -> None:
    assert sign(word).mark == mark
    assert sign(word).text == f"{mark} {word}"


def test_every_condition_and_every_state_of_a_pull_has_a_sign() -> None:
    for state in (*Condition, *PullState):
        assert sign(state).word == state.value


def test_no_two_conditions_share_a_mark() -> None:
    assert len({sign(condition).mark for condition in Condition}) == len(Condition)


def test_the_states_of_a_kit_can_be_told_apart_without_colour() -> None:
    states = ("complete", "with alternate", "short", "blocked", "not worked out")
    assert len({sign(state).mark for state in states}) == len(states)


@BOTH
@pytest.mark.parametrize("word", sorted(SIGNS))
def test_a_sign_can_be_read_wherever_it_stands(palette: Palette, word: str) -> None:
    hue = sign(word).hue
    for ground in palette.grounds:
        assert contrast(palette.tone(hue), ground) >= TEXT_CONTRAST_MIN, (word, ground)
    assert contrast(palette.on_tint(hue), palette.tint(hue)) >= TEXT_CONTRAST_MIN
    assert contrast(palette.ink, palette.tint(hue)) >= TEXT_CONTRAST_MIN


@BOTH
def test_plain_text_can_be_read_on_every_ground(palette: Palette) -> None:
    for ground in palette.grounds:
        assert contrast(palette.ink, ground) >= TEXT_CONTRAST_MIN
        assert contrast(palette.dim, ground) >= TEXT_CONTRAST_MIN


def test_contrast_by_the_published_examples() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)
    assert luminance("#ff0000") == pytest.approx(0.2126)


@given(colours, colours)
def test_contrast_is_the_same_both_ways_and_between_1_and_21(one: str, other: str) -> None:
    assert contrast(one, other) == contrast(other, one)
    assert 1 <= contrast(one, other) <= 21


@given(colours, colours)
def test_a_mixture_begins_with_one_colour_and_ends_with_the_other(one: str, other: str) -> None:
    assert mixed(one, other, 1) == one
    assert mixed(one, other, 0) == other
