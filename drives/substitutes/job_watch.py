"""Tells the planner when a job that was ready falls short, and when it is ready again."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone

from drives.models import NeededPart, WorkOrder, WorkOrderStatus
from drives.substitutes.job_stock import promises_of
from inventory.models import Item
from inventory.planning.terms import load_terms
from inventory.plumbing.events import record

ITEMS_AT_ONCE = 200
JOBS_AT_ONCE = 200
PLACES = ("position__drive__equipment__area__plant", "equipment__area__plant")


def announce_readiness(now: datetime | None = None) -> tuple[int, int]:
    """An event for each open job that fell short or became ready since it was last looked at; the numbers of both.

    A job that is seen for the first time is only remembered: nobody was told that it was ready.
    """
    moment = now or timezone.now()
    short = short_parts()
    ids = list(jobs_with_parts().values_list("pk", flat=True))
    fallen = ready = 0
    for start in range(0, len(ids), JOBS_AT_ONCE):
        counts = _announce(ids[start : start + JOBS_AT_ONCE], short, moment)
        fallen, ready = fallen + counts[0], ready + counts[1]
    return fallen, ready


def jobs_with_parts() -> QuerySet[WorkOrder]:
    """The open jobs that need parts, with their places."""
    needed = NeededPart.objects.filter(work_order=OuterRef("pk"))
    open_jobs = WorkOrder.objects.filter(Exists(needed), status=WorkOrderStatus.OPEN)
    return open_jobs.select_related(*PLACES).order_by("pk")


def short_parts() -> dict[int, list[str]]:
    """By open job, the stock numbers that it lacks; a job that lacks none is not in it."""
    joints = load_terms().chain_joints
    needed = NeededPart.objects.filter(work_order__status=WorkOrderStatus.OPEN).order_by(
        "stock_number", "work_order"
    )
    jobs_by_number: dict[str, list[int]] = defaultdict(list)
    for number, job in needed.values_list("stock_number", "work_order"):
        jobs_by_number[number].append(job)
    known = list(
        Item.objects.filter(stock_number__in=needed.order_by().values("stock_number")).order_by(
            "stock_number"
        )
    )
    short: dict[int, list[str]] = defaultdict(list)
    for number in jobs_by_number.keys() - {item.stock_number for item in known}:
        for job in jobs_by_number[number]:
            short[job].append(number)
    for start in range(0, len(known), ITEMS_AT_ONCE):
        some = known[start : start + ITEMS_AT_ONCE]
        promises = promises_of(some, chain_joints=joints)
        for item in some:
            for job, promise in promises[item.pk].by_job.items():
                if promise.short:
                    short[job].append(item.stock_number)
    return short


@transaction.atomic
def _announce(ids: Sequence[int], short: Mapping[int, list[str]], now: datetime) -> tuple[int, int]:
    rows = WorkOrder.objects.select_for_update(of=("self",)).filter(pk__in=ids, status=WorkOrderStatus.OPEN)
    counts = [0, 0]
    for job in rows.select_related(*PLACES).order_by("pk"):
        is_ready = job.pk not in short
        if job.was_ready == is_ready:
            continue
        if job.was_ready is not None:
            _record(job, sorted(set(short.get(job.pk, ()))), now)
            counts[is_ready] += 1
        WorkOrder.objects.filter(pk=job.pk).update(was_ready=is_ready)
    return counts[0], counts[1]


def _record(job: WorkOrder, missing: list[str], now: datetime) -> None:
    record(
        "work_order.short" if missing else "work_order.ready",
        aggregate=f"work-order/{job.source}/{job.external_id}",
        occurred_at=now,
        plant=job.plant.code if job.plant else "",
        data={
            "source": job.source,
            "external_id": job.external_id,
            "needed_by": job.needed_by,
            "position": job.position.tag if job.position else None,
            "missing": missing,
        },
    )
