"""The tooth form behind a specification, where its chain and teeth are known."""

from functools import lru_cache
from typing import Any

from api.edge.parsing import StrictFloatField, StrictSerializer
from inventory.models import PartKind, Specification
from inventory.standards.chains import UnknownChain, find_chain
from inventory.standards.tooth_form import tooth_form

STORED_DECIMALS = 6


class GeometrySerializer(StrictSerializer):
    pitch_diameter_mm = StrictFloatField()
    outside_diameter_mm = StrictFloatField()
    outside_diameter_min_mm = StrictFloatField()
    outside_diameter_max_mm = StrictFloatField()
    root_diameter_mm = StrictFloatField()
    caliper_diameter_mm = StrictFloatField()
    tooth_width_mm = StrictFloatField()
    width_over_strands_mm = StrictFloatField(allow_null=True)
    max_hub_diameter_mm = StrictFloatField(allow_null=True)
    measuring_pin_diameter_mm = StrictFloatField()
    over_pins_mm = StrictFloatField()


SHOWN = tuple(GeometrySerializer().fields)


def geometry_of(specification: Specification) -> dict[str, float | None] | None:
    """Dimensions of the teeth as they ought to be; None where the chain or the teeth are not known."""
    if specification.kind != PartKind.SPROCKET or not specification.chain_designation:
        return None
    if specification.teeth is None:
        return None
    return _geometry(
        specification.chain_designation,
        specification.teeth,
        specification.strands or 1,
        specification.single_cut is not False,
    )


@lru_cache(maxsize=4096)
def _geometry(designation: str, teeth: int, strands: int, single_cut: bool) -> dict[str, float | None] | None:
    try:
        form = tooth_form(find_chain(designation), teeth, strands, single_cut=single_cut)
    except (UnknownChain, ValueError):
        return None
    return {name: _shown(getattr(form, name)) for name in SHOWN}


def _shown(value: Any) -> float | None:
    return None if value is None else round(value, STORED_DECIMALS)
