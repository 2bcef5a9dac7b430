"""`manage.py expire_reservations`: frees what was held back until a moment that is over. To be run every few minutes."""

import socket
from typing import Any

from django.core.management.base import BaseCommand

from inventory.plumbing.leases import lease
from inventory.stores.ledger import expire_reservations

LASTS_SECONDS = 300


class Command(BaseCommand):
    help = "Ends every reservation whose time is over and frees what it held; may be run twice without harm."

    def handle(self, *args: Any, **options: Any) -> None:
        with lease("expire_reservations", socket.gethostname(), LASTS_SECONDS) as held:
            if held is None:
                self.stdout.write("Another run is at it: nothing was done.")
                return
            ended = expire_reservations()
        self.stdout.write(f"{len(ended)} reservation{'s' * (len(ended) != 1)} expired.")
