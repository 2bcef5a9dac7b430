"""`manage.py recommend_stock`: calculates how many of each part to keep, and shows its progress."""

import sys
from argparse import ArgumentParser
from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from api.wording.sentences import sentence
from drives.demand.recompute import recompute
from inventory.models import Recommendation
from inventory.planning.runs import RunRefused


class Command(BaseCommand):
    help = (
        "Calculates how many of each part to keep in each storeroom; nothing is set before a person accepts it. "
        "Only parts whose inputs changed are calculated, all of them with --full."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--full", action="store_true", help="calculate every part, changed or not")
        parser.add_argument("--as-of", metavar="MOMENT", help="use the records up to this moment (RFC 3339)")

    def handle(self, *args: Any, **options: Any) -> None:
        as_of = _moment(options["as_of"]) if options["as_of"] else timezone.now()
        try:
            run = recompute(
                as_of=as_of, by="recommend_stock", is_full=options["full"], progress=self._show_progress
            )
        except RunRefused as refusal:
            raise CommandError(sentence(refusal.fact)) from refusal
        self.stdout.write(
            f"Run {run.pk}: {run.total} parts in storerooms checked, {run.recomputed} calculated; "
            f"{Recommendation.objects.waiting().count()} differ from the policy in force and need a decision."
        )

    def _show_progress(self, done: int, total: int) -> None:
        if sys.stderr.isatty():
            self.stderr.write(f"\r{done} of {total} parts", ending="")
            if done == total:
                self.stderr.write("")
        else:
            self.stderr.write(f"{done} of {total} parts")


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
