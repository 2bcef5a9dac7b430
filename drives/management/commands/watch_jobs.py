"""`manage.py watch_jobs`: events for jobs that fell short of a part, or have all their parts again. Run it every few minutes."""

import socket
from typing import Any

from django.core.management.base import BaseCommand

from drives.substitutes.job_watch import announce_readiness
from inventory.plumbing.leases import lease

LASTS_SECONDS = 300


class Command(BaseCommand):
    help = (
        "Records an event when an open job that was ready falls short of a part, and when it is ready again."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        with lease("watch_jobs", socket.gethostname(), LASTS_SECONDS) as held:
            if held is None:
                self.stdout.write("Another run is under way: nothing was done.")
                return
            short, ready = announce_readiness()
        self.stdout.write(f"{short} fell short, {ready} are ready again.")
