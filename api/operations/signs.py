"""What an operator is woken for: the scheduler, the nightly work, the outbox and what waits, read from the database."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.conf import settings
from django.db import DatabaseError, transaction
from django.db.models import Min
from django.utils import timezone

from api.models import AccessToken, BackgroundJob, Delivery, DeliveryState, JobState
from api.operations.scheduling.leadership import LEADER
from api.operations.scheduling.recurring_commands import RECURRING_COMMANDS, night_of, success_marker_of
from drives.models import InboundMessage, MessageOutcome
from inventory.models import Event, Lease

PROBE = "readiness"
PROBED_EVERY = timedelta(seconds=10)
OLDEST_SECONDS = 15 * 60
"""What has waited this long in the outbox or in the queue of jobs waits for something that does not work."""
NIGHTS_MISSED = 2
"""The work of one night may still be going on."""


@dataclass(frozen=True)
class OperatingSign:
    """One number for whoever watches; `fault` says in a sentence what is wrong and what to do, or is empty."""

    name: str
    meaning: str
    value: float
    fault: str = ""


def signs() -> Iterator[OperatingSign]:
    now = timezone.now()
    yield writing_sign(now)
    yield scheduler_sign(now)
    yield nightly_sign(now)
    yield from waiting_signs(now)


def writing_sign(now: datetime) -> OperatingSign:
    """A lease that nobody holds is written; at most every ten seconds, whoever asks."""
    fault = ""
    try:
        with transaction.atomic():
            if not Lease.objects.filter(name=PROBE, until__range=(now - PROBED_EVERY, now)).exists():
                Lease.objects.update_or_create(name=PROBE, defaults={"holder": "", "until": now})
    except DatabaseError as error:
        fault = (
            f"The database takes no changes: {str(error).strip()}. What is sent is refused, nothing is lost."
        )
    return OperatingSign("can_write", "1 while the database takes changes.", float(not fault), fault)


def scheduler_sign(now: datetime) -> OperatingSign:
    until = Lease.objects.filter(name=LEADER).exclude(holder="").values_list("until", flat=True).first()
    works = until is not None and until > now
    fault = "" if works else f"No scheduler works: start `{settings.PROGRAM} run_scheduler`."
    return OperatingSign("scheduler_works", "1 while a scheduler gives signs of life.", float(works), fault)


def nightly_sign(now: datetime) -> OperatingSign:
    """The nights since every nightly command last succeeded. A service without a first night yet has missed none."""
    names = {
        success_marker_of(command): command.name
        for command in RECURRING_COMMANDS
        if command.every_seconds is None
    }
    succeeded = dict(Lease.objects.filter(name__in=names).values_list("name", "holder"))
    oldest = min(succeeded.values(), default="")
    late = ", ".join(sorted(names[name] for name, night in succeeded.items() if night == oldest))
    latest = night_of(now) or now.date() - timedelta(days=1)
    missed = max(0, (latest - date.fromisoformat(oldest)).days) if oldest else 0
    fault = (
        f"Has not succeeded since the night of {oldest}: {late}. See the log of the scheduler."
        if missed >= NIGHTS_MISSED
        else ""
    )
    meaning = "Nights since every command of the nightly work last succeeded."
    return OperatingSign("nights_missed", meaning, float(missed), fault)


def waiting_signs(now: datetime) -> Iterator[OperatingSign]:
    oldest = Event.objects.filter(sequence__isnull=True).aggregate(at=Min("recorded_at"))["at"]
    yield age_sign(
        "event_waiting_seconds",
        "Age of the oldest event without its number.",
        oldest,
        now,
        "Events are not numbered",
    )
    due = Delivery.objects.filter(state=DeliveryState.WAITING, next_attempt_at__lte=now)
    oldest = due.aggregate(at=Min("next_attempt_at"))["at"]
    yield age_sign(
        "delivery_overdue_seconds",
        "How long the oldest due delivery of an event waits.",
        oldest,
        now,
        "Events are not sent",
    )
    queued = BackgroundJob.objects.filter(state=JobState.QUEUED).aggregate(at=Min("requested_at"))["at"]
    yield age_sign(
        "job_waiting_seconds", "Age of the oldest job that was not begun.", queued, now, "Jobs are not begun"
    )
    dead = Delivery.objects.filter(state=DeliveryState.DEAD).count()
    yield OperatingSign(
        "deliveries_given_up", "Events whose receiver never took them; they can be sent again.", float(dead)
    )
    expiring = AccessToken.objects.expiring().count()
    yield OperatingSign("tokens_expiring", "Tokens that expire within 14 days.", float(expiring))
    waiting = InboundMessage.objects.filter(outcome=MessageOutcome.WAITING).count()
    yield OperatingSign(
        "messages_waiting", "Messages of other systems that name a record which is missing.", float(waiting)
    )


def age_sign(name: str, meaning: str, oldest: datetime | None, now: datetime, wrong: str) -> OperatingSign:
    seconds = max(0.0, (now - oldest).total_seconds()) if oldest else 0.0
    fault = (
        f"{wrong}: the oldest has waited {seconds / 60:.0f} min. Does the scheduler work?"
        if seconds > OLDEST_SECONDS
        else ""
    )
    return OperatingSign(name, meaning, round(seconds, 1), fault)
