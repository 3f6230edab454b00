"""Need by the end of the horizon alone is the last month of need by month."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from invdb.rules.need import FailureRecord, Need, Overhaul, RunningOut, need_by_month
from invdb.rules.need_at_end import needs_at_end
from invdb.rules.reject_rate import Inspected, RejectPrior, RejectRecord

RECORD = RejectRecord(RejectPrior(0.2, 6.0), (Inspected(7, 2),))
MONTHS = st.integers(0, 12)
OVERHAULS = st.lists(
    st.builds(Overhaul, st.sampled_from(["Linnet 117", "Linnet 142"]), MONTHS, st.integers(1, 14)), max_size=3
)
NEEDS = st.builds(
    Need,
    overhauls=OVERHAULS.map(tuple),
    rejects=st.sampled_from([None, RECORD, RejectRecord(RejectPrior(0.4, 2.0))]),
    hours=st.lists(st.floats(0, 500), max_size=9).map(tuple),
    failures=st.sampled_from([None, FailureRecord(0.5, 4_000.0, 1, 900.0)]),
    running_out=st.lists(st.builds(RunningOut, st.just("Linnet 117"), MONTHS), max_size=1).map(tuple),
    owed=st.integers(0, 3),
)


@given(st.lists(NEEDS, max_size=4), st.integers(1, 9))
def test_it_is_the_last_month_of_need_by_month(needs: list[Need], horizon: int) -> None:
    for need, found in zip(needs, needs_at_end(needs, horizon), strict=True):
        last = need_by_month(need, horizon).at(horizon)
        assert found.cells == pytest.approx(last.cells, abs=1e-12)
        assert float(found.mean) == pytest.approx(float(last.mean))
