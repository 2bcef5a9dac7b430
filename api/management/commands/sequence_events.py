"""`manage.py sequence_events`: numbers events that were committed since."""

from typing import Any

from django.core.management.base import BaseCommand

from inventory.plumbing.events import sequence_events


class Command(BaseCommand):
    help = (
        "Numbers the events that wait, in the order in which they became visible. Reading events does it too."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(f"{sequence_events()} events were numbered.")
