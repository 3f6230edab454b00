"""The checkout is laid out as DEVELOPERS.md says, and the README's two commands can be run."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

PROJECT = Path(__file__).parent.parent
TOP_LEVEL = {
    "DEVELOPERS.md",
    "README.md",
    "gui",
    "invdb",
    "migrations",
    "pyproject.toml",
    "sample_catalog",
    "tests",
}


MADE_BY_BUILDS = {"build", "dist", "invdb.egg-info", "__pycache__"}


def test_the_visible_top_level_holds_the_project_and_nothing_else() -> None:
    visible = {path.name for path in PROJECT.iterdir() if not path.name.startswith(".")}
    assert visible - MADE_BY_BUILDS <= TOP_LEVEL


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_every_file_that_a_document_links_to_is_there(document: str) -> None:
    links = re.findall(r"\[[^\]]*\]\(([^)#:]+)\)", (PROJECT / document).read_text(encoding="utf-8"))
    assert [link for link in links if not (PROJECT / link).is_file()] == []


def test_the_two_commands_of_the_readme_can_be_run() -> None:
    readme = (PROJECT / "README.md").read_text(encoding="utf-8")
    block = readme.split("```")[1]
    commands = [line.split()[0] for line in block.splitlines() if line]
    assert commands == ["sample_catalog/run", "tests/run"]
    assert all(os.access(PROJECT / command, os.X_OK) for command in commands)
