"""Addresses of the answers, below /api/v1/."""

from django.urls import path

from api.answers.assortment import HolesView, InsuranceView, OrphansView, VarietyView
from api.answers.backtest import BackTestView
from api.answers.calculate import CalculateView
from api.answers.chains import ChainListView, ChainView, ToothFormView
from api.answers.check import CheckView
from api.answers.demand_settings import DemandSettingsView
from api.answers.descriptions import DescriptionsReadView, ItemDescriptionsView
from api.answers.exposure import ExposureView, PositionExposureView
from api.answers.false_fits import FalseFitsView
from api.answers.figures import FiguresView, FigureView
from api.answers.frontier import (
    FrontierBuysView,
    FrontierDrivesView,
    FrontierLeftOutView,
    FrontierView,
)
from api.answers.identify import IdentifyView
from api.answers.measuring import MeasureNextView
from api.answers.pairs import PairsView
from api.answers.readiness import ReadinessView
from api.answers.receiving import ReceivingView
from api.answers.reliability import FitView
from api.answers.stocking import EvaluateView
from api.answers.substitutes import ItemSubstitutesView, PositionSubstitutesView

urlpatterns = [
    path("assortment/holes/", HolesView.as_view(), name="assortment-holes"),
    path("assortment/insurance/", InsuranceView.as_view(), name="assortment-insurance"),
    path("assortment/measure-next/", MeasureNextView.as_view(), name="assortment-measure-next"),
    path("assortment/orphans/", OrphansView.as_view(), name="assortment-orphans"),
    path("assortment/variety/", VarietyView.as_view(), name="assortment-variety"),
    path("chains/", ChainListView.as_view(), name="chains"),
    path("chains/<str:designation>/", ChainView.as_view(), name="chain"),
    path("chains/<str:designation>/tooth-form/", ToothFormView.as_view(), name="tooth-form"),
    path("descriptions/read/", DescriptionsReadView.as_view(), name="descriptions-read"),
    path("drives/calculate/", CalculateView.as_view(), name="drives-calculate"),
    path("drives/<path:tag>/substitute-pairs/", PairsView.as_view(), name="drive-substitute-pairs"),
    path("exposure/", ExposureView.as_view(), name="exposure"),
    path("figures/", FiguresView.as_view(), name="figures"),
    path("figures/<slug:name>/", FigureView.as_view(), name="figure"),
    path("false-fits/", FalseFitsView.as_view(), name="false-fits"),
    path("identify/", IdentifyView.as_view(), name="identify"),
    path("identify/receiving/", ReceivingView.as_view(), name="identify-receiving"),
    path("interchange/check/", CheckView.as_view(), name="interchange-check"),
    path("items/<path:key>/descriptions/", ItemDescriptionsView.as_view(), name="item-descriptions"),
    path("items/<path:key>/substitutes/", ItemSubstitutesView.as_view(), name="item-substitutes"),
    path("reliability/fit/", FitView.as_view(), name="reliability-fit"),
    path("positions/<path:tag>/exposure/", PositionExposureView.as_view(), name="position-exposure"),
    path("positions/<path:tag>/substitutes/", PositionSubstitutesView.as_view(), name="position-substitutes"),
    path(
        "work-orders/<str:source>/<path:external_id>/readiness/",
        ReadinessView.as_view(),
        name="work-order-readiness",
    ),
    path("stocking/backtest/", BackTestView.as_view(), name="stocking-backtest"),
    path("stocking/evaluate/", EvaluateView.as_view(), name="stocking-evaluate"),
    path("stocking/settings/", DemandSettingsView.as_view(), name="stocking-settings"),
    path("stocking/frontier/", FrontierView.as_view(), name="stocking-frontier"),
    path("stocking/frontier/buys/", FrontierBuysView.as_view(), name="stocking-frontier-buys"),
    path("stocking/frontier/drives/", FrontierDrivesView.as_view(), name="stocking-frontier-drives"),
    path("stocking/frontier/left-out/", FrontierLeftOutView.as_view(), name="stocking-frontier-left-out"),
]
