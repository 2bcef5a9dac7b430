"""Puts a shelf on the list of counts; it stands there once, however often it is asked for."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.db import transaction

from inventory.models import CountCause, CountTask, Item, Storeroom

PRESSING = (CountCause.NOT_THERE, CountCause.FOUND, CountCause.ASKED)
"""Causes that go before a count that was only planned."""


def local_day(storeroom: Storeroom, moment: datetime) -> date:
    """The day that it is at the storeroom."""
    return moment.astimezone(ZoneInfo(storeroom.timezone)).date()


@transaction.atomic
def ask_for_count(
    item: Item, storeroom: Storeroom, condition: str, *, cause: str, at: datetime, worth: float = 0.0
) -> CountTask:
    """The open count of that shelf: a new one due today, or the one that stands, brought forward."""
    today = local_day(storeroom, at)
    new = CountTask(
        item=item, storeroom=storeroom, condition=condition, cause=cause, due_on=today, worth=worth
    )
    task = None
    while task is None:  # Somebody may have counted the one that stood, just now.
        CountTask.objects.bulk_create([new], ignore_conflicts=True)
        task = _standing(new)
    if cause in PRESSING and (task.cause not in PRESSING or task.due_on > today):
        task.cause, task.due_on = cause, min(task.due_on, today)
        task.save(update_fields=["cause", "due_on", "updated_at"])
    return task


def _standing(new: CountTask) -> CountTask | None:
    same = CountTask.objects.open().filter(item=new.item, storeroom=new.storeroom, condition=new.condition)
    return same.select_for_update().first()
