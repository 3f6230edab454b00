"""The page of instruments: what it shows and its forms, on a real store, and the page itself at the keys."""

from __future__ import annotations

import tkinter as tk
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from gui.job import Job
from gui.prefs import Prefs
from gui.shown import ChosenFile, Sort
from gui.signs import sign
from gui.view import Context
from gui.views.instruments_page import InstrumentsPage
from gui.views.instruments_presenter import InstrumentsPresenter
from invdb.acts.instrument import NewInstrument, add_instrument, calibrate, withdraw_instrument
from invdb.acts.papers import NewPaper
from invdb.rules.calibration import CalibrationState
from invdb.terms import FieldRefused, PaperKind, Refused
from tests.gui.desk import Desk
from tests.gui.stores_shop import fill_in, shown_fields, sit
from tests.shop import TODAY, Shop, sqlite_shop

DAY = timedelta(days=1)
KIND = PaperKind.CALIBRATION_CERTIFICATE
LONG_AGO = TODAY - 800 * DAY


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as opened:
        yield opened


@pytest.fixture
def gauges(shop: Shop) -> dict[str, int]:
    """A micrometer in calibration, one that is due soon, one out of it, and a straight edge; by number."""
    made = {}
    with shop.store.writing() as session:
        for number, name, until in (
            ("M 01", "micrometer, 0 to 25 mm", TODAY + 400 * DAY),
            ("M 02", "micrometer, 25 to 50 mm", TODAY + 20 * DAY),
            ("G 04", "bore gauge, 4 to 6 in", TODAY - 9 * DAY),
            ("A 01", "straight edge", None),
        ):
            new = NewInstrument(number, name, LONG_AGO if until else None, until, "Chest 2")
            made[number] = add_instrument(session, new, shop.by(LONG_AGO))
    return made


def shown(shop: Shop) -> InstrumentsPresenter:
    presenter = InstrumentsPresenter(sit(shop))
    presenter.instruments = presenter.read(Job())
    return presenter


def rows(presenter: InstrumentsPresenter, sort: Sort | None = None, words: str = "") -> list[tuple[str, ...]]:
    return [row.cells for row in presenter.page(0, 100, sort, words).rows]


def test_each_stands_with_its_calibration_and_a_sign_of_how_it_stands(
    shop: Shop, gauges: dict[str, int]
) -> None:
    presenter = shown(shop)
    assert [(cells[0], cells[4], cells[5]) for cells in rows(presenter)] == [
        ("A 01", "", "∅ never calibrated"),
        ("G 04", (TODAY - 9 * DAY).isoformat(), "! out of calibration"),
        ("M 01", (TODAY + 400 * DAY).isoformat(), "✓ in calibration"),
        ("M 02", (TODAY + 20 * DAY).isoformat(), "◷ calibration due soon"),
    ]
    signs = {row.key: row.sign for row in presenter.page(0, 9, None, "").rows}
    assert signs[gauges["G 04"]] == CalibrationState.OUT
    assert presenter.told() == "4 in use; ! 1 out of calibration, ∅ 1 never calibrated, ◷ 1 due soon."
    assert presenter.tab_words() == "! 1 out"
    assert [cells[0] for cells in rows(presenter, words="bore")] == ["G 04"]
    assert [cells[0] for cells in rows(presenter, Sort("until", True))] == ["M 01", "M 02", "G 04", "A 01"]


def test_every_state_of_a_calibration_has_a_sign_and_no_two_share_a_mark() -> None:
    assert len({sign(state).mark for state in CalibrationState}) == len(CalibrationState)


