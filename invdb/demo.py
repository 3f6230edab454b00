"""The invented workshop, built in a folder: one cylinder's kit pulled and fitted, and its papers written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from invdb import store
from invdb.acts.as_fitted import as_fitted
from invdb.acts.by import By
from invdb.acts.check import check_store
from invdb.acts.fit import fit_pull
from invdb.acts.numbers import engine_named, person_named, position_named
from invdb.acts.pick_list import pick_list_of_pulls, pull_lines, pulls
from invdb.acts.propose import propose
from invdb.acts.proposed import Asked
from invdb.acts.pull import issue, order_of, reserve
from invdb.acts.running import log_at
from invdb.acts.status_sheet import status_sheet
from invdb.acts.trace import trace
from invdb.intake.build_workshop import build_workshop
from invdb.intake.workshop import read_workshop
from invdb.paper.pick_list import write_pick_list_pdf, write_pick_list_xlsx
from invdb.paper.status_sheet import write_status_sheet_pdf, write_status_sheet_xlsx
from invdb.paper.trace_sheet import write_trace_sheet_pdf, write_trace_sheet_xlsx
from invdb.records.clock import today
from invdb.rules.build_words import build_words
from invdb.terms import SAFETY_LINE, PullState, Refused

# A cylinder that was opened up and stands empty, whose kit can be completed only with an alternate; and who
# pulls and fits it. The engine runs on the stand, so its kit leaves alone the last good barrel that two
# flying engines compete for.
ENGINE = "Linnet 163"
CYLINDER = "4"
MECHANIC = "Dunya Halloran"


@dataclass(frozen=True)
class DemoReport:
    """What the demo did: the store, the pull, the papers it wrote, and all of it in words."""

    store: str
    pull: str
    papers: tuple[str, ...]
    lines: tuple[str, ...]


def build_sample(where: str, progress: Callable[[int, int], None] = lambda done, total: None) -> None:
    """Build the invented workshop at a file that does not exist yet, or in an empty database."""
    build_workshop(where, read_workshop(), progress)


def run_demo(folder: Path) -> DemoReport:
    """Build the workshop in a folder, or take it as it stands there; pull and fit one kit, write its papers.

    Refused when the folder can't be made or written.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise Refused(f"The folder {folder} can't be made: {error.strerror}.", "Choose another.") from error
    where = folder / "harrowmere.invdb"
    said = []
    if where.exists():
        said.append(f"The invented workshop stands already: {where}.")
    else:
        build_sample(str(where))
        said.append(f"Built the invented workshop: {where}.")
    opened = store.open_store(str(where))
    try:
        number, pull_id = _pulled(opened, said)
        papers = [*_pull_papers(opened, folder, number, pull_id)]
        _fit(opened, number, pull_id, said)
        papers += _status_papers(opened, folder)
        report = check_store(opened)
    finally:
        opened.close()
    said += [f"Wrote {paper}" for paper in papers]
    said.append(f"Checked the ledger: {report.entries} entries, {len(report.differences)} differences.")
    said.append(f"Last hash: {report.last_hash}")
    said.append(SAFETY_LINE)
    return DemoReport(str(where), number, tuple(str(paper) for paper in papers), tuple(said))


def _pulled(opened: store.Store, said: list[str]) -> tuple[str, int]:
    with opened.reading() as session:
        engine = engine_named(session, ENGINE)
        standing = [
            each
            for each in pulls(session, engine, only_open=False)
            if each.position == f"cylinder {CYLINDER}" and each.state is not PullState.CANCELLED
        ]
        proposal = propose(session, (Asked(engine, position_named(session, engine, CYLINDER)),))
        mechanic = person_named(session, MECHANIC)
    if standing:
        said.append(f"The kit of {ENGINE}, cylinder {CYLINDER}, is pulled already: {standing[0].number}.")
        return standing[0].number, standing[0].pull
    (kit,) = proposal.kits
    with opened.writing() as session:
        (made,) = reserve(session, (order_of(kit),), By(mechanic))
    proven = "proven the best" if proposal.proven else "the best found in time"
    said.append(
        f"Pulled the kit of {ENGINE}, cylinder {CYLINDER}: {kit.lines_filled} of {len(kit.lines)} lines,"
        f" {kit.state}, {proven}; reserved as {made.number} for {MECHANIC}."
    )
    for line in kit.lines:
        for choice in line.choices:
            if choice.authority:
                said.append(f"  {line.station}: {choice.tag} {choice.why}, by {choice.authority}.")
    return made.number, made.pull


def _fit(opened: store.Store, number: str, pull_id: int, said: list[str]) -> None:
    """Issue what the pull has set aside, fit it, and say what the cylinder is built up of then."""
    with opened.writing() as session:
        engine = engine_named(session, ENGINE)
        by = By(person_named(session, MECHANIC))
        if any(line.reserved for line in pull_lines(session, pull_id)):
            issue(session, pull_id, by)
        if any(line.issued > line.returned for line in pull_lines(session, pull_id)):
            reading = log_at(session, engine, today(session)).state.meter
            entry = fit_pull(session, pull_id, reading, by)
            said.append(f"Fitted what was issued on {number}, by entry {entry}.")
    with opened.reading() as session:
        build = as_fitted(session, engine_named(session, ENGINE))
    cylinder = tuple(each for each in build.positions if each.name == CYLINDER)
    said += build_words(replace(build, positions=cylinder))


def _pull_papers(opened: store.Store, folder: Path, number: str, pull_id: int) -> tuple[Path, ...]:
    with opened.reading() as session:
        pick_list = pick_list_of_pulls(session, [pull_id])
        tag = next(line.tag for line in pull_lines(session, pull_id) if line.tag)
        sheet = trace(session, tag)
    paths = tuple(
        folder / f"{name}.{ending}"
        for name in (f"pick list {number}", f"trace sheet {tag}")
        for ending in ("pdf", "xlsx")
    )
    write_pick_list_pdf(pick_list, paths[0])
    write_pick_list_xlsx(pick_list, paths[1])
    write_trace_sheet_pdf(sheet, paths[2])
    write_trace_sheet_xlsx(sheet, paths[3])
    return paths


def _status_papers(opened: store.Store, folder: Path) -> tuple[Path, ...]:
    with opened.reading() as session:
        sheet = status_sheet(session, engine_named(session, ENGINE))
    paths = tuple(folder / f"status sheet {ENGINE}.{ending}" for ending in ("pdf", "xlsx"))
    write_status_sheet_pdf(sheet, paths[0])
    write_status_sheet_xlsx(sheet, paths[1])
    return paths
