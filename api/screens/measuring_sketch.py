"""Where the caliper goes: a wheel from the front or along its axis, with the one dimension that is asked for.

Lines as in technical drawings (ISO 128: outlines thick, centre lines thin and dash-dotted; ISO 129: a dimension between arrows).
The sketch is to no scale: it shows where, and never how much.
"""

from dataclasses import dataclass
from math import cos, pi, sin

TIP, ROOT, BORE, HUB = 90.0, 70.0, 26.0, 46.0
EVEN_TEETH, ODD_TEETH = 12, 11
CHORD_GAPS = 3
ARROW = 9.0
RIM_WIDTH, ROW_DISTANCE, HUB_LENGTH = 16.0, 30.0, 62.0
FRONT = frozenset({"outside_diameter_mm", "caliper_diameter_mm", "chord_mm", "bore_mm"})
SIDE = frozenset({"tooth_width_mm", "overall_width_mm", "hub_diameter_mm"})
Point = tuple[float, float]


@dataclass(frozen=True)
class Sketch:
    """Paths of one drawing, by the kind of their lines."""

    outline: str
    centre_lines: str
    dimension: str
    arrows: str


def sketch_of(measurement: str, teeth: int, strands: int) -> Sketch | None:
    """None for what is counted or seen."""
    if measurement in FRONT:
        return _front(measurement, ODD_TEETH if teeth % 2 else EVEN_TEETH)
    return _side(measurement, max(strands, 1)) if measurement in SIDE else None


def _front(measurement: str, teeth: int) -> Sketch:
    ends = {
        "outside_diameter_mm": lambda: (_at(TIP, 0, teeth), _at(TIP, teeth // 2, teeth)),
        "caliper_diameter_mm": lambda: (_at(ROOT, 0.5, teeth), _at(ROOT, teeth // 2 + 0.5, teeth)),
        "chord_mm": lambda: (_at(ROOT, -0.5, teeth), _at(ROOT, CHORD_GAPS - 0.5, teeth)),
        "bore_mm": lambda: ((-BORE, 0.0), (BORE, 0.0)),
    }[measurement]()
    outline = f"{_rim(teeth)} {_circle(BORE)}"
    return Sketch(outline, "M-104 0H104M0-104V104", *_dimension(*ends))


def _side(measurement: str, rows: int) -> Sketch:
    rows = min(rows, 3)
    first = -ROW_DISTANCE * (rows - 1) / 2 - HUB_LENGTH / 6
    rims = [first + ROW_DISTANCE * row for row in range(rows)]
    left, right = rims[0] - RIM_WIDTH / 2, rims[-1] + RIM_WIDTH / 2
    end = right + HUB_LENGTH
    parts = [_box(x - RIM_WIDTH / 2, -TIP, x + RIM_WIDTH / 2, TIP) for x in rims]
    outline = " ".join((*parts, _box(left, -HUB, end, HUB)))
    ends = {
        "tooth_width_mm": ((rims[0] - RIM_WIDTH / 2, -TIP - 8), (rims[0] + RIM_WIDTH / 2, -TIP - 8)),
        "overall_width_mm": ((left, -TIP - 8), (right, -TIP - 8)),
        "hub_diameter_mm": ((end - 12, -HUB), (end - 12, HUB)),
    }[measurement]
    return Sketch(outline, f"M{left - 14:.1f} 0H{end + 14:.1f}", *_dimension(*ends))


def _at(radius: float, step: float, teeth: int) -> Point:
    """Of a tip (whole steps) or a gap (half steps), clockwise from the top."""
    angle = 2 * pi * step / teeth
    return radius * sin(angle), -radius * cos(angle)


def _rim(teeth: int) -> str:
    corners: list[str] = []
    for tooth in range(teeth):
        for step, radius in ((-0.13, TIP), (0.13, TIP), (0.37, ROOT), (0.63, ROOT)):
            corners.append("{:.1f} {:.1f}".format(*_at(radius, tooth + step, teeth)))
    return f"M{'L'.join(corners)}Z"


def _circle(radius: float) -> str:
    return f"M{-radius} 0A{radius} {radius} 0 1 0 {radius} 0A{radius} {radius} 0 1 0 {-radius} 0Z"


def _box(left: float, top: float, right: float, bottom: float) -> str:
    return f"M{left:.1f} {top:.1f}H{right:.1f}V{bottom:.1f}H{left:.1f}Z"


def _dimension(start: Point, end: Point) -> tuple[str, str]:
    """The line, and an arrow at each end; where the line is short the arrows point at it from outside."""
    (x, y), (to_x, to_y) = start, end
    length = ((to_x - x) ** 2 + (to_y - y) ** 2) ** 0.5
    along = ((to_x - x) / length, (to_y - y) / length)
    outside = length < 4 * ARROW
    sign = -1.0 if outside else 1.0
    reach = 2 * ARROW if outside else 0.0
    line = f"M{x - reach * along[0]:.1f} {y - reach * along[1]:.1f}L{to_x + reach * along[0]:.1f} {to_y + reach * along[1]:.1f}"
    return line, _arrow(start, along, sign) + _arrow(end, along, -sign)


def _arrow(tip: Point, along: Point, sign: float) -> str:
    back = (tip[0] + sign * ARROW * along[0], tip[1] + sign * ARROW * along[1])
    aside = (-along[1] * ARROW / 4, along[0] * ARROW / 4)
    return (
        f"M{tip[0]:.1f} {tip[1]:.1f}L{back[0] + aside[0]:.1f} {back[1] + aside[1]:.1f}"
        f"L{back[0] - aside[0]:.1f} {back[1] - aside[1]:.1f}Z"
    )
