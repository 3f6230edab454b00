"""A page whose rows give way to a form, and come back when it is left."""

from __future__ import annotations

from tkinter import ttk

from gui.views.form_place import FormPlace
from gui.widgets.form import Form
from gui.widgets.table import Table


class FormPage(ttk.Frame):
    """What such pages have in common; each makes its own ``table`` and the place of its forms."""

    table: Table
    _place: FormPlace

    @property
    def form(self) -> Form | None:
        """The open form, if there is one."""
        return self._place.form

    def unsaved(self) -> str:
        """The open form, if anything was typed in it."""
        return self._place.unsaved()

    def focus_page(self) -> None:
        """Go on in the form, or among the rows."""
        if self.form is not None:
            self.form.go_on_filling_in()
        else:
            self.table.focus_rows()
