"""Rims that an unknown sprocket may have: chains that run on the very same rim are one."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache

from inventory.standards.chains import RIM_FIELDS, Chain, chains
from inventory.standards.rim_tolerances import SAME_RIM_MM

USUAL_STRANDS = {1: 0.6, 2: 0.25, 3: 0.1, 4: 0.05}
"""How often a sprocket has so many rows where nobody counted them. Judgement; it decides only where no width was measured."""

SERIES_WEIGHT = {"A": 1.0, "B": 1.0, "H": 0.3, "light half-inch": 0.2, "motorcycle": 0.1}
DOUBLE_PITCH_WEIGHT, DOUBLE_CUT_WEIGHT = 0.2, 0.05
"""How often a rim is met in a plant, beside one of the A or B series. Judgement, no source: a plant's own drives say it better."""

PLANT_SHARE, DRIVES_FOR_HALF = 0.6, 10
"""Of the prior, that a large plant's own drives have; half of it with so few drives. The rest stays with rims that it does not run, as machines
come with their own and stores get mixed up. Judgement."""


@dataclass(frozen=True, slots=True)
class Rim:
    """Teeth in one or more rows, named after the first chain. `single_cut` is false where a standard-roller double-pitch chain uses every second gap."""

    name: str
    strands: int
    single_cut: bool
    chains: tuple[Chain, ...] = field(compare=False, repr=False)

    @property
    def chain(self) -> Chain:
        return self.chains[0]

    @property
    def designations(self) -> tuple[str, ...]:
        return tuple(chain.designation for chain in self.chains)

    @property
    def tooth_pitch_mm(self) -> float:
        """From one tooth's roller to the next that could lie there: of double-pitch chain on standard rollers half its pitch."""
        chain = self.chain
        return chain.pitch_mm / 2 if chain.is_double_pitch and not chain.has_large_rollers else chain.pitch_mm

    @property
    def weight(self) -> float:
        """Of the commonest of its chains: that a heavy chain runs on it too makes a rim no commoner."""
        weight = max(_weight(chain) for chain in self.chains)
        return weight if self.single_cut else min(weight, DOUBLE_CUT_WEIGHT)


def _weight(chain: Chain) -> float:
    return DOUBLE_PITCH_WEIGHT if chain.is_double_pitch else SERIES_WEIGHT[chain.series]


def is_same_rim(one: Chain, other: Chain, *, strands: int) -> bool:
    """Equal in pitch, roller and inner width, or the heavy chain of the other; in several rows also in transverse pitch."""
    if strands > 1 and not _is_near(one.transverse_pitch_mm, other.transverse_pitch_mm):
        return False
    if one.series == "H" and other.designation == one.base_chain:
        return True
    return all(_is_near(getattr(one, name), getattr(other, name)) for name in RIM_FIELDS)


def _is_near(one_mm: float | None, other_mm: float | None) -> bool:
    return one_mm is not None and other_mm is not None and abs(one_mm - other_mm) < SAME_RIM_MM


def _takes(chain: Chain, strands: int) -> bool:
    return strands == 1 or (not chain.is_simplex_only and chain.transverse_pitch_mm is not None)


@cache
def rims(strands: int) -> tuple[Rim, ...]:
    """Every rim of the tables with so many rows of teeth."""
    groups: list[list[Chain]] = []
    for chain in sorted((one for one in chains() if _takes(one, strands)), key=lambda one: -_weight(one)):
        group = next((one for one in groups if is_same_rim(chain, one[0], strands=strands)), None)
        if group is None:
            groups.append([chain])
        else:
            group.append(chain)
    single = [Rim(group[0].designation, strands, True, tuple(group)) for group in groups]
    double = [
        replace(rim, single_cut=False)
        for rim in single
        if rim.chain.is_double_pitch and not rim.chain.has_large_rollers
    ]
    return (*single, *double)


def rims_of(strands: int | None) -> tuple[Rim, ...]:
    """Those with the counted rows, or with each usual number of them."""
    return (
        rims(strands) if strands is not None else tuple(rim for count in USUAL_STRANDS for rim in rims(count))
    )


def prior_of(
    found: Iterable[Rim], *, strands_known: bool, plant: Mapping[tuple[str, int], int] | None
) -> list[float]:
    """How probable each rim is before it is measured, adding up to 1.

    `plant` counts the drives of a plant by designation and strands; None or empty: flat, but for `SERIES_WEIGHT`.
    """
    listed = list(found)
    base = [
        rim.weight * (1.0 if strands_known or rim.chain.is_simplex_only else USUAL_STRANDS[rim.strands])
        for rim in listed
    ]
    flat = _shares(base)
    counted = [_drives_on(rim, plant or {}) for rim in listed]
    if not sum(counted):
        return flat
    own = _shares(counted)
    share = PLANT_SHARE * sum(counted) / (sum(counted) + DRIVES_FOR_HALF)
    return [(1 - share) * one + share * other for one, other in zip(flat, own, strict=True)]


def _drives_on(rim: Rim, plant: Mapping[tuple[str, int], int]) -> float:
    """A drive with double-pitch chain may have either cut."""
    counted = float(sum(plant.get((name, rim.strands), 0) for name in rim.designations))
    return counted * (1.0 if rim.single_cut else DOUBLE_CUT_WEIGHT)


def _shares(weights: list[float]) -> list[float]:
    total = sum(weights)
    return [weight / total for weight in weights]
