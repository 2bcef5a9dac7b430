"""Runs that calculate recommendations: started with 202, with their progress at the address in Location."""

from typing import Any

from django.http import HttpResponseBase
from django.urls import path, reverse
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request

from api.edge.errors import state_refusal
from api.edge.filtering import StrictFilterSet, TruthFilter, WordsFilter
from api.edge.idempotency import idempotent
from api.edge.parsing import StrictBooleanField, StrictCharField, StrictModelSerializer
from api.edge.viewsets import ReadOnlyResourceViewSet
from api.models import Role
from api.operations.jobs.accepted import ACCEPTED, accepted
from api.operations.jobs.queue import requester_of
from api.operations.jobs.recompute import request_recompute
from api.wire.facts import FACT_SCHEMA
from api.wire.serializers import BodySerializer
from api.wording.sentences import sentence
from inventory.models import RunState, StockingRun
from inventory.planning.runs import RunRefused, failure_of


class StockingRunSerializer(StrictModelSerializer):
    """`done` of `total` parts in storerooms are through; `recomputed` were calculated again, `changed` differ from what is set."""

    started_by = StrictCharField(source="started_by_name", read_only=True)
    waiting = serializers.SerializerMethodField(help_text="It was requested and has not started yet.")

    error = serializers.SerializerMethodField()
    failure = serializers.SerializerMethodField()

    class Meta:
        model = StockingRun
        fields = [
            *("id", "state", "waiting", "as_of", "is_full", "total", "done", "recomputed", "changed"),
            *("started_at", "finished_at", "started_by", "error", "failure"),
        ]
        read_only_fields = fields

    def get_error(self, run: StockingRun) -> str:
        failure = failure_of(run)
        return sentence(failure) if failure else ""

    @extend_schema_field(FACT_SCHEMA | {"type": ["object", "null"]})
    def get_failure(self, run: StockingRun) -> dict[str, Any] | None:
        failure = failure_of(run)
        return failure.as_json() if failure else None

    def get_waiting(self, run: StockingRun) -> bool:
        return run.state == RunState.RUNNING and run.alive_at is None


class StartRunSerializer(BodySerializer):
    """`is_full` calculates everything again, even where no input changed."""

    is_full = StrictBooleanField(required=False, default=False)


class StockingRunFilter(StrictFilterSet):
    state = WordsFilter(choices=RunState.values)
    is_full = TruthFilter()
    moments = {"started_at": "", "as_of": ""}


class StockingRunViewSet(ReadOnlyResourceViewSet):
    """One run at a time; another is refused until it ends."""

    queryset = StockingRun.objects.all()
    serializer_class = StockingRunSerializer
    filterset_class = StockingRunFilter
    ordering_fields = ["id", "started_at"]
    ordering = "-id"
    write_roles = (Role.MANAGER,)

    @extend_schema(request=StartRunSerializer, responses={202: StockingRunSerializer}, parameters=ACCEPTED)
    @idempotent()
    def create(self, request: Request) -> HttpResponseBase:
        """Start a run over every part in every storeroom."""
        body = StartRunSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        try:
            run, job = request_recompute(requester_of(request), **body.validated_data)
        except RunRefused as refusal:
            raise state_refusal(refusal) from refusal
        address = reverse("stocking-run", kwargs={"pk": run.pk})
        return accepted(request, self.represent(run), address=address, job=job)


STOCKING_RUNS = [
    path(
        "stocking/runs/",
        StockingRunViewSet.as_view({"get": "list", "post": "create"}),
        name="stocking-runs",
    ),
    path("stocking/runs/<int:pk>/", StockingRunViewSet.as_view({"get": "retrieve"}), name="stocking-run"),
]
