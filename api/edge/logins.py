"""Trying passwords takes time: tries that failed are counted by name and address, in the database, for all processes.

From the third failure in a row the wait doubles; after ten, the name is shut for that address for a quarter of an hour. Many
failures of one name from everywhere, or of one address with every name, shut these too, but not for who has logged in with
this name from this address within the last months. A name that nobody has is counted
like one that somebody has, and a try that has to wait is refused before its password is looked at.
"""

import logging
import math
import unicodedata
from datetime import datetime, timedelta

from django.db.models import Max, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from api.edge.middleware import Middleware
from api.models import LoginAttempt
from inventory.plumbing.record_validation import CLOCKS_APART

logger = logging.getLogger(__name__)

WINDOW = timedelta(minutes=15)
FREE_FAILURES = 2
LOCKED_AT = 10
NAME_LOCKED_AT = 50
ADDRESS_LOCKED_AT = 100
KEPT = timedelta(days=90)
LONGEST_NAME = 150


class LoginHasToWait(Exception):  # noqa: N818 - it says what, not that
    def __init__(self, seconds: int) -> None:
        super().__init__(f"wait {seconds} s")
        self.seconds = seconds


def normalized_name(name: str) -> str:
    """Names that look alike are one."""
    return unicodedata.normalize("NFKC", name).casefold().replace("\x00", "")[:LONGEST_NAME]


def address_of(request: HttpRequest | None) -> str:
    return "" if request is None else str(request.META.get("REMOTE_ADDR", ""))[:45]


def start_attempt(name: str, address: str) -> LoginAttempt:
    """Count a try before its password is looked at, so that tries at the same time count each other."""
    now, named = timezone.now(), normalized_name(name)
    seconds, is_locked = seconds_to_wait(named, address, now)
    attempt = LoginAttempt(username=named, address=address, at=now)
    if seconds > 0:
        if not is_locked:
            attempt.save()
        logger.warning("A login of %r from %s has to wait %d s.", named, address, seconds)
        raise LoginHasToWait(seconds)
    attempt.save()
    return attempt


def mark_success(attempt: LoginAttempt) -> None:
    attempt.succeeded = True
    attempt.save(update_fields=["succeeded"])


def seconds_to_wait(named: str, address: str, now: datetime) -> tuple[int, bool]:
    """Seconds to wait, and whether that is a lock."""
    # What lies further ahead was counted by a clock that has been set back since: it would shut a name for as long as it was ahead.
    recent = LoginAttempt.objects.filter(at__gt=now - WINDOW, at__lt=now + CLOCKS_APART)
    failed = recent.filter(succeeded=False)
    pair = failed.filter(username=named, address=address)
    succeeded = recent.filter(username=named, address=address, succeeded=True)
    if last_success := succeeded.aggregate(at=Max("at"))["at"]:
        pair = pair.filter(at__gt=last_success)
    waits = [wait_after_failures(pair, FREE_FAILURES, LOCKED_AT, now)]
    known = LoginAttempt.objects.filter(username=named, address=address, succeeded=True)
    if known.exists():
        # Who has logged in from here before is not shut out by what others try elsewhere, or with other names.
        return max(waits)
    waits += [
        wait_after_failures(failed.filter(username=named), NAME_LOCKED_AT, NAME_LOCKED_AT, now),
        wait_after_failures(failed.filter(address=address), ADDRESS_LOCKED_AT, ADDRESS_LOCKED_AT, now),
    ]
    return max(waits)


def wait_after_failures(
    failed: QuerySet[LoginAttempt], free: int, locked_at: int, now: datetime
) -> tuple[int, bool]:
    moments = list(failed.order_by("-at").values_list("at", flat=True)[:locked_at])
    if len(moments) <= free and len(moments) < locked_at:
        return 0, False
    is_locked = len(moments) >= locked_at
    pause = WINDOW if is_locked else timedelta(seconds=2 ** (len(moments) - free))
    left = (moments[0] + pause - now).total_seconds()
    return max(0, math.ceil(left)), is_locked and left > 0


def purge_attempts(now: datetime) -> int:
    """Delete attempts that are older than they are kept; how many there were."""
    return LoginAttempt.objects.filter(at__lt=now - KEPT).delete()[0]


class LoginWaitMiddleware(Middleware):
    """Whichever form the try came from, having to wait is answered in one way."""

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if not isinstance(error, LoginHasToWait):
            return None
        page = render(request, "screens/login_delay.html", {"seconds": error.seconds}, status=429)
        page["Retry-After"] = str(error.seconds)
        return page
