"""Trying passwords takes time: tries that failed are counted by name and address, in the database, for all processes.

From the third failure in a row the wait doubles; after ten, the name is shut for that address for a quarter of an hour. Many
failures of one name from everywhere, or of one address with every name, shut these too, but not for who has logged in with
this name from this address within the last months. A device on which somebody has logged in keeps a cookie, and its tries with that
name are counted by themselves: a whole plant may share an address, and one who guesses there shuts nobody out of their own device.
A name that nobody has is counted
like one that somebody has, and a try that has to wait is refused before its password is looked at. Mails to set a password are
counted too, by account and by address.
"""

import logging
import math
import secrets
import unicodedata
from datetime import datetime, timedelta
from hashlib import sha256

from django.conf import settings
from django.db.models import Max, QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseBase
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
LONGEST_ADDRESS = 45
SHOWN_AS_SECONDS = 90
MAILS_WITHIN = timedelta(hours=1)
MAILS_OF_ACCOUNT = 3
MAILS_OF_ADDRESS = 30


class LoginHasToWait(Exception):  # noqa: N818 - it says what, not that
    def __init__(self, seconds: int) -> None:
        super().__init__(f"wait {seconds} s")
        self.seconds = seconds


def normalized_name(name: str) -> str:
    """Names that look alike are one."""
    return unicodedata.normalize("NFKC", name).casefold().replace("\x00", "")[:LONGEST_NAME]


def address_of(request: HttpRequest | None) -> str:
    return "" if request is None else str(request.META.get("REMOTE_ADDR", ""))[:LONGEST_ADDRESS]


def device_of(request: HttpRequest | None) -> str:
    """Stands in the place of an address, of which it cannot be one; empty where the browser has no cookie of ours."""
    secret = "" if request is None else request.COOKIES.get(settings.DEVICE_COOKIE_NAME, "")
    return f"device {sha256(secret.encode()).hexdigest()[:32]}" if secret else ""


def start_attempt(name: str, request: HttpRequest | None) -> LoginAttempt:
    """Count a try before its password is looked at, so that tries at the same time count each other."""
    now, named, address, device = (
        timezone.now(),
        normalized_name(name),
        address_of(request),
        device_of(request),
    )
    place = device if device and logins_from(device).filter(username=named).exists() else address
    seconds, is_locked = seconds_to_wait(named, place, now)
    attempt = LoginAttempt(username=named, address=place, at=now)
    if seconds > 0:
        if not is_locked:
            attempt.save()
        logger.warning("A login of %r from %s has to wait %d s.", named, address, seconds)
        raise LoginHasToWait(seconds)
    attempt.save()
    return attempt


def mark_success(attempt: LoginAttempt, request: HttpRequest | None) -> None:
    attempt.succeeded = True
    attempt.save(update_fields=["succeeded"])
    if request is not None:
        remember_device(request, attempt.username)


def remember_device(request: HttpRequest, name: str) -> None:
    """Its tries with this name count by themselves from now on. A cookie that is not ours, and may be known to somebody, is replaced."""
    device = device_of(request)
    if not device or not logins_from(device).exists():
        request.COOKIES[settings.DEVICE_COOKIE_NAME] = secrets.token_urlsafe(24)
        device = device_of(request)
    request.device_secret = request.COOKIES[settings.DEVICE_COOKIE_NAME]  # type: ignore[attr-defined]
    named = normalized_name(name)
    known = logins_from(device).filter(username=named)
    if not known.exists():
        LoginAttempt.objects.create(username=named, address=device, succeeded=True)


def logins_from(place: str) -> QuerySet[LoginAttempt]:
    return LoginAttempt.objects.filter(address=place, succeeded=True)


def count_mail(email: str, address: str) -> None:
    """Before a mail to set a password is sent, whether or not somebody has this address: who asks too often has to wait."""
    now, named, place = timezone.now(), normalized_name(email), f"mail {address}"[:LONGEST_ADDRESS]
    recent = LoginAttempt.objects.filter(
        address__startswith="mail ", at__gt=now - MAILS_WITHIN, at__lt=now + CLOCKS_APART
    )
    counts = (
        (recent.filter(username=named), MAILS_OF_ACCOUNT),
        (recent.filter(address=place), MAILS_OF_ADDRESS),
    )
    for asked, most in counts:
        moments = list(asked.order_by("-at").values_list("at", flat=True)[:most])
        if len(moments) == most:
            seconds = math.ceil((moments[-1] + MAILS_WITHIN - now).total_seconds())
            logger.warning("A mail to set a password, asked for from %s, has to wait %d s.", address, seconds)
            raise LoginHasToWait(seconds)
    # No failure, so that no login is counted by it.
    LoginAttempt.objects.create(username=named, address=place, at=now, succeeded=True)


def forget_failures() -> tuple[int, int, int]:
    """Every lock ends: how many failures that were, of how many names and addresses."""
    failed = LoginAttempt.objects.filter(succeeded=False)
    names, addresses = (failed.order_by().values(one).distinct().count() for one in ("username", "address"))
    return failed.delete()[0], names, addresses


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
    if logins_from(address).filter(username=named).exists():
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
    """Whichever form the try came from, having to wait is answered in one way, and a device is remembered in one."""

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if secret := getattr(request, "device_secret", ""):
            response.set_cookie(
                settings.DEVICE_COOKIE_NAME,
                secret,
                max_age=KEPT,
                secure=settings.SESSION_COOKIE_SECURE,
                httponly=True,
                samesite="Lax",
            )
        return response

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if not isinstance(error, LoginHasToWait):
            return None
        minutes = math.ceil(error.seconds / 60) if error.seconds > SHOWN_AS_SECONDS else 0
        waits = {"seconds": error.seconds, "minutes": minutes}
        page = render(request, "screens/login_delay.html", waits, status=429)
        page["Retry-After"] = str(error.seconds)
        return page
