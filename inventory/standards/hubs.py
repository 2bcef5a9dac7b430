"""Hubs: the largest one beside the chain, the bore it allows, and the wall that is left over the keyseat."""

from dataclasses import dataclass
from functools import cache
from math import inf

from inventory.number_checks import positive
from inventory.standards.keys import KeySeat, key_seats_of
from inventory.standards.rim import max_hub_diameter_asme_mm, max_hub_diameter_iso_mm
from inventory.standards.rows import CONFIRMED, optional_number, source_titles, table_rows
from inventory.standards.sizes import same_nominal
from inventory.standards.tooth_counts import form_teeth

__all__ = [
    "LARGEST_BORE_RULE",
    "LargestBore",
    "PublishedHub",
    "RecommendedHub",
    "hub_wall_over_keyseat_mm",
    "largest_bore_mm",
    "max_hub_diameter_asme_mm",
    "max_hub_diameter_iso_mm",
    "published_hub",
    "published_hubs",
    "recommended_hub_diameter_mm",
    "wanted_wall_mm",
]

LEAST_WALL_SHARE_OF_BORE = 0.10
"""Least wall over the keyseat as a share of the bore. Judgement of this project, not a published rule."""

LARGEST_BORE_RULE = (
    "greatest bore with a standard key that leaves a wall over the keyseat of at least the hub keyseat depth "
    "and 10 % of the bore (judgement, not a published rule)"
)


@dataclass(frozen=True, slots=True)
class PublishedHub:
    """Largest hub and bore printed for a pitch and tooth count; lengths in mm, None where not legible."""

    pitch_mm: float
    teeth: int
    max_hub_diameter_mm: float | None
    max_bore_mm: float | None
    source: str
    confidence: str


@dataclass(frozen=True, slots=True)
class RecommendedHub:
    """Hub by the wall rule; `is_confirmed` is False where its constant K was not seen in print."""

    diameter_mm: float
    wall_mm: float
    k_mm: float
    is_confirmed: bool
    rule: str
    source: str


@dataclass(frozen=True, slots=True)
class LargestBore:
    """Greatest bore of a hub, the key it was worked out with, and the rule in words."""

    bore_mm: float
    wall_mm: float
    wanted_wall_mm: float
    key_seat: KeySeat
    rule: str


@cache
def published_hubs() -> tuple[PublishedHub, ...]:
    """Printed largest hubs and bores.

    Returns
    -------
    tuple of PublishedHub
        Frozen rows, read once.

    Source
    ------
    Machinery's Handbook, 31st ed., p. 2631, Table 10.

    Examples
    --------
    >>> len(published_hubs())
    66
    """
    return tuple(
        PublishedHub(
            pitch_mm=float(row["pitch_mm"]),
            teeth=int(row["teeth"]),
            max_hub_diameter_mm=optional_number(row["max_hub_diameter_mm"]),
            max_bore_mm=optional_number(row["max_bore_mm"]),
            source=source_titles(row["source"]),
            confidence=row["confidence"],
        )
        for row in table_rows("largest_bores")
    )


def published_hub(pitch_mm: float, teeth: int) -> PublishedHub | None:
    """Printed largest hub and bore of one sprocket.

    Parameters
    ----------
    pitch_mm : float
        Pitch [mm], above zero.
    teeth : int
        Teeth, 3 to 400.

    Returns
    -------
    PublishedHub or None
        The printed row; None where the page has none or it could not be read.

    Raises
    ------
    ValueError
        If the pitch is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    Machinery's Handbook, 31st ed., p. 2631, Table 10.

    Examples
    --------
    >>> published_hub(12.7, 13).max_bore_mm
    25.4
    """
    pitch, count = positive("pitch_mm", pitch_mm), form_teeth("teeth", teeth)
    rows = (row for row in published_hubs() if row.teeth == count and same_nominal(row.pitch_mm, pitch))
    return next(rows, None)


def hub_wall_over_keyseat_mm(hub_diameter_mm: float, *, bore_mm: float, hub_depth_mm: float) -> float:
    """Wall left between the bottom of the keyseat and the outside of the hub.

    Parameters
    ----------
    hub_diameter_mm : float
        Outside diameter of the hub [mm].
    bore_mm : float
        Bore [mm].
    hub_depth_mm : float
        Depth of the keyseat in the hub [mm].

    Returns
    -------
    float
        Wall [mm]; zero or less where the keyseat breaks through.

    Raises
    ------
    ValueError
        If a size is not a finite number above zero.

    Source
    ------
    Geometry.

    Examples
    --------
    >>> round(hub_wall_over_keyseat_mm(70, bore_mm=35, hub_depth_mm=3.3), 1)
    14.2
    """
    wall = positive("hub_diameter_mm", hub_diameter_mm) - positive("bore_mm", bore_mm)
    return wall / 2.0 - positive("hub_depth_mm", hub_depth_mm)


