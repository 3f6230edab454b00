"""Parts that share stock in no simple order, by simulation: draws from a fixed start, and their error.

For a set of needs K the most that can be met is the least, over sets J of stocks, of what J has over and what
is lacked by those of K that some stock outside J could serve (the least cut, Ford and Fulkerson 1956). Served
one after another, each need takes what that most grows by. A part that lacks has nothing over itself, so its
own stock need not be among those that could serve it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from invdb.terms import Refused

if TYPE_CHECKING:
    import numpy as np

DRAWS_MIN, DRAWS_MAX = 2_000, 20_000
# Draws x months x parts x sets of stocks.
WORK_MAX = 200_000_000
SETS_MAX = 2_048
START = 1912


def simulated(
    spares: Sequence[tuple[np.ndarray, int]], sources: Sequence[frozenset[int]]
) -> tuple[list[tuple[np.ndarray, np.ndarray]], float]:
    """P(short) and E[short] by month of each part, and the greatest standard error of a P(short).

    ``spares`` are own supply less own need: (cells, least), where cell k of a month is P(``least`` + k).
    ``sources`` are, for each part, those whose stock may serve it. Needs are served in the order given. More
    than ``SETS_MAX`` sets of stocks to look at are refused.
    """
    import numpy as np

    others = [givers - {part} for part, givers in enumerate(sources)]
    sets = _joined(others)
    months, parts = spares[0][0].shape[0], len(spares)
    draws = min(max(WORK_MAX // (months * parts * len(sets)), DRAWS_MIN), DRAWS_MAX)
    drawn = np.random.default_rng(START).random((draws, parts))
    inside = np.array([[part in each for part in range(parts)] for each in sets], float)
    outside = np.array([[not (givers <= each) for each in sets] for givers in others], float)
    chance, expected = np.empty((parts, months)), np.empty((parts, months))
    for month in range(months):
        if month and all(np.array_equal(cells[month], cells[month - 1]) for cells, _ in spares):
            chance[:, month], expected[:, month] = chance[:, month - 1], expected[:, month - 1]
            continue
        over = np.stack(
            [
                least + np.searchsorted(cells[month].cumsum()[:-1], drawn[:, part], side="right")
                for part, (cells, least) in enumerate(spares)
            ],
            axis=1,
        )
        short = _short(over[(over < 0).any(axis=1)], inside, outside)
        chance[:, month] = (short > 0).sum(axis=0) / draws
        expected[:, month] = short.sum(axis=0) / draws
    # One more of each outcome, so that what no draw has shown is not taken for sure.
    nearly = (chance * draws + 1) / (draws + 2)
    error = float(np.sqrt(nearly * (1 - nearly) / draws).max())
    return [(chance[part], expected[part]) for part in range(parts)], error


def _joined(sources: Sequence[frozenset[int]]) -> list[frozenset[int]]:
    """Every set of stocks that is all that may serve some of the needs."""
    sets: set[frozenset[int]] = {frozenset()}
    for givers in sources:
        sets |= {each | givers for each in sets}
        if len(sets) > SETS_MAX:
            raise Refused(
                f"{len(sources)} parts stand in for one another in too many ways to reckon with.",
                "Take out those stand-ins that are never used.",
            )
    return list(sets)


def _short(over: np.ndarray, inside: np.ndarray, outside: np.ndarray) -> np.ndarray:
    """What each part lacks in each draw once stand-ins have served, shape (draws, parts).

    ``inside`` says which stocks are in each set, (sets, parts); ``outside`` whether some stock outside each
    set could serve each part, (parts, sets).
    """
    import numpy as np

    lacks, has = np.maximum(-over, 0).astype(float), np.maximum(over, 0).astype(float)
    cuts = has @ inside.T
    met = cuts.min(axis=1)
    short: np.ndarray = np.empty_like(lacks)
    for part in range(over.shape[1]):
        cuts += lacks[:, part, None] * outside[part]
        most = cuts.min(axis=1)
        short[:, part] = lacks[:, part] - (most - met)
        met = most
    return short
