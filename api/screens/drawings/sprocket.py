"""A sprocket from the front with its true teeth, and in section: what is recorded, and what its teeth are by the standard."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from math import cos, pi, sin, sqrt

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from api.screens.drawings.view import circle, place_on_paper, point
from api.screens.part_dimensions import form_of
from inventory.catalogue.core_values import attributes_of
from inventory.interchange.requirement import Sprocket
from inventory.interchange.vocabulary import BoreType, HubStyle, KeyStandard
from inventory.models import PartKind, Specification
from inventory.standards.bushes import UnknownBush, find_bush
from inventory.standards.rim_outline import RimGap, smallest_gap
from inventory.standards.tooth_form import ToothForm

BUSHED = (BoreType.TAPERED, BoreType.QD)


@dataclass(frozen=True)
class DrawnSprocket:
    """The numbers of a drawing; a None is not recorded and not drawn."""

    part: Sprocket
    form: ToothForm

    @cached_property
    def gap(self) -> RimGap:
        return smallest_gap(self.form, self.part.outside_diameter_mm)

    @property
    def tip_radius_mm(self) -> float:
        return self.gap.tip_radius_mm

    @property
    def bore_mm(self) -> float | None:
        """The hole in the hub: of a bushed hub its large end, by the size of the bush."""
        if self.part.bore_type not in BUSHED:
            return self.part.bore_mm
        try:
            return find_bush(self.part.bush_size or "").large_end_diameter_mm
        except UnknownBush:
            return None

    @property
    def keyway(self) -> tuple[float, float] | None:
        """Its width, and how far its floor lies from the axis; in ASME B17.1 the depth is measured at its side."""
        bore, width, depth = self.bore_mm, self.part.keyway_width_mm, self.part.keyway_depth_mm
        if bore is None or width is None or depth is None or width >= bore or self.part.bore_type in BUSHED:
            return None
        return width, depth + (
            self.keyway_side_mm if self.part.key_standard is KeyStandard.ASME_B17_1 else bore / 2
        )

    @property
    def keyway_side_mm(self) -> float:
        """From the axis to where the side of the keyway leaves the bore."""
        return sqrt((self.bore_mm or 0.0) ** 2 - (self.part.keyway_width_mm or 0.0) ** 2) / 2

    @property
    def hub_mm(self) -> float | None:
        return None if self.part.hub_style is HubStyle.A else self.part.hub_diameter_mm

    @property
    def row_mm(self) -> float:
        """Width of one row of teeth."""
        return self.part.tooth_width_mm or self.form.tooth_width_mm

    @property
    def rim_mm(self) -> float | None:
        """Width over all rows."""
        if self.form.width_over_strands_mm is None:
            return None
        return self.form.width_over_strands_mm - self.form.tooth_width_mm + self.row_mm

    @property
    def hub_ends_mm(self) -> tuple[float, float]:
        """How far the hub stands out on the left and on the right of the rim; nothing where its style or length is not recorded."""
        length, rim = self.part.length_through_bore_mm, self.rim_mm
        if length is None or rim is None or self.hub_mm is None or length <= rim:
            return 0.0, 0.0
        if self.part.hub_style is HubStyle.C:
            return (length - rim) / 2, (length - rim) / 2
        return (0.0, length - rim) if self.part.hub_style is HubStyle.B else (0.0, 0.0)

    @property
    def missing(self) -> Iterator[Promise]:
        """What is not recorded, so not drawn or drawn by the standard."""
        part = self.part
        if part.bore_type in BUSHED:
            if self.bore_mm is None:
                yield _("bush size: the bore is not drawn")
        elif part.bore_mm is None:
            yield _("bore: not drawn")
        elif part.bore_type is BoreType.FINISHED and self.keyway is None:
            yield _("keyway width or depth: not drawn")
        elif self.keyway is not None and part.key_standard is None:
            yield _("key standard: the keyway depth is drawn from the top of the bore")
        if part.hub_style is None:
            yield _("hub style: the hub is not drawn from the side")
        elif part.hub_style is not HubStyle.A:
            if part.hub_diameter_mm is None:
                yield _("hub diameter: not drawn")
            if part.length_through_bore_mm is None:
                yield _("length through bore: the hub is not drawn from the side")
        if self.rim_mm is None:
            yield _("transverse pitch: the section is not drawn")


def drawn_sprocket(record: Specification | None) -> DrawnSprocket | None:
    """None for any other part, and for a sprocket whose teeth are not recorded or in no standard."""
    if record is None or record.kind != PartKind.SPROCKET:
        return None
    part = attributes_of(record)
    form = form_of(record, part)
    return None if form is None else DrawnSprocket(part, form)


def rim_path(gap: RimGap) -> str:
    """Clockwise, a tooth on top: flank, seat, flank, and along the tip circle to the next gap."""
    seat, flank, tip = (
        place_on_paper(radius) for radius in (gap.seat_radius_mm, gap.flank_radius_mm, gap.tip_radius_mm)
    )
    parts: list[str] = []
    for number in range(gap.teeth):
        middle = -pi / 2 + (2 * number + 1) * pi / gap.teeth
        into, first, last, out = (
            point(*_turned(x, y, middle))
            for x, y in (
                (gap.flank_end[0], -gap.flank_end[1]),
                (gap.seat_end[0], -gap.seat_end[1]),
                gap.seat_end,
                gap.flank_end,
            )
        )
        over_the_tip = "" if gap.is_pointed else f"A{tip} {tip} 0 0 1 {into}"
        parts.append(
            (over_the_tip if parts else f"M{into}")
            + f"A{flank} {flank} 0 0 1 {first}A{seat} {seat} 0 0 0 {last}A{flank} {flank} 0 0 1 {out}"
        )
    return "".join(parts) + "Z"


def _turned(x: float, y: float, angle: float) -> tuple[float, float]:
    return x * cos(angle) - y * sin(angle), x * sin(angle) + y * cos(angle)


def bore_path(drawn: DrawnSprocket) -> str:
    """The bore with its keyway on top, a hexagon, or a circle; empty where nothing is recorded."""
    across = drawn.part.hex_across_flats_mm
    if drawn.part.bore_type is BoreType.HEX and across is not None:
        corners = (_turned(across / sqrt(3), 0, corner * pi / 3) for corner in range(6))
        return "M" + "L".join(point(*corner) for corner in corners) + "Z"
    if drawn.bore_mm is None:
        return ""
    if drawn.keyway is None:
        return circle(drawn.bore_mm / 2)
    width, floor = drawn.keyway
    radius, side = place_on_paper(drawn.bore_mm / 2), drawn.keyway_side_mm
    return (
        f"M{point(width / 2, -side)}A{radius} {radius} 0 1 1 {point(-width / 2, -side)}"
        f"V{place_on_paper(-floor)}H{place_on_paper(width / 2)}Z"
    )


def half_section(drawn: DrawnSprocket, inner: float, outer: float) -> list[tuple[float, float]]:
    """The upper half of the section, x from the left face of the rim, y above the axis, from `inner` up to `outer`."""
    rim, root = drawn.rim_mm or 0.0, drawn.form.root_diameter_mm / 2
    left, right = drawn.hub_ends_mm
    hub = (drawn.hub_mm or 0.0) / 2
    left_hub = (drawn.part.hub_diameter_2_mm or 0.0) / 2 or hub
    corners = [(0.0, inner)]
    if left:
        corners = [(-left, inner), (-left, left_hub), (0.0, left_hub)]
    rows, transverse = drawn.form.strands, 0.0
    if rows > 1:
        transverse = (rim - drawn.row_mm) / (rows - 1)
    for row in range(rows):
        start, end = row * transverse, row * transverse + drawn.row_mm
        corners += [(start, outer), (end, outer)]
        if row < rows - 1:
            corners += [(end, root), (end + transverse - drawn.row_mm, root)]
    if right:
        corners += [(rim, hub), (rim + right, hub)]
    return [*corners, (rim + right, inner)]