def test_of_the_chosen_one_all_is_said_with_the_days_that_are_left(
    shop: Shop, gauges: dict[str, int]
) -> None:
    with shop.store.writing() as session:
        again = NewPaper(KIND, "C 117")
        calibrate(session, gauges["M 01"], TODAY - DAY, TODAY + 300 * DAY, shop.by(), again)
    presenter = shown(shop)
    first = presenter.said_of(gauges["M 01"])
    assert first.startswith(
        f"M 01 micrometer, 0 to 25 mm: in calibration until {(TODAY + 300 * DAY).isoformat()},"
        " 300 days from now.\n"
        f"Calibrated on {(TODAY - DAY).isoformat()} by C 117, Ada Farrow, entry "
    )
    assert f"Before that on {LONG_AGO.isoformat()}.\nChest 2." in first
    assert "9 days ago" in presenter.said_of(gauges["G 04"])
    assert "never calibrated" in presenter.said_of(gauges["A 01"])
    assert presenter.said_of(99) == ""


def test_an_instrument_is_added_with_its_calibration_and_its_scan(shop: Shop, tmp_path: Path) -> None:
    scan = tmp_path / "c118.pdf"
    scan.write_bytes(b"%PDF scan")
    plan = shown(shop).add_plan()
    assert "certificate" not in shown_fields(plan, {})
    fill_in(
        plan,
        number="G 07",
        name="bore gauge, 35 to 80 mm",
        calibrated_on=TODAY - DAY,
        calibration_due_on=TODAY + 365 * DAY,
        scan=(ChosenFile(scan, KIND),),
    )
    presenter = shown(shop)
    (each,) = presenter.instruments
    assert each.certificate is not None
    assert (each.facts.words, each.certificate.reference) == ("G 07 bore gauge, 35 to 80 mm", "c118")
    kept = presenter.certificate(Job(), each.facts.id)
    path = presenter.save_certificate(Job(), kept, tmp_path / "copy.pdf")
    assert path.read_bytes() == b"%PDF scan"
    assert presenter.has_copy(each.facts.id)


def test_one_that_was_never_calibrated_is_added_and_says_so(shop: Shop) -> None:
    fill_in(shown(shop).add_plan(), number="A 01", name="straight edge")
    assert shown(shop).instruments[0].state is CalibrationState.NEVER


def test_a_calibration_is_offered_for_as_long_as_the_last(shop: Shop, gauges: dict[str, int]) -> None:
    on, until = date(2025, 3, 31), date(2026, 3, 31)
    with shop.store.writing() as session:
        gauge = add_instrument(session, NewInstrument("P 02", "pressure gauge", on, until), shop.by())
    plan = shown(shop).calibrate_plan([gauge])
    assert plan.said({}) == "Calibrated last on 2025-03-31, good until 2026-03-31."
    filled = plan.filled_by("calibrated_on", {"calibrated_on": date(2026, 2, 10)})
    assert filled == {"calibration_due_on": date(2027, 2, 10)}
    assert plan.filled_by("certificate", {"calibrated_on": date(2026, 2, 10)}) == {}
    assert plan.filled_by("calibrated_on", {"calibrated_on": None}) == {}
    never = shown(shop).calibrate_plan([gauges["A 01"]])
    assert never.filled_by("calibrated_on", {"calibrated_on": TODAY}) == {}
    assert never.said({}) == "It was never calibrated yet."


def test_a_calibration_is_recorded_by_its_certificate(shop: Shop, gauges: dict[str, int]) -> None:
    plan = shown(shop).calibrate_plan([gauges["G 04"]])
    fill_in(plan, certificate="C 119", note="Adjusted by 0.01 mm")
    presenter = shown(shop)
    each = next(each for each in presenter.instruments if each.facts.number == "G 04")
    assert each.state is CalibrationState.IN_DATE
    assert each.certificate is not None
    assert (each.certificate.reference, each.certificate.kept) == ("C 119", False)
    assert each.calibrations[0].set_by.note == "Adjusted by 0.01 mm"
    assert not presenter.has_copy(gauges["G 04"])
    with pytest.raises(Refused, match="nothing is kept here but its number"):
        presenter.certificate(Job(), gauges["G 04"])
    with pytest.raises(Refused, match="came with no certificate"):
        presenter.certificate(Job(), gauges["M 01"])


