"""Running hours between two moments, from the meter readings of a position."""

from bisect import bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal

from drives.models import MeterReading
from drives.service_record.history import TENTH


def readings_of(position_id: int) -> list[MeterReading]:
    """The readings of a position that are not retracted, in time; at one moment the old meter's before the new one's."""
    rows = MeterReading.objects.filter(position_id=position_id, retracted_at__isnull=True)
    return sorted(rows, key=lambda row: (row.at, row.is_reset, row.hours, row.source, row.external_id))


def metered_hours(readings: Sequence[MeterReading], begin: datetime, end: datetime) -> Decimal | None:
    """Hours run from one moment to another; None unless readings enclose both moments.

    Between two readings the hours are taken to run evenly. Hours between the last reading of a meter and the first of its
    successor are not known and count as 0: read both meters when one is replaced.
    """
    if not readings or begin < readings[0].at or end > readings[-1].at:
        return None
    total = _run_until(readings, end) - _run_until(readings, begin)
    return total.quantize(TENTH, ROUND_HALF_UP)


def _run_until(readings: Sequence[MeterReading], moment: datetime) -> Decimal:
    """Hours run since the first reading."""
    last = bisect_right([row.at for row in readings], moment) - 1
    run = sum((_between(readings[n], readings[n + 1]) for n in range(last)), Decimal(0))
    if last + 1 == len(readings):
        return run
    before, after = readings[last], readings[last + 1]
    share = Decimal((moment - before.at) / timedelta(seconds=1)) / Decimal(
        (after.at - before.at) / timedelta(seconds=1)
    )
    return run + _between(before, after) * share


def _between(before: MeterReading, after: MeterReading) -> Decimal:
    return Decimal(0) if after.is_reset else after.hours - before.hours
