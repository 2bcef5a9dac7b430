"""`manage.py recommend_stock`: works out anew how many of each part to keep, and shows how far it is."""

import sys
from argparse import ArgumentParser
from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from drives.demand.recompute import recompute
from inventory.models import Recommendation
from inventory.planning.runs import RunRefused


class Command(BaseCommand):
    help = (
        "Works out how many of each part to keep; nothing is set before a person accepts it. "
        "Only places whose inputs changed are worked out, all of them with --full."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--full", action="store_true", help="work out every place, changed or not")
        parser.add_argument(
            "--as-of", metavar="MOMENT", help="look from this moment (RFC 3339); later events are not seen"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        as_of = _moment(options["as_of"]) if options["as_of"] else timezone.now()
        try:
            run = recompute(
                as_of=as_of, by="recommend_stock", is_full=options["full"], progress=self._show_progress
            )
        except RunRefused as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(
            f"Run {run.pk}: {run.total} places looked at, {run.recomputed} worked out anew; "
            f"{Recommendation.objects.waiting().count()} differ from what is in force and wait for a decision."
        )

    def _show_progress(self, done: int, total: int) -> None:
        if sys.stderr.isatty():
            self.stderr.write(f"\r{done} of {total} places", ending="")
            if done == total:
                self.stderr.write("")
        else:
            self.stderr.write(f"{done} of {total} places")


def _moment(text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise CommandError("--as-of must be a moment such as 2026-11-20T06:00:00+01:00.") from error
    if timezone.is_naive(moment):
        raise CommandError("--as-of needs an offset, such as 2026-11-20T06:00:00+01:00.")
    if moment > timezone.now():
        raise CommandError("--as-of must not lie in the future.")
    return moment
