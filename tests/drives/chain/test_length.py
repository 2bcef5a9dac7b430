import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from drives.chain.length import centre_exact_pitches, even_links, links_exact
from tests.drives.chain.handbook import handbook_centre_pitches, handbook_links

TEETH = st.integers(min_value=9, max_value=150)
CENTRES = st.floats(min_value=20, max_value=100)


def belt_by_integration(centre: float, z1: int, z2: int) -> float:
    # Cauchy: the perimeter of a convex figure is the integral of its support function over all directions.
    angle = np.linspace(0, 2 * np.pi, 2_000_001)
    support = np.maximum(z1 / (2 * np.pi), centre * np.cos(angle) + z2 / (2 * np.pi))
    return float(np.sum((support[1:] + support[:-1]) / 2) * (angle[1] - angle[0]))


@pytest.mark.parametrize(
    ("centre", "z1", "z2"),
    [(40, 17, 34), (30, 17, 65), (36, 20, 63), (25, 19, 19), (22, 11, 120), (80, 25, 50)],
)
def test_the_exact_length_is_the_integral_of_the_belt_path(centre, z1, z2):
    assert links_exact(centre, z1=z1, z2=z2) == pytest.approx(belt_by_integration(centre, z1, z2), abs=1e-8)


def test_the_handbook_length_falls_short_by_the_published_amounts():
    near = links_exact(36, z1=20, z2=63) - handbook_links(36, z1=20, z2=63)
    far = links_exact(30, z1=17, z2=65) - handbook_links(30, z1=17, z2=65)
    assert near == pytest.approx(0.004, abs=0.0005)
    assert far == pytest.approx(0.011, abs=0.0005)


@given(centre=CENTRES, z1=TEETH, z2=TEETH)
def test_the_handbook_error_is_its_next_series_term(centre, z1, z2):
    k = ((z2 - z1) / (2 * math.pi)) ** 2
    assume(k < 0.2 * centre**2)
    error = links_exact(centre, z1=z1, z2=z2) - handbook_links(centre, z1=z1, z2=z2)
    term = k**2 / (12 * centre**3)
    assert term * 0.999 - 1e-9 <= error <= 1.2 * term + 1e-9


@given(centre=CENTRES, z1=TEETH, z2=TEETH)
def test_the_exact_centre_undoes_the_exact_length(centre, z1, z2):
    assume(abs(z2 - z1) < 2 * math.pi * centre * 0.9)
    links = links_exact(centre, z1=z1, z2=z2)
    assert centre_exact_pitches(links, z1=z1, z2=z2) == pytest.approx(centre, rel=1e-10)


@given(centre=CENTRES, z1=TEETH, z2=TEETH)
def test_the_handbook_centre_undoes_the_handbook_length(centre, z1, z2):
    assume(abs(z2 - z1) < 2 * math.pi * centre * 0.7)
    links = handbook_links(centre, z1=z1, z2=z2)
    assert handbook_centre_pitches(links, z1=z1, z2=z2) == pytest.approx(centre, rel=1e-9)


@given(centre=CENTRES, z1=TEETH, z2=TEETH)
def test_the_length_does_not_care_which_sprocket_comes_first(centre, z1, z2):
    assume(abs(z2 - z1) < 2 * math.pi * centre * 0.9)
    assert links_exact(centre, z1=z1, z2=z2) == pytest.approx(links_exact(centre, z1=z2, z2=z1), rel=1e-12)


def test_two_more_links_on_equal_sprockets_move_the_centre_one_pitch():
    assert centre_exact_pitches(82, z1=17, z2=17) - centre_exact_pitches(80, z1=17, z2=17) == 1.0


@pytest.mark.parametrize(
    ("length", "links"),
    [
        (121.875, 122),
        (105.683, 106),
        (75.79, 76),
        (114.80, 114),
        (122.46, 122),
        (135.0, 136),
        (106.0, 106),
        (0.4, 2),
    ],
)
def test_the_even_count_is_the_nearest_one(length, links):
    assert even_links(length) == links


@given(length=st.floats(min_value=10, max_value=500))
def test_an_even_count_is_even_and_within_one_link(length):
    links = even_links(length)
    assert links % 2 == 0
    assert abs(links - length) <= 1


def test_a_chain_too_short_for_its_sprockets_is_refused():
    with pytest.raises(ValueError, match="`links` must go round 17 and 65 teeth; 60 are too few"):
        centre_exact_pitches(60, z1=17, z2=65)


def test_one_sprocket_inside_the_other_is_refused():
    with pytest.raises(ValueError, match=r"`centre_pitches` must be more than 7\.639 pitches here, not 7"):
        links_exact(7, z1=17, z2=65)


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf, "40", True, None, 1e12])
def test_a_centre_that_is_no_size_is_refused(bad):
    with pytest.raises(ValueError, match="`centre_pitches` must"):
        links_exact(bad, z1=17, z2=34)


@pytest.mark.parametrize("bad", [4, 0, -17, math.nan, 17.3, 1001, "17", False])
def test_a_count_that_is_no_sprocket_is_refused(bad):
    with pytest.raises(ValueError, match="`z1` must"):
        links_exact(40, z1=bad, z2=34)
