"""A measured tooth width against the rims that it could be taken for, by name. Lengths in mm.

Rims of one pitch are told apart by the width of the tooth or by the roller it is cut for, never by pitch and count.
"""

from dataclasses import dataclass
from functools import cache, lru_cache

from inventory.interchange.requirement import Engagement
from inventory.standards.chains import RIM_FIELDS, chains
from inventory.standards.rim_tolerances import SAME_RIM_MM, it14_mm
from inventory.standards.sizes import STORED_DECIMALS
from inventory.standards.tooth_formulas import flange_thickness_asme_mm

MOST_ROWS = 4
"""Row counts whose widths are tried where the rows of a rim are not recorded."""


def is_one_rim(chain: Engagement, rim: Engagement) -> bool:
    """Chains of one name, or of equal pitch, roller and width: standard and heavy plates run on one rim."""
    if chain.designation is not None and chain.designation == rim.designation:
        return True
    return all(
        abs(getattr(chain, name) - getattr(rim, name)) < SAME_RIM_MM
        for name in ("pitch_mm", "roller_diameter_mm", "inner_width_mm")
    )


@dataclass(frozen=True)
class LookAlike:
    """A rim that a measured tooth is compared with, and the one of its standard widths that is nearest."""

    rim: Engagement
    width_mm: float
    apart_mm: float


@dataclass(frozen=True)
class MeasuredTooth:
    """A tooth width between what its name says and what other rims of the same pitch have."""

    width_mm: float
    own: LookAlike
    others: tuple[LookAlike, ...]
    """Of every other rim of this pitch, the nearest first."""
    lawful_mm: tuple[float, float]
    """The least and the greatest that a rim of this name may have."""

    @property
    def is_lawful(self) -> bool:
        return self.lawful_mm[0] <= self.width_mm <= self.lawful_mm[1]

    def nearest(self, uncertainty_mm: float) -> LookAlike | None:
        """The rim of another name that the tooth is nearer to than to its own, by more than a caliper is wrong."""
        clearly = (one for one in self.others if one.apart_mm + uncertainty_mm < self.own.apart_mm)
        return next(clearly, None)

    @property
    def neighbour(self) -> LookAlike | None:
        """The nearest rim of another name on the side on which the tooth leaves its own."""
        is_narrow = self.width_mm < self.own.width_mm
        return next((one for one in self.others if (one.width_mm < self.own.width_mm) == is_narrow), None)


@lru_cache(maxsize=4096)
def measured_tooth(
    rim: Engagement, width_mm: float, *, strands: int | None, uncertainty_mm: float
) -> MeasuredTooth:
    """The recorded width of a tooth that is said to be cut for `rim`."""
    rows = _rows(strands)
    own_widths = _widths_mm(rim, rows)
    iso_mm = [rim.standard_tooth_width_mm(count) for count in rows]
    least_mm = min(*(size - it14_mm(size) for size in iso_mm), *own_widths)
    lawful_mm = (least_mm - uncertainty_mm, max(own_widths) + uncertainty_mm)
    others = (
        _nearest(other, width_mm, _rows(strands, may_be_single=False))
        for other in seen_rims(rim.pitch_mm)
        if not is_one_rim(rim, other)
    )
    by_distance = sorted(others, key=lambda one: (one.apart_mm, _roller_apart_mm(one.rim, rim)))
    return MeasuredTooth(width_mm, _nearest(rim, width_mm, rows), tuple(by_distance), lawful_mm)


def _rows(strands: int | None, *, may_be_single: bool = True) -> tuple[int, ...]:
    """The row counts that a width may stand for; a rim of several rows may be cut like a single one."""
    if strands is None:
        return tuple(range(1, MOST_ROWS + 1))
    return (1, strands) if may_be_single and strands > 1 else (strands,)


def _widths_mm(rim: Engagement, rows: tuple[int, ...]) -> tuple[float, ...]:
    """Widths of one row of teeth: to ISO 606 and, where a chain of this rim has an inch width, to ASME B29.1."""
    inch = [
        flange_thickness_asme_mm(nominal_in, count)
        for nominal_in in _nominal_widths_in(rim)
        for count in rows
    ]
    iso = [rim.standard_tooth_width_mm(count) for count in rows]
    return (*iso, *(width for width in inch if width is not None))


def _nearest(rim: Engagement, width_mm: float, rows: tuple[int, ...]) -> LookAlike:
    width = min(_widths_mm(rim, rows), key=lambda one: abs(one - width_mm))
    return LookAlike(rim, width, round(abs(width - width_mm), STORED_DECIMALS))


def _roller_apart_mm(one: Engagement, other: Engagement) -> float:
    return abs(one.roller_diameter_mm - other.roller_diameter_mm)


@cache
def _standard_chains() -> tuple[tuple[Engagement, float | None], ...]:
    return tuple((Engagement.of(chain), chain.inner_width_nominal_in) for chain in chains())


@cache
def seen_rims(pitch_mm: float) -> tuple[Engagement, ...]:
    """One engagement for each rim of this pitch whose roller and width were seen in a source."""
    rims: list[Engagement] = []
    for chain, _nominal_in in _standard_chains():
        is_new = not any(is_one_rim(chain, rim) for rim in rims)
        if abs(chain.pitch_mm - pitch_mm) < SAME_RIM_MM and is_new and not chain.unseen_fields & RIM_FIELDS:
            rims.append(chain)
    return tuple(rims)


@cache
def seen_pitches() -> tuple[Engagement, ...]:
    """One single-pitch chain for each pitch, the preferred one."""
    by_pitch: dict[float, Engagement] = {}
    for chain, _nominal_in in _standard_chains():
        if not chain.is_double_pitch and not chain.unseen_fields & RIM_FIELDS:
            by_pitch.setdefault(chain.pitch_mm, chain)
    return tuple(by_pitch.values())


@cache
def _nominal_widths_in(rim: Engagement) -> tuple[float, ...]:
    return tuple(
        nominal_in
        for chain, nominal_in in _standard_chains()
        if nominal_in is not None and is_one_rim(chain, rim)
    )
