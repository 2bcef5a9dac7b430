"""`manage.py deliver_webhooks`: sends events to webhooks."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from api.edge.stopping import Stop
from api.webhooks.deliverer import Deliverer


class Command(BaseCommand):
    help = (
        "Sends waiting events to the webhooks. --once (the default) ends when nothing is due any more; --loop goes "
        "on until it is stopped, and gives deliveries under way some seconds to end. Several may run at once. An event may arrive "
        "more than once, always with the same id; the events of one aggregate arrive in order."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        mode = parser.add_mutually_exclusive_group()
        mode.add_argument("--once", action="store_true", help="send what is due, then end (default)")
        mode.add_argument("--loop", action="store_true", help="go on until stopped")

    def handle(self, *args: Any, **options: Any) -> None:
        deliverer = Deliverer()
        if options["loop"]:
            deliverer.run(Stop().listen())
        else:
            deliverer.run_once()
        self.stdout.write(f"Attempts: {deliverer.attempts}.")