def wanted_wall_mm(bore_mm: float, hub_depth_mm: float) -> float:
    """Least wall over the keyseat that a hub should keep.

    Parameters
    ----------
    bore_mm : float
        Bore [mm].
    hub_depth_mm : float
        Depth of the keyseat in the hub [mm].

    Returns
    -------
    float
        The larger of the keyseat depth and a tenth of the bore [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero.

    Source
    ------
    Engineering judgement of this project, not a published rule.

    Examples
    --------
    >>> wanted_wall_mm(35, 3.3)
    3.5
    """
    least = LEAST_WALL_SHARE_OF_BORE * positive("bore_mm", bore_mm)
    return max(positive("hub_depth_mm", hub_depth_mm), least)


def _bore_in_row_mm(hub_diameter_mm: float, seat: KeySeat) -> float | None:
    """Greatest bore in the range of one key that keeps the wanted wall, if there is one."""
    if seat.hub_depth_mm is None:
        return None
    by_depth = hub_diameter_mm - 4.0 * seat.hub_depth_mm
    by_bore = (hub_diameter_mm - 2.0 * seat.hub_depth_mm) / (1.0 + 2.0 * LEAST_WALL_SHARE_OF_BORE)
    bore = min(by_depth, by_bore, seat.shaft_to_mm)
    return bore if bore > 0 and seat.takes_shaft(bore) else None


def largest_bore_mm(hub_diameter_mm: float, standard: str) -> LargestBore | None:
    """Greatest bore that a hub allows with its keyway.

    Parameters
    ----------
    hub_diameter_mm : float
        Outside diameter of the hub [mm].
    standard : {'ISO 773', 'ISO 773 low', 'ASME B17.1', 'BS 46'}
        Key system; the square key in ASME B17.1.

    Returns
    -------
    LargestBore or None
        Bore, wall, key and the rule in words; None where no bore of the key table fits the hub.

    Raises
    ------
    ValueError
        If the hub is not a finite number above zero, or the system is unknown.

    Source
    ------
    Engineering judgement of this project, not a published rule, on the keyseat depths of the key table.

    Examples
    --------
    >>> largest_bore_mm(60, "ISO 773").key_seat.size
    '12 x 8 mm'
    """
    hub = positive("hub_diameter_mm", hub_diameter_mm)
    best: LargestBore | None = None
    for seat in key_seats_of(standard):
        bore, depth = _bore_in_row_mm(hub, seat), seat.hub_depth_mm
        if bore is None or depth is None or (best is not None and bore <= best.bore_mm):
            continue
        wall = hub_wall_over_keyseat_mm(hub, bore_mm=bore, hub_depth_mm=depth)
        best = LargestBore(bore, wall, wanted_wall_mm(bore, depth), seat, LARGEST_BORE_RULE)
    return best


def _k_row(pitch_diameter_mm: float) -> dict[str, str]:
    for row in table_rows("hub_walls"):
        upper = optional_number(row["pitch_diameter_to_mm"]) or inf
        if float(row["pitch_diameter_over_mm"]) < pitch_diameter_mm <= upper:
            return row
    raise RuntimeError("the last row of the table of hub walls has no upper limit")


def recommended_hub_diameter_mm(bore_mm: float, *, pitch_diameter_mm: float) -> RecommendedHub:
    """Hub diameter D + 2 H by the wall rule H = K + D/6 + 0.01 PD.

    Parameters
    ----------
    bore_mm : float
        Bore D [mm].
    pitch_diameter_mm : float
        Pitch diameter PD [mm].

    Returns
    -------
    RecommendedHub
        Diameter, wall and the constant K, which was seen in print for pitch diameters above 152.4 mm (6 in) only. The
        caller compares the diameter with the largest hub of the chain.

    Raises
    ------
    ValueError
        If a size is not a finite number above zero.

    Source
    ------
    Handbook extract of the hub rule h = 9.5 + d/6 + 0.01 d2; the smaller K values are from memory.

    Examples
    --------
    >>> round(recommended_hub_diameter_mm(60, pitch_diameter_mm=200).diameter_mm, 1)
    103.0
    """
    bore, pitch_diameter = positive("bore_mm", bore_mm), positive("pitch_diameter_mm", pitch_diameter_mm)
    row = _k_row(pitch_diameter)
    k = float(row["k_mm"])
    wall = k + bore / 6.0 + 0.01 * pitch_diameter
    return RecommendedHub(
        diameter_mm=bore + 2.0 * wall,
        wall_mm=wall,
        k_mm=k,
        is_confirmed=row["confidence"] in CONFIRMED,
        rule="H = K + D/6 + 0.01 PD",
        source=source_titles(row["source"]),
    )
