import pytest

from inventory.stocking.lead_time_demand import poisson
from inventory.stocking.two_echelons import ServedBase, two_echelons


def test_a_depot_with_plenty_leaves_the_bases_their_own_times():
    net = two_echelons([ServedBase(6, 0.5, 0.02, 0.04, 1), ServedBase(3, 0, 0, 0.05, 2)], 0.1, 40)
    assert net.depot_backorders == pytest.approx(0, abs=1e-12)
    assert net.base_backorders[0] == pytest.approx(poisson(0.18).expected_above(1), abs=1e-10)


def test_the_variance_of_the_depot_delay_adds_backorders():
    net = two_echelons([ServedBase(12, 0.3, 0.02, 0.015, 1)] * 4, 0.06, 1)
    assert net.variances[0] > net.pipelines[0]
    assert net.base_backorders[0] > poisson(net.pipelines[0]).expected_above(1)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: two_echelons([], 0.1, 1), "bases"),
        (lambda: two_echelons([ServedBase(1, 0, 0, 0, 1)], -0.1, 1), "depot_repair_years"),
        (lambda: two_echelons([ServedBase(1, 0, 0, 0, 1)], 0.1, -1), "depot_stock"),
        (lambda: ServedBase(1, 1.5, 0, 0, 1), "repaired_here"),
    ],
)
def test_it_refuses_figures_out_of_range(call, name):
    with pytest.raises(ValueError, match=f"`{name}`"):
        call()
