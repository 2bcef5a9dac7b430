"""Bore, bush, key and lathe: what, by how much, what follows, what to do."""

import pytest

from api.wording.sentences import sentence, sentences
from inventory.facts import fact
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import Aspect
from tests.inventory.interchange.samples import keyed, pilot, place

PAIR = {"fitted_bush_size": "1615", "bush_size": "1610", "large_end_mm": 57.2, "hub_large_end_mm": 57.2}


def test_a_pilot_bore_of_16_on_a_shaft_of_35():
    verdict = judge(place(shaft=keyed(35.0, 10.0)), pilot(16.0, 42.0, hub_diameter_mm=70.0))
    mounting = next(f for f in verdict.checks if f.aspect is Aspect.MOUNTING)

    assert sentences(mounting.facts) == (
        "Pilot bore 16 mm, shaft 35 mm: bore to 35 mm, H8, cut a 10 × 8 mm keyseat and drill and tap for set screws, one over "
        "the key and one at 90°. The wall left over the key is 14.2 mm (3.5 mm needed). About 75 minutes in the shop (estimate)."
    )


@pytest.mark.parametrize(
    ("found", "text"),
    [
        (
            fact("bore_fits_shaft", bore_mm=25.4, shaft_mm=25.4),
            "Bore 1 in (25.4 mm) on a 1 in (25.4 mm) shaft: same size.",
        ),
        (
            fact("bore_too_large", bore_mm=25.4, shaft_mm=25.0, excess_mm=0.4),
            "Bore 1 in (25.4 mm) on a 25 mm shaft: 0.4 mm too large.",
        ),
        (
            fact("same_mounting", bore_type="finished", bore_mm=25.0),
            "Same mounting as the part it replaces: finished bore 25 mm.",
        ),
        (
            fact("same_mounting", bore_type="hex", bore_mm=None),
            "Same mounting as the part it replaces: hex bore.",
        ),
        (
            fact("same_mounting", bore_type="qd", bush_size="SDS"),
            "Same mounting as the part it replaces: hub for a SDS bush.",
        ),
        (
            fact("bore_does_not_suit_shaft", bore_type="tapered", bush_size=None, shaft_kind="hex"),
            "A hub for a bush of unknown size does not go on a hex shaft.",
        ),
        (
            fact("bore_does_not_suit_shaft", bore_type="hex", bore_mm=30.0, shaft_kind="pin"),
            "A hex bore 30 mm does not go on a dead pin.",
        ),
        (
            fact("bored_hub_replaces_bush", fitted_bush_size=None, bore_type="plain", bore_mm=12.0),
            "The part it replaces sits on a bush of unknown size; this one is bored for the shaft itself: record the shaft "
            "first. The quick release is lost.",
        ),
    ],
)
def test_bore_on_shaft(found, text):
    assert sentence(found) == text


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (fact("metal_cannot_be_added"), ("sleeve is an engineered repair",)),
        (fact("bore_looks_like_a_fit"), ("looks right", "frets")),
        (fact("shaft_diameter_not_recorded"), ("measure it", "25 mm is not 1 in")),
        (fact("no_key_on_shaft", keyway_mm=8.0), ("set screws", "light load only")),
        (fact("bush_on_shaft_now", fitted_bush_size="1210"), ("1210", "undersize", "quick release is lost")),
        (fact("bearing_to_press_in", hub_mm=60.0, pin_mm=25.0), ("press in a bearing", "60 mm")),
        (fact("bore_wider_than_bearing", bore_mm=65.0, pin_mm=25.0, bearing_mm=52.0), ("65 mm", "52 mm outside")),
        (fact("bearing_on_plain_shaft"), ("check which of them turns",)),
        (fact("plate_too_thin_for_key"), ("too thin to carry a key", "teeth kept cool")),
        (fact("wall_over_keyseat_too_thin", shaft_mm=35.0, hub_mm=42.0, wall_mm=0.2, least_wall_mm=3.5), ("0.2 mm over the keyseat", "3.5 mm are needed", "crack from the keyseat corner")),
        (fact("recorded_greatest_bore_allows_it", greatest_bore_mm=38.0), ("38 mm", "somebody has to decide")),
        (fact("greatest_bore_not_recorded", bore_mm=None, shaft_mm=28.0), ("how far it may be bored is not recorded", "measure the hub")),
    ],
)  # fmt: skip
def test_what_follows_on_a_shaft_and_what_to_do(found, words):
    assert all(word in sentence(found) for word in words), sentence(found)


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (fact("bush_stays", bush_size="1610"), ("sits on the shaft now", "no grease", "retighten")),
        (fact("longer_bush_in_hub", **PAIR, difference_mm=12.7), ("57.2 mm", "projects 12.7 mm", "torque limited to the short size", "screw holes")),
        (fact("shorter_bush_in_hub", **PAIR, difference_mm=12.7), ("12.7 mm of hub bore stay unsupported", "torque limited to the short size")),
        (fact("bush_cones_differ", **PAIR | {"hub_large_end_mm": 50.8}, difference_mm=0.0), ("Bush 1615 in a hub bored for 1610", "57.2 mm and 50.8 mm")),
        (fact("bush_cones_differ", **PAIR | {"hub_large_end_mm": None}, difference_mm=None), ("the cones differ.",)),
        (fact("bush_of_own_size_may_fit"), ("Record the shaft",)),
        (fact("bush_has_to_be_bought"), ("has to be bought first",)),
        (fact("no_bush_on_shelf", bush_size="1610", bore_mm=25.0, free_bores_mm=(24.0, 25.4)), ("no 1610 bush with 25 mm bore", "free in this size: 24 mm and 1 in (25.4 mm)")),
        (fact("no_bush_on_shelf", bush_size="1610", bore_mm=25.0, free_bores_mm=()), ("none of this size",)),
        (fact("bush_takes_shaft", bush_size="1610", bore_mm=25.4, step=fact("swap_bush", fitted_bush_size="1210", bush_size="1610", bore_mm=25.4)), ("Takes a 1610 bush", "1 in (25.4 mm) bore", "take the 1210 bush off and fit a 1610 bush")),
        (fact("shaft_below_listed_bush_bores", shaft_mm=9.0, bush_size="1210", least_bore_mm=11.0, most_bore_mm=32.0), ("listed with bores from 11 mm to 32 mm", "ask")),
        (fact("bush_keyway_shallow", bush_size="1108", bore_mm=28.0), ("needs a lower key", "before the key is made")),
        (fact("inch_bush_keyway_differs", key_mm=4.7625, keyway_mm=6.35, key_standard="BS 46"), ("3/16 in", "1/4 in", "BS 46", "European")),
        (fact("shelf_bush_keyway_differs", keyway_mm=6.35, key_mm=4.7625), ("other key standard",)),
    ],
)  # fmt: skip
def test_what_is_said_of_a_bush(found, words):
    assert all(word in sentence(found) for word in words), sentence(found)


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (fact("keyway_too_narrow", keyway_mm=6.0, key_width_mm=8.0, key_height_mm=7.0), ("does not enter", "Recut the keyseat to 8 × 7 mm", "stepped key is a modification")),
        (fact("keyway_too_wide", keyway_mm=6.35, key_width_mm=6.0, key_height_mm=6.0, play_mm=0.35), ("0.35 mm play", "rolls over", "somebody responsible")),
        (fact("keyway_too_shallow", depth_mm=1.2, needed_depth_mm=2.3, key_width_mm=5.0, key_height_mm=5.0), ("1.20 mm deep", "needs 2.30 mm", "deepen it")),
        (fact("keyway_may_be_too_shallow", needed_depth_mm=4.3, usual_depth_mm=3.3), ("also made 3.30 mm deep", "measure it")),
        (fact("keyway_fits_key", keyway_mm=5.0, key_width_mm=5.0, key_height_mm=None), ("Keyway 5 mm for a 5 mm key",)),
        (fact("keyseat_depth_not_known", key_width_mm=11.0, key_height_mm=None), ("11 mm key", "in no table", "measure")),
        (fact("keyseat_depth_elsewhere", key_width_mm=12.0, depth_mm=3.3, standards=("ISO 773",)), ("3.3 mm", "12 mm key in ISO 773",)),
        (fact("shop_time", minutes=95, basis="estimate"), ("About 95 minutes in the shop (estimate).",)),
        (fact("shop_time", minutes=95, basis="recorded"), ("About 95 minutes in the shop.",)),
    ],
)  # fmt: skip
def test_what_is_said_of_a_key(found, words):
    assert all(word in sentence(found) for word in words), sentence(found)


@pytest.mark.parametrize(
    ("step", "text"),
    [
        (fact("cut_keyseat", key_width_mm=None, key_height_mm=None), "cut a matching keyseat"),
        (
            fact("cut_second_keyseat", key_width_mm=8.0, key_height_mm=7.0),
            "cut a 8 × 7 mm keyseat, clear of the old one",
        ),
        (fact("weld_on_hub"), "weld on a hub, true it, keep the teeth below tempering heat"),
        (
            fact("press_in_bearing", pin_mm=25.4),
            "press in a bearing for the 1 in (25.4 mm) pin and secure it",
        ),
        (fact("deepen_keyseat", depth_mm=2.3), "deepen the keyseat to 2.3 mm"),
    ],
)
def test_a_step_of_the_shop(step, text):
    assert sentence(step) == text
