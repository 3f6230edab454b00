"""Every measure in one run: ours, the reference, and the ratio; ``tests/bench/run`` does its own set-up.

``python -m tests.bench`` runs them all, each in a fresh process, and takes half an hour, most of it for
building the large stores: one that finding and proposing share, and one full of engines. Named ones run
alone: ``python -m tests.bench posting window``. Exit code 0 if everything is within what is promised.
"""

from __future__ import annotations

import os
import platform
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.bench.large_store import Size, build

# Find first, since the kits to propose are put into the same store.
ON_LARGE_STORE = ("find", "propose")
ALONE = ("kitting", "fits", "posting", "paper", "window", "due", "short")


def run(name: str, *arguments: str) -> bool:
    """Run one benchmark in a fresh process; whether all of it is within what is promised."""
    print(f"\n{name}", flush=True)
    command = [sys.executable, "-m", f"tests.bench.bench_{name}", *arguments]
    return subprocess.run(command, check=False).returncode == 0


def main() -> int:
    """Run the benchmarks named, or all of them."""
    known = (*ALONE, *ON_LARGE_STORE)
    named = sys.argv[1:] or known
    strange = [name for name in named if name not in known]
    if strange:
        print(f"There is no benchmark {strange[0]!r}; there are: {', '.join(known)}.", file=sys.stderr)
        return 2
    print(f"Python {platform.python_version()}, {os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}")
    over = [name for name in ALONE if name in named and not run(name)]
    large = [name for name in ON_LARGE_STORE if name in named]
    if large:
        with tempfile.TemporaryDirectory(prefix="invdb-bench-") as folder:
            store = Path(folder) / "large.invdb"
            print("\nbuilding the large store", flush=True)
            build(store, Size())
            over += [name for name in large if not run(name, str(store))]
    print("\neverything is within what is promised" if not over else f"\nover: {', '.join(over)}")
    return 0 if not over else 1


if __name__ == "__main__":
    raise SystemExit(main())
