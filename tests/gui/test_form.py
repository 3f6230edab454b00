"""A form is filled in like a paper tag, says what is wrong where it is wrong, and loses nothing unasked."""

from __future__ import annotations

import threading
import tkinter as tk
from collections.abc import Callable
from datetime import date
from pathlib import Path
from tkinter import ttk
from typing import Any

import pytest

from gui.job import Job
from gui.shown import Choice, ChosenFile, Field, FieldKind, Hit, Values
from gui.widgets.dates import read_date
from gui.widgets.editors import ChoiceEditor, first_begun
from gui.widgets.form import Form
from invdb.terms import FieldRefused, Origin, PaperKind, Refused
from tests.gui.desk import KEY_NAMES, Desk

RECEIVED = date(1934, 3, 1)


def whole_number(value: str, _values: Values) -> None:
    if not value.isdigit() or int(value) < 1:
        raise Refused(f"“{value}” is not a number of pieces.", "Count them in whole numbers from 1.")


def find_part(_job: Job, words: str) -> list[Hit]:
    return [Hit("LN0412-K exhaust valve", "B-12", "part", 412)] if "LN" in words else []


GOODS_IN = (
    Field("part", "Part", FieldKind.FIND, needed=True, find=find_part, section="What it is"),
    Field(
        "origin",
        "Origin",
        FieldKind.CHOICE,
        choices=tuple(Choice(origin, origin.value) for origin in Origin),
        start=Origin.NEW,
        needed=True,
    ),
    Field("heat", "Heat number", shown_when=lambda values: values["origin"] == Origin.MADE_HERE),
    Field("serial", "Maker's serial", kept=False),
    Field("quantity", "Quantity", FieldKind.QUANTITY, start="1", unit="pieces", check=whole_number),
    Field("received", "Received on", FieldKind.DATE, start=RECEIVED, needed=True),
    Field("bin", "Bin", start="B-12", section="Where it goes"),
    Field(
        "checks",
        "Receiving checks",
        FieldKind.TICKS,
        choices=(Choice("part", "right part"), Choice("damage", "no damage")),
    ),
    Field("sodium", "Sodium-filled", FieldKind.TICK),
    Field(
        "papers",
        "Papers",
        FieldKind.FILES,
        choices=tuple(Choice(kind, kind.value) for kind in PaperKind),
        kept=False,
    ),
    Field("note", "Note", FieldKind.LINES, kept=False),
)


class Booking:
    """A goods in form at a desk, and what came of it."""

    def __init__(self, desk: Desk, act: Callable[[Job, dict[str, Any]], Any] | None = None) -> None:
        self.desk = desk
        self.saved: list[dict[str, Any]] = []
        self.left = 0
        self.form = Form(
            desk.root,
            desk.theme,
            desk.background,
            GOODS_IN,
            act or self._book,
            title="Goods in",
            save_word="Book in",
            on_saved=lambda tag: f"Booked in as {tag}.",
            on_leave=self._leave,
        )
        self.form.pack(fill="both", expand=True)
        desk.root.update()
        desk.root.focus_force()
        self.form.begin()
        desk.root.update()

    def _book(self, _job: Job, values: dict[str, Any]) -> str:
        self.saved.append(values)
        return "T0007-4"

    def _leave(self) -> None:
        self.left += 1

    def find_the_part(self) -> None:
        self.form.editors["part"].focus_field()
        self.desk.root.update()
        self.desk.type("LN")
        box = self.form.editors["part"].box  # type: ignore[attr-defined]
        self.desk.until(box.list.dropped)
        self.desk.press("<Return>")

    def fill(self, name: str, text: str) -> None:
        self.form.editors[name].focus_field()
        self.desk.root.update()
        self.desk.press("<Delete>")
        self.desk.type(text)

    def where(self) -> str:
        """The name of the field that has the focus."""
        focus = f"{self.desk.root.focus_get()}."
        editors = self.form.editors.items()
        return next((name for name, editor in editors if focus.startswith(f"{editor}.")), focus)


