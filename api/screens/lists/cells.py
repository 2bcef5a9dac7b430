"""What a cell of a list shows, and what it is in a file."""

import re
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import DateTimeField
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from api.wire.declaration import WireRecord
from api.wording.recorded_reasons import recorded_reason

NUMBER = re.compile(r"-?[0-9]{1,15}(\.[0-9]{1,15})?")
DAY = re.compile(r"[0-9]{4}-[01][0-9]-[0-3][0-9]")
NUMBERS = frozenset(
    [
        "on_hand",
        "reserved",
        "available",
        "unit_cost",
        "teeth",
        "shaft_diameter_mm",
        "strands",
        "power_kw",
        "driver_speed_rpm",
        "pick_minutes",
        "call_out_minutes",
        "change",
        "balance_after",
        "quantity",
        "open_quantity",
        "received",
        "outstanding",
        "unit_price",
        "counted",
        "variance",
        "running_hours",
        "elongation_percent",
        "downtime_cost_per_hour",
        "hooked_teeth",
    ]
)
REASONS = frozenset({"reason"})


def labels_of(record: WireRecord, name: str) -> dict[str, str]:
    """Of the words that a column may hold."""
    model, field = record.model, None
    path = record.renamed.get(name, name)
    for part in path.split("__"):
        known = {one.name: one for one in model._meta.concrete_fields}
        if part not in known:
            return {}
        field = known[part]
        model = field.related_model or model
    return {str(value): str(label) for value, label in field.flatchoices} if field is not None else {}


def shown_value(value: Any) -> str:
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, list):
        return ", ".join(shown_value(one) for one in value)
    if isinstance(value, dict):
        return str(value.get("detail", ""))
    text = str(value)
    if DAY.fullmatch(text):
        return date_format(date.fromisoformat(text), "DATE_FORMAT")
    if "T" in text and (moment := _as_moment(text)):
        return date_format(timezone.localtime(moment), "DATETIME_FORMAT")
    return text


def _as_moment(text: str) -> datetime | None:
    try:
        return parse_datetime(text)
    except ValueError:
        return None


def in_own_words(name: str, value: Any) -> Any:
    """A reason that the service recorded by itself is said in the reader's language."""
    return recorded_reason(value) if name in REASONS and isinstance(value, str) else value


def file_value(name: str, value: Any, labels: dict[str, str]) -> Any:
    """As it is shown, but numbers, days and moments stay what they are; a moment in the zone of the page."""
    value = in_own_words(name, value)
    if isinstance(value, bool):
        return shown_value(value)
    if not isinstance(value, str):
        return shown_value(value) if isinstance(value, list | dict) else value
    if name in NUMBERS and NUMBER.fullmatch(value):
        return Decimal(value)
    if DAY.fullmatch(value):
        return date.fromisoformat(value)
    if "T" in value and (moment := _as_moment(value)):
        return timezone.localtime(moment)
    return labels.get(value, value)


def is_moment(record: WireRecord, name: str) -> bool:
    """Whether a column holds moments, which need their zone where no foot of a page says it."""
    known = {one.name: one for one in record.model._meta.concrete_fields}
    return isinstance(known.get(record.renamed.get(name, name)), DateTimeField)
