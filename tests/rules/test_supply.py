"""What there is and will be: free stock, pieces back from work as good as they turn out, orders come in."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from invdb.rules.lead_time import LeadPrior, LeadRecord, LeadTime, lead_time, month_ends
from invdb.rules.supply import InWork, OnOrder, Supply, YieldRecord, due_by_month, supply_by_month
from invdb.terms import Refused

SAME_DAY = lead_time(LeadRecord(LeadPrior(0), (0,) * 20))
PLATER = lead_time(LeadRecord(LeadPrior(60), (50, 75, 62, 90), (40,)))
FOUNDRY = lead_time(LeadRecord(LeadPrior(120), (200, 130)))
PLATING = YieldRecord(0.7, 4, good=5, failed=3)
CASTING = YieldRecord(0.9, 10)

firms = st.sampled_from([SAME_DAY, PLATER, FOUNDRY])
elapsed = st.sampled_from([0, 40, 200])
supplies = st.builds(
    Supply,
    st.integers(0, 6),
    st.lists(
        st.builds(InWork, st.integers(0, 4), firms, st.sampled_from([PLATING, CASTING]), elapsed), max_size=3
    ).map(tuple),
    st.lists(st.builds(OnOrder, st.integers(0, 5), firms, elapsed), max_size=3).map(tuple),
)


def one_node(lead: LeadTime, node: int) -> LeadTime:
    """A firm whose median and spread are known."""
    return LeadTime((np.arange(len(lead.weights)) == node).astype(float))


def test_what_is_free_is_there_from_now_on() -> None:
    counts = supply_by_month(Supply(3), 2)
    assert counts.cells.tolist() == [[0, 0, 0, 1]] * 3
    assert counts.mean.tolist() == [3, 3, 3]


def test_nothing_at_all_is_nothing() -> None:
    assert supply_by_month(Supply(), 1).cells.tolist() == [[1.0], [1.0]]
    assert supply_by_month(Supply(0, (InWork(0, PLATER, PLATING),)), 0).cells.tolist() == [[1.0]]


def test_a_line_on_order_comes_all_at_once_in_the_time_that_its_firm_takes() -> None:
    counts = supply_by_month(Supply(1, on_order=(OnOrder(4, PLATER, 40),)), 6)
    here = PLATER.arrival(40, month_ends(6))
    np.testing.assert_allclose(counts.cells[:, 5], here, atol=1e-14)
    np.testing.assert_allclose(counts.cells[:, 1], 1 - here, atol=1e-14)
    np.testing.assert_allclose(counts.mean, 1 + 4 * here)


def test_what_is_yet_to_be_ordered_comes_so_much_later() -> None:
    counts = supply_by_month(Supply(on_order=(OnOrder(1, PLATER, wait_days=30),)), 4)
    np.testing.assert_allclose(counts.mean, PLATER.arrival(0, month_ends(4) - 30))
    assert counts.mean[0] == 0


def test_with_no_lead_time_all_of_it_is_there_within_the_month() -> None:
    counts = supply_by_month(Supply(2, on_order=(OnOrder(3, SAME_DAY),)), 1)
    assert counts.cells[0].tolist() == [0, 0, 1, 0, 0, 0]
    assert counts.cells[1, 5] == pytest.approx(1, abs=1e-6)


def test_of_pieces_that_are_all_back_the_good_are_beta_binomial() -> None:
    counts = supply_by_month(Supply(in_work=(InWork(6, SAME_DAY, PLATING),)), 1)
    exact = stats.betabinom.pmf(np.arange(7), 6, 0.7 * 4 + 5, 0.3 * 4 + 3)
    np.testing.assert_allclose(counts.cells[1], exact, atol=1e-6)
    assert PLATING.mean == pytest.approx(7.8 / 12)


def test_with_no_history_the_yield_is_what_is_believed_of_it() -> None:
    counts = supply_by_month(Supply(in_work=(InWork(5, SAME_DAY, YieldRecord(0.8, 10)),)), 1)
    np.testing.assert_allclose(counts.cells[1], stats.betabinom.pmf(np.arange(6), 5, 8, 2), atol=1e-6)
    assert counts.mean[1] == pytest.approx(4, abs=1e-5)


@pytest.mark.parametrize("node", [40, 100, 160])
def test_of_a_known_firm_each_piece_is_back_and_good_by_itself_given_the_yield(node: int) -> None:
    """Binomial in P(back) x yield, and by quadrature over the Beta of the yield."""
    firm = one_node(PLATER, node)
    counts = supply_by_month(Supply(in_work=(InWork(5, firm, PLATING, 40),)), 3)
    for month, back in enumerate(firm.arrival(40, month_ends(3))):
        for good in range(6):

            def chance(share: float, good: int = good, back: float = back) -> float:
                density = stats.beta.pdf(share, PLATING.alpha, PLATING.beta)
                return float(stats.binom.pmf(good, 5, back * share) * density)

            exact = integrate.quad(chance, 0, 1)[0]
            assert counts.cells[month, good] == pytest.approx(exact, abs=1e-9)


def test_pieces_at_one_firm_are_late_together() -> None:
    """By hand: independent at each node of the firm's time, and mixed over the nodes."""
    orders = (OnOrder(1, FOUNDRY, 20), OnOrder(2, FOUNDRY))
    counts = supply_by_month(Supply(on_order=orders), 5)
    first, second = (FOUNDRY.arrival_by_node(days, month_ends(5)) for days in (20, 0))
    by_hand = [
        FOUNDRY.weights @ each
        for each in ((1 - first) * (1 - second), first * (1 - second), (1 - first) * second, first * second)
    ]
    np.testing.assert_allclose(counts.cells, np.transpose(by_hand), atol=1e-13)
    apart = FOUNDRY.arrival(20, month_ends(5)) * FOUNDRY.arrival(0, month_ends(5))
    assert counts.cells[5, 3] > apart[5] + 0.01


