import numpy as np
import pytest

from inventory.stocking import base_stock, cover, downtime, leadtime, lot_size, mixtures, policies
from inventory.stocking.intermittent import croston, sba_rates, tsb_rates

# Hyndman & Athanasopoulos, Forecasting: Principles and Practice, 2nd ed., section 12.2, lubricant C.
LUBRICANT_C = [
    0,
    2,
    0,
    1,
    0,
    11,
    0,
    0,
    0,
    0,
    2,
    0,
    6,
    3,
    0,
    0,
    0,
    0,
    0,
    7,
    0,
    0,
    0,
    0,
    0,
    0,
    0,
    3,
    1,
    0,
    0,
    1,
    0,
    1,
    0,
    0,
]


def test_croston_agrees_with_the_textbook_series():
    # Printed forecast 0.985 (print from memory, recomputed by statsforecast).
    assert croston(LUBRICANT_C, 0.1).forecast == pytest.approx(0.98459652, rel=1e-6)


def test_the_bias_corrected_rate_agrees_with_its_formula():
    # Syntetos & Boylan 2005, IJF 21.
    assert sba_rates(np.array([LUBRICANT_C], dtype=float), 0.1)[0] == pytest.approx(0.9353667, rel=1e-6)


def test_the_rate_that_fades_agrees_with_its_formula():
    # Teunter, Syntetos & Babai 2011, EJOR 214.
    assert tsb_rates(np.array([LUBRICANT_C], dtype=float))[0] == pytest.approx(0.8040651, rel=1e-6)


def test_pieces_by_the_job_follow_the_recursion():
    # Panjer/Adelson recursion: mean lam/(1-q), variance lam(1+q)/(1-q)^2.
    law = leadtime.stuttering_poisson(1.2, 0.4)

    assert law.pmf[:6] == pytest.approx(
        [0.3011942119, 0.2168598326, 0.1648134728, 0.1158898945, 0.07720903991, 0.04940645742], rel=1e-8
    )
    assert (law.mean, law.variance) == (pytest.approx(2.0), pytest.approx(4.666666667))


def test_excess_zeros_follow_their_law():
    # mean (1-pi)lam, variance (1-pi)lam(1+pi lam).
    law = leadtime.zero_inflated_poisson(0.6, 1.7)

    assert law.pmf[:4] == pytest.approx([0.6730734096, 0.1242247964, 0.1055910769, 0.05983494358], rel=1e-8)
    assert law.variance == pytest.approx(1.3736)


def test_without_excess_zeros_it_is_poisson():
    plain, inflated = leadtime.poisson(1.7), leadtime.zero_inflated_poisson(0.0, 1.7)

    assert inflated.pmf[:8] == pytest.approx(plain.pmf[:8])


def test_expected_backorders_agree_with_the_pipeline_table():
    # Palm 1938; Sherbrooke 2004, ch. 2: pipeline 1 and 4.
    one = base_stock.poisson_expected_backorders(np.ones(5), np.arange(5))
    four = base_stock.poisson_expected_backorders(np.full(4, 4.0), np.arange(4))

    assert one == pytest.approx([1, 0.3678794412, 0.1036383235, 0.02333692644, 0.004348769567], rel=1e-9)
    assert four == pytest.approx([4, 3.01832, 2.10989, 1.34800], abs=5e-6)


def test_fill_rate_and_no_backorder_differ_by_one_piece():
    # Poisson pipeline 2, target 0.95: six pieces for the fill rate, five for no backorder.
    pipeline, target = np.array([2.0]), np.array([0.95])

    assert base_stock.poisson_base_stock_for_fill_rate(pipeline, target)[0] == 6
    assert base_stock.poisson_base_stock_for_no_backorder(pipeline, target)[0] == 5
    assert policies.one_for_one(leadtime.poisson(2.0), 6).fill_rate == pytest.approx(0.9834363915, rel=1e-9)


def test_the_economic_quantity_agrees_with_the_textbook():
    # Snyder & Shen, 2nd ed., examples 3.1 and 3.8.
    plain = lot_size.economic_order_quantity(8, 0.225, 1300)

    assert plain.quantity == pytest.approx(304.04678, rel=1e-6)
    assert plain.cost == pytest.approx(68.41052551, rel=1e-8)


def test_the_share_of_emergency_buys_is_erlangs_loss():
    # Erlang B(2, 1) = 0.2, insensitive to the lead-time distribution.
    assert downtime.erlang_loss(2, 1.0) == pytest.approx(0.2)


@pytest.mark.parametrize(("stock", "short"), [((0, 2), 0.1638214781), ((1, 1), 0.1915), ((2, 0), 0.4581)])
def test_one_way_cover_is_short_as_enumerated(stock, short):
    # E max(d2 + (d1 - s1)+ - s2, 0); Hall deficiency. Three stocks of two pieces.
    graph = cover.cover_graph(stock, [[0], [0, 1]], 2)
    laws = [leadtime.poisson(0.8), leadtime.poisson(0.4)]

    assert cover.expected_shortage(graph, laws).expected_short == pytest.approx(short, abs=5e-5)
    assert cover.shortage_by_enumeration(graph, laws).expected_short == pytest.approx(short, abs=5e-5)


def test_an_uncertain_rate_spreads_the_demand():
    law = mixtures.gamma_poisson(4.0, 7.0, 0.5)

    assert law.mean == pytest.approx(4 / 7 * 0.5)
    assert law.variance > law.mean
