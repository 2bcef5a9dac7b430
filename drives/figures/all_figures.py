"""Every figure of a time and of some storerooms."""

from collections.abc import Collection
from datetime import datetime

from drives.figures.deliveries import emergency_buys, late_orders, wear_due
from drives.figures.figure import Figure
from drives.figures.jobs import jobs_not_ready
from drives.figures.shelves import dead_stock, excess, insurance
from drives.figures.stockouts import stockout_figures


def all_figures(
    since: datetime,
    until: datetime,
    *,
    now: datetime,
    days_ahead: int,
    storerooms: Collection[int] | None = None,
) -> tuple[Figure, ...]:
    """`stockouts` and emergencies from `since` up to `until`, wear for so many days from now, all else as it is now."""
    today = now.date()
    return (
        *stockout_figures(since, until, storerooms),
        excess(today, storerooms),
        dead_stock(today, storerooms),
        insurance(today, storerooms),
        late_orders(today, storerooms),
        emergency_buys(since, until, storerooms),
        wear_due(now, days=days_ahead),
        jobs_not_ready(storerooms),
    )
