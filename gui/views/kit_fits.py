"""How what is in a kit fits together, as its sheet tells it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from gui.signs import sign, urgency
from invdb.acts.proposed import FitShown, Gain, Proposal
from invdb.acts.pull_fits import fit_notes
from invdb.rules.fits import FitVerdict
from invdb.rules.kit_sums import FITS, MASSES, UNWEIGHED

COMPLETE = "complete positions of priority"
# The sums of the choice that are parts of something, told in wholes: how, and how many parts make one.
_PARTS_OF = {
    FITS: ("fits off their targets, in half tolerances:", 10),
    MASSES: ("masses apart, in allowed spreads:", 4),
}
# Those told as they are; what else the choice weighs only breaks ties.
_TOLD = frozenset({"lines filled", "mates back to their own station", UNWEIGHED})


def worst_of(fits: Iterable[FitShown]) -> str:
    """The word of the sign by which all of these fits go, the worst of them; "" where there are none."""
    return max((str(fit.verdict) for fit in fits), key=urgency, default="")


def counted(verdicts: Iterable[FitVerdict]) -> str:
    """``2 to be measured, 6 within new limits``, the worst first; "" where there are none."""
    counts = Counter(str(verdict) for verdict in verdicts)
    ordered = sorted(counts, key=lambda word: (-urgency(word), word))
    return ", ".join(f"{counts[word]} {sign(word).word}" for word in ordered)


def mark_at(station: str, fits: Sequence[FitShown]) -> str:
    """The mark of the worst fit of what sits at a station; "" where it makes none."""
    worst = worst_of(fit for fit in fits if station in (fit.station, fit.other_station))
    return sign(worst).mark if worst else ""


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
    """What was gained over shelf order, in a sentence; "" where it was nothing that a person would weigh."""
    complete = [gain for gain in proposal.gained if gain.what.startswith(COMPLETE)]
    said = [f"{gain.what} {gain.ours} instead of {gain.shelf}" for gain in _counted(complete)]
    for gain in proposal.gained:
        if gain.what in _PARTS_OF:
            what, parts = _PARTS_OF[gain.what]
            said.append(f"{what} {_share(gain.ours, parts)} instead of {_share(gain.shelf, parts)}")
        elif gain.what in _TOLD:
            said.append(f"{gain.what} {gain.ours} instead of {gain.shelf}")
    return f"Over taking pieces in shelf order: {'; '.join(said)}" if said else ""


def _counted(complete: Sequence[Gain]) -> list[Gain]:
    """Complete kits of every priority together; none where as many are complete either way."""
    ours, shelf = sum(gain.ours for gain in complete), sum(gain.shelf for gain in complete)
    return [Gain("complete kits", ours, shelf, True)] if ours != shelf else []


def _share(amount: int, parts: int) -> str:
    """``8.8`` of 88 tenths, ``1.75`` of 7 quarters."""
    return f"{amount / parts:.2f}".rstrip("0").rstrip(".")


def best_words(proposal: Proposal) -> str:
    """Whether no better choice exists, or how far from the best it may be."""
    if proposal.proven:
        return "no better choice exists"
    gap = f": {proposal.gap}" if proposal.gap else ""
    return f"the best found in time, perhaps not the best{gap}"
