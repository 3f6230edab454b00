"""As what a sheet is to be written, by the ending that a person gave its file."""

from __future__ import annotations

from pathlib import Path

from invdb.terms import Refused


def ending_of(path: Path, what: str = "sheet") -> str:
    """The file's ending; Refused for any but .pdf and .xlsx."""
    ending = path.suffix.casefold()
    if ending not in (".pdf", ".xlsx"):
        raise Refused(
            f"A {what} is not written as {path.suffix or 'a file without an ending'}.",
            "End the name in .pdf or .xlsx.",
        )
    return ending
