"""What stands against an engine: what forbids first, then doubts and warnings."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from invdb.rules.against import against
from invdb.rules.concessions import ConcessionVerdict
from invdb.rules.directives import DirectiveVerdict
from invdb.rules.history import HoldLine
from invdb.rules.life_limits import Limit
from invdb.rules.status import StatusSheet
from invdb.terms import LifeMeasure, LifeSince
from tests.paper.status import BARE, LINNET, by_hours, exactly


def said(sheet: StatusSheet, *, grave: bool) -> tuple[str, ...]:
    """The sentences of what forbids, or of what is doubtful."""
    return tuple(each.words for each in against(sheet) if each.grave is grave)


def test_all_that_stands_against_an_engine_is_said_what_forbids_first() -> None:
    assert [each.grave for each in against(LINNET)] == [True] * 5 + [False] * 3
    assert said(LINNET, grave=True) == (
        "On hold, batch B000017-X: A spring of its batch broke",
        "Master rod T000301-M, cylinder 1, master rod: expired "
        "(200.00 h since overhaul, flight only; between none and 10.00 h left)",
        "Directive HD 2024-01 is overdue: was due by 2024-05-01",
        "Propeller strike of 2021-08-14 is not cleared",
        "1 station is incomplete, at cylinder 2",
    )
    assert said(LINNET, grave=False) == (
        "Magneto coupling T000388-P, rear cover, magneto coupling: unknown "
        "(1200 starts since new; at most 900 starts left, how much is not known)",
        "2 presumed things have not been identified",
        "3 gaps in the history are known",
    )
    assert against(BARE) == ()


def test_many_holds_for_one_reason_are_said_once() -> None:
    holds = tuple(
        HoldLine("Springs shear", date(2024, 5, 20), "Tom Arlow", subject)
        for subject in ("", "batch B000017-X")
    )
    assert said(replace(BARE, holds=holds), grave=True) == ("On hold, 2 things: Springs shear",)
    assert said(replace(BARE, holds=holds[:1]), grave=True) == ("On hold, the engine: Springs shear",)


def test_an_ended_concession_and_a_used_up_overhaul_life_forbid() -> None:
    concession = replace(LINNET.concessions[0], verdict=ConcessionVerdict.ENDED)
    used_up = by_hours(exactly(500_00), Limit(LifeMeasure.HOURS, 500_00, since=LifeSince.OVERHAUL))
    overhaul = replace(LINNET.overhaul, limits=(used_up,))
    assert said(replace(BARE, concessions=(concession,), overhaul=overhaul), grave=True) == (
        "Overhaul life: expired (500.00 h since overhaul; used up)",
        "Concession C-2024/7 for Cylinder barrel T000077-5 has ended: "
        "after 50.00 h from 2024-01-15, or on 2024-12-31",
    )


def test_what_is_due_soon_or_not_known_is_a_warning() -> None:
    one = replace(LINNET.directives[0], pieces=LINNET.directives[0].pieces[:1])
    sheet = replace(
        BARE,
        directives=(
            replace(LINNET.directives[0], verdict=DirectiveVerdict.UNKNOWN, next_due="due within 50.00 h"),
            replace(one, verdict=DirectiveVerdict.DUE_SOON),
            replace(one, verdict=DirectiveVerdict.DUE_LATER),
            replace(one, verdict=DirectiveVerdict.COMPLIED),
        ),
        concessions=(replace(LINNET.concessions[0], verdict=ConcessionVerdict.UNKNOWN, left="used?"),),
    )
    assert said(sheet, grave=True) == ()
    assert said(sheet, grave=False) == (
        "When directive HD 2019-04 on 2 pieces (Exhaust valve) is due is not known: due within 50.00 h",
        "Directive HD 2019-04 on Exhaust valve T000140-2 (cylinder 5) is due soon: "
        "48.20 h left, until 2025-09-04",
        "Whether concession C-2024/7 for Cylinder barrel T000077-5 still holds is not known: used?",
    )
