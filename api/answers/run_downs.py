"""Items marked to be run down, as the edge does it: in the change log."""

from collections.abc import Collection

from django.db import transaction

from api.edge.change_log import logging_changes
from drives.assortment.running_down import run_down, undo_run_down
from inventory.models import Item, RunDown


def mark_run_down(items: Collection[int], *, by: str, reason: str) -> list[RunDown]:
    with transaction.atomic(), logging_changes(Item.objects.filter(pk__in=items)):
        return run_down(items, by=by, reason=reason)


def undo_mark(key: int, *, by: str, reason: str) -> RunDown:
    with transaction.atomic(), logging_changes(Item.objects.filter(run_downs=key)):
        return undo_run_down(key, by=by, reason=reason)
