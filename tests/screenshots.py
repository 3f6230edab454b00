"""Make the pictures of the README anew: ``python -m tests.screenshots`` from the checkout.

The invented workshop is built in a folder of its own, its window opened on a virtual screen and used as a
person would, and what stands on the screen is written to ``.screenshots``.
"""

from __future__ import annotations

import sys
import tempfile
import time
import tkinter as tk
from collections.abc import Callable
from pathlib import Path

from PIL import ImageGrab

from gui.app import House
from gui.prefs import Prefs
from gui.shell import Shell
from gui.widgets.engine_picture import EnginePicture
from invdb import store
from invdb.acts.numbers import engine_named, part_by_number, thing_by_tag
from invdb.demo import build_sample
from tests.display import virtual_screen

PICTURES = Path(__file__).parent.parent / ".screenshots"
SIZE = (1280, 800)
SECONDS_MAX = 60.0
# A barrel with a gap in its history, and a cylinder whose kit can be completed only with an alternate.
TAG = "T00567-P"
ENGINE = "Linnet 117"
CYLINDER = "4"
# An engine whose masses and clearances were measured as built, and a part of two revisions.
MEASURED = "Linnet 142"
PART = "LN0412-Q"


class Sitting:
    """Somebody at the window: waits till it is still, presses keys, and takes its picture."""

    def __init__(self, shell: Shell) -> None:
        self._shell = shell
        self._root = shell.root

    def until(self, done: Callable[[], bool], still_for: float = 0.6) -> None:
        """Let the window work until something holds and nothing has been under way for a while."""
        began = quiet_since = time.monotonic()
        while True:
            self._root.update()
            now = time.monotonic()
            if self._shell.background.busy() or not done():
                quiet_since = now
            if now - quiet_since > still_for:
                return
            if now - began > SECONDS_MAX:
                raise RuntimeError("the window did not come to rest")
            time.sleep(0.01)

    def picture(self, name: str) -> Path:
        """Write what stands on the screen."""
        width, height = SIZE
        self._root.update()
        image = ImageGrab.grab(bbox=(0, 0, width, height))
        path = PICTURES / name
        image.quantize(colors=128).save(path, optimize=True)
        return path


def take(folder: Path) -> list[Path]:
    """Build the workshop in a folder and take every picture; returns where they are."""
    where = str(folder / "harrowmere.invdb")
    build_sample(where)
    opened = store.open_store(where)
    with opened.reading() as session:
        engine = engine_named(session, ENGINE)
        measured = engine_named(session, MEASURED)
        piece = thing_by_tag(session, TAG).piece
        part = part_by_number(session, PART)
    opened.close()
    prefs = Prefs.read(folder / "settings.json")
    prefs.person = "Dunya Halloran"
    shell = Shell(tk.Tk(className="invdb"), prefs)
    shell.root.geometry("{}x{}+0+0".format(*SIZE))
    house = House(where, prefs)
    house.furnish(shell)
    sitting = Sitting(shell)
    sitting.until(lambda: house.sitting is not None)
    shell.go_to("stores", ("piece", piece, TAG))
    sitting.until(lambda: True)
    stores = sitting.picture("stores.png")
    shell.go_to("bench", ("engine", engine))
    sitting.until(lambda: True)
    picture = _engine_picture(shell.root)
    picture.focus_force()
    picture.choose(CYLINDER)
    picture.event_generate("<Return>")
    sitting.until(lambda: True)
    bench = sitting.picture("bench.png")
    shell.go_to("bench", ("engine", measured))
    shell.root.event_generate("<F8>")
    sitting.until(lambda: True)
    fits = sitting.picture("fits.png")
    shell.go_to("engines", ("engine", engine))
    sitting.until(lambda: True)
    engines = sitting.picture("engines.png")
    shell.go_to("catalogue", ("part", part))
    sitting.until(lambda: True)
    catalogue = sitting.picture("catalogue.png")
    shell.go_to("buying", ("board", None))
    sitting.until(lambda: True)
    buying = sitting.picture("buying.png")
    shell.close()
    house.close()
    return [stores, bench, fits, engines, catalogue, buying]


def _engine_picture(widget: tk.Misc) -> EnginePicture:
    return next(child for child in _all_below(widget) if isinstance(child, EnginePicture))


def _all_below(widget: tk.Misc) -> list[tk.Misc]:
    below: list[tk.Misc] = []
    for child in widget.winfo_children():
        below += [child, *_all_below(child)]
    return below


def main() -> int:
    """Take the pictures and say where they are."""
    PICTURES.mkdir(exist_ok=True)
    with virtual_screen(), tempfile.TemporaryDirectory() as folder:
        for path in take(Path(folder)):
            print(f"Wrote {path.relative_to(PICTURES.parent)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
