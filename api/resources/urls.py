"""Addresses of the resources, below /api/v1/."""

from django.urls import URLPattern, URLResolver, path
from rest_framework.routers import SimpleRouter

from api.resources import (  # noqa: F401 - views of their own
    count_tasks,
    drives,
    fit_questions,
    inspections,
    installations,
    items,
    kits,
    movements,
    positions,
    requests,
    reservations,
    specifications,
    stock,
    stock_policies,
)
from api.resources.changes import ChangeViewSet
from api.resources.code_words import CodeWordViewSet
from api.resources.events import EventListView
from api.resources.imports import IMPORTS
from api.resources.inbound_messages import InboundMessageViewSet
from api.resources.meter_readings import METER_READINGS
from api.resources.recommendations import RecommendationViewSet
from api.resources.reorder_list import ReorderListView
from api.resources.stocking_runs import STOCKING_RUNS
from api.resources.stocking_terms import STOCKING_TERMS
from api.resources.supply_orders import SUPPLY_ORDERS
from api.resources.webhooks import WebhookViewSet
from api.resources.work_orders import WORK_ORDERS
from api.wire.declaration import wire_records
from api.wire.views import view_of

router = SimpleRouter()
for record in wire_records():
    if record.listed:
        router.register(record.path, view_of(record), basename=record.basename)
router.register("changes", ChangeViewSet, basename="change")
router.register("recommendations", RecommendationViewSet, basename="recommendation")
router.register("webhooks", WebhookViewSet, basename="webhook")
router.register("code-words", CodeWordViewSet, basename="code-word")
router.register("inbound-messages", InboundMessageViewSet, basename="inbound-message")

urlpatterns: list[URLPattern | URLResolver] = [
    *IMPORTS,
    path("events/", EventListView.as_view(), name="events"),
    path("reorder-list/", ReorderListView.as_view(), name="reorder-list"),
    *STOCKING_RUNS,
    *SUPPLY_ORDERS,
    *WORK_ORDERS,
    *METER_READINGS,
    *STOCKING_TERMS,
    *router.urls,
]
