from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from drives.feed.quarantine import retry_waiting


class Command(BaseCommand):
    help = "Tries the messages of the work-order feed that wait; safe to run at any time."

    def handle(self, *args: Any, **options: Any) -> None:
        waited, still = retry_waiting(timezone.now())
        self.stdout.write(f"{waited} messages waited, {still} still do.")
