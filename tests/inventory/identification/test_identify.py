import pytest

from inventory.facts import Refusal
from inventory.identification.identify import Identification, RimCandidate, identify
from inventory.identification.readings import Readings
from tests.inventory.standards.published import published


def named(found: Identification, chain: str, strands: int = 1) -> RimCandidate:
    return next(
        one for one in found.candidates if chain in one.rim.designations and one.rim.strands == strands
    )


def pitch_of(found: Identification) -> float:
    return found.pitches[0].pitch_mm


PRINTED = [
    row
    for row in published("tooth_form_checks")
    if row["quantity"] == "outside_diameter" and row["confidence"] == "found"
]


def test_every_printed_outside_diameter_of_a_new_wheel_gives_its_pitch() -> None:
    """Source: 252 outside diameters of a printed transmission catalogue; single readings, nothing else known."""
    assert len(PRINTED) > 250
    for row in PRINTED:
        readings = Readings(
            teeth=int(row["z"]), outside_diameter_mm=float(row["published_value"]), strands=1, worn=False
        )
        assert pitch_of(identify(readings)) == pytest.approx(float(row["pitch"]), abs=0.01), row["check_id"]


def test_so_does_one_that_lost_five_percent_of_the_pitch() -> None:
    """Source: with tip loss up to 0.05 p on the diameter all printed wheels were told by the nearest pitch, as computed in advance.

    Without 05B, as 8 mm at 9 teeth is not in question, and without chains below 8 teeth.
    """
    for row in PRINTED[::3]:
        worn_mm = float(row["published_value"]) - 0.05 * float(row["pitch"])
        readings = Readings(teeth=int(row["z"]), outside_diameter_mm=worn_mm, worn=True, strands=1)
        assert pitch_of(identify(readings)) == pytest.approx(float(row["pitch"]), abs=0.01), row["check_id"]


def test_probabilities_and_the_unknown_share_add_up_to_one() -> None:
    found = identify(
        Readings(teeth=17, outside_diameter_mm=75.1, caliper_diameter_mm=60.6, tooth_width_mm=7.1, worn=True)
    )

    assert sum(one.probability for one in found.candidates) + found.unknown == pytest.approx(1.0)
    assert [one.probability for one in found.candidates] == sorted(
        (one.probability for one in found.candidates), reverse=True
    )


def test_a_worn_wheel_of_an_elevator_is_rather_08b_than_40() -> None:
    found = identify(
        Readings(
            teeth=27,
            outside_diameter_mm=113.9,
            caliper_diameter_mm=100.4,
            tooth_width_mm=7.0,
            hub_diameter_mm=49.5,
            bore_mm=25,
            keyway_width_mm=8,
            strands=1,
            worn=True,
        )
    )

    assert found.candidates[0].rim.chain.designation == "08B"
    assert named(found, "08A").probability > 0.05


def test_standard_and_heavy_chain_share_the_rim_of_one_strand_only() -> None:
    one = identify(Readings(teeth=21, outside_diameter_mm=138.0, tooth_width_mm=11.8, strands=1))
    two = identify(
        Readings(teeth=21, outside_diameter_mm=138.0, tooth_width_mm=11.7, overall_width_mm=34.5, strands=2)
    )

    assert set(one.candidates[0].rim.designations) == {"12A", "12AH"}
    assert set(two.candidates[0].rim.designations) == {"12A"}


@pytest.mark.parametrize(
    ("chain", "other", "teeth", "known", "measurement"),
    [
        ("08A", "08B", 18, {"tooth_width_mm": 7.2}, "caliper_diameter_mm"),
        ("08A", "085", 18, {"caliper_diameter_mm": 65.2}, "tooth_width_mm"),
        ("12A", "12B", 20, {}, "tooth_width_mm"),
        ("16A", "16B", 21, {}, "tooth_width_mm"),
        ("16A", "C208AL", 21, {}, "tooth_width_mm"),
        ("24A", "24B", 20, {"tooth_width_mm": 23.9}, "caliper_diameter_mm"),
    ],
)
def test_the_measurement_that_decides_between_two_rims_of_one_pitch_is_named(
    chain: str, other: str, teeth: int, known: dict[str, float], measurement: str
) -> None:
    """Source: dimensions of ISO 606 and their tolerances: 08A/08B 0.59 mm in the gaps, 08A/085 1.5, 16A/16B 1.2, 12A/12B 0.8 mm of tooth width."""
    from_outside = {"08A": 79.0, "12A": 131.0, "16A": 182.5, "24A": 262.0}[chain]
    found = identify(Readings(teeth=teeth, outside_diameter_mm=from_outside, strands=1, worn=False, **known))

    reasons = [one.tell_apart for one in (named(found, chain), named(found, other)) if one.tell_apart]
    assert measurement in [reason.values.get("measurement") for reason in reasons]
    assert found.measure_next[0].measurement == measurement


def test_the_width_over_the_rows_tells_50_from_10b_duplex() -> None:
    """Source: printed widths over two rows, 26.9 and 25.6 mm."""
    found = identify(Readings(teeth=20, outside_diameter_mm=107.0, strands=2, worn=False))

    assert found.measure_next[0].measurement == "overall_width_mm"
    reason = named(found, "10A", 2).tell_apart
    assert reason is not None
    assert reason.values["measurement"] == "overall_width_mm"


