"""A drawn sprocket: what lies on the sheet is where the numbers say."""

import itertools
import re
from math import hypot, pi, sin

import pytest

from api.screens.drawings.comparison import differences_between
from api.screens.drawings.sprocket import DrawnSprocket, bore_path, half_section, rim_path
from api.screens.drawings.sprocket_views import views_of
from inventory.interchange.requirement import Engagement, Sprocket
from inventory.interchange.vocabulary import BoreType, HubStyle, KeyStandard
from inventory.standards.chains import find_chain
from inventory.standards.tooth_form import tooth_form

ALL = {
    "teeth": 17,
    "strands": 1,
    "hub_style": HubStyle.B,
    "bore_type": BoreType.FINISHED,
    "bore_mm": 25.0,
    "keyway_width_mm": 8.0,
    "keyway_depth_mm": 3.3,
    "key_standard": KeyStandard.ISO_773,
    "hub_diameter_mm": 45.0,
    "length_through_bore_mm": 28.0,
}


def drawn(**changes):
    part = Sprocket(chain=Engagement.of(find_chain("08B")), **{**ALL, **changes})
    return DrawnSprocket(part, tooth_form(find_chain("08B"), part.teeth, part.strands or 1))


def points(path):
    """Where each command of the path ends."""
    number = r"-?\d+(?:\.\d+)?"
    return [(float(x), float(y)) for x, y in re.findall(rf"({number}) ({number})(?=[A-Z]|$)", path)]


def test_the_rim_has_every_gap_a_pitch_from_the_next_and_all_tips_on_one_circle():
    made = drawn()
    found = points(rim_path(made.gap))
    radii = [hypot(x, y) for x, y in found]
    tips = [radius for radius in radii if radius > made.form.pitch_diameter_mm / 2]

    assert len(tips) == 2 * 17
    assert tips == pytest.approx([made.form.outside_diameter_mm / 2] * 34, abs=0.002)
    first_of_seats = [place for place in found if hypot(*place) < made.form.pitch_diameter_mm / 2][::2]
    steps = [hypot(a - c, b - d) for (a, b), (c, d) in itertools.pairwise(first_of_seats)]
    radius = hypot(*first_of_seats[0])
    assert steps == pytest.approx([2 * radius * sin(pi / 17)] * 16, abs=0.003)


@pytest.mark.parametrize(
    ("standard", "floor_mm"), [(KeyStandard.ISO_773, 12.5 + 3.3), (KeyStandard.ASME_B17_1, 11.8427 + 3.3)]
)
def test_a_keyway_is_as_deep_as_its_standard_measures_it(standard, floor_mm):
    path = bore_path(drawn(key_standard=standard))

    assert float(re.search(r"V(-[\d.]+)", path)[1]) == pytest.approx(-floor_mm, abs=0.001)
    assert points(path)[0] == pytest.approx((4.0, -11.843))


def test_the_section_is_as_long_as_the_part_and_has_one_row_for_each_strand():
    duplex = half_section(drawn(strands=2), 12.5, drawn().tip_radius_mm)
    rows = [x for x, y in duplex if y > drawn().form.pitch_diameter_mm / 2]

    assert rows[2] - rows[0] == pytest.approx(13.92)
    assert max(x for x, _ in duplex) - min(x for x, _ in duplex) == pytest.approx(28.0)
    both_sides = half_section(drawn(hub_style=HubStyle.C), 12.5, drawn().tip_radius_mm)
    assert -min(x for x, _ in both_sides) == pytest.approx((28.0 - drawn().row_mm) / 2)


def test_what_is_not_recorded_is_not_drawn_and_is_named():
    bare = drawn(bore_mm=None, hub_style=None, length_through_bore_mm=None)
    front, section = views_of(bare)
    texts = [label.text for view in (front, section) for label in view.labels]

    assert bore_path(bare) == ""
    assert "⌀25" not in texts
    assert bare.hub_ends_mm == (0.0, 0.0)
    assert [str(what).split(":")[0] for what in bare.missing] == ["bore", "hub style"]
    assert list(drawn().missing) == []


def test_recorded_dimensions_stand_bare_and_those_of_the_standard_in_brackets():
    front, section = views_of(drawn())
    texts = {label.text for view in (front, section) for label in view.labels}

    assert {"8 × 3.3", "⌀25", "⌀45", "28", "(⌀69.12)", "(⌀60.61)", "(7.21)"} <= texts
    assert views_of(drawn(outside_diameter_mm=75.0))[1].labels[2].text == "⌀75"


def test_everything_drawn_lies_inside_both_views_which_have_one_scale():
    front, section = views_of(drawn())
    for view in (front, section):
        for _, path in view.paths:
            for x, y in points(path):
                assert view.left - 0.001 <= x <= view.right + 0.001
                assert view.top - 0.001 <= y <= view.bottom + 0.001
    assert (front.width, front.height) == pytest.approx((section.width, section.height))


def test_old_and_new_lie_over_each_other_with_each_difference_named():
    old, new = drawn(outside_diameter_mm=75.0), drawn(hub_diameter_mm=50.0, outside_diameter_mm=None)

    found = differences_between(old, new)
    dashed = [dict(view.paths).get("d-old") for view in views_of(new, old)]

    assert [(str(one.name), one.old, one.new) for one in found] == [("Hub diameter", "45 mm", "50 mm")]
    assert all(dashed)
    assert rim_path(old.gap) in dashed[0]
    assert differences_between(old, old) == []
