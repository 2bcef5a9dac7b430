"""What a further measurement would tell: expected information about the rim, and how surely two rims are told apart.

The expected information is the mutual information of the rim and the reading, in bits: how much less uncertain the rim is, on average, once it
is measured. Source: D. V. Lindley, On a measure of the information provided by an experiment, Annals of Mathematical Statistics 27 (1956).
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from inventory.identification.posterior import Posterior
from inventory.identification.reading_model import MODELS, density, errors_of
from inventory.identification.readings import Readings
from inventory.identification.rim_sizes import Array, Places, RimSizes
from inventory.identification.rims import Rim

MOST_ROWS, LEAST_SHARE = 16, 0.002
"""Rows of the posterior that are looked at: the others change no choice."""
LOCAL_POINTS, ERRORS_BEYOND = 32, 4.0


@dataclass(frozen=True)
class Prospect:
    """A measurement not yet taken: bits that it is expected to give, and the chance to name the right one of any two rims by it."""

    measurement: str
    information_bits: float
    right_of_two: Array


def prospects(found: Posterior, readings: Readings, rims: list[Rim]) -> list[Prospect]:
    """Every measurement that was not taken, the most informative first, of those alike to 0.1 bit the one that is usually taken first.

    `right_of_two` has a row and a column for each of `rims`.
    """
    places = np.argsort(-found.shares, kind="stable")[:MOST_ROWS]
    places = places[found.shares[places] > LEAST_SHARE * found.shares.max()]
    taken = {name for name, _ in readings.taken()}
    made = [
        _of_reading(name, found, readings, places, rims)
        for name in MODELS
        if name not in taken and _may_be_read(name, readings)
    ]
    made.append(_of_count("teeth", found.teeth.astype(int), found, places, rims))
    if readings.strands is None:
        strands = np.array([rim.strands for rim in found.rims])
        made.append(_of_count("strands", strands, found, places, rims))
    return sorted(made, key=lambda one: -round(one.information_bits, 1))


def _may_be_read(name: str, readings: Readings) -> bool:
    """Over the rows of one row there is nothing new; a hub says little and is asked for last."""
    return name != "overall_width_mm" or readings.strands != 1


def _of_reading(name: str, found: Posterior, readings: Readings, places: Places, rims: list[Rim]) -> Prospect:
    sizes, worn = found.sizes.rows(places), found.worn[places]
    grid, curves = _curves(name, sizes, readings, worn)
    shares = found.shares[places] / found.shares[places].sum()
    owners = [found.rims[place] for place in places]
    by_rim = _mixed(owners, shares, curves)
    weights = np.array([share for share, _ in by_rim.values()])
    densities = np.array([curve for _, curve in by_rim.values()])
    width = np.gradient(grid)
    bits = _information(weights, densities, width)
    return Prospect(name, bits, _right_of_two(by_rim, rims, width))


def _curves(name: str, sizes: RimSizes, readings: Readings, worn: Array) -> tuple[Array, Array]:
    """The density of the reading in each row, on one grid that is fine wherever a row has its share."""
    spans = [part for state in (True, False) for part in MODELS[name](sizes, readings, state)]
    least = np.min([part.least - part.loss for part in spans], axis=0)
    most = np.max([part.most for part in spans], axis=0)
    reach = ERRORS_BEYOND * max(error for _, error in errors_of(name, float(most.max())))
    steps = np.linspace(0.0, 1.0, LOCAL_POINTS)[:, None]
    local = (least - reach) * (1 - steps) + (most + reach) * steps
    mixed = np.zeros_like(local)
    for state, share in ((True, worn), (False, 1 - worn)):
        if float(share.max()) > LEAST_SHARE:
            mixed += share * density(name, local.T, sizes, readings, worn=state).T
    grid = np.unique(local)
    curves = np.array(
        [np.interp(grid, local[:, row], mixed[:, row], left=0.0, right=0.0) for row in range(local.shape[1])]
    )
    area = np.maximum((curves * np.gradient(grid)).sum(axis=1, keepdims=True), 1e-300)
    return grid, curves / area


def _mixed(owners: list[Rim], shares: Array, curves: Array) -> dict[Rim, tuple[float, Array]]:
    found: dict[Rim, tuple[float, Array]] = {}
    for rim, share, curve in zip(owners, shares.tolist(), curves, strict=True):
        before, sum_before = found.get(rim, (0.0, np.zeros_like(curve)))
        found[rim] = (before + share, sum_before + share * curve)
    return {rim: (share, curve / max(share, 1e-300)) for rim, (share, curve) in found.items()}


def _information(weights: Array, densities: Array, width: Array) -> float:
    """Mutual information in bits of a choice with these weights and what is read of it."""
    mean = weights @ densities
    ratio = np.where(densities > 0, densities / np.maximum(mean, 1e-300), 1.0)
    return float(max(0.0, (weights[:, None] * densities * np.log2(ratio) * width).sum()))


def _right_of_two(by_rim: Mapping[Rim, tuple[float, Array]], rims: list[Rim], width: Array) -> Array:
    """The share of right answers where one of two rims, both as likely, is named by the reading."""
    right = np.full((len(rims), len(rims)), 0.5)
    for i, one in enumerate(rims):
        for j, other in enumerate(rims):
            if i != j and one in by_rim and other in by_rim:
                apart = np.abs(by_rim[one][1] - by_rim[other][1])
                right[i, j] = 0.5 + 0.25 * float((apart * width).sum())
    return np.asarray(np.minimum(right, 1.0))


def _of_count(name: str, counts: Array, found: Posterior, places: Places, rims: list[Rim]) -> Prospect:
    """A count that is made again, carefully: as a reading that is one of a few numbers."""
    possible = np.unique(counts[places])
    curves = (counts[places][:, None] == possible).astype(float)
    shares = found.shares[places] / found.shares[places].sum()
    by_rim = _mixed([found.rims[place] for place in places], shares, curves)
    weights = np.array([share for share, _ in by_rim.values()])
    densities = np.array([curve for _, curve in by_rim.values()])
    width = np.ones(len(possible))
    return Prospect(name, _information(weights, densities, width), _right_of_two(by_rim, rims, width))
