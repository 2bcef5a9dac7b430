"""The sketch shows where the caliper goes: at tips, in gaps, over the rim or over the hub."""

import re
from math import hypot

import pytest

from api.screens.identify import QUESTIONS
from api.screens.measuring_sketch import HUB, RIM_WIDTH, ROOT, ROW_DISTANCE, TIP, sketch_of

COUNTED = {"teeth", "strands", "worn"}


def ends_of(measurement: str, teeth: int = 18, strands: int = 1) -> tuple[float, float, float, float]:
    sketch = sketch_of(measurement, teeth, strands)
    assert sketch is not None
    x, y, to_x, to_y = map(float, re.findall(r"-?[0-9.]+", sketch.dimension))
    return x, y, to_x, to_y


def test_whatever_is_measured_is_sketched_and_nothing_that_is_counted() -> None:
    for name in QUESTIONS:
        assert (sketch_of(name, 17, 1) is None) == (name in COUNTED), name


@pytest.mark.parametrize(
    ("measurement", "radius"), [("outside_diameter_mm", TIP), ("caliper_diameter_mm", ROOT)]
)
@pytest.mark.parametrize("teeth", [17, 18])
def test_a_diameter_ends_on_tips_or_in_gaps_and_misses_the_centre_with_odd_teeth(
    measurement: str, radius: float, teeth: int
) -> None:
    x, y, to_x, to_y = ends_of(measurement, teeth)
    assert hypot(x, y) == pytest.approx(radius, abs=0.1)
    assert hypot(to_x, to_y) == pytest.approx(radius, abs=0.1)
    across = hypot(to_x - x, to_y - y)
    assert (across < 2 * radius - 0.5) == (teeth % 2 == 1)


def test_widths_lie_over_one_row_or_over_all_of_them_and_the_hub_is_measured_on_the_hub() -> None:
    one, all_rows = ends_of("tooth_width_mm", strands=2), ends_of("overall_width_mm", strands=2)
    # The arrows of a short dimension point at it from outside, so its line goes on beyond them.
    assert one[2] - one[0] == pytest.approx(RIM_WIDTH + 36, abs=0.1)
    assert all_rows[2] - all_rows[0] == pytest.approx(RIM_WIDTH + ROW_DISTANCE, abs=0.1)
    hub = ends_of("hub_diameter_mm")
    assert abs(hub[3] - hub[1]) == pytest.approx(2 * HUB, abs=0.1)
