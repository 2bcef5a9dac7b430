"""What the whole reorder list comes to, calculated by a job: a page reads the lines that it shows, and the sums of all."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from django.http import HttpRequest
from django.utils import timezone
from rest_framework.request import Request

from api.operations.jobs.calculations import declare_calculation
from api.operations.jobs.queue import requester_of
from inventory.planning.reorder_list import ReorderLine, reorder_lines
from inventory.planning.reorder_sums import ReorderSum, reorder_sums
from inventory.progress import Progress, unreported


@dataclass(frozen=True)
class ReorderTotals:
    rooms: tuple[ReorderSum, ...]


@dataclass(frozen=True)
class TotalsSeen:
    """None while they are calculated for the first time."""

    as_of: datetime | None
    rooms: tuple[ReorderSum, ...] | None


def calculate_totals(progress: Progress = unreported) -> ReorderTotals:
    lines = reorder_lines(today=timezone.localdate())
    progress(1, 2)
    return ReorderTotals(reorder_sums(lines))


REORDER_TOTALS = declare_calculation(
    "reorder_totals", ReorderTotals, calculate_totals, usual_seconds=5.0, address="reorder-list"
)


def totals_of(
    request: Request | HttpRequest, storeroom: str, whole: Collection[ReorderLine] | None
) -> TotalsSeen:
    """Of the lines themselves where they are the whole list; else as they were calculated last, which may be being renewed."""
    if whole is not None:
        return TotalsSeen(timezone.now(), reorder_sums(whole))
    answer = REORDER_TOTALS.find({}, by=requester_of(request)).answer
    if answer is None:
        return TotalsSeen(None, None)
    rooms = tuple(one for one in answer.found.rooms if storeroom in ("", one.storeroom))
    return TotalsSeen(answer.as_of, rooms)
