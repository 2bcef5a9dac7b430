import math

import pytest

from inventory.standards.hubs import (
    LARGEST_BORE_RULE,
    hub_wall_over_keyseat_mm,
    largest_bore_mm,
    max_hub_diameter_asme_mm,
    published_hub,
    published_hubs,
    recommended_hub_diameter_mm,
    wanted_wall_mm,
)
from inventory.standards.keys import key_for_shaft
from tests.inventory.standards.published import MM_PER_INCH, inches, published

ROWS = [pytest.param(row, id=f"{row['pitch_in']}-{row['teeth']}") for row in published("hub_bore_checks")]
STANDARDS = ("ISO 773", "ASME B17.1", "BS 46")


@pytest.mark.parametrize("row", ROWS)
def test_the_hub_formula_rounds_down_to_the_handbook_figure(row):
    result = max_hub_diameter_asme_mm(float(row["pitch_in"]) * MM_PER_INCH, int(row["teeth"])) / MM_PER_INCH

    assert result == pytest.approx(float(row["max_hub_dia_formula_in"]), abs=0.00006)
    if row["max_hub_dia_published_in"]:
        assert abs(result - inches(row["max_hub_dia_published_in"])) < 1 / 64


@pytest.mark.parametrize("row", ROWS)
def test_the_table_keeps_the_printed_hub_and_bore(row):
    found = published_hub(float(row["pitch_in"]) * MM_PER_INCH, int(row["teeth"]))

    for text, mm in (
        (row["max_hub_dia_published_in"], found.max_hub_diameter_mm),
        (row["max_bore_published_in"], found.max_bore_mm),
    ):
        assert mm == (pytest.approx(inches(text) * MM_PER_INCH) if text else None)


def test_a_printed_bore_is_about_two_thirds_of_the_hub():
    ratios = [
        hub.max_bore_mm / hub.max_hub_diameter_mm
        for hub in published_hubs()
        if hub.max_bore_mm and hub.max_hub_diameter_mm
    ]

    assert len(published_hubs()) == 66
    assert 0.63 < min(ratios) < max(ratios) < 0.71


def test_a_sprocket_that_the_page_does_not_show_has_no_printed_hub():
    assert published_hub(12.7, 40) is None
    assert published_hub(38.1, 15) is None


def test_the_wall_over_the_keyseat_is_what_hub_bore_and_keyway_leave():
    assert hub_wall_over_keyseat_mm(70, bore_mm=35, hub_depth_mm=3.3) == pytest.approx(14.2)


def test_a_keyseat_that_breaks_through_leaves_no_wall():
    assert hub_wall_over_keyseat_mm(40, bore_mm=35, hub_depth_mm=3.3) < 0


@pytest.mark.parametrize(("bore", "depth", "wanted"), [(25, 3.3, 3.3), (35, 3.3, 3.5)])
def test_the_wanted_wall_is_the_larger_of_keyway_depth_and_a_tenth_of_the_bore(bore, depth, wanted):
    assert wanted_wall_mm(bore, depth) == pytest.approx(wanted)


def keeps_its_wall(hub, bore, standard):
    seat = key_for_shaft(bore, standard)
    if seat is None:
        return False
    wall = (hub - bore) / 2 - seat.hub_depth_mm
    return wall >= max(seat.hub_depth_mm, bore / 10) - 1e-9


@pytest.mark.parametrize("standard", STANDARDS)
@pytest.mark.parametrize("hub", [20, 30, 37, 60, 63.5, 70, 104, 150])
def test_the_largest_bore_is_the_one_a_search_in_hundredths_finds(hub, standard):
    searched = max(
        (n / 100 for n in range(600, hub_steps(hub)) if keeps_its_wall(hub, n / 100, standard)), default=None
    )
    found = largest_bore_mm(hub, standard)

    assert found.bore_mm == pytest.approx(searched, abs=0.011)
    assert found.wall_mm >= found.wanted_wall_mm - 1e-9
    assert found.rule == LARGEST_BORE_RULE


def hub_steps(hub):
    return int(hub * 100)


def test_the_deeper_keyway_of_the_next_row_can_hold_the_bore_at_the_row_limit():
    assert largest_bore_mm(60, "ISO 773").bore_mm == 44.0


def test_a_hub_too_small_for_the_smallest_key_has_no_bore():
    assert largest_bore_mm(8, "ISO 773") is None


def test_the_hub_rule_is_confirmed_for_large_sprockets_only():
    assert recommended_hub_diameter_mm(60, pitch_diameter_mm=152.5).is_confirmed
    assert not recommended_hub_diameter_mm(60, pitch_diameter_mm=152.4).is_confirmed


def test_the_hub_rule_gives_a_thicker_wall_than_the_handbook_table_allows_at_most():
    printed = published_hub(12.7, 13)
    rule = recommended_hub_diameter_mm(printed.max_bore_mm, pitch_diameter_mm=12.7 / math.sin(math.pi / 13))

    assert (printed.max_hub_diameter_mm - printed.max_bore_mm) / 2 == pytest.approx(0.25 * MM_PER_INCH)
    assert rule.wall_mm == pytest.approx(0.374 * MM_PER_INCH, abs=0.05 * MM_PER_INCH)


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf])
def test_it_refuses_a_hub_that_is_no_size(bad):
    with pytest.raises(ValueError, match=r"`hub_diameter_mm` must be (more than 0|finite), not"):
        largest_bore_mm(bad, "ISO 773")


def test_it_refuses_an_unknown_key_system():
    with pytest.raises(ValueError, match="`standard` must be one of"):
        largest_bore_mm(60, "JIS")
