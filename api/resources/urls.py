"""Addresses of the resources, below /api/v1/."""

from django.urls import URLPattern, URLResolver, path
from rest_framework.routers import SimpleRouter

from api.resources.areas import AreaViewSet
from api.resources.bins import BinViewSet
from api.resources.changes import ChangeViewSet
from api.resources.code_words import CodeWordViewSet
from api.resources.count_tasks import CountTaskViewSet
from api.resources.drives import DriveViewSet
from api.resources.equipment import EquipmentViewSet
from api.resources.events import EventListView
from api.resources.fit_questions import FitQuestionViewSet
from api.resources.imports import IMPORTS
from api.resources.inbound_messages import InboundMessageViewSet
from api.resources.inspections import InspectionViewSet
from api.resources.installations import InstallationViewSet
from api.resources.items import ItemViewSet
from api.resources.kits import KitViewSet
from api.resources.machine_shops import MachineShopViewSet
from api.resources.meter_readings import METER_READINGS
from api.resources.movements import MovementViewSet
from api.resources.opening_hours import OpeningHoursViewSet
from api.resources.plants import PlantViewSet
from api.resources.positions import PositionViewSet
from api.resources.recommendations import RecommendationViewSet
from api.resources.reorder_list import ReorderListView
from api.resources.requests import RequestViewSet
from api.resources.reservations import ReservationViewSet
from api.resources.rules import RuleViewSet
from api.resources.service_targets import ServiceTargetViewSet
from api.resources.shop_times import ShopTimeViewSet
from api.resources.specifications import SpecificationViewSet
from api.resources.stock import StockViewSet
from api.resources.stock_policies import StockPolicyViewSet
from api.resources.stocking_runs import STOCKING_RUNS
from api.resources.stocking_terms import TERMS
from api.resources.storerooms import StoreroomViewSet
from api.resources.supply_orders import SUPPLY_ORDERS
from api.resources.transfer_times import TransferTimeViewSet
from api.resources.webhooks import WebhookViewSet
from api.resources.work_orders import WORK_ORDERS

router = SimpleRouter()
router.register("specifications", SpecificationViewSet, basename="specification")
router.register("items", ItemViewSet, basename="item")
router.register("storerooms", StoreroomViewSet, basename="storeroom")
router.register("bins", BinViewSet, basename="bin")
router.register("machine-shops", MachineShopViewSet, basename="machine-shop")
router.register("opening-hours", OpeningHoursViewSet, basename="opening-hours")
router.register("transfer-times", TransferTimeViewSet, basename="transfer-time")
router.register("shop-times", ShopTimeViewSet, basename="shop-time")
router.register("rules", RuleViewSet, basename="rule")
router.register("stock", StockViewSet, basename="stock")
router.register("movements", MovementViewSet, basename="movement")
router.register("fit-questions", FitQuestionViewSet, basename="fit-question")
router.register("count-tasks", CountTaskViewSet, basename="count-task")
router.register("kits", KitViewSet, basename="kit")
router.register("reservations", ReservationViewSet, basename="reservation")
router.register("plants", PlantViewSet, basename="plant")
router.register("areas", AreaViewSet, basename="area")
router.register("equipment", EquipmentViewSet, basename="equipment")
router.register("drives", DriveViewSet, basename="drive")
router.register("positions", PositionViewSet, basename="position")
router.register("installations", InstallationViewSet, basename="installation")
router.register("inspections", InspectionViewSet, basename="inspection")
router.register("requests", RequestViewSet, basename="request")
router.register("stock-policies", StockPolicyViewSet, basename="stock-policy")
router.register("service-targets", ServiceTargetViewSet, basename="service-target")
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
    *TERMS,
    *router.urls,
]
