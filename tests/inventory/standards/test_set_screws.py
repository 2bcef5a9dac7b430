"""Seating torques of set screws against lists that the table does not rest on."""

import pytest

from inventory.standards.set_screws import set_screws

# Proof torques of hexagon socket set screws of class 45H, as a fastener trade page prints them from ISO 898-5.
PROOF_TORQUE_NM = {"M5": 5.0, "M6": 8.5, "M8": 20.0, "M10": 40.0, "M12": 65.0}
# Socket sizes: ISO 4026 to 4029, and ASME B18.3 as in Machinery's Handbook, 31st ed., p. 1825, table 15.
HEX_KEY_MM = {"M5": 2.5, "M6": 3, "M8": 4, "M10": 5, "M12": 6, "1/4 in": 25.4 / 8, "5/16 in": 25.4 * 5 / 32}
HEX_KEY_MM |= {"3/8 in": 25.4 * 3 / 16, "1/2 in": 25.4 / 4}
# Set screws on a maker's installation sheet of QD bushings, lbf in.
SHEET_LBF_IN = {"1/4 in": 87, "5/16 in": 165, "3/8 in": 290, "1/2 in": 620}
NM_OF_LBF_IN = 0.112985

SCREWS = [pytest.param(screw, id=screw.size) for screw in set_screws()]


@pytest.mark.parametrize("screw", SCREWS)
def test_the_key_is_that_of_the_standard(screw):
    assert screw.hex_key_mm == pytest.approx(HEX_KEY_MM[screw.size], abs=0.001)


@pytest.mark.parametrize("screw", [one for one in SCREWS if one.values[0].thread == "metric"])
def test_no_metric_screw_is_tightened_beyond_its_proof_torque(screw):
    assert 0.7 * PROOF_TORQUE_NM[screw.size] < screw.torque_nm < PROOF_TORQUE_NM[screw.size]


@pytest.mark.parametrize("screw", [one for one in SCREWS if one.values[0].thread == "inch"])
def test_inch_screws_are_tightened_as_on_the_sheet_of_a_bushing(screw):
    assert screw.torque_nm == pytest.approx(SHEET_LBF_IN[screw.size] * NM_OF_LBF_IN, rel=0.005)