@pytest.mark.parametrize(
    ("wrong", "field", "said"),
    [
        ({"calibrated_on": LONG_AGO}, "calibrated_on", "was last calibrated on"),
        ({"calibration_due_on": TODAY - DAY}, "calibration_due_on", "It can't hold until"),
        ({"scan": (ChosenFile(Path("a.pdf"), KIND), ChosenFile(Path("b.pdf"), KIND))}, "scan", "2 files"),
        ({"scan": (ChosenFile(Path("no such file.pdf"), KIND),)}, "scan", "can't be read"),
    ],
)
def test_what_is_wrong_with_a_calibration_is_said_of_its_field(
    shop: Shop, gauges: dict[str, int], wrong: dict[str, Any], field: str, said: str
) -> None:
    plan = shown(shop).calibrate_plan([gauges["G 04"]])
    with pytest.raises(FieldRefused, match=said) as refused:
        fill_in(plan, **wrong)
    assert refused.value.field == field
    assert len(next(e for e in shown(shop).instruments if e.facts.number == "G 04").calibrations) == 1


def test_one_is_withdrawn_with_its_reason_and_stays_to_be_seen(shop: Shop, gauges: dict[str, int]) -> None:
    fill_in(shown(shop).withdraw_plan([gauges["M 01"]]), because="dropped on the floor")
    presenter = shown(shop)
    assert rows(presenter)[-1][0] == "M 01" and rows(presenter)[-1][5] == "⊣ withdrawn"
    assert presenter.said_of(gauges["M 01"]).startswith(
        f"M 01 micrometer, 0 to 25 mm: withdrawn on {TODAY.isoformat()} by Ada Farrow:"
        " dropped on the floor.\n"
    )
    assert presenter.told().startswith("3 in use;")
    assert not presenter.in_use(gauges["M 01"])
    for plan in (presenter.calibrate_plan, presenter.withdraw_plan):
        with pytest.raises(Refused, match="M 01 was withdrawn"):
            plan([gauges["M 01"]])
        with pytest.raises(Refused, match="No instrument is chosen"):
            plan([])


class InstrumentsDesk(Desk):
    """A window with the page of instruments alone in it."""

    def __init__(self, shop: Shop, folder: Path) -> None:
        super().__init__(size="760x600")
        self.shop, self.folder = shop, folder
        self.said: list[str] = []
        self.refused: list[str] = []
        self.tab = ""
        self.left = 0
        context = Context(
            theme=self.theme,
            background=self.background,
            prefs=Prefs(folder / "window.json"),
            say=self.said.append,
            refuse=self.refused.append,
            posted=lambda *_told: None,
            progress=lambda *_told: None,
            go_to=lambda *_where: None,
        )
        self.page = InstrumentsPage(
            self.root,
            context,
            sit(shop),
            InstrumentsPresenter(sit(shop)),
            deeds=(),
            ask_where=self._where,
            on_read=self._read,
            on_leave=self._leave,
        )
        self.page.pack(fill="both", expand=True)
        self.page.read()
        self.settle()
        self.page.focus_page()
        self.settle()

    def choose(self, number: str) -> None:
        """Choose that instrument in the list."""
        self.page.table.choose(self.numbers().index(number))
        self.page.focus_page()
        self.root.update()

    def numbers(self) -> list[str]:
        """The numbers in the list that can be seen."""
        tree = self.page.table.tree
        return [str(tree.item(item, "values")[0]) for item in tree.get_children()]

    def fill(self, **values: Any) -> None:
        """Fill in fields of the open form, as if they had been typed."""
        assert self.page.form is not None, "no form is open"
        for name, value in values.items():
            self.page.form.editors[name].set(value)
            self.page.form.editors[name].on_change()
        self.root.update()

    def save(self) -> None:
        """Save the open form by its key, and wait until it is left."""
        self.press("<Control-Return>")
        self.until(lambda: self.page.form is None)
        self.settle()

    def _read(self, words: str) -> None:
        self.tab = words

    def _leave(self) -> None:
        self.left += 1

    def _where(self, _parent: tk.Misc, _title: str, name: str) -> str:
        return str(self.folder / f"copy of {name}")


