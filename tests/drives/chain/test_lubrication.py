import pytest
from hypothesis import given
from hypothesis import strategies as st

from drives.chain.lubrication import (
    FT_MIN_PER_M_S,
    ORDER,
    RequiredLubrication,
    is_in_galling_region,
    required_lubrication,
)
from drives.chain.rating_basis import BY_PITCH, find_basis, rated_chains
from inventory.facts import fact
from inventory.standards.chains import find_chain

NUMBERS = [row.asme_designation for row in rated_chains()]


def needed(number, **running):
    return required_lubrication(find_chain(number), **running).needed


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
    assert needed(number, teeth=17, speed_rpm=300) == letter


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
    chain = find_chain(number)
    rpm_per_ft_min = 60_000 / (17 * chain.pitch_mm * FT_MIN_PER_M_S)
    speeds = [speed * rpm_per_ft_min for speed in (manual - 1, manual + 1, bath - 1, bath + 1)]
    assert [needed(number, teeth=17, speed_rpm=speed) for speed in speeds] == ["A", "B", "B", "C"]


def met(given_class, needed_class):
    return RequiredLubrication(needed_class, "source", "found").is_met_by(given_class)


def test_c_prime_asks_the_maker():
    assert required_lubrication(find_chain("240"), teeth=17, speed_rpm=300).needs_maker_advice


@pytest.mark.parametrize("given_class", ORDER)
def test_nothing_on_site_answers_c_prime(given_class):
    assert not met(given_class, "C prime")


@pytest.mark.parametrize(
    ("given_class", "needed_class", "enough"),
    [("A", "A", True), ("A", "B", False), ("B", "C", False), ("C", "A", True), ("C prime", "C", True)],
)
def test_a_better_class_is_enough_and_a_lower_one_is_not(given_class, needed_class, enough):
    assert met(given_class, needed_class) is enough


def test_limits_that_were_not_seen_say_so():
    assert required_lubrication(find_chain("240"), teeth=17, speed_rpm=10).confidence == "not seen in print"
    assert required_lubrication(find_chain("60"), teeth=17, speed_rpm=10).confidence == "found"


def test_a_b_series_chain_takes_its_class_by_pitch():
    found = required_lubrication(find_chain("08B"), teeth=17, speed_rpm=900)
    assert (found.needed, found.confidence) == ("B", BY_PITCH)


def test_a_chain_without_limits_is_unchecked_not_fine():
    found = required_lubrication(find_chain("2040"), teeth=17, speed_rpm=10)
    assert found == fact("no_rating_for_double_pitch", chain="208A")


@given(
    number=st.sampled_from(NUMBERS),
    teeth=st.integers(min_value=9, max_value=40),
    speed=st.floats(min_value=5, max_value=2000),
)
def test_a_faster_drive_never_needs_less_while_plates_decide(number, teeth, speed):
    slow, fast = (needed(number, teeth=teeth, speed_rpm=n) for n in (speed, 1.05 * speed))
    if not is_in_galling_region(find_basis(find_chain(number)), teeth, speed):
        assert ORDER.index(fast) >= ORDER.index(slow)
