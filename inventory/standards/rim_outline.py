"""The true outline of a rim, gap by gap. Lengths in mm, the axis of the sprocket is the origin.

A gap is its seat, an arc of the seating radius about the centre of the roller over the seating angle, and at each end of it
a flank, an arc of the flank radius that touches the seat there and rounds the tooth, up to the tip circle. Where the
flanks of a tooth meet below that circle, the tooth ends in a point.

Source: the construction of ISO 606, tooth form in the axial plane; its limits are those of `tooth_form`.
"""

from dataclasses import dataclass
from math import acos, atan2, cos, hypot, pi, radians, sin, sqrt

from inventory.standards.tooth_form import ToothForm

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class RimGap:
    """One gap, with the x axis through its middle; the other half lies mirrored below that axis."""

    teeth: int
    seat_radius_mm: float
    flank_radius_mm: float
    seat_end: Point
    flank_end: Point
    is_pointed: bool

    @property
    def tip_radius_mm(self) -> float:
        return hypot(*self.flank_end)


def smallest_gap(form: ToothForm, outside_diameter_mm: float | None = None) -> RimGap:
    """The most metal that a new tooth may have, up to the outside diameter, which is that of the turned rim if not given."""
    return _gap(
        form,
        form.seat_diameter_min_mm / 2,
        form.seating_angle_max_deg,
        form.flank_radius_min_mm,
        (outside_diameter_mm or form.outside_diameter_mm) / 2,
    )


def largest_gap(form: ToothForm) -> RimGap:
    """The least metal that a new tooth may have."""
    return _gap(
        form,
        form.seat_diameter_max_mm / 2,
        form.seating_angle_min_deg,
        form.flank_radius_max_mm,
        form.outside_diameter_min_mm / 2,
    )


def _gap(form: ToothForm, seat: float, angle_deg: float, flank: float, tip: float) -> RimGap:
    roller, half = form.pitch_diameter_mm / 2, radians(angle_deg) / 2
    seat_end = (roller - seat * cos(half), seat * sin(half))
    centre = (roller - (seat + flank) * cos(half), (seat + flank) * sin(half))
    tooth_middle = pi / form.teeth
    angle = _angle_at_tip(centre, flank, tip)
    is_pointed = angle is None or angle > tooth_middle
    if angle is None or is_pointed:
        angle, tip = tooth_middle, _radius_of_point(centre, flank, tooth_middle)
    flank_end = (tip * cos(angle), tip * sin(angle))
    return RimGap(form.teeth, seat, flank, seat_end, flank_end, is_pointed)


def _angle_at_tip(centre: Point, flank: float, tip: float) -> float | None:
    """Where the flank cuts the tip circle; None where it stays below."""
    away = hypot(*centre)
    cosine = (tip**2 + away**2 - flank**2) / (2 * tip * away)
    return None if cosine > 1 else atan2(centre[1], centre[0]) - acos(cosine)


def _radius_of_point(centre: Point, flank: float, angle: float) -> float:
    """Where the flank cuts the middle of the tooth."""
    along = centre[0] * cos(angle) + centre[1] * sin(angle)
    across = centre[1] * cos(angle) - centre[0] * sin(angle)
    return along + sqrt(flank**2 - across**2)
