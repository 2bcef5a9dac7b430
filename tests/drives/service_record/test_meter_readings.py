from datetime import timedelta
from decimal import Decimal

import pytest

from drives.models import MeterReading
from drives.service_record.meter_readings import metered_hours
from tests.drives.feed.messages import FITTED


def shown(days: float, hours: float, *, is_reset: bool = False) -> MeterReading:
    return MeterReading(at=FITTED + timedelta(days=days), hours=Decimal(str(hours)), is_reset=is_reset)


METER = [shown(0, 100), shown(10, 200), shown(20, 260), shown(20, 5, is_reset=True), shown(30, 45)]


@pytest.mark.parametrize(
    ("begin", "end", "hours"),
    [
        (0, 10, "100"),
        (5, 10, "50"),
        (5, 15, "80"),
        (0, 30, "200"),
        (15, 25, "50"),
        (20, 30, "40"),
        (10, 10, "0"),
        (-1, 10, None),
        (0, 31, None),
    ],
)
def test_hours_are_summed_between_changes_of_meter(begin: float, end: float, hours: str | None) -> None:
    found = metered_hours(METER, FITTED + timedelta(days=begin), FITTED + timedelta(days=end))
    assert found == (None if hours is None else Decimal(hours))


def test_without_readings_there_are_no_hours() -> None:
    assert metered_hours([], FITTED, FITTED) is None
