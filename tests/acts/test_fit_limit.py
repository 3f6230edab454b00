"""The fits of an engine type, its rules of size and finish, and the masses that agree."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from functools import partial

import pytest
from sqlalchemy.orm import Session

from invdb.acts.balance import (
    NewBalanceSet,
    add_balance_set,
    balance_sets_of,
    withdraw_balance_set,
)
from invdb.acts.by import By
from invdb.acts.fit_limit import NewFitLimit, add_fit_limit, fit_limits_of, withdraw_fit_limit
from invdb.acts.kit_fits import read_balances, read_suiting
from invdb.acts.match_rule import NewMatchRule, add_match_rule, match_rules_of, withdraw_match_rule
from invdb.acts.spec import NewSpec, add_spec
from invdb.acts.spec_line import NewSpecLine
from invdb.rules.fits import FitTerms
from invdb.terms import Asked, BalanceKind, FieldRefused, FitKind, MatchOn, Refused, SpecKind
from tests.shop import TODAY, Shop

YESTERDAY = TODAY - timedelta(days=1)
SOURCE = "Pellworth overhaul manual, chapter 6"


@pytest.fixture
def fit(shop: Shop) -> NewFitLimit:
    return NewFitLimit(
        engine_type=shop.linnet,
        group="cylinder",
        name="springs on valve",
        kind=FitKind.AS_FOUND,
        outer_station="exhaust springs",
        outer_name="inner diameter",
        inner_station="exhaust valve",
        inner_name="stem",
        unit="mm",
        low="0.05",
        high="0.08",
        worn_high="0.15",
        target="0.06",
        source=SOURCE,
    )


@pytest.fixture
def rule(shop: Shop) -> NewMatchRule:
    return NewMatchRule(shop.linnet, "cylinder", "exhaust valve", "head joint", MatchOn.SIZE, SOURCE)


@pytest.fixture
def masses(shop: Shop) -> NewBalanceSet:
    return NewBalanceSet(
        *(shop.linnet, "cylinder", "valve gear", BalanceKind.SET, "g", "5"),
        masses=(("exhaust valve", "mass"), ("exhaust springs", "mass")),
        source=SOURCE,
    )


def refused(shop: Shop, act: Callable[[Session, By], object]) -> FieldRefused:
    with shop.store.writing() as session, pytest.raises(FieldRefused) as caught:
        act(session, shop.by())
    return caught.value


def added(fit: NewFitLimit, session: Session, by: By) -> object:
    return add_fit_limit(session, fit, by)


def test_a_fit_is_kept_as_published(shop: Shop, fit: NewFitLimit) -> None:
    typed = replace(fit, group="Cylinder", outer_station="Exhaust Springs", unit="MM", low="0.05 mm")
    with shop.store.writing() as session:
        made = add_fit_limit(session, typed, shop.by())
        (kept,) = fit_limits_of(session, shop.linnet, "cylinder")
    assert (kept.id, kept.group, kept.source, kept.from_on) == (made, "cylinder", SOURCE, TODAY)
    assert kept.terms == FitTerms(
        *("springs on valve", FitKind.AS_FOUND, "mm", "0.05", "0.08", "0.15", "0.06", "")
    )
    assert (kept.outer.station, kept.outer.name) == ("exhaust springs", "inner diameter")
    assert (kept.inner.station, kept.inner.name) == ("exhaust valve", "stem")
    with shop.store.reading() as session:
        assert [line.id for line in read_suiting(session, shop.linnet, "cylinder", TODAY).fits] == [made]


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"low": "0.08", "high": "0.05"}, "high"),
        ({"worn_high": "0.07"}, "worn_high"),
        ({"target": "0.09"}, "target"),
        ({"low": "0.05.1"}, "low"),
        ({"high": "1/0"}, "high"),
        ({"high": ""}, "high"),
        ({"high": "3 thou"}, "high"),
        ({"unit": "bar"}, "unit"),
        ({"unit": "yard"}, "unit"),
        ({"name": " "}, "name"),
        ({"outer_name": ""}, "outer_name"),
        ({"inner_name": ""}, "inner_name"),
        ({"gap": True}, "inner_name"),
        ({"inner_station": "exhaust springs", "inner_name": "inner diameter"}, "inner_name"),
        ({"outer_station": "carburettor"}, "outer_station"),
        ({"inner_station": ""}, "inner_station"),
        ({"group": "bearing"}, "group"),
        ({"engine_type": 99}, "engine_type"),
        ({"outer_part": 99}, "outer_part"),
        ({"source": " "}, "source"),
        ({"document": 99}, "document"),
    ],
)
def test_a_fit_that_contradicts_itself_is_refused(
    shop: Shop, fit: NewFitLimit, changed: dict[str, object], field: str
) -> None:
    wrong = replace(fit, **changed)  # type: ignore[arg-type]
    said = refused(shop, lambda session, by: add_fit_limit(session, wrong, by))
    assert (said.field, isinstance(said, Asked)) == (field, False)


def test_a_comma_in_a_fit_or_a_spread_is_a_decimal_point_when_that_is_said(
    shop: Shop, fit: NewFitLimit, masses: NewBalanceSet
) -> None:
    comma, spread = replace(fit, low="0,05"), replace(masses, spread="5,5")
    assert isinstance(refused(shop, lambda session, by: add_fit_limit(session, comma, by)), Asked)
    assert isinstance(refused(shop, lambda session, by: add_balance_set(session, spread, by)), Asked)
    with shop.store.writing() as session:
        add_fit_limit(session, comma, shop.by(), sure=True)
        add_balance_set(session, spread, shop.by(), sure=True)
        (kept,), (balance,) = fit_limits_of(session, shop.linnet), balance_sets_of(session, shop.linnet)
    assert (kept.terms.low, balance.spread) == ("0.05", "5.5")


def test_a_fit_names_its_dimensions_as_the_parts_there_do(
    shop: Shop, fit: NewFitLimit, masses: NewBalanceSet
) -> None:
    stem = NewSpecLine(SpecKind.DIMENSION, "stem", unit="mm", points="top, foot")
    with shop.store.writing() as session:
        weight = NewSpecLine(SpecKind.MASS, "mass", unit="g")
        add_spec(session, NewSpec(shop.valve, "A", YESTERDAY, SOURCE, (stem, weight)), shop.by())
    for wrong, said in (
        (
            replace(fit, inner_name="shank"),
            "No part at the exhaust valve has a dimension called 'shank'; they have: stem",
        ),
        (replace(fit, inner_name="mass"), "has a dimension called 'mass'"),
        (replace(fit, inner_point="middle"), "is not measured at 'middle'; it has: top, foot"),
    ):
        asked = refused(shop, partial(added, wrong))
        assert (asked.field, isinstance(asked, Asked), said in asked.reason) == ("inner_name", True, True)
    heavy = replace(masses, masses=(("exhaust valve", "weight"),))
    assert isinstance(refused(shop, lambda session, by: add_balance_set(session, heavy, by)), Asked)
    with shop.store.writing() as session:
        named = replace(fit, inner_name=" STEM", inner_point="Foot")
        add_fit_limit(session, named, shop.by())
        add_fit_limit(session, replace(fit, name="other", inner_name="shank"), shop.by(), sure=True)
        add_balance_set(session, replace(masses, masses=(("exhaust valve", "Mass"),)), shop.by())
        first, second = fit_limits_of(session, shop.linnet)
        (balance,) = balance_sets_of(session, shop.linnet)
    assert (first.inner.name, first.inner.point, second.inner.name) == ("stem", "foot", "shank")
    assert balance.masses == (("exhaust valve", "mass"),)


def test_a_figure_below_zero_is_asked_about_and_of_a_gap_refused(shop: Shop, fit: NewFitLimit) -> None:
    pressed = replace(fit, low="-0.02", high="-0.01", worn_high="0", target=None)
    said = refused(shop, lambda session, by: add_fit_limit(session, pressed, by))
    assert (said.field, isinstance(said, Asked)) == ("low", True)
    gap = replace(pressed, gap=True, inner_name="")
    said = refused(shop, lambda session, by: add_fit_limit(session, gap, by, sure=True))
    assert (said.field, isinstance(said, Asked)) == ("low", False)
    with shop.store.writing() as session:
        add_fit_limit(session, pressed, shop.by(), sure=True)
        (kept,) = fit_limits_of(session, shop.linnet)
    assert kept.terms.low == "-0.02"


def test_a_later_revision_of_a_fit_takes_its_place_in_the_order(shop: Shop, fit: NewFitLimit) -> None:
    with shop.store.writing() as session:
        first = add_fit_limit(session, replace(fit, from_on=YESTERDAY), shop.by(YESTERDAY))
        other = add_fit_limit(session, replace(fit, name="joint on valve", from_on=YESTERDAY), shop.by())
        second = add_fit_limit(session, replace(fit, low="0.04", revision="B"), shop.by())
        assert [each.id for each in fit_limits_of(session, shop.linnet)] == [second, first, other]
        assert [each.id for each in fit_limits_of(session, shop.linnet, on=YESTERDAY)] == [first, other]
        with pytest.raises(FieldRefused, match="already"):
            add_fit_limit(session, fit, shop.by())
        withdraw_fit_limit(session, second, "printed in error", shop.by())
        assert [each.id for each in fit_limits_of(session, shop.linnet)] == [first, other]
        with pytest.raises(Refused, match="was withdrawn"):
            withdraw_fit_limit(session, second, "again", shop.by())
        with pytest.raises(FieldRefused):
            withdraw_fit_limit(session, first, "", shop.by())


def test_a_rule_of_size_or_finish_is_put_in_once(shop: Shop, rule: NewMatchRule) -> None:
    finish = replace(rule, what=MatchOn.FINISH, finish="plated", other_finish="plated")
    with shop.store.writing() as session:
        made = add_match_rule(session, rule, shop.by())
        other = add_match_rule(session, finish, shop.by())
        kept = match_rules_of(session, shop.linnet, "cylinder")
        assert [(each.id, each.what) for each in kept] == [(made, MatchOn.SIZE), (other, MatchOn.FINISH)]
        for again in (
            rule,
            replace(rule, station="head joint", other_station="Exhaust valve"),
            replace(finish, finish="Plated"),
        ):
            with pytest.raises(FieldRefused, match="stands already"):
                add_match_rule(session, again, shop.by())
        withdraw_match_rule(session, made, "superseded", shop.by())
        assert [each.id for each in match_rules_of(session, shop.linnet)] == [other]
        with pytest.raises(Refused, match="was withdrawn"):
            withdraw_match_rule(session, made, "again", shop.by())
        with pytest.raises(FieldRefused):
            withdraw_match_rule(session, other, " ", shop.by())


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"other_station": "exhaust valve"}, "other_station"),
        ({"station": "magneto"}, "station"),
        ({"finish": "plated"}, "finish"),
        ({"what": MatchOn.FINISH, "finish": "plated"}, "other_finish"),
        ({"what": MatchOn.FINISH, "other_finish": "plated"}, "finish"),
        ({"source": ""}, "source"),
    ],
)
def test_a_rule_that_contradicts_itself_is_refused(
    shop: Shop, rule: NewMatchRule, changed: dict[str, object], field: str
) -> None:
    wrong = replace(rule, **changed)  # type: ignore[arg-type]
    assert refused(shop, lambda session, by: add_match_rule(session, wrong, by)).field == field


def test_a_set_of_masses_is_kept_with_the_masses_that_count(shop: Shop, masses: NewBalanceSet) -> None:
    with shop.store.writing() as session:
        made = add_balance_set(session, replace(masses, positions="1, 3"), shop.by())
        (kept,) = balance_sets_of(session, shop.linnet)
        assert (kept.id, kept.name, kept.spread, kept.positions) == (made, "valve gear", "5", "1, 3")
        assert kept.masses == masses.masses
        (read,) = read_balances(session, shop.linnet, "cylinder", TODAY)
        assert (read.spread, read.holds_for("3"), read.holds_for("2")) == (5000, True, False)
        with pytest.raises(FieldRefused, match="stands already"):
            add_balance_set(session, masses, shop.by())
        withdraw_balance_set(session, made, "superseded", shop.by())
        assert balance_sets_of(session, shop.linnet) == ()
        assert len(balance_sets_of(session, shop.linnet, "cylinder", TODAY)) == 0
        with pytest.raises(Refused, match="was withdrawn"):
            withdraw_balance_set(session, made, "again", shop.by())


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"unit": "mm"}, "unit"),
        ({"spread": "0"}, "spread"),
        ({"spread": "-5"}, "spread"),
        ({"spread": "5 oz"}, "spread"),
        ({"kind": BalanceKind.AGAINST}, "target"),
        ({"target": "x"}, "target"),
        ({"positions": "1, 8"}, "positions"),
        ({"positions": "1, 1"}, "positions"),
        ({"positions": "1"}, "positions"),
        ({"masses": (("exhaust valve", "mass"), ("Exhaust valve", "Mass "))}, "masses"),
        ({"masses": ()}, "masses"),
        ({"masses": (("magneto", "mass"),)}, "masses"),
        ({"masses": (("exhaust valve", ""),)}, "masses"),
        ({"masses": (("exhaust valve", "mass"),) * 2}, "masses"),
        ({"name": ""}, "name"),
        ({"source": ""}, "source"),
    ],
)
def test_a_set_of_masses_that_contradicts_itself_is_refused(
    shop: Shop, masses: NewBalanceSet, changed: dict[str, object], field: str
) -> None:
    wrong = replace(masses, **changed)  # type: ignore[arg-type]
    assert refused(shop, lambda session, by: add_balance_set(session, wrong, by)).field == field
