"""Bushes, keys, chain and links that can stand in for one another: all that the one states holds of the other."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db.models import Q

from inventory.models import PartKind, Specification
from inventory.models.engagement import ENGAGEMENT_LENGTHS
from inventory.models.specification import LENGTHS
from inventory.standards.sizes import SAME_NOMINAL_TOLERANCE_MM, same_nominal

ESSENTIAL: Mapping[str, tuple[str, ...]] = {
    PartKind.CHAIN: ("pitch_mm", "roller_diameter_mm", "strands"),
    PartKind.BUSH: ("bush_size", "bore_mm"),
    PartKind.KEY: ("keyway_width_mm", "key_height_mm", "key_length_mm"),
    PartKind.JOINING_LINK: ("pitch_mm", "strands"),
    PartKind.CRANKED_LINK: ("pitch_mm", "strands"),
}
"""What must be known of two items before they can be the same part."""

SIZES = tuple(dict.fromkeys((*ENGAGEMENT_LENGTHS, *LENGTHS)))
WORDS = (
    *("chain_designation", "strands", "bush_size", "key_standard", "material", "material_grade"),
    *("food_contact", "non_sparking"),
)


def is_described(part: Specification) -> bool:
    """Whether enough is known of a part that is no sprocket to say which other one is like it."""
    needed = ESSENTIAL.get(part.kind)
    return needed is not None and all(getattr(part, name) not in (None, "") for name in needed)


def like_parts(part: Specification) -> Q:
    """Specifications of the same kind that have everything that this one states."""
    found = Q(kind=part.kind)
    for name, value in _stated(part).items():
        if isinstance(value, Decimal):
            tolerance = Decimal(str(SAME_NOMINAL_TOLERANCE_MM))
            span = (value - tolerance, value + tolerance)
            found &= Q(**{f"{name}__range": span})
        else:
            found &= Q((name, value))
    return found


def is_like(offered: Specification, part: Specification) -> bool:
    """The same choice as `like_parts`, for a record that is at hand."""
    return offered.kind == part.kind and all(
        _is_same(getattr(offered, name), value) for name, value in _stated(part).items()
    )


def _stated(part: Specification) -> dict[str, Any]:
    stated = {name: getattr(part, name) for name in (*SIZES, *WORDS)}
    return {name: value for name, value in stated.items() if value not in (None, "")}


def _is_same(offered: Any, stated: Any) -> bool:
    if isinstance(stated, Decimal):
        return offered is not None and same_nominal(offered, stated)
    return bool(offered == stated)
