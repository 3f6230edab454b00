"""A small workshop for the command line, and typing commands in it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from invdb.cli import main
from tests.shop import Shop, sqlite_shop

Said = tuple[int, str, str]
Run = Callable[..., Said]


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Shop]:
    with sqlite_shop(tmp_path) as shop:
        yield shop


@pytest.fixture
def run(workshop: Shop, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command as Ada Farrow on the small workshop: its exit code, what it said, and its refusal."""

    def _run(*words: str, who: str | None = "Ada Farrow", where: str | None = None) -> Said:
        before = ["--as", who] if who else []
        monkeypatch.setattr(sys, "argv", ["invdb", "--store", where or workshop.store.where, *before, *words])
        code = 0
        try:
            main()
        except SystemExit as ended:
            code = ended.code if isinstance(ended.code, int) else 1
        out, err = capsys.readouterr()
        assert "Traceback" not in err
        return code, out, err

    return _run
