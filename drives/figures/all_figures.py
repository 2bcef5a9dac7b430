"""Every figure of a time and of some storerooms."""

from collections.abc import Callable, Collection
from datetime import datetime

from django.utils import timezone

from drives.figures.deliveries import emergency_buys, late_orders, wear_due
from drives.figures.figure import Figure
from drives.figures.jobs import jobs_not_ready
from drives.figures.shelves import dead_stock, excess, insurance
from drives.figures.stock_value import count_corrections, issued, misfits, stock_value, written_off
from drives.figures.stockouts import stockout_figures
from drives.figures.suppliers import wrong_deliveries
from inventory.progress import Progress, counted, stretches, unreported

Counted = dict[str, Callable[[], Figure]]


def figures(
    since: datetime,
    until: datetime,
    *,
    now: datetime,
    days_ahead: int,
    storerooms: Collection[int] | None = None,
    only: str = "",
    progress: Progress = unreported,
) -> tuple[Figure, ...]:
    """What `figures_of_time` counts, wear for so many days from now, all else as it is now.

    With `only`, nothing is counted that the figure of that name does not need; none is found where there is no such figure.
    """
    today = timezone.localdate(now)
    of_now: Counted = {
        "stock_value": lambda: stock_value(storerooms),
        "excess": lambda: excess(today, storerooms),
        "dead_stock": lambda: dead_stock(today, storerooms),
        "insurance": lambda: insurance(today, storerooms),
        "late_orders": lambda: late_orders(today, storerooms),
        "wear_due": lambda: wear_due(now, days=days_ahead),
        "jobs_not_ready": lambda: jobs_not_ready(storerooms),
    }
    every = _of_time(since, until, storerooms) | of_now
    if only in every:
        return (every[only](),)
    if only:
        of_jobs = stockout_figures(since, until, storerooms)
        return tuple(figure for figure in of_jobs if figure.name == only)
    of_time, now_too = stretches(progress, 2, 1)
    found = figures_of_time(since, until, storerooms, of_time)
    return (*found, *(count() for count in counted(list(of_now.values()), now_too)))


def figures_of_time(
    since: datetime,
    until: datetime,
    storerooms: Collection[int] | None = None,
    progress: Progress = unreported,
) -> tuple[Figure, ...]:
    """Those from `since` up to `until`, which can be held against another time."""
    of_jobs, others = stretches(progress, 1, 1)
    found = stockout_figures(since, until, storerooms)
    of_jobs(1, 1)
    every = list(_of_time(since, until, storerooms).values())
    return (*found, *(count() for count in counted(every, others)))


def _of_time(since: datetime, until: datetime, storerooms: Collection[int] | None) -> Counted:
    span = (since, until, storerooms)
    return {
        "emergency_buys": lambda: emergency_buys(*span),
        "wrong_deliveries": lambda: wrong_deliveries(*span),
        "false_fits": lambda: misfits(*span),
        "count_corrections": lambda: count_corrections(*span),
        "issued": lambda: issued(*span),
        "written_off": lambda: written_off(*span),
    }