def test_it_begins_at_the_first_empty_field_and_enter_goes_on(desk: Desk) -> None:
    booking = Booking(desk)
    assert booking.where() == "part"
    booking.find_the_part()
    assert booking.where() == "origin"
    went = []
    for _ in range(5):
        desk.press("<Return>")
        went.append(booking.where())
    assert went == ["serial", "quantity", "received", "bin", "checks"]


def test_control_enter_saves_what_was_filled_in(desk: Desk) -> None:
    booking = Booking(desk)
    booking.find_the_part()
    booking.fill("serial", "A17")
    booking.fill("quantity", "3")
    booking.form.editors["checks"].focus_field()
    desk.press(" ")
    desk.press("<Control-Return>")
    desk.settle()
    assert booking.saved == [
        {
            "part": 412,
            "origin": Origin.NEW,
            "serial": "A17",
            "quantity": "3",
            "received": RECEIVED,
            "bin": "B-12",
            "checks": frozenset({"part"}),
            "sodium": False,
            "papers": (),
            "note": "",
        }
    ]
    assert booking.form.foot.words() == "✓ Booked in as T0007-4."


def test_a_wrong_field_says_why_as_one_leaves_it_and_is_glad_when_it_is_right(desk: Desk) -> None:
    booking = Booking(desk)
    booking.fill("quantity", "5x")
    assert booking.form.message_of("quantity") == ""
    desk.press("<Return>")
    assert "“5x” is not a number of pieces. Count them" in booking.form.message_of("quantity")
    assert booking.where() == "received"
    booking.fill("quantity", "5")
    assert booking.form.message_of("quantity") == ""


def test_saving_with_something_wrong_saves_nothing_and_goes_to_the_first(desk: Desk) -> None:
    booking = Booking(desk)
    booking.fill("quantity", "0")
    booking.fill("received", "yesterday")
    desk.press("<Control-Return>")
    desk.settle()
    assert booking.saved == []
    assert booking.where() == "part"
    assert "3 fields are not right yet" in booking.form.foot.words()
    assert booking.form.message_of("part") == "✕ “Part” is still empty."
    assert "“yesterday” is not a day." in booking.form.message_of("received")


def test_what_was_typed_but_not_found_is_no_part(desk: Desk) -> None:
    booking = Booking(desk)
    desk.type("barrel")
    desk.press("<Tab>")
    desk.until(lambda: booking.form.message_of("part"))
    assert "“barrel” is not chosen yet." in booking.form.message_of("part")


def test_a_refusal_of_the_act_stands_beneath_its_field(desk: Desk) -> None:
    def duplicate(_job: Job, values: dict[str, Any]) -> None:
        raise FieldRefused("serial", f"Serial {values['serial']} is already on T0001-3.", "Open that piece.")

    booking = Booking(desk, duplicate)
    booking.find_the_part()
    booking.fill("serial", "A17")
    booking.form.save()
    desk.settle()
    assert booking.form.message_of("serial") == "✕ Serial A17 is already on T0001-3. Open that piece."
    assert booking.where() == "serial"


def test_a_refusal_stays_when_the_key_that_saved_is_let_go(desk: Desk) -> None:
    def duplicate(_job: Job, values: dict[str, Any]) -> None:
        raise FieldRefused("serial", f"Serial {values['serial']} is already on T0001-3.", "Open that piece.")

    booking = Booking(desk, duplicate)
    booking.find_the_part()
    booking.fill("serial", "A17")
    booking.form.save()
    desk.settle()
    desk.root.focus_get().event_generate("<KeyRelease-Return>")  # type: ignore[union-attr]
    desk.root.update()
    assert booking.form.message_of("serial").startswith("✕ Serial A17")


def test_what_is_saved_stays_saved_until_a_key_changes_something(desk: Desk) -> None:
    booking = Booking(desk)
    booking.find_the_part()
    booking.fill("serial", "A17")
    desk.press("<Control-Return>")
    desk.settle()
    booking.form.editors["serial"].focus_field()
    desk.root.update()
    desk.press("<Left>")
    assert booking.form.foot.words() == "✓ Booked in as T0007-4."
    booking.form.save()
    desk.settle()
    assert len(booking.saved) == 1


