"""Recomputes: begun with 202, told at the address in Location how far they are."""

from functools import partial

from django.http import HttpResponseBase
from django.urls import path, reverse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request

from api.edge.auth import caller_name
from api.edge.errors import Conflict
from api.edge.filtering import StrictFilterSet, TruthFilter, WordsFilter
from api.edge.idempotency import idempotent
from api.edge.parsing import StrictBooleanField, StrictCharField, StrictModelSerializer
from api.edge.viewsets import ReadOnlyResourceViewSet
from api.models import Role
from api.operations.after_response import AnswerThenWork
from api.wire.serializers import ActSerializer
from drives.demand.recompute import recompute
from inventory.models import RunState, StockingRun
from inventory.planning.runs import RunRefused, announce_run

LOCATION = OpenApiParameter(
    "Location",
    OpenApiTypes.URI,
    OpenApiParameter.HEADER,
    response=[202],
    description="Where it is told how far the run is.",
)


class StockingRunSerializer(StrictModelSerializer):
    """`done` of `total` places are through; `recomputed` were worked out anew, `changed` differ from what is set."""

    started_by = StrictCharField(source="started_by_name", read_only=True)
    waiting = serializers.SerializerMethodField(help_text="It was asked for and has not begun yet.")

    class Meta:
        model = StockingRun
        fields = [
            *("id", "state", "waiting", "as_of", "is_full", "total", "done", "recomputed", "changed"),
            *("started_at", "finished_at", "started_by", "error"),
        ]
        read_only_fields = fields

    def get_waiting(self, run: StockingRun) -> bool:
        return run.state == RunState.RUNNING and run.alive_at is None


class StartRunSerializer(ActSerializer):
    """`is_full` works out anew even what no input changed."""

    is_full = StrictBooleanField(required=False, default=False)


class StockingRunFilter(StrictFilterSet):
    state = WordsFilter(choices=RunState.values)
    is_full = TruthFilter()
    moments = {"started_at": "", "as_of": ""}


class StockingRunViewSet(ReadOnlyResourceViewSet):
    """One run goes at a time; another is refused while it does."""

    queryset = StockingRun.objects.all()
    serializer_class = StockingRunSerializer
    filterset_class = StockingRunFilter
    ordering_fields = ["id", "started_at"]
    ordering = "-id"
    write_roles = (Role.MANAGER,)

    @extend_schema(request=StartRunSerializer, responses={202: StockingRunSerializer}, parameters=[LOCATION])
    def create(self, request: Request) -> HttpResponseBase:
        """Begin a recompute of every part in every storeroom."""
        self.begun: StockingRun | None = None
        answer = self.take(request)
        run = self.begun
        if run is not None and isinstance(answer, AnswerThenWork):
            answer.work = partial(recompute, as_of=run.as_of, by=run.started_by_name, is_full=run.is_full)
        return answer

    create.idempotency = "optional"  # type: ignore[attr-defined]

    @idempotent()
    def take(self, request: Request) -> HttpResponseBase:
        """Keep that a run was asked for, before it begins: a second request with the key begins nothing."""
        said = StartRunSerializer(data=request.data)
        said.is_valid(raise_exception=True)
        try:
            run = announce_run(as_of=timezone.now(), by=caller_name(request), **said.validated_data)
        except RunRefused as refusal:
            raise Conflict(str(refusal)) from refusal
        self.begun = run
        location = request.build_absolute_uri(reverse("stocking-run", kwargs={"pk": run.pk}))
        return AnswerThenWork(
            self.represent(run), status=status.HTTP_202_ACCEPTED, headers={"Location": location}
        )


STOCKING_RUNS = [
    path(
        "stocking/runs/",
        StockingRunViewSet.as_view({"get": "list", "post": "create"}),
        name="stocking-runs",
    ),
    path("stocking/runs/<int:pk>/", StockingRunViewSet.as_view({"get": "retrieve"}), name="stocking-run"),
]
