"""What lies in a bin, hangs on a supply order or is done under a work order, found by their codes."""

from collections.abc import Sequence
from typing import Any

from django.db.models import Model, QuerySet
from django.utils.translation import gettext_lazy as _

from api.edge.scope import visible_to_caller
from api.screens.search_hits import ITEM_SOURCE, MOST_COUNTED, MOST_SHOWN, Hit
from drives.models import WorkOrder
from inventory.models import Bin, Item, StockEntry, StockLevel, SupplyOrder
from inventory.models.access_scope import in_storerooms
from inventory.models.text_index import among, normal
from inventory.plumbing.text_search import rows_with_words

SHORTEST_CODE = 3
"""And it has a digit."""


def those_that_go_on(hits: Sequence[Hit]) -> list[Hit]:
    """The items under which the old numbers among the hits go on."""
    numbers = [hit.name for hit in hits if hit.kind == "item"]
    merged = (
        Item.objects.filter(stock_number__in=numbers, merged_into__isnull=False)
        if numbers
        else Item.objects.none()
    )
    words = _("now for")
    return [
        Hit("item", number, f"{words} {old}: {described}")
        for old, number, described in merged.order_by("stock_number").values_list(
            "stock_number", "merged_into__stock_number", "merged_into__description"
        )
    ]


def by_code(key: str) -> list[Hit]:
    """What lies in the bin, is on the supply order, or where the work order is done, that is called so."""
    if len(key) < SHORTEST_CODE or not any(letter.isdigit() for letter in key):
        return []
    found: list[Hit] = []
    if bins := rows_called(Bin, "code", key):
        rows = Item.objects.filter(pk__in=StockLevel.objects.filter(bin__in=bins).values("item"))
        columns = ("stock_number", "description", "maker_part_number", "maker")
        found += [ITEM_SOURCE.hit(*row) for row in rows.order_by("stock_number").values_list(*columns)]
    if orders := rows_called(SupplyOrder, "external_id", key):
        found += _of_orders(SupplyOrder.objects.filter(pk__in=orders))
    if jobs := rows_called(WorkOrder, "external_id", key):
        found += _of_jobs(WorkOrder.objects.filter(pk__in=jobs))
    return list(dict.fromkeys(found))


def _of_orders(orders: QuerySet[SupplyOrder]) -> list[Hit]:
    """The check of what comes for the order; of one that is settled, its item."""
    words, found = _("supply order"), []
    for order in orders.select_related("item").order_by("item__stock_number", "pk"):
        item = order.item
        if order.outstanding:
            described = f"{item.stock_number}: {item.description}"
            found.append(Hit("delivery", order.external_id, described, key=order.pk))
        else:
            found.append(Hit("item", item.stock_number, f"{words} {order.external_id}: {item.description}"))
    return found


def _of_jobs(jobs: QuerySet[WorkOrder]) -> list[Hit]:
    """Where the work is done; without a position, what was booked for it; with neither, the work order by itself."""
    words, found = _("work order"), []
    for job in jobs.select_related("position").order_by("position__tag", "external_id"):
        described = f"{words} {job.external_id}: {job.title}"
        if job.position:
            found.append(Hit("position", job.position.tag, described))
            continue
        booked = in_storerooms(StockEntry.objects.of_work_order(job.external_id)).order_by(
            "item__stock_number"
        )
        numbers = booked.values_list("item__stock_number", flat=True).distinct()[:MOST_SHOWN]
        items = [Hit("item", number, described) for number in numbers]
        found += items or [Hit("work_order", job.external_id, f"{job.title} ({_('no position recorded')})")]
    return found


def rows_called(model: type[Model], column: str, key: str) -> list[Any]:
    """Keys of the rows whose column is this, however it is spaced, of those that the caller may see."""
    keys = rows_with_words(model, (column,), [[key]], MOST_COUNTED)
    if not keys:
        return []
    rows = visible_to_caller(model._default_manager.filter(among("pk", keys)))
    return [pk for pk, name in rows.order_by().values_list("pk", column) if normal(name) == key]
