"""The forms of the Engines view filled in without a screen: what came in it, orders, limits, doubts."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from gui.job import Job
from gui.shown import ChosenFile
from gui.views.built_stations import StationKey
from gui.views.comply_form import ToComply, comply_form
from gui.views.directive_form import BATCH, ENGINES, PART, directive_form
from gui.views.engine_acts import Act, Subject
from gui.views.engine_hold_form import ENGINE, PARTS, STOCK
from gui.views.engine_plans import EnginePlans
from gui.views.form_plan import FormPlan
from gui.views.limit_form import ENGINES as ENGINES_OF_A_TYPE
from invdb.acts.directive_issue import standing_issue
from invdb.acts.directive_lines import directives_of
from invdb.acts.due_soon import due_soon
from invdb.acts.fit import Fit, FitOrder, fit
from invdb.acts.hold import Subject as Held
from invdb.acts.hold import holds_on, holds_on_engine
from invdb.acts.life import engine_life, life_of
from invdb.acts.limit_list import limits_on
from invdb.acts.numbers import Thing
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.things import things_by_id
from invdb.records.doubts import Directive
from invdb.rules.build import BuiltPosition
from invdb.rules.due import DueSoon
from invdb.terms import (
    ConcessionOver,
    FieldRefused,
    HoursKnown,
    LifeMeasure,
    LifeSince,
    PaperKind,
    PriorLife,
    Refused,
)
from tests.fitted_shop import add_barrel_station, add_mod
from tests.gui.engines_shop import Fitted, at_station, begin, built, furnish
from tests.gui.stores_shop import fill_in, shown_fields, sit
from tests.kit_shop import good
from tests.shop import TODAY, Shop, sqlite_shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


def cylinder(shop: Shop, name: str) -> BuiltPosition:
    return next(each for each in built(shop).positions if each.name == name)


def seat(shop: Shop, name: str, station: str) -> tuple[int, int]:
    """A position and a station of Linnet One, as a row of a build record names them."""
    position = cylinder(shop, name)
    found = next(each.station for each in position.stations if each.name == station)
    assert found is not None
    return position.position, found


def plan(shop: Shop, act: Act, on: str | None = None, *things: Thing) -> FormPlan:
    """The form of an act on Linnet One, at a cylinder of it and on what is chosen there."""
    position = cylinder(shop, on).position if on is not None else None
    keys = tuple(StationKey(position or 0, None, "", each.piece, each.batch) for each in things)
    subject = Subject(shop.engine, "Linnet One", position, keys, "Linnet")
    return EnginePlans(sit(shop)).plan(Job(), act, subject)


def paper(shop: Shop, reference: str = "AL 9") -> int:
    with shop.store.writing() as session:
        return add_paper(session, NewPaper(PaperKind.STATEMENT, reference), shop.by())


def start(form: FormPlan, name: str) -> Any:
    return next(field.start for field in form.fields if field.name == name)


def row(shop: Shop, station: str, part: int, **more: str) -> dict[str, Any]:
    """A row of the build record of cylinder 6; what is not given is left empty."""
    empty = dict.fromkeys(("serial", "quantity", "hours", "starts", "made_on", "inside"), "")
    return {"seat": seat(shop, "6", station), "part": part, **empty, **more}


class TestTakingOver:
    def test_a_row_stands_for_each_thing_that_is_wanted_and_not_known(self, shop: Shop) -> None:
        furnish(shop)
        form = plan(shop, Act.TAKE_OVER, "1")
        assert [row["seat"] for row in start(form, "fills")] == [seat(shop, "1", "head joint")]
        form = plan(shop, Act.TAKE_OVER, "6")
        assert [row["part"].ref for row in start(form, "fills")] == [shop.valve, shop.spring, shop.gasket]

    def test_what_the_record_names_is_in_the_engine_with_what_it_had_run(self, shop: Shop) -> None:
        begin(shop)
        rows = (
            row(
                shop,
                "exhaust valve",
                shop.valve,
                serial="88",
                hours="between 300 and 340",
                starts="at least 9",
            ),
            row(shop, "exhaust springs", shop.spring),
        )
        made = fill_in(
            plan(shop, Act.TAKE_OVER, "6"),
            paper_kind=PaperKind.STATEMENT,
            paper_reference="Build card 7",
            fills=rows,
        )
        valve = made.things[0][0]
        assert at_station(shop, "6", "exhaust springs") == [made.things[1][1]]
        assert cylinder(shop, "6").stations[1].contents[0].quantity == 2, "as many as its kit list asks for"
        with shop.store.reading() as session:
            hours = life_of(session, [valve.piece])[valve.piece].since_new.hours.known()
        assert hours == PriorLife(HoursKnown.BETWEEN, 300_00, 340_00)

    def test_a_piece_of_the_record_sits_in_another_by_the_number_of_its_row(self, shop: Shop) -> None:
        begin(shop)
        with shop.store.writing() as session:
            add_barrel_station(shop, session)
        rows = (
            row(shop, "barrel", shop.barrel),
            row(shop, "exhaust valve", shop.valve, inside="1"),
        )
        form = plan(shop, Act.TAKE_OVER, "6")
        with pytest.raises(FieldRefused) as refused:
            fill_in(form, document=paper(shop), fills=(rows[1],))
        assert refused.value.field == "fills" and "no piece named before" in refused.value.reason
        made = fill_in(form, document=paper(shop, "Build card 8"), fills=rows)
        valve = next(each for each in cylinder(shop, "6").stations if each.name == "exhaust valve").within[0]
        assert (valve.tag, valve.holder_tag) == (made.things[1][1], made.things[0][1])

    def test_a_record_is_one_document_and_is_named(self, shop: Shop, tmp_path: Path) -> None:
        begin(shop)
        form = plan(shop, Act.TAKE_OVER, "6")
        rows = (row(shop, "exhaust valve", shop.valve),)
        with pytest.raises(FieldRefused, match="none is named"):
            fill_in(form, fills=rows)
        assert "paper_kind" not in shown_fields(form, {"document": 7})
        files = tuple(ChosenFile(tmp_path / name, PaperKind.STATEMENT) for name in ("card.txt", "log.txt"))
        for each in files:
            each.path.write_text("as found", encoding="utf-8")
        with pytest.raises(FieldRefused, match="2 papers are named"):
            fill_in(form, fills=rows, papers=files)

    def test_what_the_kit_list_does_not_allow_is_taken_only_as_found(self, shop: Shop) -> None:
        begin(shop)
        form = plan(shop, Act.TAKE_OVER, "6")
        rows = (row(shop, "exhaust valve", shop.barrel),)
        document = paper(shop)
        with pytest.raises(FieldRefused) as refused:
            fill_in(form, document=document, fills=rows)
        assert refused.value.field == "fills", "it is said beneath the rows"
        made = fill_in(form, document=document, fills=rows, as_found=True)
        assert at_station(shop, "6", "exhaust valve") == [made.things[0][1]]


def test_a_piece_is_fitted_into_another_on_the_bench_and_rides_along(shop: Shop) -> None:
    begin(shop)
    with shop.store.writing() as session:
        add_barrel_station(shop, session)
        barrel, valve = (good(session, shop, part) for part in (shop.barrel, shop.valve))
    station = seat(shop, "5", "exhaust valve")[1]
    fill_in(
        plan(shop, Act.FIT_INSIDE),
        holder=barrel.piece,
        fits=({"piece": valve.piece, "station": station},),
    )
    position, at = seat(shop, "5", "barrel")
    with shop.store.writing() as session:
        fit(session, FitOrder(shop.engine, position, (Fit(at, barrel),), 130_00), shop.by())
        tag = things_by_id(session, [valve])[valve].tag
    assert at_station(shop, "5", "exhaust valve") == [tag]


class TestDirectives:
    def entered(self, shop: Shop, **values: Any) -> int:
        given = {"reference": "D 7", "title": "rods", "method": "crack test", "effective_on": TODAY, **values}
        made: int = fill_in(plan(shop, Act.DIRECTIVE), **given)
        return made

    def test_one_for_the_shown_type_of_engine_stands_on_it_and_is_complied_with(self, shop: Shop) -> None:
        begin(shop)
        directive = self.entered(shop, within_hours="50", every_months="12")
        with shop.store.reading() as session:
            (line,) = directives_of(session, shop.engine)
        assert line.standing is not None and line.standing.hours_limit == 50_00
        due = ToComply(directive, line.words, (Held(engine=shop.engine),), "Linnet One")
        fill_in(comply_form(sit(shop), due), method="dye penetrant", document=paper(shop))
        with shop.store.reading() as session:
            (line,) = directives_of(session, shop.engine)
        assert line.complied is not None and line.complied.method == "dye penetrant"

    def test_what_it_is_for_is_asked_by_what_it_is(self, shop: Shop) -> None:
        form = plan(shop, Act.DIRECTIVE)
        assert not {"part", "batch"} & shown_fields(form, {"on_what": ENGINES})
        assert "part" in shown_fields(form, {"on_what": PART})
        assert "batch" in shown_fields(form, {"on_what": BATCH})
        assert "serial_from" not in shown_fields(form, {"engine_type": None})
        with pytest.raises(FieldRefused, match="isn't said what the directive is for"):
            self.entered(shop, engine_type=None)

    def test_a_new_issue_begins_with_the_old_one_and_takes_its_place(self, shop: Shop) -> None:
        begin(shop)
        old = self.entered(shop, issue="1", within_hours="12.5", on_what=PART, part=shop.valve)
        with shop.store.reading() as session:
            form = directive_form(sit(shop), old=standing_issue(session, old))
        assert (start(form, "on_what"), start(form, "part").ref) == (PART, shop.valve)
        assert (start(form, "within_hours"), start(form, "issue")) == ("12.50", None)
        fill_in(form, issue="2", every_hours="100")
        with shop.store.reading() as session:
            (line,) = directives_of(session, shop.engine)
        assert (line.issue, line.title) == ("2", "rods")


class TestLimits:
    def test_a_part_is_limited_where_a_mod_is_not_embodied(self, shop: Shop) -> None:
        furnished = furnish(shop)
        with shop.store.writing() as session:
            mod = add_mod(shop, session, "PW 12")
        form = plan(shop, Act.LIMIT, "1", furnished.valves[0])
        assert start(form, "part").ref == shop.valve, "that of what is chosen"
        fill_in(form, engine_type=shop.linnet, mod=(mod, False), amount="450", source="leaflet 7")
        with shop.store.reading() as session:
            words = [each.words for each in limits_on(session, shop.engine) if each.part == shop.valve]
        assert "450.00 h since new, for the Linnet without mod PW 12" in words

    def test_an_engine_is_limited_by_starts_since_overhaul(self, shop: Shop) -> None:
        form = plan(shop, Act.LIMIT)
        asked = shown_fields(form, {"on_what": ENGINES_OF_A_TYPE, "measure": LifeMeasure.STARTS})
        assert not {"part", "counted", "prorated"} & asked
        fill_in(
            form,
            on_what=ENGINES_OF_A_TYPE,
            measure=LifeMeasure.STARTS,
            amount="900",
            since=LifeSince.OVERHAUL,
            source="leaflet 8",
        )
        with shop.store.reading() as session:
            first = limits_on(session, shop.engine)[0]
        assert (first.part, first.limit.amount) == (None, 900)

    def test_what_is_no_figure_is_refused_by_its_own_measure(self, shop: Shop) -> None:
        form = plan(shop, Act.LIMIT)
        with pytest.raises(FieldRefused, match="no whole number"):
            fill_in(form, part=shop.valve, measure=LifeMeasure.STARTS, amount="12.5", source="leaflet 7")


def test_the_count_of_an_engine_begins_anew_by_the_report_alone(shop: Shop) -> None:
    begin(shop)
    fill_in(plan(shop, Act.OVERHAUL), report="Report 4: overhauled whole", resets=frozenset({"hours"}))
    with shop.store.reading() as session:
        life = engine_life(session, shop.engine)
    assert life.since_overhaul.hours.known() == PriorLife(HoursKnown.EXACT, 0, 0)
    assert life.since_overhaul.starts == life.since_new.starts, "the report says nothing of starts"


class TestHolds:
    def test_the_engine_itself_is_put_on_hold_and_cleared(self, shop: Shop) -> None:
        begin(shop)
        form = plan(shop, Act.HOLD)
        assert start(form, "on_what") == ENGINE
        fill_in(form, reason="runs rough")
        with shop.store.reading() as session:
            (hold,) = holds_on_engine(session, shop.engine)
        form = plan(shop, Act.CLEAR_HOLD)
        assert start(form, "hold") == hold.id, "the only one is offered"
        fill_in(form, because="a plug lead")
        with pytest.raises(Refused, match="on hold"):
            plan(shop, Act.CLEAR_HOLD)

    def test_what_is_chosen_is_held_or_all_of_its_part(self, shop: Shop) -> None:
        fitted = furnish(shop)
        form = plan(shop, Act.HOLD, "1", fitted.valves[0])
        assert start(form, "on_what") == STOCK
        fill_in(form, reason="porous")
        fill_in(form, on_what=PARTS, reason="wrong steel")
        with shop.store.reading() as session:
            own = [hold.on_part for hold in holds_on(session, fitted.valves[0])]
            other = [hold.on_part for hold in holds_on(session, fitted.valves[1])]
            assert holds_on_engine(session, shop.engine) == ()
        assert (own, other) == ([False, True], [True])
        form = plan(shop, Act.CLEAR_HOLD, "1", fitted.valves[0])
        words = [choice.word for field in form.fields if field.name == "hold" for choice in field.choices]
        assert any("porous" in each for each in words) and any("on the whole part" in each for each in words)


def test_a_concession_is_for_the_one_piece_that_is_chosen(shop: Shop) -> None:
    fitted: Fitted = furnish(shop)
    with pytest.raises(Refused, match="not one alone"):
        plan(shop, Act.CONCESSION, "1")
    with pytest.raises(Refused, match="not one alone"):
        plan(shop, Act.CONCESSION, "1", fitted.springs)
    form = plan(shop, Act.CONCESSION, "2", fitted.valves[1])
    assert (start(form, "engine").ref, start(form, "position")) == (shop.engine, "cylinder 2")
    made = fill_in(
        form,
        reference="C 3",
        authority="the office",
        document=paper(shop),
        over=ConcessionOver.LIFE_LIMIT,
        allows="50 hours more",
        life_limit_hours="650",
        hours_allowed="50",
    )
    piece = fitted.valves[1].piece
    assert piece is not None and made
    with shop.store.reading() as session:
        governing = life_of(session, [piece])[piece].stands.governing
    assert governing is not None and governing.limit.amount == 650_00


def test_the_threshold_of_what_is_due_soon_begins_with_what_it_is(shop: Shop) -> None:
    form = plan(shop, Act.DUE_SOON)
    assert [start(form, name) for name in ("hours", "starts", "months")] == ["25.00", "40", "3"]
    with pytest.raises(Refused, match="that already"):
        fill_in(form)
    fill_in(form, hours="12.5", months="6")
    with shop.store.reading() as session:
        assert due_soon(session) == DueSoon(12_50, 40, 6)


def test_what_is_of_the_whole_shop_needs_no_engine(shop: Shop) -> None:
    nothing = Subject(0, "")
    for act in (Act.DIRECTIVE, Act.LIMIT, Act.DUE_SOON, Act.RECALL):
        assert EnginePlans(sit(shop)).plan(Job(), act, nothing).fields


def test_a_directive_that_takes_effect_later_is_entered_today(shop: Shop) -> None:
    form = plan(shop, Act.DIRECTIVE)
    later = date(TODAY.year + 1, 1, 1)
    assert fill_in(form, reference="D 9", title="nuts", method="look", effective_on=later)
    with shop.store.reading() as session:
        assert directives_of(session, shop.engine) == ()
        kept = session.execute(select(Directive.reference, Directive.effective_on)).one()
    assert tuple(kept) == ("D 9", later)
