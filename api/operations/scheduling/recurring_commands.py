"""Which commands run again and again, and how often."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings

from inventory.models import Lease

MINUTE = 60
HOUR = 60 * MINUTE


@dataclass(frozen=True)
class RecurringCommand:
    """Every so many seconds, or (without) once in each local night."""

    name: str
    every_seconds: float | None = None

    @property
    def rhythm(self) -> str:
        if self.every_seconds is None:
            return "nightly"
        if self.every_seconds < MINUTE:
            return f"every {self.every_seconds:g} s"
        minutes = self.every_seconds / MINUTE
        return f"every {minutes:g} min" if minutes < 60 else f"every {minutes / 60:g} h"


RECURRING_COMMANDS = (
    RecurringCommand("sequence_events", 5),
    RecurringCommand("deliver_webhooks", 5),
    RecurringCommand("follow_record", 15),
    RecurringCommand("expire_reservations", MINUTE),
    RecurringCommand("retry_messages", 5 * MINUTE),
    RecurringCommand("watch_substitutes", HOUR),
    RecurringCommand("watch_jobs", 10 * MINUTE),
    RecurringCommand("partitions"),
    RecurringCommand("refresh_statistics"),
    RecurringCommand("purge"),
    RecurringCommand("plan_counts"),
    RecurringCommand("recommend_stock"),
    RecurringCommand("find_duplicates"),
)


def night_of(now: datetime) -> date | None:
    """The local date whose night work may begin by now; None before the hour.

    The hour is only a threshold of the local clock, and a date is done once: so a night without that hour (clocks
    forward) still gets its work, and a night that has it twice (clocks back) gets it once.
    """
    local = now.astimezone(ZoneInfo(settings.TIME_ZONE))
    return local.date() if local.hour >= settings.NIGHTLY_HOUR else None


def is_night_due(command: RecurringCommand, now: datetime) -> bool:
    night = night_of(now)
    if night is None:
        return False
    done = Lease.objects.filter(name=marker_of(command)).values_list("holder", flat=True).first()
    if done is None:
        return True
    # A date ahead was written by a clock that was ahead: by a night, that one is not done again when it comes; by more, it was wrong.
    ahead = date.fromisoformat(done) - night
    return ahead < timedelta(0) or ahead > timedelta(days=1)


def mark_night(command: RecurringCommand, now: datetime) -> None:
    """Before the work, so that work that breaks off is not tried all night long."""
    night = night_of(now)
    if night is not None:
        values = {"holder": night.isoformat(), "until": now}
        Lease.objects.update_or_create(name=marker_of(command), defaults=values)
        # Before its first night a command has missed none.
        before = {"holder": (night - timedelta(days=1)).isoformat(), "until": now}
        Lease.objects.get_or_create(name=success_marker_of(command), defaults=before)


def mark_success(command: RecurringCommand, now: datetime) -> None:
    """After the work of the night that began at this moment."""
    night = night_of(now)
    if night is not None:
        values = {"holder": night.isoformat(), "until": now}
        Lease.objects.update_or_create(name=success_marker_of(command), defaults=values)


def marker_of(command: RecurringCommand) -> str:
    return f"night of {command.name}"


def success_marker_of(command: RecurringCommand) -> str:
    return f"success of {command.name}"
