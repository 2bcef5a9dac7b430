import pytest

from drives.exposure.item_exposure import item_exposure
from tests.drives.exposure.built_inputs import risk_inputs, risk_position


def test_the_others_are_named_with_the_chance_of_their_demand():
    found = item_exposure(risk_inputs({1: [7], 2: [7], 3: [7]}, {7: 1}, {1: 0.9, 2: 0.2, 3: 0.5}), 7, 1)
    assert found.is_last_piece
    assert [(other.position.tag, other.chance) for other in found.positions] == [
        ("KILN-P3", pytest.approx(0.5)),
        ("KILN-P2", pytest.approx(0.2)),
    ]
    assert found.chance == found.chance_at_least == pytest.approx(1 - 0.8 * 0.5)
    assert found.not_known == 0


def test_one_that_nothing_else_can_serve_comes_first():
    found = item_exposure(risk_inputs({1: [7], 2: [7], 3: [7, 8]}, {7: 1, 8: 1}, {2: 0.1, 3: 0.9}), 7, 1)
    assert [(other.position.tag, other.has_other) for other in found.positions] == [
        ("KILN-P2", False),
        ("KILN-P3", True),
    ]


def test_a_vital_drive_comes_before_a_likelier_one():
    positions = {2: risk_position(2, criticality="vital")}
    found = item_exposure(
        risk_inputs({1: [7], 2: [7], 3: [7]}, {7: 2}, {2: 0.1, 3: 0.9}, positions=positions), 7, 1
    )
    assert [other.position.criticality for other in found.positions] == ["vital", "essential"]
    assert not found.is_last_piece


def test_without_an_available_piece_there_is_nothing_to_take():
    assert item_exposure(risk_inputs({1: [7], 2: [7]}, {7: 0}, {2: 0.1}), 7, 1) is None


@pytest.mark.parametrize("days", [None, {}])
def test_an_item_that_serves_no_other_position_exposes_none(days):
    found = item_exposure(risk_inputs({1: [7]}, {7: 1}, {1: 0.5}, days=days), 7, 1)
    assert (found.chance, found.positions) == (0, ())


def test_without_a_lead_time_the_chances_are_not_known():
    found = item_exposure(risk_inputs({1: [7], 2: [7]}, {7: 1}, {2: 0.1}, days={}), 7, 1)
    assert (found.chance, found.lead_time_days, found.positions[0].chance) == (None, None, None)


def test_a_position_with_unknown_demand_is_not_counted_as_one_without_demand():
    found = item_exposure(risk_inputs({1: [7], 2: [7], 3: [7]}, {7: 1}, {3: 0.1}), 7, 1)
    assert [other.chance for other in found.positions] == [None, pytest.approx(0.1)]
    assert (found.chance, found.not_known) == (None, 1)
    assert found.chance_at_least == pytest.approx(0.1)
