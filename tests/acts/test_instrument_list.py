"""All instruments as they stand on a day, with their calibrations and certificates."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from invdb.acts.due_soon import set_due_soon
from invdb.acts.instrument import NewInstrument, add_instrument, calibrate, withdraw_instrument
from invdb.acts.instrument_list import instrument_list
from invdb.acts.papers import NewPaper
from invdb.acts.part_papers import kept_paper
from invdb.acts.reverse import reverse
from invdb.rules.calibration import CalibrationState
from invdb.rules.due import DueSoon
from invdb.terms import PaperKind
from tests.bench_shop import furnished
from tests.shop import TODAY, Shop

DAY = timedelta(days=1)
FIRST = NewPaper(PaperKind.CALIBRATION_CERTIFICATE, "C 100")
GAUGE = NewInstrument("M-03", "bore gauge", TODAY - 400 * DAY, TODAY - 35 * DAY, certificate=FIRST)


def test_each_says_how_it_stands_and_by_which_certificate(shop: Shop) -> None:
    with shop.store.writing() as session:
        gauge = add_instrument(session, GAUGE, shop.by(TODAY - 400 * DAY))
        add_instrument(session, NewInstrument("A-01", "straight edge"), shop.by(TODAY - 400 * DAY))
        edge, found = instrument_list(session)
        assert (edge.facts.number, edge.state) == ("A-01", CalibrationState.NEVER)
        assert (edge.calibrations, edge.certificate, edge.measured) == ((), None, ())
        assert found.state is CalibrationState.OUT
        scan = replace(FIRST, reference="C 117", content=b"%PDF", file_name="c117.pdf")
        calibrate(session, gauge, TODAY - 3 * DAY, TODAY + 365 * DAY, shop.by(), scan)
        found = instrument_list(session)[1]
        assert found.state is CalibrationState.IN_DATE
        assert [
            (each.calibrated_on, each.certificate.reference if each.certificate else "")
            for each in found.calibrations
        ] == [(TODAY - 3 * DAY, "C 117"), (TODAY - 400 * DAY, "C 100")]
        assert found.certificate is not None and found.certificate.kept
        assert kept_paper(session, found.certificate.document).content == b"%PDF"
        assert found.calibrations[0].set_by.who == "Ada Farrow"
        before = instrument_list(session, TODAY - 4 * DAY)[1]
        assert (before.state, len(before.calibrations)) == (CalibrationState.OUT, 1)


def test_a_calibration_that_is_reversed_takes_its_certificate_along(shop: Shop) -> None:
    with shop.store.writing() as session:
        gauge = add_instrument(session, GAUGE, shop.by(TODAY - 400 * DAY))
        again = replace(FIRST, reference="C 117")
        entry = calibrate(session, gauge, TODAY, TODAY + 365 * DAY, shop.by(), again)
        reverse(session, entry, "of another gauge", shop.by())
        (found,) = instrument_list(session)
    assert found.certificate is not None and found.certificate.reference == "C 100"
    assert len(found.calibrations) == 1


def test_how_soon_is_soon_is_the_choice_of_the_shop(shop: Shop) -> None:
    with shop.store.writing() as session:
        add_instrument(session, replace(GAUGE, calibration_due_on=TODAY + 40 * DAY), shop.by())
        assert instrument_list(session)[0].state is CalibrationState.DUE_SOON
        set_due_soon(session, DueSoon(months=1), shop.by())
        assert instrument_list(session)[0].state is CalibrationState.IN_DATE


def test_what_is_withdrawn_stays_to_be_seen_at_the_end_with_the_reason(shop: Shop) -> None:
    with shop.store.writing() as session:
        gauge = add_instrument(session, GAUGE, shop.by(TODAY - 400 * DAY))
        add_instrument(session, NewInstrument("W-01", "scales"), shop.by(TODAY - 400 * DAY))
        withdraw_instrument(session, gauge, "dropped", shop.by())
        scales, gone = instrument_list(session)
        assert (scales.facts.number, scales.withdrawn) == ("W-01", None)
        assert (gone.facts.number, gone.state) == ("M-03", CalibrationState.WITHDRAWN)
        assert gone.withdrawn is not None and gone.withdrawn.note == "dropped"
        before = instrument_list(session, TODAY - DAY)[0]
        assert (before.facts.number, before.state, before.withdrawn) == ("M-03", CalibrationState.OUT, None)


def test_an_instrument_tells_what_was_measured_with_it_the_most_used_first(shop: Shop) -> None:
    bench = furnished(shop)
    figures = tuple(replace(each, instrument=bench.gauge) for each in bench.order().readings)
    bench.inspect(readings=figures)
    with shop.store.reading() as session:
        (gauge,) = instrument_list(session)
    assert gauge.measured == ("bore",)
