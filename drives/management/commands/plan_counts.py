"""`manage.py plan_counts`: fills each storeroom's list of shelves to count today. To be run every morning."""

import socket
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from drives.lessons.stop_costs import stop_costs
from inventory.plumbing.leases import lease
from inventory.stores.counting.plan import A_DAY_IN_EACH_STOREROOM, plan

LASTS_SECONDS = 600
MOST = 10_000


class Command(BaseCommand):
    help = "Lists what to count today by the value of being wrong; run again on the same day it adds nothing."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--most",
            type=int,
            default=A_DAY_IN_EACH_STOREROOM,
            help=f"shelves in each storeroom (default {A_DAY_IN_EACH_STOREROOM})",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if not 1 <= options["most"] <= MOST:
            raise CommandError(f"--most must be from 1 to {MOST}.")
        with lease("plan_counts", socket.gethostname(), LASTS_SECONDS) as held:
            if held is None:
                self.stdout.write("Another run is at it: nothing was done.")
                return
            made = plan(timezone.now(), stop_costs=stop_costs(), most=options["most"])
        self.stdout.write(f"{len(made)} shelves put on the list.")
