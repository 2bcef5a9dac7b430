"""Which rim an unknown sprocket has: ranked candidates with honest probabilities, and what to measure next."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from inventory.facts import Fact, Refusal, fact
from inventory.identification.expected_sizes import ExpectedSize, expected_sizes
from inventory.identification.information import Prospect, prospects
from inventory.identification.posterior import (
    MISREAD,
    Posterior,
    implied_pitches,
    posterior,
    unlisted_densities,
)
from inventory.identification.reading_model import density
from inventory.identification.readings import MEASUREMENTS, Readings
from inventory.identification.rims import Rim
from inventory.standards.chains import chains
from inventory.standards.sizes import MM_PER_INCH
from inventory.standards.tooth_formulas import across_gaps_mm

LEAST_LISTED, MOST_LISTED = 0.001, 60
"""Candidates below a thousandth are not listed: their share is counted as unknown."""

MOST_COMPARED, LEAST_COMPARED = 8, 0.02
"""Candidates between which it is worked out what tells them apart."""

RIGHT_OFTEN_ENOUGH, AS_GOOD = 0.8, 0.01
"""Share of right answers from which a measurement counts as telling two rims apart. Judgement: four of five."""

MOST_PROPOSED, LEAST_BITS = 3, 0.02
DOUBTFUL_COUNT, DOUBTFUL_READING, READINGS_CARRY = 0.2, 0.5, 0.8
ODD_LOSS_SHOWN_MM = 0.1
INCHES_FIT_WITHIN = 0.06
"""Of the pitch: catalogue diameters stand for a pitch up to 4 % off, worn ones 6 %."""


@dataclass(frozen=True, slots=True)
class FittedReading:
    """A reading beside what a new part of the candidate measures. `apart_mm`: how far it lies from the size that tables print."""

    measurement: str
    expected: ExpectedSize
    apart_mm: float


@dataclass(frozen=True, slots=True)
class RimCandidate:
    """`teeth` is the likeliest count, `tell_apart` what separates it from the likeliest other one."""

    rim: Rim
    teeth: int
    probability: float
    fits: tuple[FittedReading, ...]
    tell_apart: Fact | None


@dataclass(frozen=True, slots=True)
class PitchShare:
    pitch_mm: float
    probability: float


@dataclass(frozen=True, slots=True)
class TeethShare:
    teeth: int
    probability: float


@dataclass(frozen=True, slots=True)
class ProposedMeasurement:
    """`information_bits`: by how much it is expected to reduce the uncertainty about the rim."""

    measurement: str
    information_bits: float
    reason: Fact


@dataclass(frozen=True, slots=True)
class Identification:
    """`candidates` and `unknown` add up to 1. `alike` are groups of candidates that no measurement left to take tells apart."""

    candidates: tuple[RimCandidate, ...]
    unknown: float
    pitches: tuple[PitchShare, ...]
    teeth: tuple[TeethShare, ...]
    measure_next: tuple[ProposedMeasurement, ...]
    alike: tuple[tuple[int, ...], ...]
    notes: tuple[Fact, ...]


def identify(readings: Readings, plant: Mapping[tuple[str, int], int] | None = None) -> Identification:
    """Candidates after all readings. `plant` counts the plant's drives by designation and strands; None: no chain is preferred.

    Raises Refusal where a reading fits only as inches.
    """
    found = posterior(readings, plant)
    _refuse_inches(readings, found)
    ranked = sorted(found.of_rims().items(), key=lambda one: -one[1])
    listed = [(rim, share) for rim, share in ranked[:MOST_LISTED] if share >= LEAST_LISTED]
    compared = [rim for rim, share in listed[:MOST_COMPARED] if share >= LEAST_COMPARED]
    offered = prospects(found, readings, compared)
    return Identification(
        candidates=tuple(_candidate(rim, share, found, readings, compared, offered) for rim, share in listed),
        unknown=1.0 - sum(share for _, share in listed),
        pitches=_pitches(listed),
        teeth=tuple(
            TeethShare(count, share)
            for count, share in sorted(found.of_teeth().items(), key=lambda one: -one[1])
            if share >= LEAST_LISTED
        ),
        measure_next=tuple(_proposed(one, readings) for one in offered if one.information_bits >= LEAST_BITS)[
            :MOST_PROPOSED
        ],
        alike=_alike(compared, offered),
        notes=(*_notes(readings, found, listed), *_rests_on_plant(found, listed)),
    )


def likely_chains(readings: Readings) -> tuple[str, ...]:
    """Designations of the candidates before a plant's own drives are asked about: no others need to be counted."""
    ranked = sorted(posterior(readings).of_rims().items(), key=lambda one: -one[1])
    listed = [rim for rim, share in ranked[:MOST_LISTED] if share >= LEAST_LISTED]
    return tuple(dict.fromkeys(name for rim in listed for name in rim.designations))


