"""`manage.py purge`: deletes records of the service itself that are older than they are kept."""

from datetime import timedelta
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.utils import timezone

from api.edge import idempotency, logins
from api.edge.shared_counts import purge_counts
from api.exchange.set_runs import purge_sets
from api.operations.jobs import runner
from api.webhooks.retention import purge_events
from inventory.plumbing.leases import database_now

FILES_KEPT = timedelta(days=7)
"""Of an import that was looked through, and that nobody went on with."""


class Command(BaseCommand):
    help = (
        "Deletes events older than EVENTS_KEPT_DAYS with their deliveries (the newest event of each aggregate stays, and "
        f"so does what a webhook has not received yet), idempotency keys older than {idempotency.KEPT_DAYS} days, login "
        f"attempts older than {logins.KEPT.days} days, counts of requests of past hours, background jobs that ended more than {runner.KEPT.days} days ago, and imports that nobody went on with within a week, with their files. "
        "The scheduler runs it every night."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        deleted = {
            "events": purge_events(database_now() - timedelta(days=settings.EVENTS_KEPT_DAYS)),
            "idempotency keys": idempotency.purge_keys(now),
            "login attempts": logins.purge_attempts(now),
            "counts of requests": purge_counts(),
            "background jobs": runner.purge_jobs(now),
            "imports": purge_sets(now - FILES_KEPT),
        }
        self.stdout.write("Deleted: " + ", ".join(f"{count} {name}" for name, count in deleted.items()) + ".")
