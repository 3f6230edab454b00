"""How long a firm takes, from its own record: what it has delivered, and what it still owes.

Days from order to delivery, or from sending a piece to having it back, are lognormal with a median and a
spread that are both unknown; what is known of them together is a weight at each node of a grid. A thing still
out after so many days says only that it took longer: it enters by the chance of that (a censored observation,
Kalbfleisch and Prentice 1980), so a firm that delivers the easy half and keeps the rest does not look quick.
Things due from one firm share its median and spread: if one is late the others are likelier to be.

Days are whole. A thing delivered after d days took d and a half, so the same day is half a day.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import log
from typing import TYPE_CHECKING

from invdb.terms import Refused

if TYPE_CHECKING:
    import numpy as np

DAYS_A_MONTH = 365.25 / 12
MEDIAN_DAYS_MIN, MEDIAN_DAYS_MAX = 0.5, 2_000.0
MEDIAN_NODES = 60
SPREADS = (0.12, 0.25, 0.5, 1.0)
# More days than that are a slip of the dates.
DAYS_MAX = 20_000


@dataclass(frozen=True)
class LeadPrior:
    """What is believed of a firm before its record: its quoted or usual days, and how far off that may be.

    The median is lognormal about ``days``, a third of it further than ``factor`` times off. The spread, which
    is the standard deviation of the logarithm of days, is lognormal about ``spread``, a third further than
    twice off.
    """

    days: float
    factor: float = 1.5
    spread: float = 0.35

    def __post_init__(self) -> None:
        if not 0 <= self.days <= DAYS_MAX:
            raise Refused(
                f"A usual time of {self.days:g} days is not between 0 and {DAYS_MAX:,}.", "Correct it."
            )
        if not 1.01 <= self.factor <= 1_000 or not 0.01 <= self.spread <= 10:
            raise Refused(
                f"A factor of {self.factor:g} and a spread of {self.spread:g} are out of range.",
                "Give a factor from 1.01 to 1,000 and a spread from 0.01 to 10.",
            )


@dataclass(frozen=True)
class LeadRecord:
    """A firm's record: the days that each thing took, and the days for which each of the others is out.

    ``open_days`` are of everything that is still out with the firm, the thing asked about included: that it
    is late tells of the firm too.
    """

    prior: LeadPrior
    taken_days: tuple[int, ...] = ()
    open_days: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        for days in (*self.taken_days, *self.open_days):
            if not 0 <= days <= DAYS_MAX:
                raise Refused(
                    f"{days} days from order to delivery are not between 0 and {DAYS_MAX:,}.",
                    "Correct the dates.",
                )


@dataclass(frozen=True, eq=False)
class LeadTime:
    """What is known of a firm's time: ``weights`` of each node of the grid, which sum to 1.

    Whatever is asked about as still out is to be among the record's ``open_days``: that is how its own
    lateness has its weight.
    """

    weights: np.ndarray

    def arrival_by_node(self, elapsed_days: int, days: np.ndarray) -> np.ndarray:
        """P(here so many days from now | not after ``elapsed_days``) at each node, shape (nodes, days)."""
        import numpy as np

        still_out = _log_longer(np.array([float(elapsed_days)]))
        ahead = np.maximum(np.asarray(days, float), 0.0)
        arrived: np.ndarray = -np.expm1(_log_longer(elapsed_days + ahead) - still_out)
        return arrived

    def arrival(self, elapsed_days: int, days: np.ndarray) -> np.ndarray:
        """The same over all nodes, shape (days): what is known of one thing by itself."""
        arrived: np.ndarray = self.weights @ self.arrival_by_node(elapsed_days, days)
        return arrived

    def days_until(self, chance: float, elapsed_days: int = 0) -> int:
        """The fewest days from now in which a thing is here with this chance; at most 10 x ``DAYS_MAX``."""
        import numpy as np

        low, high = -1, 10 * DAYS_MAX
        while high - low > 1:
            middle = (low + high) // 2
            if self.arrival(elapsed_days, np.array([middle]))[0] >= chance:
                high = middle
            else:
                low = middle
        return high


def lead_time(record: LeadRecord) -> LeadTime:
    """What a firm's record says of its time (Bayes); what the prior says if it has none."""
    import numpy as np

    medians, spreads = _grid()
    logs = _log_prior(record.prior)
    if record.taken_days:
        taken = np.log(np.array(record.taken_days) + 0.5)
        z = (taken - medians[:, None]) / spreads[:, None]
        logs = logs - (z * z / 2 + np.log(spreads)[:, None]).sum(axis=1)
    if record.open_days:
        logs = logs + _log_longer(np.array(record.open_days, float)).sum(axis=1)
    weights = np.exp(logs - logs.max())
    return LeadTime(weights / weights.sum())


def month_ends(horizon: int) -> np.ndarray:
    """The days from now to the end of each month from 0 to the horizon."""
    import numpy as np

    return np.arange(horizon + 1) * DAYS_A_MONTH


@cache
def _grid() -> tuple[np.ndarray, np.ndarray]:
    """The logarithm of the median, and the spread, at each node."""
    import numpy as np

    medians = np.linspace(log(MEDIAN_DAYS_MIN), log(MEDIAN_DAYS_MAX), MEDIAN_NODES)
    return np.tile(medians, len(SPREADS)), np.repeat(SPREADS, MEDIAN_NODES)


def _log_prior(prior: LeadPrior) -> np.ndarray:
    import numpy as np

    medians, spreads = _grid()
    off = (medians - log(max(prior.days, MEDIAN_DAYS_MIN))) / log(prior.factor)
    wide = (np.log(spreads) - log(prior.spread)) / log(2)
    logs: np.ndarray = -(off * off + wide * wide) / 2
    return logs


def _log_longer(days: np.ndarray) -> np.ndarray:
    """log P(longer than so many days) at each node, shape (nodes, days)."""
    import numpy as np
    from scipy.special import log_ndtr

    medians, spreads = _grid()
    with np.errstate(divide="ignore"):
        z = (np.log(days) - medians[:, None]) / spreads[:, None]
    longer: np.ndarray = log_ndtr(-z)
    return longer