def test_from_the_last_field_one_goes_on_to_the_button_that_saves(desk: Desk) -> None:
    booking = Booking(desk)
    ttk.Button(desk.root, text="Reverse it").pack()
    booking.form.editors["note"].focus_field()
    desk.root.update()
    desk.press("<Tab>")
    following = desk.root.focus_get()
    assert following is not None
    assert following.cget("text") == "Book in"


def test_control_a_takes_all_that_stands_in_a_field(desk: Desk) -> None:
    booking = Booking(desk)
    booking.form.editors["bin"].focus_field()
    desk.root.update()
    desk.press("<Home>", "<Control-a>", "C")
    assert booking.form.editors["bin"].get() == "C"


def test_a_letter_within_a_word_chooses_nothing(desk: Desk) -> None:
    booking = Booking(desk)
    booking.form.editors["origin"].focus_field()
    desk.root.update()
    desk.press("v")
    assert booking.form.editors["origin"].get() is Origin.NEW
    desk.press("<Tab>")
    booking.form.editors["origin"].focus_field()
    desk.root.update()
    desk.press("h")
    assert booking.form.editors["origin"].get() is Origin.MADE_HERE


RETURNS = (
    Choice("handled", "handled: to be inspected again"),
    Choice("untouched", "untouched: good stock again at once"),
    Choice("altered", "altered on the owner's bench"),
)


def returned(desk: Desk, none: str = "") -> ChoiceEditor:
    """A choice box that has the focus, with nothing chosen."""
    editor = ChoiceEditor(desk.root, desk.theme, Field("as", "Returned as", FieldKind.CHOICE), none)
    editor.offer(RETURNS)
    editor.pack()
    desk.root.update()
    editor.focus_field()
    desk.root.update()
    return editor


def test_a_choice_box_is_as_wide_as_its_longest_choice_but_not_wider_than_a_form(desk: Desk) -> None:
    editor = returned(desk)
    narrow = editor.winfo_reqwidth()
    editor.fit_choices()
    desk.root.update()
    assert editor.winfo_reqwidth() > narrow
    assert editor.box.cget("width") > max(len(choice.word) for choice in RETURNS)
    editor.offer((Choice("long", "x" * 400),))
    editor.fit_choices()
    desk.root.update()
    assert editor.winfo_reqwidth() < desk.root.winfo_width()


def type_at(editor: ChoiceEditor, text: str, *, from_ms: int, apart_ms: int) -> None:
    for at, letter in enumerate(text):
        when = from_ms + at * apart_ms
        editor.box.event_generate(f"<Key-{KEY_NAMES.get(letter, letter)}>", time=when)
        editor.update()


@pytest.mark.parametrize(
    ("typed", "chosen"),
    [("u", 1), ("Good", 1), ("al", 2), ("owner", 2), ("d", None), ("touched", None), ("s", 1), ("s b", None)],
)
def test_typing_goes_only_to_what_begins_so(typed: str, chosen: int | None) -> None:
    assert first_begun([choice.word for choice in RETURNS], typed) == chosen


def test_a_sentence_typed_into_a_choice_box_leaves_it_as_it_was(desk: Desk) -> None:
    editor = returned(desk)
    editor.set("handled")
    type_at(editor, "Dropped under the bench", from_ms=10_000, apart_ms=200)
    assert editor.get() == "handled"
    type_at(editor, "as new", from_ms=20_000, apart_ms=200)
    assert editor.get() == "handled", "what begins like another choice and goes on otherwise is none of them"


def test_after_a_pause_typing_begins_a_new_word(desk: Desk) -> None:
    editor = returned(desk)
    type_at(editor, "al", from_ms=10_000, apart_ms=100)
    assert editor.get() == "altered"
    type_at(editor, "u", from_ms=15_000, apart_ms=0)
    assert editor.get() == "untouched"


def test_a_box_that_filters_reads_all_until_something_is_chosen(desk: Desk) -> None:
    editor = returned(desk, none="all")
    assert editor.box.get() == "all" and editor.get() is None and not editor.filled()
    desk.type("hand")
    assert editor.get() == "handled" and editor.filled()
    desk.press("<BackSpace>")
    assert editor.box.get() == "all" and editor.get() is None
    editor.set("altered")
    editor.box.current(0)
    assert editor.get() is None


