"""Stock in two echelons: backorders at a depot lengthen the resupply of the bases it serves.

VARI-METRIC, an approximation: each base holds a binomial share f of the depot's backorders B, with mean f E[B] and variance
f (1-f) E[B] + f^2 V[B], and its pipeline is taken as negative binomial. Sources: Sherbrooke 1986, Operations Research 34;
Graves 1985, Management Science 31.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from inventory.number_checks import not_negative, number, positive, whole
from inventory.stocking.lead_time_demand import negative_binomial, poisson


@dataclass(frozen=True, slots=True)
class ServedBase:
    """Demands a year, share repaired at the base itself, times in years, pieces kept there."""

    rate_per_year: float
    repaired_here: float
    repair_years: float
    shipping_years: float
    stock: int

    def __post_init__(self) -> None:
        positive("rate_per_year", self.rate_per_year)
        number("repaired_here", self.repaired_here, least=0.0, most=1.0)
        not_negative("repair_years", self.repair_years)
        not_negative("shipping_years", self.shipping_years)
        whole("stock", self.stock)

    @property
    def sent_on_per_year(self) -> float:
        return self.rate_per_year * (1 - self.repaired_here)


@dataclass(frozen=True, slots=True)
class TwoEchelons:
    """Pipeline and expected backorders of the depot and of each base; `variances` are those of the pipelines."""

    depot_pipeline: float
    depot_backorders: float
    pipelines: tuple[float, ...]
    variances: tuple[float, ...]
    base_backorders: tuple[float, ...]


def two_echelons(bases: Sequence[ServedBase], depot_repair_years: float, depot_stock: int) -> TwoEchelons:
    """Expected backorders of a depot and the bases it serves, at least one."""
    if not bases:
        raise ValueError("`bases` must hold at least one base")
    repair = not_negative("depot_repair_years", depot_repair_years)
    pieces = whole("depot_stock", depot_stock)
    sent_on = sum(base.sent_on_per_year for base in bases)
    depot = poisson(repair * sent_on)
    waiting = depot.expected_above(pieces)
    over = np.maximum(np.arange(len(depot)) - pieces, 0)
    variance = max(float(np.dot(depot.pmf, over**2)) - waiting**2, 0.0)
    means, variances, backorders = [], [], []
    for base in bases:
        part = base.sent_on_per_year / sent_on if sent_on else 0.0
        own = base.repaired_here * base.repair_years + (1 - base.repaired_here) * base.shipping_years
        mean = base.rate_per_year * own + part * waiting
        spread = mean - part * waiting + part * (1 - part) * waiting + part**2 * variance
        means.append(mean)
        variances.append(spread)
        backorders.append(negative_binomial(mean, spread).expected_above(base.stock))
    return TwoEchelons(depot.mean, waiting, tuple(means), tuple(variances), tuple(backorders))
