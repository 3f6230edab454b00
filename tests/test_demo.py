"""The demo: one command builds the workshop, pulls and fits a kit, and writes its papers."""

from __future__ import annotations

from pathlib import Path

from invdb import store
from invdb.acts.as_fitted import as_fitted
from invdb.acts.numbers import engine_named
from invdb.demo import CYLINDER, ENGINE, run_demo
from invdb.terms import SAFETY_LINE


def test_the_demo_fits_the_pulled_kit_and_prints_the_status_sheet(tmp_path: Path) -> None:
    report = run_demo(tmp_path)
    assert all(Path(paper).stat().st_size > 1000 for paper in report.papers)
    assert {Path(paper).name.split()[0] for paper in report.papers} == {"pick", "trace", "status"}
    assert any("0 differences" in line for line in report.lines)
    assert report.lines[-1] == SAFETY_LINE
    opened = store.open_store(report.store)
    with opened.reading() as session:
        build = as_fitted(session, engine_named(session, ENGINE))
    opened.close()
    (cylinder,) = (position for position in build.positions if position.name == CYLINDER)
    assert all(station.contents for station in cylinder.stations if station.lines)
    barrel = next(station for station in cylinder.stations if station.name == "barrel")
    assert any(f"barrel: {barrel.contents[0].tag}" in line for line in report.lines)

    again = run_demo(tmp_path)
    assert again.pull == report.pull
    assert again.papers == report.papers
    assert not any(line.startswith("Fitted") for line in again.lines)
