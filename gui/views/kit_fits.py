"""How what is in a kit fits together, as its sheet tells it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from gui.signs import sign, urgency
from invdb.acts.proposed import FitShown, Proposal
from invdb.acts.pull_fits import fit_notes
from invdb.rules.fits import FitVerdict


def worst_of(fits: Iterable[FitShown]) -> str:
    """The word of the sign by which all of these fits go, the worst of them; "" where there are none."""
    return max((str(fit.verdict) for fit in fits), key=urgency, default="")


def told_at(station: str, fits: Sequence[FitShown]) -> tuple[str, ...]:
    """Each fit of what sits at a station, with what is done about it: a sentence each."""
    at = [fit for fit in fits if station in (fit.station, fit.other_station)]
    said = []
    for fit, note in zip(at, fit_notes("", at), strict=True):
        other = fit.other_tag if fit.station == station else fit.tag
        to_do = f" {note.to_do}." if note.to_do else ""
        said.append(f"{fit.name} with {other}: {sign(str(fit.verdict)).mark} {note.words}.{to_do}")
    return tuple(said)


def noted_at(station: str, fits: Sequence[FitShown]) -> str:
    """What should be read of a station's fits before anything is taken; "" where all are good as new."""
    doubtful = [fit for fit in fits if fit.verdict is not FitVerdict.NEW]
    return " ".join(told_at(station, doubtful))


def gained_words(proposal: Proposal) -> str:
    """What was gained over shelf order, in a sentence; "" where nothing was."""
    gains = "; ".join(f"{gain.what} {gain.ours} instead of {gain.shelf}" for gain in proposal.gained)
    return f"Over taking pieces in shelf order: {gains}" if gains else ""


def best_words(proposal: Proposal) -> str:
    """Whether no better choice exists, or how far from the best it may be."""
    if proposal.proven:
        return "no better choice exists"
    gap = f": {proposal.gap}" if proposal.gap else ""
    return f"the best found in time, perhaps not the best{gap}"
