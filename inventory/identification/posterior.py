"""How probable each rim is after the readings: Bayes' rule over rims, tooth counts and wear."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from inventory.identification.reading_model import density
from inventory.identification.readings import Readings
from inventory.identification.rim_sizes import Array, Places, RimSizes, sizes_of
from inventory.identification.rims import Rim, prior_of, rims_of
from inventory.standards.tooth_counts import COUNTED_TEETH

MISCOUNTED = 0.015
"""Chance of one tooth too few, and as much of one too many: nobody marked the first one. Judgement."""

PART_UNKNOWN = 0.02
"""Chance that the part is no sprocket of a listed chain. Judgement."""

MISREAD = 0.002
"""Chance of a reading that has nothing to do with the part: wrong jaw, wrong line, wrong digit. Judgement."""

PART_WORN = 0.5
"""Chance that a part is worn where nobody can say. Judgement: it lies on the counter because it was taken off."""

ACROSS_ROWS = ("tooth_width_mm", "overall_width_mm")
"""Readings that differ with the number of rows."""

PITCHES_MM = (4.0, 130.0)
"""From the smallest to the largest pitch that an unlisted part may have."""
TOOTH_HEIGHT_IN_PITCHES, WIDTH_IN_PITCHES, CHORD_SPREAD = (0.5, 2.0), (0.1, 1.0), 0.2


@dataclass(frozen=True)
class Posterior:
    """Rows of rim and tooth count. `shares` of the rows and `unknown` add up to 1; `worn` is the share of worn parts in each row.

    `flat_ratio` is how many times as probable a row was without the drives of a plant; None where none were counted.
    """

    rims: Sequence[Rim]
    teeth: Array
    sizes: RimSizes
    shares: Array
    worn: Array
    unknown: float
    flat_ratio: Array | None = None

    def share_without_plant(self, rim: Rim) -> float:
        """What the rim would have if no drive of a plant had been counted."""
        flat = self.shares if self.flat_ratio is None else self.shares * self.flat_ratio
        own = np.array([one == rim for one in self.rims])
        return float(flat[own].sum() / (flat.sum() + self.unknown))

    def of_rims(self) -> dict[Rim, float]:
        found: dict[Rim, float] = {}
        for rim, share in zip(self.rims, self.shares.tolist(), strict=True):
            found[rim] = found.get(rim, 0.0) + share
        return found

    def of_teeth(self) -> dict[int, float]:
        counts = np.unique(self.teeth)
        return {int(count): float(self.shares[self.teeth == count].sum()) for count in counts}


def posterior(readings: Readings, plant: Mapping[tuple[str, int], int] | None = None) -> Posterior:
    """Every rim with the counted teeth and one more or fewer, after all readings."""
    found = rims_of(readings.strands)
    flat_prior = np.array(prior_of(found, strands_known=readings.strands is not None, plant=None))
    rim_prior = flat_prior
    if plant:
        rim_prior = np.array(prior_of(found, strands_known=readings.strands is not None, plant=plant))
    counts = _counts(readings.teeth)
    rows = tuple(rim for _ in counts for rim in found)
    teeth = np.repeat([count for count, _ in counts], len(found))
    sizes = sizes_of(rows, teeth.tolist())
    prior = np.concatenate([share * rim_prior for _, share in counts])
    loose, one_row = unlisted_densities(readings), _OneRow.of(rows, teeth.tolist(), sizes)
    likelihood = {
        worn: np.prod([_likely(name, one_row, readings, worn, loose) for name, _ in readings.taken()], axis=0)
        for worn in ((True, False) if readings.worn is None else (readings.worn,))
    }
    state = {True: PART_WORN, False: 1 - PART_WORN} if readings.worn is None else {readings.worn: 1.0}
    of_state = {worn: state[worn] * prior * likelihood[worn] for worn in likelihood}
    joint = np.sum(list(of_state.values()), axis=0) * (1 - PART_UNKNOWN)
    unknown = PART_UNKNOWN * float(np.prod(list(loose.values())))
    total = float(joint.sum()) + unknown
    worn_part = of_state.get(True, 0.0 * prior) * (1 - PART_UNKNOWN)
    return Posterior(
        rows,
        teeth,
        sizes,
        joint / total,
        worn_part / np.maximum(joint, 1e-300),
        unknown / total,
        np.tile(flat_prior / rim_prior, len(counts)) if plant else None,
    )


@dataclass(frozen=True)
class _OneRow:
    """Rims of several rows have the diameters of one row: each is worked out once. `place` is that of each rim among `single`."""

    sizes: RimSizes
    single: RimSizes
    place: Places

    @classmethod
    def of(cls, rims: Sequence[Rim], teeth: Sequence[int], sizes: RimSizes) -> "_OneRow":
        places: dict[tuple[str, bool, int], int] = {}
        first: list[int] = []
        found = np.empty(len(rims), dtype=np.intp)
        for row, (rim, count) in enumerate(zip(rims, teeth, strict=True)):
            key = (rim.name, rim.single_cut, count)
            if key not in places:
                places[key] = len(first)
                first.append(row)
            found[row] = places[key]
        return cls(sizes, sizes.rows(first), found)

    def density(self, name: str, readings: Readings, *, worn: bool) -> Array:
        reading = getattr(readings, name)
        if name in ACROSS_ROWS:
            return density(name, reading, self.sizes, readings, worn=worn)
        return np.asarray(density(name, reading, self.single, readings, worn=worn)[self.place])


def _counts(teeth: int) -> list[tuple[int, float]]:
    near = [(teeth - 1, MISCOUNTED), (teeth, 1 - 2 * MISCOUNTED), (teeth + 1, MISCOUNTED)]
    possible = [(count, share) for count, share in near if COUNTED_TEETH[0] <= count <= COUNTED_TEETH[1]]
    total = sum(share for _, share in possible)
    return [(count, share / total) for count, share in possible]


def _likely(name: str, one_row: _OneRow, readings: Readings, worn: bool, loose: Mapping[str, float]) -> Array:
    found = one_row.density(name, readings, worn=worn)
    return np.asarray((1 - MISREAD) * found + MISREAD * loose[name])


def implied_pitches(readings: Readings) -> dict[str, float]:
    """The pitch in mm that each reading over the teeth would stand for by itself, in the order in which they are trusted."""
    teeth = readings.teeth
    found: dict[str, float] = {}
    if readings.chord_mm is not None and readings.chord_gaps is not None:
        found["chord_mm"] = (
            readings.chord_mm * np.sin(np.pi / teeth) / np.sin(np.pi * readings.chord_gaps / teeth)
        )
    if readings.outside_diameter_mm is not None:
        found["outside_diameter_mm"] = readings.outside_diameter_mm / (0.6 + 1 / np.tan(np.pi / teeth))
    if readings.caliper_diameter_mm is not None:
        # Rollers of single-pitch chains have 0.52 to 0.70 of the pitch; 0.6 lies between.
        found["caliper_diameter_mm"] = readings.caliper_diameter_mm / (1 / np.sin(np.pi / teeth) - 0.6)
    return found


def unlisted_densities(readings: Readings) -> dict[str, float]:
    """Probability per mm of each reading on a part of no listed chain: any pitch, and what the others leave open about it."""
    pitches = implied_pitches(readings)
    pitch = next(iter(pitches.values()), None)
    any_size = 1 / np.log(PITCHES_MM[1] / PITCHES_MM[0])
    found: dict[str, float] = {}
    for name, reading in readings.taken():
        if name in pitches:
            is_first = name == next(iter(pitches))
            height = (TOOTH_HEIGHT_IN_PITCHES[1] - TOOTH_HEIGHT_IN_PITCHES[0]) * (pitch or 1.0)
            found[name] = any_size / reading if is_first else 1 / height
        elif pitch is not None:
            least, most = WIDTH_IN_PITCHES
            found[name] = 1 / (reading * np.log(most / least))
        else:
            found[name] = any_size / reading
    return {name: float(value) for name, value in found.items()}
