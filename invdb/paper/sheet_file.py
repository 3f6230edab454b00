"""Where a finished sheet goes: a file of its own or one already open."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import BinaryIO

from invdb.terms import Refused

SheetTarget = str | os.PathLike[str] | BinaryIO


def write_whole(content: bytes, target: SheetTarget) -> None:
    """Write a whole sheet to a path or an open binary file. A path gets all of it or stays as it was.

    Raises Refused if the path cannot be written.
    """
    if not isinstance(target, str | os.PathLike):
        target.write(content)
        return
    path = Path(target)
    refuse_unwritable(path)
    try:
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=f".{path.name[:40]}.", delete=False) as part:
            unfinished = Path(part.name)
            try:
                part.write(content)
                part.close()
                # A temporary file is for its owner alone; a sheet is as open as any file made here.
                unfinished.chmod(0o666 & ~_file_mode_mask())
                unfinished.replace(path)
            except OSError:
                unfinished.unlink(missing_ok=True)
                raise
    except OSError as error:
        raise _unwritable(path, error) from error


def refuse_unwritable(path: Path) -> None:
    """Refuse, before anything is done, a path to which no sheet can be written; writes nothing there."""
    if path.exists() and not path.is_file():
        raise Refused(f"The sheet cannot be written to {path}, which is no file.", "Name a file.")
    try:
        with tempfile.TemporaryFile(dir=path.parent):
            pass
    except OSError as error:
        raise _unwritable(path, error) from error


def _unwritable(path: Path, error: OSError) -> Refused:
    reason = error.strerror or type(error).__name__
    return Refused(
        f"The sheet cannot be written to {path} ({reason}).",
        "Close it if it is open elsewhere, or choose another folder.",
    )


def _file_mode_mask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
