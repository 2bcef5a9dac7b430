"""A drive to scale: pitch circles, the chain as its true tangents and arcs, the centre distance. Lengths in mm."""

from dataclasses import dataclass
from math import acos, cos, sin

from api.screens.drawings.view import GLYPH_WIDTH

ROOM_AROUND = 0.05
TEXT_SHARE = 1 / 27
ARROW_SHARE = 1 / 42
"""Text height and arrow length, as a share of the width of the drawing."""


@dataclass(frozen=True)
class Wheel:
    x_mm: float
    radius_mm: float
    bore_radius_mm: float | None
    label: str
    tag: str = ""


@dataclass(frozen=True)
class DriveDrawing:
    """What the template draws, in mm; y points down, both centres lie on y = 0."""

    driver: Wheel
    driven: Wheel
    centre_mm: float
    chain_path: str
    left: float
    top: float
    width: float
    height: float
    text_height: float
    arrow: float
    dimension_y: float

    @property
    def view_box(self) -> str:
        return f"{self.left:.1f} {self.top:.1f} {self.width:.1f} {self.height:.1f}"

    @property
    def middle_x(self) -> float:
        return self.centre_mm / 2

    @property
    def value_y(self) -> float:
        return self.dimension_y - self.text_height * 0.35

    @property
    def tag_y(self) -> float:
        return self.top + self.text_height * 1.2

    @property
    def label_y(self) -> float:
        return self.tag_y + self.text_height * 1.2

    @property
    def wheels(self) -> tuple[Wheel, Wheel]:
        return self.driver, self.driven

    @property
    def centre_ends(self) -> tuple[float, float]:
        over = self.text_height * 0.6
        return -self.driver.radius_mm - over, self.centre_mm + self.driven.radius_mm + over

    @property
    def centre_lines(self) -> str:
        """The common axis, and the upright axis of each wheel."""
        (left, right), over = self.centre_ends, self.text_height * 0.6
        upright = (
            f"M{wheel.x_mm:.2f} {-wheel.radius_mm - over:.2f}V{wheel.radius_mm + over:.2f}"
            for wheel in self.wheels
        )
        return f"M{left:.2f} 0H{right:.2f}" + "".join(upright)

    @property
    def dimension_lines(self) -> str:
        """An extension line below each wheel, and the dimension line between them."""
        over = self.text_height * 0.6
        extension = (
            f"M{wheel.x_mm:.2f} {wheel.radius_mm + over:.2f}V{self.dimension_end_y:.2f}"
            for wheel in self.wheels
        )
        return "".join(extension) + f"M0 {self.dimension_y:.2f}H{self.centre_mm:.2f}"

    @property
    def arrows(self) -> str:
        """Filled heads at both ends of the dimension line."""
        y, long, half, end = self.dimension_y, self.arrow, self.arrow / 5, self.centre_mm
        return (
            f"M0 {y:.2f}L{long:.2f} {y - half:.2f}V{y + half:.2f}Z"
            f"M{end:.2f} {y:.2f}L{end - long:.2f} {y - half:.2f}V{y + half:.2f}Z"
        )

    @property
    def dimension_end_y(self) -> float:
        return self.dimension_y + self.text_height * 0.4


def chain_path(driver_radius: float, driven_radius: float, centre: float) -> str:
    """The pitch line of an open chain as an SVG path: tangent, arc, tangent, arc.

    The tangent points lie at the angle whose cosine is the difference of the radii over the centre distance.
    """
    angle = acos((driver_radius - driven_radius) / centre)
    dx, dy = cos(angle), sin(angle)
    x1, y1 = driver_radius * dx, driver_radius * dy
    x2, y2 = centre + driven_radius * dx, driven_radius * dy
    driven_large = int(driven_radius > driver_radius)
    driver_large = int(driver_radius > driven_radius)
    return (
        f"M{x1:.3f} {-y1:.3f}L{x2:.3f} {-y2:.3f}"
        f"A{driven_radius:.3f} {driven_radius:.3f} 0 {driven_large} 1 {x2:.3f} {y2:.3f}"
        f"L{x1:.3f} {y1:.3f}A{driver_radius:.3f} {driver_radius:.3f} 0 {driver_large} 1 {x1:.3f} {-y1:.3f}Z"
    )


def _label_beside(wheel: Wheel, bare: float) -> float:
    """How far the label stands out beside the wheel, in lettering of a drawing a third wider than what is drawn."""
    text = bare * 4 / 3 * TEXT_SHARE
    return len(wheel.label) * GLYPH_WIDTH * text / 2 - wheel.radius_mm


def draw(driver: Wheel, driven: Wheel) -> DriveDrawing | None:
    """None where one sprocket would be inside the other."""
    centre = driven.x_mm
    if centre <= abs(driver.radius_mm - driven.radius_mm):
        return None
    largest = max(driver.radius_mm, driven.radius_mm)
    bare = driver.radius_mm + centre + driven.radius_mm
    side = max(bare * ROOM_AROUND, *(_label_beside(wheel, bare) for wheel in (driver, driven)))
    width = bare + 2 * side
    text = width * TEXT_SHARE
    dimension_y = largest + 2.2 * text
    top = -largest - 3.6 * text
    return DriveDrawing(
        driver=driver,
        driven=driven,
        centre_mm=centre,
        chain_path=chain_path(driver.radius_mm, driven.radius_mm, centre),
        left=-driver.radius_mm - side,
        top=top,
        width=width,
        height=dimension_y + text - top,
        text_height=text,
        arrow=width * ARROW_SHARE,
        dimension_y=dimension_y,
    )
