import re
from itertools import pairwise
from math import cos, hypot, pi, sin

import pytest

from api.screens.drive_drawing import Wheel, chain_path, draw
from drives.chain.length import links_exact
from inventory.standards.tooth_formulas import pitch_diameter_mm

PITCH_MM = 12.7


def numbers(path):
    return [float(text) for text in re.findall(r"-?\d+\.\d+", path)]


@pytest.mark.parametrize(("driver", "driven"), [(17, 51), (51, 17), (19, 19), (9, 100)])
def test_the_chain_leaves_each_circle_at_a_right_angle_to_its_radius(driver, driven):
    r1, r2 = (pitch_diameter_mm(PITCH_MM, teeth) / 2 for teeth in (driver, driven))
    centre = 500.0
    x1, y1, x2, y2 = numbers(chain_path(r1, r2, centre))[:4]
    assert hypot(x1, y1) == pytest.approx(r1, abs=2e-3)
    assert hypot(x2 - centre, y2) == pytest.approx(r2, abs=2e-3)
    along = (x2 - x1, y2 - y1)
    assert along[0] * x1 + along[1] * y1 == pytest.approx(0, abs=centre * 2e-3)


def test_the_path_is_as_long_as_the_chain():
    r1, r2, centre = pitch_diameter_mm(PITCH_MM, 17) / 2, pitch_diameter_mm(PITCH_MM, 51) / 2, 500.0
    x1, y1, x2, y2 = numbers(chain_path(r1, r2, centre))[:4]
    straight = hypot(x2 - x1, y2 - y1)
    half = _angle(x2 - centre, -y2)
    length = 2 * straight + 2 * half * r2 + 2 * (pi - half) * r1
    assert length / PITCH_MM == pytest.approx(links_exact(centre / PITCH_MM, z1=17, z2=51), rel=0.005)


def _angle(x, y):
    """Half the arc on the driven wheel, found by walking its rim to the tangent point."""
    steps = [index * pi / 20_000 for index in range(20_001)]
    radius = hypot(x, y)
    return min(steps, key=lambda angle: hypot(radius * cos(angle) - x, radius * sin(angle) - y))


@pytest.mark.parametrize(("driver", "driven", "flags"), [(17, 51, ["1", "0"]), (51, 17, ["0", "1"])])
def test_the_larger_wheel_has_the_longer_arc(driver, driven, flags):
    r1, r2 = (pitch_diameter_mm(PITCH_MM, teeth) / 2 for teeth in (driver, driven))
    assert re.findall(r" 0 ([01]) 1 ", chain_path(r1, r2, 500.0)) == flags


def test_everything_drawn_lies_inside_the_sheet():
    drawing = draw(Wheel(0.0, 34.6, 12.5, "17 teeth"), Wheel(500.0, 103.0, 20.0, "51 teeth"))
    assert drawing is not None
    assert drawing.left < drawing.centre_ends[0] < drawing.centre_ends[1] < drawing.left + drawing.width
    heights = [drawing.top, drawing.tag_y, drawing.label_y, 103.0, drawing.value_y, drawing.dimension_end_y]
    assert all(above < below for above, below in pairwise(heights))
    assert drawing.dimension_end_y < drawing.top + drawing.height


def test_a_label_longer_than_its_wheel_is_wide_is_not_cut():
    drawing = draw(Wheel(0.0, 20.0, 10.0, "17 teeth, ⌀20"), Wheel(900.0, 60.0, 20.0, "51 teeth, ⌀40"))
    half = len("17 teeth, ⌀20") * 0.6 * drawing.text_height / 2
    assert drawing.left < -half
    assert drawing.left + drawing.width > 900 + half


def test_a_wheel_inside_the_other_is_not_drawn():
    assert draw(Wheel(0.0, 20.0, None, ""), Wheel(50.0, 100.0, None, "")) is None
