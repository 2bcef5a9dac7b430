"""`manage.py find_duplicates`: items that are one part under several numbers, and what that costs; the scheduler runs it every night."""

import socket
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from drives.duplicates.groups import find_duplicates
from inventory.plumbing.leases import lease

LASTS_SECONDS = 3600


class Command(BaseCommand):
    help = "Finds items that are one part under several numbers, and what holding them apart costs."

    def handle(self, *args: Any, **options: Any) -> None:
        with lease("find_duplicates", socket.gethostname(), LASTS_SECONDS) as held:
            if held is None:
                self.stdout.write("Another run is under way: nothing was done.")
                return
            number = find_duplicates(timezone.now())
        self.stdout.write(f"{number} groups of duplicates.")
