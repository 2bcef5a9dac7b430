"""`manage.py sequence_events`: gives new events their sequence numbers."""

from typing import Any

from django.core.management.base import BaseCommand

from inventory.plumbing.events import sequence_events


class Command(BaseCommand):
    help = "Gives new events their sequence numbers, in the order in which they became visible. Reading events does it too."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(f"Events numbered: {sequence_events()}.")
