"""What the README says of the command line is so: its examples run, and its list of commands is whole."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
import typer

from invdb.cli.commands import app
from invdb.demo import build_sample
from invdb.terms import SAFETY_LINE
from tests.cli.conftest import Run

README = Path(__file__).parents[2] / "README.md"
SECTION = README.read_text(encoding="utf-8").split("## From the command line")[1].split("\n## ")[0]
EXAMPLES = [line.partition("#")[0].strip() for line in SECTION.splitlines() if line.startswith("invdb ")]


@pytest.fixture(scope="module")
def museum(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The store of the invented workshop."""
    where = tmp_path_factory.mktemp("museum") / "harrowmere.invdb"
    build_sample(str(where))
    return str(where)


@pytest.mark.parametrize("example", EXAMPLES)
def test_each_example_runs_and_says_what_it_is(
    example: str, run: Run, museum: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, err = run(*shlex.split(example)[1:], where=museum, who="Ivor Penhallow")
    assert code == 0, err
    assert len(out.splitlines()) > 2
    assert SAFETY_LINE in out or " mod " in example
    named = re.findall(r"\S+\.(?:pdf|xlsx)", example)
    assert all((tmp_path / name).stat().st_size for name in named)


def test_every_command_is_listed() -> None:
    listed = re.findall(r"`([a-z-]+)`", SECTION.partition("| commands |")[2].partition("```")[0])
    commands = set(typer.main.get_command(app).commands)  # type: ignore[attr-defined]
    assert sorted(listed) == sorted(commands)
