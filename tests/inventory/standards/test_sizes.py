from decimal import Decimal

import pytest

from inventory.standards.sizes import inch_text, parse_size, same_nominal
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
        ("49.2125", "49.2125"),
        ("49,2125 mm", "49.2125"),
        ("19,05", "19.05"),
        ("19,05 mm", "19.05"),
        ("12.7", "12.7"),
        ("25 mm", "25"),
        ("25MM", "25"),
        ("1 in", "25.4"),
        ("1inch", "25.4"),
        ("2 inches", "50.8"),
        ("5 in", "127"),
        ("1/64", "0.396875"),
        ("3 35/64", "90.090625"),
    ],
)
def test_a_size_is_read_exactly(text, mm):
    assert parse_size(text).mm == Decimal(mm)


@pytest.mark.parametrize(
    "text",
    [
        "1",
        "25",
        "1 15",
        "1.5",
        "1.25",
        "19.0",
        "15.875",
        "3/4 mm",
        "1/3",
        "17/16",
        "1 0/4",
        "0",
        "0 mm",
        "-5 mm",
        "1,000.5",
        "1..5",
        "5 x 3",
        "",
        "in",
        "nan",
        "inf mm",
        "1e3 mm",
        "25 cm",
    ],
)
def test_it_refuses_text_that_is_no_size_or_could_be_two(text):
    with pytest.raises(ValueError, match="`text` must be one clear size"):
        parse_size(text)


def test_a_bare_number_takes_the_unit_that_the_caller_knows():
    assert parse_size("1", unit="in").mm == Decimal("25.4")
    assert parse_size("25", unit="mm").mm == Decimal(25)


def test_a_stated_unit_wins_over_the_unit_that_the_caller_assumes():
    assert parse_size("25 mm", unit="in").mm == Decimal(25)
    assert parse_size("3/4", unit="mm").unit == "in"


def test_the_text_is_kept_as_typed():
    assert parse_size(' 1-15/16" ').text == ' 1-15/16" '


def test_every_sixty_fourth_to_nine_inches_reads_back_from_its_own_text():
    for parts in range(1, 9 * 64 + 1):
        mm = parts * Decimal("0.396875")
        size = parse_size(inch_text(mm))
        assert (size.mm, size.unit) == (mm, "in")


def test_an_odd_sixty_fourth_is_told_from_a_stock_size():
    assert parse_size("63/64").is_odd_sixty_fourth
    assert not parse_size("31/32").is_odd_sixty_fourth
    assert not parse_size("25 mm").is_odd_sixty_fourth


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
    assert float(parse_size(row["nearest_inch_sixteenths"], unit="in").mm) == pytest.approx(inch)
    assert not same_nominal(metric, inch)


@pytest.mark.parametrize("bad", [0, -1, float("nan"), float("inf")])
def test_it_refuses_to_compare_what_is_no_size(bad):
    with pytest.raises(ValueError, match=r"`b_mm` must be (more than 0|finite), not"):
        same_nominal(25, bad)
