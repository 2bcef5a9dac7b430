"""Meter readings from their messages; hours that decrease need `is_reset`, which says that the meter was replaced."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from drives.feed import stored_messages as messages
from drives.feed.orders import lock_positions, update_position
from drives.feed.references import REFUSED, UNKNOWN, Reason, reason, record_not_found
from drives.feed.stored_messages import METER_READING, set_outcome, supersede_older
from drives.models import InboundMessage, MessageOutcome, MeterReading, Position, WorkOrder
from drives.service_record.meter_readings import readings_of
from inventory.facts import Fact, fact, fact_from_json
from inventory.plumbing.record_validation import RecordRefusal, day

CONTENT = ("position_id", "at", "hours", "is_reset", "retracted_at")


class ReadingRefusal(RecordRefusal):
    """Nothing was recorded of the reading."""


def update_reading(
    source: str, external_id: str, now: datetime, *, strictly: bool
) -> tuple[MeterReading | None, bool]:
    """The reading by its newest valid message, and whether it is new.

    `strictly` refuses the newest message if its hours cannot be right; else the message waits for a person.
    """
    reading = MeterReading.objects.filter(source=source, external_id=external_id).first()
    for message in messages.versions(METER_READING, source, external_id):
        position = Position.objects.with_drive().filter(tag=message.body["position"]).first()
        lock_positions(
            {place for place in (position and position.pk, reading and reading.position_id) if place}
        )
        lacking = reasons_against(message, position, reading)
        if not lacking:
            assert position is not None
            return write_reading(message, position, reading, now)
        if strictly and lacking[0]["about"] == REFUSED:
            raise ReadingRefusal(fact_from_json(lacking[0]), field=lacking[0]["field"])
        set_outcome(message, MessageOutcome.WAITING, now, lacking)
    return reading, False


def reasons_against(
    message: InboundMessage, position: Position | None, reading: MeterReading | None
) -> list[Reason]:
    tag = message.body["position"]
    if position is None:
        return [reason(UNKNOWN, "position", record_not_found("position", tag), tag)]
    found = contradiction(message.body, position, reading)
    return [reason(REFUSED, "hours", found, str(message.body["hours"]))] if found else []


def contradiction(body: Mapping[str, Any], position: Position, reading: MeterReading | None) -> Fact | None:
    """The neighbour in time that does not agree with the hours."""
    if body.get("retracted"):
        return None
    at, hours = datetime.fromisoformat(body["at"]), Decimal(str(body["hours"]))
    others = [row for row in readings_of(position.pk) if reading is None or row.pk != reading.pk]
    before = next((row for row in reversed(others) if row.at < at), None)
    after = next((row for row in others if row.at > at), None)
    values = {"position": position.tag, "hours": float(hours)}
    if before is not None and hours < before.hours and not body.get("is_reset"):
        other = {"earlier_hours": float(before.hours), "earlier_on": day(before.at)}
        return fact("meter_below_earlier_reading", **values, **other)
    if after is not None and hours > after.hours and not after.is_reset:
        other = {"later_hours": float(after.hours), "later_on": day(after.at)}
        return fact("meter_above_later_reading", **values, **other)
    return None


def write_reading(
    message: InboundMessage, position: Position, reading: MeterReading | None, now: datetime
) -> tuple[MeterReading, bool]:
    body = message.body
    created = reading is None
    reading = reading or MeterReading(source=message.source, external_id=message.external_id)
    before = None if created else [getattr(reading, name) for name in CONTENT]
    places = {position.pk: position}
    if not created and reading.position_id != position.pk:
        places[reading.position_id] = Position.objects.with_drive().get(pk=reading.position_id)
    reading.position, reading.at = position, datetime.fromisoformat(body["at"])
    reading.hours, reading.is_reset = Decimal(str(body["hours"])), bool(body.get("is_reset"))
    reading.retracted_at = message.version_at if body.get("retracted") else None
    reading.source_updated_at = message.version_at
    reading.save()
    set_outcome(message, MessageOutcome.APPLIED, now)
    supersede_older(message, now)
    if before != [getattr(reading, name) for name in CONTENT]:
        for number in sorted(places):
            if WorkOrder.objects.filter(position=number, has_failure=True).exists():
                update_position(places[number], now)
    return reading, created