def _candidate(
    rim: Rim,
    share: float,
    found: Posterior,
    readings: Readings,
    compared: list[Rim],
    offered: list[Prospect],
) -> RimCandidate:
    teeth = _likeliest_count(rim, found)
    expected = expected_sizes(rim, teeth, readings.gaps_over_chord)
    fits = tuple(
        FittedReading(name, expected[name], value - expected[name].size_mm)
        for name, value in readings.taken()
        if name in expected
    )
    return RimCandidate(rim, teeth, share, fits, _tell_apart(rim, compared, offered, readings))


def _likeliest_count(rim: Rim, found: Posterior) -> int:
    rows = [row for row, one in enumerate(found.rims) if one == rim]
    return int(found.teeth[max(rows, key=lambda row: float(found.shares[row]))])


def _tell_apart(rim: Rim, compared: list[Rim], offered: list[Prospect], readings: Readings) -> Fact | None:
    """Against the likeliest other candidate: the measurement that names the right one of the two most often."""
    others = [other for other in compared if other != rim]
    if not others or rim not in compared:
        return None
    rival, row = others[0], compared.index(rim)
    column = compared.index(rival)
    names = {
        "chain": rim.name,
        "strands": rim.strands,
        "other": rival.name,
        "other_strands": rival.strands,
    }
    best = _simplest_of_the_best(offered, row, column)
    right = float(best.right_of_two[row, column])
    if right < RIGHT_OFTEN_ENOUGH:
        return fact("nothing_tells_apart", **names)
    sizes = [
        expected_sizes(one, readings.teeth, readings.gaps_over_chord).get(best.measurement)
        for one in (rim, rival)
    ]
    if sizes[0] is None or sizes[1] is None:
        return fact("count_tells_apart", measurement=best.measurement, **names)
    return fact(
        "measurement_tells_apart",
        measurement=best.measurement,
        size_mm=round(sizes[0].size_mm, 2),
        other_mm=round(sizes[1].size_mm, 2),
        right_share=round(right, 3),
        **names,
    )


def _simplest_of_the_best(offered: list[Prospect], row: int, column: int) -> Prospect:
    """Of measurements that are as good, the one that is taken first."""
    most = max(float(one.right_of_two[row, column]) for one in offered)
    good = [one for one in offered if one.right_of_two[row, column] >= most - AS_GOOD]
    return min(
        good,
        key=lambda one: (
            MEASUREMENTS.index(one.measurement) if one.measurement in MEASUREMENTS else len(MEASUREMENTS)
        ),
    )


def _pitches(listed: list[tuple[Rim, float]]) -> tuple[PitchShare, ...]:
    found: dict[float, float] = {}
    for rim, share in listed:
        found[rim.chain.pitch_mm] = found.get(rim.chain.pitch_mm, 0.0) + share
    ranked = sorted(found.items(), key=lambda one: -one[1])
    return tuple(PitchShare(pitch, share) for pitch, share in ranked)


def _proposed(one: Prospect, readings: Readings) -> ProposedMeasurement:
    gaps = readings.gaps_over_chord if one.measurement == "chord_mm" else None
    reason = (
        fact("measure_chord_next", gaps=gaps, information_bits=round(one.information_bits, 2))
        if gaps is not None
        else fact(
            "measure_next", measurement=one.measurement, information_bits=round(one.information_bits, 2)
        )
    )
    return ProposedMeasurement(one.measurement, round(one.information_bits, 4), reason)


def _alike(compared: list[Rim], offered: list[Prospect]) -> tuple[tuple[int, ...], ...]:
    """Places of candidates that even the best measurement left to take does not tell apart, in groups of two and more."""
    groups: list[list[int]] = []
    for place in range(len(compared)):
        own = [
            group
            for group in groups
            if any(
                max(float(one.right_of_two[place, other]) for one in offered) < RIGHT_OFTEN_ENOUGH
                for other in group
            )
        ]
        joined = [place, *(other for group in own for other in group)]
        groups = [group for group in groups if group not in own] + [sorted(joined)]
    return tuple(tuple(group) for group in groups if len(group) > 1)


