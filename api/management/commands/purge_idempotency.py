"""`manage.py purge_idempotency`: forgets the answers of old idempotency keys. To be run once a day."""

from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from api.edge.idempotency import KEPT_DAYS
from api.models import IdempotencyRecord

AT_ONCE = 5_000


class Command(BaseCommand):
    help = f"Forgets idempotency keys older than {KEPT_DAYS} days; may be run twice without harm."

    def handle(self, *args: Any, **options: Any) -> None:
        before = timezone.now() - timedelta(days=KEPT_DAYS)
        forgotten = 0
        while old := list(
            IdempotencyRecord.objects.filter(created_at__lt=before).values_list("pk", flat=True)[:AT_ONCE]
        ):
            forgotten += IdempotencyRecord.objects.filter(pk__in=old).delete()[0]
        self.stdout.write(f"{forgotten} key{'s' * (forgotten != 1)} forgotten.")
