"""`manage.py watch_substitutes`: tells of substitutes whose time ends soon or has ended. To be run every few hours."""

import socket
from typing import Any

from django.core.management.base import BaseCommand

from drives.substitutes.approvals import watch
from inventory.plumbing.leases import lease

LASTS_SECONDS = 300


class Command(BaseCommand):
    help = "Tells once of each temporary substitute three days before its time ends, and once when it has run over."

    def handle(self, *args: Any, **options: Any) -> None:
        with lease("watch_substitutes", socket.gethostname(), LASTS_SECONDS) as held:
            if held is None:
                self.stdout.write("Another run is at it: nothing was done.")
                return
            expiring, overdue = watch()
        self.stdout.write(f"{expiring} end soon, {overdue} have run over.")
