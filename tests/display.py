"""A virtual screen for the window tests, so that they need no desk and disturb nobody who sits at one."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

SCREEN = "1920x1200x24"


@contextmanager
def virtual_screen() -> Iterator[str]:
    """Start Xvfb on a free display number, point DISPLAY at it, and stop it at the end.

    Yields the display's name, such as ``:1``. Where windows are drawn without X (macOS, Windows) it starts
    nothing and yields an empty string. Raises RuntimeError where Xvfb is needed and missing: a window test
    that cannot open a window fails, it is never passed over.
    """
    if sys.platform in ("darwin", "win32"):
        yield ""
        return
    xvfb = shutil.which("Xvfb")
    if xvfb is None:
        raise RuntimeError(
            "Xvfb is missing: install it (on Debian: apt-get install xvfb) and run this again."
        )
    before = os.environ.get("DISPLAY")
    read_end, write_end = os.pipe()
    server = subprocess.Popen(
        [xvfb, "-displayfd", str(write_end), "-screen", "0", SCREEN, "-dpi", "96", "-nolisten", "tcp"],
        pass_fds=(write_end,),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        os.close(write_end)
        with os.fdopen(read_end) as answer:
            number = answer.readline().strip()
        if not number:
            raise RuntimeError(f"Xvfb ended with exit code {server.wait()} before it opened a display.")
        os.environ["DISPLAY"] = f":{number}"
        yield f":{number}"
    finally:
        if before is None:
            os.environ.pop("DISPLAY", None)
        else:
            os.environ["DISPLAY"] = before
        server.terminate()
        server.wait()
