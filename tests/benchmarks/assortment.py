"""Variety, orphans and holes of the whole group: CPU time for 100,000 rows of cover, which must not grow faster than the rows."""

from collections.abc import Callable, Iterator
from time import process_time

from django.utils import timezone

from drives.assortment.orphans import orphans_and_holes
from drives.assortment.variety import variety
from drives.demand.cover_refresh import refresh_cover
from drives.models import Cover
from inventory.models import Item
from tests.benchmarks.measures import Measure

MOST_SECONDS = 30.0
"""In the background: as long as a page may wait for its job."""


def measures() -> Iterator[Measure]:
    """Variety is bound by rows of cover, orphans by items; where no run was made the cover is calculated first."""
    if not Cover.objects.exists():
        refresh_cover()
    rows, items, today = Cover.objects.count(), Item.objects.count(), timezone.localdate()
    found = variety(timezone.now(), today, worst_grade="with_work")
    assert found.groups
    assert 0 <= found.lower_bound <= found.cost <= found.cost_today
    yield Measure(
        "variety, for 100,000 rows of cover, CPU",
        "s",
        seconds(lambda: variety(timezone.now(), today, worst_grade="with_work")) * 100_000 / rows,
        goal=MOST_SECONDS,
        judged="ours",
    )
    yield Measure("variety, gap to the bound", "share", found.gap, goal=0.01, judged="ours")
    yield Measure(
        "orphans and holes, for 100,000 items, CPU",
        "s",
        seconds(lambda: orphans_and_holes(today, currency="EUR")) * 100_000 / items,
        goal=MOST_SECONDS,
        judged="ours",
    )


def seconds(call: Callable[[], object]) -> float:
    began = process_time()
    call()
    return process_time() - began
