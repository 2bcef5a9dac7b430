from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.utils import timezone

from api.models import BackgroundJob, IdempotencyRecord, JobState, LoginAttempt

pytestmark = pytest.mark.django_db


def purge() -> str:
    out = StringIO()
    call_command("purge", stdout=out)
    return out.getvalue().strip()


def test_idempotency_keys_are_deleted_when_their_time_is_over() -> None:
    for days in (1, 29, 31, 400):
        made = timezone.now() - timedelta(days=days)
        IdempotencyRecord.objects.create(
            caller="user:1", key=f"k-{days}", operation="POST /", body_digest="x", status=201, created_at=made
        )
    assert "2 idempotency keys" in purge()
    assert "0 idempotency keys" in purge()
    assert set(IdempotencyRecord.objects.values_list("key", flat=True)) == {"k-1", "k-29"}


def test_login_attempts_are_deleted_after_90_days() -> None:
    LoginAttempt.objects.create(username="x", at=timezone.now() - timedelta(days=91))
    kept = LoginAttempt.objects.create(username="x")
    assert "1 login attempts" in purge()
    assert list(LoginAttempt.objects.all()) == [kept]


def test_background_jobs_are_deleted_30_days_after_their_end() -> None:
    for days, state in ((29, JobState.DONE), (31, JobState.DONE), (32, JobState.FAILED)):
        ended = timezone.now() - timedelta(days=days)
        BackgroundJob.objects.create(kind="exposure", key=f"{days}", state=state, finished_at=ended)
    waiting = BackgroundJob.objects.create(
        kind="exposure", key="waiting", requested_at=timezone.now() - timedelta(days=99)
    )
    assert "2 background jobs" in purge()
    assert set(BackgroundJob.objects.values_list("key", flat=True)) == {"29", waiting.key}
