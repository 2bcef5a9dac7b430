"""How many to keep of one item, from a demand, a lead time and a target."""

import re
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

import numpy as np
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers.derived_members import CoreAnswerSerializer
from api.edge.checked_input import CurrencyField, KindField, SpanField, refusals_at
from api.edge.parsing import StrictChoiceField, StrictIntegerField, StrictSerializer
from api.edge.viewsets import StrictAPIView
from api.wire.serializers import BodySerializer, MemberErrors
from drives.demand.renewal_demand import renewal_demand
from drives.reliability.lifetimes import LONGEST_HOURS
from drives.reliability.renewal_forecast import LEAST_SHAPE, MOST_SHAPE
from drives.service_record.history import HOURS_PER_YEAR
from inventory.facts import Fact, fact
from inventory.number_checks import SMALLEST_QUANTITY
from inventory.stocking.demand_models import (
    LARGEST_RATE_PER_YEAR,
    METHODS,
    MOST_PIECES_PER_DEMAND,
    Demand,
    GammaPoissonDemand,
    IntermittentDemand,
    PoissonDemand,
)
from inventory.stocking.evaluate import LARGEST_ORDER_QUANTITY, LONGEST_LEAD_TIME_DAYS, Evaluation, evaluate
from inventory.stocking.targets import SERVICE_KINDS, LeastCostTarget, ServiceLevelTarget, StockingTarget

MOST_UNITS = 10_000
MOST_PERIODS = 5_000
LARGEST_SCALE_HOURS = 1e9
# Hours run and periods in a year, and hours of a life: less is none.
LEAST_MEASURE = 0.01
LARGEST_COUNT = 1e9
LARGEST_MONEY = 1e12
LARGEST_HOLDING_RATE = 100
LONGEST_EXPEDITE_HOURS = HOURS_PER_YEAR
MOST_CHANCES = 2_000
CHANCE_LEFT_OUT = 1e-12
AMOUNT = re.compile(r"-?[0-9]{1,20}(\.[0-9]{1,10})?")


class PoissonSerializer(StrictSerializer):
    model = StrictChoiceField(choices=["poisson"])
    rate_per_year = SpanField(min_value=0, max_value=LARGEST_RATE_PER_YEAR)


class GammaPoissonSerializer(StrictSerializer):
    model = StrictChoiceField(choices=["gamma_poisson"])
    events = SpanField(min_value=0, max_value=LARGEST_COUNT)
    exposure_years = SpanField(min_value=0, max_value=LARGEST_COUNT)
    prior_shape = SpanField(min_value=SMALLEST_QUANTITY, max_value=LARGEST_COUNT)
    prior_exposure_years = SpanField(min_value=SMALLEST_QUANTITY, max_value=LARGEST_COUNT)


class WeibullRenewalSerializer(StrictSerializer):
    model = StrictChoiceField(choices=["weibull_renewal"])
    shape = SpanField(min_value=LEAST_SHAPE, max_value=MOST_SHAPE)
    scale_hours = SpanField(min_value=LEAST_MEASURE, max_value=LARGEST_SCALE_HOURS)
    ages_hours = serializers.ListField(
        child=SpanField(min_value=0, max_value=LONGEST_HOURS),
        allow_empty=False,
        max_length=MOST_UNITS,
        help_text="Present age of each unit installed, in hours run.",
    )
    hours_per_year = SpanField(min_value=LEAST_MEASURE, max_value=HOURS_PER_YEAR)
    horizon_days = SpanField(
        min_value=0,
        max_value=LONGEST_LEAD_TIME_DAYS,
        default=0.0,
        help_text="Days for which the answer has to hold: of the lead times that begin within them the busiest counts."
        " 0: only the one that begins now.",
    )


class IntermittentSerializer(StrictSerializer):
    model = StrictChoiceField(choices=["intermittent"])
    series = serializers.ListField(
        child=StrictIntegerField(min_value=0, max_value=MOST_PIECES_PER_DEMAND),
        allow_empty=False,
        max_length=MOST_PERIODS,
        help_text="Pieces requested in each period, the oldest first.",
    )
    periods_per_year = SpanField(min_value=LEAST_MEASURE, max_value=HOURS_PER_YEAR)
    method = StrictChoiceField(choices=METHODS)


DEMANDS: dict[str, type[StrictSerializer]] = {
    "poisson": PoissonSerializer,
    "gamma_poisson": GammaPoissonSerializer,
    "weibull_renewal": WeibullRenewalSerializer,
    "intermittent": IntermittentSerializer,
}


@extend_schema_field(
    {
        "oneOf": [
            {"type": "string", "pattern": "^[0-9]{1,12}(\\.[0-9]{1,10})?$"},
            {"type": "number", "minimum": 0, "maximum": LARGEST_MONEY},
        ]
    }
)
class PriceField(SpanField):
    """An amount as a decimal string, as everywhere; a plain number is taken too."""

    default_error_messages = {"invalid": 'An amount is expected here, such as "12.50".'}

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_value=LARGEST_MONEY, **kwargs)

    def to_internal_value(self, data: Any) -> float:
        if isinstance(data, str) and AMOUNT.fullmatch(data):
            data = float(data)
        return super().to_internal_value(data)


class ServiceSerializer(StrictSerializer):
    kind = StrictChoiceField(choices=SERVICE_KINDS)
    value = SpanField(above=0, below=1)


class CostSerializer(StrictSerializer):
    kind = StrictChoiceField(choices=["cost"])
    unit_cost = PriceField(min_value=SMALLEST_QUANTITY)
    holding_rate_per_year = SpanField(
        min_value=SMALLEST_QUANTITY, max_value=LARGEST_HOLDING_RATE, help_text="Share of the unit cost."
    )
    downtime_cost_per_hour = PriceField(min_value=0)
    hours_to_expedite = SpanField(min_value=0, max_value=LONGEST_EXPEDITE_HOURS)
    order_cost = PriceField(min_value=0, default=0.0)
    currency = CurrencyField(required=False, allow_null=True, help_text="Of every amount.")


