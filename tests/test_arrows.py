"""Who may import whom: the faces reach the acts, nothing points back, and the rules stay pure."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import grimp
import pytest

PROJECT = Path(__file__).parent.parent
RULES = sorted((PROJECT / "invdb" / "rules").glob("**/*.py")) + [PROJECT / "invdb" / "terms.py"]
DATABASES = ("alembic", "psycopg", "sqlalchemy", "sqlite3")
CLOCK_READINGS = {"now", "today", "utcnow"}


def test_the_import_contracts_hold() -> None:
    command = [str(Path(sys.executable).with_name("lint-imports")), "--no-cache", "--no-logo"]
    lint = subprocess.run(command, cwd=PROJECT, capture_output=True, text=True, check=False)
    assert lint.returncode == 0, lint.stdout + lint.stderr
    assert re.search(r"[1-9]\d* kept, 0 broken", lint.stdout)


def test_presenters_run_without_a_screen() -> None:
    graph = grimp.build_graph("gui", "invdb", include_external_packages=True)
    screens = {"tkinter", "sv_ttk", "tktooltip"} & graph.modules
    ways = [
        graph.find_shortest_chain(module, screen)
        for module in graph.modules
        if module.endswith("_presenter") or module == "gui.presenters" or module.startswith("gui.presenters.")
        for screen in screens
    ]
    assert [way for way in ways if way] == []


def test_the_command_line_knows_no_sql_and_no_tables() -> None:
    graph = grimp.build_graph("gui", "invdb", include_external_packages=True)
    faces = {module for module in graph.modules if module.startswith(("invdb.cli", "invdb.__main__"))}
    imported = {found for face in faces for found in graph.find_modules_directly_imported_by(face)}
    assert {module for module in imported if module.startswith(("invdb.records", *DATABASES))} == set()


@pytest.mark.parametrize("path", RULES, ids=lambda path: path.relative_to(PROJECT).as_posix())
def test_a_rule_reads_no_clock(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    readings = [
        f"line {node.lineno}"
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and node.attr in CLOCK_READINGS
    ]
    assert readings == []
