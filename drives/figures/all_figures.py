"""Every figure of a time and of some storerooms."""

from collections.abc import Callable, Collection
from datetime import datetime

from drives.figures.deliveries import emergency_buys, late_orders, wear_due
from drives.figures.figure import Figure
from drives.figures.jobs import jobs_not_ready
from drives.figures.shelves import dead_stock, excess, insurance
from drives.figures.stockouts import stockout_figures
from drives.figures.suppliers import wrong_deliveries


def figures(
    since: datetime,
    until: datetime,
    *,
    now: datetime,
    days_ahead: int,
    storerooms: Collection[int] | None = None,
    only: str = "",
) -> tuple[Figure, ...]:
    """`stockouts`, emergencies and wrong deliveries from `since` up to `until`, wear for so many days from now, all else as it is now.

    With `only`, nothing is counted that the figure of that name does not need; none is found where there is no such figure.
    """
    today = now.date()
    counted: dict[str, Callable[[], Figure]] = {
        "excess": lambda: excess(today, storerooms),
        "dead_stock": lambda: dead_stock(today, storerooms),
        "insurance": lambda: insurance(today, storerooms),
        "late_orders": lambda: late_orders(today, storerooms),
        "emergency_buys": lambda: emergency_buys(since, until, storerooms),
        "wrong_deliveries": lambda: wrong_deliveries(since, until, storerooms),
        "wear_due": lambda: wear_due(now, days=days_ahead),
        "jobs_not_ready": lambda: jobs_not_ready(storerooms),
    }
    if only in counted:
        return (counted[only](),)
    of_jobs = stockout_figures(since, until, storerooms)
    if only:
        return tuple(figure for figure in of_jobs if figure.name == only)
    return (*of_jobs, *(count() for count in counted.values()))
