"""At and beside each limit of the drive: bugs that were put there by hand and went unnoticed."""

import pytest

from drives.place.duty import PlacedPart
from drives.place.duty_checks import check_chain_wear
from drives.place.rating_check import check_rating
from drives.place.torque_check import check_torque
from inventory.interchange.verdict import SHIPPED
from inventory.interchange.vocabulary import Outcome
from tests.drives.place.samples import driver, duty, sprocket
from tests.inventory.interchange.samples import bushed, chain, keyed


def placed(required=None, offered=None, **changes):
    return PlacedPart(
        required=required or driver(), offered=offered or sprocket(), duty=duty(**changes), practice=SHIPPED
    )


@pytest.mark.parametrize(
    ("elongation_percent", "outcome"), [(2.999, Outcome.OK), (3.0, Outcome.WORK), (3.001, Outcome.WORK)]
)
def test_a_chain_is_worn_out_at_its_limit_and_not_only_beyond(elongation_percent, outcome):
    # The least of 3 % and 200 / teeth: three trade sources.
    found = check_chain_wear(placed(elongation_percent=elongation_percent))
    assert (found.limit, found.outcome) == (3.0, outcome)


def test_a_double_pitch_chain_has_the_strict_limit():
    double = driver(chain=chain("C2040"))
    found = check_chain_wear(placed(double, sprocket(chain=double.chain), elongation_percent=2.0))
    assert found.limit == 1.5
    assert found.outcome is not Outcome.OK


def test_without_a_service_factor_a_rating_that_seems_enough_is_not_called_enough():
    known, unknown = check_rating(placed()), check_rating(placed(service_factor=None))
    assert known.finding.outcome is Outcome.OK
    assert unknown.finding.outcome is None
    assert unknown.finding.is_unchecked


def test_the_torque_through_a_bush_has_the_service_factor_in_it():
    # 1008 carries 136 Nm: taper-bush catalogue, table of torque capacities. 2.4 kW at 200 rpm is 114.6 Nm.
    place = driver(chain=chain("16B"), shaft=keyed(24.0, 8.0, bush_size="1108"))
    hub = bushed("1008", chain=chain("16B"), teeth=19)
    (calm,) = check_torque(placed(place, hub, power_kw=2.4, service_factor=1.0))
    (rough,) = check_torque(placed(place, hub, power_kw=2.4, service_factor=1.5))
    assert (calm.outcome, calm.required) == (Outcome.OK, 114.6)
    assert rough.outcome is not Outcome.OK
    assert rough.required == pytest.approx(1.5 * 114.6, abs=0.1)
