"""Lists that are too long for the answer of their job: stored some lines together, so that a page reads few rows."""

from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any, TypeVar

from django.db.models import Q
from django.utils import timezone

from api.models import AnswerLines, BackgroundJob
from api.operations.jobs.kinds import JobInHand
from inventory.plumbing.many_rows import Columns, insert_columns
from inventory.plumbing.stored_form import from_stored, to_stored

LINES_TOGETHER = 100
KEPT_FOR = timedelta(days=1)
"""After that the answer is much too old, and only its first lines are left."""

Line = TypeVar("Line")


def store_lists(job: JobInHand, lists: Mapping[str, Sequence[Any]]) -> None:
    """In place of those of an attempt that broke off, of older answers to the same question, and of any that is a day old."""
    of_kind = BackgroundJob.objects.filter(kind=job.row.kind).exclude(pk=job.row.pk)
    older = of_kind.filter(
        Q(key=job.row.key, answer__isnull=True) | Q(finished_at__lt=timezone.now() - KEPT_FOR)
    )
    AnswerLines.objects.filter(Q(job=job.row.pk) | Q(job__in=older.values("pk"))).delete()
    starts = [
        (name, start) for name, every in lists.items() for start in range(0, len(every), LINES_TOGETHER)
    ]
    together = [lists[name][start : start + LINES_TOGETHER] for name, start in starts]
    if together:
        columns: Columns = {
            "job_id": [job.row.pk] * len(together),
            "list": [name for name, _ in starts],
            "last": [start + len(lines) for (_, start), lines in zip(starts, together, strict=True)],
            "lines": [to_stored(lines) for lines in together],
        }
        insert_columns(AnswerLines, columns)


def lines_between(job: int, name: str, form: type[Line], after: int, last: int) -> list[Line]:
    """Behind one place of the list, up to another."""
    rows = AnswerLines.objects.filter(
        job=job, list=name, last__gt=after, last__lt=last + LINES_TOGETHER
    ).order_by("last")
    return [
        from_stored(form, line)
        for end, lines in rows.values_list("last", "lines")
        for place, line in enumerate(lines, start=end - len(lines) + 1)
        if after < place <= last
    ]
