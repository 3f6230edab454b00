"""Instruments and their calibration, as it was on a day."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from invdb.acts.instrument import (
    NewInstrument,
    add_instrument,
    calibrate,
    instrument_numbered,
    instruments,
    instruments_then,
    withdraw_instrument,
)
from invdb.acts.papers import NewPaper
from invdb.acts.reverse import reverse
from invdb.terms import FieldRefused, PaperKind, Refused
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)
GAUGE = NewInstrument("M-03", "bore gauge", TODAY - 100 * DAY, TODAY - 10 * DAY)


def test_the_last_day_of_a_calibration_still_counts(shop: Shop) -> None:
    with shop.store.writing() as session:
        gauge = add_instrument(session, GAUGE, shop.by(TODAY - 100 * DAY))
        (last,) = instruments(session, TODAY - 10 * DAY)
        (after,) = instruments(session, TODAY - 9 * DAY)
        before = instruments_then(session, [gauge], TODAY - 101 * DAY)[gauge]
    assert (last.words, last.doubt) == ("M-03 bore gauge", "")
    assert after.doubt == f"was out of calibration, which ended on {(TODAY - 10 * DAY).isoformat()}"
    assert (before.calibrated_on, before.doubt.startswith("has no calibration of")) == (None, True)


def test_a_calibration_counts_from_its_own_day_whenever_it_was_recorded(shop: Shop) -> None:
    with shop.store.writing() as session:
        gauge = add_instrument(session, GAUGE, shop.by())
        entry = calibrate(session, gauge, TODAY - 5 * DAY, TODAY + 300 * DAY, shop.by())
        then = instruments_then(session, [gauge], TODAY - 5 * DAY)[gauge]
        assert (then.calibrated_on, then.doubt) == (TODAY - 5 * DAY, "")
        assert instruments_then(session, [gauge], TODAY - 6 * DAY)[gauge].doubt
        reverse(session, entry, "of another gauge", shop.by())
        assert instruments_then(session, [gauge], TODAY - 5 * DAY)[gauge].doubt


def test_what_is_wrong_with_an_instrument_is_refused(shop: Shop) -> None:
    with shop.store.writing() as session:
        gauge = add_instrument(session, GAUGE, shop.by())
        for changed, field in (
            ({"number": "m-03"}, "number"),
            ({"number": " "}, "number"),
            ({"name": ""}, "name"),
            ({"calibrated_on": None}, "calibrated_on"),
            ({"calibrated_on": TODAY + DAY}, "calibrated_on"),
            ({"calibration_due_on": None}, "calibration_due_on"),
            ({"calibration_due_on": TODAY - 101 * DAY}, "calibration_due_on"),
            ({"certificate": NewPaper(PaperKind.CALIBRATION_CERTIFICATE, " ")}, "papers"),
            (
                {
                    "calibrated_on": None,
                    "calibration_due_on": None,
                    "certificate": NewPaper(PaperKind.CALIBRATION_CERTIFICATE, "C 1"),
                },
                "calibrated_on",
            ),
        ):
            wrong = replace(replace(GAUGE, number="M-04"), **changed)
            with pytest.raises(FieldRefused) as caught:
                add_instrument(session, wrong, shop.by())
            assert caught.value.field == field
        with pytest.raises(FieldRefused) as caught:
            calibrate(session, gauge, TODAY - 100 * DAY, TODAY, shop.by())
        assert caught.value.field == "calibrated_on"
        with pytest.raises(Refused):
            calibrate(session, 99, TODAY, TODAY, shop.by())


def test_an_instrument_that_is_withdrawn_is_offered_no_more(shop: Shop) -> None:
    with shop.store.writing() as session:
        gauge = add_instrument(session, GAUGE, shop.by(TODAY - DAY))
        scale = add_instrument(session, NewInstrument("W-01", "scales"), shop.by(TODAY - DAY))
        assert instrument_numbered(session, " m-03 ") == gauge
        with pytest.raises(FieldRefused):
            withdraw_instrument(session, gauge, " ", shop.by())
        withdraw_instrument(session, gauge, "dropped", shop.by())
        assert [each.id for each in instruments(session)] == [scale]
        assert [each.id for each in instruments(session, TODAY - DAY)] == [gauge, scale]
        with pytest.raises(FieldRefused, match="The instruments are: W-01"):
            instrument_numbered(session, "M-99")
        assert instrument_numbered(session, "M-03") == gauge, "it measured before that day"
        with pytest.raises(FieldRefused, match="taken by one that was withdrawn on"):
            add_instrument(session, GAUGE, shop.by())
        for act in (
            lambda: withdraw_instrument(session, gauge, "again", shop.by()),
            lambda: calibrate(session, gauge, TODAY, TODAY, shop.by()),
        ):
            with pytest.raises(Refused, match="was withdrawn"):
                act()
