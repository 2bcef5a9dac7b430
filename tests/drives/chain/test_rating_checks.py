import re

import pytest

from drives.chain.forces import design_power_kw, shaft_torque_nm, tension_n
from drives.chain.geometry import chain_speed_m_s
from drives.chain.lubrication import FT_MIN_PER_M_S
from drives.chain.rating import OLDER_GENERATION, STRAND_FACTORS, rate
from drives.chain.rating_formulas import KW_PER_HP, N_PER_LBF, plate_fatigue_kw, roller_bushing_kw
from inventory.standards.chains import find_chain
from inventory.standards.sizes import MM_PER_INCH
from tests.drives.chain.checks_reader import close, inputs, rows
from tests.outside_checks import named_checks

CHECKS = {row["id"]: row for row in rows("rating_checks.csv")}
TABLE_CELLS = [key for key, row in CHECKS.items() if row["what"] == "single strand rating, 17 teeth"]
NM_PER_LBF_IN = N_PER_LBF * MM_PER_INCH / 1000
MPA_PER_KPSI = N_PER_LBF * 1000 / MM_PER_INCH**2
SINGLES = [
    *("R40", "R41", "R44", "R45", "R46", "R47", "R50", "R51", "R52", "R54", "R56", "R57", "R58", "R59"),
    *("R60", "R61", "R62", "R63", "R65", "R66", "R67"),
]
NO_40 = {"speed_rpm": 900, "pitch_in": 0.5}


def single_strand_hp(designation: str, *, teeth: int, speed_rpm: float) -> float:
    rating = rate(find_chain(designation), teeth=teeth, speed_rpm=speed_rpm)
    assert rating.generation == OLDER_GENERATION
    return rating.rated_power_kw / KW_PER_HP


def test_every_rating_check_has_a_test():
    assert sorted([*TABLE_CELLS, *SINGLES]) == sorted(CHECKS)


@pytest.mark.parametrize("row", named_checks(CHECKS[key] for key in TABLE_CELLS))
def test_the_older_equations_give_the_tabled_cell(row):
    given = inputs(row)
    assert close(single_strand_hp(given["chain"], teeth=17, speed_rpm=float(given["n"])), row)


def test_r40_no_40_at_2000_rpm_lies_after_the_extreme():
    assert close(single_strand_hp("40", teeth=17, speed_rpm=2000), CHECKS["R40"])


def plates_over(teeth, base):
    return plate_fatigue_kw(teeth, **NO_40, plate_constant=1) / plate_fatigue_kw(
        base, **NO_40, plate_constant=1
    )


def test_r41_r58_r59_tooth_factors():
    rollers = (roller_bushing_kw(teeth, **NO_40, roller_constant=1) for teeth in (21, 17))
    assert close(next(rollers) / next(rollers), CHECKS["R41"])
    assert close(plates_over(11, 17), CHECKS["R58"])
    assert close(plates_over(21, 17), CHECKS["R59"])


def test_r44_r66_chain_speed():
    speed = chain_speed_m_s(0.5 * MM_PER_INCH, teeth=21, speed_rpm=2000)
    assert close(speed * FT_MIN_PER_M_S, CHECKS["R44"])
    assert close(chain_speed_m_s(19.05, teeth=25, speed_rpm=1000), CHECKS["R66"])


def test_r45_r54_chain_tension():
    pull = tension_n(31.1 * KW_PER_HP, 1750 / FT_MIN_PER_M_S)
    assert close(pull / N_PER_LBF, CHECKS["R45"])
    speed = chain_speed_m_s(15.875, teeth=19, speed_rpm=1400)
    assert close(tension_n(12.9537, speed), CHECKS["R54"])


def test_r46_r47_r57_rating_that_the_table_must_show():
    wanted = design_power_kw(90 * 1.5, service_factor=1.3)
    assert close(wanted, CHECKS["R46"])
    assert close(wanted / STRAND_FACTORS[3], CHECKS["R47"])
    assert close(design_power_kw(15, service_factor=1.4), CHECKS["R57"])


def test_r50_r51_r52_r56_rating_that_one_strand_must_have():
    assert close(design_power_kw(5, service_factor=1.3) / 1.26, CHECKS["R50"])
    assert close(design_power_kw(12, service_factor=1.3), CHECKS["R51"])
    assert close(design_power_kw(30 * 0.9, service_factor=1.4) / STRAND_FACTORS[4], CHECKS["R52"])
    assert close(21.0 / STRAND_FACTORS[4], CHECKS["R56"])


def test_r60_r61_the_iso_tooth_factor_follows_the_same_exponent():
    assert close(plates_over(19, 17), CHECKS["R60"])
    assert close(plates_over(19, 25), CHECKS["R61"])


def test_r62_r63_torque_and_force_at_a_key():
    torque = shaft_torque_nm(40 * KW_PER_HP, 600)
    assert close(torque / NM_PER_LBF_IN, CHECKS["R62"])
    assert close(torque / (1.4375 * MM_PER_INCH / 2000) / N_PER_LBF, CHECKS["R63"])


def test_r67_the_iso_plate_form_agrees_with_the_asme_one():
    plate_section = 0.118 * 25.4**2
    iso = 17**1.08 * 300**0.9 * 99 * plate_section * 25.4 ** (1 - 0.0008 * 25.4) / 6e7
    assert close(iso / plate_fatigue_kw(17, speed_rpm=300, pitch_in=1.0, plate_constant=0.004), CHECKS["R67"])


def test_the_iso_roller_constant_is_the_asme_one_in_other_units():
    converted = 17_000 * KW_PER_HP / MM_PER_INCH**0.8
    assert converted == pytest.approx(953.5, rel=0.0005)


def test_single_rows_are_named_after_their_identifiers():
    assert all(re.fullmatch(r"R\d\d", key) for key in SINGLES)
