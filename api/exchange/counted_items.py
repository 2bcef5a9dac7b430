"""A count with what was measured beside it: both or neither, with the change log."""

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils import timezone

from api.edge.change_log import logging_changes, logging_save
from inventory.catalogue.described_items import locked_item
from inventory.catalogue.measured_attributes import (
    MEASURED,
    checked_measurements,
    shown_value,
    write_measurements,
)
from inventory.facts import Refusal
from inventory.models import CountTask, Specification, StockEntry
from inventory.stores.counting import counts
from inventory.stores.ledger.movement import Who, name_of


class WrongMeasurement(Refusal):
    """`field` is the attribute."""


@transaction.atomic
def count_and_measure(
    task: CountTask, counted: int, *, measured: Mapping[str, Any], by: Who, **given: Any
) -> StockEntry:
    """Book the count, and write what was measured into the specification of the item."""
    result = counts.record_count(task, counted, by=by, **given)
    done = result.task
    if not measured:
        return result.booked.entry
    item = locked_item(task.item_id)
    try:
        draft = checked_measurements(item.specification, measured)
    except Refusal as refusal:
        raise WrongMeasurement(refusal.fact, field=refusal.field) from refusal
    with logging_save(item), logging_changes(Specification.objects.filter(pk=draft.pk)):
        write_measurements(item, draft, measured, by=name_of(by), on=timezone.localdate())
    done.measured = {
        name: {"value": shown_value(value), "basis": MEASURED} for name, value in measured.items()
    }
    done.save(update_fields=["measured", "updated_at"])
    return result.booked.entry
