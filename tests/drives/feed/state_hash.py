"""One hash over all that the feed brings about, by natural keys: equal histories give equal hashes."""

import hashlib
import json
from collections.abc import Iterable
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import QuerySet

from drives.models import (
    CodeWord,
    InboundMessage,
    Installation,
    MessageOutcome,
    MeterReading,
    Request,
    WorkOrder,
)
from inventory.models import StockLevel

PLACES = {"position": "position__tag", "equipment": "equipment__tag"}
NOT_CONTENT = {
    "id",
    "created_at",
    "updated_at",
    "source",
    "external_id",
    "source_updated_at",
    "ended",
    "begun",
}


def state_hash() -> str:
    """Balances, lives, requests that stand, orders, readings, what waits and which codes nobody has read."""
    text = json.dumps(state(), cls=DjangoJSONEncoder, sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()


def state() -> dict[str, list[Any]]:
    columns = [column.name for column in WorkOrder._meta.concrete_fields]
    order = [PLACES.get(name, name) for name in columns if name not in NOT_CONTENT]
    lives = [
        name for name in ("ended", "begun") for name in (f"{name}__position__tag", f"{name}__installed_at")
    ]
    return {
        "stock": rows(
            StockLevel.objects.not_empty(), "item__stock_number", "storeroom__code", "condition", "on_hand"
        ),
        "lives": rows(
            Installation.objects.all(),
            *(
                "position__tag",
                "item__stock_number",
                "installed_at",
                "installed_why",
                "removed_at",
                "ended_by",
            ),
            *("mechanism", "cause", "part", "running_hours", "age_basis", "work_order"),
        ),
        "requests": rows(
            Request.objects.standing(),
            *("at", "item__stock_number", "position__tag", "storeroom__code", "quantity", "result"),
            *("issued_item__stock_number", "is_planned", "work_order"),
        ),
        "orders": rows(WorkOrder.objects.all(), "source", "external_id", "source_updated_at", *order, *lives),
        "readings": rows(
            MeterReading.objects.all(),
            *("source", "external_id", "position__tag", "at", "hours", "is_reset", "retracted_at"),
        ),
        "waiting": rows(
            InboundMessage.objects.filter(outcome=MessageOutcome.WAITING),
            *("kind", "source", "external_id", "version_at", "body_hash"),
        ),
        "codes": rows(CodeWord.objects.all(), "source", "field", "code", "word", "seen"),
    }


def rows(found: "QuerySet[Any]", *names: str) -> list[Any]:
    return sorted(plain(found.values_list(*names)))


def plain(found: Iterable[Any]) -> list[str]:
    return [json.dumps(list(row), cls=DjangoJSONEncoder, sort_keys=True) for row in found]
