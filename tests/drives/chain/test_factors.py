import pytest

from drives.chain.factors import (
    iso_application_factor,
    iso_tooth_factor,
    service_factor,
    strand_factor,
    tooth_factor,
)


@pytest.mark.parametrize(
    ("strands", "factor"), [(1, 1.0), (2, 1.7), (3, 2.5), (4, 3.3), (5, 3.9), (6, 4.6), (8, 6.0)]
)
def test_asme_strands_are_the_printed_ones(strands, factor):
    assert strand_factor(strands, method="ASME") == factor


@pytest.mark.parametrize(("strands", "factor"), [(1, 1.0), (2, 1.75), (3, 2.5)])
def test_iso_strands_are_the_printed_ones(strands, factor):
    assert strand_factor(strands, method="ISO") == factor


def test_a_strand_count_without_a_printed_factor_is_refused():
    with pytest.raises(
        ValueError, match=r"`strands` must be one of \[1, 2, 3, 4, 5, 6, 8\] in the ASME method, not 7"
    ):
        strand_factor(7, method="ASME")
    with pytest.raises(ValueError, match=r"`strands` must be one of \[1, 2, 3\] in the ISO method, not 4"):
        strand_factor(4, method="ISO")


def test_an_unknown_method_is_refused():
    with pytest.raises(ValueError, match=r"`method` must be one of \['ASME', 'ISO'\], not 'DIN'"):
        strand_factor(2, method="DIN")


@pytest.mark.parametrize(
    ("load", "prime_mover", "factor"),
    [
        ("smooth", "motor_or_turbine", 1.0),
        ("smooth", "engine_hydraulic", 1.0),
        ("smooth", "engine_mechanical", 1.2),
        ("moderate_shock", "motor_or_turbine", 1.3),
        ("moderate_shock", "engine_hydraulic", 1.2),
        ("moderate_shock", "engine_mechanical", 1.4),
        ("heavy_shock", "motor_or_turbine", 1.5),
        ("heavy_shock", "engine_hydraulic", 1.4),
        ("heavy_shock", "engine_mechanical", 1.7),
    ],
)
def test_service_factors_are_the_printed_ones(load, prime_mover, factor):
    assert service_factor(load, prime_mover) == factor


@pytest.mark.parametrize(
    ("driven", "factors"),
    [("smooth", (1.0, 1.1, 1.3)), ("slight_shock", (1.4, 1.5, 1.7)), ("moderate_shock", (1.8, 1.9, 2.1))],
)
def test_iso_application_factors_are_the_printed_ones(driven, factors):
    drivers = ("smooth", "slight_shock", "moderate_shock")
    assert tuple(iso_application_factor(driven, driver) for driver in drivers) == factors


def test_iso_knows_no_heavy_shock_row():
    with pytest.raises(ValueError, match="`driven` must be one of"):
        iso_application_factor("heavy_shock", "smooth")


@pytest.mark.parametrize(
    ("load", "mover", "name"), [("rough", "motor_or_turbine", "load"), ("smooth", "wind", "prime_mover")]
)
def test_a_word_that_is_not_in_the_table_is_refused(load, mover, name):
    with pytest.raises(ValueError, match=f"`{name}` must be one of"):
        service_factor(load, mover)


def test_seventeen_teeth_are_the_asme_base_and_nineteen_the_iso_base():
    assert tooth_factor(17, side="pre_extreme") == tooth_factor(17, side="post_extreme") == 1.0
    assert iso_tooth_factor(19) == 1.0


@pytest.mark.parametrize(
    ("teeth", "factor"), [(13, 1.507), (15, 1.291), (17, 1.128), (21, 0.898), (25, 0.743)]
)
def test_iso_tooth_factors_are_the_taught_ones(teeth, factor):
    assert iso_tooth_factor(teeth) == pytest.approx(factor, abs=0.0006)


def test_an_unknown_side_is_refused():
    with pytest.raises(ValueError, match="`side` must be one of"):
        tooth_factor(17, side="middle")
