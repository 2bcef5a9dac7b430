"""What is written is read back: the round trip is the check, in each language and length."""

from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.descriptions.key_sizes import suits_bore
from inventory.descriptions.reader import read_description
from inventory.descriptions.writer import LANGUAGES, write_description
from inventory.standards.chains import chains
from inventory.standards.keys import key_seats
from inventory.standards.tooth_formulas import pitch_diameter_mm
from tests.examples import some_of
from tests.inventory.descriptions.cases import differences, surplus

SHORT, LONG = 40, 200
GRADES = {
    "carbon_steel": ["C45", "1045", "EN8"],
    "stainless_steel": ["304", "316", "316L"],
    "alloy_steel": ["42CrMo4", "4140"],
    "cast_iron": ["GG25"],
    "sintered_steel": [],
    "plastic": [],
}
SMALLEST_SIZE_MM = 10
SEATS = sorted({(seat.width_mm, seat.hub_depth_mm) for seat in key_seats() if seat.hub_depth_mm})
READ_BESIDE = {"keyway", "set_screw", "pitch_mm"}
"""Said along with what was written."""
RESTATED = {"effective_or_actual_teeth", "which_chain_is_meant", "word_has_two_readings"}
"""Questions that true attributes raise again: the teeth of a double pitch, ISO 40B beside a 40 with hub, a bearing without idler."""


@st.composite
def specifications(draw: st.DrawFn) -> dict[str, Any]:
    chain = draw(st.sampled_from(chains()))
    name = draw(st.sampled_from(chain.names))
    teeth = draw(st.integers(min_value=9, max_value=150))
    strands = draw(st.integers(min_value=1, max_value=1 if chain.is_simplex_only else 4))
    made: dict[str, Any] = {"chain": name, "teeth": teeth, "strands": strands}
    root_mm = pitch_diameter_mm(chain.pitch_mm, teeth) - chain.roller_diameter_mm
    made |= draw(_mountings(root_mm))
    if chain.is_double_pitch:
        made["teeth_counted"] = draw(st.sampled_from(["effective", "actual"]))
    if draw(st.booleans()):
        made["material"] = draw(st.sampled_from(sorted(GRADES)))
        if GRADES[made["material"]] and draw(st.booleans()):
            made["material_grade"] = draw(st.sampled_from(GRADES[made["material"]]))
    if draw(st.booleans()):
        made["hardened_teeth"] = draw(st.booleans())
    if draw(st.booleans()):
        made["hub_style"] = draw(st.sampled_from(["A", "B", "C", "D", "weld_on", "flanged"]))
    if draw(st.booleans()):
        made["set_screws"] = draw(st.integers(min_value=1, max_value=4))
    pitch_circle_mm = pitch_diameter_mm(chain.pitch_mm, teeth)
    others = {
        "hub_diameter_mm": round(root_mm * 0.8, 1),
        "length_through_bore_mm": 28.0,
        "outside_diameter_mm": round(pitch_circle_mm + chain.pitch_mm / 2, 2),
    }
    for name, value in others.items():
        if value >= SMALLEST_SIZE_MM and draw(st.booleans()):
            made[name] = value
    return made


@st.composite
def _mountings(draw: st.DrawFn, root_mm: float) -> dict[str, Any]:
    kind = draw(st.sampled_from(["plain", "finished", "tapered", "qd", "bearing", "split", "hex", "nothing"]))
    if kind == "tapered":
        return {"bore_type": kind, "bush_size": draw(st.sampled_from(["1008", "1610", "2012", "3020"]))}
    if kind == "qd":
        return {
            "bore_type": kind,
            "bush_size": draw(st.sampled_from(["JA", "SH", "SDS", "SK", "SF", "E", "F"])),
        }
    if kind == "hex":
        return {"bore_type": kind, "hex_across_flats_mm": draw(st.sampled_from([22.225, 30.0]))}
    if kind == "nothing":
        return {}
    made: dict[str, Any] = {"bore_type": kind} | ({"role_kind": "idler"} if kind == "bearing" else {})
    largest = min(root_mm * 0.6, 150)
    if largest < 10:
        return made
    sixteenths = (
        st.integers(min_value=5, max_value=int(largest / 25.4 * 16)).map(lambda n: n * 25.4 / 16)
        if largest > 10
        else st.nothing()
    )
    made["bore_mm"] = draw(st.one_of(st.integers(min_value=9, max_value=int(largest)).map(float), sixteenths))
    fitting = [seat for seat in SEATS if suits_bore(seat[0], made["bore_mm"])]
    if kind == "finished" and fitting and draw(st.booleans()):
        made["keyway_width_mm"], depth = draw(st.sampled_from(fitting))
        if draw(st.booleans()):
            made["keyway_depth_mm"] = depth
    return made