def test_pieces_of_one_yield_are_good_or_bad_together_wherever_they_are() -> None:
    together = supply_by_month(
        Supply(in_work=(InWork(3, SAME_DAY, PLATING), InWork(3, PLATER, PLATING, 40))), 24
    )
    np.testing.assert_allclose(
        together.cells[24], stats.betabinom.pmf(np.arange(7), 6, PLATING.alpha, PLATING.beta), atol=2e-3
    )


def test_a_firm_takes_for_work_what_its_works_took_and_for_orders_what_its_orders_did() -> None:
    """Two records, even of one firm: what is unknown of the one says nothing of the other."""
    work, order = InWork(2, PLATER, PLATING, 40), OnOrder(2, PLATER, 40)
    both, works, orders = (
        supply_by_month(each, 3).at(3)
        for each in (Supply(0, (work,), (order,)), Supply(0, (work,)), Supply(0, (), (order,)))
    )
    np.testing.assert_allclose(both.cells, np.convolve(works.cells, orders.cells), atol=1e-14)


def test_more_than_can_be_needed_counts_as_just_enough() -> None:
    supply = Supply(2, (InWork(3, PLATER, PLATING, 40),), (OnOrder(4, FOUNDRY, 10),))
    whole = supply_by_month(supply, 6).cells
    for cap in range(12):
        capped = supply_by_month(supply, 6, cap)
        kept = min(cap, 9)
        np.testing.assert_allclose(capped.cells[:, :kept], whole[:, :kept], atol=1e-15)
        np.testing.assert_allclose(capped.cells[:, kept], whole[:, kept:].sum(axis=1), atol=1e-14)
    assert supply_by_month(Supply(1_000_000), 1, 3).cells.tolist() == [[0, 0, 0, 1]] * 2


@settings(max_examples=40)
@given(supplies, st.integers(0, 8))
def test_supply_is_whole_and_grows_by_the_month(supply: Supply, horizon: int) -> None:
    counts = supply_by_month(supply, horizon)
    assert counts.cells.shape == (horizon + 1, supply.most + 1)
    assert (counts.cells >= -1e-15).all()
    np.testing.assert_allclose(counts.cells.sum(axis=1), 1, atol=1e-12)
    np.testing.assert_allclose(counts.cells @ np.arange(counts.size), counts.mean, atol=1e-10)
    assert (np.diff(counts.over(), axis=0) >= -1e-12).all(), "by a later month no less has come"
    assert counts.cells[0, supply.free] == pytest.approx(1), "what is not here is not here now"
    np.testing.assert_allclose(counts.mean, supply.free + due_by_month(supply, horizon).mean, atol=1e-10)


def test_supply_agrees_with_simulation() -> None:
    draw, shops, days = np.random.default_rng(1927), 40_000, float(month_ends(3)[3])
    works = (InWork(4, PLATER, PLATING, 40), InWork(2, PLATER, PLATING))
    orders = (OnOrder(3, FOUNDRY, 20), OnOrder(2, FOUNDRY, wait_days=20))
    total = np.zeros(shops)
    nodes = {
        firm: draw.choice(len(firm.weights), shops, p=firm.weights / firm.weights.sum())
        for firm in (PLATER, FOUNDRY)
    }
    share = draw.beta(PLATING.alpha, PLATING.beta, shops)
    for work in works:
        back = work.turn_round.arrival_by_node(work.elapsed_days, np.array([days]))[:, 0]
        total += draw.binomial(draw.binomial(work.count, back[nodes[work.turn_round]]), share)
    for order in orders:
        ahead = np.array([days - order.wait_days])
        here = order.lead_time.arrival_by_node(order.elapsed_days, ahead)[:, 0]
        total += order.count * draw.binomial(1, here[nodes[order.lead_time]])
    counts = supply_by_month(Supply(1, works, orders), 3).at(3)
    for number in range(counts.size):
        chance = counts.cells[number]
        error = np.sqrt(chance * (1 - chance) / shops)
        assert abs((total + 1 == number).mean() - chance) < 4 * error + 1e-9


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: Supply(-1), "-1 pieces free are not between 0 and 1,000,000."),
        (
            lambda: Supply(0, on_order=(OnOrder(9_000, PLATER), OnOrder(9_000, PLATER))),
            "18,000 pieces due for one part are more than 10,000.",
        ),
        (lambda: OnOrder(-2, PLATER), "-2 pieces due are not between 0 and 10,000."),
        (lambda: OnOrder(1, PLATER, 3, 4), "What is 3 days on its way cannot be sent in 4 days."),
        (
            lambda: InWork(1, PLATER, PLATING, wait_days=-1),
            "What is 0 days on its way cannot be sent in -1 days.",
        ),
        (lambda: YieldRecord(1, 5), "A yield of 1, worth 5 pieces, is out of range."),
        (lambda: YieldRecord(0.5, 5, good=-1), "-1 pieces good and 0 not cannot be."),
    ],
)
def test_a_supply_that_cannot_be_is_refused(make: Callable[[], object], said: str) -> None:
    with pytest.raises(Refused) as refused:
        make()
    assert refused.value.reason == said
    assert refused.value.remedy
