"""Merges as the edge carries them out: within the caller's scope, and in the change log."""

from collections.abc import Iterator
from contextlib import contextmanager

from rest_framework.exceptions import PermissionDenied

from api.edge.change_log import logging_changes
from api.edge.scope import OUTSIDE_SCOPE
from drives.duplicates.merging import merge
from drives.duplicates.undoing import undo
from inventory.models import Item, Merge, StockLevel, StockPolicy, SupplyOrder
from inventory.models.access_scope import current_scope
from inventory.stores.ledger.movement import Who


def merge_numbers(
    item: Item, into: Item, *, by: Who, reason: str, approved_by: str = "", approval_reason: str = ""
) -> Merge:
    _refuse_outside_scope(item, into)
    said = {"approved_by": approved_by, "approval_reason": approval_reason}
    with _logging_pair(item, into):
        return merge(item, into, by=by, reason=reason, **said)


def undo_merge(made: Merge, *, by: Who, reason: str) -> Merge:
    _refuse_outside_scope(made.item, made.into)
    with _logging_pair(made.item, made.into):
        return undo(made, by=by, reason=reason)


def _refuse_outside_scope(*items: Item) -> None:
    """Who sees a part of what a merge moves does not merge."""
    seen = current_scope().storerooms
    if seen is None:
        return
    for rows in (StockLevel.objects.all(), StockPolicy.objects.all(), SupplyOrder.objects.open()):
        if rows.filter(item__in=items).exclude(storeroom__in=seen).exists():
            raise PermissionDenied(OUTSIDE_SCOPE)


@contextmanager
def _logging_pair(*items: Item) -> Iterator[None]:
    keys = [item.pk for item in items]
    policies = StockPolicy.objects.filter(item__in=keys)
    with logging_changes(Item.objects.filter(pk__in=keys)), logging_changes(policies):
        yield
