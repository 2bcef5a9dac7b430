"""`manage.py purge_events`: forgets events that are older than is kept."""

from datetime import timedelta
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from api.webhooks.retention import purge_events
from inventory.plumbing.leases import database_now


class Command(BaseCommand):
    help = (
        "Deletes events older than EVENTS_KEPT_DAYS with their deliveries. The newest event of each aggregate stays, "
        "so that versions and numbers go on, and so does what is still on its way to a webhook."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        before = database_now() - timedelta(days=settings.EVENTS_KEPT_DAYS)
        self.stdout.write(f"{purge_events(before)} events were deleted.")
