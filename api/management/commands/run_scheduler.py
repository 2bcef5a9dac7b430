"""`manage.py run_scheduler`: carries out background jobs and recurring commands."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from api.edge.stopping import Stop
from api.operations.scheduling.recurring_commands import RECURRING_COMMANDS
from api.operations.scheduling.scheduler import Scheduler


class Command(BaseCommand):
    help = (
        "Carries out background jobs (imports, stocking runs, calculations) as they are requested, and recurring commands: "
        + "; ".join(f"{command.name} {command.rhythm}" for command in RECURRING_COMMANDS)
        + ". It runs until it is stopped. Several may be started: one works and the others stand by. Each command can be "
        "run by hand too. NIGHTLY_HOUR is an hour of the clock of TIME_ZONE."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--once", action="store_true", help="run what is due or queued once, then end")

    def handle(self, *args: Any, **options: Any) -> None:
        stop = Stop()
        scheduler = Scheduler(stop=stop)
        if options["once"]:
            scheduler.run_once()
            return
        stop.listen()
        scheduler.run()
