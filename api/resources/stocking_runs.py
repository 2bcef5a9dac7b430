"""Runs that calculate recommendations: started with 202, with their progress at the address in Location."""

from typing import Any

from django.http import HttpResponseBase
from django.urls import reverse
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request

from api.edge.idempotency import idempotent
from api.edge.parsing import StrictBooleanField
from api.operations.jobs.accepted import ACCEPTED, accepted
from api.operations.jobs.queue import requester_of
from api.operations.jobs.recompute import request_recompute
from api.wire.facts import FactSerializer
from api.wire.records.stocking import RUNS
from api.wire.serializers import BodySerializer, ReadSerializer
from api.wire.views import ReadRecordViewSet
from inventory.models import RunState, StockingRun
from inventory.planning.runs import failure_of


class StockingRunSerializer(ReadSerializer):
    """`done` of `total` parts in storerooms are through; `recomputed` were calculated again, `changed` differ from what is set."""

    record = RUNS
    waiting = serializers.SerializerMethodField(help_text="It was requested and has not started yet.")
    failure = serializers.SerializerMethodField()

    @extend_schema_field(FactSerializer(allow_null=True))
    def get_failure(self, run: StockingRun) -> dict[str, Any] | None:
        failure = failure_of(run)
        return FactSerializer(failure).data if failure else None

    def get_waiting(self, run: StockingRun) -> bool:
        return run.state == RunState.RUNNING and run.alive_at is None


class StartRunSerializer(BodySerializer):
    """`is_full` calculates everything again, even where no input changed."""

    is_full = StrictBooleanField(required=False, default=False)


class StockingRunViewSet(ReadRecordViewSet):
    """One run at a time; another is refused until it ends."""

    record = RUNS
    lookup_path = "<int:pk>"

    @extend_schema(request=StartRunSerializer, responses={202: StockingRunSerializer}, parameters=ACCEPTED)
    @idempotent()
    def create(self, request: Request) -> HttpResponseBase:
        """Start a run over every part in every storeroom."""
        values = self.read(StartRunSerializer, request)
        run, job = request_recompute(requester_of(request), **values)
        address = reverse("stocking-run-detail", kwargs={"pk": run.pk})
        return accepted(request, self.represent(run), address=address, job=job)
