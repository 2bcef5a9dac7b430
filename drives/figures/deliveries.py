"""Orders that are late, orders that were emergencies, and wear that calls for an order."""

from collections.abc import Collection
from datetime import date, datetime, timedelta

from django.utils import timezone

from drives.figures.figure import Figure, FigureRow, valued
from drives.lessons.wear_notice import wear_limit_days
from drives.models import Position
from inventory.catalogue.plant_practice import current_demand_settings
from inventory.facts import Fact, fact
from inventory.models import SupplyOrder, SupplyStatus
from inventory.models.access_scope import in_plants


def late_orders(today: date, storerooms: Collection[int] | None = None) -> Figure:
    """Open orders whose promised day has passed; one query."""
    orders = SupplyOrder.objects.open().select_related("item", "storeroom")
    if storerooms is not None:
        orders = orders.filter(storeroom_id__in=storerooms)
    every = [order for order in orders if order.outstanding]
    rows = [
        _row(
            order,
            fact("order_late", days=(today - order.promised_on).days),
            order.outstanding,
            order.promised_on,
        )
        for order in every
        if order.promised_on is not None and order.promised_on < today
    ]
    return valued(fact("figure_late_orders"), rows, of=len(every))


def emergency_buys(since: datetime, until: datetime, storerooms: Collection[int] | None = None) -> Figure:
    """Emergency orders of the time, out of all orders of that time; one query."""
    orders = SupplyOrder.objects.filter(ordered_at__gte=since, ordered_at__lt=until).exclude(
        status=SupplyStatus.CANCELLED
    )
    if storerooms is not None:
        orders = orders.filter(storeroom_id__in=storerooms)
    every = list(orders.select_related("item", "storeroom"))
    rows = [
        _row(order, fact("emergency_order"), order.quantity, timezone.localdate(order.ordered_at))
        for order in every
        if order.emergency
    ]
    return valued(fact("figure_emergency_buys"), rows, of=len(every))


def wear_due(now: datetime, *, days: int) -> Figure:
    """Positions whose chain reaches its wear limit within so many days, the earliest first; five queries."""
    last = timezone.localdate(now) + timedelta(days=days)
    due = {pk: day for pk, day in wear_limit_days(now, current_demand_settings()).items() if day <= last}
    positions = in_plants(
        Position.objects.filter(drive__in=due).select_related("drive"), "drive__equipment__area__plant"
    )
    rows = [
        FigureRow(
            reasons=(fact("wear_limit_due"),),
            position=row.tag,
            drive=row.drive.tag,
            on=due[row.drive_id],
        )
        for row in positions
        if row.is_in_use_on(timezone.localdate(now))
    ]
    rows.sort(key=lambda row: (row.on or last, row.position))
    return Figure(
        name="wear_due", meaning=fact("figure_wear_due", days=days), count=len(rows), rows=tuple(rows)
    )


def _row(order: SupplyOrder, reason: Fact, pieces: int, on: date) -> FigureRow:
    price = order.unit_price if order.unit_price is not None else order.item.unit_cost
    currency = order.currency if order.unit_price is not None else order.item.currency
    return FigureRow(
        reasons=(reason,),
        item=order.item.stock_number,
        storeroom=order.storeroom.code,
        work_order=order.external_id,
        pieces=pieces,
        value=None if price is None else price * pieces,
        currency=currency,
        on=on,
    )
