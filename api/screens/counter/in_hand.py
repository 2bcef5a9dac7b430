"""The job in hand: the position and the work order that the next issue is for, remembered by the browser."""

import json
from dataclasses import asdict, dataclass

from django.http import HttpRequest, HttpResponse

COOKIE = "job_in_hand"
KEPT_SECONDS = 12 * 3600
LONGEST = 60


@dataclass(frozen=True)
class CounterJob:
    position: str = ""
    work_order: str = ""

    def __bool__(self) -> bool:
        return bool(self.position or self.work_order)

    def at(self, position: str) -> "CounterJob":
        """The same job at its own position; at another, a new one without a work order."""
        return self if position == self.position else CounterJob(position)


def job_in_hand(request: HttpRequest) -> CounterJob:
    try:
        kept = json.loads(request.COOKIES.get(COOKIE, "{}"))
        return CounterJob(*(str(kept.get(name, ""))[:LONGEST] for name in ("position", "work_order")))
    except (ValueError, AttributeError):
        return CounterJob()


def remember(response: HttpResponse, request: HttpRequest, job: CounterJob) -> HttpResponse:
    if job != job_in_hand(request):
        response.set_cookie(
            COOKIE,
            json.dumps(asdict(job)),
            max_age=KEPT_SECONDS,
            secure=request.is_secure(),
            httponly=True,
            samesite="Lax",
        )
    return response


def forget(response: HttpResponse) -> HttpResponse:
    response.delete_cookie(COOKIE, samesite="Lax")
    return response
