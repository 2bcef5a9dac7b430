import math
from itertools import pairwise

import pytest

from inventory.standards.keys import (
    KEY_STANDARDS,
    hub_wall_over_keyseat_mm,
    key_for_shaft,
    key_seats,
    key_seats_of,
)
from inventory.standards.table_rows import CONFIRMED
from tests.inventory.standards.check_dimensions import over_the_keyseat_mm, under_the_keyseat_mm
from tests.inventory.standards.published import MM_PER_INCH, inches, published

METRIC = key_seats_of("ISO 773")
DEPTH_PAIRS = [
    pytest.param(row, id=row["shaft_dia_in_fraction"].strip()) for row in published("keyseat_depth_checks")
]
NEAR_MISSES = [pytest.param(row, id=row["metric_bore_mm"]) for row in published("near_miss_bores")]
EIGHTHS = [n / 8 for n in range(3, 41)]
WIDTHS_PRINTED_TO_DIFFER = (7 / 8, 1.125, 1.25, 1.375, 1.625, 1.75, 2.25, 2.75)


def width_in(diameter_in, standard):
    return key_for_shaft(diameter_in * MM_PER_INCH, standard).width_mm / MM_PER_INCH


@pytest.mark.parametrize("row", DEPTH_PAIRS)
def test_asme_check_dimensions_are_those_of_the_handbook(row):
    diameter = float(row["shaft_dia_in"]) * MM_PER_INCH
    seat = key_for_shaft(diameter, "ASME B17.1")

    assert seat.width_mm == pytest.approx(inches(row["square_key_in"]) * MM_PER_INCH)
    shaft, hub = under_the_keyseat_mm(diameter, seat), over_the_keyseat_mm(diameter, seat)
    assert shaft / MM_PER_INCH == pytest.approx(float(row["S_published_in"]), abs=0.001), row["source"]
    assert hub / MM_PER_INCH == pytest.approx(float(row["T_published_in"]), abs=0.001), row["source"]


def test_all_33_handbook_pairs_are_there():
    assert len(DEPTH_PAIRS) == 33


def clearance_over_key(width):
    if width <= 3:
        return 0.2
    if width <= 16:
        return 0.3
    return 0.4 if width <= 90 else 0.5


@pytest.mark.parametrize("seat", [pytest.param(row, id=row.size) for row in METRIC])
def test_a_metric_key_never_carries_on_its_top_face(seat):
    over = seat.shaft_depth_mm + seat.hub_depth_mm - seat.height_mm

    assert over == pytest.approx(clearance_over_key(seat.width_mm), abs=1e-9)


@pytest.mark.parametrize(
    "seat",
    [
        pytest.param(row, id=f"{row.size} {row.key_type}")
        for row in key_seats()
        if row.standard == "ASME B17.1"
    ],
)
def test_an_asme_keyseat_is_half_the_key_deep_in_both_parts(seat):
    assert seat.shaft_depth_mm == seat.hub_depth_mm == pytest.approx(seat.height_mm / 2)
    assert (seat.key_type == "square") == (seat.width_mm == seat.height_mm)


@pytest.mark.parametrize("standard", KEY_STANDARDS)
def test_the_ranges_of_a_table_join_without_gap_or_overlap(standard):
    rows = key_seats_of(standard)

    for lower, upper in pairwise(rows):
        assert lower.shaft_to_mm == upper.shaft_over_mm


@pytest.mark.parametrize(
    ("diameter", "size"),
    [
        (6, "2 x 2 mm"),
        (8, "2 x 2 mm"),
        (8.001, "3 x 3 mm"),
        (22, "6 x 6 mm"),
        (22.001, "8 x 7 mm"),
        (30, "8 x 7 mm"),
        (38, "10 x 8 mm"),
        (44, "12 x 8 mm"),
        (50, "14 x 9 mm"),
        (500, "100 x 50 mm"),
    ],
)
def test_a_metric_shaft_on_a_limit_belongs_to_the_row_below(diameter, size):
    assert key_for_shaft(diameter, "ISO 773").size == size


@pytest.mark.parametrize(
    ("diameter_in", "key_in"),
    [(7 / 8, 3 / 16), (15 / 16, 1 / 4), (1.25, 1 / 4), (1.3125, 5 / 16), (1.375, 5 / 16), (1.4375, 3 / 8)],
)
def test_an_inch_shaft_on_a_limit_belongs_to_the_row_below(diameter_in, key_in):
    assert width_in(diameter_in, "ASME B17.1") == pytest.approx(key_in)


@pytest.mark.parametrize(
    ("diameter", "standard"),
    [
        (5.99, "ISO 773"),
        (500.1, "ISO 773"),
        (7.9375, "ASME B17.1"),
        (6.35, "BS 46"),
        (12, "ISO 773 low"),
        (19, "ISO 773 low"),
    ],
)
def test_a_shaft_outside_the_table_has_no_key(diameter, standard):
    assert key_for_shaft(diameter, standard) is None


