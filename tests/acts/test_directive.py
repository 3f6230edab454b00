"""What an authority orders: to what it applies, what was done about it, and when it is due again."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from invdb.acts.by import By
from invdb.acts.directive import (
    NewDirective,
    add_directive,
    comply,
    reissue_directive,
    withdraw_directive,
)
from invdb.acts.directive_lines import DirectiveFacts, directive_due_lines, directives_of
from invdb.acts.goods_in import GoodsIn
from invdb.acts.hold import Subject
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, add_paper
from invdb.records.posting import post
from invdb.records.stock import Place
from invdb.rules.directives import DirectiveVerdict
from invdb.rules.life import LifeVerdict
from invdb.rules.running import Span
from invdb.terms import EntryKind, FieldRefused, Origin, PaperKind, Refused
from tests.doubts_shop import CAME, FITTED, begin_log, inside, run, shift, springs, station, strip_some, valve
from tests.shop import TODAY, Shop

EFFECTIVE = TODAY - timedelta(days=40)
DONE = TODAY - timedelta(days=20)


def of_engines(shop: Shop) -> NewDirective:
    """Crack test of the crankcase of Linnets within ten hours, and every fifty hours or six months after."""
    return NewDirective(
        "D 7",
        "crankcase",
        "crack test by dye",
        EFFECTIVE,
        issue="1",
        authority="Air Board",
        engine_type=shop.linnet,
        within_hours=10_00,
        every_hours=50_00,
        every_months=6,
    )


def of_valves(shop: Shop) -> NewDirective:
    """Every exhaust valve measured once, within ten hours or three months."""
    return NewDirective(
        "D 8", "stems", "measure", EFFECTIVE, part=shop.valve, within_hours=10_00, within_months=3
    )


def lines(session: Session, engine: int, on: date | None = None) -> list[tuple[str, str, str]]:
    """The subject, the verdict and what is left, or why not, of each directive of an engine."""
    return [
        (line.subject, str(line.standing.verdict), line.left)
        if line.standing is not None
        else (line.subject, "not applicable", line.not_applicable)
        for line in directives_of(session, engine, on)
    ]


def only(session: Session, engine: int, on: date | None = None) -> DirectiveFacts:
    (line,) = directives_of(session, engine, on)
    return line


def test_an_engines_directive_counts_the_engines_hours_and_recurs(shop: Shop) -> None:
    with shop.store.writing() as session:
        begin_log(session, shop, CAME)
        run(session, shop, 90_00, EFFECTIVE - timedelta(1))
        directive = add_directive(session, of_engines(shop), shop.by(EFFECTIVE))
        run(session, shop, 4_00, EFFECTIVE)
        assert lines(session, shop.engine) == [("Linnet One", "due soon", "6.00 h")]
        run(session, shop, 6_00, EFFECTIVE + timedelta(1))
        line = only(session, shop.engine)
        assert line.overdue
        assert line.words == "directive D 7 issue 1: crankcase"
        comply(session, directive, (Subject(engine=shop.engine),), "dye, no cracks", shop.by(DONE))
        # What is logged that day afterwards counts already.
        run(session, shop, 2_00, DONE)
        line = only(session, shop.engine)
        assert line.complied is not None and line.standing is not None
        assert (line.complied.at[0], line.complied.by, line.complied.method) == (
            DONE,
            "Ada Farrow",
            "dye, no cracks",
        )
        assert line.standing.hours_left == Span(48_00, 48_00)
        assert lines(session, shop.engine, DONE - timedelta(1)) == [("Linnet One", "overdue", "none")]
        assert directives_of(session, shop.engine, EFFECTIVE - timedelta(1)) == ()


def test_an_engine_with_no_log_is_not_known_to_be_within(shop: Shop) -> None:
    with shop.store.writing() as session:
        add_directive(session, of_engines(shop), shop.by(EFFECTIVE))
        assert lines(session, shop.engine) == [
            ("Linnet One", "not known", "at most 10.00 h and perhaps none")
        ]
        begin_log(session, shop, EFFECTIVE + timedelta(1))
        assert lines(session, shop.engine) == [
            ("Linnet One", "not known", "at most 10.00 h and perhaps none")
        ]
        run(session, shop, 10_00, EFFECTIVE + timedelta(2))
        assert [verdict for _, verdict, _ in lines(session, shop.engine)] == ["overdue"]


def test_it_says_of_every_engine_why_it_does_not_apply(shop: Shop) -> None:
    with shop.store.writing() as session:
        add_directive(session, replace(of_engines(shop), serial_to="L1010"), shop.by(EFFECTIVE))
        add_directive(session, of_valves(shop), shop.by(EFFECTIVE))
        said = lines(session, shop.engine_two)
        assert said[0] == ("Linnet Two", "not applicable", "only for engine serials up to L1010, not L1044")
        assert said[1][1] == "not applicable"
        assert said[1][2].startswith("none of VX") and said[1][2].endswith(" is inside")


def test_a_pieces_directive_counts_what_the_piece_ran_wherever(shop: Shop) -> None:
    with shop.store.writing() as session:
        for engine in (shop.engine, shop.engine_two):
            begin_log(session, shop, CAME, engine)
        one, two = valve(session, shop), valve(session, shop)
        first, second = (station(session, shop, "exhaust valve", name) for name in ("1", "2"))
        there = station(session, shop, "exhaust valve", "1", shop.engine_two)
        shift(session, shop, one, shop.bin_a, there, FITTED, engine=shop.engine_two)
        directive = add_directive(session, of_valves(shop), shop.by(EFFECTIVE))
        run(session, shop, 3_00, EFFECTIVE, shop.engine_two)
        shift(session, shop, one, there, shop.bench, EFFECTIVE + timedelta(1), engine=shop.engine_two)
        shift(session, shop, one, shop.bench, first, EFFECTIVE + timedelta(2))
        run(session, shop, 4_00, EFFECTIVE + timedelta(3))
        shift(session, shop, two, shop.bin_a, second, EFFECTIVE + timedelta(4))
        run(session, shop, 2_00, EFFECTIVE + timedelta(5))
        found = directives_of(session, shop.engine)
        assert {(line.piece, line.left.split(",")[0], line.station) for line in found} == {
            (one.piece, "1.00 h", "exhaust valve"),
            (two.piece, "8.00 h", "exhaust valve"),
        }
        # On a day before, it sat in the other engine.
        (then,) = directives_of(session, shop.engine_two, EFFECTIVE)
        assert (then.piece, then.position, then.station) == (one.piece, "cylinder 1", "exhaust valve")
        comply(session, directive, (Subject(piece=one.piece),), "measured", shop.by(DONE))
        by_piece = {line.piece: line.standing for line in directives_of(session, shop.engine)}
        assert {piece: each.verdict for piece, each in by_piece.items() if each is not None} == {
            one.piece: DirectiveVerdict.COMPLIED,
            two.piece: DirectiveVerdict.DUE_SOON,
        }
        assert [line.piece for line in directive_due_lines(session)] == [two.piece]


def test_a_piece_that_came_used_may_have_run_elsewhere_since_the_directive(shop: Shop) -> None:
    with shop.store.writing() as session:
        begin_log(session, shop, CAME)
        early = replace(of_valves(shop), effective_on=CAME - timedelta(9), within_months=None)
        add_directive(session, early, shop.by(CAME))
        (used, _), *_ = shop.book_in(
            session, shop.valve, pieces=1, goods=GoodsIn(Origin.SALVAGED, 0, donor="a wreck"), on=CAME
        ).things
        for thing, name in ((valve(session, shop), "1"), (used, "2")):
            shift(session, shop, thing, shop.bin_a, station(session, shop, "exhaust valve", name), FITTED)
        new_one, used_one = directives_of(session, shop.engine)
        assert new_one.left == "10.00 h"
        assert used_one.left == "at most 10.00 h and perhaps none"


def test_batches_are_told_by_the_engine_that_they_are_in(shop: Shop) -> None:
    with shop.store.writing() as session:
        begin_log(session, shop, CAME)
        batch = springs(session, shop)
        place = station(session, shop, "exhaust springs")
        shift(session, shop, Thing(batch=batch), shop.bin_a, place, FITTED, quantity=2)
        of_springs = NewDirective("D 9", "springs", "renew", EFFECTIVE, part=shop.spring, within_hours=5_00)
        of_batch = NewDirective("D 10", "bad springs", "renew", EFFECTIVE, batch=batch, within_months=1)
        directive = add_directive(session, of_springs, shop.by(EFFECTIVE))
        add_directive(session, of_batch, shop.by(EFFECTIVE))
        run(session, shop, 1_00, EFFECTIVE)
        (by_batch, by_part) = directives_of(session, shop.engine)
        assert by_batch.subject == by_part.subject
        assert by_part.subject.startswith("Valve spring B")
        assert (by_batch.overdue, by_part.overdue) == (True, False)
        assert (by_part.left, by_part.piece) == ("4.00 h", None)
        comply(session, directive, (Subject(engine=shop.engine),), "renewed", shop.by(DONE))
        assert [line.standing and line.standing.verdict for line in directives_of(session, shop.engine)][
            1
        ] is (DirectiveVerdict.COMPLIED)
        strip_some(session, shop, batch, place, TODAY)
        assert all(line.not_applicable for line in directives_of(session, shop.engine))
        # On a day before, they were inside.
        assert not any(line.not_applicable for line in directives_of(session, shop.engine, DONE))


def test_a_batch_split_off_is_in_doubt_by_its_own_directive_and_by_its_parents(shop: Shop) -> None:
    with shop.store.writing() as session:
        begin_log(session, shop, CAME)
        batch = springs(session, shop)
        place = station(session, shop, "exhaust springs")
        shift(session, shop, Thing(batch=batch), shop.bin_a, place, FITTED, quantity=2)
        child = strip_some(session, shop, batch, place, EFFECTIVE)
        for reference, named in (("D 9", batch), ("D 10", child)):
            new = NewDirective(reference, "bad springs", "renew", EFFECTIVE, batch=named, within_months=1)
            add_directive(session, new, shop.by(EFFECTIVE))
        shift(session, shop, Thing(batch=child), shop.bench, place, DONE, quantity=2)
        of_child, of_parent = directives_of(session, shop.engine)
        assert of_child.subject == of_parent.subject != ""
        assert of_child.overdue and of_parent.overdue


def test_what_sits_in_another_piece_is_told_by_the_position_of_that(shop: Shop) -> None:
    with shop.store.writing() as session:
        begin_log(session, shop, CAME)
        outer, inner = valve(session, shop), valve(session, shop)
        assert outer.piece is not None
        shift(session, shop, inner, shop.bin_a, inside(session, shop, outer.piece), FITTED)
        shift(session, shop, outer, shop.bin_a, station(session, shop, "exhaust valve", "3"), FITTED)
        add_directive(session, of_valves(shop), shop.by(EFFECTIVE))
        found = {line.piece: line.position for line in directives_of(session, shop.engine)}
        assert found == {outer.piece: "cylinder 3", inner.piece: "cylinder 3"}


def test_a_station_that_is_only_presumed_filled_leaves_it_open(shop: Shop) -> None:
    with shop.store.writing() as session:
        begin_log(session, shop, CAME)
        add_directive(session, of_valves(shop), shop.by(EFFECTIVE))
        place = station(session, shop, "exhaust valve")
        where = session.execute(select(Place.position_id, Place.station_id).where(Place.id == place)).one()
        draft = shop.draft(FITTED, EntryKind.BUILD_TAKEN_OVER)
        draft.new(
            session,
            "presumption",
            engine_id=shop.engine,
            position_id=where.position_id,
            station_id=where.station_id,
            kit_line_id=shop.kit_valve,
            part_id=shop.valve,
            quantity=1,
            presumed_on=FITTED,
        )
        post(session, draft)
        line = only(session, shop.engine)
        assert line.standing is not None
        assert (line.standing.verdict, line.standing.why) == (
            DirectiveVerdict.UNKNOWN,
            "1 station is presumed to hold it, and nobody has seen what is there",
        )
        assert [due.verdict for due in directive_due_lines(session)] == [LifeVerdict.UNKNOWN]


def test_what_is_due_stands_on_the_due_list_worst_first(shop: Shop) -> None:
    with shop.store.writing() as session:
        for engine in (shop.engine, shop.engine_two):
            begin_log(session, shop, CAME, engine)
        add_directive(session, replace(of_engines(shop), within_months=12), shop.by(EFFECTIVE))
        run(session, shop, 10_00, EFFECTIVE, shop.engine_two)
        overdue, later = directive_due_lines(session)
        assert (overdue.engine, overdue.verdict, overdue.hours_left) == (
            shop.engine_two,
            LifeVerdict.EXPIRED,
            0,
        )
        assert (later.engine, later.verdict, later.hours_left) == (
            shop.engine,
            LifeVerdict.DUE_SOON,
            10_00,
        )
        assert later.due_on is not None and later.subject == "Linnet One"
        assert later.what == (
            "directive D 7 issue 1: crankcase, every 50.00 h or 6 months,"
            f" first within 10.00 h or 12 months of {EFFECTIVE.isoformat()}"
        )
        assert [line.engine for line in directive_due_lines(session, shop.engine)] == [shop.engine]


def test_a_new_issue_takes_the_place_of_the_old_one(shop: Shop) -> None:
    with shop.store.writing() as session:
        begin_log(session, shop, CAME)
        directive = add_directive(session, of_engines(shop), shop.by(EFFECTIVE))
        comply(session, directive, (Subject(engine=shop.engine),), "dye", shop.by(EFFECTIVE))
        second = replace(of_engines(shop), issue="2", effective_on=DONE, within_hours=1_00)
        with pytest.raises(FieldRefused, match="Directive D 7 issue 1 stands already"):
            add_directive(session, of_engines(shop), shop.by(DONE))
        issued = reissue_directive(session, directive, second, shop.by(DONE))
        line = only(session, shop.engine)
        assert (line.directive, line.issue, line.complied, line.left) == (issued, "2", None, "1.00 h")
        assert only(session, shop.engine, DONE - timedelta(1)).directive == directive
        with pytest.raises(FieldRefused, match=f"was withdrawn on {DONE.isoformat()}"):
            comply(session, directive, (Subject(engine=shop.engine),), "dye", shop.by())
        withdraw_directive(session, issued, "found not to concern us", shop.by())
        assert directives_of(session, shop.engine) == ()
        with pytest.raises(Refused, match="was withdrawn on"):
            withdraw_directive(session, issued, "again", shop.by())
        with pytest.raises(FieldRefused, match="isn't said why"):
            withdraw_directive(session, issued, "", shop.by())


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"reference": " "}, "reference"),
        ({"title": ""}, "title"),
        ({"method": ""}, "method"),
        ({"engine_type": None}, "engine_type"),
        ({"engine_type": 99}, "engine_type"),
        ({"engine_type": None, "part": 1, "serial_from": "L1"}, "serial_from"),
        ({"part": 99}, "part"),
        ({"batch": 99}, "batch"),
        ({"within_hours": 0}, "within_hours"),
        ({"every_months": -1}, "every_months"),
        ({"due_on": EFFECTIVE - timedelta(1)}, "due_on"),
        ({"document": 99}, "document"),
    ],
)
def test_what_a_directive_must_have(shop: Shop, change: dict[str, object], field: str) -> None:
    with shop.store.writing() as session, pytest.raises(FieldRefused) as refused:
        add_directive(session, replace(of_engines(shop), **change), shop.by())  # type: ignore[arg-type]
    assert refused.value.field == field


def test_an_empty_range_of_serials_is_refused(shop: Shop) -> None:
    with shop.store.writing() as session, pytest.raises(Refused, match="L9 to L1 is empty"):
        add_directive(session, replace(of_engines(shop), serial_from="L9", serial_to="L1"), shop.by())


def test_who_signs_for_it_and_for_what(shop: Shop) -> None:
    with shop.store.writing() as session:
        paper = add_paper(session, NewPaper(PaperKind.WORK_REPORT, "R 5"), shop.by(CAME))
        late = shop.piece(session)
        directive = add_directive(session, of_engines(shop), shop.by(EFFECTIVE))
        for_valves = add_directive(session, of_valves(shop), shop.by(EFFECTIVE))
        narrow = add_directive(
            session, replace(of_engines(shop), reference="D 11", serial_to="L1010"), shop.by(EFFECTIVE)
        )
        this = (Subject(engine=shop.engine),)
        for which, subjects, method, by, reason in (
            (directive, this, "dye", By(shop.keeper), "Only a person with a licence number signs"),
            (directive, this, " ", shop.by(), "It isn't said how it was complied with"),
            (directive, (), "dye", shop.by(), "Nothing is named that it was complied with on"),
            (directive, this, "dye", shop.by(EFFECTIVE - timedelta(1)), "D 7 took effect on"),
            (directive, (Subject(piece=late),), "dye", shop.by(), "D 7 is not for T00001"),
            (
                directive,
                (Subject(part=shop.valve),),
                "dye",
                shop.by(),
                "is complied with on engines and pieces",
            ),
            (directive, (Subject(engine=99),), "dye", shop.by(), "That engine is not in the store"),
            (for_valves, this, "dye", shop.by(), "D 8 is for each piece of VX"),
            (for_valves, (Subject(piece=99),), "dye", shop.by(), "no longer in the store"),
            (for_valves, (Subject(piece=late),), "dye", shop.by(DONE), f"came on {TODAY.isoformat()}"),
            (
                narrow,
                (Subject(engine=shop.engine_two),),
                "dye",
                shop.by(),
                "D 11 is not for Linnet Two: only for engine serials up to L1010, not L1044",
            ),
            (99, this, "dye", shop.by(), "There is no such directive"),
        ):
            with pytest.raises(Refused) as refused:
                comply(session, which, subjects, method, by)
            assert reason in refused.value.reason
        with pytest.raises(FieldRefused, match="That document is not in the store"):
            comply(session, directive, this, "dye", shop.by(), document=99)
        comply(session, directive, this, "dye", shop.by(), document=paper)
        assert [line.directive for line in directives_of(session, shop.engine) if line.complied] == [
            directive
        ]
