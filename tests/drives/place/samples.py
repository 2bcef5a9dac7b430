"""An elevator head drive: 08B, 19 teeth driving 57, and what is known of it."""

from dataclasses import replace

from drives.place.duty import Duty
from inventory.interchange.vocabulary import PositionRole
from tests.inventory.interchange.samples import PART, PLACE

ELEVATOR = Duty(
    power_kw=0.6,
    speed_rpm=200.0,
    service_factor=1.3,
    mating_teeth=57,
    centre_distance_mm=500.0,
    centre_adjustment_mm=(-15.0, 15.0),
    ratio_tolerance_percent=6.0,
    lifting=False,
    elongation_percent=0.5,
)


def duty(**changes):
    return replace(ELEVATOR, **changes)


def driver(**changes):
    return replace(PLACE, **{"teeth": 19, "role": PositionRole.DRIVER, **changes})


def driven(**changes):
    return replace(PLACE, **{"teeth": 57, "role": PositionRole.DRIVEN, **changes})


def sprocket(**changes):
    return replace(PART, **{"teeth": 19, **changes})
