"""Puts a shelf on the list of counts, where it is once, however often it is requested."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db import transaction

from inventory.models import CountCause, CountTask, Item, Storeroom

PRESSING = (CountCause.NOT_THERE, CountCause.FOUND, CountCause.ASKED)
"""Causes that go before a planned count."""


def local_day(storeroom: Storeroom, moment: datetime) -> date:
    """The day that it is at the storeroom."""
    return moment.astimezone(ZoneInfo(storeroom.timezone)).date()


@transaction.atomic
def request_count(
    item: Item, storeroom: Storeroom, condition: str, *, cause: str, at: datetime, worth: float = 0.0
) -> CountTask:
    """The open count of that shelf: a new one due today, or the existing one brought forward."""
    today = local_day(storeroom, at)
    new = CountTask(
        item=item, storeroom=storeroom, condition=condition, cause=cause, due_on=today, worth=worth
    )
    task = None
    # The insert is ignored while an open count exists; that one may be closed before it is locked, so it is tried again.
    while task is None:
        CountTask.objects.bulk_create([new], ignore_conflicts=True)
        task = _lock_existing(new)
    if cause in PRESSING and (task.cause not in PRESSING or task.due_on > today):
        task.cause, task.due_on = cause, min(task.due_on, today)
        task.save(update_fields=["cause", "due_on", "updated_at"])
    return task


def _lock_existing(new: CountTask) -> CountTask | None:
    same = CountTask.objects.open().filter(item=new.item, storeroom=new.storeroom, condition=new.condition)
    return same.select_for_update().first()
