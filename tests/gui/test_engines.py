"""At the Engines view: what is in an engine on any day, how long it lasts, and the acts from the picture."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from gui.shown import Hit
from gui.views.engine_acts import Act
from gui.views.stores_presenter import ReverseEntry
from invdb.acts.catalogue import Holds, NewKitLine, add_kit_line
from invdb.acts.engine_event import NewEvent, record_event
from invdb.acts.event_doubts import events_on
from invdb.acts.hold import Subject, raise_hold
from invdb.acts.life_limit import NewLifeLimit, add_life_limit
from invdb.acts.presume import presume
from invdb.acts.pull import issue
from invdb.acts.strip import Strip, StripOrder, strip
from invdb.acts.things import things_by_id
from invdb.terms import Condition, EngineEventKind, LifeControl, LifeMeasure, RunningUse
from tests.fitted_shop import add_mod
from tests.gui.engines_shop import EngineDesk, Fitted, at_station, begin, built, furnish
from tests.kit_shop import reserved, stock
from tests.shop import Shop, sqlite_shop

FLEW_THEN = date(2025, 7, 1)
STATIONS = ("exhaust valve", "exhaust springs", "head joint")


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


@pytest.fixture
def fitted(shop: Shop) -> Fitted:
    return furnish(shop)


@pytest.fixture
def desk(display: str, shop: Shop, fitted: Fitted, tmp_path: Path) -> Iterator[EngineDesk]:
    opened = EngineDesk(shop, tmp_path)
    opened.read()
    yield opened
    opened.close()


def test_the_picture_tells_the_life_left_in_each_cylinder_and_where_nothing_is(desk: EngineDesk) -> None:
    said = desk.texts(desk.picture)
    assert said.count("600 h left") == 3
    assert "nothing recorded" in said
    assert "Ran 530.00 h, 20 starts." in desk.view.presenter.told_of_life()


def test_by_keys_alone_to_a_cylinder_to_its_stations_and_to_the_story_of_a_piece(
    desk: EngineDesk, fitted: Fitted
) -> None:
    desk.picture.focus_force()
    desk.press("2", "<Return>")
    assert desk.view.presenter.title() == "Linnet One, cylinder 2"
    said = desk.texts(desk.rows.canvas)
    assert "✓ within limits: 0.00 h of 600.00 h since new" in said
    assert said.count("nothing recorded") == 2
    desk.press("<Return>")
    ((view, ref),) = desk.gone_to
    assert (view, ref[:2]) == ("stores", ("piece", fitted.valves[1].piece))
    desk.press("<Escape>")
    assert desk.root.focus_get() is desk.picture


def test_enter_goes_from_the_chosen_engine_on_to_its_picture(desk: EngineDesk) -> None:
    desk.picture.focus_force()
    desk.press("<Control-e>")
    assert desk.root.focus_get() is desk.view.build_pane.chooser.engines.box
    desk.press("<Return>", "2")
    assert desk.root.focus_get() is desk.picture
    assert desk.view.presenter.position == "2"


def test_an_engine_of_which_nothing_is_recorded_says_so_and_how_to_begin(
    display: str, shop: Shop, tmp_path: Path
) -> None:
    desk = EngineDesk(shop, tmp_path)
    desk.read()
    assert desk.texts(desk.picture).count("nothing") >= 7
    assert "its log has not begun" in desk.view.presenter.told_of_life()
    desk.picture.focus_force()
    desk.press("<Control-i>")
    desk.until(lambda: desk.refused)
    assert "has not begun" in desk.refused[-1] and "Begin its log" in desk.refused[-1]
    desk.close()


def test_running_is_logged_and_every_gauge_follows(desk: EngineDesk, shop: Shop) -> None:
    desk.picture.focus_force()
    form = desk.open_form("<Control-r>")
    assert form.values()["use"] is RunningUse.FLIGHT
    desk.fill_in(reading="134.50", starts="3")
    assert form.said() == "That is 4.50 h since 2026-03-02."
    desk.save(lambda: "595 h left" in desk.texts(desk.picture))
    desk.press("<Control-l>")
    desk.until(lambda: desk.log_rows() and desk.log_rows()[0][2] == "4.50 h")
    assert desk.log_rows()[0][:5] == ("2026-03-02", "flight", "4.50 h", "3", "134.50 h")


def test_a_doubtful_reading_is_asked_about_and_logged_once_it_is_said_to_be_so(
    desk: EngineDesk, shop: Shop
) -> None:
    desk.picture.focus_force()
    form = desk.open_form("<Control-r>")
    desk.fill_in(reading="140.00")
    form.save()
    desk.until(lambda: "is a great deal" in form.foot.words())
    assert desk.posted == 0
    desk.fill_in(reading="141.00")
    assert form.foot.words() == "", "going on to fill in lets go of the question"
    form.save()
    desk.until(lambda: "is a great deal" in form.foot.words())
    form.save_surely()
    desk.until(lambda: desk.posted == 1)


def test_a_reading_below_the_last_is_refused_beneath_its_field(desk: EngineDesk) -> None:
    desk.picture.focus_force()
    form = desk.open_form("<Control-r>")
    desk.fill_in(reading="120")
    assert "10.00 h below" in form.said()
    form.save()
    desk.until(lambda: "120.00 h is below that" in form.message_of("reading"))


def test_a_piece_is_fitted_at_a_station_from_the_picture(
    desk: EngineDesk, shop: Shop, fitted: Fitted
) -> None:
    desk.picture.focus_force()
    desk.press("4", "<Return>")
    desk.until(desk.rows.chosen)
    form = desk.open_form("<Control-i>")
    row = form.editors["fits"].row(0)
    assert row["station"].raw().startswith("exhaust valve: 1 off VX")
    row["thing"].set(Hit("the fourth valve", "", "piece", fitted.spare))
    desk.save(lambda: "600 h left" in desk.texts(desk.picture))
    assert len(at_station(shop, "4", "exhaust valve")) == 1
    assert desk.said[-1].startswith("Fitted at Linnet One, cylinder 4")


def test_a_pulled_kit_is_fitted_in_one_act(display: str, shop: Shop, tmp_path: Path) -> None:
    begin(shop)
    stock(shop)
    (pull,) = reserved(shop, "5")
    with shop.store.writing() as session:
        issue(session, pull.pull, shop.by())
    desk = EngineDesk(shop, tmp_path)
    desk.read()
    desk.picture.focus_force()
    desk.press("5")
    form = desk.open_form("<Control-Shift-I>")
    assert form.values()["pull"] == pull.pull, "the kit of the chosen cylinder is offered"
    desk.save()
    assert [len(at_station(shop, "5", name)) for name in STATIONS] == [1, 1, 1]
    desk.close()


def test_what_was_issued_for_a_station_is_offered_there(display: str, shop: Shop, tmp_path: Path) -> None:
    begin(shop)
    stock(shop)
    (pull,) = reserved(shop, "5")
    with shop.store.writing() as session:
        issue(session, pull.pull, shop.by())
    desk = EngineDesk(shop, tmp_path)
    desk.read()
    desk.picture.focus_force()
    desk.press("5")
    desk.open_form("<Control-i>")
    desk.save()
    assert len(at_station(shop, "5", "head joint")) == 1
    desk.close()


def test_a_station_is_stripped_with_how_it_was_found_and_where_it_goes(
    desk: EngineDesk, shop: Shop, fitted: Fitted
) -> None:
    desk.picture.focus_force()
    desk.press("3", "<Return>")
    desk.until(desk.rows.chosen)
    form = desk.open_form("<Control-s>")
    assert "Mind: Exhaust valve: sodium-filled. Do not cut the stem." in form.said()
    desk.fill_in(found="stem scored", condition=Condition.UNSERVICEABLE)
    form.save()
    assert "still empty" in form.message_of("control"), "a life-limited piece is kept by something"
    desk.fill_in(control=LifeControl.TAG)
    desk.save()
    assert at_station(shop, "3", "exhaust valve") == []
    with shop.store.reading() as session:
        state = things_by_id(session, [fitted.valves[2]])[fitted.valves[2]]
    assert (state.condition, state.where[0].name) == (Condition.UNSERVICEABLE, "Bench")


def test_a_whole_cylinder_is_stripped_in_one_act_but_for_what_was_found_otherwise(
    desk: EngineDesk, shop: Shop, fitted: Fitted
) -> None:
    desk.picture.focus_force()
    desk.press("1")
    form = desk.open_form("<Control-Shift-S>")
    desk.fill_in(found="clean", control=LifeControl.RECORD)
    row = form.editors["otherwise"].row(0)
    row["thing"].set(0)
    row["condition"].set(Condition.UNSALVAGEABLE)
    row["found"].set("cracked")
    place = Hit("Scrap drum", "", "place", shop.scrap)
    form.editors["to_place"].set(place)
    desk.save()
    position = built(shop).positions[0]
    assert all(not station.contents for station in position.stations)
    assert "split off as" in desk.said[-1]


def test_what_is_too_much_for_a_title_is_listed_above_the_fields(
    desk: EngineDesk, shop: Shop, fitted: Fitted, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("gui.views.strip_form.NAMED_MAX", 1)
    monkeypatch.setattr("gui.views.strip_form.LISTED_MAX", 3)
    with shop.store.reading() as session:
        tag = things_by_id(session, [fitted.valves[0]])[fitted.valves[0]].tag
    desk.view.act(Act.STRIP_ENGINE)
    desk.until(lambda: desk.form is not None)
    assert f"{tag}, 1 exhaust valve; " in desk.form.said()
    assert desk.form.said().endswith("; and 1 more.")


def test_a_piece_is_robbed_for_another_engine_and_owed_back(
    desk: EngineDesk, shop: Shop, fitted: Fitted
) -> None:
    desk.picture.focus_force()
    desk.press("2", "<Return>")
    desk.until(desk.rows.chosen)
    desk.open_form("<Control-Shift-R>")
    assert "(Exhaust valve" in " ".join(desk.labels().split())
    desk.fill_in(for_engine=shop.engine_two, reason="to fly on Saturday", control=LifeControl.TAG)
    desk.save(lambda: "owed" in desk.texts(desk.picture))
    assert "owed since 2026-03-02" in desk.texts(desk.rows.canvas)


def test_what_nobody_has_seen_is_presumed_and_identified_as_it_is_stripped(
    desk: EngineDesk, shop: Shop
) -> None:
    with shop.store.writing() as session:
        presume(session, shop.engine, shop.by(), (built(shop).positions[5].position,))
    desk.view.on_refresh()
    desk.until(lambda: "presumed" in desk.texts(desk.picture))
    desk.picture.focus_force()
    desk.press("6", "<Return>")
    assert desk.texts(desk.rows.canvas).count("presumed") == 3
    desk.rows.choose(next(row.key for row in desk.view.presenter.stations() if row.station == "head joint"))
    form = desk.open_form("<Control-s>")
    row = form.editors["finds"].row(0)
    row["found"].set("an old joint, split")
    desk.save(lambda: desk.texts(desk.rows.canvas).count("presumed") == 2)
    desk.rows.canvas.focus_force()
    desk.press("<Control-a>")
    desk.open_form("<Control-s>")
    desk.press("<Control-Return>")
    desk.until(lambda: "isn't said how it was found" in desk.form.message_of("found"))
    desk.fill_in(found="all black with oil", control=LifeControl.TAG)
    desk.save(lambda: "presumed" not in desk.texts(desk.rows.canvas))


def test_an_event_taints_every_piece_that_was_inside(desk: EngineDesk, shop: Shop, fitted: Fitted) -> None:
    desk.picture.focus_force()
    desk.open_form("<Control-Shift-E>")
    desk.fill_in(kind=EngineEventKind.PROPELLER_STRIKE, note="taxied into the hangar door")
    desk.save(lambda: "event not cleared" in desk.texts(desk.picture).replace("event not\n", "event not "))
    with shop.store.reading() as session:
        assert set(events_on(session, list(fitted.valves))) == set(fitted.valves)


def test_an_event_on_a_day_on_which_something_came_out_is_asked_about(
    desk: EngineDesk, shop: Shop, fitted: Fitted
) -> None:
    stripped = Strip(fitted.valves[0], "clean", shop.bench, control=LifeControl.TAG)
    with shop.store.writing() as session:
        strip(session, StripOrder(shop.engine, (stripped,), 130_00), shop.by())
    desk.picture.focus_force()
    form = desk.open_form("<Control-Shift-E>")
    desk.fill_in(kind=EngineEventKind.OVERSPEED)
    form.save()
    desk.until(lambda: "on that very day" in form.foot.words())
    form.save_surely()
    desk.until(lambda: desk.posted == 1)
    with shop.store.reading() as session:
        assert set(events_on(session, list(fitted.valves))) == set(fitted.valves[1:])


def test_a_hold_on_a_fitted_piece_is_read_in_its_row_and_on_the_engine(
    desk: EngineDesk, shop: Shop, fitted: Fitted
) -> None:
    with shop.store.writing() as session:
        raise_hold(session, (Subject(piece=fitted.valves[0].piece),), "porous casting", shop.by())
    desk.view.on_refresh()
    desk.until(lambda: "⊘" in desk.texts(desk.picture))
    assert "on hold: porous casting" in desk.texts(desk.rows.canvas)
    assert "⊘ Not available" in desk.view.presenter.told_of_bars()
    assert desk.labels().count("⊘ Not available") == 1


def test_the_slider_shows_the_engine_as_it_was_and_what_is_otherwise_today(desk: EngineDesk) -> None:
    desk.slider.go_to(date(2026, 3, 1))
    desk.until(lambda: desk.build().on == date(2026, 3, 1))
    assert "within" not in desk.texts(desk.picture)
    assert desk.view.presenter.told_of_day() == (
        "As fitted on 2026-03-01. 4 stations are otherwise today: 1 exhaust valve, 1 exhaust springs, …"
    )
    assert "today T" in desk.texts(desk.rows.canvas)
    desk.press("<Control-i>")
    assert "Go back to today" in desk.refused[-1], "what is past is not fitted to"
    desk.slider.last.invoke()
    desk.until(lambda: desk.view.presenter.day is None and "within" in desk.texts(desk.picture))


def test_what_was_believed_on_a_day_is_shown_without_what_was_recorded_later(desk: EngineDesk) -> None:
    desk.picture.focus_force()
    desk.press("<Control-b>")
    assert "earlier day" in desk.refused[-1]
    desk.slider.go_to(FLEW_THEN)
    desk.until(lambda: desk.build().on == FLEW_THEN)
    desk.press("<Control-b>")
    desk.until(lambda: desk.build().believed_at is not None)
    assert "as believed at the end of that day" in desk.view.presenter.told_of_day()
    desk.until(lambda: "Lives are not worked out" in desk.texts(desk.rows.canvas))
    assert "Without a limit" not in desk.texts(desk.rows.canvas)
    assert "no limit" not in desk.texts(desk.picture)


def test_the_due_list_shows_what_runs_out_on_all_engines_and_leads_to_its_cylinder(
    desk: EngineDesk, shop: Shop
) -> None:
    with shop.store.writing() as session:
        limit = NewLifeLimit(LifeMeasure.HOURS, 10_00, part=shop.valve, source="leaflet 7")
        add_life_limit(session, limit, shop.by())
    desk.view.on_refresh()
    desk.until(lambda: desk.view.presenter.due and len(desk.view.presenter.due.lines) == 3)
    desk.picture.focus_force()
    desk.press("<Control-d>")
    desk.until(desk.chart.chosen)
    assert (desk.chart.chosen().sign, desk.chart.chosen().words) == ("due soon", "10.00 h left")
    assert desk.texts(desk.chart.canvas).count("◷") >= 3
    desk.press("<Down>", "<Return>")
    desk.until(lambda: desk.view.presenter.position != "1")
    assert desk.view.pages.page() == "stations"
    desk.view.pages.filter.set(at_station(shop, "3", "exhaust valve")[0])
    assert "1 of 3 lines" in desk.view.pages.filter.counted()
    desk.view.pages.filter.set("no such thing")
    assert "Nothing that falls due fits." in desk.labels()


def test_a_mod_is_embodied_having_read_what_it_makes_unfit(desk: EngineDesk, shop: Shop) -> None:
    with shop.store.writing() as session:
        mod = add_mod(shop, session, "PW 12")
        holds = Holds(mod=mod, mod_embodied=True)
        line = NewKitLine(shop.linnet, "cylinder", 1, "exhaust valve", shop.barrel, 1, holds=holds)
        add_kit_line(session, line, shop.by())
    desk.picture.focus_force()
    form = desk.open_form("<Control-Shift-D>")
    desk.fill_in(mod=mod)
    told = form.editors["outlook"].told()
    assert told.startswith("Embodying mod PW 12") and "will be wanted" in told
    assert "short" in form.said()
    desk.save()
    desk.until(lambda: desk.build().mods)
    assert "PW 12" in " ".join(desk.build().mods)


def test_an_engine_and_all_inside_it_are_cleared_of_an_event(
    desk: EngineDesk, shop: Shop, fitted: Fitted
) -> None:
    with shop.store.writing() as session:
        record_event(session, NewEvent(shop.engine, EngineEventKind.OVERSPEED), shop.by())
    desk.picture.focus_force()
    form = desk.open_form("<Control-Shift-K>")
    assert form.said() == "Not cleared yet: 4 things and the engine itself."
    desk.fill_in(what="all", inspection="stripped in part, rods crack tested, no fault")
    desk.save()
    with shop.store.reading() as session:
        assert not events_on(session, list(fitted.valves))


def test_what_is_cleared_is_named_and_what_is_only_presumed_stays_in_doubt(
    desk: EngineDesk, shop: Shop, fitted: Fitted
) -> None:
    with shop.store.writing() as session:
        presume(session, shop.engine, shop.by())
        record_event(session, NewEvent(shop.engine, EngineEventKind.OVERSPEED), shop.by())
        tag = things_by_id(session, [fitted.valves[1]])[fitted.valves[1]].tag
    desk.view.on_refresh()
    desk.picture.focus_force()
    desk.press("2", "<Return>")
    desk.until(desk.rows.chosen)
    form = desk.open_form("<Control-Shift-K>")
    assert "is in doubt too, once it is identified" in form.said()
    assert form.editors["what"].raw() == f"at the chosen stations: {tag}"


def test_a_status_sheet_is_saved_as_of_the_day_shown(desk: EngineDesk, tmp_path: Path) -> None:
    desk.picture.focus_force()
    desk.press("<Control-p>")
    desk.until(lambda: desk.said)
    assert desk.offered == ["status Linnet One 2026-03-02.pdf"]
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
    desk.save_as = "sheet.txt"
    desk.press("<Control-p>")
    desk.until(lambda: desk.refused)
    assert "not written as .txt" in desk.refused[-1]


def test_a_recall_finds_all_of_a_part_and_its_letter_is_saved(
    desk: EngineDesk, shop: Shop, tmp_path: Path
) -> None:
    desk.save_as = "letter.xlsx"
    desk.picture.focus_force()
    desk.open_form("<Control-Shift-C>")
    desk.form.editors["part"].set(Hit("the valve", "", "part", shop.valve))
    desk.fill_in(reason="porous castings", hold=True)
    desk.save((tmp_path / "letter.xlsx").exists)
    assert "4 put on hold" in desk.said[0]
    desk.until(lambda: "on hold" in desk.texts(desk.picture))


def test_a_line_of_the_log_is_reversed_by_its_entry(desk: EngineDesk) -> None:
    desk.picture.focus_force()
    desk.press("<Control-l>")
    desk.until(desk.view.pages.log.chosen)
    desk.press("<Delete>")
    ((view, ref),) = desk.gone_to
    assert view == "stores" and isinstance(ref, ReverseEntry)


def test_an_unsaved_form_stays_in_the_way_and_is_told_of(desk: EngineDesk) -> None:
    desk.picture.focus_force()
    desk.open_form("<Control-r>")
    desk.fill_in(reading="131")
    desk.view.act(Act.EVENT)
    assert "not saved yet" in desk.refused[-1]
    assert desk.view.unsaved() == "what was typed in “Log what Linnet One ran”"


def test_every_act_of_the_menu_has_its_word_and_the_same_key_everywhere(desk: EngineDesk) -> None:
    deeds = [deed for group in desk.view.deeds.groups() for deed in group]
    assert len(deeds) == len(Act) + 1, "every act, and the status sheet"
    keys = [deed.key for deed in deeds if deed.key]
    assert len(set(keys)) == len(keys)


def test_it_wears_the_dark_theme_at_once(desk: EngineDesk) -> None:
    desk.theme.set_dark(True)
    desk.root.update()
    for canvas in (desk.picture, desk.rows.canvas, desk.slider.canvas):
        assert canvas.cget("background") == desk.theme.palette.ground
