"""What to buy next for a budget, and how today's stock compares with the best for its money."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any, ClassVar
from urllib.parse import urlencode

from django import forms
from django.urls import reverse
from django.utils import timezone
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param

from api.answers.calculated_answers import AsOfSerializer, CalculatedQuery, calculated, found_or_accepted
from api.answers.derived_members import CoreAnswerSerializer
from api.answers.frontier_lists import (
    BUYS,
    DRIVES,
    FIRST_LINES,
    LEFT_OUT,
    Budget,
    LeftOutSum,
    budget_lines,
    without_lists,
)
from api.edge.filtering import NumberText, Range
from api.edge.parsing import MoneyField
from api.edge.scope import ELSEWHERE
from api.edge.viewsets import StrictAPIView
from api.operations.jobs.accepted import ACCEPTED
from api.operations.jobs.calculations import Calculated, declare_calculation
from api.wire.facts import FactValuesField, SentenceField
from drives.demand.stored_needs import stored_needs
from drives.models import Position
from inventory.models import Storeroom
from inventory.models.access_scope import current_scope
from inventory.planning.budget_frontier import (
    DriveDowntime,
    Frontier,
    FrontierBuy,
    PartDowntime,
    PartLeftOut,
    Point,
    StockValue,
    frontier,
)
from inventory.planning.policy_inputs import Need
from inventory.planning.recorded_waits import RecordedWaits
from inventory.progress import Progress, stretches, unreported
from inventory.stores.lead_times import emergency_hours, lead_times

LARGEST_BUDGET = 1e9


@extend_schema_field({"type": "string"})
class StoreroomCodeField(serializers.Field[Any, Any, Any, Any]):
    def to_representation(self, value: int) -> str:
        return str(self.context["storerooms"][value])


class PointSerializer(CoreAnswerSerializer):
    of: ClassVar[type] = Point
    members = "spend downtime_hours_per_year downtime_cost_per_year"
    spend = MoneyField(max_digits=30)
    downtime_cost_per_year = MoneyField()


class BuySerializer(PointSerializer):
    of = FrontierBuy
    members = f"{PointSerializer.members} item=stock_number storeroom pieces stock_after unit_cost break_even"
    texts = {
        "stock_after": "On hand + on order - reserved, with this buy.",
        "break_even": "Of the first spare: from which price, rate and number of positions it pays.",
    }
    storeroom = StoreroomCodeField(source="storeroom_id")
    unit_cost = MoneyField()


class LeftOutSerializer(CoreAnswerSerializer):
    of = PartLeftOut
    members = "item=stock_number storeroom code=reason.code values explanation"
    storeroom = StoreroomCodeField(source="storeroom_id")
    values = FactValuesField(source="reason")
    explanation = SentenceField(source="reason")


class PartDowntimeSerializer(CoreAnswerSerializer):
    of = PartDowntime
    members = (
        "position item=stock_number storeroom downtime_hours_per_year downtime_cost_per_year is_priced stock stops_per_year "
        "hours_to_expedite cost_of_recorded_stops"
    )
    texts = {
        "is_priced": "False: the drive counts with the mean of the other drives of this part.",
        "stock": "On hand + on order - reserved; of chain in jobs.",
        "hours_to_expedite": "From a stop without stock to an emergency delivery; null: it waits for an ordinary one.",
        "cost_of_recorded_stops": "Of the cost, that of the stops on record; the rest is for those that may come first.",
    }
    storeroom = StoreroomCodeField(source="storeroom_id")
    downtime_cost_per_year, cost_of_recorded_stops = MoneyField(), MoneyField()


class DriveDowntimeSerializer(CoreAnswerSerializer):
    """`parts` add up to the drive, and the drives to the downtime with today's stock."""

    of = DriveDowntime
    members = "drive downtime_hours_per_year downtime_cost_per_year cost_of_recorded_stops parts"
    downtime_cost_per_year, cost_of_recorded_stops = MoneyField(), MoneyField()


class RecordedWaitsSerializer(CoreAnswerSerializer):
    """Stops for which no piece was there, each from its request to the issue of the part."""

    of = RecordedWaits
    members = "since until stops waits hours_per_year cost_per_year not_known without_price"
    texts = {
        "stops": "Jobs on record that stopped the drive, whether their parts were there or not.",
        "cost_per_year": "At what an hour of the drive costs today.",
        "not_known": "Waits whose end is not on record; they count no hours.",
        "without_price": "Waits of drives without a price in this currency; they count no money.",
    }
    cost_per_year = MoneyField()


