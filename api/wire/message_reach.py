"""What a caller with limits may send about jobs and meters: it neither names nor overwrites what it does not see.

Such a message does not wait: it would be applied without limits once the place is recorded, and a place that is recorded
elsewhere would be told from one that is not.
"""

from collections.abc import Mapping
from typing import Any

from rest_framework.exceptions import ValidationError

from api.edge.scope import is_hidden, visible_to_caller
from api.wording.sentences import sentence
from drives.models import Equipment, MeterReading, Position, WorkOrder
from inventory.facts import fact
from inventory.models import Storeroom
from inventory.models.access_scope import current_scope

METER_READING = "meter_reading"


def is_about_hidden(kind: str, source: str, external_id: str) -> bool:
    """Whether a record of that number stands where the caller does not see it."""
    model = MeterReading if kind == METER_READING else WorkOrder
    return is_hidden(model._default_manager.filter(source=source, external_id=external_id))


def refuse_places_out_of_reach(body: Mapping[str, Any]) -> None:
    if current_scope().is_whole:
        return
    wrong = {}
    for name, rows in (("position", Position.objects.all()), ("equipment", Equipment.objects.all())):
        tag = body.get(name)
        if tag and not visible_to_caller(rows.filter(tag=tag)).exists():
            wrong[name] = [absent(name, tag)]
    for name in ("parts_used", "parts_needed"):
        asked = {line["storeroom"] for line in body.get(name) or [] if line.get("storeroom")}
        seen = visible_to_caller(Storeroom.objects.filter(code__in=asked))
        if unseen := sorted(asked - set(seen.values_list("code", flat=True))):
            wrong[name] = [absent("storeroom", unseen[0])]
    if wrong:
        raise ValidationError(wrong)


def absent(kind: str, name: str) -> str:
    return sentence(fact("no_such_record", kind=kind, name=name))
