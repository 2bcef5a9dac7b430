"""Bodies of work-order messages. Records that they name are looked up later: a message waits for a missing one."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ValidationError

from api.edge.parsing import (
    NumberField,
    StrictBooleanField,
    StrictCharField,
    StrictDateField,
    StrictIntegerField,
    StrictSerializer,
    UtcDateTimeField,
)
from api.wire.fields import OptionalTextField, WordField
from api.wire.serializers import BodySerializer, MemberErrors
from drives.models import WorkOrderStatus
from inventory.models import Condition, ReasonCode
from inventory.models.fields import GREATEST_QUANTITY
from inventory.plumbing.record_validation import CLOCKS_APART, EARLIEST_YEAR

LONGEST_CODE = 120
MOST_LINES = 200
CODE = (
    "A word of the vocabulary, or a code of the source: one that nobody has read yet is kept in unread_codes."
)


class PlausibleField(UtcDateTimeField):
    """A moment of a plausible year."""

    default_error_messages = {"implausible": "It lies before {earliest}: which year is meant?"}

    def to_internal_value(self, value: Any) -> datetime:
        found = super().to_internal_value(value)
        if found.year < EARLIEST_YEAR:
            self.fail("implausible", earliest=EARLIEST_YEAR)
        return found


class PastField(PlausibleField):
    """A moment that has been."""

    default_error_messages = {"future": "It lies in the future: send what has happened."}

    def to_internal_value(self, value: Any) -> datetime:
        found = super().to_internal_value(value)
        if found > timezone.now() + CLOCKS_APART:
            self.fail("future")
        return found


@extend_schema_field({"type": "object", "additionalProperties": {}})
class OpenMapField(serializers.JSONField):
    """An object of the sender's own, kept and returned untouched."""

    default_error_messages = {"not_map": "An object is expected here."}

    def to_internal_value(self, data: Any) -> Any:
        if not isinstance(data, dict):
            self.fail("not_map")
        return data


def code_field() -> OptionalTextField:
    return OptionalTextField(max_length=LONGEST_CODE, help_text=CODE)


def past_field(**more: Any) -> PastField:
    return PastField(required=False, allow_null=True, **more)


class FailureSerializer(StrictSerializer):
    """What ended the unit at the position; every code may be left out, and none of them blocks a closing."""

    mechanism = code_field()
    detected_by = code_field()
    ended_by = code_field()
    cause = OptionalTextField(max_length=60)
    part = OptionalTextField(max_length=40)
    removed_at = past_field(help_text="When the unit came off; closed_at where it is left out.")
    running_hours = NumberField(max_digits=10, decimal_places=1, min_value=0, required=False, allow_null=True)
    note = OptionalTextField()


class PartNeededSerializer(BodySerializer):
    """An item, or a requirement where no item is known yet."""

    item = OptionalTextField(max_length=60)
    requirement = OpenMapField(required=False, allow_null=True)
    quantity = StrictIntegerField(min_value=1, max_value=GREATEST_QUANTITY)
    storeroom = OptionalTextField(max_length=20)
    line = OptionalTextField(max_length=40)

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        if not values.get("item") and not values.get("requirement") and "item" not in faults:
            return {"item": ["Say what is needed: an item or a requirement."]}
        return {}


class PartUsedSerializer(BodySerializer):
    """A negative quantity came back. Without a storeroom it is the one that serves the plant."""

    item = StrictCharField(max_length=60)
    quantity = StrictIntegerField(min_value=-GREATEST_QUANTITY, max_value=GREATEST_QUANTITY)
    storeroom = OptionalTextField(max_length=20)
    condition = WordField(Condition.choices)
    reason_code = WordField(ReasonCode.choices)
    at = past_field()
    line = OptionalTextField(max_length=40)

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        if values.get("quantity") == 0:
            return {"quantity": ["quantity must not be 0: leave the line out."]}
        return {}


class WorkOrderBody(BodySerializer):
    """A job as its source last sent it; `updated_at` is the sender's, and tells a new message from an old one."""

    title = OptionalTextField(max_length=200)
    kind = code_field()
    urgency = OptionalTextField(max_length=20)
    needed_by = StrictDateField(required=False, allow_null=True)
    status = code_field()
    position = OptionalTextField(max_length=60)
    equipment = OptionalTextField(max_length=40)
    opened_at = PlausibleField(required=False, allow_null=True)
    closed_at = past_field()
    updated_at = PastField()
    failure = FailureSerializer(required=False, allow_null=True)
    parts_needed = serializers.ListField(
        child=PartNeededSerializer(), required=False, allow_null=True, max_length=MOST_LINES
    )
    parts_used = serializers.ListField(
        child=PartUsedSerializer(), required=False, allow_null=True, max_length=MOST_LINES
    )
    attributes = OpenMapField(required=False, allow_null=True)

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        failure = values.get("failure")
        if values.get("status") != WorkOrderStatus.CLOSED or failure is None or "failure" in faults:
            return {}
        if failure.get("removed_at") or values.get("closed_at") or "closed_at" in faults:
            return {}
        return {"failure": {"removed_at": ["Say when the unit came off: give removed_at or closed_at."]}}


class PartsUsedBody(BodySerializer):
    """All that an order used so far; a newer list takes the place of an older one."""

    parts_used = serializers.ListField(child=PartUsedSerializer(), max_length=MOST_LINES)
    updated_at = PastField()


class MeterReadingBody(BodySerializer):
    """Running hours as a meter showed them. `is_reset` marks the first reading of a new meter."""

    position = StrictCharField(max_length=60)
    at = PastField()
    hours = NumberField(max_digits=12, decimal_places=1, min_value=0)
    is_reset = StrictBooleanField(required=False)
    retracted = StrictBooleanField(required=False, help_text="The reading was a mistake and counts no more.")
    updated_at = PastField()


BODIES: dict[str, type[BodySerializer]] = {
    "work_order": WorkOrderBody,
    "parts_used": PartsUsedBody,
    "meter_reading": MeterReadingBody,
}


def valid_body(kind: str, data: Any) -> dict[str, Any]:
    """The message as it is kept: understood, in one spelling of times and numbers, and without what was not given."""
    serializer = BODIES[kind](data=data)
    serializer.is_valid(raise_exception=True)
    values = dict(serializer.validated_data)
    attributes = values.pop("attributes", None)
    body: dict[str, Any] = stored_value(values)
    return body | ({"attributes": attributes} if attributes else {})


def stored_value(value: Any) -> Any:
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, list):
        return [stored_value(one) for one in value]
    if isinstance(value, dict):
        return {name: stored_value(one) for name, one in value.items() if one is not None and one != ""}
    return value


def check_key(source: str, external_id: str) -> None:
    wrong = {}
    for name, value, longest in (("source", source, 40), ("external_id", external_id, 60)):
        if not value.strip() or len(value) > longest or not value.isprintable():
            wrong[name] = [f"{name} must have 1 to {longest} characters that can be seen."]
    if wrong:
        raise ValidationError(wrong)
