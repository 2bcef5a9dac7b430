"""`manage.py follow_record`: advice and demand follow what was recorded since the last stocking run."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from drives.demand.follow_record import follow_record
from inventory.models import StockingRun


class Command(BaseCommand):
    help = (
        "Calculates again what requests, issues and removals change that were recorded since the last stocking run. "
        "What concerns more than a few parts waits for the next run."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        count, run = follow_record(timezone.now()), StockingRun.objects.first()
        waits = " Some of what was recorded waits for the next stocking run." if run and run.is_behind else ""
        self.stdout.write(f"Parts in storerooms calculated again: {count}.{waits}")
