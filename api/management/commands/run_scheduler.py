"""`manage.py run_scheduler`: does what is due again and again."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from api.edge.stopping import Stop
from api.operations.scheduling.jobs import JOBS
from api.operations.scheduling.scheduler import Scheduler


class Command(BaseCommand):
    help = (
        "Runs the recurring work until it is stopped: "
        + "; ".join(f"{job.command} {job.rhythm}" for job in JOBS)
        + ". Several may be started: one works and the others stand by. Each job is an ordinary command that can be "
        "run by hand; one that this version does not have is left out. NIGHTLY_HOUR is an hour of the clock of "
        "TIME_ZONE."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--once", action="store_true", help="run each job that is due once, then end")

    def handle(self, *args: Any, **options: Any) -> None:
        stop = Stop()
        scheduler = Scheduler(stop=stop)
        if options["once"]:
            scheduler.run_once()
            return
        stop.listen()
        scheduler.run()
