from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from api.edge import logins


class Command(BaseCommand):
    help = f"Forget tries to log in that are older than {logins.KEPT.days} days. May be run as often as one likes."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(f"{logins.purge_attempts(timezone.now())} tries forgotten.")
