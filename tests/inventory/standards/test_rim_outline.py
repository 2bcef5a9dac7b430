from math import cos, dist, hypot, pi, radians, sin

import pytest

from inventory.standards.chains import chains, find_chain
from inventory.standards.rim_outline import largest_gap, smallest_gap
from inventory.standards.tooth_form import tooth_form
from tests.inventory.standards.published import published

PUBLISHED = [
    row
    for row in published("tooth_form_checks")
    if row["formula_id"] in ("F1", "F5max") and row["chain"] and row["unit"] == "mm"
]


def forms():
    """Every single-pitch chain from the least teeth of the standard to the most."""
    return [
        tooth_form(chain, teeth)
        for chain in chains()
        if not chain.is_double_pitch
        for teeth in (9, 11, 17, 40, 150)
    ]


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: row["check_id"])
def test_rollers_in_the_gaps_lie_on_the_published_pitch_circle_and_tips_on_the_published_diameter(row):
    form = tooth_form(find_chain(row["chain"]), int(row["z"]))
    length = float(row["published_value"] or row["computed_value"])
    if row["formula_id"] == "F1":
        gap = smallest_gap(form)
        # The centre of the seat, from its end and the seating angle.
        half = radians(form.seating_angle_max_deg) / 2
        centre = gap.seat_end[0] + gap.seat_radius_mm * cos(half)
        assert gap.seat_end[1] == pytest.approx(gap.seat_radius_mm * sin(half))
        assert 2 * centre == pytest.approx(length, abs=float(row["tolerance"]))
    else:
        assert 2 * smallest_gap(form, length).tip_radius_mm == pytest.approx(length, abs=1e-9)


@pytest.mark.parametrize("gap_of", [smallest_gap, largest_gap])
def test_flank_and_seat_touch_without_a_corner_and_the_flank_ends_on_the_tip_circle(gap_of):
    for form in forms():
        gap = gap_of(form)
        roller = (form.pitch_diameter_mm / 2, 0.0)
        away = [(end - start) / gap.seat_radius_mm for start, end in zip(roller, gap.seat_end, strict=True)]
        centre = [end + gap.flank_radius_mm * part for end, part in zip(gap.seat_end, away, strict=True)]

        assert dist(gap.seat_end, roller) == pytest.approx(gap.seat_radius_mm)
        assert dist(gap.flank_end, centre) == pytest.approx(gap.flank_radius_mm)
        assert 2 * hypot(*gap.flank_end) <= max(form.outside_diameter_mm, form.outside_diameter_max_mm) + 1e-9
        assert 0 < gap.flank_end[1] / gap.flank_end[0] < sin(pi / form.teeth) / cos(pi / form.teeth) + 1e-9


def test_the_largest_gap_takes_metal_away_everywhere():
    for form in forms():
        small, large = smallest_gap(form, form.outside_diameter_min_mm), largest_gap(form)

        assert large.seat_radius_mm > small.seat_radius_mm
        assert large.flank_end[1] > small.flank_end[1] or large.tip_radius_mm < small.tip_radius_mm


def test_a_roller_of_the_chain_fits_every_gap_and_teeth_end_in_lands():
    for form in forms():
        gap = smallest_gap(form, form.outside_diameter_min_mm)

        assert 2 * gap.seat_radius_mm > form.measuring_pin_diameter_mm
        assert not gap.is_pointed


def test_flanks_that_meet_below_the_tip_circle_make_a_point_on_the_middle_of_the_tooth():
    form = tooth_form(find_chain("2040"), 19, single_cut=False)
    gap = smallest_gap(form, form.outside_diameter_mm + 4)

    assert gap.is_pointed
    assert gap.flank_end[1] / gap.flank_end[0] == pytest.approx(sin(pi / 19) / cos(pi / 19))
    assert 2 * gap.tip_radius_mm < form.outside_diameter_mm + 4