class StockValueSerializer(CoreAnswerSerializer):
    """On shelves - on hold - reserved + on order = weighed + left out, at the unit cost of each item."""

    of = StockValue
    members = "on_shelves on_hold reserved on_order weighed left_out items_without_value"
    texts = {"on_shelves": "All that the ledger holds.", "weighed": "Of the parts that this budget weighs."}
    on_shelves, on_hold, reserved, on_order = MoneyField(), MoneyField(), MoneyField(), MoneyField()
    weighed, left_out = MoneyField(), MoneyField()


class LeftOutSumSerializer(CoreAnswerSerializer):
    of = LeftOutSum
    members = "code parts"


class ListSerializer(serializers.Serializer[Any]):
    count = serializers.IntegerField()
    next = serializers.URLField(allow_null=True, help_text="The next page of the list.")


class BuyListSerializer(ListSerializer):
    results = BuySerializer(many=True)


class DriveListSerializer(ListSerializer):
    results = DriveDowntimeSerializer(many=True)


class LeftOutListSerializer(ListSerializer):
    results = LeftOutSerializer(many=True)


class BuyPageSerializer(BuyListSerializer, AsOfSerializer):
    pass


class DrivePageSerializer(DriveListSerializer, AsOfSerializer):
    pass


class LeftOutPageSerializer(LeftOutListSerializer, AsOfSerializer):
    pass


class LeftOutSumsSerializer(LeftOutListSerializer):
    by_reason = LeftOutSumSerializer(many=True, help_text="They add up to `count`, in the order of the list.")


class FrontierSerializer(CoreAnswerSerializer, AsOfSerializer):
    """`spend` and downtime of each row are those of all buys up to it. Of each list the first lines; `next` goes on."""

    of = Budget
    members = (
        "as_of currency=frontier.currency budget buys further_buys=frontier.further_buys after_buys=frontier.after_buys "
        "today=frontier.today best_for_the_same_money=frontier.best_for_the_same_money curve=frontier.curve by_drive "
        "stock_value=frontier.stock_value left_out method=frontier.method recorded=frontier.recorded"
    )
    texts = {
        "further_buys": "Would follow within the budget, and are not listed.",
        "after_buys": "With all buys that are listed.",
        "today": "The value of the stock on hand and on order, and the downtime with it.",
        "curve": "From no stock on.",
    }
    budget = MoneyField(source="frontier.budget")
    buys, by_drive, left_out = BuyListSerializer(), DriveListSerializer(), LeftOutSumsSerializer()


class FrontierQuery(CalculatedQuery):
    budget = NumberText(
        span=Range(0, LARGEST_BUDGET), required=True, help_text="In the currency of the stocking terms."
    )


class FrontierListQuery(FrontierQuery):
    limit = NumberText(span=Range(1, 500, whole=True), required=False)
    after = NumberText(
        span=Range(0, 1e9, whole=True),
        required=False,
        help_text="The place in the list after which the page begins.",
    )


class LeftOutQuery(FrontierListQuery):
    code = forms.CharField(
        required=False, max_length=60, help_text="Only those left out for reasons of this code."
    )


def needs_for_caller(needs: Iterable[Need]) -> list[Need]:
    """Without the names of plants and storerooms that the caller may not see."""
    scope = current_scope()
    if scope.is_whole:
        return list(needs)
    others = Position.objects.exclude(drive__equipment__area__plant__in=scope.plants or ())
    rows = () if scope.plants is None else others.order_by().values_list("tag", "drive__tag")
    hidden = frozenset(name for row in rows for name in row)
    return [_renamed(need, hidden, scope.storerooms) for need in needs]


def _renamed(need: Need, hidden: frozenset[str], rooms: Collection[int] | None) -> Need:
    if need.downtime is not None:
        drives = tuple(
            replace(one, drive=ELSEWHERE, position=ELSEWHERE)
            if not hidden.isdisjoint((one.drive, one.position))
            else one
            for one in need.downtime.drives
        )
        need = replace(need, downtime=replace(need.downtime, drives=drives))
    if need.kept_in is not None and rooms is not None and need.kept_in.storeroom_id not in rooms:
        need = replace(need, kept_in=replace(need.kept_in, code=ELSEWHERE))
    return need


