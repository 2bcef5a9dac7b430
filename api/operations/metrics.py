"""`/metrics`: what an operator is woken for, in the text format of Prometheus and OpenMetrics.

Signs are read from the database when they are asked for; requests are counted by each process into a folder that all
processes of a server share (`PROMETHEUS_MULTIPROC_DIR`, which the gunicorn settings make), and added up there.
"""

import os
import secrets
import time
from collections.abc import Iterable

from django.conf import settings
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.views.decorators.cache import never_cache
from prometheus_client import (
    CONTENT_TYPE_LATEST,
    REGISTRY,
    CollectorRegistry,
    Counter,
    Histogram,
    generate_latest,
)
from prometheus_client.metrics_core import GaugeMetricFamily, Metric
from prometheus_client.multiprocess import MultiProcessCollector

from api.edge.errors import ProblemResponse, problem
from api.edge.middleware import PROBES, Middleware
from api.operations.signs import signs

PREFIX = "spares"
REQUESTS = Counter(f"{PREFIX}_requests", "Requests answered.", ["method", "status"])
SECONDS = Histogram(
    f"{PREFIX}_request_seconds",
    "Seconds until a request was answered.",
    buckets=(0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 30),
)
METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})


class CountingMiddleware(Middleware):
    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if request.path_info in PROBES:
            return self.get_response(request)
        begun = time.perf_counter()
        response = self.get_response(request)
        method = request.method if request.method in METHODS else "other"
        REQUESTS.labels(method, f"{response.status_code // 100}xx").inc()
        SECONDS.observe(time.perf_counter() - begun)
        return response


class SignCollector:
    def collect(self) -> Iterable[Metric]:
        try:
            found = list(signs())
        except DatabaseError:
            found = []
        yield GaugeMetricFamily(
            f"{PREFIX}_database_answers", "1 while the database answers.", float(bool(found))
        )
        for sign in found:
            yield GaugeMetricFamily(f"{PREFIX}_{sign.name}", sign.meaning, sign.value)


@never_cache
def metrics(request: HttpRequest) -> HttpResponseBase:
    if not may_read(request):
        detail = "Send the METRICS_TOKEN of the settings as bearer token, or log in as an administrator."
        return ProblemResponse(
            problem(request, 401, detail), 401, {"WWW-Authenticate": 'Bearer realm="metrics"'}
        )
    registry = CollectorRegistry()
    registry.register(SignCollector())
    if "PROMETHEUS_MULTIPROC_DIR" in os.environ:
        MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
        counted = b""
    else:
        counted = generate_latest(REGISTRY)
    return HttpResponse(generate_latest(registry) + counted, content_type=CONTENT_TYPE_LATEST)


def may_read(request: HttpRequest) -> bool:
    kind, _, token = request.headers.get("Authorization", "").partition(" ")
    if settings.METRICS_TOKEN and kind.lower() == "bearer":
        return secrets.compare_digest(token.strip().encode(), settings.METRICS_TOKEN.encode())
    return request.user.is_authenticated and request.user.is_superuser
