import pytest
from hypothesis import given
from hypothesis import strategies as st

from drives.chain.basis import BY_PITCH, find_basis, rated_chains
from drives.chain.lubrication import (
    FT_MIN_PER_M_S,
    ORDER,
    class_by_speed,
    is_in_galling_region,
    is_sufficient,
    lubrication,
    rated_tension_n,
)

BY_NUMBER = {row.asme_designation: row for row in rated_chains()}


def basis(number):
    return find_basis(BY_NUMBER[number].pitch_in, asme_designation=number)


# Shigley's Mechanical Engineering Design, 9th ed., table 17-20: letters at 300 rpm, 17 teeth.
@pytest.mark.parametrize(
    ("number", "letter"),
    [
        *((number, "A") for number in ("25", "35", "40")),
        *((number, "B") for number in ("41", "50", "60", "80", "100", "120", "140", "160")),
        ("180", "C"),
        *((number, "C prime") for number in ("200", "240")),
    ],
)
def test_the_class_at_300_rpm_is_the_printed_letter(number, letter):
    assert lubrication(basis(number), teeth=17, speed_rpm=300).needed == letter


@pytest.mark.parametrize(
    ("number", "manual", "bath"),
    [
        ("40", 300, 2300),
        ("50", 250, 2000),
        ("60", 220, 1800),
        ("80", 170, 1500),
        ("100", 150, 1300),
        ("120", 130, 1200),
        ("140", 115, 1100),
        ("160", 100, 1000),
    ],
)
def test_the_class_changes_at_the_published_chain_speeds(number, manual, bath):
    row = BY_NUMBER[number]
    at = [
        class_by_speed(row, speed / FT_MIN_PER_M_S) for speed in (manual - 1, manual + 1, bath - 1, bath + 1)
    ]
    assert at == ["A", "B", "B", "C"]


def test_c_prime_asks_the_maker():
    found = lubrication(basis("240"), teeth=17, speed_rpm=300)
    assert found.ask_the_maker
    assert "the maker is asked" in found.method


@pytest.mark.parametrize("given_class", ORDER)
def test_nothing_on_site_answers_c_prime(given_class):
    assert not is_sufficient(given_class, "C prime")


@pytest.mark.parametrize(
    ("given_class", "needed", "enough"),
    [("A", "A", True), ("A", "B", False), ("B", "C", False), ("C", "A", True), ("C prime", "C", True)],
)
def test_a_better_class_is_enough_and_a_lower_one_is_not(given_class, needed, enough):
    assert is_sufficient(given_class, needed) is enough


def test_an_unknown_class_is_refused():
    with pytest.raises(ValueError, match="`given` must be one of"):
        is_sufficient("grease", "A")


def test_limits_that_were_not_seen_say_so():
    assert lubrication(basis("240"), teeth=17, speed_rpm=10).confidence == "not seen in print"
    assert lubrication(basis("60"), teeth=17, speed_rpm=10).confidence == "found"


def test_a_b_series_chain_takes_its_class_by_pitch():
    found = lubrication(find_basis(0.5, series="B"), teeth=17, speed_rpm=900)
    assert (found.needed, found.confidence) == ("B", BY_PITCH)


def test_a_chain_without_limits_is_unchecked_not_fine():
    found = lubrication(find_basis(1.0, is_double_pitch=True), teeth=17, speed_rpm=10)
    assert found.needed is None
    assert found.reason.startswith("Class not known: no rating equation for double-pitch chain")


def test_an_unrated_chain_has_no_rated_pull():
    with pytest.raises(ValueError, match="`basis` must rate the chain"):
        rated_tension_n(find_basis(1.0, is_double_pitch=True), teeth=17, speed_rpm=10)


@given(
    number=st.sampled_from(sorted(BY_NUMBER)),
    teeth=st.integers(min_value=9, max_value=40),
    speed=st.floats(min_value=5, max_value=2000),
)
def test_a_faster_drive_never_needs_less_while_plates_decide(number, teeth, speed):
    slow, fast = (lubrication(basis(number), teeth=teeth, speed_rpm=n).needed for n in (speed, 1.05 * speed))
    if not is_in_galling_region(basis(number), teeth=teeth, speed_rpm=speed):
        assert ORDER.index(fast) >= ORDER.index(slow)
