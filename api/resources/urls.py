"""Addresses of the resources, below /api/v1/."""

from django.urls import URLPattern, URLResolver, path
from rest_framework.routers import SimpleRouter

from api.resources import drives, items, positions, specifications, stock_policies  # noqa: F401 - views of their own
from api.resources.changes import ChangeViewSet
from api.resources.code_words import CodeWordViewSet
from api.resources.count_tasks import CountTaskViewSet
from api.resources.events import EventListView
from api.resources.fit_questions import FitQuestionViewSet
from api.resources.imports import IMPORTS
from api.resources.inbound_messages import InboundMessageViewSet
from api.resources.inspections import InspectionViewSet
from api.resources.installations import InstallationViewSet
from api.resources.kits import KitViewSet
from api.resources.meter_readings import METER_READINGS
from api.resources.movements import MovementViewSet
from api.resources.recommendations import RecommendationViewSet
from api.resources.reorder_list import ReorderListView
from api.resources.requests import RequestViewSet
from api.resources.reservations import ReservationViewSet
from api.resources.stock import StockViewSet
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
router.register("stock", StockViewSet, basename="stock")
router.register("movements", MovementViewSet, basename="movement")
router.register("fit-questions", FitQuestionViewSet, basename="fit-question")
router.register("count-tasks", CountTaskViewSet, basename="count-task")
router.register("kits", KitViewSet, basename="kit")
router.register("reservations", ReservationViewSet, basename="reservation")
router.register("installations", InstallationViewSet, basename="installation")
router.register("inspections", InspectionViewSet, basename="inspection")
router.register("requests", RequestViewSet, basename="request")
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
