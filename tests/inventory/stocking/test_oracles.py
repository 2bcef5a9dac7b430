"""Agreement with statsforecast on random records."""

import numpy as np
import pytest

from inventory.stocking.intermittent import croston_rates, sba_rates, tsb_rates
from tests.other_programs import other_program

models = other_program("statsforecast.models")

DEMAND = np.random.default_rng(8).poisson(0.4, (300, 40)) * np.random.default_rng(9).integers(1, 8, (300, 40))
RECORDS = DEMAND[(DEMAND > 0).any(axis=1)].astype(float)


def peer(model):
    return [model.forecast(y=row, h=1)["mean"][0] for row in RECORDS]


def test_croston_agrees_with_statsforecast():
    np.testing.assert_allclose(croston_rates(RECORDS), peer(models.CrostonClassic()), rtol=1e-12)


def test_sba_agrees_with_statsforecast():
    np.testing.assert_allclose(sba_rates(RECORDS), peer(models.CrostonSBA()), rtol=1e-12)


@pytest.mark.parametrize(("size", "chance"), [(0.1, 0.1), (0.2, 0.05), (0.05, 0.4)])
def test_tsb_agrees_with_statsforecast(size, chance):
    ours = tsb_rates(RECORDS, alpha_size=size, alpha_probability=chance)
    np.testing.assert_allclose(ours, peer(models.TSB(alpha_d=size, alpha_p=chance)), rtol=1e-12)