@pytest.mark.parametrize("language", LANGUAGES)
@settings(max_examples=some_of(150), suppress_health_check=[HealthCheck.too_slow])
@given(specification=specifications())
def test_a_long_description_says_everything_and_is_read_back(
    language: str, specification: dict[str, Any]
) -> None:
    text = write_description(specification, language=language, most_characters=LONG)
    reading = read_description(text)

    assert len(text) <= LONG
    assert {question.code for question in reading.questions} <= RESTATED, text
    assert differences(specification, reading) == {}, text
    assert set(surplus(specification, reading)) <= READ_BESIDE, text


@pytest.mark.parametrize("language", LANGUAGES)
@settings(max_examples=some_of(150), suppress_health_check=[HealthCheck.too_slow])
@given(specification=specifications())
def test_a_short_description_leaves_out_and_never_says_another_thing(
    language: str, specification: dict[str, Any]
) -> None:
    text = write_description(specification, language=language, most_characters=SHORT)
    reading = read_description(text)

    assert len(text) <= SHORT
    found = {name: one for name, one in reading.attributes.items() if one.basis != "assumed"}
    wrong = {name: pair for name, pair in differences(specification, reading).items() if name in found}
    assert wrong == {}, text
    assert {"chain", "teeth"} <= found.keys(), text
    assert set(surplus(specification, reading)) <= READ_BESIDE, text


@pytest.mark.parametrize(
    ("language", "most", "text"),
    [
        ("en", 40, "SPKT 12B-2 19T TYPE B BORE 30 MM HDN"),
        ("en", 200, "SPROCKET 12B-2 19 TEETH TYPE B BORE 30 MM KEYWAY 8 MM HARDENED TEETH"),
        ("de", 200, "KETTENRAD 12B-2 19 ZÄHNE FORM B BOHRUNG 30 MM PASSFEDERNUT 8 MM GEHÄRTET"),
        ("fr", 200, "PIGNON À CHAÎNE 12B-2 19 DENTS TYPE B ALÉSAGE 30 MM RAINURE 8 MM DENTURE TREMPÉE"),
        ("es", 200, "PIÑÓN PARA CADENA 12B-2 19 DIENTES TIPO B AGUJERO 30 MM CHAVETERO 8 MM TEMPLADO"),
        ("it", 40, "PIGNONE 12B-2 Z19 TIPO B FORO 30 MM"),
    ],
)
def test_the_noun_comes_first_and_the_least_telling_is_left_out(language: str, most: int, text: str) -> None:
    specification = {
        "chain": "12B",
        "strands": 2,
        "teeth": 19,
        "hub_style": "B",
        "bore_type": "finished",
        "bore_mm": 30.0,
        "keyway_width_mm": 8.0,
        "hardened_teeth": True,
    }

    written = write_description(specification, language=language, most_characters=most)
    assert written == text


def test_inch_parts_have_inch_bores() -> None:
    specification = {"chain": "60", "strands": 1, "teeth": 18, "bore_type": "finished", "bore_mm": 36.5125}

    text = write_description(specification, language="en", most_characters=200)

    assert text == 'SPROCKET 60-1 18 TEETH BORE 1-7/16"'
