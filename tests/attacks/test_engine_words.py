"""What may be mistyped in a command on engines, lives and doubts: refused in one line, and nothing done."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from invdb.acts.directive import NewDirective, add_directive, comply, reissue_directive
from invdb.acts.directive_lines import directives_of
from invdb.acts.engine_event import NewEvent, record_event
from invdb.acts.hold import Subject
from invdb.acts.life_limit import NewLifeLimit, add_life_limit
from invdb.acts.life_reset import LifeResetOrder, reset_life
from invdb.acts.mods import mods_on
from invdb.acts.papers import NewPaper, add_paper
from invdb.acts.presume import presume
from invdb.terms import EngineEventKind, FieldRefused, LifeMeasure, PaperKind
from tests.cli.conftest import Run, run, workshop
from tests.engine_shop import LONG_AGO, begin, came, fitted, last_entry, sound, tag_of
from tests.fitted_shop import add_mod
from tests.shop import BEGUN_ON, TODAY, Shop

__all__ = ["run", "workshop"]

VALVE, SPARE, SPRINGS = "{valve}", "{spare}", "{springs}"
DIRECTIVE = (
    *("directive", "D 8", "--title", "Look", "--method", "Look"),
    *("--effective", "2026-01-01", "--for", "Linnet"),
)
CONCESSION = (
    *("concession", "C 9", VALVE, "Linnet One", "--authority", "Board", "--over", "life limit"),
    *("--allows", "more", "--document", "AA 77"),
)
# Each takes a figure at {}; with the sound one before it, it is done.
FIGURES = (
    ("1001", ("hours", "Linnet One", "{}", "--use", "flight", "--sure")),
    ("1.5", ("hours", "Linnet Two", "--hours", "{}", "--sure")),
    ("2", ("hours", "Linnet One", "1001", "--starts", "{}", "--use", "flight", "--sure")),
    ("0", ("meter", "Linnet One", "{}", "--old", "1000")),
    ("3", ("meter", "Linnet One", "0", "--old", "1000", "--unread", "{}", "--use", "flight")),
    ("1001", ("fit", SPARE, "Linnet One", "2", "exhaust valve", "--reading", "{}", "--use", "flight")),
    ("2", ("fit", SPRINGS, "Linnet One", "2", "exhaust springs", "--reading", "1000", "--quantity", "{}")),
    ("1001", ("strip", VALVE, "--found", "worn", "--control", "tag", "--reading", "{}", "--use", "flight")),
    ("500", ("limit", "PW 1187", "--hours", "{}", "--source", "Manual", "--since", "overhaul")),
    ("500", ("limit", "PW 1187", "--starts", "{}", "--source", "Manual", "--since", "overhaul")),
    ("500", ("limit", "PW 1187", "--months", "{}", "--source", "Manual")),
    ("1", ("limit", "--withdraw", "{}", "--because", "wrong")),
    ("1", ("reset", "--withdraw", "{}", "--because", "wrong")),
    ("1", ("clear-event", "{}", VALVE, "--inspection", "looked")),
    ("50", (*DIRECTIVE, "--every-hours", "{}")),
    ("6", (*DIRECTIVE, "--within-months", "{}")),
    ("50", (*CONCESSION, "--hours", "{}")),
    ("900", (*CONCESSION, "--until", "2027-01-01", "--life-limit", "{}")),
    ("1", ("presume", "Linnet One", "{}")),
)
WRONG = (
    "",
    " ",
    "1e9",
    "-3",
    "nan",
    "inf",
    "12:30",
    "1,234",
    "1.5.5",
    "9" * 30,
    str(2**63),
    "½",
    "0x10",
    "ten",
)
NOT_A_DAY = ("2026-02-30", "02/03/2026", "20260302", "", "yesterday", "12026-01-01")
# Views, each of a day at {}.
VIEWS = (
    ("status", "Linnet One", "--on", "{}"),
    ("life", "--on", "{}"),
    ("life", "Linnet One", "--within-months", "600", "--on", "{}"),
    ("fitted", "Linnet One", "--on", "{}"),
    ("fitted", "Linnet One", "--believed", "{}"),
    ("fitted", "Linnet One", "--against", "{}"),
    ("directives", "Linnet One", "--on", "{}"),
    ("concessions", "--on", "{}"),
    ("mod", "Linnet One", "--on", "{}"),
)
# Each names something by an empty word, as a script does whose variable was never set.
EMPTY_NAMES = (
    ("limit", "", "--hours", "500", "--source", "Manual", "--for", "Linnet"),
    ("limit", "PW 1187", "--starts", "500", "--source", "Manual", "--for", ""),
    ("limit", "PW 1187", "--starts", "500", "--source", "Manual", "--mod", ""),
    ("limit", "PW 1187", "--starts", "500", "--source", "Manual", "--without-mod", ""),
    ("limit", "PW 1187", "--starts", "500", "--source", "Manual", "--document", ""),
    ("identify", "Linnet Two", "3", "exhaust valve", "--found", "worn", "--part", ""),
    ("strip", VALVE, "--found", "worn", "--control", "tag", "--reading", "1000", "--from", ""),
    ("recall", "--part", "PW 1187", "--firm", ""),
    ("recall", VALVE, "--hold", ""),
    (
        "directive",
        "D 8",
        "--title",
        "Look",
        "--method",
        "Look",
        "--effective",
        "2026-01-01",
        "--for",
        "Linnet",
    )
    + ("--part", ""),
    ("directive", "D 7", "--withdraw", ""),
    ("comply", "D 7", "Linnet One", "--method", "looked", "--document", ""),
    (*CONCESSION, "--until", "2027-01-01", "--position", ""),
)
# What is typed beside would be passed over, and the person believe that it was done.
PASSED_OVER = (
    ("hours", "Linnet One", "--starts", "3"),
    ("event", "Linnet One", "--note", "hit a hare"),
    ("mod", "Linnet One", "--remove", "--yes"),
    ("strip", "Linnet One", "1", "--all", "--found", "worn", "--condition", "unserviceable"),
    ("strip", "Linnet One", "1", "--all", "--found", "worn", "--scrapped"),
    ("fit", "--pull", "P00001", "--from", "A-01-01"),
    ("limit", "PW 1187", "--withdraw", "1", "--because", "wrong"),
    ("limit", "PW 1187", "--hours", "1", "--mod", "M 7", "--without-mod", "M 7", "--source", "Manual"),
    ("reset", "--withdraw", "1", "--because", "wrong", "--report", "W 1"),
    ("directive", "D 7", "--withdraw", "wrong", "--due", "2027-01-01"),
    ("concession", "C 12", VALVE, "Linnet One", "--withdraw", "wrong"),
)


@pytest.fixture
def tags(workshop: Shop) -> dict[str, str]:
    """A valve fitted in Linnet One, a spare one and springs, with all that commands may name."""
    begin(workshop)
    begin(workshop, workshop.engine_two, reading=None)
    with workshop.store.writing() as session:
        add_paper(session, NewPaper(PaperKind.STATEMENT, "AA 77"), workshop.by(BEGUN_ON))
        add_mod(workshop, session, "M 7")
        things = {
            "valve": came(session, workshop, workshop.valve),
            "spare": came(session, workshop, workshop.valve),
            "springs": came(session, workshop, workshop.spring, quantity=40),
        }
        fitted(session, workshop, things["valve"], "exhaust valve", on=LONG_AGO)
        record_event(
            session, NewEvent(workshop.engine, EngineEventKind.OVERSPEED), workshop.by(LONG_AGO), sure=True
        )
        add_directive(session, looking(workshop), workshop.by(BEGUN_ON))
        limit = NewLifeLimit(LifeMeasure.STARTS, 500, workshop.valve, source="Manual")
        add_life_limit(session, limit, workshop.by(BEGUN_ON))
        reset_life(session, LifeResetOrder("W 1", things["valve"].piece), workshop.by(LONG_AGO))
        presume(session, workshop.engine_two, workshop.by(LONG_AGO))
    return {name: tag_of(workshop, thing) for name, thing in things.items()}


def looking(shop: Shop, issue: str = "", effective_on: date = BEGUN_ON) -> NewDirective:
    return NewDirective(
        "D 7", "Look", "Look", effective_on, issue, engine_type=shop.linnet, every_hours=50_00
    )


def filled(words: tuple[str, ...], tags: dict[str, str], given: str) -> list[str]:
    return [given if word == "{}" else tags.get(word.strip("{}"), word) for word in words]


def not_done(run: Run, shop: Shop, words: list[str], code_wanted: int | None = None) -> str:
    """What a command says that is refused, or called wrong usage, and leaves no entry."""
    with shop.store.reading() as session:
        before = last_entry(session)
    code, out, err = run(*words)
    with shop.store.reading() as session:
        assert last_entry(session) == before, (words, out)
    assert (code in (1, 2), out) == (True, ""), (words, out)
    assert code_wanted in (None, code), (words, err)
    if code == 1:
        assert err.count("\n") == 1 and err.endswith((".\n", ").\n")), (words, err)
    return err


@pytest.mark.parametrize(("sound_figure", "words"), FIGURES, ids=lambda words: " ".join(words)[:40])
def test_what_is_no_figure_is_refused(
    run: Run, workshop: Shop, tags: dict[str, str], sound_figure: str, words: tuple[str, ...]
) -> None:
    for given in WRONG:
        if given.strip() or words[words.index("{}") - 1] != "--unread":
            not_done(run, workshop, filled(words, tags, given))
    code, _, err = run(*filled(words, tags, sound_figure))
    assert code == 0, err
    assert sound(workshop)


@pytest.mark.parametrize("words", EMPTY_NAMES, ids=lambda words: " ".join(words)[:40])
def test_an_empty_name_is_not_taken_for_none(
    run: Run, workshop: Shop, tags: dict[str, str], words: tuple[str, ...]
) -> None:
    not_done(run, workshop, filled(words, tags, ""), 1)


@pytest.mark.parametrize("words", PASSED_OVER, ids=lambda words: " ".join(words)[:40])
def test_nothing_that_is_typed_is_passed_over(
    run: Run, workshop: Shop, tags: dict[str, str], words: tuple[str, ...]
) -> None:
    not_done(run, workshop, filled(words, tags, ""), 2)


@pytest.mark.parametrize("words", VIEWS, ids=" ".join)
def test_a_view_is_of_a_day_that_there_was(
    run: Run, workshop: Shop, tags: dict[str, str], words: tuple[str, ...]
) -> None:
    for day in ("0001-01-01", "1899-12-31", "9999-12-31"):
        said = not_done(run, workshop, filled(words, tags, day), 1)
        assert "in the future" in said or "before there were aero engines" in said
    for day in NOT_A_DAY:
        not_done(run, workshop, filled(words, tags, day), 2)
    assert run(*filled(words, tags, "1900-01-01"))[0] == 0
    assert run(*filled(words, tags, str(TODAY)))[0] == 0


def test_a_mod_is_embodied_on_the_day_that_is_named(run: Run, workshop: Shop, tags: dict[str, str]) -> None:
    code, _, err = run("mod", "Linnet One", "M 7", "--yes", "--on", str(LONG_AGO))
    assert code == 0, err
    with workshop.store.reading() as session:
        (mod,) = mods_on(session, workshop.engine, TODAY)
    assert (mod.embodied, mod.since_on) == (True, LONG_AGO)


def test_a_directive_for_a_batch_is_not_given_a_piece(run: Run, workshop: Shop, tags: dict[str, str]) -> None:
    said = not_done(run, workshop, [*DIRECTIVE, "--batch", tags["valve"]], 1)
    assert "is a single piece" in said


@pytest.mark.parametrize(
    ("field", "terms"),
    [
        ("effective_on", {"effective_on": date(1, 1, 1)}),
        ("effective_on", {"effective_on": date(9999, 12, 31)}),
        ("due_on", {"due_on": date(9999, 12, 31)}),
        ("within_months", {"within_months": 2**31}),
        ("every_months", {"every_months": 1201}),
        ("every_hours", {"every_hours": 9_999_999_00}),
    ],
)
def test_a_directive_that_nobody_can_mean_is_refused(
    shop: Shop, field: str, terms: dict[str, object]
) -> None:
    new = NewDirective(
        **{"reference": "D 7", "title": "Look", "method": "Look", "effective_on": TODAY}
        | {"engine_type": shop.linnet}
        | terms  # type: ignore[arg-type]
    )
    with pytest.raises(FieldRefused) as caught, shop.store.writing() as session:
        add_directive(session, new, shop.by())
    assert caught.value.field == field


def test_an_issue_to_come_leaves_no_day_without_its_directive(shop: Shop) -> None:
    comes = TODAY + timedelta(days=30)
    with shop.store.writing() as session:
        first = add_directive(session, looking(shop), shop.by(BEGUN_ON))
        reissue_directive(session, first, looking(shop, "2", comes), shop.by())
    with shop.store.reading() as session:
        assert [line.issue for line in directives_of(session, shop.engine)] == [""]
    with shop.store.writing() as session:
        comply(session, first, [Subject(engine=shop.engine)], "looked", shop.by())
    shop.clock.instant += timedelta(days=30)
    with shop.store.reading() as session:
        assert [line.issue for line in directives_of(session, shop.engine)] == ["2"]
    assert sound(shop)
