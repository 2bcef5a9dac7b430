"""Background jobs in tests: carried out in the process of the test, when the test says so."""

from typing import Any

from api.models import BackgroundJob
from api.operations.jobs.runner import kinds_with_jobs, run_jobs


def run_queued_jobs() -> int:
    """How many there were."""
    return sum(run_jobs(kind, "the test") for kind in kinds_with_jobs())


def get_calculated(client: Any, address: str, query: Any = None) -> Any:
    """The response once the calculation that it needs has been carried out."""
    answer = client.get(address, query or {})
    if answer.status_code in (202, 302) or b'http-equiv="refresh"' in getattr(answer, "content", b""):
        assert run_queued_jobs()
        answer = client.get(address, query or {})
    return answer


def forget_answers() -> None:
    """So that the next request is calculated again."""
    BackgroundJob.objects.all().delete()