def _notes(readings: Readings, found: Posterior, listed: list[tuple[Rim, float]]) -> list[Fact]:
    notes = []
    others = {count: share for count, share in found.of_teeth().items() if count != readings.teeth}
    count, share = max(others.items(), key=lambda one: one[1])
    if share > DOUBTFUL_COUNT:
        notes.append(
            fact("count_teeth_again", teeth=readings.teeth, other_teeth=count, share=round(share, 3))
        )
    if found.unknown > DOUBTFUL_READING:
        notes += _why_unknown(readings, found)
        return notes
    best = listed[0][0]
    notes += [
        fact("reading_does_not_fit", measurement=name, read_mm=value, chain=best.name)
        for name, value in readings.taken()
        if _is_misread(name, best, found, readings)
    ]
    if readings.outside_diameter_mm is not None and readings.teeth % 2:
        form = expected_sizes(best, readings.teeth)["outside_diameter_mm"]
        part = across_gaps_mm(1.0, readings.teeth)
        loss = form.size_mm * (1 - part)
        if loss >= ODD_LOSS_SHOWN_MM:
            notes.append(
                fact(
                    "odd_teeth_outside_diameter",
                    teeth=readings.teeth,
                    tip_to_tip_mm=round(loss, 2),
                    over_flats_mm=round(form.size_mm * (1 - part**2), 2),
                )
            )
    if any(not chain.is_confirmed for rim, share in listed[:3] for chain in rim.chains[:1]):
        notes.append(fact("candidate_not_in_print"))
    return notes


def _why_unknown(readings: Readings, found: Posterior) -> list[Fact]:
    """The reading without which the others fit a chain; where any of several could be it, all of these."""
    names = tuple(name for name, _ in readings.taken())
    said = fact("no_listed_chain_fits", unknown_share=round(found.unknown, 3), measurements=names)
    culprits = [name for name in names if len(names) > 1 and _fit_without(name, readings)]
    if len(culprits) == 1:
        fitting = _fit_without(culprits[0], readings)
        value = getattr(readings, culprits[0])
        return [said, fact("reading_does_not_fit", measurement=culprits[0], read_mm=value, chain=fitting)]
    return [said, fact("readings_contradict", measurements=tuple(culprits))] if culprits else [said]


def _fit_without(name: str, readings: Readings) -> str | None:
    """The chain that all the other readings fit; None where they fit none."""
    left_out: dict[str, Any] = {name: None} | ({"chord_gaps": None} if name == "chord_mm" else {})
    found = posterior(replace(readings, **left_out))
    if found.unknown > DOUBTFUL_READING:
        return None
    return max(found.of_rims().items(), key=lambda one: one[1])[0].name


def _rests_on_plant(found: Posterior, listed: list[tuple[Rim, float]]) -> list[Fact]:
    """Said where the plant's drives, and not the readings, make the first candidate so likely."""
    if not listed:
        return []
    best, share = listed[0]
    flat = found.share_without_plant(best)
    if flat > READINGS_CARRY * share:
        return []
    return [fact("rests_on_plant", chain=best.name, share=round(share, 3), flat_share=round(flat, 3))]


def _is_misread(name: str, rim: Rim, found: Posterior, readings: Readings) -> bool:
    """Whether the reading is likelier to have nothing to do with the candidate."""
    rows = [row for row, one in enumerate(found.rims) if one == rim]
    row = max(rows, key=lambda one: float(found.shares[one]))
    sizes, value = found.sizes.rows([row]), getattr(readings, name)
    worn = float(found.worn[row])
    likely = sum(
        share * float(density(name, value, sizes, readings, worn=state)[0])
        for state, share in ((True, worn), (False, 1 - worn))
    )
    loose = MISREAD * unlisted_densities(readings)[name]
    return loose / (loose + (1 - MISREAD) * likely) > DOUBTFUL_READING


def _refuse_inches(readings: Readings, found: Posterior) -> None:
    """A reading over the teeth that stands for no pitch in mm, and for one in inches."""
    if found.unknown < DOUBTFUL_READING:
        return
    for name, pitch in implied_pitches(readings).items():
        if not _is_some_pitch(pitch) and _is_some_pitch(pitch * MM_PER_INCH):
            value = getattr(readings, name)
            raise Refusal(
                fact(
                    "reading_perhaps_in_inches",
                    measurement=name,
                    read=value,
                    inches_in_mm=round(value * MM_PER_INCH, 2),
                ),
                field=name,
            )


def _is_some_pitch(pitch_mm: float) -> bool:
    return any(abs(pitch_mm / chain.pitch_mm - 1) < INCHES_FIT_WITHIN for chain in chains())