@pytest.mark.parametrize("field", [None, "heat"])
def test_a_refusal_of_no_field_that_is_shown_stands_at_the_foot(desk: Desk, field: str | None) -> None:
    def refuse(_job: Job, _values: object) -> None:
        if field:
            raise FieldRefused(field, "The store is read-only.", "Ask who keeps it.")
        raise Refused("The store is read-only.", "Ask who keeps it.")

    booking = Booking(desk, refuse)
    booking.find_the_part()
    booking.form.save()
    desk.settle()
    assert booking.form.foot.words() == "✕ The store is read-only. Ask who keeps it."


def test_a_form_whose_act_broke_can_be_saved_again(desk: Desk) -> None:
    tries: list[object] = []

    def breaks_once(_job: Job, values: object) -> str:
        tries.append(values)
        if len(tries) == 1:
            raise OSError("disk full")
        return "T0008-2"

    booking = Booking(desk, breaks_once)
    booking.find_the_part()
    booking.form.save()
    desk.settle()
    assert "disk full" in desk.failures[0]
    booking.form.save()
    desk.settle()
    assert booking.form.foot.words() == "✓ Booked in as T0008-2."


def test_escape_leaves_at_once_if_nothing_would_be_lost(desk: Desk) -> None:
    booking = Booking(desk)
    desk.press("<Escape>")
    assert booking.left == 1


def test_escape_asks_in_the_form_itself_if_something_would_be_lost(desk: Desk) -> None:
    booking = Booking(desk)
    booking.fill("serial", "A17")
    desk.press("<Escape>")
    assert booking.left == 0
    assert "lose what was filled in" in booking.form.foot.words()
    desk.press("<Escape>")
    assert booking.left == 0 and booking.form.foot.words() == ""
    desk.press("<Escape>", "<Tab>", "<Return>")
    assert booking.left == 1


def test_who_stays_goes_on_in_the_field_one_was_in(desk: Desk) -> None:
    booking = Booking(desk)
    booking.fill("serial", "A1")
    desk.press("<Escape>", "<Escape>", "<End>")
    desk.type("7")
    assert booking.form.editors["serial"].raw() == "A17"


def test_a_form_saved_leaves_without_asking(desk: Desk) -> None:
    booking = Booking(desk)
    booking.find_the_part()
    booking.form.save()
    desk.settle()
    desk.press("<Escape>")
    assert booking.left == 1


def test_another_like_this_keeps_what_is_alike(desk: Desk) -> None:
    booking = Booking(desk)
    booking.find_the_part()
    booking.fill("serial", "A17")
    booking.fill("bin", "C-2")
    booking.form.save()
    desk.settle()
    desk.press("<Return>")
    assert booking.where() == "serial"
    assert not booking.form.changed()
    desk.type("A18")
    desk.press("<Control-Return>")
    desk.settle()
    assert [(each["part"], each["serial"], each["bin"]) for each in booking.saved] == [
        (412, "A17", "C-2"),
        (412, "A18", "C-2"),
    ]


def test_a_field_is_asked_for_only_where_it_means_something(desk: Desk) -> None:
    booking = Booking(desk)
    editor = booking.form.editors["heat"]
    assert not editor.winfo_ismapped()
    booking.form.editors["origin"].focus_field()
    desk.root.update()
    desk.type("made")
    assert editor.winfo_ismapped()
    booking.find_the_part()
    booking.fill("heat", "H 118")
    booking.form.save()
    desk.settle()
    assert booking.saved[0]["origin"] is Origin.MADE_HERE and booking.saved[0]["heat"] == "H 118"


