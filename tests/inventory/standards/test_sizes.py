from decimal import Decimal

import pytest

from inventory.standards.sizes import inch_text, inches_to_mm, same_nominal
from tests.inventory.standards.published import inches, published

NEAR_MISSES = [pytest.param(row, id=row["metric_bore_mm"]) for row in published("near_miss_bores")]


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1-15/16", "49.2125"),
        ("1 15/16", "49.2125"),
        ("1.15/16", "49.2125"),
        ("1 - 15/16", "49.2125"),
        ("1-15/16 in", "49.2125"),
        ('1-15/16"', "49.2125"),
        ("15/16", "23.8125"),
        ("1.9375", "49.2125"),
        ("1.9375 in", "49.2125"),
        ("0.875", "22.225"),
        ("1,5", "38.1"),
        ("1", "25.4"),
        ("1 in", "25.4"),
        ("1inch", "25.4"),
        ("2 inches", "50.8"),
        ("5 in", "127"),
        ("1/64", "0.396875"),
        ("3 35/64", "90.090625"),
    ],
)
def test_a_size_is_read_exactly(text, mm):
    assert inches_to_mm(text) == Decimal(mm)


@pytest.mark.parametrize(
    "text",
    [
        "1 15",
        "3/4 mm",
        "1/3",
        "17/16",
        "1 0/4",
        "0",
        "0 in",
        "-5 in",
        "5 mm",
        "1,000.5",
        "1..5",
        "5 x 3",
        "",
        "in",
        "nan",
        "inf in",
        "1e3 in",
        "25 cm",
    ],
)
def test_it_refuses_text_that_is_no_size_in_inches(text):
    with pytest.raises(ValueError, match="`text` must be one clear size"):
        inches_to_mm(text)


def test_every_sixty_fourth_to_nine_inches_reads_back_from_its_own_text():
    for parts in range(1, 9 * 64 + 1):
        mm = parts * Decimal("0.396875")
        assert inches_to_mm(inch_text(mm)) == mm


@pytest.mark.parametrize(
    ("mm", "text"),
    [
        (49.2125, "1 15/16 in"),
        (25.4, "1 in"),
        (1.9375 * 25.4, "1 15/16 in"),
        (19.05, "3/4 in"),
        (19, None),
        (49.21, None),
    ],
)
def test_inch_text_is_given_for_exact_sixty_fourths_only(mm, text):
    assert inch_text(mm) == text


@pytest.mark.parametrize(
    ("a", "b"), [(15.88, 15.875), (9.53, 9.525), (44.45, 44.45), (25.006, 25.0), (25.0, 25.003125)]
)
def test_rounding_to_two_decimals_keeps_the_same_nominal(a, b):
    assert same_nominal(a, b)
    assert same_nominal(b, a)


@pytest.mark.parametrize(
    ("a", "b"), [(19.0, 19.05), (100.0, 100.0125), (25.0, 25.4), (25.0062, 25.0), (30.0, 30.1625)]
)
def test_close_sizes_of_two_systems_are_not_the_same_nominal(a, b):
    assert not same_nominal(a, b)


@pytest.mark.parametrize("row", NEAR_MISSES)
def test_no_metric_bore_is_the_nominal_of_its_nearest_inch_bore(row):
    metric, inch = float(row["metric_bore_mm"]), inches(row["nearest_inch_sixteenths"]) * 25.4

    assert inch == pytest.approx(float(row["inch_in_mm"]), abs=1e-6)
    assert inch - metric == pytest.approx(float(row["gap_mm"]), abs=1e-6)
    assert float(inches_to_mm(row["nearest_inch_sixteenths"])) == pytest.approx(inch)
    assert not same_nominal(metric, inch)