def test_an_asme_shaft_takes_the_square_key_and_a_large_one_has_none():
    assert key_for_shaft(2 * MM_PER_INCH, "ASME B17.1").key_type == "square"
    assert key_for_shaft(16 * MM_PER_INCH, "ASME B17.1") is None


@pytest.mark.parametrize("diameter_in", WIDTHS_PRINTED_TO_DIFFER)
def test_equal_inch_bores_of_two_systems_take_keys_of_another_width(diameter_in):
    assert width_in(diameter_in, "BS 46") - width_in(diameter_in, "ASME B17.1") >= 1 / 16 - 1e-9


def test_half_of_the_eighth_inch_bores_differ_in_key_width_between_the_systems():
    # The printed count is 16 of 32 bores, without saying which 32; all eighths from 3/8 to 5 in are 38.
    differing = [d for d in EIGHTHS if abs(width_in(d, "BS 46") - width_in(d, "ASME B17.1")) > 0.01]

    assert (len(differing), len(EIGHTHS)) == (19, 38)


@pytest.mark.parametrize("diameter_in", EIGHTHS)
def test_a_bs_46_hub_keyway_is_the_shallower_one_above_an_inch_and_a_quarter_only(diameter_in):
    # A summary calls it smaller everywhere; the two tables put side by side say otherwise for small bores.
    diameter = diameter_in * MM_PER_INCH
    british, american = key_for_shaft(diameter, "BS 46"), key_for_shaft(diameter, "ASME B17.1")

    assert (british.hub_depth_mm < american.hub_depth_mm) == (diameter_in > 1.25)
    is_nearer = over_the_keyseat_mm(diameter, british) < over_the_keyseat_mm(diameter, american)
    assert is_nearer == (diameter_in > 1.25)


@pytest.mark.parametrize(
    ("diameter_in", "width", "over_bore"),
    [
        (0.5, 1 / 8, 1 / 16),
        (1, 1 / 4, 1 / 8),
        (1.625, 7 / 16, 5 / 32),
        (2.5, 5 / 8, 7 / 32),
        (4, 1, 3 / 8),
        (7, 1.75, 5 / 8),
    ],
)
def test_a_bs_46_keyway_has_the_printed_width_and_depth(diameter_in, width, over_bore):
    seat = key_for_shaft(diameter_in * MM_PER_INCH, "BS 46")

    assert seat.width_mm / MM_PER_INCH == pytest.approx(width)
    hub = over_the_keyseat_mm(diameter_in * MM_PER_INCH, seat)
    assert hub / MM_PER_INCH == pytest.approx(diameter_in + over_bore)


def test_a_bs_46_shaft_depth_was_not_seen_and_is_not_given():
    seat = key_for_shaft(25.4, "BS 46")

    assert (seat.height_mm, under_the_keyseat_mm(25.4, seat)) == (None, None)


@pytest.mark.parametrize("row", NEAR_MISSES)
def test_neighbouring_metric_and_inch_bores_take_the_keys_of_the_published_list(row):
    metric = key_for_shaft(float(row["metric_bore_mm"]), "ISO 773")
    inch = key_for_shaft(inches(row["nearest_inch_sixteenths"]) * MM_PER_INCH, "ASME B17.1")

    assert metric.size == row["metric_key_mm"].replace("x", " x ") + " mm"
    assert inch.width_mm == pytest.approx(inches(row["inch_key_in"]) * MM_PER_INCH)
    assert metric.width_mm != pytest.approx(inch.width_mm, abs=0.006)


def test_the_low_metric_key_is_thinner_than_the_normal_one_of_the_same_width():
    low, normal = key_for_shaft(16, "ISO 773 low"), key_for_shaft(16, "ISO 773")

    assert (low.width_mm, low.height_mm) == (normal.width_mm, 3.0)
    assert (over_the_keyseat_mm(16, low), over_the_keyseat_mm(16, normal)) == (17.2, 18.3)


def test_asme_keys_above_eleven_inches_are_not_confirmed():
    assert key_for_shaft(11 * MM_PER_INCH, "ASME B17.1").confidence in CONFIRMED
    assert key_for_shaft(12 * MM_PER_INCH, "ASME B17.1").confidence not in CONFIRMED


def test_it_refuses_an_unknown_key_system():
    with pytest.raises(
        ValueError, match=r"`standard` must be one of ISO 773, ISO 773 low, ASME B17\.1, BS 46, got 'DIN'"
    ):
        key_for_shaft(25, "DIN")


@pytest.mark.parametrize("bad", [0, -25, math.nan, math.inf])
def test_it_refuses_a_shaft_that_is_no_size(bad):
    with pytest.raises(ValueError, match=r"`diameter_mm` must be (more than 0|finite), not"):
        key_for_shaft(bad, "ISO 773")


def test_the_wall_over_the_keyseat_is_what_hub_bore_and_keyway_leave():
    assert hub_wall_over_keyseat_mm(70, bore_mm=35, hub_depth_mm=3.3) == pytest.approx(14.2)


def test_a_keyseat_that_breaks_through_leaves_no_wall():
    assert hub_wall_over_keyseat_mm(40, bore_mm=35, hub_depth_mm=3.3) < 0
