"""Background jobs: calculations, imports and stocking runs, with their state and progress."""

from typing import Any

from api.edge.filtering import WordsFilter
from api.edge.reading import follow
from api.models import BackgroundJob
from api.operations.jobs.accepted import BackgroundJobSerializer
from api.operations.jobs.kinds import kind_names
from api.wire.records.background_jobs import BACKGROUND_JOBS
from api.wire.views import ReadRecordViewSet, filterset_of


class BackgroundJobFilter(filterset_of(BACKGROUND_JOBS)):  # type: ignore[misc]
    kind = WordsFilter(choices=kind_names())


class BackgroundJobViewSet(ReadRecordViewSet):
    """Jobs that were requested by callers who may see the same plants and storerooms."""

    record = BACKGROUND_JOBS
    queryset = BackgroundJob.objects.defer("answer")
    serializer_class = BackgroundJobSerializer
    filterset_class = BackgroundJobFilter
    lookup_path = "<int:pk>"

    def get_object(self) -> Any:
        job = super().get_object()
        follow(job.finished_at)
        return job