def test_what_nothing_tells_apart_is_said() -> None:
    """50 and 10B in one row have one roller, and widths of teeth that h14 lets overlap."""
    found = identify(
        Readings(
            teeth=21, outside_diameter_mm=112.0, caliper_diameter_mm=95.6, tooth_width_mm=8.85, strands=1
        )
    )

    groups = [{found.candidates[place].rim.chain.designation for place in group} for group in found.alike]
    assert any({"10A", "10B"} <= group for group in groups)
    reason = named(found, "10B").tell_apart
    assert reason is not None
    assert reason.code == "nothing_tells_apart"


@pytest.mark.parametrize("mode", [0, 1, 2])
def test_an_odd_number_of_teeth_may_be_read_over_flats_or_from_tip_to_tip(mode: int) -> None:
    """11 teeth of 1 in pitch: 1.0 % and 2.0 % lower. Source: cos(90 degrees / 11)."""
    found = identify(
        Readings(teeth=11, outside_diameter_mm=101.74 * 0.98982**mode, tooth_width_mm=16.0, strands=1)
    )

    assert found.candidates[0].rim.chain.designation == "16B"
    assert found.unknown < 0.01
    assert "odd_teeth_outside_diameter" in [note.code for note in found.notes]


def test_a_count_that_is_one_off_is_doubted() -> None:
    """The turned outside diameter of 20 teeth of 12.7 mm and two more readings of 08B, counted as 21."""
    found = identify(
        Readings(
            teeth=21,
            outside_diameter_mm=87.2,
            caliper_diameter_mm=72.6,
            tooth_width_mm=7.1,
            chord_mm=36.86,
            chord_gaps=3,
            strands=1,
            worn=False,
        )
    )

    assert found.teeth[0].teeth == 20
    assert "count_teeth_again" in [note.code for note in found.notes]


def test_readings_that_fit_no_chain_are_unknown() -> None:
    found = identify(Readings(teeth=19, outside_diameter_mm=100, caliper_diameter_mm=60, tooth_width_mm=33))

    assert found.unknown > 0.9
    assert "no_listed_chain_fits" in [note.code for note in found.notes]


def test_readings_that_contradict_each_other_are_named() -> None:
    """10B with 19 teeth measures 104.7 mm outside and 9.2 mm across a tooth; a tooth of 33 mm is wider than two pitches."""
    found = identify(Readings(teeth=19, outside_diameter_mm=103, tooth_width_mm=33, strands=1))

    assert found.unknown > 0.5
    notes = {note.code: note.values for note in found.notes}
    assert notes["readings_contradict"]["measurements"] == ("outside_diameter_mm", "tooth_width_mm")


def test_a_diameter_between_two_pitches_is_no_certainty() -> None:
    """20 teeth: 12.7 mm give 87.8 mm outside, 15.875 mm 109.8 mm."""
    found = identify(Readings(teeth=20, outside_diameter_mm=99.0, strands=1, worn=False))

    assert found.unknown > 0.5
    assert all(one.probability < 0.4 for one in found.candidates)


def test_one_bad_reading_among_good_ones_is_named() -> None:
    """16B with 20 teeth: 175.6 mm outside, read as 157; 146.5 mm in the gaps, 73.7 mm over three of them."""
    found = identify(
        Readings(
            teeth=20,
            outside_diameter_mm=157.0,
            tooth_width_mm=16.0,
            caliper_diameter_mm=146.4,
            chord_mm=73.7,
            chord_gaps=3,
            strands=1,
            worn=False,
        )
    )

    assert found.candidates[0].rim.chain.designation == "16B"
    notes = {note.values["measurement"] for note in found.notes if note.code == "reading_does_not_fit"}
    assert "outside_diameter_mm" in notes


def test_inches_in_a_millimetre_field_are_asked_about() -> None:
    with pytest.raises(Refusal) as refused:
        identify(Readings(teeth=60, outside_diameter_mm=24.5))

    assert refused.value.field == "outside_diameter_mm"
    assert refused.value.fact.code == "reading_perhaps_in_inches"
    assert refused.value.fact.values["inches_in_mm"] == 622.3


def test_a_plants_own_drives_move_what_the_readings_leave_open() -> None:
    readings = Readings(
        teeth=21, outside_diameter_mm=112.0, caliper_diameter_mm=95.4, tooth_width_mm=8.85, strands=1
    )
    flat, own = identify(readings), identify(readings, {("10B", 1): 40, ("08B", 1): 60})

    assert named(own, "10B").probability > named(flat, "10B").probability + 0.1
    assert named(own, "10A").probability > 0.01
    assert "rests_on_plant" in [note.code for note in own.notes]
    assert "rests_on_plant" not in [note.code for note in flat.notes]


def test_a_few_drives_say_little() -> None:
    readings = Readings(teeth=17, outside_diameter_mm=75.4, tooth_width_mm=7.1, strands=1, worn=True)
    flat, few, many = (identify(readings, {("08B", 1): count}) for count in (0, 3, 300))
    shares = [named(one, "08B").probability for one in (flat, few, many)]

    assert shares == sorted(shares)
    assert few.candidates[0].probability < 0.9
    assert few.measure_next[0].measurement == "caliper_diameter_mm"


def test_a_plant_does_not_overrule_a_clear_reading() -> None:
    readings = Readings(
        teeth=21, outside_diameter_mm=182.0, tooth_width_mm=16.1, caliper_diameter_mm=153.6, strands=1
    )
    found = identify(readings, {("16A", 1): 500})

    assert found.candidates[0].rim.chain.designation == "16B"
    assert found.candidates[0].probability > 0.9
