"""Background jobs: each is seen by callers with the scope in which it works, and by those without limits."""

from django.db.models import Q

from api.edge.declarations import Scope
from api.edge.scope import scope_key
from api.models import BackgroundJob
from api.wire.declaration import WireRecord, declare
from inventory.models.access_scope import AccessScope


def same_scope(scope: AccessScope) -> Q:
    return Q(scope_key=scope_key(scope))


BACKGROUND_JOBS = declare(
    WireRecord(BackgroundJob, path="jobs", scope=Scope(rule=same_scope), is_logged=False)
)
