"""Background jobs: calculations, imports and stocking runs, with their state and progress."""

from django.urls import path

from api.edge.filtering import StrictFilterSet, WordsFilter
from api.edge.viewsets import ReadOnlyResourceViewSet
from api.models import BackgroundJob, JobState
from api.operations.jobs.accepted import BackgroundJobSerializer
from api.operations.jobs.kinds import kind_names


class BackgroundJobFilter(StrictFilterSet):
    kind = WordsFilter(choices=kind_names())
    state = WordsFilter(choices=JobState.values)
    moments = {"requested_at": ""}


class BackgroundJobViewSet(ReadOnlyResourceViewSet):
    """Jobs that were requested by callers who may see the same plants and storerooms."""

    queryset = BackgroundJob.objects.defer("answer")
    serializer_class = BackgroundJobSerializer
    filterset_class = BackgroundJobFilter
    ordering_fields = ["id", "requested_at"]
    ordering = "-id"


BACKGROUND_JOBS = [
    path("jobs/", BackgroundJobViewSet.as_view({"get": "list"}), name="jobs"),
    path("jobs/<int:pk>/", BackgroundJobViewSet.as_view({"get": "retrieve"}), name="job"),
]