def at(shop: Shop, folder: Path) -> InstrumentsDesk:
    return InstrumentsDesk(shop, folder)


def test_an_empty_page_says_what_would_stand_there_and_one_begins_by_key(
    display: str, shop: Shop, tmp_path: Path
) -> None:
    desk = at(shop, tmp_path)
    words = " ".join(_labels(desk.root))
    assert "Here stands every instrument that measures" in words
    desk.press("<Insert>")
    assert desk.page.form is not None
    desk.fill(number="G 07", name="bore gauge, 35 to 80 mm")
    assert desk.page.unsaved() == "what was typed in “Another instrument”"
    desk.press("<Control-Return>")
    desk.until(lambda: desk.numbers() == ["G 07"])
    assert desk.said[-1] == "It can be named at every inspection from now on."
    desk.press("<Escape>")
    desk.until(lambda: desk.page.form is None)
    desk.press("<Escape>")
    assert desk.left == 1
    desk.close()


def test_a_calibration_is_recorded_and_one_is_withdrawn_by_keys(
    display: str, shop: Shop, gauges: dict[str, int], tmp_path: Path
) -> None:
    desk = at(shop, tmp_path)
    assert desk.tab == "! 1 out"
    desk.choose("G 04")
    assert "out of calibration, which ended" in desk.page.said()
    desk.press("<Return>")
    form = desk.page.form
    assert form is not None
    until = form.editors["calibration_due_on"].get()
    form.editors["calibrated_on"].set(TODAY - 5 * DAY)
    form.editors["calibrated_on"].on_change()
    desk.root.update()
    assert form.editors["calibration_due_on"].get() < until, "it follows the day of the calibration"
    desk.fill(certificate="C 119")
    desk.save()
    assert desk.tab == ""
    assert "C 119" in desk.page.said()
    desk.choose("M 02")
    desk.press("<Delete>")
    desk.fill(because="worn out")
    desk.save()
    assert desk.numbers() == ["A 01", "G 04", "M 01", "M 02"]
    assert "withdrawn on" in desk.page.said() and "worn out" in desk.page.said()
    assert list(desk.page.bar.buttons) == ["Add an instrument …"]
    desk.press("<F4>")
    assert "M 02 was withdrawn" in desk.refused[-1]
    desk.close()


def test_the_certificate_that_is_kept_is_saved_by_key(
    display: str, shop: Shop, gauges: dict[str, int], tmp_path: Path
) -> None:
    with shop.store.writing() as session:
        scan = NewPaper(KIND, "C 117", content=b"%PDF scan", file_name="c117.pdf")
        calibrate(session, gauges["M 01"], TODAY, TODAY + 300 * DAY, shop.by(), scan)
        withdraw_instrument(session, gauges["A 01"], "bent", shop.by())
    desk = at(shop, tmp_path)
    desk.choose("M 01")
    assert "Save its certificate …" in desk.page.bar.buttons
    desk.press("<Control-Key-s>")
    desk.until(lambda: desk.said and desk.said[-1].startswith("Saved "))
    assert (tmp_path / "copy of c117.pdf").read_bytes() == b"%PDF scan"
    desk.choose("M 02")
    assert "Save its certificate …" not in desk.page.bar.buttons
    desk.press("<Control-Key-s>")
    desk.until(lambda: desk.refused)
    assert "came with no certificate" in desk.refused[-1]
    desk.close()


def _labels(widget: tk.Misc) -> list[str]:
    found = []
    for part in widget.winfo_children():
        if part.winfo_class() == "TLabel":
            found.append(str(part.cget("text")))
        found += _labels(part)
    return found
