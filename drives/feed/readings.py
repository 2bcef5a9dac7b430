"""Meter readings out of their messages; hours that run backwards need to say that the meter was changed."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from drives.feed import stored_messages as messages
from drives.feed.naming import REFUSED, UNKNOWN, Reason, reason
from drives.feed.orders import hold_positions, rederive_place
from drives.feed.stored_messages import METER_READING, settle
from drives.models import InboundMessage, MessageOutcome, MeterReading, Position, WorkOrder
from drives.service_record.meter_readings import readings_of
from inventory.plumbing.record_validation import RecordRefusal

CONTENT = ("position_id", "at", "hours", "is_reset", "retracted_at")


class ReadingRefusal(RecordRefusal):
    """The reading says what cannot be; nothing was recorded."""


def derive_reading(
    source: str, external_id: str, now: datetime, *, strictly: bool
) -> tuple[MeterReading | None, bool]:
    """The reading as its newest sound message has it, and whether it is new.

    `strictly` refuses the newest message where its hours cannot be; else it waits to be looked at.
    """
    reading = MeterReading.objects.filter(source=source, external_id=external_id).first()
    for message in messages.versions(METER_READING, source, external_id):
        position = Position.objects.with_drive().filter(tag=message.body["position"]).first()
        hold_positions(
            {place for place in (position and position.pk, reading and reading.position_id) if place}
        )
        lacking = reasons_against(message, position, reading)
        if not lacking:
            assert position is not None
            return put(message, position, reading, now)
        if strictly and lacking[0]["about"] == REFUSED:
            raise ReadingRefusal(lacking[0]["field"], lacking[0]["detail"])
        settle(message, MessageOutcome.WAITING, now, lacking)
    return reading, False


def reasons_against(
    message: InboundMessage, position: Position | None, reading: MeterReading | None
) -> list[Reason]:
    tag = message.body["position"]
    if position is None:
        sentence = f'There is no position "{tag}": record it, or correct the message.'
        return [reason(UNKNOWN, "position", sentence, tag)]
    sentence = runs_backwards(message.body, position, reading)
    return [reason(REFUSED, "hours", sentence, str(message.body["hours"]))] if sentence else []


def runs_backwards(body: Mapping[str, Any], position: Position, reading: MeterReading | None) -> str:
    """A sentence about the neighbour in time that the hours do not agree with."""
    if body.get("retracted"):
        return ""
    at, hours = datetime.fromisoformat(body["at"]), Decimal(str(body["hours"]))
    others = [row for row in readings_of(position.pk) if reading is None or row.pk != reading.pk]
    before = next((row for row in reversed(others) if row.at < at), None)
    after = next((row for row in others if row.at > at), None)
    if before is not None and hours < before.hours and not body.get("is_reset"):
        return (
            f"hours is {hours}, but the meter of {position.tag} showed {before.hours} on {before.at:%Y-%m-%d}: "
            "send is_reset true with the first reading of a new meter, or correct the hours."
        )
    if after is not None and hours > after.hours and not after.is_reset:
        return (
            f"hours is {hours}, but the meter of {position.tag} showed {after.hours} later, on "
            f"{after.at:%Y-%m-%d}: correct the hours, or send is_reset true with the later reading first."
        )
    return ""


def put(
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
    settle(message, MessageOutcome.APPLIED, now)
    older = messages.versions(METER_READING, message.source, message.external_id).filter(
        outcome=MessageOutcome.WAITING, version_at__lte=message.version_at
    )
    for one in older.exclude(pk=message.pk):
        settle(one, MessageOutcome.STALE, now)
    if before != [getattr(reading, name) for name in CONTENT]:
        for number in sorted(places):
            if WorkOrder.objects.filter(position=number, has_failure=True).exists():
                rederive_place(places[number], now)
    return reading, created
