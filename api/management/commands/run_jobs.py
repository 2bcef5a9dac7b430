"""`manage.py run_jobs`: carries out the background jobs that are queued."""

import os
import socket
from typing import Any

from django.core.management.base import BaseCommand

from api.operations.jobs.runner import kinds_with_jobs, run_jobs


class Command(BaseCommand):
    help = (
        "Carries out the background jobs that are queued, then ends. The scheduler does it all the time; use this where "
        "none is running. Jobs that another process works on are left to it."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        holder = f"{socket.gethostname()}:{os.getpid()}"
        count = sum(run_jobs(kind, holder) for kind in kinds_with_jobs())
        self.stdout.write(f"Jobs carried out: {count}.")
