"""Whether a delivery is what was ordered: the fewest measurements that separate it from its look-alikes, and the verdict on them.

A look-alike is another rim that a clerk could be handed for the ordered one: of the same tooth count and number of rows, of its own pitch or one
of the next. Another count of teeth or rows is found by counting, which is always done. Limits are those of new parts (see `expected_sizes`),
widened by the reading error.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

from inventory.facts import Fact, Refusal, fact
from inventory.identification.expected_sizes import ExpectedSize, expected_sizes
from inventory.identification.reading_model import CALIPER_REACH_MM
from inventory.identification.rims import Rim, rims
from inventory.standards.chains import Chain
from inventory.standards.tooth_counts import counted_teeth, strand_count

SEPARATING = ("tooth_width_mm", "caliper_diameter_mm", "overall_width_mm", "outside_diameter_mm")
"""In the order in which a clerk takes them."""

NEXT_PITCHES = 1.3
"""Standard pitches are up to 26 % apart: of each the next one above and below may be delivered by mistake. Judgement."""

CALIPER_UNCERTAINTY_MM, TAPE_UNCERTAINTY_MM = 0.1, 1.0
"""Expanded uncertainty of a reading, up to 150 mm and above. Judgement."""


OWN_SIZES_MM = {"bore_mm": 0.15, "keyway_width_mm": 0.15}
"""Sizes of the ordered part beside its teeth, and how far a reading may be off: 0.1 mm of the caliper and a bore H8. Judgement."""


@dataclass(frozen=True, slots=True)
class CheckedSize:
    """A measurement with the limits within which a reading may be of the ordered part."""

    measurement: str
    expected: ExpectedSize
    least_mm: float
    most_mm: float
    reason: Fact


@dataclass(frozen=True, slots=True)
class ReceivingCheck:
    """`decisive` are the fewest measurements that separate what was ordered from its look-alikes; `not_told_apart` no measurement does.

    `own` are bore and keyway as ordered.
    """

    rim: Rim
    teeth: int
    own: tuple[CheckedSize, ...]
    decisive: tuple[CheckedSize, ...]
    look_alikes: tuple[Rim, ...]
    not_told_apart: tuple[Rim, ...]

    @property
    def measure(self) -> tuple[CheckedSize, ...]:
        return (*self.decisive, *self.own)


@dataclass(frozen=True, slots=True)
class ReceivingVerdict:
    """`could_be` are the rims that all readings allow, `missing` the measurements still to take."""

    outcome: Literal["passes", "something_else", "doubtful"]
    could_be: tuple[Rim, ...]
    missing: tuple[str, ...]
    reasons: tuple[Fact, ...]


def ordered_rim(chain: Chain, *, strands: int, single_cut: bool = True) -> Rim:
    """The rim that this chain runs on, named after it."""
    strand_count("strands", strands)
    for rim in rims(strands):
        if chain in rim.chains and rim.single_cut is single_cut:
            return rim
    code = "chain_not_in_so_many_strands" if single_cut else "chain_not_for_double_cut"
    field = "strands" if single_cut else "single_cut"
    raise Refusal(fact(code, chain=chain.designation, strands=strands), field=field)


def receiving_check(rim: Rim, teeth: int, own_mm: Mapping[str, float] | None = None) -> ReceivingCheck:
    """What to measure on a delivery of this rim, besides counting teeth and rows; `own_mm` by the names of `OWN_SIZES_MM`."""
    counted_teeth("teeth", teeth)
    others = _look_alikes(rim)
    separated = {name: _separated(name, rim, others, teeth) for name in SEPARATING}
    can_be: frozenset[Rim] = frozenset().union(*separated.values())
    names = _fewest(separated, can_be)
    hidden = tuple(other for other in others if other not in can_be)
    return ReceivingCheck(
        rim,
        teeth,
        tuple(_own(name, size_mm) for name, size_mm in (own_mm or {}).items()),
        tuple(_checked(name, rim, separated[name], teeth) for name in names),
        others,
        hidden,
    )


def judge_delivery(
    check: ReceivingCheck, *, teeth: int, strands: int, read_mm: Mapping[str, float]
) -> ReceivingVerdict:
    """The verdict on counted teeth, counted rows and readings, of any measurement in `SEPARATING` and `OWN_SIZES_MM`."""
    own_mm = {name: value for name, value in read_mm.items() if name in OWN_SIZES_MM}
    read_mm = {name: value for name, value in read_mm.items() if name in SEPARATING}
    reasons = []
    if counted_teeth("teeth", teeth) != check.teeth:
        reasons.append(fact("delivered_teeth_differ", ordered=check.teeth, counted=teeth))
    if strand_count("strands", strands) != check.rim.strands:
        reasons.append(fact("delivered_strands_differ", ordered=check.rim.strands, counted=strands))
    if reasons:
        return ReceivingVerdict("something_else", _allowed(rims(strands), teeth, read_mm), (), tuple(reasons))
    reasons = [
        fact(
            "delivered_bore_differs",
            measurement=one.measurement,
            read_mm=own_mm[one.measurement],
            ordered_mm=one.expected.size_mm,
        )
        for one in check.own
        if one.measurement in own_mm and not one.least_mm <= own_mm[one.measurement] <= one.most_mm
    ]
    outside = [name for name, value in read_mm.items() if not _allows(name, value, check.rim, teeth)]
    could_be = _allowed((check.rim, *check.look_alikes), teeth, read_mm)
    if outside or reasons:
        reasons += [_out_of_limits(name, read_mm[name], check) for name in outside]
        elsewhere = could_be or _allowed(rims(strands), teeth, read_mm)
        return ReceivingVerdict("something_else" if elsewhere else "doubtful", elsewhere, (), tuple(reasons))
    taken = (*own_mm, *read_mm)
    missing = tuple(one.measurement for one in check.measure if one.measurement not in taken)
    others = tuple(other for other in could_be if other != check.rim)
    if missing or any(other not in check.not_told_apart for other in others):
        doubts = [fact("measure_also", measurement=name) for name in missing]
        names = tuple(other.name for other in others)
        doubts += [fact("reading_allows_look_alikes", look_alikes=names)] if names and not missing else []
        return ReceivingVerdict("doubtful", could_be, missing, tuple(doubts))
    told = [fact("look_alikes_not_told_apart", look_alikes=tuple(one.name for one in others))]
    return ReceivingVerdict("passes", could_be, (), tuple(told if others else ()))


def uncertainty_mm(size_mm: float) -> float:
    return CALIPER_UNCERTAINTY_MM if size_mm <= CALIPER_REACH_MM else TAPE_UNCERTAINTY_MM


def _look_alikes(rim: Rim) -> tuple[Rim, ...]:
    """Rims of about the same pitch in as many rows, the commonest first; those whose sizes nobody saw in print are left out."""
    seen_mm = _seen_pitch_mm(rim)
    near = [
        other
        for other in rims(rim.strands)
        if other != rim
        and other.chain.is_confirmed
        and 1 / NEXT_PITCHES < _seen_pitch_mm(other) / seen_mm < NEXT_PITCHES
    ]
    return tuple(sorted(near, key=lambda other: -other.weight))


def _seen_pitch_mm(rim: Rim) -> float:
    """From one gap to the next: of a double-cut rim its tooth pitch."""
    return rim.chain.pitch_mm if rim.single_cut else rim.tooth_pitch_mm


def _limits(name: str, rim: Rim, teeth: int) -> tuple[float, float]:
    expected = expected_sizes(rim, teeth)[name]
    slack = uncertainty_mm(expected.most_mm)
    return expected.least_mm - slack, expected.most_mm + slack


def _separated(name: str, rim: Rim, others: Iterable[Rim], teeth: int) -> frozenset[Rim]:
    """The look-alikes whose limits do not meet those of the ordered rim."""
    if name == "overall_width_mm" and rim.strands == 1:
        return frozenset()
    least, most = _limits(name, rim, teeth)
    spans = {other: _limits(name, other, teeth) for other in others}
    return frozenset(other for other, (low, high) in spans.items() if high < least or low > most)


def _fewest(separated: Mapping[str, frozenset[Rim]], wanted: frozenset[Rim]) -> tuple[str, ...]:
    """The smallest set of measurements that together separates all that any of them does; of equals the one that is taken first."""
    for count in range(len(SEPARATING) + 1):
        for names in combinations(SEPARATING, count):
            if frozenset().union(*(separated[name] for name in names)) >= wanted:
                return names
    return SEPARATING


def _own(name: str, size_mm: float) -> CheckedSize:
    slack = OWN_SIZES_MM[name]
    reason = fact("measure_ordered_size", measurement=name, size_mm=size_mm)
    exact = ExpectedSize(size_mm, size_mm, size_mm)
    return CheckedSize(name, exact, size_mm - slack, size_mm + slack, reason)


def _checked(name: str, rim: Rim, others: frozenset[Rim], teeth: int) -> CheckedSize:
    expected = expected_sizes(rim, teeth)[name]
    least, most = _limits(name, rim, teeth)
    nearest = min(
        others,
        key=lambda other: (
            round(abs(expected_sizes(other, teeth)[name].size_mm - expected.size_mm), 2),
            -other.weight,
        ),
    )
    reason = fact(
        "look_alike_measures",
        measurement=name,
        size_mm=round(expected.size_mm, 2),
        look_alike=nearest.name,
        look_alike_mm=round(expected_sizes(nearest, teeth)[name].size_mm, 2),
    )
    return CheckedSize(name, expected, least, most, reason)


def _allows(name: str, read_mm: float, rim: Rim, teeth: int) -> bool:
    least, most = _limits(name, rim, teeth)
    return least <= read_mm <= most


def _allowed(found: Iterable[Rim], teeth: int, read_mm: Mapping[str, float]) -> tuple[Rim, ...]:
    return tuple(
        rim for rim in found if all(_allows(name, value, rim, teeth) for name, value in read_mm.items())
    )


def _out_of_limits(name: str, value: float, check: ReceivingCheck) -> Fact:
    least, most = _limits(name, check.rim, check.teeth)
    return fact(
        "delivered_size_out_of_limits",
        measurement=name,
        read_mm=value,
        least_mm=round(least, 2),
        most_mm=round(most, 2),
        chain=check.rim.name,
    )