TARGETS: dict[str, type[StrictSerializer]] = {
    **dict.fromkeys(SERVICE_KINDS, ServiceSerializer),
    "cost": CostSerializer,
}


class EvaluateBodySerializer(BodySerializer):
    demand = KindField(DEMANDS, by="model", component="StockingDemand")
    lead_time_days = SpanField(above=0, max_value=LONGEST_LEAD_TIME_DAYS)
    lead_time_sd_days = SpanField(
        min_value=0,
        max_value=LONGEST_LEAD_TIME_DAYS,
        default=0.0,
        help_text="Above 0 the lead time is gamma and orders do not cross.",
    )
    order_quantity = StrictIntegerField(
        min_value=1,
        max_value=LARGEST_ORDER_QUANTITY,
        required=False,
        allow_null=True,
        help_text="Pieces ordered at once; with a cost as target it may be left out: the order cost then chooses it.",
    )
    target = KindField(TARGETS, by="kind", component="StockingTarget")

    def check_members(self, values: dict[str, Any], faults: MemberErrors) -> MemberErrors:
        target = self.initial_data.get("target")
        kind = target.get("kind") if isinstance(target, dict) else None
        if values.get("order_quantity") is None and kind in SERVICE_KINDS:
            return {"order_quantity": ["Give how many are ordered at once; 1 is one for one."]}
        return {}


class EvaluationSerializer(CoreAnswerSerializer):
    of = Evaluation
    members = (
        "reasons stocked reorder_point order_up_to expected_lead_time_demand lead_time_demand "
        "cycle_service_level fill_rate no_backorder expected_backorders expected_stockouts_per_year annual_cost currency"
    )
    texts = {
        "stocked": "False: keep none, and order when one is requested; order_up_to is then 0 and reorder_point -1.",
        "reorder_point": "Order when on hand + on order - reserved has fallen to it.",
        "cycle_service_level": "P(lead-time demand <= reorder point)",
        "fill_rate": "Share of the demand met from the shelf.",
        "no_backorder": "P(lead-time demand <= order-up-to)",
        "expected_backorders": "At the order-up-to level.",
        "expected_stockouts_per_year": "Pieces requested in a year that are not on the shelf.",
    }
    lead_time_demand = serializers.ListField(
        child=serializers.FloatField(),
        help_text="Chances of 0, 1, 2, … pieces over a lead time; at most 2,000 are listed.",
    )
    annual_cost = serializers.CharField(
        allow_null=True, help_text="Of holding, ordering and downtime; null where no prices were given."
    )
    currency = serializers.CharField(allow_null=True)


def demand_of(body: Mapping[str, Any]) -> Demand:
    given = {name: value for name, value in body["demand"].items() if name != "model"}
    match body["demand"]["model"]:
        case "poisson":
            return PoissonDemand(**given)
        case "gamma_poisson":
            return GammaPoissonDemand(**given)
        case "intermittent":
            return IntermittentDemand(**given)
    varies = body["lead_time_sd_days"] > 0
    return renewal_demand(**given, lead_time_days=body["lead_time_days"], lead_time_varies=varies)


def target_of(body: Mapping[str, Any]) -> StockingTarget:
    given = {name: value for name, value in body["target"].items() if name not in ("kind", "currency")}
    kind = body["target"]["kind"]
    return LeastCostTarget(**given) if kind == "cost" else ServiceLevelTarget(kind=kind, **given)


def places(body: Mapping[str, Any]) -> dict[str, str]:
    """Where each parameter of the cores stands in the body; what follows from several members is the object's."""
    return {
        **{name: f"/demand/{name}" for name in body["demand"]},
        **{name: f"/target/{name}" for name in body["target"]},
        **{name: f"/{name}" for name in ("lead_time_days", "lead_time_sd_days", "order_quantity")},
    }


def listed(answer: Evaluation) -> tuple[list[float], tuple[Fact, ...]]:
    """The chances to where what is left no longer matters, and a reason where the list ends before that."""
    chances = answer.lead_time_demand
    left = np.append(np.cumsum(chances[::-1])[::-1][1:], 0.0)
    whole = int(np.argmax(left < CHANCE_LEFT_OUT)) + 1
    shown = min(whole, MOST_CHANCES)
    if shown == whole:
        return chances[:shown].tolist(), ()
    return chances[:shown].tolist(), (
        fact("chances_cut_short", listed=shown, chance_of_more=float(left[shown - 1])),
    )


def evaluation_json(body: Mapping[str, Any]) -> dict[str, Any]:
    answer = evaluate(
        demand_of(body),
        body["lead_time_days"],
        body["lead_time_sd_days"],
        body.get("order_quantity"),
        target_of(body),
    )
    chances, cut = listed(answer)
    return {
        **{field.name: getattr(answer, field.name) for field in fields(answer)},
        "lead_time_demand": chances,
        "annual_cost": None if answer.annual_cost is None else f"{answer.annual_cost:.2f}",
        "currency": body["target"].get("currency"),
        "reasons": (*answer.reasons, *cut),
    }


class EvaluateView(StrictAPIView):
    """Stateless; nothing is stored. A year is 365 days and 8,760 hours."""

    @extend_schema(request=EvaluateBodySerializer, responses=EvaluationSerializer)
    def post(self, request: Request) -> Response:
        body = self.read(EvaluateBodySerializer, request)
        with refusals_at(places(body), "/demand"):
            answer = evaluation_json(body)
        return Response(EvaluationSerializer(answer).data)
