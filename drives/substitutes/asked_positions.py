"""What a reader of questions understood, as conditions on positions and drives that an index answers."""

from collections.abc import Collection, Sequence

from django.db.models import Q

from inventory.catalogue.asked_parts import all_asked
from inventory.descriptions.query import QueryFilter

OF_POSITION = frozenset(
    {"chain", "pitch_mm", "strands", "teeth", "bush_size", "bore_mm", "hub_style", "kind", "role_kind"}
)
OF_DRIVE = frozenset({"chain", "pitch_mm", "strands"})


def of_positions(filters: Sequence[QueryFilter]) -> Q | None:
    """Positions that ask for it; None where it is no sprocket."""
    if not _are_of(filters, OF_POSITION) or any(
        one.name == "kind" and one.values != ("sprocket",) for one in filters
    ):
        return None
    asked = [one for one in filters if one.name != "kind"]
    return (
        all_asked(asked, "drive__", "", {"bore_mm": "shaft_diameter_mm", "role_kind": "role"})
        if asked
        else None
    )


def of_drives(filters: Sequence[QueryFilter]) -> Q | None:
    """Drives that run this chain, where nothing but the chain is asked for."""
    return all_asked(filters, "", "", {}) if _are_of(filters, OF_DRIVE) else None


def _are_of(filters: Sequence[QueryFilter], known: Collection[str]) -> bool:
    return all(one.name in known for one in filters)
