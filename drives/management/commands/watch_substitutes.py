"""`manage.py watch_substitutes`: events for temporary substitutes whose time ends soon or has ended. Run it every few hours."""

import socket
from typing import Any

from django.core.management.base import BaseCommand

from drives.substitutes.approvals import announce_ends
from inventory.plumbing.leases import lease

LASTS_SECONDS = 300


class Command(BaseCommand):
    help = "Records an event three days before the time of a temporary substitute ends, and one when it is overdue."

    def handle(self, *args: Any, **options: Any) -> None:
        with lease("watch_substitutes", socket.gethostname(), LASTS_SECONDS) as held:
            if held is None:
                self.stdout.write("Another run is under way: nothing was done.")
                return
            expiring, overdue = announce_ends()
        self.stdout.write(f"{expiring} end soon, {overdue} are overdue.")