def test_papers_are_attached_with_their_kind_and_can_be_taken_off(desk: Desk) -> None:
    booking = Booking(desk)
    papers: Any = booking.form.editors["papers"]
    papers.add([Path("release.pdf"), Path("valve.jpg")])
    papers.add([Path("release.pdf")])
    desk.root.update()
    kinds = [part for row in papers._rows.winfo_children() for part in row.winfo_children()]
    box = next(part for part in kinds if part.winfo_class() == "TCombobox")
    box.current(1)
    box.event_generate("<<ComboboxSelected>>")
    desk.root.update()
    assert papers.get() == (
        ChosenFile(Path("release.pdf"), PaperKind.MAKERS_CERTIFICATE),
        ChosenFile(Path("valve.jpg"), PaperKind.RELEASE_CERTIFICATE),
    )
    take_off = [part for part in kinds if part.winfo_class() == "TButton"]
    take_off[1].invoke()
    assert [chosen.path.name for chosen in papers.get()] == ["release.pdf"]
    assert booking.form.changed()


def test_a_note_takes_enter_as_a_new_line_and_tab_goes_on(desk: Desk) -> None:
    booking = Booking(desk)
    booking.form.editors["note"].focus_field()
    desk.root.update()
    desk.press("a", "<Return>", "b")
    assert booking.form.editors["note"].get() == "a\nb"
    desk.press("<Tab>")
    assert booking.where() != "note"


def test_up_and_down_move_a_date_by_a_day(desk: Desk) -> None:
    booking = Booking(desk)
    booking.form.editors["received"].focus_field()
    desk.root.update()
    desk.press("<Down>")
    assert booking.form.editors["received"].get() == date(1934, 2, 28)
    desk.press("<Up>", "<Up>")
    assert booking.form.editors["received"].get() == date(1934, 3, 2)


def test_a_form_higher_than_its_window_scrolls_to_the_field(desk: Desk) -> None:
    desk.root.geometry("700x320")
    booking = Booking(desk)
    booking.form.editors["note"].focus_field()
    desk.root.update()
    text: tk.Text = booking.form.editors["note"].text  # type: ignore[attr-defined]
    top = text.winfo_rooty() - booking.form.winfo_rooty()
    assert top >= 0 and top + text.winfo_height() <= booking.form.foot.winfo_y()


def test_saving_can_be_stopped_before_anything_is_written(desk: Desk) -> None:
    started, let_go = threading.Event(), threading.Event()
    written: list[bool] = []

    def slow(job: Job, _values: object) -> None:
        started.set()
        let_go.wait()
        job.commit_begins()
        written.append(True)

    booking = Booking(desk, slow)
    booking.find_the_part()
    booking.form.save()
    desk.until(started.is_set)
    booking.form.stop()
    let_go.set()
    desk.settle()
    assert written == []
    assert booking.form.changed()


def test_only_what_can_be_filled_in_is_a_stop_of_the_tab_key(desk: Desk) -> None:
    booking = Booking(desk)
    stops, widget = [], desk.root.focus_get()
    for _ in range(20):
        assert widget is not None
        stops.append(widget.winfo_class())
        widget = widget.tk_focusNext()
    assert set(stops) <= {"TEntry", "TCombobox", "TCheckbutton", "TButton", "Text"}
    assert booking.where() == "part"


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("1934-03-01", RECEIVED),
        (" 1.3.1934 ", RECEIVED),
        ("", None),
    ],
)
def test_a_day_is_read(text: str, day: date | None) -> None:
    assert read_date(text) == day


@pytest.mark.parametrize("text", ["3/1/1934", "1934-02-30", "1.3", "last week", "99999999-01-01"])
def test_what_is_no_day_is_refused_with_the_way_to_write_it(text: str) -> None:
    with pytest.raises(Refused, match="1934-12-31"):
        read_date(text)


def test_opening_the_list_of_a_choice_does_not_leave_its_field(desk: Desk) -> None:
    booking = Booking(desk)
    box: Any = booking.form.editors["origin"]
    box.set(None)
    box.focus_field()
    desk.root.update()
    desk.root.tk.call("ttk::combobox::Post", str(box.box))
    desk.root.update()
    desk.until(lambda: "popdown" in str(desk.root.tk.call("focus")))
    assert booking.form.message_of("origin") == ""
    desk.root.tk.call("ttk::combobox::Unpost", str(box.box))
    desk.root.update()
    desk.press("<Tab>")
    assert booking.form.message_of("origin") == "✕ “Origin” is still empty."
