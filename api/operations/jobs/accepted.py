"""202: what was requested is not there yet; where to look, and when."""

from collections.abc import Callable
from functools import cache, cached_property
from typing import Any

from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema_field
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse

from api.models import BackgroundJob
from api.operations.jobs.kinds import expected_seconds, find_kind, seconds_left
from api.wire.records.background_jobs import BACKGROUND_JOBS
from api.wire.serializers import ReadSerializer


def header(name: str, kind: Any, text: str) -> OpenApiParameter:
    return OpenApiParameter(name, kind, OpenApiParameter.HEADER, response=[202], description=text)


ACCEPTED = [
    header("Location", OpenApiTypes.URI, "Where state and progress are."),
    header("Retry-After", OpenApiTypes.INT, "Seconds after which it is worth looking again."),
]


class BackgroundJobSerializer(ReadSerializer):
    """Work that the scheduler carries out. `error` is `job_failed`, `job_interrupted` or `job_without_room`
    (on the disk of the database); the cause is in the log of the service."""

    record = BACKGROUND_JOBS
    requested_by = serializers.CharField(source="requested_by_name", read_only=True)
    expected_seconds = serializers.SerializerMethodField(
        help_text="How long such a job usually takes from its start."
    )
    href = serializers.SerializerMethodField(help_text="The address of the job.")
    result = serializers.SerializerMethodField(help_text="The address of its result.")

    def get_expected_seconds(self, job: BackgroundJob) -> float:
        return round(self.expected_by_kind(job.kind), 1)

    @cached_property
    def expected_by_kind(self) -> Callable[[str], float]:
        """Measured once for each kind, however long the list is."""
        return cache(expected_seconds)

    @extend_schema_field(OpenApiTypes.URI)
    def get_href(self, job: BackgroundJob) -> str:
        return str(reverse("job-detail", kwargs={"pk": job.pk}, request=self.context["request"]))

    @extend_schema_field(OpenApiTypes.URI)
    def get_result(self, job: BackgroundJob) -> str:
        address = find_kind(job.kind).address(job.parameters)
        return str(self.context["request"].build_absolute_uri(address))


def accepted(request: Request, body: Any, *, address: str, job: BackgroundJob) -> Response:
    headers = {
        "Location": request.build_absolute_uri(address),
        "Retry-After": str(seconds_left(job, timezone.now())),
    }
    return Response(body, status=status.HTTP_202_ACCEPTED, headers=headers)


def job_accepted(request: Request, job: BackgroundJob) -> Response:
    body = BackgroundJobSerializer(job, context={"request": request}).data
    return accepted(request, body, address=body["href"], job=job)
