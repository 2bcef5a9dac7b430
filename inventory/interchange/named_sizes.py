"""A measured bore against the standard sizes by name: whole millimetres and sixteenths of an inch. Lengths in mm."""

from dataclasses import dataclass
from math import ceil, floor

from inventory.interchange.thresholds import Thresholds
from inventory.standards.sizes import MM_PER_INCH, STORED_DECIMALS, inch_text

SIXTEENTH_MM = MM_PER_INCH / 16


@dataclass(frozen=True)
class NamedSize:
    """What a size is taken for beside the one that is required.

    `look_alike_mm` is the nearest standard size of another name. `is_measured` is False where both sizes are standard ones:
    then nothing was read off a caliper and they are what they say.
    """

    look_alike_mm: float
    is_measured: bool
    is_look_alike: bool


def size_by_name(given_mm: float, required_mm: float, limits: Thresholds) -> NamedSize:
    """Whether a size that is not the required one is nearer to another standard size than to it."""
    own_mm = _own_size_mm(required_mm, limits)
    others = [size for size in standard_sizes_near(given_mm) if not limits.is_same_size(size, own_mm)]
    nearest_mm = min(others, key=lambda size: abs(size - given_mm))
    apart_mm = abs(nearest_mm - given_mm) + limits.measuring_uncertainty_mm
    is_measured = not (is_standard_size(given_mm, limits) and is_standard_size(required_mm, limits))
    is_look_alike = not is_measured or round(apart_mm, STORED_DECIMALS) < abs(given_mm - required_mm)
    return NamedSize(nearest_mm, is_measured, is_look_alike)


def standard_sizes_near(size_mm: float) -> tuple[float, ...]:
    """The whole millimetres and the sixteenths of an inch on either side."""
    whole = {float(count) for step in (-1, 0, 1) for count in (floor(size_mm) + step, ceil(size_mm) + step)}
    sixteenths = {
        count * SIXTEENTH_MM
        for step in (-1, 0, 1)
        for count in (floor(size_mm / SIXTEENTH_MM) + step, ceil(size_mm / SIXTEENTH_MM) + step)
    }
    return tuple(sorted(round(size, STORED_DECIMALS) for size in whole | sixteenths if size > 0))


def is_standard_size(size_mm: float, limits: Thresholds) -> bool:
    """A whole or half millimetre, or a fraction of an inch that is written down as one."""
    is_named = any(limits.is_same_size(size_mm, size) for size in standard_sizes_near(size_mm))
    return is_named or (2 * size_mm).is_integer() or inch_text(size_mm) is not None


def _own_size_mm(required_mm: float, limits: Thresholds) -> float:
    """The standard size that a measured shaft stands for."""
    nearest_mm = min(standard_sizes_near(required_mm), key=lambda size: abs(size - required_mm))
    is_near = abs(nearest_mm - required_mm) <= limits.measuring_uncertainty_mm
    return nearest_mm if is_near and not is_standard_size(required_mm, limits) else required_mm