def calculate_frontier(budget: str, progress: Progress = unreported) -> Frontier:
    """From the needs and lead times of the last stocking run, and the stock of now."""
    loaded, weighed = stretches(progress, 1, 1)
    stored = stored_needs()
    as_of = stored.as_of or timezone.now()
    loaded(1, 1)
    found = frontier(
        needs_for_caller(stored.needs),
        lead_times=lead_times(as_of),
        emergencies=emergency_hours(as_of),
        budget=Decimal(budget),
        today=timezone.localdate(),
        storerooms=current_scope().storerooms,
        recorded=stored.waits,
        progress=weighed,
    )
    return replace(found, method=(stored.as_fact(), *found.method))


def parameters_of(budget: Decimal) -> dict[str, str]:
    """Equal sums have one answer, however they are written."""
    return {"budget": f"{budget.normalize():f}"}


FRONTIER = declare_calculation(
    "frontier",
    Budget,
    calculate_frontier,
    usual_seconds=10.0,
    address="stocking-frontier",
    without_lines=without_lists,
)


class FrontierView(StrictAPIView):
    """Purchases in the order of downtime cost avoided per unit of money, from the stock on hand and on order."""

    query_form = FrontierQuery

    @extend_schema(responses=calculated(FrontierSerializer), parameters=ACCEPTED)
    def get(self, request: Request) -> Response:
        answer = frontier_of(request, self.read_query())
        if isinstance(answer, Response):
            return answer
        first, budget = answer.found.frontier, answer.found
        shown = {
            "frontier": first,
            "buys": first_page(request, BUYS, first.buys, budget.buys),
            "by_drive": first_page(request, DRIVES, first.by_drive, budget.drives),
            "left_out": {
                **first_page(request, LEFT_OUT, first.left_out, budget.parts_left_out),
                "by_reason": budget.left_out,
            },
        }
        return Response(FrontierSerializer(shown, context=shown_with(answer)).data)


class FrontierListView(StrictAPIView):
    """A list of the budget, page by page; a newer `as_of` says that it was calculated again."""

    list: ClassVar[str]
    serializer: ClassVar[type[serializers.Serializer[Any]]]
    is_list = True
    query_form = FrontierListQuery

    def page(self, request: Request) -> Response:
        query = self.read_query()
        answer = frontier_of(request, query)
        if isinstance(answer, Response):
            return answer
        after, limit, code = int(query["after"] or 0), int(query["limit"] or FIRST_LINES), query.get("code")
        begin, end = answer.found.span(self.list, code or "")
        lines = budget_lines(answer, self.list, after, limit, code or "")
        is_last = begin + after + limit >= end
        shown = {
            "count": end - begin,
            "next": None if is_last else next_address(request, after + limit),
            "results": lines,
        }
        return self.listed(self.serializer(shown, context=shown_with(answer)))


class FrontierBuysView(FrontierListView):
    list, serializer = BUYS, BuyPageSerializer

    @extend_schema(responses=calculated(BuyPageSerializer), parameters=ACCEPTED)
    def get(self, request: Request) -> Response:
        return self.page(request)


class FrontierDrivesView(FrontierListView):
    list, serializer = DRIVES, DrivePageSerializer

    @extend_schema(
        responses=calculated(DrivePageSerializer),
        parameters=ACCEPTED,
    )
    def get(self, request: Request) -> Response:
        return self.page(request)


class FrontierLeftOutView(FrontierListView):
    list, serializer = LEFT_OUT, LeftOutPageSerializer
    query_form = LeftOutQuery

    @extend_schema(
        responses=calculated(LeftOutPageSerializer),
        parameters=ACCEPTED,
    )
    def get(self, request: Request) -> Response:
        return self.page(request)


def frontier_of(request: Request, wanted: Mapping[str, Any]) -> Calculated[Budget] | Response:
    parameters = parameters_of(wanted["budget"])
    return found_or_accepted(request, FRONTIER, parameters, calculated_after=wanted["calculated_after"])


def shown_with(answer: Calculated[Budget]) -> dict[str, Any]:
    return {"as_of": answer.as_of, "storerooms": dict(Storeroom.objects.values_list("pk", "code"))}


def first_page(request: Request, name: str, lines: Sequence[Any], count: int) -> dict[str, Any]:
    address = request.build_absolute_uri(reverse(f"stocking-frontier-{name}"))
    query = {"budget": request.query_params["budget"], "after": len(lines)}
    return {
        "count": count,
        "next": f"{address}?{urlencode(query)}" if len(lines) < count else None,
        "results": lines,
    }


def next_address(request: Request, place: int) -> str:
    return str(replace_query_param(request.build_absolute_uri(), "after", place))
