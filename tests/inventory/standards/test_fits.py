import pytest

from inventory.standards.fits import tolerance_mm, tolerances

RANGES = [(3, 6), (6, 10), (10, 18), (18, 30), (30, 50), (50, 80), (80, 120), (120, 180), (180, 250)]
IT6 = [8, 9, 11, 13, 16, 19, 22, 25, 29]
IT7 = [12, 15, 18, 21, 25, 30, 35, 40, 46]
IT8 = [18, 22, 27, 33, 39, 46, 54, 63, 72]
IT9 = [30, 36, 43, 52, 62, 74, 87, 100, 115]
DEVIATIONS = {
    "k6": [1, 1, 1, 2, 2, 2, 3, 3, 4],
    "m6": [4, 6, 7, 8, 9, 11, 13, 15, 17],
    "n6": [8, 10, 12, 15, 17, 20, 23, 27, 31],
}
P = [12, 15, 18, 22, 26, 32, 37, 43, 50]


def limits_um(tolerance_class, size):
    row = tolerance_mm(tolerance_class, size)
    return round(row.lower_mm * 1000, 3), round(row.upper_mm * 1000, 3)


@pytest.mark.parametrize(("index", "sizes"), list(enumerate(RANGES)))
def test_limits_follow_from_deviation_and_grade(index, sizes):
    size = sizes[1]

    assert limits_um("H7", size) == (0, IT7[index])
    assert limits_um("H8", size) == (0, IT8[index])
    assert limits_um("h6", size) == (-IT6[index], 0)
    assert limits_um("N9", size) == (-IT9[index], 0)
    assert limits_um("JS9", size) == (-IT9[index] / 2, IT9[index] / 2)
    assert limits_um("P9", size) == (-P[index] - IT9[index], -P[index])
    for name, deviations in DEVIATIONS.items():
        assert limits_um(name, size) == (deviations[index], deviations[index] + IT6[index])


@pytest.mark.parametrize(("name", "limits"), [("N9", (-29, -4)), ("P9", (-31, -6))])
def test_narrow_keyways_have_limits_of_their_own(name, limits):
    assert limits_um(name, 3) == limits


def test_a_size_on_a_limit_belongs_to_the_range_below():
    assert limits_um("H8", 30) == (0, 33)
    assert limits_um("H8", 30.001) == (0, 39)


def test_every_row_is_confirmed():
    assert all(row.is_confirmed for row in tolerances())


def test_it_refuses_a_class_that_is_not_in_the_table():
    with pytest.raises(ValueError, match=r"`tolerance_class` must be one of H7, H8, .*, got 'h8'"):
        tolerance_mm("h8", 25)


@pytest.mark.parametrize("size", [3, 250.1])
def test_it_refuses_a_size_outside_the_table(size):
    with pytest.raises(ValueError, match="`diameter_mm` must be over 3 to 250 for H8"):
        tolerance_mm("H8", size)
