"""For whoever watches the service: is it alive, and can it work?"""

import logging

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponseBase, JsonResponse
from django.views.decorators.cache import never_cache

from api.edge.errors import ProblemResponse, problem
from api.edge.log_lines import first_line, unless_away
from api.edge.replicas import REPLICAS
from api.operations.signs import signs

logger = logging.getLogger(__name__)
_applied = False


@never_cache
def healthz(request: HttpRequest) -> HttpResponseBase:
    return refuse_method(request) or JsonResponse({"status": "alive"})


@never_cache
def readyz(request: HttpRequest) -> HttpResponseBase:
    if refusal := refuse_method(request):
        return refusal
    try:
        waiting = f"Migrations are waiting; run `{settings.PROGRAM} migrate`."
        fault = "" if migrations_applied() else waiting
    except DatabaseError as error:
        logger.error("The database cannot be reached: %s", first_line(error), exc_info=unless_away(error))
        fault = "The database cannot be reached."
    if fault:
        return ProblemResponse(problem(request, 503, fault), 503, {"Retry-After": "5"})
    states = REPLICAS.states()
    body: dict[str, object] = {"status": "ready"} | ({"replicas": states} if states else {})
    if faults := {sign.name: sign.fault for sign in signs() if sign.fault}:
        # Answers 200: a server that is taken out because no scheduler works, or nothing can be written, answers no reader.
        body |= {"status": "degraded", "faults": faults}
    return JsonResponse(body)


def refuse_method(request: HttpRequest) -> HttpResponseBase | None:
    if request.method in ("GET", "HEAD"):
        return None
    body = problem(request, 405, "This address can only be read.")
    return ProblemResponse(body, 405, {"Allow": "GET, HEAD"})


def migrations_applied() -> bool:
    """Once true it stays so for this process; the database is queried each time."""
    global _applied
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    if not _applied:
        executor = MigrationExecutor(connection)
        _applied = not executor.migration_plan(executor.loader.graph.leaf_nodes())
    return _applied
