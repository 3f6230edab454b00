"""How soon the window is ready, against an empty Tk window of the same theme; each in a process of its own.

``python -m tests.bench.bench_window`` builds the invented workshop, then opens windows turn about on a screen
of its own. The clock runs from the start of the process until the window is drawn and waits for keys, which
is what is promised; when its first list of the store's stock is filled is printed beside it.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from invdb.demo import build_sample
from tests.bench.measure import Measure
from tests.display import virtual_screen

RATIO_MAX = 3.0
ROUNDS = 15
PATIENCE_SECONDS = 60
STORE = "sample.invdb"

EMPTY = """
import tkinter
import sv_ttk

root = tkinter.Tk()
sv_ttk.set_theme("light", root)
root.geometry("1280x800")
root.update()
print("ready", flush=True)
"""

# As a person opens it. The loop of events says how far the window is, and then ends.
OURS = """
import sys
import tkinter

from invdb.cli import main


def filled(widget):
    if widget.winfo_class() == "Treeview" and widget.get_children():
        return True
    return any(filled(child) for child in widget.winfo_children())


def until_filled(root, _threshold=0):
    root.update()
    print("ready", flush=True)
    while not filled(root):
        root.update()
    print("filled", flush=True)


tkinter.Misc.mainloop = until_filled
sys.argv = ["invdb", "open"]
main()
"""


def seconds_until(script: str, folder: Path) -> dict[str, float]:
    """Run a script in a fresh process; when it said each word, in seconds from its start."""
    own = {"INVDB_STORE": str(folder / STORE), "XDG_CONFIG_HOME": str(folder)}
    begun = time.perf_counter()
    said: dict[str, float] = {}
    with subprocess.Popen(
        [sys.executable, "-c", script], stdout=subprocess.PIPE, text=True, env=os.environ | own
    ) as process:
        assert process.stdout is not None
        for line in process.stdout:
            said[line.strip()] = time.perf_counter() - begun
        process.wait(PATIENCE_SECONDS)
    assert process.returncode == 0, f"the window ended with exit code {process.returncode}"
    return said


def measure(folder: Path) -> Iterator[Measure]:
    """Our window upon a store in a folder, and an empty one, turn about."""
    build_sample(str(folder / STORE))
    empty: list[float] = []
    ready: list[float] = []
    filled: list[float] = []
    with virtual_screen():
        for round_number in range(ROUNDS + 1):
            bare, ours = seconds_until(EMPTY, folder), seconds_until(OURS, folder)
            # The first round reads both programs from the disk.
            if round_number:
                empty.append(bare["ready"])
                ready.append(ours["ready"])
                filled.append(ours["filled"])
    reference = statistics.median(empty)
    yield Measure("the window ready", statistics.median(ready), reference, ratio_max=RATIO_MAX)
    yield Measure("its first list filled", statistics.median(filled), reference)


def main() -> int:
    """Measure and print; 0 if the window is ready within what is promised."""
    within = True
    with tempfile.TemporaryDirectory(prefix="invdb-bench-") as folder:
        for measured in measure(Path(folder)):
            print(measured)
            within &= measured.within
    return 0 if within else 1


if __name__ == "__main__":
    raise SystemExit(main())
