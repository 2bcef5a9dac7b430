"""Background jobs: each is seen by callers with the scope in which it works, and by those without limits."""

from django.db.models import Q

from api.edge.declarations import Scope
from api.edge.scope import scope_key
from api.models import BackgroundJob
from api.wire.declaration import ListForm, WireRecord, declare
from inventory.models.access_scope import AccessScope


def same_scope(scope: AccessScope) -> Q:
    return Q(scope_key=scope_key(scope))


BACKGROUND_JOBS = declare(
    WireRecord(
        BackgroundJob,
        path="jobs",
        scope=Scope(rule=same_scope),
        is_logged=False,
        fields=(
            "id kind parameters state done total requested_by requested_at started_at finished_at expected_seconds error "
            "href result"
        ),
        listed=ListForm(filters="state", moments="requested_at", sortable="id requested_at", ordering="-id"),
    )
)
