"""Pages whose answer is calculated by a background job: what is shown until it is there."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Generic, TypeVar
from urllib.parse import urlencode

from django.http import HttpRequest
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from api.operations.jobs.calculations import Calculation, CalculationKind
from api.operations.jobs.kinds import Parameters
from api.operations.jobs.queue import requester_of
from api.operations.scheduling.leadership import is_scheduler_running

Answer = TypeVar("Answer")
AFTER = "calculated_after"
SOONEST_REFRESH_SECONDS, LATEST_REFRESH_SECONDS = 2, 10


@dataclass(frozen=True)
class CalculatedPage(Generic[Answer]):
    """The page also says that no scheduler is running, or a reader would wait in vain."""

    calculation: Calculation[Answer]
    refresh_seconds: int
    is_scheduler_running: bool
    renew_address: str

    @property
    def found(self) -> Answer | None:
        answer = self.calculation.answer
        return answer.found if answer else None

    @property
    def is_waiting(self) -> bool:
        return self.calculation.job is not None


def calculated_page(
    request: HttpRequest, kind: CalculationKind[Answer], parameters: Parameters
) -> CalculatedPage[Answer]:
    calculation = kind.find(parameters, by=requester_of(request), calculated_after=moment_of(request))
    expected_seconds = calculation.expected_seconds or 0.0
    fields = [(name, value) for name, value in request.GET.items() if name not in (AFTER, "page")]
    return CalculatedPage(
        calculation=calculation,
        refresh_seconds=round(
            min(max(expected_seconds / 2, SOONEST_REFRESH_SECONDS), LATEST_REFRESH_SECONDS)
        ),
        is_scheduler_running=calculation.is_current or is_scheduler_running(),
        renew_address="?" + urlencode([*fields, (AFTER, timezone.now().isoformat())]),
    )


def moment_of(request: HttpRequest) -> datetime | None:
    """None where the text is not a time, or is in the future."""
    try:
        found = parse_datetime(request.GET.get(AFTER, ""))
    except ValueError:
        return None
    return found if found and timezone.is_aware(found) and found <= timezone.now() else None


def context_of(page: CalculatedPage[Any]) -> dict[str, Any]:
    answer = page.calculation.answer
    return {"calculated": page, "seen_at": answer and answer.as_of, "found": page.found}
