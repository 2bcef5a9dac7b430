"""Addresses of the resources, below /api/v1/."""

from django.urls import URLPattern, URLResolver, path
from rest_framework.routers import SimpleRouter

from api.resources import (  # noqa: F401 - views of their own
    code_words,
    count_tasks,
    drives,
    fit_questions,
    inbound_messages,
    inspections,
    installations,
    items,
    kits,
    movements,
    positions,
    recommendations,
    requests,
    reservations,
    specifications,
    stock,
    stock_policies,
)
from api.resources.background_jobs import BACKGROUND_JOBS
from api.resources.events import EventListView
from api.resources.imports import IMPORTS
from api.resources.meter_readings import METER_READING_URLS
from api.resources.reorder_list import ReorderListView
from api.resources.stocking_runs import STOCKING_RUNS
from api.resources.stocking_terms import STOCKING_TERMS
from api.resources.supply_orders import SUPPLY_ORDER_URLS
from api.resources.webhooks import WebhookViewSet
from api.resources.work_orders import WORK_ORDER_URLS
from api.wire.declaration import wire_records
from api.wire.views import view_of

router = SimpleRouter()
for record in wire_records():
    # Records that other systems send have addresses of their own, with their source and number.
    if record.listed and "source" not in record.key_fields:
        router.register(record.path, view_of(record), basename=record.basename)
router.register("webhooks", WebhookViewSet, basename="webhook")

urlpatterns: list[URLPattern | URLResolver] = [
    *BACKGROUND_JOBS,
    *IMPORTS,
    path("events/", EventListView.as_view(), name="events"),
    path("reorder-list/", ReorderListView.as_view(), name="reorder-list"),
    *STOCKING_RUNS,
    *SUPPLY_ORDER_URLS,
    *WORK_ORDER_URLS,
    *METER_READING_URLS,
    *STOCKING_TERMS,
    *router.urls,
]
