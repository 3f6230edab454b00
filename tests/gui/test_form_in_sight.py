"""In a form higher than its window one sees where one is, and what is said of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from gui.job import Job
from gui.shown import Field, FieldKind
from gui.widgets.form import Form
from invdb.terms import FieldRefused
from tests.gui.desk import Desk

BEFORE = tuple(Field(f"f{at}", f"Field {at}", FieldKind.LINES, start="seen") for at in range(9))


def opened(desk: Desk, *last: Field, act: Callable[[Job, dict[str, Any]], None]) -> Form:
    desk.root.geometry("520x360")
    form = Form(
        desk.root,
        desk.theme,
        desk.background,
        (*BEFORE, *last),
        act,
        title="Inspect",
        on_saved=lambda _made: "",
        on_leave=lambda: None,
    )
    form.pack(fill="both", expand=True)
    desk.root.update()
    desk.root.focus_force()
    form.editors[last[0].name].focus_field()
    desk.root.update()
    return form


def in_sight(form: Form, name: str) -> bool:
    """Whether the field and all that is said beneath it can be seen."""
    editor, message, above = form.editors[name], form._messages[name], form._scrolled.winfo_rooty()
    bottom = message.winfo_rooty() + message.winfo_height() - above
    return editor.winfo_rooty() >= above and bottom <= form._scrolled.winfo_height()


def test_a_field_left_empty_is_seen_with_what_is_said_of_it(desk: Desk) -> None:
    reason = Field("reason", "Reason", FieldKind.LINES, needed=True)
    form = opened(desk, reason, act=lambda _job, _values: None)
    desk.press("<Control-Return>")
    desk.root.update()
    assert form.message_of("reason") and in_sight(form, "reason")


def test_a_refusal_of_many_lines_is_seen_whole_with_its_field(desk: Desk) -> None:
    def refused(_job: Job, _values: object) -> None:
        raise FieldRefused("decided", "It can't be so, " + "and so on and on, " * 12, "Decide otherwise.")

    form = opened(desk, Field("decided", "Decided", start="x"), Field("besides", "Besides"), act=refused)
    form.editors["f0"].focus_field()
    desk.root.update()
    form.save()
    desk.settle()
    desk.root.update()
    assert form.message_of("decided") and in_sight(form, "decided")
